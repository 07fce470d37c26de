//! The rate that a customer may expect at the busy hour.
//!
//! Elastic transfers share what the guaranteed services leave (processor
//! sharing): a transfer gets its rate alone, times what the others leave it, and never
//! more than its plan's peak. Customers reach different rates, so loads are
//! counted in time. The result holds whatever the sizes of the transfers are.

use model::ServicePlan;
use model::settings::BestEffortSharing;
use serde::Serialize;
use traffic::sharing;

use crate::load::account::Airtime;
use crate::load::cost::{DIRECTIONS, LinkSteps};
use crate::load::flow::PlanLoad;
use crate::load::frame_budget::FrameBudget;

/// A customer of a sector.
#[derive(Debug, Clone, Copy)]
pub struct Customer<'a> {
    /// What is bought.
    pub plan: &'a ServicePlan,
    /// The steps of the link.
    pub steps: LinkSteps,
}

/// What a customer gets in one direction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CustomerRate {
    /// Rate of a lone transfer while no other is active, the guaranteed services of all kept up.
    pub alone_mbps: f64,
    /// Mean rate of a transfer at the busy hour.
    pub expected_mbps: f64,
}

/// What each customer gets, downlink and uplink, after some years of growth.
pub fn expected(
    budget: &FrameBudget<'_>,
    airtime: &[Airtime; 2],
    (customers, sharing, years): (&[Customer<'_>], BestEffortSharing, f64),
) -> Vec<[CustomerRate; 2]> {
    let [down, up] = [0, 1].map(|d| {
        let users: Vec<User> = customers
            .iter()
            .map(|c| User::new(budget, &airtime[d], (c, d, years)))
            .collect();
        direction(&users, sharing)
    });
    down.into_iter().zip(up).map(|(d, u)| [d, u]).collect()
}

struct User {
    alone_mbps: f64,
    peak_mbps: f64,
    guaranteed_mbps: f64,
    elastic_mbps: f64,
    weight: f64,
}

impl User {
    fn new(
        budget: &FrameBudget<'_>,
        airtime: &Airtime,
        (customer, d, years): (&Customer<'_>, usize, f64),
    ) -> Self {
        let load = PlanLoad::after_years(customer.plan, DIRECTIONS[d], years);
        let bits = budget.bits_per_slot(&customer.steps[d].elastic, DIRECTIONS[d]);
        let headed = 1.0 + budget.packet_overhead_bytes() / load.packet_bytes.max(1.0);
        let carried = bits * (1.0 - budget.block_error_frac()) / headed;
        Self {
            alone_mbps: airtime.elastic_room() * carried / budget.frame_s() / 1e6,
            peak_mbps: load.peak_mbps,
            guaranteed_mbps: load.guaranteed_mbps,
            elastic_mbps: load.elastic_mbps(),
            weight: load.weight,
        }
    }

    fn load_frac(&self) -> f64 {
        if self.elastic_mbps > 0.0 {
            self.elastic_mbps / self.alone_mbps
        } else {
            0.0
        }
    }

    /// Weight in time.
    fn time_weight(&self, sharing: BestEffortSharing) -> f64 {
        match sharing {
            BestEffortSharing::EqualAirtime => 1.0,
            BestEffortSharing::EqualRate => 1.0 / self.alone_mbps.max(f64::MIN_POSITIVE),
            BestEffortSharing::Weighted => self.weight,
        }
    }
}

/// Rates under discriminatory processor sharing, by an interpolation that is
/// exact for equal weights: the delay that others cause goes with the inverse of
/// a customer's weight, as it does in heavy traffic, and is scaled so that the
/// time in the system over all customers stays what it is under equal sharing.
fn direction(users: &[User], sharing: BestEffortSharing) -> Vec<CustomerRate> {
    let load: f64 = users.iter().map(User::load_frac).sum();
    let inverse: f64 = users
        .iter()
        .map(|u| u.load_frac() / u.time_weight(sharing))
        .sum();
    users
        .iter()
        .map(|u| {
            let others = if inverse > 0.0 {
                load / inverse / u.time_weight(sharing)
            } else {
                1.0
            };
            let shared_mbps = shared_mbps(u, load, others);
            CustomerRate {
                alone_mbps: u.alone_mbps.min(u.peak_mbps),
                expected_mbps: shared_mbps.max(u.guaranteed_mbps.min(u.peak_mbps)),
            }
        })
        .collect()
}

/// * `others`: how much the others' delay weighs; 1 under equal sharing.
fn shared_mbps(user: &User, load: f64, others: f64) -> f64 {
    let alone_mbps = user.alone_mbps.min(user.peak_mbps);
    let equal_mbps =
        sharing::capped_flow_rate_mbps(user.alone_mbps, user.peak_mbps, load * user.alone_mbps);
    if equal_mbps <= 0.0 {
        return 0.0;
    }
    let delay = alone_mbps / equal_mbps - 1.0;
    alone_mbps / (1.0 + delay.max(0.0) * others)
}
