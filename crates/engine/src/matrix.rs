//! The loss from every mast to every premises: the expensive part of a study,
//! and the part that does not depend on aim, tilt, pattern or power.

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::LonLat;
use model::network::{Mounting, Network, Premises, Sector};
use rayon::prelude::*;

use crate::near_end::NearEnd;
use crate::path::{ClutterUse, PathConditions, PathEnd, PathError, PathEvaluator, RadioPath};
use crate::polarization;
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, RunControl};
use crate::surroundings::{CrossSection, Surroundings};

/// A point from which sectors radiate: sectors of one mast at one height and
/// frequency share it, and with it their losses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchPoint {
    /// The mast's end of the path.
    pub end: PathEnd,
    /// Carrier.
    pub frequency_mhz: f64,
    /// Conditions of its wanted signals.
    pub wanted: PathConditions,
    /// Conditions of its unwanted signals.
    pub unwanted: PathConditions,
}

/// What is known of the path from a launch point to a premises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PathState {
    /// Farther than the design looks, for service or interference.
    OutOfReach {
        /// How far it is.
        distance_m: f64,
    },
    /// Part of the ground is unknown, or both ends are the same place.
    Unknown(PathError),
    /// Evaluated.
    Known(PathSummary),
}

impl PathState {
    /// The summary of an evaluated path.
    pub fn known(&self) -> Option<&PathSummary> {
        match self {
            PathState::Known(summary) => Some(summary),
            _ => None,
        }
    }
}

/// What a study keeps of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathSummary {
    /// Length along the ground.
    pub distance_m: f64,
    /// Azimuth at the mast.
    pub azimuth_deg: f64,
    /// Azimuth at the premises back to the mast.
    pub back_azimuth_deg: f64,
    /// Direction in which the ray leaves the mast.
    pub from_elevation_deg: f64,
    /// Direction in which the ray leaves the premises.
    pub to_elevation_deg: f64,
    /// Loss of a wanted signal.
    pub loss_db: f64,
    /// Loss of an unwanted signal, not exceeded for the interferer's share of time.
    pub unwanted_loss_db: f64,
    /// Terms at the premises that no model of the path holds.
    pub near_end: NearEnd,
    /// Free-space part of the loss.
    pub free_space_db: f64,
    /// Standard deviation over locations.
    pub location_sigma_db: f64,
    /// Least clearance as a share of the first Fresnel zone.
    pub clearance_ratio: f64,
    /// Antennas at the mast and at the premises above sea level.
    pub ends_amsl_m: [f64; 2],
    /// Mean height of the ground along the path, without what stands on it.
    pub mean_ground_amsl_m: f64,
}

/// Losses by premises and launch point.
#[derive(Debug)]
pub struct PathMatrix {
    /// Launch points, in the order of the first sector that uses each.
    pub launch_points: Vec<LaunchPoint>,
    /// Index into `launch_points` by sector.
    pub launch_of: Vec<usize>,
    states: Vec<PathState>,
    /// Points with unknown land cover on the cross-section behind each state.
    cover: Vec<u32>,
    /// Place of each far end among the premises: what their states depend on
    /// at their own end.
    ends: BTreeMap<FarEnd, usize>,
    reach: Reach,
    /// Points of cross-sections for which land cover was expected but unknown.
    pub unknown_cover_points: usize,
    /// Paths evaluated.
    pub evaluated_paths: usize,
}

/// What a path depends on at the premises' end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct FarEnd {
    /// Bits of longitude, latitude and height.
    place: [u64; 3],
    mounting: Mounting,
}

impl FarEnd {
    fn of(premises: &Premises) -> Self {
        let at = premises.position;
        let place = [at.lon_deg(), at.lat_deg(), premises.mount_height_agl_m];
        Self {
            place: place.map(f64::to_bits),
            mounting: premises.mounting,
        }
    }
}

/// How far a matrix looks, and how finely.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reach {
    interference_reach_km: f64,
    profile_step_m: Option<f64>,
}

impl PathMatrix {
    /// Evaluates every premises against every launch point, in parallel over premises.
    pub fn evaluate(
        ready: &ReadyNetwork<'_>,
        surroundings: &dyn Surroundings,
        run: &RunControl<'_>,
    ) -> Result<Self, Interrupted> {
        Self::evaluate_again(ready, surroundings, None, run)
    }

