//! From what is sold to what is asked at the busy hour, now and in later years.

/// Days of a month of account.
const DAYS_PER_MONTH: f64 = 30.0;

/// Mean rate in the busy hour of a volume a month. \[Mb/s\]
///
/// `GB · 8000 / 30 · f / 3600`
///
/// * `volume_gb`: a month, decimal gigabytes. `busy_hour_frac`: share of a
///   day's volume in its busy hour, usually 0.08 to 0.10.
pub fn busy_hour_mbps(volume_gb: f64, busy_hour_frac: f64) -> f64 {
    volume_gb * 8000.0 / DAYS_PER_MONTH * busy_hour_frac / 3600.0
}

/// Sum of the peak rates sold over what a link carries.
pub fn contention(sold_peak_mbps: f64, capacity_mbps: f64) -> f64 {
    sold_peak_mbps / capacity_mbps
}

/// What a demand becomes. \[the unit of `demand`\]
///
/// * `growth_pct`: a year, above −100.
pub fn grown(demand: f64, growth_pct: f64, years: f64) -> f64 {
    demand * (1.0 + growth_pct / 100.0).powf(years)
}

/// Years until a demand reaches a limit: 0 where it has, `None` where it never does. \[a\]
pub fn years_until(demand: f64, limit: f64, growth_pct: f64) -> Option<f64> {
    if demand >= limit {
        return Some(0.0);
    }
    let years = (limit / demand).ln() / (1.0 + growth_pct / 100.0).ln();
    (demand > 0.0 && growth_pct > 0.0 && years.is_finite()).then_some(years)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The formula in another program, three digits.
    #[test]
    fn ref_busy_hour_of_a_month() {
        let rows = [
            (300.0, 0.10, 2.222),
            (300.0, 0.08, 1.778),
            (100.0, 0.08, 0.593),
            (500.0, 0.10, 3.704),
        ];
        for (volume, share, mbps) in rows {
            assert!((busy_hour_mbps(volume, share) - mbps).abs() < 5.1e-4);
        }
    }

    /// Oversubscription of published kind: 45 Mb/s for 100 customers of 10 Mb/s is 22.2 to 1.
    #[test]
    fn ref_contention() {
        for (customers, plan, link, ratio) in [
            (100.0, 10.0, 45.0, 22.2),
            (100.0, 25.0, 45.0, 55.6),
            (60.0, 10.0, 34.56, 17.4),
        ] {
            assert!((contention(customers * plan, link) - ratio).abs() < 0.051);
        }
    }

    #[test]
    fn exact_growth_and_its_end_agree() {
        let years = years_until(10.0, 20.0, 25.0).unwrap();
        assert!((grown(10.0, 25.0, years) - 20.0).abs() < 1e-9);
        assert_eq!(years_until(30.0, 20.0, 25.0), Some(0.0));
        assert_eq!(years_until(10.0, 20.0, 0.0), None);
        assert_eq!(years_until(0.0, 20.0, 25.0), None);
    }
}
