//! Simulated sectors as tables for spreadsheets and scripts (RFC 4180, UTF-8).

use engine::simulation::{ClassOutcome, FlowOutcome, SectorSimulation};
use serde::Serialize;

use super::text::{class_name, direction_name};
use crate::handout::OutputError;
use crate::load::table;

#[derive(Serialize)]
struct ClassRow<'a> {
    sector: &'a str,
    class: &'static str,
    direction: &'static str,
    flows: usize,
    offered_mbps: f64,
    delivered_mbps: f64,
    airtime_frac: f64,
    rate_p5_mbps: f64,
    rate_p50_mbps: f64,
    rate_p95_mbps: f64,
    delay_p50_ms: Option<f64>,
    delay_p95_ms: Option<f64>,
    delay_p99_ms: Option<f64>,
    jitter_ms: Option<f64>,
    lost_p50_frac: f64,
    lost_max_frac: f64,
    transfer_mean_rate_mbps: Option<f64>,
    rating_min: Option<f64>,
    slips: u64,
}

/// One row for each class and direction of each sector.
pub fn simulated_classes_csv(simulations: &[SectorSimulation]) -> Result<Vec<u8>, OutputError> {
    table(simulations.iter().flat_map(|s| {
        let classes = s.outcome.classes.iter();
        classes.map(|c| class_row(s.sector.as_str(), c))
    }))
}

fn class_row<'a>(sector: &'a str, class: &ClassOutcome) -> ClassRow<'a> {
    let delay = class.packets.map(|p| p.delay_ms);
    ClassRow {
        sector,
        class: class_name(class.class),
        direction: direction_name(class.direction),
        flows: class.flows,
        offered_mbps: class.offered_mbps,
        delivered_mbps: class.delivered_mbps,
        airtime_frac: class.airtime_frac,
        rate_p5_mbps: class.rate_mbps.p5,
        rate_p50_mbps: class.rate_mbps.p50,
        rate_p95_mbps: class.rate_mbps.p95,
        delay_p50_ms: delay.map(|d| d.p50),
        delay_p95_ms: delay.map(|d| d.p95),
        delay_p99_ms: delay.map(|d| d.p99),
        jitter_ms: class.packets.map(|p| p.jitter_ms),
        lost_p50_frac: class.lost_frac.p50,
        lost_max_frac: class.lost_frac.max,
        transfer_mean_rate_mbps: class.transfers.map(|t| t.mean_rate_mbps),
        rating_min: class.rating.map(|r| r.min),
        slips: class.slips,
    }
}

#[derive(Serialize)]
struct FlowRow<'a> {
    sector: &'a str,
    premises: &'a str,
    class: &'static str,
    direction: &'static str,
    offered_mbps: f64,
    delivered_mbps: f64,
    lost_frac: f64,
    airtime_frac: f64,
    delay_p50_ms: Option<f64>,
    delay_p99_ms: Option<f64>,
    jitter_ms: Option<f64>,
    transfer_mean_rate_mbps: Option<f64>,
    rating: Option<f64>,
    mean_opinion: Option<f64>,
    slips: Option<u64>,
}

/// One row for each service and direction of each premises.
pub fn simulated_premises_csv(simulations: &[SectorSimulation]) -> Result<Vec<u8>, OutputError> {
    table(
        simulations
            .iter()
            .flat_map(|s| s.outcome.flows.iter().map(|flow| flow_row(s, flow))),
    )
}

fn flow_row<'a>(simulation: &'a SectorSimulation, flow: &FlowOutcome) -> FlowRow<'a> {
    let premises = simulation.premises.get(flow.terminal);
    FlowRow {
        sector: simulation.sector.as_str(),
        premises: premises.map_or("", |p| p.as_str()),
        class: class_name(flow.class),
        direction: direction_name(flow.direction),
        offered_mbps: flow.offered_mbps,
        delivered_mbps: flow.delivered_mbps,
        lost_frac: flow.lost_frac,
        airtime_frac: flow.airtime_frac,
        delay_p50_ms: flow.packets.map(|p| p.delay_ms.p50),
        delay_p99_ms: flow.packets.map(|p| p.delay_ms.p99),
        jitter_ms: flow.packets.map(|p| p.jitter_ms),
        transfer_mean_rate_mbps: flow.transfers.map(|t| t.mean_rate_mbps),
        rating: flow.voice.map(|v| v.rating),
        mean_opinion: flow.voice.map(|v| v.mean_opinion),
        slips: flow.circuit.map(|c| c.slips),
    }
}