    /// The same with the matrix of an earlier network over the same ground:
    /// what still fits is taken from it.
    pub fn evaluate_again(
        ready: &ReadyNetwork<'_>,
        surroundings: &dyn Surroundings,
        kept: Option<&Self>,
        run: &RunControl<'_>,
    ) -> Result<Self, Interrupted> {
        let (launch_points, launch_of) = launch_points(ready);
        let masts = by_mast(&launch_points);
        let network = ready.network;
        let reach = Reach::of(network);
        let kept = kept.filter(|kept| kept.reach == reach);
        let kept = kept.map(|kept| Kept::new(kept, &launch_points));
        let rows: Vec<Option<Row>> = network
            .premises
            .par_iter()
            .map_init(Scratch::default, |scratch, premises| {
                if run.interrupted() {
                    return None;
                }
                let kept = kept.as_ref().map(|kept| kept.row(premises));
                let row = row(
                    network,
                    premises,
                    (&masts, kept.as_ref()),
                    (surroundings, scratch),
                );
                run.advance(1);
                Some(row)
            })
            .collect();
        let mut matrix = Self {
            launch_of,
            states: Vec::with_capacity(rows.len() * launch_points.len()),
            cover: Vec::with_capacity(rows.len() * launch_points.len()),
            ends: (network.premises.iter().map(FarEnd::of).zip(0..)).collect(),
            reach,
            launch_points,
            unknown_cover_points: 0,
            evaluated_paths: 0,
        };
        for row in rows {
            let row = row.ok_or(Interrupted)?;
            matrix.unknown_cover_points += row.unknown_cover_points;
            matrix.evaluated_paths += row.states.iter().filter(|s| s.known().is_some()).count();
            matrix.states.extend(row.states);
            matrix.cover.extend(row.cover);
        }
        Ok(matrix)
    }

    /// The same with the ground around one mast after the other, so that no
    /// more of it is in memory than the paths of one mast cross: `ground` gives
    /// that of a circle, by its middle and its radius in metres.
    pub fn evaluate_by_mast<E: From<Interrupted>>(
        ready: &ReadyNetwork<'_>,
        ground: impl Fn(LonLat, f64) -> Result<Arc<dyn Surroundings>, E>,
        run: &RunControl<'_>,
    ) -> Result<Self, E> {
        let (launch_points, launch_of) = launch_points(ready);
        let network = ready.network;
        let ends = network.premises.iter().map(FarEnd::of).zip(0..);
        let many = network.premises.len() * launch_points.len();
        let mut matrix = Self {
            launch_of,
            states: vec![BEYOND; many],
            cover: vec![0; many],
            ends: ends.collect(),
            reach: Reach::of(network),
            launch_points,
            unknown_cover_points: 0,
            evaluated_paths: 0,
        };
        let masts = by_mast(&matrix.launch_points);
        run.begin("paths", network.premises.len() * masts.len());
        for group in masts {
            if run.interrupted() {
                return Err(Interrupted.into());
            }
            matrix.add_mast(network, &group, (&ground, run))?;
        }
        Ok(matrix)
    }

    fn add_mast<E: From<Interrupted>>(
        &mut self,
        network: &Network,
        group: &MastGroup,
        (ground, run): (
            impl Fn(LonLat, f64) -> Result<Arc<dyn Surroundings>, E>,
            &RunControl<'_>,
        ),
    ) -> Result<(), E> {
        let Some((_, first)) = group.first() else {
            return Ok(());
        };
        let mast = first.end.position;
        let within_m = network.propagation.interference_reach_km * 1e3;
        let distance_m = |p: &Premises| geodesy::geodesic::inverse(mast, p.position).distance_m;
        let distances_m: Vec<f64> = network.premises.iter().map(distance_m).collect();
        let reached_m = distances_m.iter().copied().filter(|d| *d <= within_m);
        // Where nobody is in reach no ground is asked for.
        let surroundings = reached_m.reduce(f64::max).map(|r| ground(mast, r));
        let surroundings = surroundings.transpose()?;
        let places = network.premises.par_iter().zip(&distances_m);
        let columns = places.map_init(Scratch::default, |scratch, (premises, distance_m)| {
            if run.interrupted() {
                return None;
            }
            run.advance(1);
            let there = surroundings.as_deref().filter(|_| *distance_m <= within_m);
            Some(match there {
                Some(there) => column(network, premises, group, (there, scratch)),
                None => Column::out_of_reach(*distance_m, group.len()),
            })
        });
        let columns: Vec<Option<Column>> = columns.collect();
        let launches = self.launch_points.len();
        for (row, column) in columns.into_iter().enumerate() {
            let column = column.ok_or(Interrupted)?;
            self.unknown_cover_points += column.unknown_cover_points;
            for ((index, _), state) in group.iter().zip(&column.states) {
                self.evaluated_paths += usize::from(state.known().is_some());
                self.states[row * launches + index] = *state;
                self.cover[row * launches + index] = column.cover();
            }
        }
        Ok(())
    }

