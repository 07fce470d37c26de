//! Two polarizations on one channel in rain (section 4.2).

use super::RainFade;
use crate::levels::{log10, pow10};
use crate::path_loss::term::terms;
use crate::path_loss::{Term, Warning};

/// Average of the coefficient U0 of the cross-polarization law. \[dB\]
///
/// Source: ITU-R P.530-18, section 4.2.1 (from memory of the text: 15 dB on
/// average, 9 dB the lower bound of all measurements).
pub const DEFAULT_XPD_U0_DB: f64 = 15.0;

/// A radio that uses both polarizations of a channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossPolarRadio {
    /// Carrier-to-interference ratio at which the radio fails, C0/I. \[dB\]
    pub c0_over_i_db: f64,
    /// Coefficient U0; [`DEFAULT_XPD_U0_DB`] where not measured. \[dB\]
    pub u0_db: f64,
    /// Improvement by a cross-polar interference canceller, 0 without, commonly 20. \[dB\]
    pub xpif_db: f64,
}

/// Outage by depolarization in rain, with the quantities on the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RainCrossPolar {
    /// U of the law `XPD = U − V·log10(attenuation)`. \[dB\]
    pub u_db: f64,
    /// V of that law. \[dB\]
    pub v_db: f64,
    /// Attenuation at which the radio fails by depolarization. \[dB\]
    pub ap_db: f64,
    /// m, at most 40.
    pub m: f64,
    /// n; the method is meant for −3 to 0.
    pub n: f64,
    /// Probability of outage in the average year, 0 to 1.
    pub outage_frac: f64,
}

impl RainCrossPolar {
    /// Analyses a radio on a hop.
    ///
    /// * `f_ghz`: 8 to 35. `rain`: of the same hop; its attenuation for 0.01 %
    ///   is that of the distribution, equation (34), which the fit leaves up
    ///   to 0.5 % off the A0.01 of equation (33).
    ///
    /// Source: ITU-R P.530-18, section 4.2.
    #[must_use]
    pub fn of(radio: &CrossPolarRadio, f_ghz: f64, rain: &RainFade) -> Self {
        let u_db = radio.u0_db + 30.0 * log10(f_ghz);
        let v_db = if f_ghz <= 20.0 {
            12.8 * f_ghz.powf(0.19)
        } else {
            22.6
        };
        let log_ap = (u_db - radio.c0_over_i_db + radio.xpif_db) / v_db;
        // By logarithms, so that no case leaves what a number can hold.
        let m = (23.26 * (log_ap - log10(0.12 * rain.attenuation_db(0.01)))).min(40.0);
        let n = 0.5 * ((161.23 - 4.0 * m).sqrt() - 12.7);
        Self {
            u_db,
            v_db,
            ap_db: pow10(log_ap),
            m,
            n,
            outage_frac: pow10(n - 2.0).min(1.0),
        }
    }

    /// Cross-polarization discrimination exceeded when rain attenuates by `a_db`. \[dB\]
    #[must_use]
    pub fn xpd_db(&self, a_db: f64) -> f64 {
        self.u_db - self.v_db * log10(a_db)
    }

    /// The quantities on the way, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        terms![
            ("u_db", self.u_db, "dB", "U of the cross-polarization law"),
            ("v_db", self.v_db, "dB", "V of the cross-polarization law"),
            (
                "ap_db",
                self.ap_db,
                "dB",
                "attenuation at which the radio fails"
            ),
            ("m", self.m, "", "m, at most 40"),
            ("n", self.n, "", "n, meant for -3 to 0"),
            (
                "p_xpr",
                self.outage_frac,
                "",
                "probability of outage in the average year"
            ),
        ]
    }

    /// Where the input leaves the stated range. Source: ITU-R P.530-18, section 4.2.
    #[must_use]
    pub fn warnings(f_ghz: f64) -> Vec<Warning> {
        Warning::outside(&[("f_ghz", f_ghz, 8.0, 35.0)])
    }
}
