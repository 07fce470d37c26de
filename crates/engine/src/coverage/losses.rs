//! Losses from every launch point to every cell within reach.

use std::ops::Range;
use std::sync::Arc;

use geodesy::{Crs, LonLat, LonLatBox, MapXy};
use sweep::{Bearings, Clearance, Conditions, Cover, CoverClasses, CoverageGrid, Ground, Target};

use super::extent::{around, on_lattice};
use super::shelf::{Digest, ShelfName};
use super::sweeper::Sweeper;
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

/// What a sweep depends on, but for the ground.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SweepKey {
    crs: Crs,
    cell_m: f64,
    /// Columns and rows on the plane's lattice: all that are within reach and
    /// in the territory, wherever other masts stand.
    pub(super) window: [Range<i64>; 2],
    mast: LonLat,
    mast_ground_amsl_m: Option<f64>,
    conditions: Conditions,
    radius_m: f64,
    step_m: Option<f64>,
    bearings: Bearings,
    clearance: Clearance,
    sweeper: Sweeper,
}

/// The sweeps of a launch point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LaunchKey {
    /// As far as the sector serves; [`WANTED_LAYERS`] layers.
    pub(super) wanted: SweepKey,
    /// As far as it disturbs; [`UNWANTED_LAYERS`] layers. `None` where nobody hears
    /// this launch point as interference, or the wanted sweep tells all.
    pub(super) unwanted: Option<SweepKey>,
}

/// Loss, elevation at the mast, deviation over locations, clearance.
pub(super) const WANTED_LAYERS: usize = 4;
/// Loss, elevation at the mast.
pub(super) const UNWANTED_LAYERS: usize = 2;
pub(super) const ELEVATION_LAYER: usize = 1;

/// Steeper than this the antenna itself is asked, whatever the cells.
const STEEPEST_DEG: f64 = 12.0;

/// Elevations between which all but some thousandths of a sweep's cells lie.
/// They have the precision of a cell.
pub(super) fn elevations_deg(elevation_deg: &[f32]) -> [f64; 2] {
    /// Every so many cells are looked at.
    const EVERY: usize = 61;
    let cells = elevation_deg.iter().step_by(EVERY);
    let mut some: Vec<f32> = cells.copied().filter(|e| !e.is_nan()).collect();
    some.sort_by(f32::total_cmp);
    let Some(last) = some.len().checked_sub(1) else {
        return [0.0, 0.0];
    };
    let at = |share: f64| f64::from(some[(last as f64 * share).round() as usize]);
    [at(0.005), at(0.995)].map(|e| e.clamp(-STEEPEST_DEG, STEEPEST_DEG))
}

/// Layers of a sweep over a window of the plane's lattice.
#[derive(Debug)]
pub(super) struct Swept {
    window: [Range<i64>; 2],
    layers: Vec<Vec<f32>>,
}

/// Losses of one launch point over the cells of a raster that are within reach.
#[derive(Debug)]
pub(super) struct LaunchLosses {
    key: LaunchKey,
    /// Where the mast stands in the plane.
    pub(super) at: MapXy,
    /// True azimuth of the plane's grid north, at the mast. \[deg\]
    pub(super) convergence_deg: f64,
    /// Metres of the plane a metre of ground, at the mast.
    pub(super) scale: f64,
    /// Elevations at the mast between which nearly all cells lie, those of the
    /// whole sweep. \[deg\]
    pub(super) elevations_deg: [f64; 2],
    /// Columns of the raster that the layers have.
    pub(super) columns: Range<usize>,
    /// Rows of the raster that the layers have.
    pub(super) rows: Range<usize>,
    /// NaN beyond the reach of service, where only the unwanted loss is known.
    pub(super) loss_db: Vec<f32>,
    /// `None` where it is that of a wanted signal, or nobody hears it.
    pub(super) unwanted_loss_db: Option<Vec<f32>>,
    pub(super) mast_elevation_deg: Vec<f32>,
    pub(super) location_sigma_db: Vec<f32>,
    /// Least clearance as a share of the first Fresnel zone, negative when
    /// blocked; 1 and −1 where only sight was asked for.
    pub(super) clearance_ratio: Vec<f32>,
}

impl Swept {
    pub(super) fn new(window: [Range<i64>; 2], layers: Vec<Vec<f32>>) -> Self {
        Self { window, layers }
    }

