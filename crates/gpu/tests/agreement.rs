//! The graphics adapter against the processor, on whatever adapter is here: a
//! program that plays one will do.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "tests say where there is no adapter, and fail where something is not there"
)]

mod scene;

use gpu::{Adapters, Gpu, GpuError};
use scene::{Scene, apart, sights_apart};
use sweep::{
    Bearings, Clearance, Conditions, CoverageGrid, GridSweeper, Ground, SweepError, Unwatched,
    Watch,
};

fn adapter() -> Option<Gpu> {
    match Gpu::open(Adapters::WithSoftware) {
        Ok(gpu) => {
            println!("on {}", gpu.name());
            Some(gpu)
        }
        Err(why) => {
            println!("skipped: {why}");
            None
        }
    }
}

/// What is asked of the adapter: within 0.05 dB.
const BOUND_DB: f64 = 0.05;

/// Share of the cells that may be farther apart: a sample on the border of two
/// classes, or two that tie for a horizon, may fall either way.
const TIES: f64 = 1e-4;

fn agree(gpu: &Gpu, scene: &Scene, grid: &CoverageGrid<'_>, ground: Ground<'_>) {
    let here = grid.sweep(ground, &Unwatched).unwrap();
    let there = gpu.own_bearings(grid, ground, &Unwatched).unwrap();
    let loss = apart(&here.loss_db, &there.loss_db, BOUND_DB);
    println!(
        "{}: {} cells, rms {:.1e} dB, at most {:.4} dB, {} beyond {BOUND_DB} dB",
        scene.name, loss.cells, loss.rms, loss.most, loss.beyond
    );
    let most = if ground.cover.is_some() { TIES } else { 0.0 };
    assert!(loss.cells > 3_000 && loss.unknown == 0, "{loss:?}");
    assert!(loss.beyond as f64 <= most * loss.cells as f64, "{loss:?}");
    assert_eq!(here.answered_cells, there.answered_cells);
    assert_eq!(here.radials, there.radials);
    let elevation = apart(&here.mast_elevation_deg, &there.mast_elevation_deg, 1e-3);
    assert!(
        elevation.beyond == 0 && elevation.unknown == 0,
        "{elevation:?}"
    );
    let sigma = apart(&here.location_sigma_db, &there.location_sigma_db, 1e-5);
    assert!(sigma.beyond == 0 && sigma.unknown == 0, "{sigma:?}");
    assert!(sights_apart(&here, &there) as f64 <= TIES * loss.cells as f64);
    if grid.clearance == Clearance::Told {
        let clearance = apart(&here.clearance_ratio, &there.clearance_ratio, 5e-3);
        assert!(
            clearance.beyond as f64 <= TIES * loss.cells as f64,
            "{clearance:?}"
        );
    }
}

/// Everything that is asked of a scene, with clutter and without.
fn agree_in_all(gpu: &Gpu, scene: &Scene, radius_m: f64, cell_m: f64) {
    let target = scene.target(radius_m, cell_m);
    let usual = scene.request(&target, radius_m);
    agree(gpu, scene, &usual, scene.bare());
    agree(gpu, scene, &usual, scene.covered());
    for (frequency_mhz, agl_m, time_pct) in
        [(700.0, (15.0, 1.5), 50.0), (5_800.0, (40.0, 10.0), 2.0)]
    {
        let conditions = Conditions {
            time_pct,
            ..Conditions::median(frequency_mhz, agl_m.0, agl_m.1)
        };
        let other = CoverageGrid {
            conditions,
            clearance: Clearance::Told,
            ..usual.clone()
        };
        agree(gpu, scene, &other, scene.bare());
        agree(gpu, scene, &other, scene.covered());
    }
}

#[test]
fn exact_real_mountains() {
    let Some(gpu) = adapter() else { return };
    let Some(scene) = scene::santa_ana() else {
        println!("skipped: real mountains, the shared reference data is not here");
        return;
    };
    agree_in_all(&gpu, &scene, 2_000.0, 30.0);
    agree_in_all(&gpu, &scene, 18_000.0, 240.0);
}

#[test]
fn exact_invented_hills_by_the_sea() {
    let Some(gpu) = adapter() else { return };
    agree_in_all(&gpu, &scene::invented(900, 300.0), 12_000.0, 150.0);
}

/// Ground that is level as the sea: the smooth Earth and its ties.
#[test]
fn exact_plain() {
    let Some(gpu) = adapter() else { return };
    let scene = scene::invented(1_000, 0.0);
    let target = scene.target(14_000.0, 200.0);
    for (frequency_mhz, mast_agl_m) in [(3_600.0, 30.0), (450.0, 8.0)] {
        let grid = CoverageGrid {
            conditions: Conditions::median(frequency_mhz, mast_agl_m, 1.5),
            ..scene.request(&target, 14_000.0)
        };
        agree(&gpu, &scene, &grid, scene.bare());
    }
}

/// The circle reaches beyond the terrain, which is unknown there.
#[test]
fn exact_edge_of_the_map() {
    let Some(gpu) = adapter() else { return };
    let scene = scene::invented(300, 200.0);
    let target = scene.target(6_000.0, 60.0);
    let grid = scene.request(&target, 6_000.0);
    agree(&gpu, &scene, &grid, scene.covered());
}

#[test]
fn exact_what_is_not_for_it_is_handed_on() {
    let Some(gpu) = adapter() else { return };
    let scene = scene::invented(200, 200.0);
    let target = scene.target(1_500.0, 60.0);
    let shared = CoverageGrid {
        bearings: Bearings::DEFAULT,
        ..scene.request(&target, 1_500.0)
    };
    let alone = gpu.own_bearings(&shared, scene.bare(), &Unwatched);
    assert!(matches!(alone, Err(GpuError::Unsuited(_))));
    let through = GridSweeper::sweep(&gpu, &shared, scene.bare(), &Unwatched).unwrap();
    let here = shared.sweep(scene.bare(), &Unwatched).unwrap();
    assert_eq!(apart(&through.loss_db, &here.loss_db, 0.0).beyond, 0);
    assert!(gpu.handed_on().is_some_and(|why| why.contains("share")));
    assert_eq!(gpu.handed_on(), None);
}

/// Stops at once.
struct Stopped;

impl Watch for Stopped {
    fn advance(&self, _cells: usize) {}
    fn interrupted(&self) -> bool {
        true
    }
}

#[test]
fn exact_a_run_can_be_stopped() {
    let Some(gpu) = adapter() else { return };
    let scene = scene::invented(200, 200.0);
    let target = scene.target(1_500.0, 60.0);
    let grid = scene.request(&target, 1_500.0);
    let stopped = gpu.own_bearings(&grid, scene.bare(), &Stopped);
    assert_eq!(
        stopped.map(|c| c.answered_cells),
        Err(GpuError::Sweep(SweepError::Interrupted))
    );
    agree(
        &gpu,
        &scene,
        &scene.request(&scene.target(2_000.0, 30.0), 2_000.0),
        scene.bare(),
    );
}
