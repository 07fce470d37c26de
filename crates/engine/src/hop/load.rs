//! What the sectors behind a hop ask of it at the busy hour.
//!
//! A plain sum of mean loads along each mast's best route, as long as no study
//! of the load's fluctuation takes its place.

use model::ids::{HopId, MastId};
use serde::Serialize;

use crate::hop::routes::MastRoute;
use crate::hop::steps::StepResult;

/// Load at the busy hour, Ethernet port.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct CarriedLoad {
    /// Away from the core.
    pub downlink_mbps: f64,
    /// Towards the core.
    pub uplink_mbps: f64,
}

impl CarriedLoad {
    /// The larger of the two directions: a hop carries each in its own.
    pub fn busier_mbps(&self) -> f64 {
        self.downlink_mbps.max(self.uplink_mbps)
    }

    /// Adds another load.
    pub fn add(&mut self, other: &Self) {
        self.downlink_mbps += other.downlink_mbps;
        self.uplink_mbps += other.uplink_mbps;
    }
}

/// The load that one mast's sectors bring.
#[derive(Debug, Clone, PartialEq)]
pub struct MastLoad {
    /// The mast.
    pub mast: MastId,
    /// Its load.
    pub load: CarriedLoad,
}

/// How a hop's busy hour fits one of its steps.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepUse {
    /// The step.
    pub name: String,
    /// Rate at the step, each direction.
    pub rate_mbps: f64,
    /// Share of the rate that the busier direction asks for; above 1 where it does not fit.
    pub use_frac: f64,
    /// Share of an average year in which the hop works at the step.
    pub time_year_pct: f64,
}

/// How a load fits every step of a hop, in rising order of rate.
pub fn step_uses(load: &CarriedLoad, steps: &[StepResult]) -> Vec<StepUse> {
    steps
        .iter()
        .map(|step| StepUse {
            name: step.name.clone(),
            rate_mbps: step.rate_mbps,
            use_frac: load.busier_mbps() / step.rate_mbps,
            time_year_pct: step.time_year_pct,
        })
        .collect()
}

/// What the failure of one hop does to the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopFailure {
    /// The hop that fails.
    pub hop: HopId,
    /// Masts with load that no other route joins to the core.
    pub cut_off: Vec<MastId>,
    /// Hops that carry more than before.
    pub busier: Vec<BusierHop>,
}

/// A hop that takes over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BusierHop {
    /// The hop.
    pub hop: HopId,
    /// What it then carries at the busy hour.
    pub load: CarriedLoad,
    /// Share of its guaranteed rate that the busier direction then asks for; `None` where its path is unknown.
    pub use_frac: Option<f64>,
}

impl BusierHop {
    /// Whether it carries more than its guaranteed rate.
    pub fn is_overloaded(&self) -> bool {
        self.use_frac.is_some_and(|share| share > 1.0)
    }
}

/// The load of a hop: that of every mast whose best route leads over it.
pub fn carried(hop: &HopId, routes: &[MastRoute], loads: &[MastLoad]) -> CarriedLoad {
    let mut sum = CarriedLoad::default();
    for route in routes.iter().filter(|route| route.hops.contains(hop)) {
        for own in loads.iter().filter(|own| own.mast == route.mast) {
            sum.add(&own.load);
        }
    }
    sum
}
