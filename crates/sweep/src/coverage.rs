//! The loss from a mast to every cell of a raster.

mod cells;
mod layers;
mod own_bearing;
mod own_ends;
mod sight;
pub mod tables;

use std::sync::OnceLock;

use geodesy::{Crs, CrsError, LonLat, MapXy, direct};
use raster::{Affine, CellXy, Georeference, RasterError};
use rayon::prelude::*;

use crate::at_cells::{AtCells, AtRow};
use crate::azimuthal::{CellRow, FromCells, OutOfMap, ToCells};
use crate::ground::{Ground, Samples, Surroundings};
use crate::kernel::Kernel;
use crate::radial::{CentreLatitude, Radial, Receiver, last_inside};
use crate::{Conditions, Watch};
use cells::{Entry, SectorCells};
use layers::Layers;
use own_bearing::{OwnBearing, OwnBearings};
use own_ends::OwnEnds;
pub use sight::Sight;

/// How cells meet radials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bearings {
    /// Cells share radials: this many for each cell of the circle's rim, > 0.
    /// A cell is taken from its nearest radial, at its own distance and on its
    /// own ground.
    Shared {
        /// Radials for each cell of the rim.
        per_rim_cell: f64,
    },
    /// Cells share radials as before, but the last [`OWN_SAMPLES`](crate::OWN_SAMPLES)
    /// samples of each path are those of the path drawn to the cell's own centre,
    /// where [`Bearings::Own`] has them.
    OwnEnds {
        /// Radials for each cell of the rim.
        per_rim_cell: f64,
    },
    /// Every cell has the path drawn to its own centre.
    Own,
}

impl Bearings {
    /// One radial for each cell of the rim, own ends. 20 km around a mast in 30 m
    /// mountains the loss is 0.41 dB (rms) from that of [`Bearings::Own`], the paths that a
    /// study draws, and 0.45 dB where clutter jumps from class to class; medians are
    /// 0.01 dB. With 2 radials 0.32 and 0.39 dB. Shared radials alone are 0.9 and
    /// 2.7 dB away with 2.5 radials, and hardly nearer at any density: what counts is how far
    /// before the receiver, and on whose bearing, the last samples lie.
    pub const DEFAULT: Self = Self::OwnEnds { per_rim_cell: 1.0 };
}

/// The cells to be covered.
#[derive(Debug, Clone)]
pub struct Target {
    /// Where the cells lie; square cells in metres.
    pub georeference: Georeference,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

impl Target {
    /// Cells of `cell_m` in a system in metres, the mast in the middle of the
    /// middle one, as far as the radius.
    pub fn around(mast: LonLat, crs: &Crs, cell_m: f64, radius_m: f64) -> Result<Self, SweepError> {
        let MapXy { x, y } = crs.to_map(mast)?;
        let reach = (radius_m / cell_m).ceil() + 1.0;
        if !(reach < MOST_CELLS_ACROSS / 2.0 && cell_m > 0.0) {
            return Err(SweepError::Size { cell_m, radius_m });
        }
        let corner = (reach + 0.5) * cell_m;
        let origin = MapXy {
            x: x - corner,
            y: y + corner,
        };
        let side = 2 * reach as usize + 1;
        let affine = Affine::north_up(origin, cell_m, cell_m)?;
        Ok(Self {
            georeference: Georeference::new(crs.clone(), affine, side, side),
            width: side,
            height: side,
        })
    }
}

/// Cells are numbered in 32 bits.
const MOST_CELLS_ACROSS: f64 = 65_535.0;

/// What is to be swept.
#[derive(Debug, Clone)]
pub struct CoverageGrid<'a> {
    /// The mast.
    pub mast: LonLat,
    /// Surveyed ground at the mast that replaces the terrain's.
    pub mast_ground_amsl_m: Option<f64>,
    /// Carrier, heights, share of time.
    pub conditions: Conditions,
    /// The cells.
    pub target: &'a Target,
    /// Cells farther than this are left out, > 0.
    pub radius_m: f64,
    /// Step between the samples of a path; `None` takes the terrain's own spacing.
    pub step_m: Option<f64>,
    /// How cells meet radials.
    pub bearings: Bearings,
    /// Whether the least clearance in Fresnel zones is told.
    pub clearance: Clearance,
    /// Threads; 0 takes as many as the machine has. The result never depends on it.
    pub threads: usize,
}

/// Whether the least clearance in Fresnel zones is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clearance {
    /// Only whether there is line of sight.
    SightOnly,
    /// The clearance of every cell.
    Told,
}

