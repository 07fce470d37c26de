//! A flow while the simulation runs: its queue, its accounts, and how it fills a burst.

use crate::arq::Retries;
use crate::bucket::Bucket;
use crate::queue::{Pace, PacketQueue, Piece, Queue, TransferQueue};
use crate::random::{Purpose, Stream};
use crate::scene::{Arq, Class, Direction, Flow, Framing, Scene, Source, VoiceLines, Window};
use crate::tally::{Playout, Tally};

/// Where a request for uplink stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Request {
    /// Nothing to ask for, or nobody to ask.
    Idle,
    /// Backing off until it is sent in an opportunity of its frame.
    BackingOff { opportunity: u32 },
    /// Heard; the answer is due.
    Heard,
}

/// Unsolicited grants of a flow.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grants {
    pub(crate) account: Bucket,
    /// Packet a grant is made for.
    pub(crate) packet_bytes: u32,
    /// Whether grants are coming: always with unsolicited grants, while there is talk with the extended class.
    pub(crate) awake: bool,
    /// Grants in a row that were not used.
    pub(crate) unused: u32,
}

/// A word of delivery on its way back to a sender.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Acknowledgement {
    pub(crate) flow: u32,
    pub(crate) serial: u64,
    pub(crate) bytes: u64,
}

/// Lists a flow stands in.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Listed {
    pub(crate) in_class: bool,
    pub(crate) in_ring: bool,
}

/// A flow.
#[derive(Debug)]
pub(crate) struct FlowState {
    pub(crate) index: u32,
    pub(crate) terminal: usize,
    /// 0 downlink, 1 uplink.
    pub(crate) side: usize,
    pub(crate) class: Class,
    arq: bool,
    pub(crate) latency_bound_us: Option<f64>,
    pub(crate) queue: Queue,
    pub(crate) retries: Retries,
    /// Uplink: what the base station knows to be waiting.
    pub(crate) known_bytes: u64,
    pub(crate) request: Request,
    pub(crate) request_window: u32,
    pub(crate) ceiling: Option<Bucket>,
    pub(crate) floor: Bucket,
    pub(crate) grants: Grants,
    is_voice: bool,
    pub(crate) calls: u32,
    /// Best effort: what it may still send in its turn, in bytes or slots.
    pub(crate) deficit: f64,
    pub(crate) has_turn: bool,
    /// Where the flow is listed while it has work: in its class, and among those that share the rest.
    pub(crate) listed: Listed,
    pub(crate) weight: f64,
    /// Frames until a sender hears of a delivery; 0 where it does not wait for it.
    pub(crate) round_trip_frames: u64,
    pub(crate) is_endless: bool,
    errors: Stream,
    pub(crate) back_off: Stream,
    pub(crate) tally: Tally,
}

/// What all flows have in common while a frame is filled.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sending {
    pub(crate) framing: Framing,
    pub(crate) arq: Arq,
    pub(crate) frame: u64,
    /// When what is sent now is received.
    pub(crate) received_us: f64,
    pub(crate) error_frac: f64,
}

/// What a flow put into a burst.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Sent {
    /// With headers.
    pub(crate) burst_bytes: u32,
    /// Sent for the first time, without headers.
    pub(crate) fresh_bytes: u64,
}

/// Smaller fragments are not worth their headers (common practice, no source).
const LEAST_FRAGMENT_BYTES: u32 = 32;

/// Bytes an endless transfer keeps ahead.
const ENDLESS_AHEAD_BYTES: u64 = 1 << 20;

impl FlowState {
    pub(crate) fn new(scene: &Scene, seed: u64, index: usize) -> Self {
        let flow = &scene.flows[index];
        let policy = &scene.policy;
        let frame_ms = scene.frame.frame_ms();
        let framing = &policy.framing;
        let burst = (policy.burst_ms, framing.segment_bytes);
        let account = |rate_mbps: f64| Bucket::new(rate_mbps, frame_ms, burst);
        let (queue, tally) = queue_and_tally(flow, framing);
        let mut state = Self {
            index: index as u32,
            terminal: flow.terminal,
            side: usize::from(flow.direction == Direction::Uplink),
            class: flow.class,
            arq: flow.arq,
            latency_bound_us: flow.latency_bound_ms.map(|ms| ms * 1e3),
            queue,
            retries: Retries::default(),
            known_bytes: 0,
            request: Request::Idle,
            request_window: policy.requests.first_window,
            ceiling: flow.max_mbps.map(account),
            floor: account(flow.min_mbps),
            grants: grants(scene, index),
            is_voice: flow.source == Source::Voice,
            calls: 0,
            deficit: 0.0,
            has_turn: false,
            listed: Listed::default(),
            weight: flow.weight,
            round_trip_frames: round_trip_frames(flow, frame_ms),
            is_endless: flow.source == Source::Saturating,
            errors: Stream::new(seed, Purpose::Errors, index),
            back_off: Stream::new(seed, Purpose::BackOff, index),
            tally,
        };
        state.lengthen();
        state
    }

