//! Dish masks of ITU-R F.699-8 and F.1245-3.

use super::aperture::gain_wavelengths;
use super::{PatternError, within};

/// Which side lobes a dish mask describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DishMask {
    /// ITU-R F.699-8: envelope of side-lobe peaks, for one interferer.
    F699Peak,
    /// ITU-R F.1245-3: average side lobes, for many interferers.
    F1245Average,
}

/// A dish mask with its constants. `psi` is the off-axis angle in degrees.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedDish {
    main_factor: f64,
    main_until: f64,
    shelf_until: f64,
    shelf_dbi: f64,
    slope_offset_dbi: f64,
    slope_until: f64,
    far_dbi: f64,
}

/// A row of the masks: where the shelf ends, the near side-lobe law
/// `offset − 25·log ψ`, where that ends, and the far-out level.
struct Row {
    shelf_until: f64,
    slope_offset_dbi: f64,
    slope_until: f64,
    far_dbi: f64,
}

impl PreparedDish {
    /// `sizing`: peak gain and, if known, diameter over wavelength.
    pub(super) fn new(
        mask: DishMask,
        f_ghz: f64,
        sizing: (f64, Option<f64>),
    ) -> Result<Self, PatternError> {
        let (gain_dbi, diameter_wavelengths) = sizing;
        within("f_ghz", f_ghz, 0.1, 86.0)?;
        let d = diameter_wavelengths.unwrap_or_else(|| gain_wavelengths(gain_dbi));
        within("diameter_wavelengths", d, 0.63, 1e5)?;
        let shelf_dbi = 2.0 + 15.0 * d.log10();
        let psi_m = 20.0 / d * (gain_dbi - shelf_dbi).max(0.0).sqrt();
        let row = match mask {
            DishMask::F699Peak => f699_row(f_ghz, d),
            DishMask::F1245Average => f1245_row(f_ghz, d, psi_m),
        };
        // A gain below the first side lobe is inconsistent with the diameter:
        // the main lobe is then kept up to ψr.
        let main_until = if gain_dbi < shelf_dbi {
            row.shelf_until
        } else {
            psi_m
        };
        Ok(Self {
            main_factor: 2.5e-3 * d * d,
            main_until,
            // Small antennas have ψm beyond ψr: no shelf.
            shelf_until: row.shelf_until.max(main_until),
            shelf_dbi,
            slope_offset_dbi: row.slope_offset_dbi,
            slope_until: row.slope_until,
            far_dbi: row.far_dbi,
        })
    }

    /// Loss below the peak at an off-axis angle of 0 to 180 degrees. \[dB\]
    ///
    /// A side-lobe level above the peak gain, which the mask of a very small
    /// dish can give, counts as the peak gain.
    pub(super) fn loss_db(&self, gain_dbi: f64, psi_deg: f64) -> f64 {
        if psi_deg < self.main_until {
            return self.main_factor * psi_deg * psi_deg;
        }
        let level_dbi = if psi_deg < self.shelf_until {
            self.shelf_dbi
        } else if psi_deg < self.slope_until {
            self.slope_offset_dbi - 25.0 * psi_deg.log10()
        } else {
            self.far_dbi
        };
        (gain_dbi - level_dbi).max(0.0)
    }
}

/// Rows of F.699-8, recommends 2.
fn f699_row(f_ghz: f64, d: f64) -> Row {
    let log_d = d.log10();
    let large = d > 100.0;
    let (slope_until, far_dbi) = if f_ghz < 1.0 {
        (144.5 * d.powf(-0.2), -2.0 - 5.0 * log_d)
    } else {
        let until = if f_ghz > 70.0 { 120.0 } else { 48.0 };
        let far = match (large, f_ghz > 70.0) {
            (true, false) => -10.0,
            (true, true) => -20.0,
            (false, false) => 10.0 - 10.0 * log_d,
            (false, true) => -10.0 * log_d,
        };
        (until, far)
    };
    let (shelf_until, slope_offset_dbi) = if large && f_ghz >= 1.0 {
        (15.85 * d.powf(-0.6), 32.0)
    } else {
        (100.0 / d, 52.0 - 10.0 * log_d)
    };
    Row {
        shelf_until,
        slope_offset_dbi,
        slope_until,
        far_dbi,
    }
}

/// Rows of F.1245-3, recommends 2; below 1 GHz the 1–70 GHz row is used.
fn f1245_row(f_ghz: f64, d: f64, psi_m: f64) -> Row {
    let log_d = d.log10();
    let high = f_ghz > 70.0;
    let slope_until = if high { 120.0 } else { 48.0 };
    let extra_db = if high { 10.0 } else { 0.0 };
    if d > 100.0 {
        let shelf_until = psi_m.max(12.02 * d.powf(-0.6));
        Row {
            shelf_until,
            slope_offset_dbi: 29.0,
            slope_until,
            far_dbi: -13.0 - extra_db,
        }
    } else {
        Row {
            shelf_until: psi_m,
            slope_offset_dbi: 39.0 - 5.0 * log_d,
            slope_until,
            far_dbi: -3.0 - 5.0 * log_d - extra_db,
        }
    }
}
