//! Losses from every launch point to every cell within reach.

use std::ops::Range;
use std::sync::Arc;

use geodesy::{LonLat, MapXy};
use raster::{CellXy, Georeference};
use sweep::{Bearings, Clearance, Conditions, Cover, CoverClasses, CoverageGrid, Ground, Target};

use super::{CoverageError, CoverageRaster, CoverageRequest};
use crate::coupling::Coupling;
use crate::mapped_ground::{self, MappedGround};
use crate::matrix::{LaunchPoint, launch_points};
use crate::path::PathConditions;
use crate::radio::ReadyNetwork;
use crate::run::RunControl;
use crate::surroundings::Surroundings;

/// Losses by launch point, on the cells of one raster. Kept and handed in
/// again, they spare the sweep wherever aim, tilt, pattern, power or channel
/// width are all that changed; the ground must be the same.
#[derive(Debug, Clone)]
pub struct LossGrids {
    /// The cells.
    pub raster: CoverageRaster,
    /// Index into the launch points by sector.
    pub(super) launch_of: Vec<usize>,
    pub(super) launches: Vec<Arc<LaunchLosses>>,
    swept: usize,
}

/// What a launch point's losses depend on, but for the ground.
#[derive(Debug, Clone, PartialEq)]
struct Key {
    raster: CoverageRaster,
    mast: LonLat,
    mast_ground_amsl_m: Option<f64>,
    wanted: Conditions,
    /// `None` where nobody hears this launch point as interference.
    unwanted: Option<Conditions>,
    radius_m: [f64; 2],
    step_m: Option<f64>,
    bearings: Bearings,
    clearance: Clearance,
}

/// Losses of one launch point over the cells around it.
#[derive(Debug)]
pub(super) struct LaunchLosses {
    key: Key,
    /// Where the mast stands in the plane.
    pub(super) at: MapXy,
    /// True azimuth of the plane's grid north, at the mast. \[deg\]
    pub(super) convergence_deg: f64,
    /// Metres of the plane a metre of ground, at the mast.
    pub(super) scale: f64,
    pub(super) columns: Range<usize>,
    pub(super) rows: Range<usize>,
    pub(super) loss_db: Vec<f32>,
    /// `None` where it is that of a wanted signal, or nobody hears it.
    pub(super) unwanted_loss_db: Option<Vec<f32>>,
    pub(super) mast_elevation_deg: Vec<f32>,
    pub(super) location_sigma_db: Vec<f32>,
    /// Least clearance as a share of the first Fresnel zone, negative when
    /// blocked; 1 and −1 where only sight was asked for.
    pub(super) clearance_ratio: Vec<f32>,
}

impl LaunchLosses {
    /// Carrier that the losses are for.
    pub(super) fn frequency_mhz(&self) -> f64 {
        self.key.wanted.frequency_mhz
    }

    /// Whether the clearance is one, or only tells sight.
    pub(super) fn tells_clearance(&self) -> bool {
        self.key.clearance == Clearance::Told
    }

    /// Place and height above ground of the antenna.
    pub(super) fn antenna(&self) -> (LonLat, f64) {
        (self.key.mast, self.key.wanted.mast_agl_m)
    }

    /// Index of a cell of the raster in the layers; `None` beyond them.
    pub(super) fn index(&self, col: usize, row: usize) -> Option<usize> {
        let is_here = self.columns.contains(&col) && self.rows.contains(&row);
        is_here.then(|| (row - self.rows.start) * self.columns.len() + col - self.columns.start)
    }
}

impl LossGrids {
    /// Sweeps every launch point whose losses are not among those kept.
    pub(crate) fn new(
        ready: &ReadyNetwork<'_>,
        surroundings: &dyn Surroundings,
        (request, kept): (&CoverageRequest, Option<&Self>),
        run: &RunControl<'_>,
    ) -> Result<Self, CoverageError> {
        let mapped = surroundings.mapped().ok_or(CoverageError::NoRasters)?;
        let raster = CoverageRaster::of(ready.network, request.cell_m)?;
        let (points, launch_of) = launch_points(ready);
        let keys: Vec<Key> = points
            .iter()
            .enumerate()
            .map(|(i, point)| {
                let heard = is_heard(ready, &launch_of, i);
                key(ready, (point, heard), (&raster, request))
            })
            .collect::<Result<_, _>>()?;
        let find = |key: &Key| kept?.launches.iter().find(|l| l.key == *key).cloned();
        let found: Vec<Option<Arc<LaunchLosses>>> = keys.iter().map(find).collect();
        let missing = found.iter().zip(&keys).filter(|(found, _)| found.is_none());
        let work: usize = missing.clone().map(|(_, key)| cells_of(key)).sum();
        let swept = missing.count();
        run.begin("losses", work);
        let ground = SweepGround::new(mapped);
        let launches = found.into_iter().zip(keys).map(|(found, key)| match found {
            Some(found) => Ok(found),
            None => swept_launch(key, &ground, run).map(Arc::new),
        });
        Ok(Self {
            launches: launches.collect::<Result<_, CoverageError>>()?,
            raster,
            launch_of,
            swept,
        })
    }

