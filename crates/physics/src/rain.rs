//! Attenuation by rain, per kilometre.
//!
//! What rain does to a whole link is in [`crate::hop`].
//!
//! Source: ITU-R P.838-3 (03/2005).

use crate::levels::{log10, pow10};
use crate::path_loss::{Polarization, Warning};

/// Tilt of the electric field from the horizontal for circular polarization
/// and for a slanted pair. \[deg\]
pub const CIRCULAR_TILT_DEG: f64 = 45.0;

/// Coefficients of the power law `γ = k·R^α`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainLaw {
    /// Factor k. \[dB/km at 1 mm/h\]
    pub k: f64,
    /// Exponent α.
    pub alpha: f64,
}

impl RainLaw {
    /// Law of a level path, horizontal or vertical polarization.
    ///
    /// Source: ITU-R P.838-3, equations (2) and (3).
    #[must_use]
    pub fn level(f_ghz: f64, polarization: Polarization) -> Self {
        let fits = match polarization {
            Polarization::Horizontal => &HORIZONTAL,
            Polarization::Vertical => &VERTICAL,
        };
        Self {
            k: pow10(fits.log_k.at(f_ghz)),
            alpha: fits.alpha.at(f_ghz),
        }
    }

    /// Law of an inclined path and any linear or circular polarization.
    ///
    /// * `f_ghz`: frequency, 1 to 1000.
    /// * `elevation_deg`: inclination of the path, 0 to 90.
    /// * `tilt_deg`: tilt of the field from the horizontal: 0 horizontal,
    ///   90 vertical, [`CIRCULAR_TILT_DEG`] circular.
    ///
    /// Source: ITU-R P.838-3, equations (4) and (5).
    #[must_use]
    pub fn inclined(f_ghz: f64, elevation_deg: f64, tilt_deg: f64) -> Self {
        let h = Self::level(f_ghz, Polarization::Horizontal);
        let v = Self::level(f_ghz, Polarization::Vertical);
        let cos = elevation_deg.to_radians().cos();
        let share = cos * cos * (2.0 * tilt_deg.to_radians()).cos();
        let k = 0.5 * (h.k + v.k + (h.k - v.k) * share); // (4)
        let (ha, va) = (h.k * h.alpha, v.k * v.alpha);
        Self {
            k,
            alpha: (ha + va + (ha - va) * share) / (2.0 * k), // (5)
        }
    }

    /// Specific attenuation. \[dB/km\]
    ///
    /// * `rain_mm_per_h`: rain rate averaged over a minute, >= 0.
    ///
    /// Source: ITU-R P.838-3, equation (1).
    #[must_use]
    pub fn attenuation_db_per_km(&self, rain_mm_per_h: f64) -> f64 {
        self.k * rain_mm_per_h.powf(self.alpha)
    }

    /// Rain rate that makes a specific attenuation. \[mm/h\]
    ///
    /// * `attenuation_db_per_km`: >= 0.
    #[must_use]
    pub fn rain_mm_per_h(&self, attenuation_db_per_km: f64) -> f64 {
        (attenuation_db_per_km / self.k).powf(1.0 / self.alpha)
    }
}

/// Where the input leaves the stated range. Source: ITU-R P.838-3; the greatest
/// rain rate is common practice, no source.
#[must_use]
pub fn warnings(f_ghz: f64, rain_mm_per_h: f64) -> Vec<Warning> {
    Warning::outside(&[
        ("f_ghz", f_ghz, 1.0, 1000.0),
        ("rain_mm_per_h", rain_mm_per_h, 0.0, 300.0),
    ])
}

/// A sum of bell curves and a straight line over log10 of the frequency.
struct Fit<const N: usize> {
    /// Height, centre and width of each bell.
    bells: [[f64; 3]; N],
    slope: f64,
    offset: f64,
}

impl<const N: usize> Fit<N> {
    fn at(&self, f_ghz: f64) -> f64 {
        let x = log10(f_ghz);
        let bell = |[a, b, c]: &[f64; 3]| a * (-((x - b) / c).powi(2)).exp();
        self.bells.iter().map(bell).sum::<f64>() + self.slope * x + self.offset
    }
}

/// Fits of one polarization.
struct Fits {
    log_k: Fit<4>,
    alpha: Fit<5>,
}

/// Tables 1 and 3.
static HORIZONTAL: Fits = Fits {
    log_k: Fit {
        bells: [
            [-5.33980, -0.10008, 1.13098],
            [-0.35351, 1.26970, 0.45400],
            [-0.23789, 0.86036, 0.15354],
            [-0.94158, 0.64552, 0.16817],
        ],
        slope: -0.18961,
        offset: 0.71147,
    },
    alpha: Fit {
        bells: [
            [-0.14318, 1.82442, -0.55187],
            [0.29591, 0.77564, 0.19822],
            [0.32177, 0.63773, 0.13164],
            [-5.37610, -0.96230, 1.47828],
            [16.1721, -3.29980, 3.43990],
        ],
        slope: 0.67849,
        offset: -1.95537,
    },
};

/// Tables 2 and 4.
static VERTICAL: Fits = Fits {
    log_k: Fit {
        bells: [
            [-3.80595, 0.56934, 0.81061],
            [-3.44965, -0.22911, 0.51059],
            [-0.39902, 0.73042, 0.11899],
            [0.50167, 1.07319, 0.27195],
        ],
        slope: -0.16398,
        offset: 0.63297,
    },
    alpha: Fit {
        bells: [
            [-0.07771, 2.33840, -0.76284],
            [0.56727, 0.95545, 0.54039],
            [-0.20238, 1.14520, 0.26809],
            [-48.2991, 0.791669, 0.116226],
            [48.5833, 0.791459, 0.116479],
        ],
        slope: -0.053739,
        offset: 0.83433,
    },
};
