//! Measures a graphics adapter: cells per second of own-bearing coverage with
//! everything in it, and the difference from the processor.
//!
//! `cargo run --release -p mastwright-gpu --features device --example measure -- [radius in km] [json]`

#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "measures time and prints it"
)]

#[path = "../tests/scene/mod.rs"]
mod scene;

use std::time::Instant;

use gpu::{Adapters, Gpu};
use scene::{Scene, apart, sights_apart};
use sweep::{Conditions, Coverage, CoverageGrid, Ground, Unwatched};

/// Runs of which the fastest counts; the first one makes the program.
const TIMES: usize = 12;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let radius_km: f64 = arguments.next().map_or(Ok(20.0), |a| a.parse())?;
    let gpu = Gpu::open(Adapters::WithSoftware)?;
    println!("adapter: {}", gpu.name());
    let invented = scene::invented((2.0 * radius_km / 0.03) as usize + 60, 300.0);
    for scene in scene::santa_ana().into_iter().chain([invented]) {
        let target = scene.target(radius_km * 1e3, 30.0);
        let grid = scene.request(&target, radius_km * 1e3);
        let rare = CoverageGrid {
            conditions: Conditions {
                time_pct: 1.0,
                ..grid.conditions
            },
            ..grid.clone()
        };
        one(&gpu, (&scene, "bare"), &grid, scene.bare())?;
        one(&gpu, (&scene, "covered"), &grid, scene.covered())?;
        one(&gpu, (&scene, "covered, 1 %"), &rare, scene.covered())?;
    }
    Ok(())
}

fn one(
    gpu: &Gpu,
    (scene, what): (&Scene, &str),
    grid: &CoverageGrid<'_>,
    ground: Ground<'_>,
) -> Result<(), Box<dyn std::error::Error>> {
    println!("{}, {what}", scene.name);
    let mut times_s = Vec::new();
    let mut answer: Option<Coverage> = None;
    let budget = Instant::now();
    for _ in 0..TIMES {
        let start = Instant::now();
        let coverage = gpu.own_bearings(grid, ground, &Unwatched)?;
        times_s.push(start.elapsed().as_secs_f64());
        answer = Some(coverage);
        if budget.elapsed().as_secs_f64() > 60.0 {
            break;
        }
    }
    let Some(there) = answer else {
        return Ok(());
    };
    let first_s = times_s[0];
    times_s.sort_by(f64::total_cmp);
    let (least_s, middle_s) = (times_s[0], times_s[times_s.len() / 2]);
    let cells = there.answered_cells as f64;
    println!(
        "  {} cells: {:.2} ms at best, {:.2} in the middle, {:.0} the first time; {:.1} million cells/s",
        there.answered_cells,
        least_s * 1e3,
        middle_s * 1e3,
        first_s * 1e3,
        cells / least_s / 1e6
    );
    let start = Instant::now();
    let here = grid.sweep(ground, &Unwatched)?;
    let here_s = start.elapsed().as_secs_f64();
    let loss = apart(&here.loss_db, &there.loss_db, 0.05);
    let sigma = apart(&here.location_sigma_db, &there.location_sigma_db, 1e-3);
    let elevation = apart(&here.mast_elevation_deg, &there.mast_elevation_deg, 1e-3);
    println!(
        "  from the processor ({here_s:.2} s, all cores): loss rms {:.1e} dB, at most {:.4} dB, {} cells beyond 0.05 dB, {} known to one alone",
        loss.rms, loss.most, loss.beyond, loss.unknown
    );
    println!(
        "  elevation at most {:.1e} deg, deviation at most {:.1e} dB, sight differs in {} cells",
        elevation.most,
        sigma.most,
        sights_apart(&here, &there)
    );
    Ok(())
}