    /// Launch points that had to be swept, the others were kept.
    pub fn swept_launch_points(&self) -> usize {
        self.swept
    }

    /// Launch points in all.
    pub fn launch_points(&self) -> usize {
        self.launches.len()
    }
}

/// Whether the sectors of a launch point are heard in the channel of any other.
fn is_heard(ready: &ReadyNetwork<'_>, launch_of: &[usize], launch: usize) -> bool {
    let channel = |s: usize| &ready.sectors[s].sector.channel;
    let count = ready.sectors.len();
    let mut own = (0..count).filter(|s| launch_of[*s] == launch);
    own.any(|s| {
        (0..count).any(|v| v != s && Coupling::of(channel(v), channel(s)) != Coupling::Apart)
    })
}

fn key(
    ready: &ReadyNetwork<'_>,
    (point, is_heard): (&LaunchPoint, bool),
    (raster, request): (&CoverageRaster, &CoverageRequest),
) -> Result<Key, CoverageError> {
    let settings = &ready.network.propagation;
    let receiver_agl_m = ready.network.study.mount_height_agl_m;
    let conditions = |c: &PathConditions| Conditions {
        frequency_mhz: point.frequency_mhz,
        time_pct: c.time_pct,
        mast_agl_m: point.end.agl_m,
        receiver_agl_m,
        polarization: c.polarization,
        refractivity_lapse_n_per_km: c.refractivity_lapse_n_per_km,
        surface_refractivity_n: c.surface_refractivity_n,
        location_area_m: c.location_area_m,
    };
    let at = raster.georeference.crs().to_map(point.end.position)?;
    let farthest_m = farthest_corner_m(raster, at);
    let radius_m = [settings.reach_km, settings.interference_reach_km]
        .map(|reach_km| (reach_km * 1e3).min(farthest_m));
    Ok(Key {
        raster: raster.clone(),
        mast: point.end.position,
        mast_ground_amsl_m: point.end.ground_amsl_m,
        wanted: conditions(&point.wanted),
        unwanted: is_heard.then(|| conditions(&point.unwanted)),
        radius_m,
        step_m: settings.profile_step_m,
        bearings: request.bearings,
        clearance: if request.clearance {
            Clearance::Told
        } else {
            Clearance::SightOnly
        },
    })
}

/// Ground distance beyond which there is no cell.
fn farthest_corner_m(raster: &CoverageRaster, at: MapXy) -> f64 {
    let affine = raster.georeference.affine();
    let corners = [0.0, raster.width as f64]
        .into_iter()
        .flat_map(|col| [0.0, raster.height as f64].map(|row| affine.to_map(CellXy { col, row })));
    let farthest = corners.map(|c| (c.x - at.x).hypot(c.y - at.y));
    // The plane's scale is within a thousandth of one.
    farthest.fold(0.0, f64::max) * 1.002 + raster.cell_m
}

/// How far the losses of a launch point are needed.
fn radius_m(key: &Key) -> f64 {
    let [service, interference] = key.radius_m;
    if key.unwanted.is_some() {
        interference.max(service)
    } else {
        service
    }
}

/// Columns and rows within a radius.
fn window(key: &Key, radius_m: f64) -> Result<[Range<usize>; 2], CoverageError> {
    let raster = &key.raster;
    let mast = raster.georeference.to_cell(key.mast)?;
    let reach = radius_m * 1.002 / raster.cell_m + 1.0;
    let range = |middle: f64, count: usize| {
        let start = (middle - reach).floor().max(0.0) as usize;
        let end = (middle + reach).ceil().max(0.0) as usize;
        start.min(count)..end.min(count)
    };
    Ok([
        range(mast.col, raster.width),
        range(mast.row, raster.height),
    ])
}

