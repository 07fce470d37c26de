//! The load in one screen.

use engine::load::sector::SectorCapacity;

use crate::format::{percent, rate};

/// A line for every sector, and how many more customers fit.
pub fn load_text(sectors: &[SectorCapacity]) -> String {
    let widest = sectors.iter().map(|c| c.sector.as_str().chars().count());
    let width = widest.max().unwrap_or(0).max("sector".len());
    let mut lines = vec![
        format!(
            "{:<width$}  {:>9}  {:>15}  {:>23}  {:>10}  {:>11}  {:>7}",
            "", "", "airtime", "traffic of capacity", "contention", "may expect", "full"
        ),
        format!(
            "{:<width$}  {:>9}  {:>7} {:>7}  {:>23}  {:>10}  {:>11}  {:>7}",
            "sector", "customers", "down", "up", "down", "down", "median", "in year"
        ),
    ];
    lines.extend(sectors.iter().map(|c| line(c, width)));
    lines.extend(sectors.iter().filter_map(room));
    lines.join("\n") + "\n"
}

fn line(c: &SectorCapacity, width: usize) -> String {
    let expected = c
        .growth
        .first()
        .map(|now| now.median_expected_downlink_mbps);
    let expected = expected.filter(|_| !c.customers.is_empty());
    format!(
        "{:<width$}  {:>9}  {:>7} {:>7}  {:>23}  {:>10}  {:>11}  {:>7}",
        c.sector.as_str(),
        c.load.terminals,
        percent(c.load.downlink_airtime_frac),
        percent(c.load.uplink_airtime_frac),
        format!(
            "{} of {}",
            rate(c.downlink.traffic_mbps),
            rate(c.downlink.capacity_mbps)
        ),
        format!("{:.1} : 1", c.downlink.contention),
        expected.map_or("–".to_owned(), rate),
        c.full_in_year.map_or("–".to_owned(), |y| y.to_string()),
    )
}

fn room(c: &SectorCapacity) -> Option<String> {
    let mcs = c.median_mcs.as_ref()?;
    let plans: Vec<String> = c
        .room
        .iter()
        .map(|r| format!("{} {}", r.more, r.plan))
        .collect();
    Some(format!(
        "{}: room for {} more, with the median link ({mcs})",
        c.sector,
        plans.join(" or ")
    ))
}
