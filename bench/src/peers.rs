//! The sweep beside general-purpose libraries: same terrain, same mast, same
//! radius, same machine, one thread, in one run.

use std::path::Path;
use std::process::Command;

use anyhow::Context;
use serde::Deserialize;
use sweep::{Bearings, Clearance};

use crate::Figure;
use crate::coverage::{MAST, Rasters, Run, USUAL, best};

/// What `bench/peers/measure.py` prints.
#[derive(Debug, Deserialize)]
struct Peers {
    viewshed: Viewshed,
    fast_map: FastMap,
}

#[derive(Debug, Deserialize)]
struct Viewshed {
    version: String,
    cpu_s: f64,
    start_cpu_s: f64,
}

#[derive(Debug, Deserialize)]
struct FastMap {
    version: String,
    receivers: f64,
    step_m: f64,
    profiles_cpu_s: f64,
    attenuation_cpu_s: f64,
    median_loss_db: f64,
}

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let python = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/peers/bin/python");
    let (Some(shared), true) = (tests::shared_dir(), python.exists()) else {
        println!(
            "peers: left out; `make bench-peers` installs them, and the reference data is needed"
        );
        return Ok(Vec::new());
    };
    let rasters = Rasters::read(&shared)?;
    // The libraries know no land cover: bare ground for everybody.
    let bare = Run {
        bearings: Bearings::Shared { per_rim_cell: 2.0 },
        clearance: Clearance::SightOnly,
        is_bare: true,
        ..USUAL
    };
    let before = best(&rasters, bare, 3)?;
    let peers = peers(&python, &shared)?;
    let after = best(&rasters, bare, 3)?;
    let ours_s = before.cpu_s.min(after.cpu_s);
    let cells = before.coverage.answered_cells as f64;
    let mut losses_db: Vec<f32> = before.coverage.loss_db;
    losses_db.retain(|l| !l.is_nan());
    losses_db.sort_by(f32::total_cmp);
    let (map, viewshed) = (&peers.fast_map, &peers.viewshed);
    println!(
        "pycraf {}: profiles of {} m, median loss {:.1} dB; ours {:.1} dB; {}",
        map.version,
        map.step_m,
        map.median_loss_db,
        losses_db
            .get(losses_db.len() / 2)
            .copied()
            .unwrap_or(f32::NAN),
        viewshed.version
    );
    let alone = map.receivers / map.attenuation_cpu_s;
    let whole = map.receivers / (map.attenuation_cpu_s + map.profiles_cpu_s);
    let net_s = viewshed.cpu_s - viewshed.start_cpu_s;
    anyhow::ensure!(net_s > 0.0, "the viewshed took no time");
    let ours = cells / ours_s;
    let plain = Figure::plain;
    Ok(vec![
        plain(
            "peers_pycraf_attenuation_receivers_per_cpu_s",
            alone,
            "receivers/s",
        ),
        plain(
            "peers_pycraf_whole_receivers_per_cpu_s",
            whole,
            "receivers/s",
        ),
        plain("peers_gdal_viewshed_cpu_s", net_s, "s"),
        plain("peers_sweep_cells_per_cpu_s", ours, "cells/s"),
        plain("peers_sweep_cpu_s", ours_s, "s"),
        Figure::at_least(
            "peers_sweep_over_pycraf_attenuation",
            ours / alone,
            "",
            60.0,
        ),
        Figure::at_least("peers_sweep_over_pycraf_whole", ours / whole, "", 150.0),
        Figure::at_most(
            "peers_sweep_over_gdal_viewshed_cpu",
            ours_s / net_s,
            "",
            20.0,
        ),
    ])
}

fn peers(python: &Path, shared: &Path) -> anyhow::Result<Peers> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("peers/measure.py");
    let out = Command::new(python)
        .arg(&script)
        .arg(shared.join("geodata/santa-ana/dem.tif"))
        .args([MAST.0, MAST.1, USUAL.radius_m].map(|v| v.to_string()))
        .output()
        .context("the Python of target/peers")?;
    let told = String::from_utf8_lossy(&out.stderr);
    anyhow::ensure!(out.status.success(), "bench/peers/measure.py: {told}");
    serde_json::from_slice(&out.stdout).context("what bench/peers/measure.py prints")
}
