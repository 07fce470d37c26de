//! Attenuation by oxygen and water vapour, line by line.
//!
//! [`specific_attenuation`] sums the spectroscopic lines for one state of the
//! air. [`PathGas`] prepares what a terrestrial path model needs for one
//! frequency and air, so that a path does not pay for the sum. The formulas
//! take the pressure of *dry* air: total pressure less water vapour.
//!
//! Source: ITU-R P.676-13 (08/2022), Annex 1.

mod lines;
mod path_gas;

pub use path_gas::PathGas;

use crate::path_loss::Warning;
use lines::{OXYGEN, VAPOUR};

/// State of the air at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Pressure of dry air, that is total (barometric) pressure less that of
    /// the water vapour. \[hPa\]
    pub dry_pressure_hpa: f64,
    /// Temperature. \[K\]
    pub temperature_k: f64,
    /// Water-vapour density. \[g/m³\]
    pub vapour_g_per_m3: f64,
}

impl Air {
    /// Air of a given total (barometric) pressure. \[hPa, K, g/m³\]
    #[must_use]
    pub fn of_total_pressure(pressure_hpa: f64, temperature_k: f64, vapour_g_per_m3: f64) -> Self {
        let wet = Self {
            dry_pressure_hpa: 0.0,
            temperature_k,
            vapour_g_per_m3,
        };
        Self {
            dry_pressure_hpa: pressure_hpa - wet.vapour_pressure_hpa(),
            ..wet
        }
    }

    /// Mean annual global reference atmosphere at a height, 0 to 11 km.
    ///
    /// Source: ITU-R P.835, section 1 (from memory of the text): 1013.25 hPa,
    /// 288.15 K and 7.5 g/m³ at sea level, 6.5 K/km, vapour scale height 2 km.
    #[must_use]
    pub fn reference_at(height_amsl_m: f64) -> Self {
        let h_km = height_amsl_m / 1e3;
        let temperature_k = 288.15 - 6.5 * h_km;
        let pressure_hpa = 1013.25 * (288.15 / temperature_k).powf(-5.256);
        Self::of_total_pressure(pressure_hpa, temperature_k, 7.5 * (-h_km / 2.0).exp())
    }

    /// Partial pressure of the water vapour. \[hPa\] Equation (4).
    #[must_use]
    pub fn vapour_pressure_hpa(&self) -> f64 {
        self.vapour_g_per_m3 * self.temperature_k / 216.7
    }
}

/// Attenuation per kilometre by the gases of the air.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SpecificAttenuation {
    /// Dry air: oxygen lines, the Debye spectrum and nitrogen. \[dB/km\]
    pub oxygen_db_per_km: f64,
    /// Water vapour. \[dB/km\]
    pub vapour_db_per_km: f64,
}

impl SpecificAttenuation {
    /// Both together. \[dB/km\]
    #[must_use]
    pub fn total_db_per_km(&self) -> f64 {
        self.oxygen_db_per_km + self.vapour_db_per_km
    }
}

/// Specific attenuation by the gases of the air.
///
/// * `f_ghz`: frequency, 1 to 1000 in the Recommendation; the sum exists for any f > 0.
/// * Loss of a terrestrial path: times its slant length in km.
///
/// Source: ITU-R P.676-13, Annex 1, equations (1) to (9).
#[must_use]
pub fn specific_attenuation(f_ghz: f64, air: &Air) -> SpecificAttenuation {
    SpecificAttenuation {
        oxygen_db_per_km: 0.1820 * f_ghz * (oxygen_lines(f_ghz, air) + dry_continuum(f_ghz, air)),
        vapour_db_per_km: 0.1820 * f_ghz * vapour_lines(f_ghz, air),
    } // (1)
}

/// Where the input leaves the stated range. Source: ITU-R P.676-13, Annex 1;
/// the limits of pressure, temperature and density are those of the standard
/// atmospheres up to 11 km with a margin (common practice, no source).
#[must_use]
pub fn warnings(f_ghz: f64, air: &Air) -> Vec<Warning> {
    Warning::outside(&[
        ("f_ghz", f_ghz, 1.0, 1000.0),
        ("dry_pressure_hpa", air.dry_pressure_hpa, 200.0, 1100.0),
        ("temperature_k", air.temperature_k, 200.0, 330.0),
        ("vapour_g_per_m3", air.vapour_g_per_m3, 0.0, 40.0),
    ])
}

/// Imaginary part of the refractivity by the oxygen lines.
fn oxygen_lines(f: f64, air: &Air) -> f64 {
    let (p, e, theta) = (
        air.dry_pressure_hpa,
        air.vapour_pressure_hpa(),
        300.0 / air.temperature_k,
    );
    let strength = 1e-7 * p * theta.powi(3);
    let width = 1e-4 * (p * theta.powf(0.8) + 1.1 * e * theta);
    let interference = 1e-4 * (p + e) * theta.powf(0.8);
    let line = |line: &lines::OxygenLine| {
        let s = line.a1 * strength * (line.a2 * (1.0 - theta)).exp(); // (3)
        let width = line.a3 * width; // (6a)
        let df = (width * width + 2.25e-6).sqrt(); // (6b), Zeeman splitting
        let delta = (line.a5 + line.a6 * theta) * interference; // (7)
        let (below, above) = (line.f0_ghz - f, line.f0_ghz + f);
        let shape = (df - delta * below) / (below * below + df * df)
            + (df - delta * above) / (above * above + df * df);
        s * f / line.f0_ghz * shape // (5)
    };
    OXYGEN.iter().map(line).sum()
}

/// Imaginary part of the refractivity by the water-vapour lines.
fn vapour_lines(f: f64, air: &Air) -> f64 {
    let (p, e, theta) = (
        air.dry_pressure_hpa,
        air.vapour_pressure_hpa(),
        300.0 / air.temperature_k,
    );
    let strength = 0.1 * e * theta.powf(3.5);
    let line = |line: &lines::VapourLine| {
        let s = line.b1 * strength * (line.b2 * (1.0 - theta)).exp(); // (3)
        let width = 1e-4 * line.b3 * (p * theta.powf(line.b4) + line.b5 * e * theta.powf(line.b6)); // (6a)
        let doppler = 2.1316e-12 * line.f0_ghz * line.f0_ghz / theta;
        let df = 0.535 * width + (0.217 * width * width + doppler).sqrt(); // (6b)
        let (below, above) = (line.f0_ghz - f, line.f0_ghz + f);
        let shape = df / (below * below + df * df) + df / (above * above + df * df);
        s * f / line.f0_ghz * shape // (5)
    };
    VAPOUR.iter().map(line).sum()
}

/// Non-resonant part: Debye spectrum of oxygen below 10 GHz, nitrogen above 100 GHz.
fn dry_continuum(f: f64, air: &Air) -> f64 {
    let (p, theta) = (air.dry_pressure_hpa, 300.0 / air.temperature_k);
    let d = 5.6e-4 * (p + air.vapour_pressure_hpa()) * theta.powf(0.8); // (9)
    let debye = 6.14e-5 / (d * (1.0 + (f / d) * (f / d)));
    let nitrogen = 1.4e-12 * p * theta.powf(1.5) / (1.0 + 1.9e-5 * f.powf(1.5));
    f * p * theta * theta * (debye + nitrogen) // (8)
}