/// What a sweep finds. Every layer has `width` times `height` cells, row by
/// row; NaN where the cell is beyond the radius, is the mast's own, or part of
/// its path lies on unknown ground.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Basic transmission loss, median of locations. \[dB\]
    pub loss_db: Vec<f32>,
    /// Elevation in which the ray leaves the mast. \[deg\]
    pub mast_elevation_deg: Vec<f32>,
    /// Standard deviation over locations. \[dB\]
    pub location_sigma_db: Vec<f32>,
    /// Least clearance over ground and clutter as a share of the first Fresnel
    /// zone, negative when blocked; with [`Clearance::SightOnly`] 1 in line of
    /// sight and −1 out of it.
    pub clearance_ratio: Vec<f32>,
    /// Cells with an answer.
    pub answered_cells: usize,
    /// Radials drawn.
    pub radials: usize,
}

/// A sweep that cannot be made, or was stopped.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SweepError {
    /// Stopped from outside.
    #[error("stopped before the end; nothing was written")]
    Interrupted,
    /// The terrain cannot show the surroundings of the mast.
    #[error(transparent)]
    OutOfMap(#[from] OutOfMap),
    /// A place cannot be shown in a reference system.
    #[error(transparent)]
    Crs(#[from] CrsError),
    /// Cells without extent.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// The cell size and radius make no grid.
    #[error(
        "cells of `{cell_m}` m within `{radius_m}` m make no grid\nhint: at most 65,000 cells across, at least a cell"
    )]
    Size {
        /// Side of a cell.
        cell_m: f64,
        /// Radius.
        radius_m: f64,
    },
}

/// Spacing where the terrain names none. \[m\]
const FALLBACK_SPACING_M: f64 = 30.0;

/// Cells with fewer samples of a shared radial before them have their own path
/// whatever the bearings.
const LEAST_SAMPLES: usize = 5;

/// Most radials swept together; fixed, so that the result knows no threads.
const RADIALS_PER_SECTOR: usize = 64;

/// Fewest sectors: two borders enclose a sector only if it is less than half a circle.
const LEAST_SECTORS: usize = 8;

impl CoverageGrid<'_> {
    /// Sweeps the cells.
    ///
    /// # Errors
    /// [`SweepError`]; nothing is kept of a sweep that was stopped.
    pub fn sweep(&self, ground: Ground<'_>, watch: &dyn Watch) -> Result<Coverage, SweepError> {
        in_pool(self.threads, || self.sweep_here(ground, watch))
    }

    fn sweep_here(&self, ground: Ground<'_>, watch: &dyn Watch) -> Result<Coverage, SweepError> {
        let plan = Plan::new(self, ground)?;
        let own = OwnBearings::new(&plan, ground)?;
        let layers = Layers::new(self.target.width * self.target.height, &self.conditions);
        let sectors: Vec<usize> = (0..plan.sectors).collect();
        sectors.into_par_iter().try_for_each_init(
            || Sweeper::new(&plan, &own),
            |sweeper, sector| {
                if watch.interrupted() {
                    return Err(SweepError::Interrupted);
                }
                let cells = sweeper.sector(sector, &layers);
                watch.advance(cells);
                Ok(())
            },
        )?;
        Ok(layers.finish(self.target, plan.radials))
    }
}

/// Runs work on this many threads; 0 takes as many as the machine has.
fn in_pool<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(work),
        // No threads to be had: this changes the time only.
        Err(_) => work(),
    }
}

/// A request made ready.
struct Plan<'a> {
    request: &'a CoverageGrid<'a>,
    surroundings: Surroundings<'a>,
    at_cells: AtCells<'a>,
    to_azimuthal: FromCells,
    /// From azimuthal coordinates to the target.
    to_target: ToCells,
    /// What is known of the rows of the window.
    rows: Vec<Row<'a>>,
    cell_km: f64,
    /// Columns and rows that the circle can reach.
    window: [std::ops::Range<usize>; 2],
    radius_km: f64,
    step_km: f64,
    samples: usize,
    radials: usize,
    sectors: usize,
    radials_per_sector: usize,
    /// Whether the last samples of a path are its own.
    has_own_ends: bool,
    /// Made when first asked for: tables never do.
    kernel: OnceLock<Kernel>,
}

/// A row of the target.
struct Row<'a> {
    azimuthal: CellRow,
    standing: AtRow<'a>,
}

