//! Users that are active now and then: how many at once.

/// The number of active users that is exceeded in no more than `1 − quantile` of the time.
///
/// The least `k` with `Σ_{i ≤ k} C(N, i)·p^i·(1−p)^(N−i) ≥ q`, summed exactly:
/// the normal approximation is too low where `N·p` is small.
///
/// * `users`: any. `active_frac`: 0 to 1. `quantile_frac`: 0 to 1.
pub fn active_users(users: u32, active_frac: f64, quantile_frac: f64) -> u32 {
    if active_frac.is_nan() || active_frac <= 0.0 {
        return 0;
    }
    if active_frac >= 1.0 {
        return users;
    }
    // Logarithms, so that the first terms of many users do not vanish.
    let odds_ln = (active_frac / (1.0 - active_frac)).ln();
    let mut term_ln = f64::from(users) * (-active_frac).ln_1p();
    let mut sum = term_ln.exp();
    let mut k = 0;
    while sum < quantile_frac && k < users {
        term_ln += (f64::from(users - k) / f64::from(k + 1)).ln() + odds_ln;
        sum += term_ln.exp();
        k += 1;
    }
    k
}

/// Mean and standard deviation of the number of active users.
pub fn mean_and_deviation(users: u32, active_frac: f64) -> (f64, f64) {
    let mean = f64::from(users) * active_frac;
    (mean, (mean * (1.0 - active_frac)).max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The binomial sum in another program, with the normal approximation beside it.
    #[test]
    fn ref_ninety_nine_percent_of_the_time() {
        let rows = [
            (100, 0.05, 11, 10.07),
            (200, 0.05, 18, 17.17),
            (200, 0.1, 30, 29.87),
            (60, 0.1, 12, 11.41),
        ];
        for (users, active, exact, normal) in rows {
            assert_eq!(active_users(users, active, 0.99), exact);
            let (mean, deviation) = mean_and_deviation(users, active);
            assert!((mean + 2.326_35 * deviation - normal).abs() < 0.005);
        }
    }

    #[test]
    fn exact_ends() {
        assert_eq!(active_users(50, 0.0, 0.99), 0);
        assert_eq!(active_users(50, 1.0, 0.99), 50);
        assert_eq!(active_users(0, 0.5, 0.99), 0);
        assert_eq!(active_users(50, 0.5, 1.1), 50);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        #[test]
        fn exact_many_users_approach_the_normal(users in 20_000_u32..100_000, active in 0.05_f64..0.5) {
            let (mean, deviation) = mean_and_deviation(users, active);
            let k = f64::from(active_users(users, active, 0.99));
            // One user of rounding and the skewness that is left.
            prop_assert!((k - (mean + 2.326_35 * deviation)).abs() < 2.0);
        }
    }
}
