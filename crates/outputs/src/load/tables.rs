//! The load as tables for spreadsheets and scripts (RFC 4180, UTF-8).

use engine::load::sector::{DirectionCapacity, SectorCapacity};
use serde::Serialize;

use crate::handout::OutputError;

pub(crate) fn table<R: Serialize>(
    rows: impl IntoIterator<Item = R>,
) -> Result<Vec<u8>, OutputError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row)?;
    }
    writer
        .into_inner()
        .map_err(|e| OutputError::Table(e.into_error().into()))
}

#[derive(Serialize)]
struct SectorRow<'a> {
    sector: &'a str,
    direction: &'static str,
    terminals: u32,
    airtime_frac: f64,
    traffic_mbps: f64,
    capacity_mbps: f64,
    peak_phy_mbps: f64,
    contention: f64,
    elastic_load_frac: f64,
    bursts_per_frame: f64,
    data_slots_per_frame: f64,
    overhead_frac: f64,
    handling_frac: f64,
    ugs_frac: f64,
    ertps_frac: f64,
    rtps_frac: f64,
    nrtps_frac: f64,
    be_frac: f64,
    free_frac: f64,
    packets_per_s: f64,
    full_in_year: Option<u32>,
}

fn sector_row<'a>(
    c: &'a SectorCapacity,
    (direction, d, airtime_frac): (&'static str, &DirectionCapacity, f64),
) -> SectorRow<'a> {
    let class = |i: usize| {
        let share = d.symbols.classes.get(i);
        rounded(share.map_or(0.0, |s| s.guaranteed_frac + s.elastic_frac))
    };
    SectorRow {
        sector: c.sector.as_str(),
        direction,
        terminals: c.load.terminals,
        airtime_frac: rounded(airtime_frac),
        traffic_mbps: rounded(d.traffic_mbps),
        capacity_mbps: rounded(d.capacity_mbps),
        peak_phy_mbps: rounded(d.peak_phy_mbps),
        contention: rounded(d.contention),
        elastic_load_frac: rounded(d.elastic_load_frac),
        bursts_per_frame: rounded(d.bursts_per_frame),
        data_slots_per_frame: rounded(d.data_slots_per_frame),
        overhead_frac: rounded(d.symbols.overhead_frac),
        handling_frac: rounded(d.symbols.handling_frac),
        ugs_frac: class(0),
        ertps_frac: class(1),
        rtps_frac: class(2),
        nrtps_frac: class(3),
        be_frac: class(4),
        free_frac: rounded(d.symbols.free_frac),
        packets_per_s: rounded(c.load.packets_per_s),
        full_in_year: c.full_in_year,
    }
}

/// Both directions of every sector, one row each.
pub fn sectors_csv(sectors: &[SectorCapacity]) -> Result<Vec<u8>, OutputError> {
    table(sectors.iter().flat_map(|c| {
        [
            sector_row(c, ("downlink", &c.downlink, c.load.downlink_airtime_frac)),
            sector_row(c, ("uplink", &c.uplink, c.load.uplink_airtime_frac)),
        ]
    }))
}

#[derive(Serialize)]
struct CustomerRow<'a> {
    premises: &'a str,
    sector: &'a str,
    plan: &'a str,
    mcs_name: &'a str,
    alone_downlink_mbps: f64,
    expected_downlink_mbps: f64,
    alone_uplink_mbps: f64,
    expected_uplink_mbps: f64,
}

/// What every customer may expect, one row each.
pub fn customers_csv(sectors: &[SectorCapacity]) -> Result<Vec<u8>, OutputError> {
    table(sectors.iter().flat_map(|c| {
        c.customers.iter().map(|customer| CustomerRow {
            premises: customer.premises.as_str(),
            sector: c.sector.as_str(),
            plan: customer.plan.as_str(),
            mcs_name: &customer.mcs_name,
            alone_downlink_mbps: rounded(customer.downlink.alone_mbps),
            expected_downlink_mbps: rounded(customer.downlink.expected_mbps),
            alone_uplink_mbps: rounded(customer.uplink.alone_mbps),
            expected_uplink_mbps: rounded(customer.uplink.expected_mbps),
        })
    }))
}

#[derive(Serialize)]
struct RoomRow<'a> {
    sector: &'a str,
    plan: &'a str,
    more: u32,
    median_mcs: &'a str,
}

/// How many more of each plan fit, one row each.
pub fn room_csv(sectors: &[SectorCapacity]) -> Result<Vec<u8>, OutputError> {
    table(sectors.iter().flat_map(|c| {
        c.room.iter().map(|room| RoomRow {
            sector: c.sector.as_str(),
            plan: room.plan.as_str(),
            more: room.more,
            median_mcs: c.median_mcs.as_deref().unwrap_or_default(),
        })
    }))
}

#[derive(Serialize)]
struct YearRow<'a> {
    sector: &'a str,
    year: u32,
    downlink_airtime_frac: f64,
    uplink_airtime_frac: f64,
    downlink_mbps: f64,
    uplink_mbps: f64,
    median_expected_downlink_mbps: f64,
    full: bool,
}

/// Every sector in every year, one row each.
pub fn growth_csv(sectors: &[SectorCapacity]) -> Result<Vec<u8>, OutputError> {
    table(sectors.iter().flat_map(|c| {
        c.growth.iter().map(|year| YearRow {
            sector: c.sector.as_str(),
            year: year.year,
            downlink_airtime_frac: rounded(year.load.downlink_airtime_frac),
            uplink_airtime_frac: rounded(year.load.uplink_airtime_frac),
            downlink_mbps: rounded(year.load.downlink_mbps),
            uplink_mbps: rounded(year.load.uplink_mbps),
            median_expected_downlink_mbps: rounded(year.median_expected_downlink_mbps),
            full: year.lacks.is_some(),
        })
    }))
}

/// Four decimals: finer than any input.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}
