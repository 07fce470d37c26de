//! `plans.toml`.

use model::SchedulingClass;

use crate::written::{At, written_choice, written_table};

written_table! {
    /// Service plans.
    pub struct PlansText {
        /// Plans, one table each.
        plan: optional Vec<At<PlanText>>;
    }
}

written_table! {
    /// What a customer buys and what it costs the sector at the busy hour.
    pub struct PlanText {
        /// Id by which premises refer to it.
        id: required String;
        /// What the customer calls it. Default: the id.
        name: optional String;
        /// Scheduling class of IEEE 802.16. Default: best effort.
        scheduling_class: optional SchedulingClass = SchedulingClass::BestEffort;
        /// Peak rate sold, towards the customer.
        downlink_mbps: required f64 [0.0, 100000.0];
        /// Peak rate sold, from the customer.
        uplink_mbps: required f64 [0.0, 100000.0];
        /// Rate guaranteed at any hour, towards the customer.
        guaranteed_downlink_mbps: optional f64 [0.0, 100000.0] = 0.0;
        /// Rate guaranteed at any hour, from the customer.
        guaranteed_uplink_mbps: optional f64 [0.0, 100000.0] = 0.0;
        /// Mean demand of one customer in the busy hour, towards the customer.
        busy_hour_downlink_mbps: required f64 [0.0, 100000.0];
        /// Mean demand of one customer in the busy hour, from the customer.
        busy_hour_uplink_mbps: required f64 [0.0, 100000.0];
        /// Probability with which an installation must meet the plan before it is promised.
        target_probability_frac: optional f64 [0.01, 0.9999] = 0.9;
        /// Price a month in the project's currency; 0 where unknown.
        price_per_month: optional f64 [0.0, 1000000.0] = 0.0;
    }
}

written_choice!(SchedulingClass {
    "UGS" => SchedulingClass::UnsolicitedGrant,
    "ertPS" => SchedulingClass::ExtendedRealTimePolling,
    "rtPS" => SchedulingClass::RealTimePolling,
    "nrtPS" => SchedulingClass::NonRealTimePolling,
    "BE" => SchedulingClass::BestEffort,
});
