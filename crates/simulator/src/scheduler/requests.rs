//! How the base station learns what waits in the uplink: invitations to ask,
//! requests in contention with truncated binary exponential back-off, and the
//! remainder that every grant's data reports.

use crate::flow::Request;
use crate::queue::Queue;
use crate::scene::Class;
use crate::scheduler::region::Room;
use crate::sector::{Agent, Sector};

/// Counts of requests.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct RequestCounts {
    pub(crate) sent: u64,
    pub(crate) collided: u64,
    pub(crate) polls: u64,
}

/// Requests of the present frame.
#[derive(Debug, Default)]
pub(crate) struct RequestState {
    /// Flows that send a request in contention, with their opportunity.
    attempts: Vec<(u32, u32)>,
    /// Flows to be asked for a request.
    invited: Vec<u32>,
    /// Flows whose request has been read; they are known from the next frame on.
    read: Vec<u32>,
    /// How many chose each opportunity.
    chosen: Vec<u32>,
    pub(crate) counts: RequestCounts,
}

impl Sector<'_> {
    /// A flow of the uplink has something new to send.
    pub(crate) fn ask(&mut self, flow: usize) {
        let state = &mut self.flows[flow];
        if state.known_bytes > 0 || state.queue.ready_bytes() == 0 || state.request != Request::Idle
        {
            return;
        }
        match state.class {
            // Grants come without asking; polls come in time.
            Class::UnsolicitedGrant | Class::RealTimePolling => {}
            Class::ExtendedRealTimePolling => {
                if !state.grants.awake {
                    // A code word of its own, which nobody else can disturb.
                    state.request = Request::Heard;
                    let after = self.scene.policy.requests.answer_frames;
                    self.wake_later(Agent::Request(flow as u32), self.frame + u64::from(after));
                }
            }
            Class::NonRealTimePolling | Class::BestEffort => {
                state.request_window = self.scene.policy.requests.first_window;
                self.back_off(flow, self.frame);
            }
        }
    }

    /// Chooses an opportunity within the window, from the frame after the given one on.
    fn back_off(&mut self, flow: usize, after_frame: u64) {
        let per_frame = self.scene.policy.requests.opportunities_per_frame;
        let state = &mut self.flows[flow];
        let chosen = state.back_off.below(state.request_window);
        let opportunity = chosen % per_frame;
        state.request = Request::BackingOff { opportunity };
        let frame = after_frame + 1 + u64::from(chosen / per_frame);
        self.wake_later(Agent::Request(flow as u32), frame);
    }

    /// A request's moment has come: to be sent, or to be answered.
    pub(crate) fn wake_request(&mut self, flow: usize) {
        let state = &mut self.flows[flow];
        match state.request {
            Request::BackingOff { opportunity } => {
                if state.known_bytes > 0 || state.queue.ready_bytes() == 0 {
                    state.request = Request::Idle;
                } else {
                    self.requests.attempts.push((flow as u32, opportunity));
                }
            }
            Request::Heard if state.class == Class::ExtendedRealTimePolling => {
                state.request = Request::Idle;
                state.grants.awake = true;
                state.grants.unused = 0;
                self.list(flow);
            }
            Request::Heard => self.requests.invited.push(flow as u32),
            Request::Idle => {}
        }
    }

    /// A flow's turn to be polled; it stands in line until there is room.
    pub(crate) fn wake_poll(&mut self, flow: usize) {
        let flow = flow as u32;
        if !self.requests.invited.contains(&flow) {
            self.requests.invited.push(flow);
            self.requests.counts.polls += 1;
        }
    }

    /// What was read in the last frame is known in this one.
    pub(crate) fn hear_answers(&mut self) {
        let mut read = std::mem::take(&mut self.requests.read);
        for flow in read.drain(..) {
            let state = &mut self.flows[flow as usize];
            state.known_bytes = state.queue.ready_bytes();
            self.list(flow as usize);
        }
        self.requests.read = read;
    }

    /// Room for a request each, for those polled and those heard in contention.
    pub(crate) fn invite(&mut self) {
        let mut invited = std::mem::take(&mut self.requests.invited);
        invited.retain(|&flow| !self.invite_one(flow as usize));
        // Nobody is invited meanwhile.
        self.requests.invited = invited;
    }

    /// Whether a flow's invitation is done with.
    fn invite_one(&mut self, flow: usize) -> bool {
        let bytes = self.scene.policy.requests.request_bytes;
        let state = &mut self.flows[flow];
        let link = self.channels.link(state.terminal, 1);
        let side = &mut self.sides[1];
        if link.slot_bits == 0 {
            // Out of reach: an invitation would not be heard. A request waits, a poll comes round again.
            return state.request != Request::Heard;
        }
        if !matches!(side.region.room(state.terminal, link), Room::Bytes(room) if room >= bytes) {
            return false;
        }
        side.counts.requests += u64::from(side.region.take(state.terminal, link, bytes));
        if state.request == Request::Heard {
            state.request = Request::Idle;
        }
        if state.known_bytes == 0 && state.queue.ready_bytes() > 0 {
            self.requests.read.push(flow as u32);
        }
        true
    }

    /// Requests of this frame: alone in its opportunity, one is heard.
    pub(crate) fn contend(&mut self) {
        let requests = self.scene.policy.requests;
        let answer_frame = self.frame + u64::from(requests.answer_frames);
        let mut attempts = std::mem::take(&mut self.requests.attempts);
        let state = &mut self.requests;
        state.chosen.clear();
        state
            .chosen
            .resize(requests.opportunities_per_frame as usize, 0);
        for (_, opportunity) in &attempts {
            state.chosen[*opportunity as usize] += 1;
        }
        for (flow, opportunity) in attempts.drain(..) {
            self.requests.counts.sent += 1;
            let flow = flow as usize;
            if self.requests.chosen[opportunity as usize] == 1 {
                self.flows[flow].request = Request::Heard;
                self.wake_later(Agent::Request(flow as u32), answer_frame);
            } else {
                self.requests.counts.collided += 1;
                let window = &mut self.flows[flow].request_window;
                *window = (*window * 2).min(requests.largest_window);
                self.back_off(flow, answer_frame);
            }
        }
        self.requests.attempts = attempts;
    }

    /// Words of delivery that reach their senders now: windows open, transfers go on.
    pub(crate) fn acknowledge(&mut self) {
        let mut words = self.acknowledgements.take();
        for word in words.drain(..) {
            let flow = word.flow as usize;
            if let Queue::Transfers(transfers) = &mut self.flows[flow].queue {
                transfers.acknowledge(word.serial, word.bytes);
                self.arrived(flow);
            }
        }
        self.acknowledgements.give_back(words);
    }
}
