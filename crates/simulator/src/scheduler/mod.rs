//! One frame: who gets which slots.
//!
//! Classes in strict order: unsolicited grants, extended grants, the floors of
//! real-time and of non-real-time polling, what real-time polling wants beyond
//! its floor; non-real-time polling beyond its floor and best effort share the
//! rest in [`ring`]. Uplink puts invitations to ask, and answers to requests
//! heard in contention, between the grants and the floors. Within a class the
//! higher traffic priority goes first; equal flows take turns at being first.

mod granted;
mod polled;
pub(crate) mod region;
pub(crate) mod requests;
pub(crate) mod ring;

use crate::flow::Sending;
use crate::scene::Class;
use crate::sector::Sector;
use region::{Region, Room};
use ring::Ring;

/// Flows of a class and priority that have work.
#[derive(Debug)]
pub(crate) struct Tier {
    pub(crate) class: Class,
    pub(crate) priority: u8,
    pub(crate) members: Vec<u32>,
}

/// Slots of one direction, summed over frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct SlotCounts {
    pub(crate) by_class: [u64; 5],
    pub(crate) requests: u64,
    pub(crate) maps: u64,
    pub(crate) idle: u64,
    pub(crate) bursts: u64,
}

/// One direction of the sector.
#[derive(Debug)]
pub(crate) struct Side {
    pub(crate) region: Region,
    /// By class, then from high to low priority.
    pub(crate) tiers: Vec<Tier>,
    /// From high to low priority.
    pub(crate) rings: Vec<Ring>,
    pub(crate) counts: SlotCounts,
}

/// What came of serving a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Served {
    /// It sent something.
    Sent {
        /// For the first time, without headers.
        fresh_bytes: u64,
        /// Of the frame.
        slots: u32,
    },
    /// It has nothing to send now, or its terminal can take no more.
    Nothing,
    /// The frame has no room for it.
    NoRoom,
}

impl Sector<'_> {
    pub(crate) fn schedule(&mut self) {
        self.schedule_uplink();
        let uplink_bursts = self.sides[1].region.bursts();
        let limits = self.slots.downlink(uplink_bursts);
        self.sides[0].region.open(self.frame, limits);
        self.serve_granted(0);
        self.serve_data(0);
        self.count(0, self.slots.downlink_and_maps);
    }

    fn schedule_uplink(&mut self) {
        self.hear_answers();
        self.sides[1].region.open(self.frame, &self.uplink_limits);
        self.serve_granted(1);
        self.invite();
        self.serve_data(1);
        self.contend();
        self.count(1, self.slots.uplink);
    }

    fn serve_data(&mut self, side: usize) {
        self.serve_floors(side, Class::RealTimePolling);
        self.serve_floors(side, Class::NonRealTimePolling);
        self.serve_real_time(side);
        self.serve_rings(side);
    }

    fn count(&mut self, side: usize, slots_and_maps: u32) {
        let Side { region, counts, .. } = &mut self.sides[side];
        counts.maps += u64::from(slots_and_maps - region.limit());
        counts.idle += u64::from(region.limit() - region.used_slots());
        counts.bursts += u64::from(region.bursts());
    }

    /// How what is sent now is sent.
    fn sending(&self, flow: usize) -> Sending {
        let state = &self.flows[flow];
        let policy = &self.scene.policy;
        Sending {
            framing: policy.framing,
            arq: policy.arq,
            frame: self.frame,
            received_us: self.now_us + self.received_after_us[state.side],
            error_frac: self.channels.link(state.terminal, state.side).error_frac,
        }
    }

    /// Serves a flow up to so many new bytes, or what room there is.
    pub(crate) fn serve(&mut self, flow: usize, fresh_bytes: f64) -> Served {
        let sending = self.sending(flow);
        let state = &mut self.flows[flow];
        // Packets thrown away at the terminal may be known here still.
        state.known_bytes = state.known_bytes.min(state.queue.ready_bytes());
        let fresh_bytes = fresh_bytes.min(state.queue.ready_bytes() as f64);
        if fresh_bytes <= 0.0 && state.retries.next_bytes(self.frame) == 0 {
            return Served::Nothing;
        }
        let link = self.channels.link(state.terminal, state.side);
        let side = &mut self.sides[state.side];
        let room_bytes = match side.region.room(state.terminal, link) {
            Room::Bytes(bytes) => bytes,
            Room::Full => return Served::NoRoom,
            Room::TerminalAtLimit => return Served::Nothing,
        };
        let due = self.acknowledgements.due_after(state.round_trip_frames);
        let sent = state.send((room_bytes, fresh_bytes), &sending, due);
        if sent.burst_bytes == 0 {
            return Served::NoRoom;
        }
        let slots = side.region.take(state.terminal, link, sent.burst_bytes);
        state.tally.slots += u64::from(slots);
        side.counts.by_class[state.class as usize] += u64::from(slots);
        if state.is_endless {
            state.lengthen();
        }
        // What is sent in the uplink says how much is left.
        state.known_bytes = state.queue.ready_bytes();
        Served::Sent {
            fresh_bytes: sent.fresh_bytes,
            slots,
        }
    }
}
