//! Floors of the polled classes, and what real-time polling wants beyond its own.

use crate::scene::Class;
use crate::scheduler::Served;
use crate::sector::Sector;

/// What a flow is served from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Share {
    /// The rate it is sure of.
    Floor,
    /// All it wants, up to its ceiling.
    Rest,
}

impl Sector<'_> {
    /// Serves the flows of a class up to their floors. The first in turn moves on with every frame.
    pub(crate) fn serve_floors(&mut self, side: usize, class: Class) {
        for tier in 0..self.sides[side].tiers.len() {
            let of_class = &mut self.sides[side].tiers[tier];
            if of_class.class == class && !of_class.members.is_empty() {
                of_class.members.rotate_left(1);
                self.serve_tier((side, tier), Share::Floor);
            }
        }
    }

    /// Serves what real-time polling wants beyond its floor.
    pub(crate) fn serve_real_time(&mut self, side: usize) {
        for tier in 0..self.sides[side].tiers.len() {
            if self.sides[side].tiers[tier].class == Class::RealTimePolling {
                self.serve_tier((side, tier), Share::Rest);
            }
        }
    }

    fn serve_tier(&mut self, (side, tier): (usize, usize), share: Share) {
        let mut place = 0;
        while let Some(&flow) = self.sides[side].tiers[tier].members.get(place) {
            if self.sides[side].region.is_full() {
                return;
            }
            let flow = flow as usize;
            self.flows[flow].expire(self.now_us);
            if self.flows[flow].has_work() {
                self.serve_share(flow, share);
                place += 1;
            } else {
                self.sides[side].tiers[tier].members.swap_remove(place);
                self.flows[flow].listed.in_class = false;
            }
        }
    }

    fn serve_share(&mut self, flow: usize, share: Share) {
        let frame = self.frame;
        let state = &mut self.flows[flow];
        let mut allowed = state.allowed_bytes(frame);
        if share == Share::Floor {
            allowed = allowed.min(state.floor.at(frame));
            if allowed <= 0.0 {
                return;
            }
        }
        if let Served::Sent { fresh_bytes, .. } = self.serve(flow, allowed) {
            let state = &mut self.flows[flow];
            state.pay(fresh_bytes);
            if share == Share::Floor {
                // What is served beyond the floor does not count against it.
                state.floor.pay(fresh_bytes as f64);
            }
        }
    }
}
