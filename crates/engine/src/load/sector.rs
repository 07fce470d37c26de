//! What a study says of a sector's load.

use model::SchedulingClass;
use model::air_interface::FrameSplit;
use model::ids::{PlanId, PremisesId, SectorId};
use serde::Serialize;

use crate::frame;
use crate::load::account::{self, Airtime, Sums};
use crate::load::admission::{Admission, Candidates, LoadedSector, SectorLoad};
use crate::load::cost::{self, DIRECTIONS};
use crate::load::frame_budget::{Bursts, FrameBudget};
use crate::load::growth::{self, YearLoad};
use crate::load::rates::{self, Customer, CustomerRate};
use crate::load::room::{self, RoomFor};
use crate::radio::ReadyNetwork;

/// Load, room and growth of one sector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectorCapacity {
    /// The sector.
    pub sector: SectorId,
    /// Load at the busy hour.
    pub load: SectorLoad,
    /// Terminals that its radio holds.
    pub max_terminals: u32,
    /// Traffic that its radio carries, both directions.
    pub max_aggregate_mbps: f64,
    /// Packets that its radio carries, both directions.
    pub max_packets_per_s: f64,
    /// Towards the customers.
    pub downlink: DirectionCapacity,
    /// From the customers.
    pub uplink: DirectionCapacity,
    /// Its calls.
    pub calls: CallLoad,
    /// What each customer may expect, in the order of the premises.
    pub customers: Vec<CustomerLoad>,
    /// Step of the median link, downlink; `None` without customers.
    pub median_mcs: Option<String>,
    /// How many more of each plan fit, with the median link; empty without customers.
    pub room: Vec<RoomFor>,
    /// The present customers in the years to come.
    pub growth: Vec<YearLoad>,
    /// First year in which it is full; `None` where it never is.
    pub full_in_year: Option<u32>,
    /// The same load under every split of the card.
    pub splits: Vec<SplitLoad>,
}

/// One direction of a sector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DirectionCapacity {
    /// Highest rate on the air: one customer with the fastest step, alone.
    pub peak_phy_mbps: f64,
    /// What the direction carries when it is full, with the present mix of customers and plans.
    pub capacity_mbps: f64,
    /// Traffic at the busy hour, what is guaranteed counted whole.
    pub traffic_mbps: f64,
    /// Everything sold, over the capacity.
    pub contention: f64,
    /// Bursts of a frame.
    pub bursts_per_frame: f64,
    /// Slots of a frame for data, the maps of the busy hour taken off.
    pub data_slots_per_frame: f64,
    /// Load in time of the elastic data, in what the guaranteed services leave.
    pub elastic_load_frac: f64,
    /// Where the direction's symbols go; the shares add up to 1.
    pub symbols: SymbolShares,
}

/// Where the symbols of a direction go, as shares of all of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SymbolShares {
    /// Preamble, header and maps, control, and what does not fill a slot.
    pub overhead_frac: f64,
    /// Fragments of elastic data and requests.
    pub handling_frac: f64,
    /// Data by class.
    pub classes: Vec<ClassShare>,
    /// Nothing; below 0 where more is asked for than there is.
    pub free_frac: f64,
}

/// One class.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ClassShare {
    /// The class.
    pub class: SchedulingClass,
    /// Reserved.
    pub guaranteed_frac: f64,
    /// Elastic.
    pub elastic_frac: f64,
}

/// Calls of a sector at the busy hour.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct CallLoad {
    /// Lines.
    pub lines: f64,
    /// Traffic offered.
    pub offered_erlang: f64,
    /// Calls for which there are grants.
    pub calls_at_once: f64,
}

/// What one customer may expect.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CustomerLoad {
    /// The premises.
    pub premises: PremisesId,
    /// What is bought.
    pub plan: PlanId,
    /// Step of elastic data, downlink.
    pub mcs_name: String,
    /// Bits that a slot of the downlink carries for it.
    pub downlink_bits_per_slot: f64,
    /// Bits that a slot of the uplink carries for it.
    pub uplink_bits_per_slot: f64,
    /// Towards the customer.
    pub downlink: CustomerRate,
    /// From the customer.
    pub uplink: CustomerRate,
}

/// A sector's load under a split.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SplitLoad {
    /// The split.
    pub split: FrameSplit,
    /// Share of the downlink that is reserved or in use.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink that is reserved or in use.
    pub uplink_airtime_frac: f64,
    /// Farthest terminal that its gap allows.
    pub guard_range_m: f64,
    /// Whether the sector has it.
    pub in_use: bool,
}

