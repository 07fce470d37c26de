//! The path drawn to a cell's own centre, divided into equal steps.

mod scalar;
mod sheet;

use super::cells::Entry;
use super::layers::Layers;
use super::{Bearings, Clearance, LEAST_SAMPLES, Plan, SweepError};
use crate::kernel::{CHUNK, Ends, Inside, Lone};
use crate::radial::{OwnEnd, Receiver};
use scalar::Scalar;
pub(super) use sheet::EndPaths;
use sheet::{Places, Sheet};

/// Fewest steps of a path, as the Recommendation's reference code asks.
pub const LEAST_STEPS: usize = 4;

/// Shorter than this the two ends are one place. \[km\]
pub const SAME_PLACE_KM: f64 = 1e-4;

/// What the own-bearing paths of a sweep share.
pub(super) struct OwnBearings<'a> {
    /// `None` where the rasters ask for the general sampler, or nothing asks for this.
    sheet: Option<Sheet<'a>>,
    is_median: bool,
    lone: Lone,
    mast_ground_amsl_m: f64,
}

impl<'a> OwnBearings<'a> {
    pub(super) fn new(plan: &Plan<'a>, ground: crate::Ground<'a>) -> Result<Self, SweepError> {
        let request = plan.request;
        let reach_km = match request.bearings {
            Bearings::Own | Bearings::OwnEnds { .. } => plan.radius_km,
            // Only cells beside the mast have their own bearing.
            Bearings::Shared { .. } => (LEAST_SAMPLES + LEAST_STEPS) as f64 * plan.step_km,
        };
        let is_median = request.conditions.time_pct == 50.0;
        let sheet = if is_median || plan.has_own_ends {
            Sheet::new(ground, request.mast, reach_km * 1.01)?
        } else {
            None
        };
        Ok(Self {
            sheet,
            is_median,
            lone: Lone::new(plan.kernel(), plan.samples + LEAST_STEPS),
            mast_ground_amsl_m: request
                .mast_ground_amsl_m
                .unwrap_or_else(|| ground.elevation.bilinear(request.mast)),
        })
    }
}

impl OwnBearings<'_> {
    /// Fills the own ends of paths where that is quick, and tells which.
    pub(super) fn ends(&self, paths: &mut EndPaths, own: &mut [OwnEnd], is_done: &mut Vec<bool>) {
        is_done.clear();
        is_done.resize(own.len(), self.sheet.is_some());
        if let Some(sheet) = &self.sheet {
            sheet.ends(paths, own, is_done);
        }
    }
}

/// Steps that a path of a length is divided into: equal ones, as a study divides it.
#[inline]
pub(super) fn steps(d_km: f64, step_km: f64) -> usize {
    ((d_km / step_km - 1e-9).ceil() as usize).max(LEAST_STEPS)
}

/// Draws paths one after the other; keeps the buffers between them.
pub(super) struct OwnBearing<'a> {
    shared: &'a OwnBearings<'a>,
    lone: Lone,
    inside: Inside,
    places: Places<CHUNK>,
    scalar: Scalar,
}

/// A path to a cell's own centre.
#[derive(Clone, Copy)]
struct Own<'a> {
    entry: &'a Entry,
    /// East and north of the direction, of length one.
    towards: [f64; 2],
    steps: usize,
}

impl<'a> OwnBearing<'a> {
    pub(super) fn new(shared: &'a OwnBearings<'a>) -> Self {
        Self {
            lone: shared.lone.clone(),
            shared,
            inside: Inside::default(),
            places: Places::default(),
            scalar: Scalar::default(),
        }
    }

    /// Evaluates one cell on the geodesic to its own centre, over equal
    /// steps: the path that a study evaluates for a premises there.
    pub(super) fn cell(&mut self, plan: &Plan<'_>, entry: &Entry, layers: &Layers) {
        if entry.d_km < SAME_PLACE_KM || !entry.ground_amsl_m.is_finite() {
            return;
        }
        let [east, north] = plan.place_km(entry);
        let path = Own {
            entry,
            towards: [east / entry.d_km, north / entry.d_km],
            steps: steps(entry.d_km, plan.step_km),
        };
        if !self.quickly(plan, &path, layers) {
            self.scalar.cell(plan, &path, layers);
        }
    }

    /// False where the path needs the scalar model.
    fn quickly(&mut self, plan: &Plan<'_>, path: &Own<'_>, layers: &Layers) -> bool {
        let Some(sheet) = &self.shared.sheet else {
            return false;
        };
        if !self.shared.is_median {
            return false;
        }
        let entry = path.entry;
        self.inside
            .begin(entry.d_km / path.steps as f64, path.steps);
        if !sheet.trace(path.towards, (&mut self.inside, &mut self.places)) {
            return false;
        }
        let receiver = Receiver {
            d_km: entry.d_km,
            ground_amsl_m: entry.ground_amsl_m.into(),
            clutter_m: entry.clutter_m.into(),
            zone: entry.zone,
        };
        let ends = Ends {
            mast_ground_amsl_m: self.shared.mast_ground_amsl_m,
            receiver: &receiver,
            centre_lat_deg: plan.centre_towards(path.towards).lat_deg(entry.d_km),
        };
        let tells_clearance = plan.request.clearance == Clearance::Told;
        let found = self.lone.receive(&mut self.inside, ends, tells_clearance);
        if let Some((reception, ratio)) = found {
            layers.put(entry, &reception, ratio);
        }
        found.is_some()
    }
}
