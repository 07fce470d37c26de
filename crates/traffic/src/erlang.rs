//! Calls on a limited number of lines: lost (Erlang B) or waiting (Erlang C).

/// Traffic that calls offer. \[E\]
pub fn offered_erlang(calls_per_h: f64, holding_s: f64) -> f64 {
    calls_per_h * holding_s / 3600.0
}

/// Share of calls lost on `lines` lines. \[0 to 1\]
///
/// `B(0) = 1, B(n) = A·B(n−1) / (n + A·B(n−1))`
///
/// * `offered_erlang`: 0 and more; 1 is lost without lines, nothing without calls.
///
/// Source: A. K. Erlang's loss formula in its recursive form; any textbook on teletraffic.
pub fn blocking_frac(lines: u32, offered_erlang: f64) -> f64 {
    (1..=lines).fold(1.0, |lost, n| {
        next_blocking(lost, f64::from(n), offered_erlang)
    })
}

fn next_blocking(lost: f64, lines: f64, offered_erlang: f64) -> f64 {
    let weight = offered_erlang * lost;
    weight / (lines + weight)
}

/// The same for a number of lines that need not be whole, which a rate shared
/// between users of a lower one is. \[0 to 1\]
///
/// `1/B(x) = A·∫₀^∞ e^(−A·t)·(1+t)^x dt = e^A·A^(−x)·Γ(x+1, A)`
///
/// * `lines`: 0 and more. `offered_erlang`: above 0; 0 below.
///
/// Source: the integral form of the loss formula (R. Fortet), continued upwards by the recursion.
pub fn blocking_at_frac(lines: f64, offered_erlang: f64) -> f64 {
    if offered_erlang.is_nan() || offered_erlang <= 0.0 {
        return if lines > 0.0 { 0.0 } else { 1.0 };
    }
    let part = lines.max(0.0).fract();
    let mut lost = 1.0 / inverse_blocking(part, offered_erlang);
    let mut at = part;
    while at + 0.5 < lines {
        at += 1.0;
        lost = next_blocking(lost, at, offered_erlang);
    }
    lost
}

/// `1/B(x)` for `0 ≤ x < 1`.
fn inverse_blocking(x: f64, offered_erlang: f64) -> f64 {
    if x == 0.0 {
        return 1.0;
    }
    let a = x + 1.0;
    if offered_erlang < a + 1.0 {
        // Γ(a, A) = Γ(a) − γ(a, A), the latter by its power series.
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > 1e-17 * sum {
            n += 1.0;
            term *= offered_erlang / n;
            sum += term;
        }
        offered_erlang.exp() * libm::tgamma(a) * offered_erlang.powf(-x) - offered_erlang * sum
    } else {
        // The continued fraction, by the method of Lentz.
        let mut b = offered_erlang + 1.0 - a;
        let mut c = f64::INFINITY;
        let mut d = 1.0 / b;
        let mut h = d;
        for n in 1..200 {
            let n = f64::from(n);
            let weight = -n * (n - a);
            b += 2.0;
            d = 1.0 / (weight * d + b);
            c = b + weight / c;
            h *= c * d;
            if (c * d - 1.0).abs() < 1e-15 {
                break;
            }
        }
        offered_erlang * h
    }
}

/// Share of calls that have to wait on `lines` lines. \[0 to 1\]
///
/// `C = B / (1 − (A/n)·(1 − B))`; 1 where as much is offered as the lines carry.
///
/// Source: A. K. Erlang's delay formula; any textbook on teletraffic.
pub fn waiting_frac(lines: u32, offered_erlang: f64) -> f64 {
    waiting_at_frac(f64::from(lines), offered_erlang)
}

/// The same for a number of lines that need not be whole. \[0 to 1\]
pub fn waiting_at_frac(lines: f64, offered_erlang: f64) -> f64 {
    if offered_erlang.is_nan() || offered_erlang >= lines {
        return 1.0;
    }
    let lost = blocking_at_frac(lines, offered_erlang);
    lost / (1.0 - offered_erlang / lines * (1.0 - lost))
}

/// Mean wait over all calls. \[s\]
///
/// `W = C·h / (n − A)`; infinite where as much is offered as the lines carry.
pub fn mean_wait_s(lines: u32, offered_erlang: f64, holding_s: f64) -> f64 {
    let free = f64::from(lines) - offered_erlang;
    if free > 0.0 {
        waiting_frac(lines, offered_erlang) * holding_s / free
    } else {
        f64::INFINITY
    }
}

/// Share of calls that wait longer than `wait_s`. \[0 to 1\]
///
/// `P = C·e^(−(n − A)·t/h)`
pub fn longer_wait_frac(lines: u32, offered_erlang: f64, waits: WaitOverHolding) -> f64 {
    let free = f64::from(lines) - offered_erlang;
    if free > 0.0 {
        waiting_frac(lines, offered_erlang) * (-free * waits.wait_s / waits.holding_s).exp()
    } else {
        1.0
    }
}

/// A wait and the mean holding time that it is measured by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaitOverHolding {
    /// The wait asked about.
    pub wait_s: f64,
    /// Mean length of a call.
    pub holding_s: f64,
}

/// The most that may be offered to `lines` lines so that no more than a share is lost. \[E\]
///
/// * `blocking_frac`: above 0 and below 1.
pub fn offered_for_blocking_erlang(lines: u32, blocking_frac: f64) -> f64 {
    if lines == 0 || !(blocking_frac > 0.0 && blocking_frac < 1.0) {
        return 0.0;
    }
    // What the lines carry at most, over what is not lost, is never exceeded.
    let (mut low, mut high) = (0.0, f64::from(lines) / (1.0 - blocking_frac) + 1.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if self::blocking_frac(lines, middle) > blocking_frac {
            high = middle;
        } else {
            low = middle;
        }
    }
    low
}