impl<'a> Plan<'a> {
    fn new(request: &'a CoverageGrid<'a>, ground: Ground<'a>) -> Result<Self, SweepError> {
        let radius_km = request.radius_m / 1e3;
        let step_m = request.step_m.or(ground.elevation.spacing_m());
        let step_km = step_m.unwrap_or(FALLBACK_SPACING_M) / 1e3;
        let cell_km = cell_km(request.target)?;
        let size = SweepError::Size {
            cell_m: cell_km * 1e3,
            radius_m: request.radius_m,
        };
        let across = request.target.width.max(request.target.height) as f64;
        let samples = (radius_km / step_km).ceil() + 2.0;
        if !(radius_km > 0.0 && step_km > 0.0 && samples < 1e7 && across <= MOST_CELLS_ACROSS) {
            return Err(size);
        }
        let rim_cells = std::f64::consts::TAU * radius_km / cell_km;
        let per_rim_cell = match request.bearings {
            Bearings::Shared { per_rim_cell } | Bearings::OwnEnds { per_rim_cell } => per_rim_cell,
            // Cells are grouped by bearing all the same: neighbours share memory.
            Bearings::Own => 1.0,
        };
        let radials = (rim_cells * per_rim_cell).ceil();
        if !(1.0..1e8).contains(&radials) {
            return Err(size);
        }
        let radials = (radials as usize).max(16);
        let window = window(request, radius_km)?;
        let [cols, rows] = &window;
        let middle = |range: &std::ops::Range<usize>| 0.5 * (range.start + range.end) as f64;
        let half = |range: &std::ops::Range<usize>| 0.5 * range.len().max(2) as f64;
        let fitted = (
            CellXy {
                col: middle(cols),
                row: middle(rows),
            },
            CellXy {
                col: half(cols),
                row: half(rows),
            },
        );
        let georeference = &request.target.georeference;
        let at_cells = AtCells::new(ground, georeference, fitted)?;
        let to_azimuthal = FromCells::to_azimuthal(request.mast, georeference, fitted)?;
        let row = |row: usize| Row {
            azimuthal: to_azimuthal.row(row),
            standing: at_cells.row(row),
        };
        let radials_per_sector = RADIALS_PER_SECTOR.min(radials.div_ceil(LEAST_SECTORS));
        Ok(Self {
            request,
            surroundings: Surroundings::new(ground, request.mast, radius_km * 1.01)?,
            rows: rows.clone().map(row).collect(),
            at_cells,
            to_azimuthal,
            to_target: ToCells::new(request.mast, radius_km * 1.01, georeference)?,
            cell_km,
            window,
            radius_km,
            step_km,
            samples: samples as usize,
            radials,
            sectors: radials.div_ceil(radials_per_sector),
            radials_per_sector,
            has_own_ends: matches!(request.bearings, Bearings::OwnEnds { .. }),
            kernel: OnceLock::new(),
        })
    }

    fn kernel(&self) -> &Kernel {
        self.kernel.get_or_init(|| {
            let least_lat_deg = self.request.mast.lat_deg().abs() - self.radius_km / 111.0;
            let conditions = &self.request.conditions;
            Kernel::new(
                conditions,
                self.step_km,
                self.samples,
                least_lat_deg.max(0.0),
            )
        })
    }

    fn azimuth_rad(&self, radial: usize) -> f64 {
        std::f64::consts::TAU * radial as f64 / self.radials as f64
    }

    /// Azimuth half a radial before the first of a sector; that of the sector
    /// after the last is that of the first.
    fn border_rad(&self, sector: usize) -> f64 {
        let first = sector % self.sectors * self.radials_per_sector;
        std::f64::consts::TAU * (first as f64 - 0.5) / self.radials as f64
    }

    /// True azimuth of a cell.
    fn own_azimuth_rad(&self, entry: &Entry) -> f64 {
        let [east, north] = self.place_km(entry);
        east.atan2(north)
    }

    /// East and north of a cell.
    #[inline]
    fn place_km(&self, entry: &Entry) -> [f64; 2] {
        let width = self.request.target.width as u32;
        let (col, row) = (entry.cell % width, (entry.cell / width) as usize);
        self.rows[row - self.window[1].start]
            .azimuthal
            .at(col as usize)
    }

    /// Last sample of the radial on the path to a cell at a distance.
    #[inline]
    fn last_shared(&self, d_km: f64) -> usize {
        if self.has_own_ends {
            own_ends::last_shared(d_km, self.step_km)
        } else {
            last_inside(d_km, self.step_km)
        }
    }

    fn centre(&self, azimuth_rad: f64) -> CentreLatitude {
        CentreLatitude::new(self.request.mast.lat_deg(), azimuth_rad.to_degrees())
    }

    fn centre_towards(&self, towards: [f64; 2]) -> CentreLatitude {
        CentreLatitude::towards(self.request.mast.lat_deg(), towards)
    }
}

/// Side of a cell on the ground. \[km\]
fn cell_km(target: &Target) -> Result<f64, SweepError> {
    let (col, row) = (target.width as f64 / 2.0, target.height as f64 / 2.0);
    let place = |dc| target.georeference.to_lonlat(CellXy { col: col + dc, row });
    Ok(geodesy::inverse(place(-0.5)?, place(0.5)?).distance_m / 1e3)
}

