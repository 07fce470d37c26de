//! The layers of a sweep while several threads fill them.

use std::sync::atomic::{AtomicU32, Ordering};

use physics::clutter::{location_height_factor, location_sigma_db};

use super::cells::Entry;
use super::{Coverage, Target};
use crate::{Conditions, Reception};

/// Every cell belongs to one radial and is written once, by whichever thread
/// has that radial; the values are single-precision numbers as their bits.
pub(super) struct Layers {
    /// Loss, elevation, deviation and clearance of each cell.
    layers: [Vec<AtomicU32>; 4],
    /// Standard deviation over locations at clutter height.
    sigma_db: f64,
    receiver_agl_m: f64,
}

impl Layers {
    pub(super) fn new(cells: usize, conditions: &Conditions) -> Self {
        let unknown = || AtomicU32::new(f32::NAN.to_bits());
        let layer = |_| std::iter::repeat_with(unknown).take(cells).collect();
        Self {
            layers: std::array::from_fn(layer),
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
        for (layer, value) in self.layers.iter().zip(values) {
            layer[entry.cell as usize].store((value as f32).to_bits(), Ordering::Relaxed);
        }
    }

    pub(super) fn finish(self, target: &Target, radials: usize) -> Coverage {
        let numbers = |layer: Vec<AtomicU32>| -> Vec<f32> {
            let bits = layer.into_iter().map(AtomicU32::into_inner);
            bits.map(f32::from_bits).collect()
        };
        let layers = self.layers.map(numbers);
        let [
            loss_db,
            mast_elevation_deg,
            location_sigma_db,
            clearance_ratio,
        ] = layers;
        Coverage {
            width: target.width,
            height: target.height,
            answered_cells: loss_db.iter().filter(|l| !l.is_nan()).count(),
            loss_db,
            mast_elevation_deg,
            location_sigma_db,
            clearance_ratio,
            radials,
        }
    }
}
