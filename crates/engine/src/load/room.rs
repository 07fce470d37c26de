//! How many more customers a sector has room for.

use model::ServicePlan;
use model::ids::PlanId;
use serde::Serialize;

use crate::load::account::Sums;
use crate::load::admission::{LoadedSector, Room};
use crate::load::cost::{self, LinkSteps};

/// How many more customers of a plan fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoomFor {
    /// The plan.
    pub plan: PlanId,
    /// How many more, all with the sector's median link.
    pub more: u32,
    /// What the next one would lack.
    pub then_lacks: Option<Room>,
}

/// How many more customers of a plan fit, each with the same steps.
pub fn room(
    loaded: &LoadedSector<'_>,
    sums: &Sums,
    (plan, steps, years): (&ServicePlan, &LinkSteps, f64),
) -> RoomFor {
    let ask = cost::ask(&loaded.budget(), plan, (steps, years));
    let lacks = |more: u32| loaded.lacks(&loaded.load(&sums.plus(&ask, f64::from(more))));
    // The radio's number of terminals ends every search.
    let (mut fits, mut fails) = (0, loaded.ready.sector.base_station.max_terminals + 1);
    if lacks(0).is_some() {
        fails = 0;
    }
    while fits + 1 < fails {
        let middle = fits + (fails - fits) / 2;
        if lacks(middle).is_some() {
            fails = middle;
        } else {
            fits = middle;
        }
    }
    RoomFor {
        plan: plan.id.clone(),
        more: fits,
        then_lacks: lacks(fits + 1),
    }
}
