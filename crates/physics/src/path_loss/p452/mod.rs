//! ITU-R P.452-18, clear air: loss between stations on the ground, for
//! interference over any distance, 0.1 to 50 GHz and down to 0.001 % of the time.
//!
//! Everything but troposcatter, gases and the last steps of the combination is
//! [`super::clear_air`], whose equation numbers are those of P.1812-8. Left out:
//! scatter by rain (the hydrometeor part of the Recommendation).
//!
//! For interference ask for the loss not exceeded for a small percentage of the
//! time (commonly 20 % long-term, 0.01 to 0.1 % short-term) and give the gains
//! of both antennas towards their horizons. Many paths at one frequency share
//! the sum over the spectroscopic lines: [`super::PathInput::path_gas`].
//!
//! The Recommendation is not quite the same in both directions: Fj looks at the
//! ground from the transmitter. Where the ray is well clear of the ground, or
//! well hidden, the loss is reciprocal.

mod terms;

pub use super::clear_air::wavelength_m;
pub use terms::Terms;

use super::clear_air::{
    Case, Diffraction, Ducting, Horizons, Joint, LineOfSight, Mechanisms, PathAnalysis, joint_db,
};
use super::{PathInput, Warning};
use crate::gas::{Air, PathGas, SpecificAttenuation, specific_attenuation};

/// Clutter nearer than this to an antenna is left out of the profile. \[km\]
const BARE_ENDS_KM: f64 = 0.05;

/// Gaseous attenuation per kilometre, water vapour by the zones of the path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gases {
    /// On the path, 7.5 + 2.5·ω g/m³ of water vapour.
    pub path: SpecificAttenuation,
    /// Where troposcatter happens, 3 g/m³.
    pub scatter: SpecificAttenuation,
}

impl Gases {
    /// From what was prepared for these conditions, else by summing the lines.
    fn of(input: &PathInput<'_>, omega: f64) -> Self {
        let (f_ghz, p, t) = (input.f_ghz, input.dry_pressure_hpa, input.temperature_k());
        if let Some(gas) = input.gas.filter(|gas| gas.is_for(f_ghz, p, t)) {
            return Self {
                path: gas.on_path(omega),
                scatter: gas.at_scatter(),
            };
        }
        let with = |vapour_g_per_m3| {
            let air = Air {
                dry_pressure_hpa: p,
                temperature_k: t,
                vapour_g_per_m3,
            };
            specific_attenuation(f_ghz, &air)
        };
        Self {
            path: with(PathGas::vapour_g_per_m3(omega)),
            scatter: with(PathGas::SCATTER_VAPOUR_G_PER_M3),
        }
    }
}

/// Scatter by the troposphere (section 4.3).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Troposcatter {
    /// Frequency-dependent loss. \[dB\]
    pub lf_db: f64,
    /// Loss of coupling of the antennas to the medium. \[dB\]
    pub lc_db: f64,
    /// Gases on the path. \[dB\]
    pub gas_db: f64,
    /// Troposcatter loss, equation (45). \[dB\]
    pub lbs_db: f64,
}

impl Troposcatter {
    fn of(case: &Case<'_>, horizons: &Horizons, gases: &Gases) -> Self {
        let input = &case.input;
        let log_half_f = (0.5 * input.f_ghz).log10();
        let lf_db = 25.0 * input.f_ghz.log10() - 2.5 * log_half_f * log_half_f;
        let gains_dbi = input.tx_horizon_gain_dbi + input.rx_horizon_gain_dbi;
        let lc_db = 0.051 * (0.055 * gains_dbi).exp();
        let gas_db = gases.scatter.total_db_per_km() * case.dt;
        let rarity = (50.0 / input.time_pct).log10().max(0.0);
        let lbs_db = 190.0 + lf_db + 20.0 * case.dt.log10() + 0.573 * horizons.theta_mrad
            - 0.15 * input.n0
            + lc_db
            + gas_db
            - 10.1 * rarity.powf(0.7); // (45)
        Self {
            lf_db,
            lc_db,
            gas_db,
            lbs_db,
        }
    }
}

/// Interpolation between line of sight and the rest, Fj, by how far the ground
/// rises over the line between the antennas.
fn interpolation(horizons: &Horizons) -> f64 {
    let rise = horizons.stim_m_per_km - horizons.str_m_per_km;
    1.0 - 0.5 * (1.0 + (2.4 * rise / 0.3).tanh())
}

/// Basic transmission loss and every term on the way to it.
///
/// Total: any profile [`super::PathProfile`] accepts and any input inside the
/// ranges of [`warnings`] gives finite numbers.
#[must_use]
pub fn predict(input: &PathInput<'_>) -> Terms {
    let case = Case::new(input, BARE_ENDS_KM);
    let path = PathAnalysis::of(&case);
    let gases = Gases::of(input, path.climate.omega);
    let gas_db_per_km = gases.path.total_db_per_km();
    let line_of_sight = LineOfSight::of(&case, &path, gas_db_per_km);
    let diffraction = Diffraction::of(&case, &path, &line_of_sight);
    let troposcatter = Troposcatter::of(&case, &path.horizons, &gases);
    let ducting = Ducting::of(&case, &path, gas_db_per_km);
    let mechanisms = Mechanisms {
        los: &line_of_sight,
        diff: &diffraction,
        duct: &ducting,
    };
    let joint = Joint::of(&case, &path, interpolation(&path.horizons), &mechanisms);
    Terms {
        path,
        gases,
        line_of_sight,
        diffraction,
        troposcatter,
        ducting,
        joint,
        lb_db: joint_db(troposcatter.lbs_db, joint.lbam_db),
    }
}

/// Fewest profile points: those P.1812 asks for (common practice, no source).
const LEAST_POINTS: usize = 5;

/// Where the input leaves the stated range. Source: ITU-R P.452-18, section 1
/// and Table 1; limits of pressure and temperature are common practice, no source.
#[must_use]
pub fn warnings(input: &PathInput<'_>) -> Vec<Warning> {
    let lat_deg = input.path_centre_lat_deg;
    let mut found = Warning::outside(&[
        ("f_ghz", input.f_ghz, 0.1, 50.0),
        ("d_km", input.profile.length_km(), 0.0, 10_000.0),
        ("time_pct", input.time_pct, 0.001, 50.0),
        ("path_centre_lat_deg", lat_deg, -90.0, 90.0),
        // Beyond this the effective Earth radius has no meaning (k is infinite at 157).
        ("delta_n_per_km", input.delta_n_per_km, 0.0, 150.0),
        ("n0", input.n0, 200.0, 450.0),
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
        (
            "tx_horizon_gain_dbi",
            input.tx_horizon_gain_dbi,
            -60.0,
            60.0,
        ),
        (
            "rx_horizon_gain_dbi",
            input.rx_horizon_gain_dbi,
            -60.0,
            60.0,
        ),
        ("dry_pressure_hpa", input.dry_pressure_hpa, 500.0, 1100.0),
        ("temperature_c", input.temperature_c, -60.0, 60.0),
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
