//! The layers of a sweep while several threads fill them.

use std::sync::atomic::{AtomicU32, Ordering};

use physics::clutter::{location_height_factor, location_sigma_db};

use super::cells::Entry;
use super::{Coverage, Target};
use crate::{Conditions, Reception};

/// Every cell belongs to one radial and is written once, by whichever thread
/// has that radial; the values are single-precision numbers as their bits.
pub(super) struct Layers {
    /// Loss, elevation, deviation and clearance of each cell, side by side: a
    /// cell is one line of the cache, not four.
    cells: Vec<[AtomicU32; 4]>,
    /// Standard deviation over locations at clutter height.
    sigma_db: f64,
    receiver_agl_m: f64,
}

impl Layers {
    pub(super) fn new(cells: usize, conditions: &Conditions) -> Self {
        let unknown = || std::array::from_fn(|_| AtomicU32::new(f32::NAN.to_bits()));
        Self {
            cells: std::iter::repeat_with(unknown).take(cells).collect(),
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
        let values = [
            reception.loss_db,
            reception.mast_elevation_deg,
            sigma_db,
            ratio.unwrap_or(in_sight),
        ];
        for (layer, value) in self.cells[entry.cell as usize].iter().zip(values) {
            layer.store((value as f32).to_bits(), Ordering::Relaxed);
        }
    }

    pub(super) fn finish(self, target: &Target, radials: usize) -> Coverage {
        let layer = |n: usize| -> Vec<f32> {
            let bits = self.cells.iter().map(|c| c[n].load(Ordering::Relaxed));
            bits.map(f32::from_bits).collect()
        };
        let loss_db = layer(0);
        Coverage {
            width: target.width,
            height: target.height,
            answered_cells: loss_db.iter().filter(|l| !l.is_nan()).count(),
            loss_db,
            mast_elevation_deg: layer(1),
            location_sigma_db: layer(2),
            clearance_ratio: layer(3),
            radials,
        }
    }
}