    /// The path from a sector to a premises, both by their index in the network.
    pub fn state(&self, premises: usize, sector: usize) -> &PathState {
        &self.states[premises * self.launch_points.len() + self.launch_of[sector]]
    }
}

impl Reach {
    fn of(network: &Network) -> Self {
        Self {
            interference_reach_km: network.propagation.interference_reach_km,
            profile_step_m: network.propagation.profile_step_m,
        }
    }
}

/// Before anything is known.
const BEYOND: PathState = PathState::OutOfReach {
    distance_m: f64::INFINITY,
};

#[derive(Default)]
struct Scratch {
    section: CrossSection,
    evaluator: PathEvaluator,
}

struct Row {
    states: Vec<PathState>,
    cover: Vec<u32>,
    unknown_cover_points: usize,
}

/// An earlier matrix, ready to be looked things up in.
struct Kept<'a> {
    matrix: &'a PathMatrix,
    /// Place of each launch point among the earlier ones.
    launches: Vec<Option<usize>>,
}

/// What an earlier matrix has of one premises.
struct KeptRow<'a> {
    kept: &'a Kept<'a>,
    /// Where its states begin; `None` where it was not there.
    start: Option<usize>,
}

impl<'a> Kept<'a> {
    fn new(matrix: &'a PathMatrix, launches: &[LaunchPoint]) -> Self {
        let earlier = &matrix.launch_points;
        let place = |point: &LaunchPoint| earlier.iter().position(|own| own == point);
        Self {
            matrix,
            launches: launches.iter().map(place).collect(),
        }
    }

    fn row(&'a self, premises: &Premises) -> KeptRow<'a> {
        let place = self.matrix.ends.get(&FarEnd::of(premises));
        KeptRow {
            kept: self,
            start: place.map(|place| place * self.matrix.launch_points.len()),
        }
    }
}

impl KeptRow<'_> {
    /// State and unknown cover of one launch point.
    fn state(&self, launch: usize) -> Option<(PathState, u32)> {
        let at = self.start? + self.kept.launches[launch]?;
        Some((self.kept.matrix.states[at], self.kept.matrix.cover[at]))
    }
}

/// Launch points in the order of the first sector that uses each, and the launch point of every sector.
pub(crate) fn launch_points(ready: &ReadyNetwork<'_>) -> (Vec<LaunchPoint>, Vec<usize>) {
    let settings = &ready.network.propagation;
    let mut points: Vec<LaunchPoint> = Vec::new();
    let launch_of = ready
        .sectors
        .iter()
        .map(|s| {
            let point = LaunchPoint {
                end: s.path_end(),
                frequency_mhz: s.sector.channel.centre_mhz,
                wanted: conditions(PathConditions::wanted(settings), s.sector),
                unwanted: conditions(PathConditions::unwanted(settings), s.sector),
            };
            points.iter().position(|p| *p == point).unwrap_or_else(|| {
                points.push(point);
                points.len() - 1
            })
        })
        .collect();
    (points, launch_of)
}

/// Conditions of a sector's carrier, its gases prepared.
pub fn conditions(conditions: PathConditions, sector: &Sector) -> PathConditions {
    conditions
        .polarized(polarization::of_path(sector.antenna.polarization))
        .prepared(sector.channel.centre_mhz)
}

/// How the clutter of a path counts for a mounting: where a statistical term
/// stands for it, the mapped clutter near the terminal is taken away.
pub fn clutter_use(mounting: Mounting) -> ClutterUse {
    match mounting {
        Mounting::BelowRoofs => ClutterUse::ClearedNearTerminal,
        Mounting::Open | Mounting::IndoorTraditional | Mounting::IndoorEfficient => {
            ClutterUse::Standing
        }
    }
}

/// Launch points of one place, each with its index among all.
type MastGroup = Vec<(usize, LaunchPoint)>;

/// Launch points that stand in the same place, so that one cross-section serves them all.
fn by_mast(points: &[LaunchPoint]) -> Vec<MastGroup> {
    let mut groups: BTreeMap<(u64, u64), MastGroup> = BTreeMap::new();
    for (i, point) in points.iter().enumerate() {
        let place = point.end.position;
        let key = (place.lon_deg().to_bits(), place.lat_deg().to_bits());
        groups.entry(key).or_default().push((i, *point));
    }
    groups.into_values().collect()
}

