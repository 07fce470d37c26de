//! Gaseous attenuation of a terrestrial path by the share of it over sea.

use super::{Air, SpecificAttenuation, specific_attenuation};

/// Specific attenuation for one frequency, dry pressure and temperature, with
/// the water-vapour densities ITU-R P.452 takes: `7.5 + 2.5·ω` g/m³ on the path,
/// ω the fraction of it over sea, and 3 g/m³ where troposcatter happens.
///
/// Both parts are smooth functions of ω; [`PathGas::of`] sums the lines for
/// five densities and [`PathGas::on_path`] interpolates them by the polynomial
/// of degree 4, within 1e-8 of the sum itself (relative; 1e-11 near sea level).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathGas {
    f_ghz: f64,
    dry_pressure_hpa: f64,
    temperature_k: f64,
    scatter: SpecificAttenuation,
    /// Divided differences at [`NODES`].
    oxygen: [f64; 5],
    vapour: [f64; 5],
}

/// Fractions over sea at which the lines are summed: all land and all sea, the
/// commonest, are met exactly.
const NODES: [f64; 5] = [0.0, 1.0, 0.5, 0.15, 0.85];

impl PathGas {
    /// Water-vapour density where troposcatter happens. \[g/m³\]
    pub const SCATTER_VAPOUR_G_PER_M3: f64 = 3.0;

    /// Water-vapour density on a path. \[g/m³\]
    ///
    /// * `omega`: fraction of the path over sea, 0 to 1.
    #[must_use]
    pub fn vapour_g_per_m3(omega: f64) -> f64 {
        7.5 + 2.5 * omega
    }

    /// Sums the lines for a frequency and the air of a region.
    #[must_use]
    pub fn of(f_ghz: f64, dry_pressure_hpa: f64, temperature_k: f64) -> Self {
        let with = |vapour_g_per_m3| {
            let air = Air {
                dry_pressure_hpa,
                temperature_k,
                vapour_g_per_m3,
            };
            specific_attenuation(f_ghz, &air)
        };
        let nodes = NODES.map(|omega| with(Self::vapour_g_per_m3(omega)));
        Self {
            f_ghz,
            dry_pressure_hpa,
            temperature_k,
            scatter: with(Self::SCATTER_VAPOUR_G_PER_M3),
            oxygen: divided_differences(nodes.map(|n| n.oxygen_db_per_km)),
            vapour: divided_differences(nodes.map(|n| n.vapour_db_per_km)),
        }
    }

    /// True when it was made for these conditions.
    #[must_use]
    pub fn is_for(&self, f_ghz: f64, dry_pressure_hpa: f64, temperature_k: f64) -> bool {
        self.f_ghz == f_ghz
            && self.dry_pressure_hpa == dry_pressure_hpa
            && self.temperature_k == temperature_k
    }

    /// On the path.
    ///
    /// * `omega`: fraction of the path over sea, 0 to 1.
    #[must_use]
    pub fn on_path(&self, omega: f64) -> SpecificAttenuation {
        SpecificAttenuation {
            oxygen_db_per_km: newton(&self.oxygen, omega),
            vapour_db_per_km: newton(&self.vapour, omega),
        }
    }

    /// Where troposcatter happens.
    #[must_use]
    pub fn at_scatter(&self) -> SpecificAttenuation {
        self.scatter
    }
}

/// Coefficients of Newton's form of the polynomial through [`NODES`].
fn divided_differences(mut y: [f64; 5]) -> [f64; 5] {
    for order in 1..y.len() {
        for i in (order..y.len()).rev() {
            y[i] = (y[i] - y[i - 1]) / (NODES[i] - NODES[i - order]);
        }
    }
    y
}

/// Value of Newton's form.
fn newton(coefficients: &[f64; 5], x: f64) -> f64 {
    let terms = coefficients.iter().zip(NODES).rev();
    terms.fold(0.0, |sum, (c, node)| sum * (x - node) + c)
}