    /// Bytes that may be scheduled, as the scheduler knows; retransmissions come on top.
    pub(crate) fn waiting_bytes(&self) -> u64 {
        if self.side == 1 {
            self.known_bytes
        } else {
            self.queue.ready_bytes()
        }
    }

    /// Whether there is anything to schedule, now or after a retransmission's delay.
    pub(crate) fn has_work(&self) -> bool {
        self.waiting_bytes() > 0 || !self.retries.is_empty()
    }

    /// Packets that came too late for their bound are thrown away.
    pub(crate) fn expire(&mut self, now_us: f64) {
        let (Some(bound_us), Queue::Packets(packets)) = (self.latency_bound_us, &mut self.queue)
        else {
            return;
        };
        while let Some(bytes) = packets.expire(now_us - bound_us) {
            self.tally.lose(bytes);
        }
        self.known_bytes = self.known_bytes.min(self.queue.ready_bytes());
    }

    /// New bytes that may be sent now: what waits, within the ceiling.
    pub(crate) fn allowed_bytes(&mut self, frame: u64) -> f64 {
        let waiting_bytes = self.waiting_bytes() as f64;
        match &mut self.ceiling {
            Some(ceiling) => waiting_bytes.min(ceiling.at(frame)),
            None => waiting_bytes,
        }
    }

    pub(crate) fn pay(&mut self, fresh_bytes: u64) {
        if let Some(ceiling) = &mut self.ceiling {
            ceiling.pay(fresh_bytes as f64);
        }
    }

    /// Grants end with the last call, once its packets are sent.
    pub(crate) fn end_grants_when_idle(&mut self, frame: u64) {
        let is_idle = self.queue.ready_bytes() == 0 && self.retries.is_empty();
        if self.is_voice && self.calls == 0 && is_idle {
            self.grants.account.set_sources(0, frame);
        }
    }

    /// An endless transfer has more to send, always.
    pub(crate) fn lengthen(&mut self) {
        if let (true, Queue::Transfers(transfers)) = (self.is_endless, &mut self.queue) {
            let more = ENDLESS_AHEAD_BYTES.saturating_sub(transfers.ready_bytes());
            transfers.lengthen(more);
            self.tally.offered_bytes += more;
        }
    }

    /// Fills a burst: first what was lost before, then new packets until so many bytes are reached.
    ///
    /// The last packet is begun even where it goes beyond `fresh_bytes`, so that
    /// limits do not cut packets; accounts go into debt for it. The frame's room does cut.
    pub(crate) fn send(
        &mut self,
        (room_bytes, fresh_bytes): (u32, f64),
        sending: &Sending,
        acknowledgements: &mut Vec<Acknowledgement>,
    ) -> Sent {
        let framing = &sending.framing;
        let mut sent = Sent::default();
        // Bytes of the protocol data unit that is being packed, and whether the air will lose it.
        let (mut unit_bytes, mut unit_is_lost) = (u32::MAX, false);
        loop {
            let is_new_unit = unit_bytes >= framing.pack_bytes;
            let overhead = if is_new_unit {
                framing.header_bytes + framing.crc_bytes + framing.subheader_bytes
            } else {
                framing.subheader_bytes
            };
            let left = (room_bytes - sent.burst_bytes).saturating_sub(overhead);
            let wants_fresh = (sent.fresh_bytes as f64) < fresh_bytes;
            let Some(piece) = self.next_piece(left, wants_fresh, sending.frame) else {
                return sent;
            };
            if is_new_unit {
                unit_bytes = 0;
                unit_is_lost = sending.error_frac > 0.0 && self.errors.happens(sending.error_frac);
            }
            unit_bytes = unit_bytes.saturating_add(overhead + piece.bytes);
            sent.burst_bytes += overhead + piece.bytes;
            if piece.transmissions == 0 {
                sent.fresh_bytes += u64::from(piece.bytes);
            }
            if unit_is_lost {
                self.fail(piece, sending);
            } else {
                self.arrive(piece, sending.received_us, acknowledgements);
            }
        }
    }