/// The fewest lines on which no more than a share is lost.
///
/// * `blocking_frac`: above 0. `None` where more than a million lines would be needed.
pub fn lines_for_blocking(offered_erlang: f64, blocking_frac: f64) -> Option<u32> {
    let mut lost = 1.0;
    (0..=MOST_LINES).find(|lines| {
        if *lines > 0 {
            lost = next_blocking(lost, f64::from(*lines), offered_erlang);
        }
        lost <= blocking_frac
    })
}

const MOST_LINES: u32 = 1_000_000;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Shares lost of the table's columns.
    const LOST_FRAC: [f64; 5] = [0.001, 0.005, 0.01, 0.02, 0.05];

    /// Traffic by lines and share lost. The row of 15 lines at 1 % (8.108 E)
    /// and the rows up to 10 lines in fewer digits are printed in handbook
    /// tables of the loss formula; the others by the recursion in another program. \[E\]
    const OFFERED: [(u32, [f64; 5]); 10] = [
        (1, [0.001, 0.005, 0.010, 0.020, 0.053]),
        (2, [0.046, 0.105, 0.153, 0.223, 0.381]),
        (5, [0.762, 1.132, 1.361, 1.657, 2.218]),
        (10, [3.092, 3.961, 4.461, 5.084, 6.216]),
        (15, [6.077, 7.376, 8.108, 9.010, 10.633]),
        (20, [9.411, 11.092, 12.031, 13.182, 15.249]),
        (24, [12.243, 14.204, 15.295, 16.631, 19.031]),
        (30, [16.684, 19.034, 20.337, 21.932, 24.802]),
        (50, [32.512, 35.982, 37.901, 40.255, 44.533]),
        (100, [75.242, 80.910, 84.064, 87.972, 95.240]),
    ];

    #[test]
    fn ref_traffic_for_a_share_lost() {
        for (lines, row) in OFFERED {
            for (lost, printed) in LOST_FRAC.into_iter().zip(row) {
                let got = offered_for_blocking_erlang(lines, lost);
                // Half of the last printed digit.
                assert!(
                    (got - printed).abs() < 0.000_501,
                    "{lines} lines at {lost}: {got}, not {printed}"
                );
            }
        }
    }

    /// The recursion and the delay formula in another program.
    #[test]
    fn ref_lost_and_waiting() {
        let rows = [
            (10, 7.0, 0.078_741, 0.221_731),
            (20, 15.0, 0.045_593, 0.160_429),
            (5, 3.0, 0.110_054, 0.236_152),
            (2, 1.0, 0.2, 1.0 / 3.0),
        ];
        for (lines, offered, lost, waiting) in rows {
            assert!((blocking_frac(lines, offered) - lost).abs() < 5.1e-7);
            assert!((waiting_frac(lines, offered) - waiting).abs() < 5.1e-7);
        }
        assert!((mean_wait_s(10, 7.0, 180.0) - 13.304).abs() < 5e-4);
        assert!((mean_wait_s(2, 1.0, 180.0) - 60.0).abs() < 1e-9);
        let waits = WaitOverHolding {
            wait_s: 20.0,
            holding_s: 180.0,
        };
        assert!((longer_wait_frac(10, 7.0, waits) - 0.158_88).abs() < 5e-6);
        assert_eq!(lines_for_blocking(10.0, 0.01), Some(18));
        assert!((blocking_frac(17, 10.0) - 0.012_95).abs() < 5e-6);
        assert!((blocking_frac(18, 10.0) - 0.007_14).abs() < 5e-6);
    }

    #[test]
    fn exact_ends() {
        assert_eq!(blocking_frac(0, 3.0), 1.0);
        assert_eq!(blocking_frac(3, 0.0), 0.0);
        assert_eq!(waiting_frac(3, 3.0), 1.0);
        assert_eq!(mean_wait_s(3, 4.0, 60.0), f64::INFINITY);
        assert_eq!(lines_for_blocking(0.0, 0.01), Some(1));
        assert_eq!(lines_for_blocking(f64::NAN, 0.01), None);
        assert_eq!(offered_for_blocking_erlang(0, 0.01), 0.0);
        assert_eq!(offered_erlang(60.0, 180.0), 3.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]

        #[test]
        fn exact_whole_lines_agree_with_the_recursion(lines in 0_u32..60, offered in 0.01_f64..80.0) {
            let by_integral = blocking_at_frac(f64::from(lines), offered);
            prop_assert!((by_integral - blocking_frac(lines, offered)).abs() < 1e-12);
        }

        #[test]
        fn exact_between_whole_lines_it_falls(lines in 0.0_f64..40.0, offered in 0.01_f64..60.0) {
            let here = blocking_at_frac(lines, offered);
            let next = blocking_at_frac(lines + 0.05, offered);
            prop_assert!(next < here && here <= 1.0 && next > 0.0);
        }

        #[test]
        fn exact_more_traffic_loses_more(lines in 1_u32..60, offered in 0.01_f64..80.0) {
            prop_assert!(blocking_frac(lines, offered) <= blocking_frac(lines, offered * 1.01));
        }

        #[test]
        fn exact_the_inverse_inverts(lines in 1_u32..120, lost in 0.0005_f64..0.5) {
            let offered = offered_for_blocking_erlang(lines, lost);
            prop_assert!((blocking_frac(lines, offered) - lost).abs() < 1e-9);
            prop_assert_eq!(lines_for_blocking(offered * 0.999_999, lost), Some(lines));
        }
    }
}
