//! A sector's customers added up, and what comes of it.
//!
//! Everything that adds is a sum, so that one more customer costs one
//! addition. What does not add is worked out from the sums: calls share their
//! grants (Erlang B), and the maps grow with the bursts, which grow with the load.

use std::array;

use traffic::{erlang, on_off};

use crate::load::cost::DIRECTIONS;
use crate::load::frame_budget::{Bursts, FrameBudget};

/// Number of scheduling classes.
pub const CLASSES: usize = 5;

/// Most customers of elastic data that a scheduler serves in one frame and direction,
/// however many wait: more would only lengthen the maps. Common practice, no source.
pub const MOST_ELASTIC_BURSTS: f64 = 8.0;

/// Share of the time for which the grants of calls with silence suppression suffice.
/// Common practice, no source.
pub const TALKERS_QUANTILE_FRAC: f64 = 0.99;

/// Sums over customers. Slots and bursts are those of one frame, on average.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Customers.
    pub terminals: f64,
    /// Downlink and uplink.
    pub sides: [Side; 2],
    /// Calls with constant packets, and calls with silence suppression.
    pub calls: [CallPool; 2],
    /// Packets, both directions.
    pub packets_per_s: f64,
}

/// Sums of one direction.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Side {
    /// Slots reserved by class, calls apart.
    pub reserved: [f64; CLASSES],
    /// Slots of the reserved ones that are used on average.
    pub used: [f64; CLASSES],
    /// Slots for elastic data by class.
    pub elastic: [f64; CLASSES],
    /// Bits of elastic data.
    pub elastic_bits: f64,
    /// Customers with elastic data.
    pub elastic_terminals: f64,
    /// Bursts of what is guaranteed, polls among them.
    pub bursts: f64,
    /// Traffic: what is guaranteed counted whole, calls and circuits at their mean.
    pub demand_mbps: f64,
    /// Everything sold at once.
    pub sold_mbps: f64,
}

/// Calls that share their grants.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CallPool {
    /// Lines.
    pub lines: f64,
    /// Traffic offered.
    pub offered_erlang: f64,
    /// Part of it in which packets are sent.
    pub active_erlang: f64,
    /// Traffic times slots of an active call, by direction.
    pub erlang_slots: [f64; 2],
    /// Traffic times bursts of an active call, by direction.
    pub erlang_bursts: [f64; 2],
}

impl Sums {
    /// These and some more of the others.
    pub fn plus(&self, other: &Self, times: f64) -> Self {
        Self {
            terminals: self.terminals + times * other.terminals,
            sides: array::from_fn(|d| self.sides[d].plus(&other.sides[d], times)),
            calls: array::from_fn(|p| self.calls[p].plus(&other.calls[p], times)),
            packets_per_s: self.packets_per_s + times * other.packets_per_s,
        }
    }

    /// Slots of a direction that are taken on average, fragments and requests apart.
    pub fn mean_slots(&self, d: usize) -> f64 {
        let side = &self.sides[d];
        let calls = self.calls.iter();
        let calls = calls.map(|pool| pool.active_erlang * pool.over_offered(pool.erlang_slots[d]));
        side.used.iter().chain(&side.elastic).sum::<f64>() + calls.sum::<f64>()
    }

    /// Traffic of both directions.
    pub fn aggregate_mbps(&self) -> f64 {
        self.sides.iter().map(|side| side.demand_mbps).sum()
    }
}

fn plus_each(own: &[f64; CLASSES], other: &[f64; CLASSES], times: f64) -> [f64; CLASSES] {
    array::from_fn(|class| own[class] + times * other[class])
}

impl Side {
    fn plus(&self, other: &Self, times: f64) -> Self {
        Self {
            reserved: plus_each(&self.reserved, &other.reserved, times),
            used: plus_each(&self.used, &other.used, times),
            elastic: plus_each(&self.elastic, &other.elastic, times),
            elastic_bits: self.elastic_bits + times * other.elastic_bits,
            elastic_terminals: self.elastic_terminals + times * other.elastic_terminals,
            bursts: self.bursts + times * other.bursts,
            demand_mbps: self.demand_mbps + times * other.demand_mbps,
            sold_mbps: self.sold_mbps + times * other.sold_mbps,
        }
    }

    fn elastic_slots(&self) -> f64 {
        self.elastic.iter().sum()
    }

    /// Bits of elastic data that a slot holds on average; the harmonic mean over the traffic.
    fn elastic_bits_per_slot(&self) -> Option<f64> {
        let slots = self.elastic_slots();
        (slots > 0.0).then(|| self.elastic_bits / slots)
    }
}

impl CallPool {
    fn plus(&self, other: &Self, times: f64) -> Self {
        Self {
            lines: self.lines + times * other.lines,
            offered_erlang: self.offered_erlang + times * other.offered_erlang,
            active_erlang: self.active_erlang + times * other.active_erlang,
            erlang_slots: array::from_fn(|d| self.erlang_slots[d] + times * other.erlang_slots[d]),
            erlang_bursts: array::from_fn(|d| {
                self.erlang_bursts[d] + times * other.erlang_bursts[d]
            }),
        }
    }

    /// Calls for which grants are kept, so that no more than a share finds none.
    pub fn calls(&self, blocking_frac: f64) -> f64 {
        let lines = self.lines.ceil();
        erlang::lines_for_blocking(self.offered_erlang, blocking_frac)
            .map_or(lines, f64::from)
            .min(lines)
    }