    /// Sweeps the whole window of a key.
    pub(super) fn sweep(
        key: &SweepKey,
        layers: usize,
        (ground, run): (&MappedGround, &RunControl<'_>),
    ) -> Result<Self, CoverageError> {
        let mut all = swept(key, &SweepGround::new(ground), run)?;
        all.truncate(layers);
        Ok(Self::new(key.window.clone(), all))
    }

    pub(super) fn layers(&self) -> &[Vec<f32>] {
        &self.layers
    }

    /// A layer over another window; NaN beyond this one.
    fn over(&self, layer: usize, window: &[Range<i64>; 2]) -> Vec<f32> {
        let values = &self.layers[layer];
        if self.window == *window {
            return values.clone();
        }
        let [columns, rows] = shared(&self.window, window);
        let [width, height] = window.each_ref().map(count);
        let mut cells = vec![f32::NAN; width * height];
        if columns.is_empty() {
            return cells;
        }
        let own_width = count(&self.window[0]);
        let place = |window: &[Range<i64>; 2], width: usize, row: i64| {
            (row - window[1].start) as usize * width + (columns.start - window[0].start) as usize
        };
        for row in rows {
            let from = place(&self.window, own_width, row);
            let to = place(window, width, row);
            let many = count(&columns);
            cells[to..to + many].copy_from_slice(&values[from..from + many]);
        }
        cells
    }
}

impl LaunchLosses {
    /// What sweeps have found on the cells of a raster.
    pub(super) fn new(
        key: &LaunchKey,
        (raster, elevations_deg): (&CoverageRaster, [f64; 2]),
        (wanted, unwanted): (&Swept, Option<&Swept>),
    ) -> Result<Self, CoverageError> {
        let at = key.wanted.crs.to_map(key.wanted.mast)?;
        let (convergence_deg, scale) = grid_north(&key.wanted, at)?;
        let lattice = raster.lattice();
        let window = shared(&unwanted.unwrap_or(wanted).window, &lattice);
        let [columns, rows] = std::array::from_fn(|axis| {
            let first = lattice[axis].start;
            let start = (window[axis].start - first).max(0) as usize;
            start..start + count(&window[axis])
        });
        let mut mast_elevation_deg = wanted.over(1, &window);
        if let Some(unwanted) = unwanted {
            let beyond = unwanted.over(1, &window);
            for (elevation_deg, beyond_deg) in mast_elevation_deg.iter_mut().zip(beyond) {
                if elevation_deg.is_nan() {
                    *elevation_deg = beyond_deg;
                }
            }
        }
        Ok(Self {
            at,
            convergence_deg,
            scale,
            elevations_deg,
            columns,
            rows,
            loss_db: wanted.over(0, &window),
            unwanted_loss_db: unwanted.map(|unwanted| unwanted.over(0, &window)),
            mast_elevation_deg,
            location_sigma_db: wanted.over(2, &window),
            clearance_ratio: wanted.over(3, &window),
            key: key.clone(),
        })
    }

    /// Carrier that the losses are for.
    pub(super) fn frequency_mhz(&self) -> f64 {
        self.key.wanted.conditions.frequency_mhz
    }

    /// Whether the clearance is one, or only tells sight.
    pub(super) fn tells_clearance(&self) -> bool {
        self.key.wanted.clearance == Clearance::Told
    }

    /// Cells within reach, whatever part of them is held.
    pub(super) fn reach_cells(&self) -> usize {
        let widest = self.key.unwanted.as_ref().unwrap_or(&self.key.wanted);
        widest.size().into_iter().product()
    }

    /// Place and height above ground of the antenna.
    pub(super) fn antenna(&self) -> (LonLat, f64) {
        let key = &self.key.wanted;
        (key.mast, key.conditions.mast_agl_m)
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
        raster.fits_memory()?;
        let (keys, launch_of) = launch_keys(ready, &raster, request)?;
        let find = |key: &LaunchKey| kept?.find(&raster, key);
        let found: Vec<_> = keys.iter().map(find).collect();
        let missing = found.iter().zip(&keys).filter(|(found, _)| found.is_none());
        let sweeps = missing.clone().flat_map(|(_, key)| key.sweeps());
        run.begin("losses", sweeps.map(|(key, _)| key.cells()).sum());
        let swept = missing.count();
        let sweep = |key: &SweepKey, layers: usize| Swept::sweep(key, layers, (mapped, run));
        let launches = found.into_iter().zip(&keys).map(|(found, key)| {
            if let Some(found) = found {
                return Ok(found);
            }
            let wanted = sweep(&key.wanted, WANTED_LAYERS)?;
            let unwanted = key.unwanted.as_ref();
            let unwanted = unwanted
                .map(|key| sweep(key, UNWANTED_LAYERS))
                .transpose()?;
            let elevations_deg = elevations_deg(&wanted.layers()[ELEVATION_LAYER]);
            let around = (&raster, elevations_deg);
            let losses = LaunchLosses::new(key, around, (&wanted, unwanted.as_ref()))?;
            Ok(Arc::new(losses))
        });
        let launches = launches.collect::<Result<_, CoverageError>>()?;
        Ok(Self {
            launches,
            raster,
            launch_of,
            swept,
        })
    }

