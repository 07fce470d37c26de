//! Sharing what is left: flows take turns, each with an allowance a round
//! (deficit round robin, M. Shreedhar and G. Varghese, 1996).
//!
//! Allowances in bytes give equal rates, in slots equal airtime, in weighted
//! bytes rates as the weights. A flow whose turn the end of the frame cut short
//! goes on in the next frame. Room that is left when the next flow's terminal
//! cannot be named any more goes to those the frame names already; they run
//! into debt for it, so that shares stay fair over time.

use std::collections::VecDeque;

use crate::scene::BestEffortShare;
use crate::scheduler::Served;
use crate::sector::Sector;

/// Flows of one priority that share.
#[derive(Debug, Default)]
pub(crate) struct Ring {
    pub(crate) priority: u8,
    pub(crate) members: VecDeque<u32>,
}

impl Sector<'_> {
    pub(crate) fn serve_rings(&mut self, side: usize) {
        for ring in 0..self.sides[side].rings.len() {
            self.take_turns((side, ring));
            self.fill_up((side, ring));
        }
    }

    /// Turns from the front of the ring on, until the frame is full or nobody takes anything.
    fn take_turns(&mut self, at: (usize, usize)) {
        let mut fruitless = 0;
        while let Some(&flow) = self.sides[at.0].rings[at.1].members.front() {
            let members = self.sides[at.0].rings[at.1].members.len();
            if fruitless >= members || self.sides[at.0].region.is_full() {
                return;
            }
            let flow = flow as usize;
            self.flows[flow].expire(self.now_us);
            if !self.flows[flow].has_work() {
                self.leave_ring(at, flow);
                continue;
            }
            match self.take_turn(flow) {
                Turn::Goes => return,
                Turn::Fruitful => fruitless = 0,
                // Each round brings a debtor nearer to its next turn.
                Turn::InDebt => {}
                Turn::Fruitless => fruitless += 1,
            }
            self.flows[flow].has_turn = false;
            self.sides[at.0].rings[at.1].members.rotate_left(1);
        }
    }

    fn take_turn(&mut self, flow: usize) -> Turn {
        let allowance = self.allowance(flow);
        let frame = self.frame;
        let state = &mut self.flows[flow];
        if !state.has_turn {
            state.has_turn = true;
            state.deficit = (state.deficit + allowance).min(allowance);
        }
        let mut fruitful = false;
        loop {
            let state = &mut self.flows[flow];
            let allowed = state.allowed_bytes(frame);
            if state.deficit <= 0.0 {
                return if fruitful || allowed <= 0.0 {
                    Turn::of(fruitful)
                } else {
                    Turn::InDebt
                };
            }
            let in_turn = self.allowed_in_turn(flow).min(allowed);
            match self.serve(flow, in_turn) {
                Served::Sent { fresh_bytes, slots } => {
                    self.charge(flow, fresh_bytes, slots);
                    fruitful = true;
                    if !self.flows[flow].has_work() {
                        return Turn::Fruitful;
                    }
                }
                Served::Nothing => return Turn::of(fruitful),
                Served::NoRoom => return Turn::Goes,
            }
        }
    }

    /// Room that is left goes to terminals the frame names already.
    fn fill_up(&mut self, at: (usize, usize)) {
        for place in 0..self.sides[at.0].rings[at.1].members.len() {
            if self.sides[at.0].region.is_full() {
                return;
            }
            let flow = self.sides[at.0].rings[at.1].members[place] as usize;
            if !self.sides[at.0].region.names(self.flows[flow].terminal) {
                continue;
            }
            let allowed = self.flows[flow].allowed_bytes(self.frame);
            if let Served::Sent { fresh_bytes, slots } = self.serve(flow, allowed) {
                self.charge(flow, fresh_bytes, slots);
            }
        }
    }

    /// What a round adds, in the unit of the share.
    fn allowance(&self, flow: usize) -> f64 {
        let policy = &self.scene.policy;
        let round_bytes = f64::from(policy.round_bytes);
        match policy.best_effort {
            BestEffortShare::EqualRate => round_bytes,
            BestEffortShare::Weighted => round_bytes * self.flows[flow].weight,
            BestEffortShare::EqualAirtime => self.round_slots[self.flows[flow].side],
        }
    }

    /// New bytes that the rest of the turn allows.
    fn allowed_in_turn(&self, flow: usize) -> f64 {
        let state = &self.flows[flow];
        match self.scene.policy.best_effort {
            BestEffortShare::EqualRate | BestEffortShare::Weighted => state.deficit,
            BestEffortShare::EqualAirtime => {
                let link = self.channels.link(state.terminal, state.side);
                state.deficit * f64::from(link.slot_bits) / 8.0
            }
        }
    }

    fn charge(&mut self, flow: usize, fresh_bytes: u64, slots: u32) {
        let state = &mut self.flows[flow];
        state.pay(fresh_bytes);
        state.deficit -= match self.scene.policy.best_effort {
            BestEffortShare::EqualRate | BestEffortShare::Weighted => fresh_bytes as f64,
            BestEffortShare::EqualAirtime => f64::from(slots),
        };
    }

    fn leave_ring(&mut self, at: (usize, usize), flow: usize) {
        self.sides[at.0].rings[at.1].members.pop_front();
        let state = &mut self.flows[flow];
        state.listed.in_ring = false;
        state.has_turn = false;
        // Neither allowance nor debt outlasts the work.
        state.deficit = 0.0;
    }
}

/// How a turn ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    /// The frame has no more room: the turn goes on in the next.
    Goes,
    Fruitful,
    InDebt,
    Fruitless,
}

impl Turn {
    fn of(fruitful: bool) -> Self {
        if fruitful {
            Self::Fruitful
        } else {
            Self::Fruitless
        }
    }
}