    /// Calls of those that send at once.
    fn talkers(&self, blocking_frac: f64) -> f64 {
        let calls = self.calls(blocking_frac);
        if self.active_erlang >= self.offered_erlang {
            return calls;
        }
        let activity_frac = self.active_erlang / self.offered_erlang;
        f64::from(on_off::active_users(
            calls as u32,
            activity_frac,
            TALKERS_QUANTILE_FRAC,
        ))
    }

    fn over_offered(&self, sum: f64) -> f64 {
        if self.offered_erlang > 0.0 {
            sum / self.offered_erlang
        } else {
            0.0
        }
    }
}

/// One direction of a sector's busy hour. Slots are those of one frame, on average.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Airtime {
    /// Slots of all symbols, nothing taken off.
    pub all_slots: f64,
    /// Slots for data, at the bursts of the busy hour.
    pub data_slots: f64,
    /// Slots reserved by class, calls among them.
    pub reserved: [f64; CLASSES],
    /// Slots of the reserved ones that are used on average.
    pub used: [f64; CLASSES],
    /// Slots for elastic data by class.
    pub elastic: [f64; CLASSES],
    /// Slots for fragments of elastic data and for requests.
    pub handling: f64,
    /// Bursts.
    pub bursts: f64,
}

impl Airtime {
    /// Share of the data slots that is reserved or taken.
    pub fn airtime_frac(&self) -> f64 {
        let taken = self.reserved_slots() + self.elastic_slots() + self.handling;
        share(taken, self.data_slots)
    }

    /// Slots reserved.
    pub fn reserved_slots(&self) -> f64 {
        self.reserved.iter().sum()
    }

    /// Slots for elastic data.
    pub fn elastic_slots(&self) -> f64 {
        self.elastic.iter().sum()
    }

    /// Slots that elastic data may have on average: all that what is guaranteed leaves unused.
    pub fn elastic_room(&self) -> f64 {
        (self.data_slots - self.used.iter().sum::<f64>() - self.handling).max(0.0)
    }

    /// Load of the elastic data in time: 1 where it takes all it may have.
    pub fn elastic_load_frac(&self) -> f64 {
        share(self.elastic_slots(), self.elastic_room())
    }
}

/// A share of something; more than anything where there is nothing to share.
fn share(part: f64, whole: f64) -> f64 {
    if part <= 0.0 {
        0.0
    } else if whole > 0.0 {
        part / whole
    } else {
        f64::INFINITY
    }
}

/// Rounds in which bursts and load are brought together. The bursts only grow
/// from round to round and are bounded; a few rounds come within a hundredth of a burst.
const ROUNDS: usize = 24;

/// Both directions of a sector's busy hour.
pub fn airtime(budget: &FrameBudget<'_>, sums: &Sums, blocking_frac: f64) -> [Airtime; 2] {
    let talkers = sums
        .calls
        .each_ref()
        .map(|pool| pool.talkers(blocking_frac));
    let mut elastic_bursts = [0.0; 2];
    let mut found = directions(budget, sums, (&talkers, elastic_bursts));
    for _ in 0..ROUNDS {
        let next = array::from_fn(|d| active(&found[d], sums.sides[d].elastic_terminals));
        let settled = (0..2).all(|d: usize| f64::abs(next[d] - elastic_bursts[d]) < 1e-3);
        elastic_bursts = next;
        found = directions(budget, sums, (&talkers, elastic_bursts));
        if settled {
            break;
        }
    }
    found
}

/// Customers of elastic data who are served in a frame: those who are active at
/// once where everybody shares, `ρ/(1 − ρ)`, as far as the scheduler goes.
fn active(airtime: &Airtime, terminals: f64) -> f64 {
    let load = airtime.elastic_load_frac();
    let at_once = if load < 1.0 {
        load / (1.0 - load)
    } else {
        f64::INFINITY
    };
    at_once.min(terminals).min(MOST_ELASTIC_BURSTS)
}

fn directions(
    budget: &FrameBudget<'_>,
    sums: &Sums,
    (talkers, elastic_bursts): (&[f64; 2], [f64; 2]),
) -> [Airtime; 2] {
    let bursts: [f64; 2] = array::from_fn(|d| {
        let calls: f64 = sums.calls.iter().map(|pool| mean_bursts(pool, d)).sum();
        sums.sides[d].bursts + calls + elastic_bursts[d]
    });
    let in_maps = Bursts {
        downlink: bursts[0],
        uplink: bursts[1],
    };
    array::from_fn(|d| {
        let (side, direction) = (&sums.sides[d], DIRECTIONS[d]);
        let fragments = side
            .elastic_bits_per_slot()
            .map_or(0.0, |bits| 8.0 * budget.fragment_overhead_bytes() / bits);
        let requests = if d == 1 { budget.request_slots() } else { 0.0 };
        let (mut reserved, mut used) = (side.reserved, side.used);
        for (class, pool) in sums.calls.iter().enumerate() {
            // UGS and ertPS are the first two classes.
            let slots = pool.over_offered(pool.erlang_slots[d]);
            reserved[class] += talkers[class] * slots;
            used[class] += pool.active_erlang * slots;
        }
        Airtime {
            all_slots: budget.all_slots(direction),
            data_slots: budget.data_slots(direction, in_maps),
            reserved,
            used,
            elastic: side.elastic,
            handling: elastic_bursts[d] * (fragments + requests),
            bursts: bursts[d],
        }
    })
}

fn mean_bursts(pool: &CallPool, d: usize) -> f64 {
    pool.active_erlang * pool.over_offered(pool.erlang_bursts[d])
}
