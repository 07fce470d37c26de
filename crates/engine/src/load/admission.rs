//! Who gets into a sector when its airtime runs out.

use std::cmp::Reverse;

use model::plan::ServicePlan;
use model::settings::StudySettings;
use serde::Serialize;

use crate::frame::Direction;
use crate::link::Link;
use crate::load::account::{self, Sums};
use crate::load::cost;
use crate::load::frame_budget::{Bursts, FrameBudget};
use crate::radio::{ReadyNetwork, ReadySector};

/// What a sector lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Room {
    /// Its airtime is spent at the busy hour.
    Airtime,
    /// Its radio holds no more terminals, or no more traffic or packets at its Ethernet port.
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
    /// Share of the downlink's data slots that is reserved or in use.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink's data slots that is reserved or in use.
    pub uplink_airtime_frac: f64,
    /// Traffic towards the customers.
    pub downlink_mbps: f64,
    /// Traffic from the customers.
    pub uplink_mbps: f64,
    /// Packets, both directions.
    pub packets_per_s: f64,
}

/// A sector as far as its load is concerned.
#[derive(Debug, Clone, Copy)]
pub struct LoadedSector<'a> {
    /// The sector.
    pub ready: &'a ReadySector<'a>,
    /// What the design asks for.
    pub study: &'a StudySettings,
}

impl<'a> LoadedSector<'a> {
    /// One sector of a network.
    pub fn new(ready: &'a ReadyNetwork<'a>, sector: usize) -> Self {
        Self {
            ready: &ready.sectors[sector],
            study: &ready.network.study,
        }
    }

    /// Its frame.
    pub fn budget(&self) -> FrameBudget<'a> {
        let sector = self.ready.sector;
        FrameBudget::new(&sector.air_interface, sector.split)
    }

    /// What sums of customers make of its busy hour.
    pub fn load(&self, sums: &Sums) -> SectorLoad {
        let [downlink, uplink] =
            account::airtime(&self.budget(), sums, self.study.call_blocking_frac);
        SectorLoad {
            terminals: sums.terminals.round() as u32,
            downlink_airtime_frac: downlink.airtime_frac(),
            uplink_airtime_frac: uplink.airtime_frac(),
            downlink_mbps: sums.sides[0].demand_mbps,
            uplink_mbps: sums.sides[1].demand_mbps,
            packets_per_s: sums.packets_per_s,
        }
    }

    /// What a load has no room for.
    pub fn lacks(&self, load: &SectorLoad) -> Option<Room> {
        let radio = &self.ready.sector.base_station;
        let most_frac = self.study.max_airtime_frac;
        let within_radio = load.terminals <= radio.max_terminals
            && load.downlink_mbps + load.uplink_mbps <= radio.max_aggregate_mbps
            && load.packets_per_s <= radio.max_packets_per_s;
        // So written, a share that is not a number is turned away too.
        let within_air =
            load.downlink_airtime_frac <= most_frac && load.uplink_airtime_frac <= most_frac;
        match (within_radio, within_air) {
            (false, _) => Some(Room::Equipment),
            (true, false) => Some(Room::Airtime),
            (true, true) => None,
        }
    }
}

/// Loads by sector.
#[derive(Debug, Clone, PartialEq)]
pub struct Admission {
    /// By sector, in the network's order.
    pub loads: Vec<SectorLoad>,
    /// The same, as sums.
    pub sums: Vec<Sums>,
}

impl Admission {
    /// Admits premises to sectors, filling in `serving` and `refused`.
    ///
    /// Higher priority first; then the one whose best link is strongest: a full
    /// sector keeps its surest links. A premises whose best
    /// sector is full tries its next best.
    pub fn admit(ready: &ReadyNetwork<'_>, premises: &mut [Candidates]) -> Self {
        let count = ready.sectors.len();
        let sectors: Vec<LoadedSector<'_>> =
            (0..count).map(|s| LoadedSector::new(ready, s)).collect();
        let mut admission = Self {
            loads: vec![SectorLoad::default(); count],
            sums: vec![Sums::default(); count],
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
                match admission.try_add(&sectors[*sector], *sector, (plan, link)) {
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
        loaded: &LoadedSector<'_>,
        sector: usize,
        (plan, link): (&ServicePlan, &Link),
    ) -> Result<(), Room> {
        let Some(steps) = cost::steps_of(link) else {
            return Err(Room::Airtime);
        };
        let ask = cost::ask(&loaded.budget(), plan, (&steps, 0.0));
        let sums = self.sums[sector].plus(&ask, 1.0);
        let load = loaded.load(&sums);
        match loaded.lacks(&load) {
            Some(room) => Err(room),
            None => {
                self.loads[sector] = load;
                self.sums[sector] = sums;
                Ok(())
            }
        }
    }
}

/// Share of the uplink's slots that a link's busy-hour demand takes on average.
pub fn uplink_share_frac(
    ready: &ReadyNetwork<'_>,
    plan: &ServicePlan,
    (sector, link): (usize, &Link),
) -> f64 {
    let budget = LoadedSector::new(ready, sector).budget();
    let Some(steps) = cost::steps_of(link) else {
        return f64::INFINITY;
    };
    let sums = cost::ask(&budget, plan, (&steps, 0.0));
    let one_each = Bursts {
        downlink: 1.0,
        uplink: 1.0,
    };
    sums.mean_slots(1) / budget.data_slots(Direction::Uplink, one_each)
}

fn best_margin_db(candidates: &Candidates) -> f64 {
    candidates
        .links
        .first()
        .and_then(|(_, link)| link.margin_db())
        .unwrap_or(f64::NEG_INFINITY)
}
