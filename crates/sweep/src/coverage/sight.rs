//! Whether bare ground hides a cell from the mast, and by how much.

use std::sync::atomic::{AtomicU32, Ordering};

use rayon::prelude::*;

use super::cells::{Entry, SectorCells};
use super::{Bearings, CoverageGrid, LEAST_SAMPLES, Plan, SweepError, in_pool};
use crate::Watch;
use crate::ground::{Ground, Samples};
use crate::hull::Hull;
use crate::radial::{Radial, last_inside};

/// What stands between the mast and every cell.
#[derive(Debug, Clone)]
pub struct Sight {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Least height of the straight ray over the bare ground between the ends,
    /// negative when blocked; NaN where it is not known. \[m\]
    pub least_clearance_m: Vec<f32>,
    /// Cells with an answer.
    pub answered_cells: usize,
}

impl CoverageGrid<'_> {
    /// The least clearance of the straight ray over bare ground, to every
    /// cell. Of the conditions only the two antenna heights count.
    ///
    /// With [`Bearings::OwnEnds`] radials are as with [`Bearings::Shared`].
    ///
    /// * `effective_radius_km`: of the Earth below the ray, > 0; infinite for
    ///   a flat one.
    ///
    /// # Errors
    /// [`SweepError`].
    pub fn sight(
        &self,
        ground: Ground<'_>,
        effective_radius_km: f64,
        watch: &dyn Watch,
    ) -> Result<Sight, SweepError> {
        let ground = Ground {
            cover: None,
            canopy: None,
            ..ground
        };
        in_pool(self.threads, || {
            let plan = Plan {
                has_own_ends: false,
                ..Plan::new(self, ground)?
            };
            let cells = self.target.width * self.target.height;
            let layer: Vec<AtomicU32> = (0..cells)
                .map(|_| AtomicU32::new(f32::NAN.to_bits()))
                .collect();
            let sectors: Vec<usize> = (0..plan.sectors).collect();
            sectors.into_par_iter().try_for_each_init(
                || Lines::new(&plan, 500.0 / effective_radius_km),
                |lines, sector| {
                    if watch.interrupted() {
                        return Err(SweepError::Interrupted);
                    }
                    watch.advance(lines.sector(sector, &layer));
                    Ok(())
                },
            )?;
            let bits = layer.into_iter().map(AtomicU32::into_inner);
            let least_clearance_m: Vec<f32> = bits.map(f32::from_bits).collect();
            let is_known = |c: &&f32| !c.is_nan();
            Ok(Sight {
                width: self.target.width,
                height: self.target.height,
                answered_cells: least_clearance_m.iter().filter(is_known).count(),
                least_clearance_m,
            })
        })
    }
}

/// Draws lines of sight; keeps the buffers between sectors.
struct Lines<'a> {
    plan: &'a Plan<'a>,
    /// 500 over the effective radius. \[m/km²\]
    c: f64,
    per_distance: Vec<f64>,
    radial: Radial,
    samples: Samples,
    hull: Hull,
    cells: SectorCells,
    entries: Vec<Entry>,
}

impl<'a> Lines<'a> {
    fn new(plan: &'a Plan<'a>, c: f64) -> Self {
        let per_distance = |i: usize| 1.0 / (i as f64 * plan.step_km);
        Self {
            plan,
            c,
            per_distance: (0..plan.samples).map(per_distance).collect(),
            radial: Radial::default(),
            samples: Samples::default(),
            hull: Hull::default(),
            cells: SectorCells::default(),
            entries: Vec::new(),
        }
    }

    fn sector(&mut self, sector: usize, layer: &[AtomicU32]) -> usize {
        self.cells.sector(self.plan, sector, &mut self.entries);
        let entries = std::mem::take(&mut self.entries);
        let own_only = self.plan.request.bearings == Bearings::Own;
        let step_km = self.plan.step_km;
        let is_near = |e: &Entry| own_only || last_inside(e.d_km, step_km) < LEAST_SAMPLES;
        for group in entries.chunk_by(|a, b| a.radial_in_sector == b.radial_in_sector) {
            let near = group.partition_point(is_near);
            for entry in &group[..near] {
                self.own(entry, layer);
            }
            self.shared(sector, &group[near..], layer);
        }
        self.entries = entries;
        self.entries.len()
    }

