//! Loss in the clutter around one end of a path (ITU-R P.2108-1): three models
//! for three situations, never two of them together and never on top of a
//! profile that already carries the clutter.
//!
//! [`height_gain_correction_db`] (section 3.1) is for a terminal below clutter of
//! known height, [`terrestrial`] (section 3.2) for terrestrial paths and
//! [`earth_space`] (section 3.3) for slant paths where nothing but the share of
//! locations is known. Each has its `…_warnings`.

use crate::clutter::ClutterClass;
use crate::diffraction::knife_edge_loss_db;
use crate::levels::{log10, pow10};
use crate::normal::quantile;
use crate::path_loss::Warning;
use crate::ranges::outside;

/// A terminal in clutter of known height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClutteredTerminal {
    /// Frequency, 0.03 to 3 stated. \[GHz\]
    pub f_ghz: f64,
    /// Antenna above ground, > 0. \[m\]
    pub antenna_agl_m: f64,
    /// Representative height R of the clutter. \[m\]
    pub clutter_m: f64,
    /// Width of the street, or distance to the clutter, > 0. \[m\]
    pub street_width_m: f64,
    /// Kind of clutter.
    pub class: ClutterClass,
}

impl ClutteredTerminal {
    /// Street width where none is known. \[m\]
    pub const DEFAULT_STREET_WIDTH_M: f64 = 27.0;

    /// Height R of a kind of clutter where none is known. \[m\]
    ///
    /// Not the heights to add to a profile, which are 0 over water and open
    /// land ([`ClutterClass::representative_height_m`]).
    ///
    /// Source: ITU-R P.2108-1, Table 3.
    #[must_use]
    pub fn default_clutter_m(class: ClutterClass) -> f64 {
        match class {
            ClutterClass::Water | ClutterClass::Open | ClutterClass::Suburban => 10.0,
            ClutterClass::Urban | ClutterClass::Trees => 15.0,
            ClutterClass::DenseUrban => 20.0,
        }
    }
}

/// Height-gain correction of one end: the loss to add to that of the path
/// that ends at the clutter's height. \[dB\]
///
/// 0 for an antenna at or above the clutter; a step of 0.003 dB is left there
/// by the approximation of the knife-edge loss.
///
/// Source: ITU-R P.2108-1, section 3.1, equations (1) and (2).
#[must_use]
pub fn height_gain_correction_db(terminal: &ClutteredTerminal) -> f64 {
    let (h, r) = (terminal.antenna_agl_m, terminal.clutter_m);
    if h >= r {
        return 0.0; // (1)
    }
    match terminal.class {
        ClutterClass::Water | ClutterClass::Open => {
            let k_h2 = 21.8 + 6.2 * log10(terminal.f_ghz); // (2f)
            -k_h2 * log10(h / r) // (2b)
        }
        _ => {
            let below_m = r - h; // (2d)
            let angle_deg = (below_m / terminal.street_width_m).atan().to_degrees(); // (2e)
            let k_nu = 0.342 * terminal.f_ghz.sqrt(); // (2g)
            knife_edge_loss_db(k_nu * (below_m * angle_deg).sqrt()) - 6.03 // (2a), (2c)
        }
    }
}

/// Where the terminal leaves the stated range of section 3.1.
#[must_use]
pub fn height_gain_warnings(terminal: &ClutteredTerminal) -> Vec<Warning> {
    outside([("f_ghz", terminal.f_ghz, 0.03, 3.0)])
}

/// Terms of the terrestrial statistical model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terrestrial {
    /// Median part that grows with frequency only. \[dB\]
    pub l_l_db: f64,
    /// Median part that grows with distance. \[dB\]
    pub l_s_db: f64,
    /// Standard deviation over locations. \[dB\]
    pub sigma_cb_db: f64,
    /// Loss not exceeded at the locations asked for. \[dB\]
    pub l_ctt_db: f64,
}

/// Distance from which the terrestrial loss no longer grows. \[km\]
const FULL_DISTANCE_KM: f64 = 2.0;

/// Clutter loss of one end of a terrestrial path whose terminal stands well
/// below the roofs of urban or suburban clutter.
///
/// * `f_ghz`: 0.5 to 67. `d_km`: path length, 0.25 and more; for both ends
///   together 1 and more. `location_pct`: 0 to 100 exclusive.
///
/// Source: ITU-R P.2108-1, section 3.2, equations (3) to (6).
#[must_use]
pub fn terrestrial(f_ghz: f64, d_km: f64, location_pct: f64) -> Terrestrial {
    terrestrial_at(f_ghz, d_km, -quantile(location_pct / 100.0))
}

