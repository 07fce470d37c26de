//! Whole networks cell by cell over real terrain: seconds of a composite and
//! the memory it takes, and milliseconds until an edit is seen.

use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use anyhow::Context;
use engine::RunControl;
use engine::coverage::{CoverageRequest, Layer, Painter, Picture, cover};
use model::edit::SectorField;
use model::{Edit, Network};
use pipeline::{Completeness, Ground, World};
use store::shelf::DiskShelf;
use store::world::FolderWorld;

use crate::Figure;
use crate::coverage::cpu_s;

/// The machine that the goals speak of has two cores.
const THREADS: usize = 2;

/// Some masts with sectors, and what they are asked.
#[derive(Clone, Copy)]
struct Plan {
    /// Along the sides of the terrain.
    masts: [usize; 2],
    azimuths_deg: &'static [f64],
    /// Whether each sector of a mast has a channel of its own.
    own_channels: bool,
    reach_km: f64,
    interference_reach_km: f64,
    interference_time_pct: f64,
}

const THREE: &[f64] = &[0.0, 120.0, 240.0];

/// As far as it serves and as it disturbs.
const fn within(reach_km: f64, masts: [usize; 2], azimuths_deg: &'static [f64]) -> Plan {
    Plan {
        masts,
        azimuths_deg,
        own_channels: false,
        reach_km,
        interference_reach_km: reach_km,
        interference_time_pct: 10.0,
    }
}

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let Some(shared) = tests::shared_dir() else {
        println!("composite: left out, the shared reference data is not here");
        return Ok(Vec::new());
    };
    let shared = shared.as_path();
    let mut figures = vec![];
    figures.extend(thirty_six(shared)?);
    figures.extend(three_over_one(shared)?);
    figures.extend(recolour(shared)?);
    Ok(figures)
}

/// 36 sectors on 12 masts, the rasters read included.
fn thirty_six(shared: &Path) -> anyhow::Result<Vec<Figure>> {
    let usual = within(15.0, [4, 3], THREE);
    let far = Plan {
        interference_reach_km: 60.0,
        ..usual
    };
    let own = Plan {
        own_channels: true,
        ..usual
    };
    let mut figures = Vec::new();
    for (name, plan, goal_s) in [
        ("composite_36_sectors_15km_s", usual, Some(15.0)),
        ("composite_36_sectors_15km_heard_everywhere_s", far, None),
        ("composite_36_sectors_15km_36_channels_s", own, None),
    ] {
        let scene = Scene::new(shared, plan)?;
        reset_peak()?;
        let start = Instant::now();
        let run = RunControl {
            threads: THREADS,
            ..RunControl::unwatched()
        };
        let request = CoverageRequest::default();
        // As a first run of the program: everything is computed and kept.
        let shelf = DiskShelf::temporary()?;
        let whole = Completeness::Whole;
        let covering = pipeline::cover(&scene.world, whole, (&request, &shelf), &run)?;
        let taken_s = start.elapsed().as_secs_f64();
        let peak_mib = peak_mib()?;
        let raster = &covering.coverage.raster;
        println!("{name}: {} x {} cells", raster.width, raster.height);
        figures.push(match goal_s {
            Some(goal_s) => Figure::at_most(name, taken_s, "s", goal_s),
            None => Figure::plain(name, taken_s, "s"),
        });
        if goal_s.is_some() {
            let name = "composite_36_sectors_15km_peak_mib";
            figures.push(Figure::at_most(name, peak_mib, "MiB", 2048.0));
        }
    }
    Ok(figures)
}

/// Three sectors of a mast against one: losses are shared, levels are not.
fn three_over_one(shared: &Path) -> anyhow::Result<Vec<Figure>> {
    // At the same share of time unwanted losses are the wanted ones; one sector
    // alone would need no others.
    let one = Plan {
        interference_time_pct: 50.0,
        ..within(20.0, [1, 1], &[0.0])
    };
    let three = Plan {
        azimuths_deg: THREE,
        ..one
    };
    let run = RunControl {
        threads: 1,
        ..RunControl::unwatched()
    };
    let mut least_s = [f64::INFINITY; 2];
    let scenes = [Scene::new(shared, one)?, Scene::new(shared, three)?];
    for _ in 0..3 {
        for (scene, least_s) in scenes.iter().zip(&mut least_s) {
            let start_s = cpu_s()?;
            cover(
                &scene.network,
                scene.ground.surroundings.as_ref(),
                (&CoverageRequest::default(), None),
                &run,
            )?;
            *least_s = least_s.min(cpu_s()? - start_s);
        }
    }
    let ratio = least_s[1] / least_s[0];
    Ok(vec![
        Figure::plain("composite_one_sector_20km_cpu_s", least_s[0], "s"),
        Figure::at_most("composite_three_sectors_over_one", ratio, "", 1.1),
    ])
}

/// Milliseconds from an edit to the cells that it changes.
fn recolour(shared: &Path) -> anyhow::Result<Vec<Figure>> {
    let level: &[Layer] = &[Layer::DownlinkLevel];
    let all: &[Layer] = &[
        Layer::DownlinkLevel,
        Layer::BestServer,
        Layer::DownlinkSinr,
        Layer::DownlinkMcs,
        Layer::DownlinkRate,
    ];
    let one = within(20.0, [1, 1], &[0.0]);
    let nine = within(20.0, [3, 1], THREE);
    let thirty_six = within(15.0, [4, 3], THREE);
    let mut figures = Vec::new();
    for (name, plan, layers, goal_ms) in [
        ("level", one, level, Some(60.0)),
        ("9_sectors_sinr", nine, all, Some(60.0)),
        ("36_sectors_sinr", thirty_six, all, None),
    ] {
        for (what, ms) in recolour_ms(&Scene::new(shared, plan)?, layers)? {
            let name = format!("composite_recolour_1_4m_cells_{name}_{what}_ms");
            figures.push(match goal_ms {
                Some(goal_ms) => Figure::at_most(&name, ms, "ms", goal_ms),
                None => Figure::plain(&name, ms, "ms"),
            });
        }
    }
    Ok(figures)
}

