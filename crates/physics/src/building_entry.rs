//! Loss between the outside and the inside of a building (ITU-R P.2109).
//!
//! Editions -1 and -2 share these formulas; the validation data are of -1.

use crate::levels::{log10, parallel_loss_db};
use crate::normal::quantile;
use crate::path_loss::Warning;
use crate::ranges::outside;

/// Kind of building.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Building {
    /// Walls and windows without metal layers.
    Traditional,
    /// Metallised glass, foil-backed insulation.
    ThermallyEfficient,
}

/// Terms of the building entry loss.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BuildingEntry {
    /// Median loss of horizontal paths. \[dB\]
    pub l_h_db: f64,
    /// Addition for elevated paths. \[dB\]
    pub l_e_db: f64,
    /// Mean of the loss through the walls. \[dB\]
    pub mu1_db: f64,
    /// Standard deviation of the loss through the walls. \[dB\]
    pub sigma1_db: f64,
    /// Mean of the second distribution, of more uniform ways in. \[dB\]
    pub mu2_db: f64,
    /// Standard deviation of the second distribution. \[dB\]
    pub sigma2_db: f64,
    /// Loss not exceeded with the probability asked for. \[dB\]
    pub loss_db: f64,
}

/// Coefficients r to z of Table 1.
struct Coefficients {
    median: [f64; 3],
    sigma1: [f64; 2],
    mu2: [f64; 2],
    sigma2: [f64; 2],
}

const TRADITIONAL: Coefficients = Coefficients {
    median: [12.64, 3.72, 0.96],
    sigma1: [9.6, 2.0],
    mu2: [9.1, -3.0],
    sigma2: [4.5, -2.0],
};

const THERMALLY_EFFICIENT: Coefficients = Coefficients {
    median: [28.19, -3.00, 8.48],
    sigma1: [13.5, 3.8],
    mu2: [27.8, -2.9],
    sigma2: [9.4, -2.1],
};

/// Building entry loss not exceeded with a probability, over places inside and
/// buildings of the kind.
///
/// * `f_ghz`: 0.08 to 100. `elevation_deg`: of the path at the facade, −90 to
///   90. `probability_pct`: 0 to 100 exclusive.
///
/// Source: ITU-R P.2109-1, equations (1) to (10), Table 1.
#[must_use]
pub fn building_entry(
    building: Building,
    f_ghz: f64,
    elevation_deg: f64,
    probability_pct: f64,
) -> BuildingEntry {
    const C_DB: f64 = -3.0; // (4)
    let c = match building {
        Building::Traditional => &TRADITIONAL,
        Building::ThermallyEfficient => &THERMALLY_EFFICIENT,
    };
    let lf = log10(f_ghz);
    let line = |[a, b]: [f64; 2]| a + b * lf;
    let [r, s, t] = c.median;
    let l_h_db = r + s * lf + t * lf * lf; // (9)
    let l_e_db = 0.212 * elevation_deg.abs(); // (10)
    let (mu1_db, sigma1_db) = (l_h_db + l_e_db, line(c.sigma1)); // (5), (7)
    let (mu2_db, sigma2_db) = (line(c.mu2), line(c.sigma2)); // (6), (8)
    let deviate = quantile(probability_pct / 100.0);
    let a = deviate * sigma1_db + mu1_db; // (2)
    let b = deviate * sigma2_db + mu2_db; // (3)
    BuildingEntry {
        l_h_db,
        l_e_db,
        mu1_db,
        sigma1_db,
        mu2_db,
        sigma2_db,
        // (1) adds losses as if they were powers: the parallel sum of gains.
        loss_db: -parallel_loss_db([-a, -b, -C_DB]),
    }
}

/// Where the case leaves the stated range.
#[must_use]
pub fn building_entry_warnings(
    f_ghz: f64,
    elevation_deg: f64,
    probability_pct: f64,
) -> Vec<Warning> {
    outside([
        ("f_ghz", f_ghz, 0.08, 100.0),
        ("elevation_deg", elevation_deg, -90.0, 90.0),
        ("probability_pct", probability_pct, 0.0, 100.0),
    ])
}
