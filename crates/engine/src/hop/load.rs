//! What the sectors behind a hop ask of it at the busy hour.
//!
//! A plain sum of mean loads along each mast's best route, as long as no study
//! of the load's fluctuation takes its place.

use model::ids::{HopId, MastId};
use serde::Serialize;

use crate::hop::routes::MastRoute;

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
