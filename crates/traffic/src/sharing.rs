//! Elastic transfers that share a link: what one of them gets.

use crate::erlang;

/// Highest load of elastic traffic to plan for: a plan's rate still shows at
/// least half in a lone test. Common practice, no source.
pub const PLANNED_LOAD_FRAC: f64 = 0.8;

/// Mean rate of a transfer on a link shared equally. \[Mb/s\]
///
/// `C·(1 − ρ)`, whatever the transfers' sizes; 0 where more is offered than the link carries.
///
/// * `capacity_mbps`: what the transfer gets alone. `load_frac`: share of time in use.
///
/// Source: the M/G/1 queue with processor sharing; L. Kleinrock, Queueing Systems II, 4.4.
pub fn flow_rate_mbps(capacity_mbps: f64, load_frac: f64) -> f64 {
    capacity_mbps * (1.0 - load_frac).max(0.0)
}

/// Mean time that a transfer takes. \[s\]
///
/// * `size_mbit`: its size in megabits.
pub fn transfer_s(size_mbit: f64, capacity_mbps: f64, load_frac: f64) -> f64 {
    size_mbit / flow_rate_mbps(capacity_mbps, load_frac)
}

/// The same where no transfer gets more than its access rate. \[Mb/s\]
///
/// `r / (1 + C(m, A)/(m − A))` with `m = C/r` and `A = offered/r`, `C(m, A)`
/// the delay formula of Erlang, continued to numbers of lines that are not
/// whole; `C·(1 − ρ)` where the access rate is no limit.
///
/// Source: the M/G/R queue with processor sharing (K. Lindberger, 1999).
pub fn capped_flow_rate_mbps(capacity_mbps: f64, access_mbps: f64, offered_mbps: f64) -> f64 {
    if offered_mbps.is_nan() || offered_mbps >= capacity_mbps {
        return 0.0;
    }
    if access_mbps >= capacity_mbps {
        return flow_rate_mbps(capacity_mbps, offered_mbps / capacity_mbps);
    }
    let lines = capacity_mbps / access_mbps;
    let offered = offered_mbps / access_mbps;
    access_mbps / (1.0 + erlang::waiting_at_frac(lines, offered) / (lines - offered))
}

/// Load in time of users who reach different rates: each counts with the time that it takes. \[0 and more\]
///
/// * `users`: offered rate and the rate alone of each. \[Mb/s\]
pub fn time_load_frac(users: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    users
        .into_iter()
        .map(|(offered_mbps, alone_mbps)| offered_mbps / alone_mbps)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Textbook formula on a link of 20 Mb/s.
    #[test]
    fn ref_equal_sharing() {
        for (load, rate) in [(0.5, 10.0), (0.7, 6.0), (0.8, 4.0), (0.9, 2.0)] {
            assert!((flow_rate_mbps(20.0, load) - rate).abs() < 1e-9);
        }
        assert!((transfer_s(80.0, 20.0, 0.7) - 13.33).abs() < 0.005);
        assert_eq!(flow_rate_mbps(20.0, 1.4), 0.0);
    }

    /// The capped formula in another program.
    #[test]
    fn ref_sharing_below_an_access_rate() {
        let rows = [
            (40.0, 10.0, 20.0, 9.200),
            (40.0, 10.0, 28.0, 7.368),
            (40.0, 10.0, 32.0, 5.729),
            (40.0, 4.0, 28.0, 3.725),
            (20.0, 10.0, 14.0, 5.100),
        ];
        for (link, access, offered, rate) in rows {
            let got = capped_flow_rate_mbps(link, access, offered);
            assert!((got - rate).abs() < 5.1e-4, "{got}, not {rate}");
        }
    }

    #[test]
    fn exact_users_of_different_rates_add_in_time() {
        let load = time_load_frac([(2.0, 10.0), (1.0, 4.0)]);
        assert!((load - 0.45).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]

        #[test]
        fn exact_a_flow_gets_at_most_its_access_rate_and_what_is_left(
            link in 1.0_f64..100.0, access in 0.5_f64..120.0, load in 0.0_f64..1.2,
        ) {
            let rate = capped_flow_rate_mbps(link, access, load * link);
            prop_assert!(rate <= access + 1e-9 && rate <= link + 1e-9 && rate >= 0.0);
            let busier = capped_flow_rate_mbps(link, access, (load + 0.01) * link);
            prop_assert!(busier <= rate + 1e-9);
        }
    }
}
