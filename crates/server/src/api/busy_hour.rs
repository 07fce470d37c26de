//! The busy hour of one sector, frame by frame.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How a busy hour is run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BusyHourQuestion {
    /// The same seed gives the same outcome.
    #[serde(default = "first")]
    #[schema(default = 1)]
    pub seed: u32,
    /// Time that is counted; half a minute before it is not.
    #[serde(default = "an_hour")]
    #[schema(default = 3600, minimum = 1, maximum = 36_000)]
    pub measured_s: f64,
}

fn first() -> u32 {
    1
}

fn an_hour() -> f64 {
    3600.0
}

/// What a busy hour came to.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BusyHour {
    /// Revision of the design.
    pub revision: String,
    /// The sector.
    pub sector: String,
    /// Seed of the run.
    pub seed: u32,
    /// Time that was counted.
    pub measured_s: f64,
    /// Terminals.
    pub terminals: usize,
    /// Share of the downlink in use or reserved, by the airtime model.
    pub modelled_downlink_airtime_frac: f64,
    /// The same of the uplink.
    pub modelled_uplink_airtime_frac: f64,
    /// Share of the downlink that was not idle.
    pub downlink_airtime_frac: f64,
    /// The same of the uplink.
    pub uplink_airtime_frac: f64,
    /// Classes that have flows, downlink first.
    pub classes: Vec<BusyHourClass>,
}

/// A scheduling class in one direction. Delays, jitter and losses are of
/// packets; a class of transfers alone has none.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BusyHourClass {
    /// Its name.
    pub scheduling_class: String,
    /// `downlink` or `uplink`.
    pub direction: String,
    /// Flows.
    pub flows: usize,
    /// Offered rate of all.
    pub offered_mbps: f64,
    /// Rate of what arrived, all.
    pub delivered_mbps: f64,
    /// Share of the direction.
    pub airtime_frac: f64,
    /// Delay of half of the packets at most.
    pub delay_p50_ms: Option<f64>,
    /// Delay that 5 % of the packets exceed.
    pub delay_p95_ms: Option<f64>,
    /// Delay that 1 % of the packets exceed.
    pub delay_p99_ms: Option<f64>,
    /// Delay that 0.1 % of the packets exceed.
    pub delay_p999_ms: Option<f64>,
    /// Mean difference between the delays of successive packets.
    pub jitter_ms: Option<f64>,
    /// Delay that 0.1 % exceed less the shortest (ITU-T Y.1541).
    pub delay_variation_ms: Option<f64>,
    /// Share of packets lost, of the middle flow.
    pub lost_p50_frac: f64,
    /// The same that 5 % of the flows exceed.
    pub lost_p95_frac: f64,
    /// The same of the worst flow.
    pub lost_max_frac: f64,
    /// All sizes over all durations of transfers that ended.
    pub transfer_mean_rate_mbps: Option<f64>,
    /// Rating of the worst flow that carried voice (ITU-T G.107).
    pub rating_min: Option<f64>,
}
