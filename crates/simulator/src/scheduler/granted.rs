//! Grants that nobody asks for: unsolicited, and extended real-time polling.

use crate::flow::FlowState;
use crate::scene::Class;
use crate::scheduler::Served;
use crate::scheduler::region::Room;
use crate::sector::Sector;

/// Part of a grant's cost that is charged to a flow that has fallen behind:
/// the standard lets it have 1 % more until it has caught up (slip indicator).
const CATCHING_UP_FRAC: f64 = 0.99;

/// Unused grants in a row after which an extended flow is taken to be silent
/// (common practice, no source).
const SILENT_AFTER: u32 = 2;

impl Sector<'_> {
    pub(crate) fn serve_granted(&mut self, side: usize) {
        for tier in 0..self.sides[side].tiers.len() {
            if !self.sides[side].tiers[tier].class.is_granted() {
                continue;
            }
            let mut place = 0;
            while place < self.sides[side].tiers[tier].members.len() {
                let flow = self.sides[side].tiers[tier].members[place] as usize;
                let stays = if side == 0 {
                    self.serve_to_rate(flow)
                } else {
                    self.grant(flow)
                };
                if stays {
                    place += 1;
                } else {
                    self.sides[side].tiers[tier].members.swap_remove(place);
                    self.flows[flow].listed.in_class = false;
                }
            }
        }
    }

    /// Downlink: no grants are needed, the flow is held to its rate. Whether it stays listed.
    fn serve_to_rate(&mut self, flow: usize) -> bool {
        let (frame, now_us) = (self.frame, self.now_us);
        let state = &mut self.flows[flow];
        state.expire(now_us);
        if !state.has_work() {
            state.end_grants_when_idle(frame);
            return false;
        }
        let allowed = state
            .grants
            .account
            .at(frame)
            .min(state.waiting_bytes() as f64);
        if let Served::Sent { fresh_bytes, .. } = self.serve(flow, allowed) {
            let state = &mut self.flows[flow];
            state.tally.granted_bytes += fresh_bytes;
            state.tally.granted_sent_bytes += fresh_bytes;
            let cost = fresh_bytes as f64 * cost_frac(state);
            state.grants.account.pay(cost);
        }
        true
    }

    /// Uplink: room for the whole packets that are due, used or not. Whether grants go on.
    fn grant(&mut self, flow: usize) -> bool {
        let (frame, now_us) = (self.frame, self.now_us);
        let state = &mut self.flows[flow];
        state.expire(now_us);
        state.end_grants_when_idle(frame);
        if !state.grants.awake || state.grants.account.most() == 0.0 {
            return false;
        }
        let link = self.channels.link(state.terminal, 1);
        let framing = &self.scene.policy.framing;
        let overhead = framing.header_bytes + framing.crc_bytes + framing.subheader_bytes;
        let alone_bytes = link.alone_bytes(self.slots.uplink).saturating_sub(overhead);
        // A terminal that cannot send a whole packet in one frame sends it in pieces.
        let piece_bytes = state.grants.packet_bytes.min(alone_bytes);
        if piece_bytes == 0 {
            return true;
        }
        let due = (state.grants.account.at(frame) / f64::from(piece_bytes)).floor();
        let Room::Bytes(room_bytes) = self.sides[1].region.room(state.terminal, link) else {
            return true;
        };
        let pieces = (due.max(0.0) as u32).min(room_bytes / (piece_bytes + overhead));
        if pieces > 0 {
            let burst_bytes = pieces * (piece_bytes + overhead);
            self.use_grant(flow, (pieces * piece_bytes, burst_bytes));
        }
        true
    }

    fn use_grant(&mut self, flow: usize, (payload_bytes, burst_bytes): (u32, u32)) {
        let sending = self.sending(flow);
        let state = &mut self.flows[flow];
        let payload_bytes = u64::from(payload_bytes);
        let ready_bytes = state.queue.ready_bytes().min(payload_bytes) as f64;
        let due = self.acknowledgements.due_after(0);
        let sent = state.send((burst_bytes, ready_bytes), &sending, due);
        let link = self.channels.link(state.terminal, 1);
        let side = &mut self.sides[1];
        let slots = side.region.take(state.terminal, link, burst_bytes);
        state.tally.slots += u64::from(slots);
        side.counts.by_class[state.class as usize] += u64::from(slots);
        state.tally.granted_bytes += payload_bytes;
        state.tally.granted_sent_bytes += sent.fresh_bytes;
        let cost = payload_bytes as f64 * cost_frac(state);
        state.grants.account.pay(cost);
        if sent.burst_bytes > 0 {
            state.grants.unused = 0;
        } else {
            state.grants.unused += 1;
            let is_silent = state.grants.unused >= SILENT_AFTER;
            state.grants.awake = !(is_silent && state.class == Class::ExtendedRealTimePolling);
        }
    }
}

fn cost_frac(state: &FlowState) -> f64 {
    if state.queue.ready_bytes() as f64 > state.grants.account.most() {
        CATCHING_UP_FRAC
    } else {
        1.0
    }
}