/// As [`terrestrial`] for a given deviate exceeded by the share of locations,
/// for those who approximate the inverse normal distribution.
#[must_use]
pub fn terrestrial_at(f_ghz: f64, d_km: f64, deviate: f64) -> Terrestrial {
    let asked = terrestrial_uncapped(f_ghz, d_km, deviate);
    let full = terrestrial_uncapped(f_ghz, FULL_DISTANCE_KM, deviate);
    Terrestrial {
        l_ctt_db: asked.l_ctt_db.min(full.l_ctt_db), // (6)
        ..asked
    }
}

fn terrestrial_uncapped(f_ghz: f64, d_km: f64, deviate: f64) -> Terrestrial {
    const SIGMA_L_DB: f64 = 4.0; // (4b)
    const SIGMA_S_DB: f64 = 6.0; // (5b)
    let l_l_db = -2.0 * log10(pow10(-5.0 * log10(f_ghz) - 12.5) + pow10(-16.5)); // (4a)
    let l_s_db = 32.98 + 23.9 * log10(d_km) + 3.0 * log10(f_ghz); // (5a)
    let (w_l, w_s) = (pow10(-0.2 * l_l_db), pow10(-0.2 * l_s_db));
    let variance = (SIGMA_L_DB.powi(2) * w_l + SIGMA_S_DB.powi(2) * w_s) / (w_l + w_s);
    let sigma_cb_db = variance.sqrt(); // (3b)
    Terrestrial {
        l_l_db,
        l_s_db,
        sigma_cb_db,
        l_ctt_db: -5.0 * log10(w_l + w_s) - sigma_cb_db * deviate, // (3a)
    }
}

/// Where the case leaves the stated range of section 3.2.
#[must_use]
pub fn terrestrial_warnings(f_ghz: f64, d_km: f64, location_pct: f64) -> Vec<Warning> {
    outside([
        ("f_ghz", f_ghz, 0.5, 67.0),
        ("d_km", d_km, 0.25, f64::INFINITY),
        ("location_pct", location_pct, 0.0, 100.0),
    ])
}

/// Terms of the slant-path statistical model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EarthSpace {
    /// Frequency factor K1.
    pub k1: f64,
    /// Part by the elevation of the path. \[dB\]
    pub elevation_db: f64,
    /// Loss not exceeded at the locations asked for; may be slightly negative. \[dB\]
    pub l_ces_db: f64,
}

/// Clutter loss of the ground end of a slant path.
///
/// * `f_ghz`: 10 to 100. `elevation_deg`: at the ground end, 0 to 90.
///   `location_pct`: 0 to 100 exclusive.
///
/// Source: ITU-R P.2108-1, section 3.3, equation (7).
#[must_use]
pub fn earth_space(f_ghz: f64, elevation_deg: f64, location_pct: f64) -> EarthSpace {
    earth_space_at(
        f_ghz,
        elevation_deg,
        location_pct,
        -quantile(location_pct / 100.0),
    )
}

/// As [`earth_space`] for a given deviate exceeded by the share of locations.
#[must_use]
pub fn earth_space_at(
    f_ghz: f64,
    elevation_deg: f64,
    location_pct: f64,
    deviate: f64,
) -> EarthSpace {
    const A1: f64 = 0.05;
    let k1 = 93.0 * f_ghz.powf(0.175);
    let share = 1.0 - elevation_deg / 90.0;
    let angle_rad = A1 * share + std::f64::consts::PI * elevation_deg / 180.0;
    let exponent = 0.5 * share;
    let base = -k1 * (-location_pct / 100.0).ln_1p() / angle_rad.tan();
    let elevation_db = base.powf(exponent);
    EarthSpace {
        k1,
        elevation_db,
        l_ces_db: elevation_db - 1.0 - 0.6 * deviate, // (7)
    }
}

/// Where the case leaves the stated range of section 3.3.
#[must_use]
pub fn earth_space_warnings(f_ghz: f64, elevation_deg: f64, location_pct: f64) -> Vec<Warning> {
    outside([
        ("f_ghz", f_ghz, 10.0, 100.0),
        ("elevation_deg", elevation_deg, 0.0, 90.0),
        ("location_pct", location_pct, 0.0, 100.0),
    ])
}
