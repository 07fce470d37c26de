//! Frame by frame through one sector: who sends what in which slots, and what
//! its customers notice of it.
//!
//! A [`Scene`] is a sector's frame, terminals, flows and rules of scheduling;
//! [`simulate`] runs it from a seed and returns an [`Outcome`]: rates, delays,
//! jitter and losses by flow and class, voice ratings, slips of circuits, where
//! the airtime went. It knows no network, no file and no clock: whoever has a
//! network makes a scene of it.
//!
//! What is modelled: maps that grow with the terminals they name, whole slots,
//! headers, fragments and packing, links that fade and are adapted with old
//! reports, block errors and retransmission, unsolicited grants, polls,
//! contention for requests, floors, ceilings and shares. What is not: the order
//! in which retransmitted packets are handed on (each counts when it is whole),
//! errors of maps and requests, hand-over, and transport protocols beyond a
//! window that opens ([`Window`]): no loss makes it shrink and no
//! acknowledgement takes uplink. Uplink data always reports what is left behind
//! it without a cost of its own.
//!
//! Reading order: [`scene`], `sector` (a frame's story), `scheduler`, `flow`.

mod arq;
mod bucket;
mod check;
mod fading;
mod flow;
mod frame;
mod histogram;
mod outcome;
mod queue;
mod random;
pub mod scene;
mod scheduler;
mod sector;
mod sources;
mod tally;
mod watch;
mod wheel;

use thiserror::Error;

pub use check::SceneError;
pub use frame::FrameModel;
pub use outcome::{
    CallOutcome, CdfPoint, CircuitOutcome, ClassOutcome, DirectionAirtime, FlowOutcome, Outcome,
    PacketOutcome, Percentiles, RequestOutcome, Spread, TransferOutcome, VoiceOutcome,
};
pub use scene::{Class, Direction, Flow, Scene, Source, Terminal, VoiceLines, Window};
pub use watch::{Unwatched, Watch};

/// How long is simulated, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// The same seed gives the same outcome.
    pub seed: u64,
    /// Time before counting begins.
    pub warm_up_s: f64,
    /// Time that is counted.
    pub measured_s: f64,
}

impl Run {
    /// A busy hour, counted after half a minute.
    pub fn busy_hour(seed: u64) -> Self {
        Self {
            seed,
            warm_up_s: 30.0,
            measured_s: 3600.0,
        }
    }
}

/// Why there is no outcome.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SimulateError {
    /// The scene makes no sense.
    #[error(transparent)]
    Scene(#[from] SceneError),
    /// A run without an end, or without time.
    #[error(
        "a run of `{measured_s} s` after `{warm_up_s} s`\nhint: both are 0 or more, and at most 1000 hours"
    )]
    Length {
        /// Given.
        warm_up_s: f64,
        /// Given.
        measured_s: f64,
    },
    /// The watcher wanted it.
    #[error("interrupted")]
    Interrupted,
}

/// Frames between two looks at the watcher: a hundredth of a second of work.
const FRAMES_PER_LOOK: u64 = 1000;

/// Longest run.
const LONGEST_S: f64 = 3.6e6;

/// Simulates a sector.
///
/// The outcome depends on scene and run alone. One core; memory for flows and
/// what waits in them, none for time.
///
/// # Errors
///
/// A scene or run that makes no sense, or an interruption by the watcher.
pub fn simulate(scene: &Scene, run: &Run, watch: &dyn Watch) -> Result<Outcome, SimulateError> {
    check::check(scene)?;
    let is_length = |s: f64| (0.0..=LONGEST_S).contains(&s);
    if !(is_length(run.warm_up_s) && is_length(run.measured_s)) {
        return Err(SimulateError::Length {
            warm_up_s: run.warm_up_s,
            measured_s: run.measured_s,
        });
    }
    let frames_in = |s: f64| (s * 1e3 / scene.frame.frame_ms()).round() as u64;
    let frames = frames_in(run.measured_s);
    let mut sector = sector::Sector::new(scene, run.seed);
    step(&mut sector, frames_in(run.warm_up_s), watch)?;
    sector.restart_counts();
    step(&mut sector, frames, watch)?;
    Ok(outcome::outcome(&sector, run.seed, frames))
}

fn step(
    sector: &mut sector::Sector<'_>,
    frames: u64,
    watch: &dyn Watch,
) -> Result<(), SimulateError> {
    let mut left = frames;
    while left > 0 {
        if watch.interrupted() {
            return Err(SimulateError::Interrupted);
        }
        let some = left.min(FRAMES_PER_LOOK);
        (0..some).for_each(|_| sector.step());
        watch.advance(some);
        left -= some;
    }
    Ok(())
}
