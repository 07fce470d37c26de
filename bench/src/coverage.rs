//! Cells per CPU second of a sweep over real terrain, and how far radials
//! shared between cells are from a path drawn to each cell.

mod bearings;

use std::path::Path;
use std::time::Instant;

use anyhow::Context;
use geodesy::{Crs, LonLat};
use physics::path_loss::Zone;
use raster::{Georeference, Grid, Mosaic};
use store::ground::{OpenOptions, RasterFile};
use sweep::{
    Bearings, Clearance, Conditions, Cover, CoverClasses, Coverage, CoverageGrid, Ground, Target,
    Unwatched,
};

use crate::Figure;

/// A ridge: 30 m over it much of the terrain is in sight, and much is not.
pub(crate) const MAST: (f64, f64) = (-117.543_750_5, 33.773_975_3);

const CELL_M: f64 = 30.0;

/// Rasters of the measurement.
pub(crate) struct Rasters {
    elevation: Mosaic,
    cover: Mosaic,
    classes: CoverClasses,
}

impl Rasters {
    pub(crate) fn read(shared: &Path) -> anyhow::Result<Self> {
        let geodata = shared.join("geodata/santa-ana");
        let read = |file: &str, options: &OpenOptions| {
            let mut raster = RasterFile::open(&geodata.join(file), options)?;
            anyhow::Ok(raster.read_all()?.grid)
        };
        let legend = pipeline::design::catalogue::built_in()
            .legends
            .get("fbfm40")
            .context("the legend ships with the tool")?;
        let cover = |class: &model::settings::ClutterClass| Cover {
            height_m: class.height_m,
            zone: match class.surface {
                model::settings::Surface::Inland => Zone::Inland,
                model::settings::Surface::Coastal => Zone::CoastalLand,
                model::settings::Surface::Sea => Zone::Sea,
            },
        };
        // Wider than the files: 40 km around the mast are all known.
        let wide = |grid: Grid| anyhow::Ok(Mosaic::new(vec![mirrored(&grid)?]));
        Ok(Self {
            elevation: wide(read("dem.tif", &OpenOptions::elevation())?)?,
            cover: wide(read("fbfm40.tif", &OpenOptions::classes())?)?,
            classes: CoverClasses::new(legend.classes.iter().map(|c| (c.code, cover(c)))),
        })
    }

    fn ground(&self, is_bare: bool) -> Ground<'_> {
        Ground {
            elevation: &self.elevation,
            cover: (!is_bare).then_some((&self.cover, &self.classes)),
            canopy: None,
        }
    }
}

/// A grid with half of its mirror image on every side.
fn mirrored(grid: &Grid) -> anyhow::Result<Grid> {
    let (width, height) = (grid.width(), grid.height());
    let (left, top) = (width / 2, height / 2);
    let fold = |i: usize, margin: usize, count: usize| match i.checked_sub(margin) {
        Some(i) if i < count => i,
        Some(i) => 2 * count - 1 - i,
        None => margin - 1 - i,
    };
    let (wide, high) = (width + 2 * left, height + 2 * top);
    let cells = (0..wide * high).map(|i| {
        let (col, row) = (fold(i % wide, left, width), fold(i / wide, top, height));
        grid.cells()[row * width + col]
    });
    let cells = cells.collect();
    let georeference = grid.georeference();
    let affine = georeference.affine().shifted(-(left as f64), -(top as f64));
    let georeference = Georeference::new(georeference.crs().clone(), affine, wide, high);
    Ok(Grid::new(georeference, wide, high, cells)?)
}

/// How a sweep is measured.
#[derive(Clone, Copy)]
pub(crate) struct Run {
    pub(crate) radius_m: f64,
    pub(crate) bearings: Bearings,
    pub(crate) clearance: Clearance,
    pub(crate) time_pct: f64,
    /// Without land cover.
    pub(crate) is_bare: bool,
    pub(crate) threads: usize,
}

pub(crate) const USUAL: Run = Run {
    radius_m: 20_000.0,
    bearings: Bearings::DEFAULT,
    clearance: Clearance::SightOnly,
    time_pct: 50.0,
    is_bare: false,
    threads: 1,
};

/// Shared radials alone, two for each cell of the rim.
pub(crate) const SHARED_2: Run = Run {
    bearings: Bearings::Shared { per_rim_cell: 2.0 },
    ..USUAL
};

/// What a sweep took.
pub(crate) struct Taken {
    pub(crate) coverage: Coverage,
    pub(crate) cpu_s: f64,
    wall_s: f64,
}

