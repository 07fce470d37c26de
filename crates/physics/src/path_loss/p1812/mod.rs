//! ITU-R P.1812-8: path-specific loss for point-to-area services, 30 MHz to
//! 6 GHz.
//!
//! The order of the Recommendation is the order of [`predict`]: zones and
//! climate, the bare profile, line of sight, diffraction, troposcatter,
//! ducting, and their combination; what P.452 has in common stands in
//! [`super::clear_air`]. Equation numbers are those of the Recommendation.
//! Left out: building entry loss (P.2109; add it to the result) and gaseous
//! absorption (negligible below 6 GHz).

mod combination;
mod terms;

pub use super::clear_air::wavelength_m;
pub use combination::Combination;
pub use terms::Terms;

use super::clear_air::{
    Case, Diffraction, Ducting, Horizons, Joint, LineOfSight, Mechanisms, PathAnalysis,
};
use super::{PathInput, Warning};

/// Scatter by the troposphere (section 4.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Troposcatter {
    /// Frequency-dependent loss, equation (45). \[dB\]
    pub lf_db: f64,
    /// Troposcatter loss, equation (44). \[dB\]
    pub lbs_db: f64,
}

impl Troposcatter {
    fn of(case: &Case<'_>, horizons: &Horizons) -> Self {
        let input = &case.input;
        let log_half_f = (0.5 * input.f_ghz).log10();
        let lf_db = 25.0 * input.f_ghz.log10() - 2.5 * log_half_f * log_half_f; // (45)
        let rarity = (50.0 / input.time_pct).log10().max(0.0);
        let lbs_db = 190.1 + lf_db + 20.0 * case.dt.log10() + 0.573 * horizons.theta_mrad
            - 0.15 * input.n0
            - 10.125 * rarity.powf(0.7); // (44)
        Self { lf_db, lbs_db }
    }
}

/// Interpolation by angular distance, Fj. Equation (57).
fn interpolation(horizons: &Horizons) -> f64 {
    1.0 - 0.5 * (1.0 + (2.4 * (horizons.theta_mrad - 0.3) / 0.3).tanh())
}

/// Basic transmission loss and every term on the way to it.
///
/// Total: any profile [`super::PathProfile`] accepts and any input inside the
/// ranges of [`warnings`] gives finite numbers.
#[must_use]
pub fn predict(input: &PathInput<'_>) -> Terms {
    // Clutter stands at every point but the two ends.
    let case = Case::new(input, 0.0);
    let path = PathAnalysis::of(&case);
    let line_of_sight = LineOfSight::of(&case, &path, 0.0);
    let diffraction = Diffraction::of(&case, &path, &line_of_sight);
    let troposcatter = Troposcatter::of(&case, &path.horizons);
    let ducting = Ducting::of(&case, &path, 0.0);
    let mechanisms = Mechanisms {
        los: &line_of_sight,
        diff: &diffraction,
        duct: &ducting,
    };
    let joint = Joint::of(&case, &path, interpolation(&path.horizons), &mechanisms);
    let combination = Combination::of(&case, joint, line_of_sight.lb0p_db, &troposcatter);
    Terms {
        path,
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
    let mut found = Warning::outside(&[
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
    ]);
    let points = input.profile.points();
    if points < LEAST_POINTS {
        found.push(Warning::FewPoints {
            points,
            min: LEAST_POINTS,
        });
    }
    found
}