fn row(
    network: &Network,
    premises: &Premises,
    (masts, kept): (&[MastGroup], Option<&KeptRow<'_>>),
    (surroundings, scratch): (&dyn Surroundings, &mut Scratch),
) -> Row {
    let launch_count = masts.iter().map(Vec::len).sum();
    let mut cover = vec![0; launch_count];
    let mut states = vec![BEYOND; launch_count];
    let mut unknown_cover_points = 0;
    for group in masts {
        let mut missing = group.clone();
        let mut group_cover = None;
        missing.retain(|(index, _)| {
            let Some((state, points)) = kept.and_then(|kept| kept.state(*index)) else {
                return true;
            };
            states[*index] = state;
            cover[*index] = points;
            group_cover = Some(points);
            false
        });
        if missing.is_empty() {
            unknown_cover_points += group_cover.unwrap_or(0) as usize;
            continue;
        }
        let column = column(network, premises, &missing, (surroundings, scratch));
        unknown_cover_points += column.unknown_cover_points;
        for ((index, _), state) in missing.iter().zip(&column.states) {
            states[*index] = *state;
            cover[*index] = column.cover();
        }
    }
    Row {
        states,
        cover,
        unknown_cover_points,
    }
}

/// What one mast's launch points have of a premises.
struct Column {
    states: Vec<PathState>,
    unknown_cover_points: usize,
}

impl Column {
    fn out_of_reach(distance_m: f64, launch_points: usize) -> Self {
        Self {
            states: vec![PathState::OutOfReach { distance_m }; launch_points],
            unknown_cover_points: 0,
        }
    }

    fn cover(&self) -> u32 {
        u32::try_from(self.unknown_cover_points).unwrap_or(u32::MAX)
    }
}

fn column(
    network: &Network,
    premises: &Premises,
    group: &[(usize, LaunchPoint)],
    (surroundings, scratch): (&dyn Surroundings, &mut Scratch),
) -> Column {
    let Some((_, first)) = group.first() else {
        return Column::out_of_reach(f64::INFINITY, 0);
    };
    let to = PathEnd {
        position: premises.position,
        agl_m: premises.mount_height_agl_m,
        ground_amsl_m: None,
    };
    let distance_m = geodesy::geodesic::inverse(first.end.position, to.position).distance_m;
    if distance_m > network.propagation.interference_reach_km * 1e3 {
        return Column::out_of_reach(distance_m, group.len());
    }
    surroundings.trace(
        first.end.position,
        to.position,
        network.propagation.profile_step_m,
        &mut scratch.section,
    );
    let unknown_cover_points = scratch.section.unknown_cover_points;
    let states = group
        .iter()
        .map(|(_, point)| state(point, &to, premises.mounting, scratch));
    Column {
        states: states.collect(),
        unknown_cover_points,
    }
}

fn state(
    point: &LaunchPoint,
    to: &PathEnd,
    mounting: Mounting,
    scratch: &mut Scratch,
) -> PathState {
    let Scratch { section, evaluator } = scratch;
    let clutter = clutter_use(mounting);
    let wanted = PathConditions {
        clutter,
        ..point.wanted
    };
    let unwanted = PathConditions {
        clutter,
        ..point.unwanted
    };
    let mut evaluate = |conditions: &PathConditions| {
        evaluator.evaluate(section, (&point.end, to), point.frequency_mhz, conditions)
    };
    let path = match evaluate(&wanted) {
        Ok(path) => path,
        Err(error) => return PathState::Unknown(error),
    };
    let same = unwanted.time_pct == wanted.time_pct && unwanted.model == wanted.model;
    let unwanted_loss_db = if same {
        path.loss_db()
    } else {
        evaluate(&unwanted).map_or(path.loss_db(), |p| p.loss_db())
    };
    let geometry = &path.geometry;
    let near_end = NearEnd::of(
        mounting,
        point.frequency_mhz,
        geometry.distance_m,
        geometry.to_elevation_deg,
    );
    let mean_ground_amsl_m = section.mean_ground_amsl_m();
    PathState::Known(summary(
        &path,
        (unwanted_loss_db, mean_ground_amsl_m),
        near_end,
    ))
}

fn summary(
    path: &RadioPath,
    (unwanted_loss_db, mean_ground_amsl_m): (f64, f64),
    near_end: NearEnd,
) -> PathSummary {
    let g = &path.geometry;
    PathSummary {
        distance_m: g.distance_m,
        azimuth_deg: g.azimuth_deg,
        back_azimuth_deg: g.back_azimuth_deg,
        from_elevation_deg: g.from_elevation_deg,
        to_elevation_deg: g.to_elevation_deg,
        loss_db: path.loss_db(),
        unwanted_loss_db,
        near_end,
        free_space_db: path.loss.free_space_db(),
        location_sigma_db: path.location_sigma_db,
        clearance_ratio: g.clearance_ratio,
        ends_amsl_m: [g.from_amsl_m, g.to_amsl_m],
        mean_ground_amsl_m,
    }
}
