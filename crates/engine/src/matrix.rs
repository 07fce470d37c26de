//! The loss from every mast to every premises: the expensive part of a study,
//! and the part that does not depend on aim, tilt, pattern or power.

use std::collections::BTreeMap;

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
    /// Points of cross-sections for which land cover was expected but unknown.
    pub unknown_cover_points: usize,
    /// Paths evaluated.
    pub evaluated_paths: usize,
}

impl PathMatrix {
    /// Evaluates every premises against every launch point, in parallel over premises.
    pub fn evaluate(
        ready: &ReadyNetwork<'_>,
        surroundings: &dyn Surroundings,
        run: &RunControl<'_>,
    ) -> Result<Self, Interrupted> {
        let (launch_points, launch_of) = launch_points(ready);
        let masts = by_mast(&launch_points);
        let network = ready.network;
        let rows: Vec<Option<Row>> = network
            .premises
            .par_iter()
            .map_init(Scratch::default, |scratch, premises| {
                if run.interrupted() {
                    return None;
                }
                let row = row(network, premises, &masts, (surroundings, scratch));
                run.advance(1);
                Some(row)
            })
            .collect();
        let mut matrix = Self {
            launch_of,
            states: Vec::with_capacity(rows.len() * launch_points.len()),
            launch_points,
            unknown_cover_points: 0,
            evaluated_paths: 0,
        };
        for row in rows {
            let row = row.ok_or(Interrupted)?;
            matrix.unknown_cover_points += row.unknown_cover_points;
            matrix.evaluated_paths += row.states.iter().filter(|s| s.known().is_some()).count();
            matrix.states.extend(row.states);
        }
        Ok(matrix)
    }

    /// The path from a sector to a premises, both by their index in the network.
    pub fn state(&self, premises: usize, sector: usize) -> &PathState {
        &self.states[premises * self.launch_points.len() + self.launch_of[sector]]
    }
}

#[derive(Default)]
struct Scratch {
    section: CrossSection,
    evaluator: PathEvaluator,
}

struct Row {
    states: Vec<PathState>,
    unknown_cover_points: usize,
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

/// Launch points that stand in the same place, so that one cross-section serves them all.
fn by_mast(points: &[LaunchPoint]) -> Vec<Vec<(usize, LaunchPoint)>> {
    let mut groups: BTreeMap<(u64, u64), Vec<(usize, LaunchPoint)>> = BTreeMap::new();
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
    masts: &[Vec<(usize, LaunchPoint)>],
    (surroundings, scratch): (&dyn Surroundings, &mut Scratch),
) -> Row {
    let launch_count = masts.iter().map(Vec::len).sum();
    let mut states = vec![
        PathState::OutOfReach {
            distance_m: f64::INFINITY
        };
        launch_count
    ];
    let mut unknown_cover_points = 0;
    let to = PathEnd {
        position: premises.position,
        agl_m: premises.mount_height_agl_m,
        ground_amsl_m: None,
    };
    for group in masts {
        let Some((_, first)) = group.first() else {
            continue;
        };
        let distance_m = geodesy::geodesic::inverse(first.end.position, to.position).distance_m;
        if distance_m > network.propagation.interference_reach_km * 1e3 {
            for (index, _) in group {
                states[*index] = PathState::OutOfReach { distance_m };
            }
            continue;
        }
        surroundings.trace(
            first.end.position,
            to.position,
            network.propagation.profile_step_m,
            &mut scratch.section,
        );
        unknown_cover_points += scratch.section.unknown_cover_points;
        for (index, point) in group {
            states[*index] = state(point, &to, premises.mounting, scratch);
        }
    }
    Row {
        states,
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