    fn next_piece(&mut self, left: u32, wants_fresh: bool, frame: u64) -> Option<Piece> {
        let fits = |bytes: u32| bytes > 0 && (bytes <= left || left >= LEAST_FRAGMENT_BYTES);
        if fits(self.retries.next_bytes(frame)) {
            return self.retries.next(frame, left);
        }
        if wants_fresh && fits(self.queue.next_bytes()) {
            return self.queue.take(left);
        }
        None
    }

    fn fail(&mut self, piece: Piece, sending: &Sending) {
        let transmissions = piece.transmissions + 1;
        if self.arq && transmissions < sending.arq.transmissions_max {
            let due_frame = sending.frame + u64::from(sending.arq.delay_frames);
            let piece = Piece {
                transmissions,
                ..piece
            };
            return self.retries.keep(piece, due_frame);
        }
        match &mut self.queue {
            Queue::Packets(packets) => match packets.lose(piece.serial) {
                0 => {}
                bytes => self.tally.lose(bytes),
            },
            Queue::Transfers(transfers) => transfers.send_anew(piece),
        }
    }

    fn arrive(
        &mut self,
        piece: Piece,
        received_us: f64,
        acknowledgements: &mut Vec<Acknowledgement>,
    ) {
        if let Some(completed) = self.queue.deliver(piece) {
            self.tally.complete(completed, received_us);
        }
        if let Queue::Transfers(_) = self.queue {
            let bytes = u64::from(piece.bytes);
            self.tally.delivered_bytes += bytes;
            if self.round_trip_frames > 0 {
                acknowledge(acknowledgements, self.index, piece.serial, bytes);
            }
        }
    }
}

/// Words of one frame for one transfer travel together.
fn acknowledge(words: &mut Vec<Acknowledgement>, flow: u32, serial: u64, bytes: u64) {
    match words.last_mut() {
        Some(last) if last.flow == flow && last.serial == serial => last.bytes += bytes,
        _ => words.push(Acknowledgement {
            flow,
            serial,
            bytes,
        }),
    }
}

fn queue_and_tally(flow: &Flow, framing: &Framing) -> (Queue, Tally) {
    let transfers = |pace| Queue::Transfers(TransferQueue::new(pace, framing.segment_bytes));
    match flow.source {
        Source::Web { window, .. } => (transfers(pace(window)), Tally::for_transfers()),
        Source::Saturating => (transfers(Pace::OPEN), Tally::for_transfers()),
        Source::Circuit { playout_ms, .. } => (
            Queue::Packets(PacketQueue::default()),
            Tally::for_packets(Some(Playout::new(playout_ms))),
        ),
        _ => (
            Queue::Packets(PacketQueue::default()),
            Tally::for_packets(None),
        ),
    }
}

fn pace(window: Window) -> Pace {
    match window {
        Window::Open => Pace::OPEN,
        Window::Closed {
            first_bytes,
            full_bytes,
            ..
        } => Pace {
            first_bytes: u64::from(first_bytes),
            full_bytes: u64::from(full_bytes.max(first_bytes)),
        },
    }
}

/// What is received in a frame brings its successor a round trip later, in time
/// for the frame after that; 0 where a sender does not wait for word.
fn round_trip_frames(flow: &Flow, frame_ms: f64) -> u64 {
    match flow.source {
        Source::Web {
            window: Window::Closed { round_trip_ms, .. },
            ..
        } => (round_trip_ms / frame_ms).round() as u64 + 1,
        _ => 0,
    }
}

/// Grants as large and as frequent as the packets of the source.
fn grants(scene: &Scene, index: usize) -> Grants {
    let flow = &scene.flows[index];
    let line = |line: &&VoiceLines| [line.downlink_flow, line.uplink_flow].contains(&index);
    let (packet_bytes, interval_ms) = match flow.source {
        Source::Constant {
            packet_bytes,
            interval_ms,
        }
        | Source::Circuit {
            packet_bytes,
            interval_ms,
            ..
        } => (packet_bytes, interval_ms),
        Source::Voice => scene
            .voice_lines
            .iter()
            .find(line)
            .map_or((0, 1.0), |line| (line.packet_bytes, line.packet_ms)),
        _ => (0, 1.0),
    };
    // Bytes a millisecond are 8 kb/s.
    let rate_mbps = f64::from(packet_bytes) / interval_ms * 8e-3;
    let mut account = Bucket::new(rate_mbps, scene.frame.frame_ms(), (0.0, packet_bytes));
    if flow.source == Source::Voice {
        account.set_sources(0, 0);
    }
    Grants {
        account,
        packet_bytes,
        awake: flow.class == Class::UnsolicitedGrant || flow.direction == Direction::Downlink,
        unused: 0,
    }
}
