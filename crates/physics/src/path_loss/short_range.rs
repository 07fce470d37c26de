//! Outdoor short-range paths by kind of surroundings (ITU-R P.1411-11): the
//! site-general median of three situations, without a profile.
//!
//! [`SiteGeneral`] has the loss both antennas below the roofs (section 4.1.1)
//! and one of them above (section 4.2.1), [`low_height`] the loss between
//! terminals near street level at UHF (section 4.3.1).

use super::Warning;
use crate::levels::log10;
use crate::normal::quantile;
use crate::ranges::outside;

/// Surroundings of the site-general model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SiteGeneral {
    /// Below the roofs, in sight: urban and suburban.
    BelowRoofLos,
    /// Below the roofs, out of sight: urban with high buildings.
    BelowRoofNlosHighRise,
    /// Below the roofs, out of sight: urban with low buildings, suburban.
    BelowRoofNlosLowRise,
    /// Below the roofs, out of sight: residential.
    BelowRoofNlosResidential,
    /// One end above the roofs, in sight: urban and suburban.
    AboveRoofLos,
    /// One end above the roofs, out of sight: urban with high buildings.
    AboveRoofNlosHighRise,
}

/// One row of the tables of coefficients.
struct Coefficients {
    /// α, β, γ and σ. \[dB\]
    values: [f64; 4],
    f_ghz: (f64, f64),
    d_m: (f64, f64),
}

impl SiteGeneral {
    /// Every kind of surroundings.
    pub const ALL: [Self; 6] = [
        Self::BelowRoofLos,
        Self::BelowRoofNlosHighRise,
        Self::BelowRoofNlosLowRise,
        Self::BelowRoofNlosResidential,
        Self::AboveRoofLos,
        Self::AboveRoofNlosHighRise,
    ];

    /// Tables 4 and 8 of the Recommendation; ranges from memory of the text,
    /// coefficients confirmed by the reference data.
    fn coefficients(self) -> Coefficients {
        let (values, f_ghz, d_m) = match self {
            Self::BelowRoofLos => ([2.12, 29.2, 2.11, 5.06], (0.8, 73.0), (5.0, 660.0)),
            Self::BelowRoofNlosHighRise => ([4.00, 10.2, 2.36, 7.60], (0.8, 38.0), (30.0, 715.0)),
            Self::BelowRoofNlosLowRise => ([5.06, -4.68, 2.02, 9.33], (10.0, 73.0), (30.0, 250.0)),
            Self::BelowRoofNlosResidential => {
                ([3.01, 18.8, 2.07, 3.07], (0.8, 73.0), (30.0, 170.0))
            }
            Self::AboveRoofLos => ([2.29, 28.6, 1.96, 3.48], (2.2, 73.0), (55.0, 1200.0)),
            Self::AboveRoofNlosHighRise => {
                ([4.39, -6.27, 2.30, 6.89], (2.2, 66.5), (260.0, 1200.0))
            }
        };
        Coefficients { values, f_ghz, d_m }
    }

    /// Median basic transmission loss. \[dB\]
    ///
    /// `L = 10·α·log10(d) + β + 10·γ·log10(f)`
    ///
    /// * `f_ghz`: > 0. `d_m`: distance between the antennas, > 0.
    ///
    /// Source: ITU-R P.1411-11, sections 4.1.1 and 4.2.1, equation (1).
    #[must_use]
    pub fn median_loss_db(self, f_ghz: f64, d_m: f64) -> f64 {
        let [alpha, beta, gamma, _] = self.coefficients().values;
        10.0 * alpha * log10(d_m) + beta + 10.0 * gamma * log10(f_ghz)
    }

    /// Standard deviation of the loss over places. \[dB\]
    #[must_use]
    pub fn sigma_db(self) -> f64 {
        self.coefficients().values[3]
    }

