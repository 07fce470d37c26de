//! What one customer's services take of a frame.

use model::SchedulingClass;
use model::plan::ServicePlan;
use traffic::stream::Stream;

use crate::adaptation::Step;
use crate::frame::Direction;
use crate::link::Link;
use crate::load::account::{CallPool, Sums};
use crate::load::flow::{LAYER, PlanLoad};
use crate::load::frame_budget::FrameBudget;

/// How often the uplink of rtPS is asked whether it has something to send. Common practice, no source.
pub const RTPS_POLL_S: f64 = 0.02;

/// The same for nrtPS. Common practice, no source.
pub const NRTPS_POLL_S: f64 = 1.0;

/// The steps at which a customer's services are counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DirectionSteps {
    /// What is guaranteed: the step that holds with the design's fade margin.
    pub guaranteed: Step,
    /// What is elastic: the step that adaptation uses.
    pub elastic: Step,
}

/// The steps of both directions; `None` where a direction has none.
pub type LinkSteps = [DirectionSteps; 2];

/// The steps of a link; `None` where it does not work in both directions.
pub fn steps_of(link: &Link) -> Option<LinkSteps> {
    let of = |d: &crate::link::LinkDirection| {
        Some(DirectionSteps {
            guaranteed: d.busy_step?,
            elastic: d.elastic_step.or(d.busy_step)?,
        })
    };
    Some([of(&link.downlink)?, of(&link.uplink)?])
}

/// Both directions, in the order of every pair here.
pub const DIRECTIONS: [Direction; 2] = [Direction::Downlink, Direction::Uplink];

/// What a customer of a plan asks of a frame after some years of growth.
pub fn ask(
    budget: &FrameBudget<'_>,
    plan: &ServicePlan,
    (steps, years): (&LinkSteps, f64),
) -> Sums {
    let mut sums = Sums {
        terminals: 1.0,
        ..Sums::default()
    };
    for (d, direction) in DIRECTIONS.into_iter().enumerate() {
        let load = PlanLoad::after_years(plan, direction, years);
        let of_direction = Cost {
            budget,
            direction,
            steps: &steps[d],
        };
        of_direction.add(&load, (d, &mut sums));
    }
    sums
}

/// One direction of one customer.
struct Cost<'a> {
    budget: &'a FrameBudget<'a>,
    direction: Direction,
    steps: &'a DirectionSteps,
}

impl Cost<'_> {
    fn add(&self, load: &PlanLoad, (d, sums): (usize, &mut Sums)) {
        let class = load.class as usize;
        let guaranteed_bits = self.bits(&self.steps.guaranteed);
        let elastic_bits = self.bits(&self.steps.elastic);
        let side = &mut sums.sides[d];
        side.reserved[class] += self.data_slots(load.guaranteed_mbps, (load, guaranteed_bits));
        side.used[class] += if load.class == SchedulingClass::UnsolicitedGrant {
            // Such grants come whether they are used or not.
            self.data_slots(load.guaranteed_mbps, (load, guaranteed_bits))
        } else {
            self.data_slots(load.guaranteed_used_mbps(), (load, elastic_bits))
        };
        side.elastic[class] += self.data_slots(load.elastic_mbps(), (load, elastic_bits));
        side.elastic_bits += load.elastic_mbps() * 1e6 * self.budget.frame_s();
        if load.elastic_mbps() > 0.0 {
            side.elastic_terminals += 1.0;
        }
        side.bursts += self.guaranteed_bursts(load);
        let (polls, poll_slots) = self.polls(load);
        side.bursts += polls;
        side.reserved[class] += poll_slots;
        side.used[class] += poll_slots;
        if let Some((stream, count)) = load.circuits {
            let (slots, bursts) = self.stream_cost(&stream, guaranteed_bits);
            let ugs = SchedulingClass::UnsolicitedGrant as usize;
            side.reserved[ugs] += slots * f64::from(count);
            side.used[ugs] += slots * f64::from(count);
            side.bursts += bursts * f64::from(count);
        }
        side.demand_mbps += load.demand_mbps();
        side.sold_mbps += load.sold_mbps();
        sums.packets_per_s += load.packets_per_s();
        if let Some(calls) = load.calls {
            let (slots, bursts) = self.stream_cost(&calls.stream, guaranteed_bits);
            let suppressed = calls.class == SchedulingClass::ExtendedRealTimePolling;
            let pool: &mut CallPool = &mut sums.calls[usize::from(suppressed)];
            // Both directions are the same calls: they are counted once.
            if d == 0 {
                pool.lines += f64::from(calls.lines);
                pool.offered_erlang += calls.offered_erlang;
                pool.active_erlang += calls.offered_erlang * calls.activity_frac;
            }
            pool.erlang_slots[d] += calls.offered_erlang * slots;
            pool.erlang_bursts[d] += calls.offered_erlang * bursts;
        }
    }

    fn bits(&self, step: &Step) -> f64 {
        self.budget.bits_per_slot(step, self.direction)
    }

    /// Slots of a frame for data at a rate: headers and what is sent again counted.
    fn data_slots(&self, rate_mbps: f64, (load, bits_per_slot): (&PlanLoad, f64)) -> f64 {
        let headed = 1.0 + self.budget.packet_overhead_bytes() / load.packet_bytes.max(1.0);
        let sent = headed / (1.0 - self.budget.block_error_frac());
        rate_mbps * 1e6 * self.budget.frame_s() * sent / bits_per_slot
    }

    /// Bursts of a frame that carry what is guaranteed of the data.
    fn guaranteed_bursts(&self, load: &PlanLoad) -> f64 {
        let rate_mbps = load.guaranteed_used_mbps();
        let packets_per_s = traffic::packets::packets_per_s(rate_mbps, load.packet_bytes.max(1.0));
        (packets_per_s * self.budget.frame_s()).min(1.0)
    }

    /// Bursts and slots of a frame with which the uplink is polled.
    fn polls(&self, load: &PlanLoad) -> (f64, f64) {
        let interval_s = match load.class {
            SchedulingClass::RealTimePolling => RTPS_POLL_S,
            SchedulingClass::NonRealTimePolling => NRTPS_POLL_S,
            _ => return (0.0, 0.0),
        };
        if self.direction == Direction::Downlink {
            return (0.0, 0.0);
        }
        let polls = (self.budget.frame_s() / interval_s).min(1.0);
        (polls, polls * self.budget.request_slots())
    }

    /// Slots and bursts of a frame for a stream of packets at a constant pace.
    ///
    /// A packet that comes less often than the frames has a burst of its own, of
    /// whole slots; a faster stream has one burst a frame, whose last slot is half
    /// empty on average. Nothing is sent again: it would come too late.
    fn stream_cost(&self, stream: &Stream, bits_per_slot: f64) -> (f64, f64) {
        stream_cost(self.budget, stream, bits_per_slot)
    }
}

/// Slots and bursts of a frame for a stream, at a number of bits per slot.
pub fn stream_cost(budget: &FrameBudget<'_>, stream: &Stream, bits_per_slot: f64) -> (f64, f64) {
    let packets = stream.packets_per_s * budget.frame_s();
    let packet_bits = 8.0 * (f64::from(stream.bytes_at(LAYER)) + budget.packet_overhead_bytes());
    let slots = packet_bits / bits_per_slot;
    if !budget.has_slots() {
        (packets * slots, packets.min(1.0))
    } else if packets <= 1.0 {
        (packets * slots.ceil(), packets)
    } else {
        (packets * slots + 0.5, 1.0)
    }
}
