//! Traffic: when packets and transfers come, and how large they are.

mod video;
pub(crate) mod voice;
mod web;

use crate::flow::FlowState;
use crate::queue::Queue;
use crate::random::{Purpose, Stream};
use crate::scene::{Scene, Source};

/// Traffic of one flow, other than calls.
#[derive(Debug)]
pub(crate) struct Traffic {
    source: Source,
    random: Stream,
    next_us: f64,
    /// Packets or pictures so far.
    count: u64,
    segment_bytes: u32,
    queue_bytes_max: u64,
}

impl Traffic {
    pub(crate) fn new(scene: &Scene, seed: u64, index: usize) -> Self {
        let source = scene.flows[index].source;
        let mut random = Stream::new(seed, Purpose::Traffic, index);
        let next_us = match source {
            Source::Constant { interval_ms, .. } | Source::Circuit { interval_ms, .. } => {
                random.uniform() * interval_ms * 1e3
            }
            Source::Random {
                mean_interval_ms, ..
            } => random.exponential(mean_interval_ms * 1e3),
            Source::Video { picture_ms, .. } => random.uniform() * picture_ms * 1e3,
            Source::Web {
                mean_interval_s, ..
            } => random.exponential(mean_interval_s * 1e6),
            Source::Voice | Source::Saturating => f64::INFINITY,
        };
        let count = match source {
            // Pictures of different flows are not coded alone all at once.
            Source::Video { group_pictures, .. } => u64::from(random.below(group_pictures.max(1))),
            _ => 0,
        };
        Self {
            source,
            random,
            next_us,
            count,
            segment_bytes: scene.policy.framing.segment_bytes,
            queue_bytes_max: scene.policy.queue_bytes_max,
        }
    }

    /// Next arrival. \[µs\]
    pub(crate) fn next_us(&self) -> f64 {
        self.next_us
    }

    /// Brings everything that comes before a moment.
    pub(crate) fn bring(&mut self, until_us: f64, flow: &mut FlowState) {
        while self.next_us < until_us {
            let born_us = self.next_us;
            self.next_us += self.bring_one(born_us, flow);
            self.count += 1;
        }
    }

    /// Brings one packet, picture or transfer; the time to the next. \[µs\]
    fn bring_one(&mut self, born_us: f64, flow: &mut FlowState) -> f64 {
        match self.source {
            Source::Constant {
                packet_bytes,
                interval_ms,
            }
            | Source::Circuit {
                packet_bytes,
                interval_ms,
                ..
            } => {
                offer_packet(flow, born_us, packet_bytes, self.queue_bytes_max);
                interval_ms * 1e3
            }
            Source::Random {
                packet_bytes,
                mean_interval_ms,
            } => {
                offer_packet(flow, born_us, packet_bytes, self.queue_bytes_max);
                self.random.exponential(mean_interval_ms * 1e3)
            }
            Source::Video { picture_ms, .. } => {
                let mut left = video::picture_bytes(&self.source, self.count, &mut self.random);
                while left > 0 {
                    let bytes = left.min(self.segment_bytes);
                    offer_packet(flow, born_us, bytes, self.queue_bytes_max);
                    left -= bytes;
                }
                picture_ms * 1e3
            }
            Source::Web {
                mean_interval_s,
                size,
                ..
            } => {
                let bytes = web::size_bytes(size, &mut self.random);
                if let Queue::Transfers(transfers) = &mut flow.queue {
                    transfers.push(born_us, bytes);
                    flow.tally.offered_bytes += bytes;
                }
                self.random.exponential(mean_interval_s * 1e6)
            }
            Source::Voice | Source::Saturating => f64::INFINITY,
        }
    }
}

/// A packet joins its queue, or is lost where that is full.
pub(crate) fn offer_packet(flow: &mut FlowState, born_us: f64, bytes: u32, queue_bytes_max: u64) {
    flow.tally.offered_bytes += u64::from(bytes);
    let Queue::Packets(packets) = &mut flow.queue else {
        return;
    };
    if packets.held_bytes() + u64::from(bytes) > queue_bytes_max {
        flow.tally.lose(u64::from(bytes));
    } else {
        packets.push(born_us, bytes);
    }
}