fn recolour_ms(scene: &Scene, layers: &[Layer]) -> anyhow::Result<Vec<(&'static str, f64)>> {
    let run = RunControl {
        threads: THREADS,
        ..RunControl::unwatched()
    };
    let surroundings = scene.ground.surroundings.as_ref();
    let request = CoverageRequest {
        layers: Vec::new(),
        ..CoverageRequest::default()
    };
    let (_, losses) = cover(&scene.network, surroundings, (&request, None), &run)?;
    let picture = Picture {
        layers: layers.to_vec(),
        ..Picture::default()
    };
    let mut painter = Painter::new(&scene.network, losses, (picture, &run))?;
    let sector = &scene.network.sectors[scene.network.sectors.len() / 2];
    let edits = [
        ("turned", SectorField::AzimuthDeg, sector.azimuth_deg, 3.0),
        ("tilted", SectorField::MechanicalDowntiltDeg, 1.0, 0.5),
        (
            "power",
            SectorField::TxPowerPerChainDbm,
            sector.tx_power_per_chain_dbm,
            -1.0,
        ),
        (
            "channel",
            SectorField::ChannelCentreMhz,
            sector.channel.centre_mhz,
            20.0,
        ),
    ];
    let mut taken = Vec::new();
    for (what, field, value, step) in edits {
        let mut least_ms = f64::INFINITY;
        for i in 1..=8 {
            let edit = Edit::Sector {
                sector: sector.id.clone(),
                field,
                value: value + step * f64::from(i % 3),
            };
            let start = Instant::now();
            let repainted = painter.edit(&[edit], &run)?;
            least_ms = least_ms.min(start.elapsed().as_secs_f64() * 1e3);
            anyhow::ensure!(!repainted.rows.is_empty(), "nothing was painted");
        }
        taken.push((what, least_ms));
    }
    let known = painter.coverage().cells(layers[0]).context("a layer")?;
    let known = known.iter().filter(|v| !v.is_nan()).count();
    println!(
        "recolour: {} sectors, {known} cells",
        scene.network.sectors.len()
    );
    Ok(taken)
}

/// A project in a folder, read.
struct Scene {
    world: FolderWorld,
    network: Network,
    ground: Ground,
    _folder: tempfile::TempDir,
}

impl Scene {
    fn new(shared: &Path, plan: Plan) -> anyhow::Result<Self> {
        let folder = tempfile::tempdir()?;
        tests::santa_ana::write_project(folder.path(), shared)?;
        std::fs::write(folder.path().join("mastwright.toml"), design(plan))?;
        std::fs::write(folder.path().join("premises.csv"), "id,lon,lat\n")?;
        let project = store::project::open(folder.path())?;
        let world = FolderWorld::new(folder.path(), project.sources);
        let reading = pipeline::read(&world);
        let network = reading.network.context("the design of the measurement")?;
        let ground = world.ground_over(
            &network,
            &geodesy::LonLatBox::new(network.territory.south_west, network.territory.north_east),
        );
        Ok(Self {
            world,
            network,
            ground,
            _folder: folder,
        })
    }
}

fn design(plan: Plan) -> String {
    let mut text = format!(
        r#"[project]
name = "Measured"

[territory]
south_west = [-117.74, 33.60]
north_east = [-117.26, 34.00]

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain/dem.tif"]
land_cover = ["landcover/fbfm40.tif"]
legend = "fbfm40"

[propagation]
reach_km = {}
interference_reach_km = {}
interference_time_pct = {}

[defaults]
antenna = "sector-90-3500"
base_station = "base-2x2-3500"
terminal = "terminal-panel-18-3500"
plan = "home"
mount_height_agl_m = 6
split = [28, 18]
"#,
        plan.reach_km, plan.interference_reach_km, plan.interference_time_pct
    );
    let [across, up] = plan.masts;
    let place = |i: usize, count: usize, from: f64, to: f64| {
        from + (to - from) * (i as f64 + 0.5) / count as f64
    };
    for m in 0..across * up {
        let lon = place(m % across, across, -117.68, -117.32);
        let lat = place(m / across, up, 33.65, 33.95);
        let _ = write!(
            text,
            "\n[[mast]]\nid = \"m{m}\"\nname = \"Mast {m}\"\nlon = {lon:.6}\nlat = {lat:.6}\nheight_agl_m = 30\n"
        );
        for (i, azimuth_deg) in plan.azimuths_deg.iter().enumerate() {
            let channel = if plan.own_channels { 3 * m + i } else { m % 3 };
            let channel_mhz = 3560 + 20 * (channel % 10);
            let _ = write!(
                text,
                "\n[[sector]]\nid = \"m{m}-{i}\"\nmast = \"m{m}\"\nazimuth_deg = {azimuth_deg}\nmechanical_downtilt_deg = 1\nheight_agl_m = 28\nchannel_mhz = {channel_mhz}\n"
            );
        }
    }
    text
}

/// Lets the kernel count the most memory in use from here on.
fn reset_peak() -> anyhow::Result<()> {
    std::fs::write("/proc/self/clear_refs", "5").context("/proc/self/clear_refs")
}

/// The most memory in use since then.
fn peak_mib() -> anyhow::Result<f64> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    let kib = line.and_then(|l| l.split_whitespace().next()?.parse::<f64>().ok());
    Ok(kib.context("VmHWM")? / 1024.0)
}