    /// Loss not exceeded at a percentage of places, of a normal distribution. \[dB\]
    ///
    /// * `location_pct`: 0 to 100 exclusive.
    #[must_use]
    pub fn loss_db(self, f_ghz: f64, d_m: f64, location_pct: f64) -> f64 {
        self.median_loss_db(f_ghz, d_m) + self.sigma_db() * quantile(location_pct / 100.0)
    }

    /// Where the case leaves what was measured.
    #[must_use]
    pub fn warnings(self, f_ghz: f64, d_m: f64) -> Vec<Warning> {
        let c = self.coefficients();
        outside([
            ("f_ghz", f_ghz, c.f_ghz.0, c.f_ghz.1),
            ("d_m", d_m, c.d_m.0, c.d_m.1),
        ])
    }
}

/// Surroundings of two terminals near street level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StreetLevel {
    /// Suburban.
    Suburban,
    /// Urban.
    Urban,
    /// Dense urban with high buildings.
    DenseUrbanHighRise,
}

impl StreetLevel {
    /// L_urban. \[dB\]
    fn extra_db(self) -> f64 {
        match self {
            Self::Suburban => 0.0,
            Self::Urban => 6.8,
            Self::DenseUrbanHighRise => 2.3,
        }
    }
}

/// Terms of the loss between terminals near street level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowHeight {
    /// Loss in sight, at the distance asked for. \[dB\]
    pub l_los_db: f64,
    /// Loss out of sight, at the distance asked for. \[dB\]
    pub l_nlos_db: f64,
    /// Distance up to which the percentage of places is in sight. \[m\]
    pub d_los_m: f64,
    /// Loss not exceeded at the percentage of places. \[dB\]
    pub loss_db: f64,
}

/// Stretch over which sight is lost. \[m\]
const TRANSITION_M: f64 = 20.0;

/// Standard deviation in sight and out of sight. \[dB\]
const SIGMA_DB: f64 = 7.0;

/// Loss between terminals 1.9 to 3 m above the street.
///
/// * `f_mhz`: 300 to 3000. `d_m`: up to 3000, > 0. `location_pct`: 0 to 100 exclusive.
///
/// Source: ITU-R P.1411-11, section 4.3.1, steps 1 to 8 (from memory of the
/// text, confirmed by the reference data).
#[must_use]
pub fn low_height(around: StreetLevel, f_mhz: f64, d_m: f64, location_pct: f64) -> LowHeight {
    let p = location_pct / 100.0;
    let rayleigh = (-2.0 * (-p).ln_1p()).sqrt();
    let spread_los_db = 1.5624 * SIGMA_DB * (rayleigh - 1.1774);
    let spread_nlos_db = SIGMA_DB * quantile(p);
    let los = |d: f64| 32.45 + 20.0 * log10(f_mhz) + 20.0 * log10(d / 1e3) + spread_los_db;
    let nlos = |d: f64| {
        9.5 + 45.0 * log10(f_mhz) + 40.0 * log10(d / 1e3) + around.extra_db() + spread_nlos_db
    };
    let lp = log10(p);
    let d_los_m = if p < 0.45 {
        212.0 * lp * lp - 64.0 * lp
    } else {
        79.2 - 70.0 * p
    };
    let loss_db = if d_m < d_los_m {
        los(d_m)
    } else if d_m > d_los_m + TRANSITION_M {
        nlos(d_m)
    } else {
        let (near, far) = (los(d_los_m), nlos(d_los_m + TRANSITION_M));
        near + (far - near) * (d_m - d_los_m) / TRANSITION_M
    };
    LowHeight {
        l_los_db: los(d_m),
        l_nlos_db: nlos(d_m),
        d_los_m,
        loss_db,
    }
}

/// Where the case leaves the stated range of section 4.3.1.
#[must_use]
pub fn low_height_warnings(f_mhz: f64, d_m: f64, location_pct: f64) -> Vec<Warning> {
    outside([
        ("f_mhz", f_mhz, 300.0, 3000.0),
        ("d_m", d_m, 0.0, 3000.0),
        ("location_pct", location_pct, 0.0, 100.0),
    ])
}
