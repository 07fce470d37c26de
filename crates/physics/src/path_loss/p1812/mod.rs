//! ITU-R P.1812-8: path-specific loss for point-to-area services, 30 MHz to
//! 6 GHz.
//!
//! The order of the Recommendation is the order of [`predict`]: zones and
//! climate, the bare profile, line of sight, diffraction, troposcatter,
//! ducting, and their combination. Equation numbers are those of the
//! Recommendation. Left out: building entry loss (P.2109; add it to the
//! result) and gaseous absorption (negligible below 6 GHz).

mod climate;
mod combination;
mod losses;
mod profile;
mod terms;

pub use climate::Climate;
pub use combination::Combination;
pub use losses::{Diffraction, Ducting, LineOfSight, Troposcatter};
pub use profile::{Horizons, SmoothEarth};
pub use terms::Terms;

use super::{PathInput, Warning};
use crate::diffraction::DiffractionPath;

/// Wavelength with the constant the Recommendation's reference code uses. \[m\]
#[must_use]
pub fn wavelength_m(f_ghz: f64) -> f64 {
    0.2998 / f_ghz
}

/// A case with the few quantities every step needs.
#[derive(Clone, Copy)]
struct Case<'a> {
    input: PathInput<'a>,
    /// Path length. \[km\]
    dt: f64,
    /// Antennas above mean sea level. \[m\]
    hts: f64,
    hrs: f64,
    lambda_m: f64,
}

impl<'a> Case<'a> {
    fn new(input: &PathInput<'a>) -> Self {
        let profile = &input.profile;
        Self {
            input: *input,
            dt: profile.length_km(),
            hts: profile.tx_ground_amsl_m() + input.tx_agl_m,
            hrs: profile.rx_ground_amsl_m() + input.rx_agl_m,
            lambda_m: wavelength_m(input.f_ghz),
        }
    }

    /// The actual profile with its clutter, antennas at their true heights (Table 5).
    fn diffraction_path(&self) -> DiffractionPath<'a> {
        DiffractionPath {
            d_km: self.input.profile.d_km(),
            h_m: self.input.profile.h_m(),
            clutter_m: self.input.profile.clutter_m(),
            tx_amsl_m: self.hts,
            rx_amsl_m: self.hrs,
            f_ghz: self.input.f_ghz,
            lambda_m: self.lambda_m,
        }
    }
}

/// Basic transmission loss and every term on the way to it.
///
/// Total: any profile [`super::PathProfile`] accepts and any input inside the
/// ranges of [`warnings`] gives finite numbers.
#[must_use]
pub fn predict(input: &PathInput<'_>) -> Terms {
    let case = Case::new(input);
    let climate = Climate::of(&case);
    let (horizons, over) = Horizons::of(&case, &climate);
    let smooth_earth = SmoothEarth::of(&case, &horizons, &over);
    let line_of_sight = LineOfSight::of(&case, &climate, &horizons);
    let diffraction = Diffraction::of(&case, &climate, &smooth_earth, &line_of_sight);
    let troposcatter = Troposcatter::of(&case, &horizons);
    let ducting = Ducting::of(&case, &climate, &horizons, &smooth_earth);
    let combination = Combination::of(
        &case,
        &climate,
        &horizons,
        &combination::Parts {
            los: &line_of_sight,
            diff: &diffraction,
            scatter: &troposcatter,
            duct: &ducting,
        },
    );
    Terms {
        d_km: case.dt,
        path_centre_lat_deg: input.path_centre_lat_deg,
        lambda_m: case.lambda_m,
        hts_m: case.hts,
        hrs_m: case.hrs,
        climate,
        horizons,
        smooth_earth,
        line_of_sight,
        diffraction,
        troposcatter,
        ducting,
        combination,
    }
}

/// Fewest profile points the Recommendation's reference code accepts.
const LEAST_POINTS: usize = 5;

/// Where the input leaves the stated range. Source: ITU-R P.1812-8, section 1 and Table 1.
#[must_use]
pub fn warnings(input: &PathInput<'_>) -> Vec<Warning> {
    let ranges = [
        ("f_ghz", input.f_ghz, 0.03, 6.0),
        ("d_km", input.profile.length_km(), 0.25, 3000.0),
        ("time_pct", input.time_pct, 1.0, 50.0),
        ("location_pct", input.location_pct, 1.0, 99.0),
        ("tx_agl_m", input.tx_agl_m, 1.0, 3000.0),
        ("rx_agl_m", input.rx_agl_m, 1.0, 3000.0),
        (
            "path_centre_lat_deg",
            input.path_centre_lat_deg,
            -90.0,
            90.0,
        ),
        // Beyond this the effective Earth radius has no meaning (k is infinite at 157).
        ("delta_n_per_km", input.delta_n_per_km, 0.0, 150.0),
        ("n0", input.n0, 200.0, 450.0),
        ("sigma_loc_db", input.sigma_loc_db, 0.0, 30.0),
        (
            "tx_coast_km",
            input.tx_coast_km,
            0.0,
            PathInput::NO_COAST_KM,
        ),
        (
            "rx_coast_km",
            input.rx_coast_km,
            0.0,
            PathInput::NO_COAST_KM,
        ),
    ];
    let mut found: Vec<Warning> = ranges
        .into_iter()
        .filter(|(_, value, min, max)| !(*min..=*max).contains(value))
        .map(|(quantity, value, min, max)| Warning::OutOfRange {
            quantity,
            value,
            min,
            max,
        })
        .collect();
    let points = input.profile.points();
    if points < LEAST_POINTS {
        found.push(Warning::FewPoints {
            points,
            min: LEAST_POINTS,
        });
    }
    found
}