impl Taken {
    fn cells_per_cpu_s(&self) -> f64 {
        self.coverage.answered_cells as f64 / self.cpu_s
    }
}

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let Some(shared) = tests::shared_dir() else {
        println!("coverage: left out, the shared reference data is not here");
        return Ok(Vec::new());
    };
    let rasters = Rasters::read(&shared)?;
    let mut figures = Vec::new();
    let usual = best(&rasters, USUAL, 5)?;
    let rate = best(&rasters, SHARED_2, 5)?.cells_per_cpu_s();
    figures.push(Figure::at_least(
        "coverage_20km_shared_2_cells_per_cpu_s",
        rate,
        "cells/s",
        4e6,
    ));
    figures.push(Figure::plain(
        "coverage_20km_default_cells_per_cpu_s",
        usual.cells_per_cpu_s(),
        "cells/s",
    ));
    figures.push(Figure::plain(
        "coverage_20km_cells",
        usual.coverage.answered_cells as f64,
        "cells",
    ));
    let many = best(
        &rasters,
        Run {
            time_pct: 1.0,
            ..USUAL
        },
        1,
    )?;
    figures.push(Figure::plain(
        "coverage_20km_1pct_cells_per_cpu_s",
        many.cells_per_cpu_s(),
        "cells/s",
    ));
    figures.extend(scaling(&rasters, rate)?);
    figures.extend(two_cores(&rasters)?);
    figures.extend(bearings::measure(&rasters)?);
    Ok(figures)
}

/// Cost per cell by radius.
fn scaling(rasters: &Rasters, rate_20km: f64) -> anyhow::Result<Vec<Figure>> {
    let near = best(
        rasters,
        Run {
            radius_m: 5_000.0,
            ..SHARED_2
        },
        12,
    )?;
    let far = best(
        rasters,
        Run {
            radius_m: 40_000.0,
            ..SHARED_2
        },
        2,
    )?;
    let per_5km = near.cells_per_cpu_s();
    Ok(vec![
        Figure::plain("coverage_5km_cells_per_cpu_s", per_5km, "cells/s"),
        Figure::at_most("coverage_20km_cost_over_5km", per_5km / rate_20km, "", 1.15),
        Figure::at_most(
            "coverage_40km_cost_over_5km",
            per_5km / far.cells_per_cpu_s(),
            "",
            1.3,
        ),
    ])
}

/// Two cores against one.
fn two_cores(rasters: &Rasters) -> anyhow::Result<Vec<Figure>> {
    let two = best(
        rasters,
        Run {
            threads: 2,
            ..USUAL
        },
        3,
    )?;
    let one = best(rasters, USUAL, 3)?;
    Ok(vec![
        Figure::at_most("coverage_20km_2_cores_s", two.wall_s, "s", 1.0),
        Figure::at_least(
            "coverage_20km_2_cores_speed_up",
            one.wall_s / two.wall_s,
            "",
            1.9,
        ),
    ])
}

/// The fastest of several sweeps: others share the machine.
pub(crate) fn best(rasters: &Rasters, run: Run, times: usize) -> anyhow::Result<Taken> {
    let mut best: Option<Taken> = None;
    for _ in 0..times {
        let taken = once(rasters, run)?;
        best = Some(match best {
            Some(b) => Taken {
                cpu_s: b.cpu_s.min(taken.cpu_s),
                wall_s: b.wall_s.min(taken.wall_s),
                coverage: taken.coverage,
            },
            None => taken,
        });
    }
    best.context("at least one sweep")
}

fn once(rasters: &Rasters, run: Run) -> anyhow::Result<Taken> {
    let mast = LonLat::new(MAST.0, MAST.1)?;
    let target = Target::around(mast, &Crs::from_epsg(32_611)?, CELL_M, run.radius_m)?;
    let request = CoverageGrid {
        mast,
        mast_ground_amsl_m: None,
        conditions: Conditions {
            time_pct: run.time_pct,
            ..Conditions::median(3_600.0, 30.0, 6.0)
        },
        target: &target,
        radius_m: run.radius_m,
        step_m: Some(CELL_M),
        bearings: run.bearings,
        clearance: run.clearance,
        threads: run.threads,
    };
    let (cpu, start) = (cpu_s()?, Instant::now());
    let coverage = request.sweep(rasters.ground(run.is_bare), &Unwatched)?;
    Ok(Taken {
        wall_s: start.elapsed().as_secs_f64(),
        cpu_s: cpu_s()? - cpu,
        coverage,
    })
}

/// Processor time of this process so far, all threads. \[s\]
pub(crate) fn cpu_s() -> anyhow::Result<f64> {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    Ok(time.tv_sec as f64 + 1e-9 * time.tv_nsec as f64)
}