impl SplitLoad {
    /// The busier direction.
    pub fn busier_frac(&self) -> f64 {
        self.downlink_airtime_frac.max(self.uplink_airtime_frac)
    }
}

impl SectorCapacity {
    /// The split under which the busier direction is least busy; the one in use among equals.
    pub fn best_split(&self) -> Option<&SplitLoad> {
        self.splits.iter().min_by(|a, b| {
            let order = a.busier_frac().total_cmp(&b.busier_frac());
            order.then(b.in_use.cmp(&a.in_use))
        })
    }
}

/// A sector's customers, with the index of each premises.
fn customers<'a>(
    ready: &'a ReadyNetwork<'a>,
    sector: usize,
    premises: &[Candidates],
) -> Vec<(usize, Customer<'a>)> {
    premises
        .iter()
        .enumerate()
        .filter_map(|(p, candidates)| {
            let (own, link) = &candidates.links[candidates.serving?];
            let plan = ready.network.premises[p].plan.as_ref();
            let steps = cost::steps_of(link).filter(|_| *own == sector)?;
            Some((p, Customer { plan, steps }))
        })
        .collect()
}

/// What a study says of every sector's load.
///
/// * `admission`: the sums are the admission's own, so that there is one account.
pub fn capacities(
    ready: &ReadyNetwork<'_>,
    premises: &[Candidates],
    admission: &Admission,
) -> Vec<SectorCapacity> {
    (0..ready.sectors.len())
        .map(|s| {
            let (indices, own): (Vec<usize>, Vec<Customer<'_>>) =
                customers(ready, s, premises).into_iter().unzip();
            capacity((ready, s), &admission.sums[s], (&indices, &own))
        })
        .collect()
}

fn capacity(
    (ready, sector): (&ReadyNetwork<'_>, usize),
    sums: &Sums,
    (indices, own): (&[usize], &[Customer<'_>]),
) -> SectorCapacity {
    let loaded = LoadedSector::new(ready, sector);
    let (s, study) = (loaded.ready, loaded.study);
    let budget = loaded.budget();
    let airtime = account::airtime(&budget, sums, study.call_blocking_frac);
    let rates = rates::expected(&budget, &airtime, (own, study.best_effort_sharing, 0.0));
    let growth = growth::years(&loaded, own);
    let median = median(&budget, own);
    let step_name = |c: &Customer<'_>| {
        let step = c.steps[0].elastic;
        s.sector.air_interface.mcs[step.mcs].name.clone()
    };
    let bits =
        |c: &Customer<'_>, d: usize| budget.bits_per_slot(&c.steps[d].elastic, DIRECTIONS[d]);
    let radio = &s.sector.base_station;
    SectorCapacity {
        sector: s.sector.id.clone(),
        load: loaded.load(sums),
        max_terminals: radio.max_terminals,
        max_aggregate_mbps: radio.max_aggregate_mbps,
        max_packets_per_s: radio.max_packets_per_s,
        downlink: direction(&loaded, sums, (0, &airtime[0])),
        uplink: direction(&loaded, sums, (1, &airtime[1])),
        calls: calls(sums, study.call_blocking_frac),
        customers: indices
            .iter()
            .zip(own)
            .zip(rates)
            .map(|((p, customer), [downlink, uplink])| CustomerLoad {
                premises: ready.network.premises[*p].id.clone(),
                plan: customer.plan.id.clone(),
                mcs_name: step_name(customer),
                downlink_bits_per_slot: bits(customer, 0),
                uplink_bits_per_slot: bits(customer, 1),
                downlink,
                uplink,
            })
            .collect(),
        median_mcs: median.map(step_name),
        room: median.map_or_else(Vec::new, |m| {
            let plans = ready.network.plans.values();
            plans
                .map(|plan| room::room(&loaded, sums, (plan, &m.steps, 0.0)))
                .collect()
        }),
        full_in_year: growth.iter().find(|y| y.lacks.is_some()).map(|y| y.year),
        growth,
        splits: splits(&loaded, sums),
    }
}

/// The customer in the middle when they are put in order of what a slot carries for them.
fn median<'c, 'a>(
    budget: &FrameBudget<'_>,
    customers: &'c [Customer<'a>],
) -> Option<&'c Customer<'a>> {
    let mut order: Vec<(f64, usize)> = customers
        .iter()
        .enumerate()
        .map(|(i, c)| (budget.bits_per_slot(&c.steps[0].elastic, DIRECTIONS[0]), i))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let (_, middle) = order.get(order.len() / 2)?;
    customers.get(*middle)
}

fn calls(sums: &Sums, blocking_frac: f64) -> CallLoad {
    sums.calls
        .iter()
        .fold(CallLoad::default(), |all, pool| CallLoad {
            lines: all.lines + pool.lines,
            offered_erlang: all.offered_erlang + pool.offered_erlang,
            calls_at_once: all.calls_at_once + pool.calls(blocking_frac),
        })
}

fn direction(
    loaded: &LoadedSector<'_>,
    sums: &Sums,
    (d, airtime): (usize, &Airtime),
) -> DirectionCapacity {
    let budget = loaded.budget();
    let side = &sums.sides[d];
    let capacity_mbps = full_mbps(loaded, sums, d);
    DirectionCapacity {
        peak_phy_mbps: peak_phy_mbps(loaded, d),
        capacity_mbps,
        traffic_mbps: side.demand_mbps,
        contention: if capacity_mbps > 0.0 {
            traffic::demand::contention(side.sold_mbps, capacity_mbps)
        } else {
            0.0
        },
        bursts_per_frame: airtime.bursts,
        data_slots_per_frame: airtime.data_slots,
        elastic_load_frac: airtime.elastic_load_frac(),
        symbols: symbols(&budget, airtime),
    }
}

/// Where the symbols go.
fn symbols(budget: &FrameBudget<'_>, airtime: &Airtime) -> SymbolShares {
    let of_all = |slots: f64| slots / airtime.all_slots;
    let overhead_frac = if budget.has_slots() {
        of_all(airtime.all_slots - airtime.data_slots)
    } else {
        0.0
    };
    SymbolShares {
        overhead_frac,
        handling_frac: of_all(airtime.handling),
        classes: SchedulingClass::ALL
            .into_iter()
            .map(|class| ClassShare {
                class,
                guaranteed_frac: of_all(airtime.reserved[class as usize]),
                elastic_frac: of_all(airtime.elastic[class as usize]),
            })
            .collect(),
        free_frac: of_all(airtime.data_slots) * (1.0 - airtime.airtime_frac()),
    }
}

fn peak_phy_mbps(loaded: &LoadedSector<'_>, d: usize) -> f64 {
    let tables = match d {
        0 => &loaded.ready.downlink,
        _ => &loaded.ready.uplink,
    };
    let steps = tables.iter().flat_map(|table| table.steps());
    steps.map(|s| s.phy_rate_mbps).fold(0.0, f64::max)
}

/// What a direction carries when the present customers, all multiplied alike, fill it.
fn full_mbps(loaded: &LoadedSector<'_>, sums: &Sums, d: usize) -> f64 {
    if sums.mean_slots(d) <= 0.0 {
        return 0.0;
    }
    let budget = loaded.budget();
    let blocking_frac = loaded.study.call_blocking_frac;
    let is_full = |times: f64| {
        let sums = Sums::default().plus(sums, times);
        account::airtime(&budget, &sums, blocking_frac)[d].airtime_frac() >= 1.0
    };
    let mut high = 1.0;
    while !is_full(high) && high < 1e9 {
        high *= 2.0;
    }
    let mut low = 0.0;
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if is_full(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    low * sums.sides[d].demand_mbps
}

fn splits(loaded: &LoadedSector<'_>, sums: &Sums) -> Vec<SplitLoad> {
    let sector = loaded.ready.sector;
    let card = &sector.air_interface;
    let mut splits = card.splits.clone();
    if !splits.contains(&sector.split) {
        splits.push(sector.split);
    }
    splits
        .into_iter()
        .map(|split| {
            let budget = FrameBudget::new(card, split);
            let [downlink, uplink] =
                account::airtime(&budget, sums, loaded.study.call_blocking_frac);
            SplitLoad {
                split,
                downlink_airtime_frac: downlink.airtime_frac(),
                uplink_airtime_frac: uplink.airtime_frac(),
                guard_range_m: frame::guard_range_m(card, split),
                in_use: split == sector.split,
            }
        })
        .collect()
}

/// Slots of a frame with one burst each way: what the frame has room for at best.
pub fn idle_data_slots(budget: &FrameBudget<'_>, d: usize) -> f64 {
    let one_each = Bursts {
        downlink: 1.0,
        uplink: 1.0,
    };
    budget.data_slots(DIRECTIONS[d], one_each)
}
