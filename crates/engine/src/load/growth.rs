//! The load of a sector's present customers in the years to come.

use serde::Serialize;

use crate::load::account::{self, Sums};
use crate::load::admission::{LoadedSector, Room, SectorLoad};
use crate::load::cost;
use crate::load::rates::{self, Customer};

/// A sector after some years.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct YearLoad {
    /// Years from now.
    pub year: u32,
    /// Load at the busy hour.
    #[serde(flatten)]
    pub load: SectorLoad,
    /// What it has no room for any more.
    pub lacks: Option<Room>,
    /// Rate that half of the customers with elastic data may expect at least, towards them.
    pub median_expected_downlink_mbps: f64,
}

/// Sums of customers after some years.
pub fn sums(loaded: &LoadedSector<'_>, customers: &[Customer<'_>], years: f64) -> Sums {
    let budget = loaded.budget();
    customers.iter().fold(Sums::default(), |sums, customer| {
        let ask = cost::ask(&budget, customer.plan, (&customer.steps, years));
        sums.plus(&ask, 1.0)
    })
}

/// Every year up to the design's last.
pub fn years(loaded: &LoadedSector<'_>, customers: &[Customer<'_>]) -> Vec<YearLoad> {
    (0..=loaded.study.growth_years)
        .map(|year| {
            let years = f64::from(year);
            let sums = sums(loaded, customers, years);
            let load = loaded.load(&sums);
            YearLoad {
                year,
                load,
                lacks: loaded.lacks(&load),
                median_expected_downlink_mbps: median_expected_mbps(
                    loaded,
                    (customers, &sums),
                    years,
                ),
            }
        })
        .collect()
}

fn median_expected_mbps(
    loaded: &LoadedSector<'_>,
    (customers, sums): (&[Customer<'_>], &Sums),
    years: f64,
) -> f64 {
    let budget = loaded.budget();
    let airtime = account::airtime(&budget, sums, loaded.study.call_blocking_frac);
    let sharing = loaded.study.best_effort_sharing;
    let rates = rates::expected(&budget, &airtime, (customers, sharing, years));
    let elastic = customers.iter().zip(&rates);
    let elastic =
        elastic.filter(|(c, _)| c.plan.busy_hour_downlink_mbps > c.plan.guaranteed_downlink_mbps);
    let mut rates: Vec<f64> = elastic.map(|(_, r)| r[0].expected_mbps).collect();
    rates.sort_by(f64::total_cmp);
    rates.get(rates.len() / 2).copied().unwrap_or(0.0)
}
