//! Service plans: what a customer buys and what it costs the sector at the busy hour.

use serde::Serialize;

use crate::ids::PlanId;

/// The five scheduling classes of IEEE 802.16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum SchedulingClass {
    /// Unsolicited grant service: constant rate, voice and circuits.
    #[serde(rename = "UGS")]
    UnsolicitedGrant,
    /// Extended real-time polling: voice with silence suppression.
    #[serde(rename = "ertPS")]
    ExtendedRealTimePolling,
    /// Real-time polling: video.
    #[serde(rename = "rtPS")]
    RealTimePolling,
    /// Non-real-time polling: guaranteed data.
    #[serde(rename = "nrtPS")]
    NonRealTimePolling,
    /// Best effort.
    #[serde(rename = "BE")]
    BestEffort,
}

/// A service plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ServicePlan {
    /// Plan id.
    pub id: PlanId,
    /// What the customer calls it.
    pub name: String,
    /// Scheduling class.
    pub scheduling_class: SchedulingClass,
    /// Peak rate sold, towards the customer: the link must reach it when the sector is otherwise idle.
    pub downlink_mbps: f64,
    /// Peak rate sold, from the customer.
    pub uplink_mbps: f64,
    /// Rate guaranteed at any hour, towards the customer.
    pub guaranteed_downlink_mbps: f64,
    /// Rate guaranteed at any hour, from the customer.
    pub guaranteed_uplink_mbps: f64,
    /// Mean demand of one customer in the busy hour, towards the customer.
    pub busy_hour_downlink_mbps: f64,
    /// Mean demand of one customer in the busy hour, from the customer.
    pub busy_hour_uplink_mbps: f64,
    /// Probability with which the installation must meet the plan for a sale to be promised.
    pub target_probability_frac: f64,
    /// Price a month in the design's currency; 0 where unknown.
    pub price_per_month: f64,
}

impl ServicePlan {
    /// What one customer asks of the sector at the busy hour, towards the customer.
    pub fn demand_downlink_mbps(&self) -> f64 {
        self.busy_hour_downlink_mbps
            .max(self.guaranteed_downlink_mbps)
    }

    /// What one customer asks of the sector at the busy hour, from the customer.
    pub fn demand_uplink_mbps(&self) -> f64 {
        self.busy_hour_uplink_mbps.max(self.guaranteed_uplink_mbps)
    }
}