/// Columns and rows of the target that the circle can reach.
fn window(
    request: &CoverageGrid<'_>,
    radius_km: f64,
) -> Result<[std::ops::Range<usize>; 2], SweepError> {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for k in 0..72 {
        let rim = direct(request.mast, 5.0 * f64::from(k), radius_km * 1e3 * 1.01);
        let at = request.target.georeference.to_cell(rim)?;
        for (axis, value) in [at.col, at.row].into_iter().enumerate() {
            low[axis] = low[axis].min(value);
            high[axis] = high[axis].max(value);
        }
    }
    let sizes = [request.target.width, request.target.height];
    Ok(std::array::from_fn(|axis| {
        let start = (low[axis].floor() - 1.0).max(0.0) as usize;
        let end = (high[axis].ceil() + 1.0).max(0.0) as usize;
        start.min(sizes[axis])..end.min(sizes[axis])
    }))
}

/// Sweeps sectors one after the other; keeps the buffers between them.
struct Sweeper<'a> {
    plan: &'a Plan<'a>,
    kernel: Kernel,
    radial: Radial,
    samples: Samples,
    receivers: Vec<Receiver>,
    cells: SectorCells,
    entries: Vec<Entry>,
    own: OwnBearing<'a>,
    own_ends: OwnEnds<'a>,
}

impl<'a> Sweeper<'a> {
    fn new(plan: &'a Plan<'a>, own: &'a OwnBearings<'a>) -> Self {
        Self {
            kernel: plan.kernel().clone(),
            radial: Radial {
                step_km: plan.step_km,
                ..Radial::default()
            },
            plan,
            samples: Samples::default(),
            receivers: Vec::new(),
            cells: SectorCells::default(),
            entries: Vec::new(),
            own: OwnBearing::new(own),
            own_ends: OwnEnds::new(own),
        }
    }

    /// Sweeps one sector; returns its cells.
    fn sector(&mut self, sector: usize, layers: &Layers) -> usize {
        self.cells.sector(self.plan, sector, &mut self.entries);
        let entries = std::mem::take(&mut self.entries);
        let (plan, own_only) = (self.plan, self.plan.request.bearings == Bearings::Own);
        for group in entries.chunk_by(|a, b| a.radial_in_sector == b.radial_in_sector) {
            let is_near = |e: &Entry| own_only || plan.last_shared(e.d_km) < LEAST_SAMPLES;
            let near = group.partition_point(is_near);
            for entry in &group[..near] {
                self.own.cell(self.plan, entry, layers);
            }
            self.radial(sector, &group[near..], layers);
        }
        self.entries = entries;
        self.entries.len()
    }

    /// Sweeps the cells of one radial, in rising order of their last samples.
    fn radial(&mut self, sector: usize, cells: &[Entry], layers: &Layers) {
        let Some(first) = cells.first() else {
            return;
        };
        let plan = self.plan;
        let farthest = cells.last().map_or(0, |e| plan.last_shared(e.d_km));
        let samples = (farthest + 1).min(plan.samples);
        let azimuth_rad = plan
            .azimuth_rad(sector * plan.radials_per_sector + usize::from(first.radial_in_sector));
        let radial = &mut self.radial;
        plan.surroundings
            .trace(azimuth_rad, 0..samples, (radial, &mut self.samples));
        if let (Some(mast), Some(h)) = (
            self.radial.ground_amsl_m.first_mut(),
            plan.request.mast_ground_amsl_m,
        ) {
            *mast = h;
        }
        self.radial.centre = plan.centre(azimuth_rad);
        self.receivers.clear();
        self.receivers.extend(cells.iter().map(|entry| Receiver {
            d_km: entry.d_km,
            ground_amsl_m: entry.ground_amsl_m.into(),
            clutter_m: entry.clutter_m.into(),
            zone: entry.zone,
        }));
        let mut follow = self.kernel.follow(&self.radial);
        let batches = cells.chunks(TOGETHER).zip(self.receivers.chunks(TOGETHER));
        for (cells, receivers) in batches {
            let own = if plan.has_own_ends {
                Some(self.own_ends.trace(plan, cells))
            } else {
                None
            };
            match plan.request.clearance {
                Clearance::SightOnly => follow.receive_all(receivers, own, |i, reception| {
                    if let Some(reception) = reception {
                        layers.put(&cells[i], &reception, None);
                    }
                }),
                Clearance::Told => {
                    for (i, (entry, receiver)) in cells.iter().zip(receivers).enumerate() {
                        let own = own.map(|own| &own[i]);
                        if let Some(reception) = follow.receive(receiver, own) {
                            let ratio = follow.clearance_ratio(receiver, own);
                            layers.put(entry, &reception, ratio);
                        }
                    }
                }
            }
        }
    }
}

/// Cells of a radial worked out together.
const TOGETHER: usize = 64;