/// Cells that the sweeps of a launch point touch, about.
fn cells_of(key: &Key) -> usize {
    let cells = |radius_m| window(key, radius_m).map_or(0, |[c, r]| c.len() * r.len());
    let again = differs(key).map_or(0, |_| cells(key.radius_m[1]));
    cells(radius_m(key)) + again
}

/// Conditions of the unwanted signal where they are others than the wanted one's.
fn differs(key: &Key) -> Option<Conditions> {
    key.unwanted.filter(|unwanted| *unwanted != key.wanted)
}

fn swept_launch(
    key: Key,
    ground: &SweepGround<'_>,
    run: &RunControl<'_>,
) -> Result<LaunchLosses, CoverageError> {
    let radius_m = radius_m(&key);
    let [columns, rows] = window(&key, radius_m)?;
    let at = key.raster.georeference.crs().to_map(key.mast)?;
    let (convergence_deg, scale) = grid_north(&key, at)?;
    let mut launch = LaunchLosses {
        at,
        convergence_deg,
        scale,
        columns,
        rows,
        loss_db: Vec::new(),
        unwanted_loss_db: None,
        mast_elevation_deg: Vec::new(),
        location_sigma_db: Vec::new(),
        clearance_ratio: Vec::new(),
        key,
    };
    if launch.columns.is_empty() || launch.rows.is_empty() {
        return Ok(launch);
    }
    let key = &launch.key;
    let affine = key.raster.georeference.affine();
    let affine = affine.shifted(launch.columns.start as f64, launch.rows.start as f64);
    let (width, height) = (launch.columns.len(), launch.rows.len());
    let crs = key.raster.georeference.crs().clone();
    let target = Target {
        georeference: Georeference::new(crs, affine, width, height),
        width,
        height,
    };
    let sweep = |conditions: Conditions, radius_m: f64| {
        let grid = CoverageGrid {
            mast: key.mast,
            mast_ground_amsl_m: key.mast_ground_amsl_m,
            conditions,
            target: &target,
            radius_m,
            step_m: key.step_m,
            bearings: key.bearings,
            clearance: key.clearance,
            threads: run.threads,
        };
        grid.sweep(ground.view(), &SweepWatch(run))
    };
    let wanted = sweep(key.wanted, radius_m)?;
    launch.unwanted_loss_db = match differs(key) {
        Some(unwanted) => Some(sweep(unwanted, radius_m)?.loss_db),
        None => None,
    };
    launch.loss_db = wanted.loss_db;
    launch.mast_elevation_deg = wanted.mast_elevation_deg;
    launch.location_sigma_db = wanted.location_sigma_db;
    launch.clearance_ratio = wanted.clearance_ratio;
    Ok(launch)
}

/// True azimuth of grid north and the plane's scale at a mast, from a step
/// north along the meridian.
fn grid_north(key: &Key, at: MapXy) -> Result<(f64, f64), CoverageError> {
    const STEP_M: f64 = 100.0;
    let crs = key.raster.georeference.crs();
    let north = crs.to_map(geodesy::direct(key.mast, 0.0, STEP_M))?;
    let (east_m, north_m) = (north.x - at.x, north.y - at.y);
    let true_north_on_grid_deg = east_m.atan2(north_m).to_degrees();
    Ok((-true_north_on_grid_deg, east_m.hypot(north_m) / STEP_M))
}

/// Mapped ground as the sweep asks for it.
struct SweepGround<'a> {
    mapped: &'a MappedGround,
    classes: CoverClasses,
}

impl<'a> SweepGround<'a> {
    fn new(mapped: &'a MappedGround) -> Self {
        let rows = mapped.land_cover().map(|cover| &cover.clutter.classes);
        let classes = rows.into_iter().flatten().map(|class| {
            let cover = Cover {
                height_m: class.height_m,
                zone: mapped_ground::zone(class.surface),
            };
            (class.code, cover)
        });
        Self {
            mapped,
            classes: CoverClasses::new(classes),
        }
    }

    fn view(&self) -> Ground<'_> {
        let cover = self.mapped.land_cover();
        let canopy = self.mapped.canopy();
        Ground {
            elevation: self.mapped.elevation(),
            cover: cover.map(|cover| (&cover.classes, &self.classes)),
            canopy: canopy.map(|canopy| (&canopy.heights, canopy.unit_m)),
        }
    }
}

/// A run's control as the sweep knows it.
struct SweepWatch<'a>(&'a RunControl<'a>);

impl sweep::Watch for SweepWatch<'_> {
    fn advance(&self, cells: usize) {
        self.0.advance(cells);
    }

    fn interrupted(&self) -> bool {
        self.0.interrupted()
    }
}
