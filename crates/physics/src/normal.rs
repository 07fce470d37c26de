//! The normal distribution, exactly; the Recommendations' approximation of
//! its inverse is [`crate::inverse_normal`].

/// Probability that a standard normal variable is at most `x`, 0 to 1.
///
/// `½·erfc(−x/√2)`; any `x`, infinite ones included.
#[must_use]
pub fn cumulative_frac(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// Value a standard normal variable does not exceed with probability `p`.
///
/// * `p`: limited to 1e-300 … 1 − 1e-16, so that the value is finite.
/// * Error: some 1e-15 of the value.
#[must_use]
pub fn quantile(p: f64) -> f64 {
    let p = p.clamp(1e-300, 1.0 - 1e-16);
    // The upper tail keeps its digits where 1 − p would lose them.
    if p > 0.5 {
        -lower_tail(1.0 - p)
    } else {
        lower_tail(p)
    }
}

/// Quantile of `p` up to one half: a rational start, then Halley's steps.
fn lower_tail(p: f64) -> f64 {
    // Abramowitz and Stegun, 26.2.23, error up to 4.5e-4.
    let t = (-2.0 * p.ln()).sqrt();
    let mut x = ((0.010_328 * t + 0.802_853) * t + 2.515_517)
        / (((0.001_308 * t + 0.189_269) * t + 1.432_788) * t + 1.0)
        - t;
    for _ in 0..3 {
        // The error over the density, divided first so that no tail underflows.
        let density = (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
        let u = (cumulative_frac(x) - p) / density;
        x -= u / (1.0 + 0.5 * x * u);
    }
    x
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
            assert!((quantile(expected) - x).abs() < 2e-13, "{expected}");
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

    #[test]
    fn exact_quantile_inverts_everywhere() {
        for exponent in [-300.0, -100.0, -20.0, -5.0, -1.0, -0.31] {
            let p = 10f64.powf(exponent);
            assert!((cumulative_frac(quantile(p)) / p - 1.0).abs() < 1e-9, "{p}");
        }
        for p in [0.25, 0.5, 0.75, 0.999_999] {
            assert!((quantile(p) + quantile(1.0 - p)).abs() < 1e-9, "{p}");
        }
        assert!(quantile(0.5).abs() < 1e-15);
        assert!(quantile(0.0).is_finite() && quantile(1.0).is_finite());
    }
}
