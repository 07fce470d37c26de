//! Sector airtime at the busy hour, and who gets in when it runs out.

use std::cmp::Reverse;

use model::plan::ServicePlan;
use serde::Serialize;

use crate::frame;
use crate::link::{Link, LinkDirection};
use crate::radio::ReadyNetwork;

/// What a sector lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Room {
    /// Its airtime is spent at the busy hour.
    Airtime,
    /// Its radio holds no more terminals, or no more traffic at its Ethernet port.
    Equipment,
}

/// The links of one premises, and which of them was admitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidates {
    /// Links in falling order of margin, each with the index of its sector.
    pub links: Vec<(usize, Link)>,
    /// Index into `links` of the one that serves.
    pub serving: Option<usize>,
    /// Why no link that works was admitted.
    pub refused: Option<Room>,
}

/// Load of one sector at the busy hour.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct SectorLoad {
    /// Terminals served.
    pub terminals: u32,
    /// Share of the downlink in use.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink in use.
    pub uplink_airtime_frac: f64,
    /// Traffic towards the customers.
    pub downlink_mbps: f64,
    /// Traffic from the customers.
    pub uplink_mbps: f64,
}

/// Loads by sector.
#[derive(Debug, Clone, PartialEq)]
pub struct Admission {
    /// By sector, in the network's order.
    pub loads: Vec<SectorLoad>,
}

impl Admission {
    /// Admits premises to sectors, filling in `serving` and `refused`.
    ///
    /// Higher priority first; then the one whose best link is strongest: a full
    /// sector keeps its surest links. A premises whose best
    /// sector is full tries its next best.
    pub fn admit(ready: &ReadyNetwork<'_>, premises: &mut [Candidates]) -> Self {
        let mut admission = Self {
            loads: vec![SectorLoad::default(); ready.sectors.len()],
        };
        let mut order: Vec<usize> = (0..premises.len()).collect();
        order.sort_by(|a, b| {
            let priority = |p: &usize| Reverse(ready.network.premises[*p].priority);
            let margin = |p: &usize| best_margin_db(&premises[*p]);
            priority(a)
                .cmp(&priority(b))
                .then(margin(b).total_cmp(&margin(a)))
                .then(a.cmp(b))
        });
        for p in order {
            let plan = &ready.network.premises[p].plan;
            let candidates = &mut premises[p];
            for (i, (sector, link)) in candidates.links.iter().enumerate() {
                if !link.margin_db().is_some_and(|m| m >= 0.0) {
                    break;
                }
                match admission.try_add(ready, *sector, (plan, link)) {
                    Ok(()) => {
                        candidates.serving = Some(i);
                        candidates.refused = None;
                        break;
                    }
                    Err(room) => candidates.refused = candidates.refused.or(Some(room)),
                }
            }
        }
        admission
    }

    fn try_add(
        &mut self,
        ready: &ReadyNetwork<'_>,
        sector: usize,
        (plan, link): (&ServicePlan, &Link),
    ) -> Result<(), Room> {
        let radio = ready.sectors[sector].sector;
        let demand = demand(ready, sector, (plan, link));
        let load = &mut self.loads[sector];
        let after = SectorLoad {
            terminals: load.terminals + 1,
            downlink_airtime_frac: load.downlink_airtime_frac + demand.downlink_airtime_frac,
            uplink_airtime_frac: load.uplink_airtime_frac + demand.uplink_airtime_frac,
            downlink_mbps: load.downlink_mbps + demand.downlink_mbps,
            uplink_mbps: load.uplink_mbps + demand.uplink_mbps,
        };
        let most_frac = ready.network.study.max_airtime_frac;
        if after.terminals > radio.base_station.max_terminals
            || after.downlink_mbps + after.uplink_mbps > radio.base_station.max_aggregate_mbps
        {
            return Err(Room::Equipment);
        }
        // So written, a share that is not a number is turned away too.
        if after.downlink_airtime_frac <= most_frac && after.uplink_airtime_frac <= most_frac {
            *load = after;
            Ok(())
        } else {
            Err(Room::Airtime)
        }
    }
}

/// What one premises asks of its sector at the busy hour.
fn demand(
    ready: &ReadyNetwork<'_>,
    sector: usize,
    (plan, link): (&ServicePlan, &Link),
) -> SectorLoad {
    let radio = ready.sectors[sector].sector;
    let busy_frac = frame::busy_frame_frac(&radio.air_interface, radio.split);
    SectorLoad {
        terminals: 1,
        downlink_airtime_frac: share_frac(&link.downlink, plan.demand_downlink_mbps()) / busy_frac,
        uplink_airtime_frac: uplink_share_frac(plan, link),
        downlink_mbps: plan.demand_downlink_mbps(),
        uplink_mbps: plan.demand_uplink_mbps(),
    }
}

/// Share of the uplink's capacity that a link's busy-hour demand takes.
pub fn uplink_share_frac(plan: &ServicePlan, link: &Link) -> f64 {
    share_frac(&link.uplink, plan.demand_uplink_mbps())
}

/// Share of a direction's capacity that a demand takes at the busy hour's
/// step; all of it and more where no step holds.
fn share_frac(direction: &LinkDirection, demand_mbps: f64) -> f64 {
    direction
        .busy_step
        .map_or(f64::INFINITY, |s| demand_mbps * s.channel_per_mbps())
}

fn best_margin_db(candidates: &Candidates) -> f64 {
    candidates
        .links
        .first()
        .and_then(|(_, link)| link.margin_db())
        .unwrap_or(f64::NEG_INFINITY)
}
