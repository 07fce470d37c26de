//! Calls on telephone lines, and the packets of those who talk.

use crate::flow::FlowState;
use crate::random::{Purpose, Stream};
use crate::scene::{Scene, TalkSpurts, VoiceLines};
use crate::sources::offer_packet;

/// One side of a call.
#[derive(Debug, Clone, Copy, Default)]
struct Talker {
    next_us: f64,
    talks_until_us: f64,
}

/// A call.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Call {
    pub(crate) line: usize,
    pub(crate) end_us: f64,
    talkers: [Talker; 2],
}

#[derive(Debug)]
struct LineState {
    arrivals: Stream,
    talk: Stream,
    next_us: f64,
    engaged: u32,
}

/// Counts of calls.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct CallCounts {
    pub(crate) offered: u64,
    pub(crate) engaged: u64,
    pub(crate) blocked: u64,
    /// Calls in progress, summed over the frames.
    pub(crate) call_frames: u64,
}

/// All calls of a sector.
#[derive(Debug)]
pub(crate) struct Calls {
    lines: Vec<LineState>,
    calls: Vec<Call>,
    free: Vec<u32>,
    calls_max: u32,
    queue_bytes_max: u64,
    pub(crate) counts: CallCounts,
}

impl Calls {
    pub(crate) fn new(scene: &Scene, seed: u64) -> Self {
        let line = |(index, line): (usize, &VoiceLines)| {
            let mut arrivals = Stream::new(seed, Purpose::Calls, index);
            LineState {
                next_us: arrivals.exponential(mean_between_us(line)),
                arrivals,
                talk: Stream::new(seed, Purpose::Talk, index),
                engaged: 0,
            }
        };
        let most = Self::at_once(scene);
        Self {
            lines: scene.voice_lines.iter().enumerate().map(line).collect(),
            calls: vec![Call::default(); most as usize],
            free: (0..most).rev().collect(),
            calls_max: scene.policy.calls_max.unwrap_or(u32::MAX),
            queue_bytes_max: scene.policy.queue_bytes_max,
            counts: CallCounts::default(),
        }
    }

    /// Calls there can be at once.
    pub(crate) fn at_once(scene: &Scene) -> u32 {
        let lines: u32 = scene.voice_lines.iter().map(|line| line.lines).sum();
        lines.min(scene.policy.calls_max.unwrap_or(u32::MAX))
    }

    pub(crate) fn next_us(&self, line: usize) -> f64 {
        self.lines[line].next_us
    }

    pub(crate) fn call(&self, call: usize) -> &Call {
        &self.calls[call]
    }

    fn in_progress(&self) -> u32 {
        (self.calls.len() - self.free.len()) as u32
    }

    pub(crate) fn count_frame(&mut self) {
        self.counts.call_frames += u64::from(self.in_progress());
    }

    /// A call comes in on a line; its number, if it goes through.
    pub(crate) fn arrive(&mut self, line: usize, voice: &VoiceLines) -> Option<usize> {
        let in_progress = self.in_progress();
        let state = &mut self.lines[line];
        let born_us = state.next_us;
        state.next_us += state.arrivals.exponential(mean_between_us(voice));
        // Drawn even for a call that fails, so that others' fate does not shift this line's random numbers.
        let hold_us = state.arrivals.exponential(voice.mean_hold_s * 1e6);
        self.counts.offered += 1;
        if state.engaged >= voice.lines {
            self.counts.engaged += 1;
            return None;
        }
        let slot = (in_progress < self.calls_max).then(|| self.free.pop());
        let Some(slot) = slot.flatten() else {
            self.counts.blocked += 1;
            return None;
        };
        state.engaged += 1;
        let talker = |_| Talker::starting(born_us, voice.talk_spurts, &mut state.talk);
        self.calls[slot as usize] = Call {
            line,
            end_us: born_us + hold_us,
            talkers: [0, 1].map(talker),
        };
        Some(slot as usize)
    }

    pub(crate) fn hang_up(&mut self, call: usize) {
        self.lines[self.calls[call].line].engaged -= 1;
        self.free.push(call as u32);
    }

    /// Brings the packets of one side before a moment; when the next one comes, if the call still lasts.
    pub(crate) fn bring(
        &mut self,
        (call, side): (usize, usize),
        until_us: f64,
        voice: &VoiceLines,
        flow: &mut FlowState,
    ) -> Option<f64> {
        let call = &mut self.calls[call];
        let talker = &mut call.talkers[side];
        let random = &mut self.lines[call.line].talk;
        while talker.next_us < until_us.min(call.end_us) {
            match voice.talk_spurts {
                Some(spurts) if talker.next_us >= talker.talks_until_us => {
                    talker.next_us =
                        talker.talks_until_us + random.exponential(spurts.pause_s * 1e6);
                    talker.talks_until_us =
                        talker.next_us + random.exponential(spurts.talk_s * 1e6);
                }
                _ => {
                    offer_packet(
                        flow,
                        talker.next_us,
                        voice.packet_bytes,
                        self.queue_bytes_max,
                    );
                    talker.next_us += voice.packet_ms * 1e3;
                }
            }
        }
        (talker.next_us < call.end_us).then_some(talker.next_us)
    }
}

impl Talker {
    /// In the middle of a conversation: talking or not as the means have it.
    fn starting(born_us: f64, spurts: Option<TalkSpurts>, random: &mut Stream) -> Self {
        let Some(spurts) = spurts else {
            return Self {
                next_us: born_us,
                talks_until_us: f64::INFINITY,
            };
        };
        let talks = random.happens(spurts.talk_s / (spurts.talk_s + spurts.pause_s));
        let pause_us = if talks {
            0.0
        } else {
            random.exponential(spurts.pause_s * 1e6)
        };
        let next_us = born_us + pause_us;
        Self {
            next_us,
            talks_until_us: next_us + random.exponential(spurts.talk_s * 1e6),
        }
    }
}

/// Erlangs are calls per holding time.
fn mean_between_us(line: &VoiceLines) -> f64 {
    if line.offered_erlang > 0.0 {
        line.mean_hold_s / line.offered_erlang * 1e6
    } else {
        f64::INFINITY
    }
}
