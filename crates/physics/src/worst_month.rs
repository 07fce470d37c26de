//! The average year and the average worst month: how a share of one becomes
//! that of the other.
//!
//! Source: ITU-R P.841 (from memory of the text; no published case at hand).

use crate::levels::{log10, pow10};

/// Parameters of the conversion: `Q = Q1·p^(−β)` with p in per cent of the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conversion {
    /// Q1, the ratio at 1 % of the average year.
    pub q1: f64,
    /// Exponent β.
    pub beta: f64,
}

impl Conversion {
    /// Rain on terrestrial paths and anything else without figures of its own,
    /// anywhere in the world: Q1 = 2.85, β = 0.13.
    ///
    /// Source: ITU-R P.841, section 2 (from memory of the text).
    pub const GLOBAL: Self = Self {
        q1: 2.85,
        beta: 0.13,
    };

    /// Share of the average worst month for a share of the average year. \[%\]
    ///
    /// * `year_pct`: 0 to 100; the result is no less and at most 100.
    ///
    /// Source: ITU-R P.841, equations (1) and (2): Q is 12 for the rarest
    /// events, which all fall into one month, and 1 for what always is.
    #[must_use]
    pub fn worst_month_pct(&self, year_pct: f64) -> f64 {
        if year_pct <= 0.0 {
            return 0.0;
        }
        let at_3 = self.q1 * 3f64.powf(-self.beta);
        let q = if year_pct <= 3.0 {
            (self.q1 * year_pct.powf(-self.beta)).min(12.0)
        } else if year_pct <= 30.0 {
            at_3
        } else {
            // A line over logarithms from Q at 30 % to 1 at 100 %.
            pow10(log10(at_3) * log10(year_pct / 100.0) / log10(0.3))
        };
        (q * year_pct).clamp(year_pct.min(100.0), 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The inverse law of the Recommendation, p = 0.30·pw^1.15, is printed with
    /// two digits: the two agree to a few per cent (ITU-R P.530, from memory).
    #[test]
    fn ref_agrees_with_the_inverse_law() {
        for year_pct in [0.001, 0.01, 0.1, 1.0] {
            let month_pct = Conversion::GLOBAL.worst_month_pct(year_pct);
            let back_pct = 0.30 * month_pct.powf(1.15);
            assert!(
                (back_pct / year_pct - 1.0).abs() < 0.03,
                "{year_pct}: {back_pct}"
            );
        }
    }

    #[test]
    fn exact_ends_and_rise() {
        let of = |p| Conversion::GLOBAL.worst_month_pct(p);
        assert_eq!((of(0.0), of(100.0)), (0.0, 100.0));
        // The rarest events are all in one month of the twelve.
        assert!((of(1e-6) - 12e-6).abs() < 1e-12);
        let mut before = 0.0;
        for i in 1..=2000 {
            let p = 100.0 * (f64::from(i) / 2000.0).powi(4);
            assert!(of(p) >= before && of(p) >= p, "{p}");
            before = of(p);
        }
    }
}