    /// Losses that were had from elsewhere, on the cells of one raster.
    pub(super) fn ready(
        raster: CoverageRaster,
        (launches, launch_of): (Vec<Arc<LaunchLosses>>, Vec<usize>),
        swept: usize,
    ) -> Self {
        Self {
            raster,
            launch_of,
            launches,
            swept,
        }
    }

    /// The losses of a launch point, where they are among these and on the cells of a raster.
    pub(super) fn find(
        &self,
        raster: &CoverageRaster,
        key: &LaunchKey,
    ) -> Option<Arc<LaunchLosses>> {
        let mut own = self.launches.iter().filter(|_| self.raster == *raster);
        own.find(|launch| launch.key == *key).cloned()
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

impl LaunchKey {
    /// Each sweep and how many of its layers count.
    pub(super) fn sweeps(&self) -> impl Iterator<Item = (&SweepKey, usize)> {
        let unwanted = self.unwanted.iter().map(|key| (key, UNWANTED_LAYERS));
        [(&self.wanted, WANTED_LAYERS)].into_iter().chain(unwanted)
    }
}

/// What to sweep for each launch point, and the launch point of each sector.
pub(super) fn launch_keys(
    ready: &ReadyNetwork<'_>,
    raster: &CoverageRaster,
    request: &CoverageRequest,
) -> Result<(Vec<LaunchKey>, Vec<usize>), CoverageError> {
    let (points, launch_of) = launch_points(ready);
    let keys = points.iter().enumerate().map(|(i, point)| {
        let heard = is_heard(ready, &launch_of, i);
        launch_key(ready, (point, heard), (raster, request))
    });
    Ok((keys.collect::<Result<_, _>>()?, launch_of))
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

fn launch_key(
    ready: &ReadyNetwork<'_>,
    (point, is_heard): (&LaunchPoint, bool),
    (raster, request): (&CoverageRaster, &CoverageRequest),
) -> Result<LaunchKey, CoverageError> {
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
    let crs = raster.georeference.crs();
    let at = crs.to_map(point.end.position)?;
    let farthest_m = farthest_corner_m(raster, at);
    let [service_m, interference_m] = [settings.reach_km, settings.interference_reach_km]
        .map(|reach_km| (reach_km * 1e3).min(farthest_m));
    let key = |conditions: Conditions, radius_m: f64| SweepKey {
        crs: crs.clone(),
        cell_m: raster.cell_m,
        window: window(raster, at, radius_m),
        mast: point.end.position,
        mast_ground_amsl_m: point.end.ground_amsl_m,
        conditions,
        radius_m,
        step_m: settings.profile_step_m,
        bearings: request.bearings,
        clearance: if request.clearance {
            Clearance::Told
        } else {
            Clearance::SightOnly
        },
        sweeper: request.sweeper.clone(),
    };
    let (wanted, unwanted) = (conditions(&point.wanted), conditions(&point.unwanted));
    if !is_heard || wanted == unwanted {
        let radius_m = if is_heard { interference_m } else { service_m };
        return Ok(LaunchKey {
            wanted: key(wanted, radius_m.max(service_m)),
            unwanted: None,
        });
    }
    Ok(LaunchKey {
        wanted: key(wanted, service_m),
        unwanted: Some(SweepKey {
            clearance: Clearance::SightOnly,
            ..key(unwanted, interference_m.max(service_m))
        }),
    })
}

/// Ground distance beyond which the territory has no cell.
fn farthest_corner_m(raster: &CoverageRaster, at: MapXy) -> f64 {
    let [columns, rows] = raster.territory_lattice();
    let x = [columns.start, columns.end].map(|col| col as f64 * raster.cell_m);
    let y = [rows.start, rows.end].map(|row| row as f64 * -raster.cell_m);
    let corners = x.into_iter().flat_map(|x| y.map(|y| (x, y)));
    let farthest = corners.map(|(x, y)| (x - at.x).hypot(y - at.y));
    // The plane's scale is within a thousandth of one.
    farthest.fold(0.0, f64::max) * 1.002 + raster.cell_m
}

/// Columns and rows of the territory within a radius.
fn window(raster: &CoverageRaster, at: MapXy, radius_m: f64) -> [Range<i64>; 2] {
    let reach = radius_m * 1.002 / raster.cell_m + 1.0;
    let range = |middle: f64, whole: &Range<i64>| {
        let start = ((middle - reach).floor() as i64).clamp(whole.start, whole.end);
        let end = ((middle + reach).ceil() as i64).clamp(start, whole.end);
        start..end
    };
    let [columns, rows] = raster.territory_lattice();
    [
        range(at.x / raster.cell_m, columns),
        range(-at.y / raster.cell_m, rows),
    ]
}

/// What two windows have in common; an empty range where they have nothing.
pub(super) fn shared(one: &[Range<i64>; 2], other: &[Range<i64>; 2]) -> [Range<i64>; 2] {
    std::array::from_fn(|axis| {
        let (one, other) = (&one[axis], &other[axis]);
        let start = one.start.max(other.start);
        start..one.end.min(other.end).max(start)
    })
}

/// How many columns or rows a window has.
pub(super) fn count(range: &Range<i64>) -> usize {
    (range.end - range.start).max(0) as usize
}

impl SweepKey {
    /// Cells within the radius, to a few.
    pub(super) fn cells(&self) -> usize {
        let Ok(at) = self.crs.to_map(self.mast) else {
            return 0;
        };
        let [columns, rows] = &self.window;
        let radius = self.radius_m / self.cell_m;
        let along = |row: i64| {
            let off = row as f64 + 0.5 + at.y / self.cell_m;
            let half = (radius * radius - off * off).max(0.0).sqrt();
            let middle = at.x / self.cell_m;
            let (from, to) = ((middle - half).round(), (middle + half).round());
            count(&((from as i64).max(columns.start)..(to as i64).min(columns.end)))
        };
        rows.clone().map(along).sum()
    }

    /// Columns and rows.
    pub(super) fn size(&self) -> [usize; 2] {
        self.window.each_ref().map(count)
    }

    /// The box that holds every path of the sweep.
    pub(super) fn extent(&self) -> Option<LonLatBox> {
        around(self.mast, self.radius_m)
    }

    /// The name of this sweep over a ground.
    pub(super) fn name(&self, ground: &MappedGround) -> ShelfName {
        let mut digest = Digest::of("losses");
        // The derived form has every field, numbers to their last digit.
        digest.text(&format!("{self:?}"));
        digest.ground(ground);
        digest.finish()
    }
}

/// Every layer of a sweep.
fn swept(
    key: &SweepKey,
    ground: &SweepGround<'_>,
    run: &RunControl<'_>,
) -> Result<Vec<Vec<f32>>, CoverageError> {
    let [width, height] = key.size();
    if width == 0 || height == 0 {
        return Ok(vec![Vec::new(); WANTED_LAYERS]);
    }
    let target = Target {
        georeference: on_lattice(&key.crs, key.cell_m, &key.window)?,
        width,
        height,
    };
    let grid = CoverageGrid {
        mast: key.mast,
        mast_ground_amsl_m: key.mast_ground_amsl_m,
        conditions: key.conditions,
        target: &target,
        radius_m: key.radius_m,
        step_m: key.step_m,
        bearings: key.bearings,
        clearance: key.clearance,
        threads: run.threads,
    };
    let sweeper = key.sweeper.works();
    let swept = sweeper.sweep(&grid, ground.view(), &SweepWatch(run))?;
    Ok(vec![
        swept.loss_db,
        swept.mast_elevation_deg,
        swept.location_sigma_db,
        swept.clearance_ratio,
    ])
}

/// True azimuth of grid north and the plane's scale at a mast, from a step
/// north along the meridian.
fn grid_north(key: &SweepKey, at: MapXy) -> Result<(f64, f64), CoverageError> {
    const STEP_M: f64 = 100.0;
    let crs = &key.crs;
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
