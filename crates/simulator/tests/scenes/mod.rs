//! Small scenes, and confidence intervals over independent runs.

#![allow(dead_code, reason = "each test file uses some of these")]
#![allow(clippy::print_stdout, reason = "a test tells what it compared")]

use simulator::scene::{Fading, Framing, Policy, RadioLink, Step};
use simulator::{
    Class, Direction, Flow, FrameModel, Outcome, Run, Scene, Source, Terminal, Unwatched, simulate,
};

/// No headers at all: what is left is queueing.
pub(crate) const BARE: Framing = Framing {
    header_bytes: 0,
    crc_bytes: 0,
    subheader_bytes: 0,
    segment_bytes: 1500,
    pack_bytes: 0,
};

/// A frame of fixed slots that is all downlink, and no less uplink.
pub(crate) fn fixed(frame_ms: f64, slots: u32) -> FrameModel {
    FrameModel::Fixed {
        frame_ms,
        downlink_slots: slots,
        uplink_slots: slots,
        downlink_frac: 1.0,
    }
}

/// Terminals that each have a ladder of one step, of so many bits a slot, and an ideal channel.
pub(crate) fn steady(frame: FrameModel, slot_bits: &[u32]) -> Scene {
    let step = |&bits_per_slot: &u32| {
        vec![Step {
            bits_per_slot,
            streams: 1,
            sinr_threshold_db: 0.0,
        }]
    };
    let mut policy = Policy {
        terminals_per_frame_max: 256,
        framing: BARE,
        ..Policy::default()
    };
    policy.adaptation.errors.at_threshold_frac = 0.0;
    Scene {
        frame,
        ladders: slot_bits.iter().map(step).collect(),
        terminals: (0..slot_bits.len()).map(terminal).collect(),
        flows: Vec::new(),
        voice_lines: Vec::new(),
        policy,
    }
}

fn terminal(ladder: usize) -> Terminal {
    let link = RadioLink {
        ladder,
        mean_sinr_db: 20.0,
        slots_max: u32::MAX,
    };
    Terminal {
        downlink: link,
        uplink: link,
        fading: Fading::NONE,
    }
}

/// A flow of best effort towards a terminal.
pub(crate) fn best_effort(terminal: usize, source: Source) -> Flow {
    Flow {
        terminal,
        direction: Direction::Downlink,
        class: Class::BestEffort,
        priority: 0,
        max_mbps: None,
        min_mbps: 0.0,
        latency_bound_ms: None,
        weight: 1.0,
        arq: true,
        poll_interval_ms: 20.0,
        source,
    }
}

pub(crate) fn run(scene: &Scene, seed: u64, measured_s: f64) -> Outcome {
    let run = Run {
        seed,
        warm_up_s: 0.05 * measured_s,
        measured_s,
    };
    simulate(scene, &run, &Unwatched).expect("a scene that makes sense")
}

/// Ten runs of different seeds.
pub(crate) fn runs(scene: &Scene, measured_s: f64) -> Vec<Outcome> {
    (0..10).map(|seed| run(scene, seed, measured_s)).collect()
}

/// Student's t at 99 %, for ten runs.
const STUDENT_T: f64 = 3.250;

/// A mean over independent runs with its 99 % confidence interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Interval {
    pub(crate) mean: f64,
    pub(crate) half_width: f64,
}

impl Interval {
    /// Of ten runs.
    pub(crate) fn of(outcomes: &[Outcome], value: impl Fn(&Outcome) -> f64) -> Self {
        let n = outcomes.len() as f64;
        let mean = outcomes.iter().map(&value).sum::<f64>() / n;
        let squares: f64 = outcomes.iter().map(|o| (value(o) - mean).powi(2)).sum();
        Self {
            mean,
            half_width: STUDENT_T * (squares / (n - 1.0) / n).sqrt(),
        }
    }

    /// Fails unless the expected value lies within, and the interval is as narrow as wanted.
    pub(crate) fn check(&self, what: &str, expected: f64, widest_frac: f64) {
        println!(
            "{what}: {:.5} ± {:.5} (99 %), theory {expected:.5}",
            self.mean, self.half_width
        );
        let off = (self.mean - expected).abs();
        assert!(
            off <= self.half_width,
            "{what}: {self:?}, theory {expected}"
        );
        assert!(
            self.half_width <= widest_frac * expected,
            "{what}: the interval is too wide to tell, {self:?}"
        );
    }
}
