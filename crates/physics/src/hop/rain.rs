//! Rain on a hop (section 2.4).

use crate::levels::log10;
use crate::path_loss::term::terms;
use crate::path_loss::{Polarization, Term, Warning};
use crate::rain::RainLaw;

/// A hop in rain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainHop {
    /// Path length, > 0. \[km\]
    pub d_km: f64,
    /// Frequency. \[GHz\]
    pub f_ghz: f64,
    /// Polarization.
    pub polarization: Polarization,
    /// Rain rate exceeded for 0.01 % of the average year, averaged over a minute. \[mm/h\]
    pub rain001_mm_per_h: f64,
}

/// How the printed equation (35a), `C0 = 0.12 + 0.4·[log10(f/10)^0.8]` from 10
/// GHz on, is read. Public programs read it both ways; for time percentages
/// away from 0.01 % the results differ, at high frequencies by decibels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum C0Reading {
    /// `log10((f/10)^0.8)`, as the reference program of the Recommendation's working party.
    #[default]
    LogOfPower,
    /// `(log10(f/10))^0.8`.
    PowerOfLog,
}

/// Attenuation by rain on a hop: the quantities on the way, and its distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainFade {
    /// Specific attenuation at the rain rate of 0.01 %. \[dB/km\]
    pub gamma_r_db_per_km: f64,
    /// Exponent of the rain law.
    pub alpha: f64,
    /// Distance factor: effective over true path length, at most 2.5.
    pub r_factor: f64,
    /// True where the distance factor was limited.
    pub r_capped: bool,
    /// Attenuation exceeded for 0.01 % of the average year. \[dB\]
    pub a001_db: f64,
    /// Coefficients C1, C2, C3 of the distribution.
    pub c: [f64; 3],
}

impl RainFade {
    /// Least time percentage of the method. \[%\]
    pub const LEAST_PCT: f64 = 0.001;
    /// Greatest time percentage of the method. \[%\]
    pub const GREATEST_PCT: f64 = 1.0;

    /// Analyses a hop.
    ///
    /// Source: ITU-R P.530-18, section 2.4.1, equations (32) to (35).
    #[must_use]
    pub fn of(hop: &RainHop, reading: C0Reading) -> Self {
        let (d, f) = (hop.d_km, hop.f_ghz);
        let law = RainLaw::level(f, hop.polarization);
        let gamma_r_db_per_km = law.attenuation_db_per_km(hop.rain001_mm_per_h);
        let divisor =
            0.477 * d.powf(0.633) * hop.rain001_mm_per_h.powf(0.073 * law.alpha) * f.powf(0.123)
                + 10.579 * (-0.024 * d).exp_m1(); // (32)
        let r_capped = divisor < 0.4;
        let r_factor = if r_capped { 2.5 } else { 1.0 / divisor };
        Self {
            gamma_r_db_per_km,
            alpha: law.alpha,
            r_factor,
            r_capped,
            a001_db: gamma_r_db_per_km * d * r_factor, // (33)
            c: coefficients(f, reading),
        }
    }

    /// Attenuation exceeded for a percentage of the average year. \[dB\]
    ///
    /// * `p_pct`: 0.001 to 1.
    ///
    /// Source: ITU-R P.530-18, equation (34).
    #[must_use]
    pub fn attenuation_db(&self, p_pct: f64) -> f64 {
        let [c1, c2, c3] = self.c;
        self.a001_db * c1 * p_pct.powf(-(c2 + c3 * log10(p_pct)))
    }

    /// Percentage of the average year in which an attenuation is exceeded. \[%\]
    ///
    /// The inverse of [`Self::attenuation_db`]. A depth beyond that of 0.001 %
    /// gives 0.001, which is never too little; one short of that of 1 % gives a
    /// number above 1, carried on outside the method's range ([`Self::warnings`]).
    #[must_use]
    pub fn exceeded_pct(&self, a_db: f64) -> f64 {
        if a_db <= 0.0 {
            return 100.0;
        }
        if self.a001_db <= 0.0 {
            return 0.0;
        }
        if a_db >= self.attenuation_db(Self::LEAST_PCT) {
            return Self::LEAST_PCT;
        }
        let [c1, c2, c3] = self.c;
        // C3·x² + C2·x + log10(A/(A001·C1)) = 0 with x = log10(p).
        let root = (c2 * c2 - 4.0 * c3 * log10(a_db / (self.a001_db * c1))).max(0.0);
        crate::levels::pow10((root.sqrt() - c2) / (2.0 * c3)).min(100.0)
    }

    /// The quantities on the way, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        let [c1, c2, c3] = self.c;
        terms![
            (
                "gamma_r_dbkm",
                self.gamma_r_db_per_km,
                "dB/km",
                "specific attenuation at the rain rate of 0.01 %"
            ),
            ("alpha", self.alpha, "", "exponent of the rain law"),
            (
                "r_factor",
                self.r_factor,
                "",
                "effective over true path length"
            ),
            (
                "r_capped",
                f64::from(u8::from(self.r_capped)),
                "",
                "1 where that was limited to 2.5"
            ),
            (
                "a001_db",
                self.a001_db,
                "dB",
                "attenuation exceeded for 0.01 % of the year"
            ),
            ("c1", c1, "", "coefficient of the distribution"),
            ("c2", c2, "", "coefficient of the distribution"),
            ("c3", c3, "", "coefficient of the distribution"),
        ]
    }

    /// Where a hop leaves the range the method is stated for.
    ///
    /// Source: ITU-R P.530-18, section 2.4.1.
    #[must_use]
    pub fn warnings(hop: &RainHop, p_pct: f64) -> Vec<Warning> {
        Warning::outside(&[
            ("f_ghz", hop.f_ghz, 1.0, 100.0),
            ("d_km", hop.d_km, 0.0, 60.0),
            ("rain001_mm_per_h", hop.rain001_mm_per_h, 0.0, 300.0),
            ("p_pct", p_pct, Self::LEAST_PCT, Self::GREATEST_PCT),
        ])
    }
}

/// C1, C2, C3. Equations (35a) to (35d).
fn coefficients(f_ghz: f64, reading: C0Reading) -> [f64; 3] {
    let decades = log10(f_ghz / 10.0).max(0.0);
    let c0 = 0.12
        + 0.4
            * match reading {
                C0Reading::LogOfPower => 0.8 * decades,
                C0Reading::PowerOfLog => decades.powf(0.8),
            };
    let rest = 1.0 - c0;
    [
        0.07f64.powf(c0) * 0.12f64.powf(rest),
        0.855 * c0 + 0.546 * rest,
        0.139 * c0 + 0.043 * rest,
    ]
}

/// Attenuation by rain at a second frequency from statistics measured at a
/// first, same path and percentage. \[dB\]
///
/// * `f1_ghz`, `f2_ghz`: 7 to 50. `a1_db`: attenuation at `f1_ghz`, >= 0.
///
/// Source: ITU-R P.530-18, section 2.4.3.
#[must_use]
pub fn scaled_attenuation_db(a1_db: f64, f1_ghz: f64, f2_ghz: f64) -> f64 {
    if a1_db <= 0.0 {
        return 0.0;
    }
    let phi = |f: f64| f * f / (1.0 + 1e-4 * f * f);
    let ratio = phi(f2_ghz) / phi(f1_ghz);
    let h = 1.12e-3 * ratio.sqrt() * (phi(f1_ghz) * a1_db).powf(0.55);
    a1_db * ratio.powf(1.0 - h)
}
