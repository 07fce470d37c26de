//! The layers of a sweep while several threads fill them.

use std::sync::atomic::{AtomicU32, Ordering};

use physics::clutter::{location_height_factor, location_sigma_db};

use super::cells::Entry;
use super::{Coverage, Target};
use crate::{Conditions, Reception};

/// Every cell belongs to one radial and is written once, by whichever thread
/// has that radial; the values are single-precision numbers as their bits.
pub(super) struct Layers {
    loss_db: Vec<AtomicU32>,
    mast_elevation_deg: Vec<AtomicU32>,
    location_sigma_db: Vec<AtomicU32>,
    clearance_ratio: Vec<AtomicU32>,
    /// Standard deviation over locations at clutter height.
    sigma_db: f64,
    receiver_agl_m: f64,
}

impl Layers {
    pub(super) fn new(cells: usize, conditions: &Conditions) -> Self {
        let layer = || {
            (0..cells)
                .map(|_| AtomicU32::new(f32::NAN.to_bits()))
                .collect()
        };
        Self {
            loss_db: layer(),
            mast_elevation_deg: layer(),
            location_sigma_db: layer(),
            clearance_ratio: layer(),
            sigma_db: location_sigma_db(conditions.f_ghz(), conditions.location_area_m),
            receiver_agl_m: conditions.receiver_agl_m,
        }
    }

    /// Writes what is known of a cell; without a ratio only whether there is sight.
    #[inline]
    pub(super) fn put(&self, entry: &Entry, reception: &Reception, ratio: Option<f64>) {
        let in_sight = if reception.line_of_sight { 1.0 } else { -1.0 };
        let clutter_m = f64::from(entry.clutter_m);
        let sigma_db = self.sigma_db * location_height_factor(self.receiver_agl_m, clutter_m);
        let cell = entry.cell as usize;
        let write = |layer: &[AtomicU32], value: f64| {
            layer[cell].store((value as f32).to_bits(), Ordering::Relaxed);
        };
        write(&self.loss_db, reception.loss_db);
        write(&self.mast_elevation_deg, reception.mast_elevation_deg);
        write(&self.location_sigma_db, sigma_db);
        write(&self.clearance_ratio, ratio.unwrap_or(in_sight));
    }

    pub(super) fn finish(self, target: &Target, radials: usize) -> Coverage {
        let layer = |cells: Vec<AtomicU32>| {
            let bits = cells.into_iter().map(AtomicU32::into_inner);
            bits.map(f32::from_bits).collect::<Vec<f32>>()
        };
        let loss_db = layer(self.loss_db);
        Coverage {
            width: target.width,
            height: target.height,
            answered_cells: loss_db.iter().filter(|l| !l.is_nan()).count(),
            loss_db,
            mast_elevation_deg: layer(self.mast_elevation_deg),
            location_sigma_db: layer(self.location_sigma_db),
            clearance_ratio: layer(self.clearance_ratio),
            radials,
        }
    }
}
