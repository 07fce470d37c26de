//! The last samples of a cell's path, on the cell's own bearing.

use physics::path_loss::Zone;

use super::Plan;
use super::cells::Entry;
use super::own_bearing::{EndPaths, OwnBearings, steps};
use crate::ground::Samples;
use crate::radial::{OWN_SAMPLES, OwnEnd, Radial, last_inside, own_km};

/// Last sample of the radial on the path to a cell that has an own end; 0 where
/// the path is too short for one.
#[inline]
pub(super) fn last_shared(d_km: f64, step_km: f64) -> usize {
    let steps = steps(d_km, step_km);
    if steps <= OWN_SAMPLES {
        return 0;
    }
    last_inside(own_km(d_km, d_km / steps as f64, 0), step_km)
}

/// Traces own ends; keeps the buffers between them.
pub(super) struct OwnEnds<'a> {
    shared: &'a OwnBearings<'a>,
    paths: EndPaths,
    own: Vec<OwnEnd>,
    is_done: Vec<bool>,
    radial: Radial,
    samples: Samples,
}

impl<'a> OwnEnds<'a> {
    pub(super) fn new(shared: &'a OwnBearings<'a>) -> Self {
        Self {
            shared,
            paths: EndPaths::default(),
            own: Vec::new(),
            is_done: Vec::new(),
            radial: Radial::default(),
            samples: Samples::default(),
        }
    }

    /// The own ends of some cells.
    pub(super) fn trace(&mut self, plan: &Plan<'_>, cells: &[Entry]) -> &[OwnEnd] {
        self.own.resize(cells.len(), OwnEnd::default());
        self.paths.clear();
        for (entry, own) in cells.iter().zip(&mut self.own) {
            let steps = steps(entry.d_km, plan.step_km) as f64;
            own.step_km = entry.d_km / steps;
            own.zone = [Zone::Inland; OWN_SAMPLES];
            let [east, north] = plan.place_km(entry);
            self.paths.east.push(east);
            self.paths.north.push(north);
            self.paths.steps.push(steps);
        }
        self.shared
            .ends(&mut self.paths, &mut self.own, &mut self.is_done);
        for (i, entry) in cells.iter().enumerate() {
            if !self.is_done[i] {
                self.carefully(plan, entry, i);
            }
        }
        &self.own
    }

    /// By the general sampler, which knows borders, unknown ground, zones and
    /// overlapping rasters.
    fn carefully(&mut self, plan: &Plan<'_>, entry: &Entry, i: usize) {
        let steps = steps(entry.d_km, plan.step_km);
        let own = &mut self.own[i];
        self.radial.step_km = own.step_km;
        let parts = (&mut self.radial, &mut self.samples);
        let azimuth_rad = plan.own_azimuth_rad(entry);
        plan.surroundings
            .trace(azimuth_rad, steps - OWN_SAMPLES..steps, parts);
        own.ground_amsl_m
            .copy_from_slice(&self.radial.ground_amsl_m);
        own.clutter_m.copy_from_slice(&self.radial.clutter_m);
        own.zone.copy_from_slice(&self.radial.zone);
    }
}
