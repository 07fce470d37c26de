//! What ITU-R P.1812 and P.452 have in common: zones and climate, the analysis
//! of the bare profile, line of sight, diffraction, ducting, and how these
//! three are joined.
//!
//! Equation numbers are those of P.1812-8.

mod climate;
mod joint;
mod losses;
mod profile;
mod terms;

pub use climate::Climate;
pub use joint::Joint;
pub(crate) use joint::{Mechanisms, joint_db};
pub use losses::{Diffraction, Ducting, LineOfSight};
pub use profile::{Horizons, SmoothEarth};

use super::PathInput;
use crate::diffraction::DiffractionPath;

/// Wavelength with the constant the reference code of both Recommendations uses. \[m\]
#[must_use]
pub fn wavelength_m(f_ghz: f64) -> f64 {
    0.2998 / f_ghz
}

/// A case with the few quantities every step needs.
#[derive(Clone, Copy)]
pub(crate) struct Case<'a> {
    pub(crate) input: PathInput<'a>,
    /// Path length. \[km\]
    pub(crate) dt: f64,
    /// Antennas above mean sea level. \[m\]
    pub(crate) hts: f64,
    pub(crate) hrs: f64,
    pub(crate) lambda_m: f64,
    /// Clutter nearer than this to either end is left out. \[km\]
    bare_ends_km: f64,
}

impl<'a> Case<'a> {
    pub(crate) fn new(input: &PathInput<'a>, bare_ends_km: f64) -> Self {
        let profile = &input.profile;
        Self {
            input: *input,
            dt: profile.length_km(),
            hts: profile.tx_ground_amsl_m() + input.tx_agl_m,
            hrs: profile.rx_ground_amsl_m() + input.rx_agl_m,
            lambda_m: wavelength_m(input.f_ghz),
            bare_ends_km,
        }
    }

    /// The actual profile with its clutter, antennas at their true heights.
    fn diffraction_path(&self) -> DiffractionPath<'a> {
        DiffractionPath {
            d_km: self.input.profile.d_km(),
            h_m: self.input.profile.h_m(),
            clutter_m: self.input.profile.clutter_m(),
            bare_ends_km: self.bare_ends_km,
            tx_amsl_m: self.hts,
            rx_amsl_m: self.hrs,
            f_ghz: self.input.f_ghz,
            lambda_m: self.lambda_m,
        }
    }
}

/// The path before any loss is computed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathAnalysis {
    /// Path length. \[km\]
    pub d_km: f64,
    /// Latitude of the path centre. \[deg\]
    pub path_centre_lat_deg: f64,
    /// Wavelength. \[m\]
    pub lambda_m: f64,
    /// Transmitting antenna above mean sea level. \[m\]
    pub hts_m: f64,
    /// Receiving antenna above mean sea level. \[m\]
    pub hrs_m: f64,
    /// Zones, Earth radii, ducting incidence.
    pub climate: Climate,
    /// Horizons over bare ground.
    pub horizons: Horizons,
    /// Smooth surface and effective antenna heights.
    pub smooth_earth: SmoothEarth,
}

impl PathAnalysis {
    pub(crate) fn of(case: &Case<'_>) -> Self {
        let climate = Climate::of(case);
        let (horizons, over) = Horizons::of(case, &climate);
        Self {
            d_km: case.dt,
            path_centre_lat_deg: case.input.path_centre_lat_deg,
            lambda_m: case.lambda_m,
            hts_m: case.hts,
            hrs_m: case.hrs,
            climate,
            horizons,
            smooth_earth: SmoothEarth::of(case, &horizons, &over),
        }
    }
}
