//! One hop after the other taken out: who is cut off, and which hops take over.

use model::ids::{HopId, MastId};
use model::network::Network;

use crate::hop::HopResult;
use crate::hop::load::{BusierHop, CarriedLoad, HopFailure, MastLoad, carried};
use crate::hop::routes::{self, HopOutage, MastRoute, RouteMethod};

/// What the failure of each hop does; empty without a core.
pub(super) fn failures(
    network: &Network,
    (hops, routes): (&[HopResult], &[MastRoute]),
    loads: &[MastLoad],
) -> Vec<HopFailure> {
    let masts: Vec<MastId> = routes.iter().map(|r| r.mast.clone()).collect();
    if masts.is_empty() {
        return Vec::new();
    }
    let outages: Vec<Option<HopOutage>> = hops
        .iter()
        .map(|h| h.evaluation.as_ref().map(super::HopEvaluation::outage))
        .collect();
    (0..hops.len())
        .map(|failed| {
            let mut left = outages.clone();
            left[failed] = None;
            let best = routes::best_hops(&network.backhaul, &masts, &left);
            failure(&hops[failed].id, (hops, routes), (&best, loads))
        })
        .collect()
}

fn failure(
    failed: &HopId,
    (hops, routes): (&[HopResult], &[MastRoute]),
    (best, loads): (&[Option<Vec<HopId>>], &[MastLoad]),
) -> HopFailure {
    let has_load = |mast: &MastId| loads.iter().any(|own| own.mast == *mast);
    let cut_off = routes
        .iter()
        .zip(best)
        .filter(|(before, after)| before.method != RouteMethod::NoRoute && after.is_none())
        .map(|(before, _)| before.mast.clone())
        .filter(has_load)
        .collect();
    // The routes that are left, as the load is added up over them.
    let left: Vec<MastRoute> = routes
        .iter()
        .zip(best)
        .map(|(before, after)| MastRoute {
            hops: after.clone().unwrap_or_default(),
            ..before.clone()
        })
        .collect();
    let busier = hops
        .iter()
        .filter(|hop| hop.id != *failed)
        .filter_map(|hop| {
            let load: CarriedLoad = carried(&hop.id, &left, loads);
            let is_busier = load.busier_mbps() > hop.load.busier_mbps() + 1e-9;
            let guaranteed_mbps = hop.evaluation.as_ref().map(|e| e.guaranteed_mbps);
            is_busier.then(|| BusierHop {
                hop: hop.id.clone(),
                use_frac: guaranteed_mbps.map(|g| load.busier_mbps() / g),
                load,
            })
        })
        .collect();
    HopFailure {
        hop: failed.clone(),
        cut_off,
        busier,
    }
}
