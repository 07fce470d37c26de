//! The normal distribution, exactly; the Recommendations' approximation of
//! its inverse is [`crate::inverse_normal`].

/// Probability that a standard normal variable is at most `x`, 0 to 1.
///
/// `½·erfc(−x/√2)`; any `x`, infinite ones included.
#[must_use]
pub fn cumulative_frac(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ref_handbook_quantiles() {
        // Standard normal table, Abramowitz and Stegun, Table 26.1.
        for (x, expected) in [
            (0.0, 0.5),
            (1.0, 0.841_344_746_068_543),
            (1.281_551_565_544_600_4, 0.9),
            (1.644_853_626_951_472_6, 0.95),
            (-2.326_347_874_040_840_6, 0.01),
        ] {
            assert!((cumulative_frac(x) - expected).abs() < 1e-13, "{x}");
        }
    }

    #[test]
    fn exact_ends_and_symmetry() {
        assert_eq!(cumulative_frac(f64::NEG_INFINITY), 0.0);
        assert_eq!(cumulative_frac(f64::INFINITY), 1.0);
        for x in [0.1, 0.7, 2.5] {
            assert!((cumulative_frac(x) + cumulative_frac(-x) - 1.0).abs() < 1e-15);
        }
    }
}