    /// A line to a cell's own centre.
    fn own(&mut self, entry: &Entry, layer: &[AtomicU32]) {
        if entry.d_km <= 0.0 || entry.ground_amsl_m.is_nan() {
            return;
        }
        let steps = ((entry.d_km / self.plan.step_km - 1e-9).ceil() as usize).max(2);
        self.radial.step_km = entry.d_km / steps as f64;
        self.trace(self.plan.own_azimuth_rad(entry), steps);
        let ends = self.ends(entry);
        let h = &self.radial.ground_amsl_m;
        if h.iter().any(|h| h.is_nan()) {
            return;
        }
        let over = |i: usize| self.over_ray(i, ends, entry.d_km);
        let most = (1..h.len()).map(over).fold(f64::NEG_INFINITY, f64::max);
        put(layer, entry, -most);
    }

    /// Lines along a shared radial: the ground that stands highest over a ray
    /// is a vertex of the hull of what lies before the cell.
    fn shared(&mut self, sector: usize, cells: &[Entry], layer: &[AtomicU32]) {
        let Some(first) = cells.first() else {
            return;
        };
        let step_km = self.plan.step_km;
        let farthest = cells.iter().map(|e| e.d_km).fold(0.0, f64::max);
        let samples = (last_inside(farthest, step_km) + 1).min(self.plan.samples);
        self.radial.step_km = step_km;
        self.trace(
            self.plan.azimuth_rad(
                sector * self.plan.radials_per_sector + usize::from(first.radial_in_sector),
            ),
            samples,
        );
        self.hull.clear(samples);
        let known = self.radial.known();
        let mut pushed = 0;
        for entry in cells {
            let last = last_inside(entry.d_km, step_km);
            if last >= known {
                break;
            }
            for i in pushed + 1..=last {
                let d = self.radial.d_km(i);
                let g = self.radial.ground_amsl_m[i] - self.c * d * d;
                self.hull.push(i, d, g, &self.per_distance);
            }
            pushed = last;
            if entry.ground_amsl_m.is_nan() {
                continue;
            }
            let ends = self.ends(entry);
            let line = (ends[1] - ends[0]) / entry.d_km - self.c * entry.d_km;
            let i = self.hull.highest_over(line);
            put(layer, entry, -self.over_ray(i, ends, entry.d_km));
        }
    }

    fn trace(&mut self, azimuth_rad: f64, samples: usize) {
        let parts = (&mut self.radial, &mut self.samples);
        self.plan.surroundings.trace(azimuth_rad, 0..samples, parts);
        if let (Some(mast), Some(h)) = (
            self.radial.ground_amsl_m.first_mut(),
            self.plan.request.mast_ground_amsl_m,
        ) {
            *mast = h;
        }
    }

    /// Antennas above sea level.
    fn ends(&self, entry: &Entry) -> [f64; 2] {
        let conditions = &self.plan.request.conditions;
        [
            self.radial.ground_amsl_m[0] + conditions.mast_agl_m,
            f64::from(entry.ground_amsl_m) + conditions.receiver_agl_m,
        ]
    }

    /// Height of a sample over the ray, the Earth's bulge included.
    fn over_ray(&self, i: usize, [from_m, to_m]: [f64; 2], dt: f64) -> f64 {
        let d = self.radial.d_km(i);
        let ray_m = from_m + (to_m - from_m) / dt * d;
        self.radial.ground_amsl_m[i] + self.c * d * (dt - d) - ray_m
    }
}

fn put(layer: &[AtomicU32], entry: &Entry, clearance_m: f64) {
    let bits = (clearance_m as f32).to_bits();
    layer[entry.cell as usize].store(bits, Ordering::Relaxed);
}
