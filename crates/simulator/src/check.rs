//! What a scene must be to make sense.

use thiserror::Error;

use crate::scene::{Class, Direction, Flow, Scene, Source, TransferSize, VoiceLines};

/// Why a scene cannot be simulated.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SceneError {
    /// Nothing to count time with.
    #[error("a frame of `{frame_ms} ms`\nhint: frames of 802.16 last 2 to 20 ms")]
    Frame {
        /// Given.
        frame_ms: f64,
    },
    /// A rule of the scheduler that leaves nothing to schedule.
    #[error("the scheduler's `{rule}` is out of range\nhint: it must be at least 1, and finite")]
    Policy {
        /// The field.
        rule: &'static str,
    },
    /// A terminal refers to a ladder that is not there or empty, or has no number where it needs one.
    #[error(
        "terminal {terminal}: {what}\nhint: each link needs a ladder with a step, a finite SINR and fading of 0 dB or more"
    )]
    Terminal {
        /// Its place in the scene.
        terminal: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// A flow cannot be.
    #[error("flow {flow}: {what}")]
    Flow {
        /// Its place in the scene.
        flow: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// Telephone lines cannot be.
    #[error("telephone lines {lines}: {what}")]
    Lines {
        /// Their place in the scene.
        lines: usize,
        /// What is wrong.
        what: &'static str,
    },
}

/// Most bursts that maps can be counted for.
const BURSTS_MAX: u32 = 256;

/// Most calls at once.
const LINES_MAX: u64 = 100_000;

pub(crate) fn check(scene: &Scene) -> Result<(), SceneError> {
    let frame_ms = scene.frame.frame_ms();
    if !(frame_ms > 0.0 && frame_ms <= 1000.0) {
        return Err(SceneError::Frame { frame_ms });
    }
    check_policy(scene)?;
    for terminal in 0..scene.terminals.len() {
        check_terminal(scene, terminal).map_err(|what| SceneError::Terminal { terminal, what })?;
    }
    for flow in 0..scene.flows.len() {
        check_flow(scene, flow).map_err(|what| SceneError::Flow { flow, what })?;
    }
    for lines in 0..scene.voice_lines.len() {
        check_lines(scene, &scene.voice_lines[lines])
            .map_err(|what| SceneError::Lines { lines, what })?;
    }
    let lines: u64 = scene.voice_lines.iter().map(|l| u64::from(l.lines)).sum();
    if lines > LINES_MAX {
        let what = "more lines than can be followed";
        return Err(SceneError::Lines { lines: 0, what });
    }
    Ok(())
}

fn check_policy(scene: &Scene) -> Result<(), SceneError> {
    let policy = &scene.policy;
    let requests = &policy.requests;
    let errors = &policy.adaptation.errors;
    let rules = [
        (
            (1..=BURSTS_MAX).contains(&policy.terminals_per_frame_max),
            "terminals_per_frame_max",
        ),
        (policy.round_bytes >= 1, "round_bytes"),
        (is_positive(policy.burst_ms), "burst_ms"),
        (policy.framing.segment_bytes >= 1, "segment_bytes"),
        (
            (1..=1024).contains(&requests.opportunities_per_frame),
            "opportunities_per_frame",
        ),
        (
            (1..=1 << 16).contains(&requests.first_window),
            "first_window",
        ),
        (
            (1..=1 << 16).contains(&requests.largest_window),
            "largest_window",
        ),
        (requests.answer_frames >= 1, "answer_frames"),
        (policy.adaptation.report_frames >= 1, "report_frames"),
        (is_share(errors.at_threshold_frac), "at_threshold_frac"),
        (is_positive(errors.decade_db), "decade_db"),
        (policy.arq.transmissions_max >= 1, "transmissions_max"),
    ];
    match rules.into_iter().find(|(holds, _)| !holds) {
        Some((_, rule)) => Err(SceneError::Policy { rule }),
        None => Ok(()),
    }
}

fn check_terminal(scene: &Scene, terminal: usize) -> Result<(), &'static str> {
    let terminal = &scene.terminals[terminal];
    for link in [terminal.downlink, terminal.uplink] {
        let ladder = scene.ladders.get(link.ladder);
        let ladder = ladder.ok_or("its ladder is not there")?;
        require(!ladder.is_empty(), "its ladder has no step")?;
        let is_step = |s: &crate::scene::Step| {
            (1..1 << 20).contains(&s.bits_per_slot)
                && (1..=16).contains(&s.streams)
                && s.sinr_threshold_db.is_finite()
        };
        require(ladder.iter().all(is_step), "a step without bits or streams")?;
        require(link.mean_sinr_db.is_finite(), "its SINR is not a number")?;
    }
    let fading = terminal.fading;
    let holds = fading.deviation_db >= 0.0 && fading.deviation_db.is_finite();
    require(holds, "its fading has no deviation")?;
    require(is_positive(fading.correlation_s), "its fading has no time")
}

fn check_flow(scene: &Scene, index: usize) -> Result<(), &'static str> {
    let flow = &scene.flows[index];
    require(
        flow.terminal < scene.terminals.len(),
        "its terminal is not there",
    )?;
    require(
        flow.max_mbps.is_none_or(is_positive),
        "a ceiling that is no rate\nhint: leave it out for none",
    )?;
    require(
        flow.min_mbps >= 0.0 && flow.min_mbps.is_finite(),
        "a floor that is no rate\nhint: 0 for none",
    )?;
    require(is_positive(flow.weight), "a weight that is not above 0")?;
    require(
        flow.latency_bound_ms.is_none_or(is_positive),
        "a latency bound that is no time\nhint: leave it out for none",
    )?;
    require(
        is_positive(flow.poll_interval_ms),
        "a poll interval that is no time",
    )?;
    check_source(flow)?;
    let lines = |l: &&VoiceLines| [l.downlink_flow, l.uplink_flow].contains(&index);
    let of_lines = scene.voice_lines.iter().filter(lines).count();
    let wanted = usize::from(flow.source == Source::Voice);
    require(
        of_lines == wanted,
        "voice without lines of its own, or lines with another source",
    )
}

fn check_source(flow: &Flow) -> Result<(), &'static str> {
    let even = matches!(
        flow.source,
        Source::Constant { .. } | Source::Circuit { .. } | Source::Voice
    );
    require(
        even || matches!(
            flow.class,
            Class::RealTimePolling | Class::NonRealTimePolling | Class::BestEffort
        ),
        "grants for packets that come unevenly\nhint: use rtPS, nrtPS or BE",
    )?;
    let holds = match flow.source {
        Source::Constant {
            packet_bytes,
            interval_ms,
        }
        | Source::Random {
            packet_bytes,
            mean_interval_ms: interval_ms,
        } => is_packet(packet_bytes) && is_positive(interval_ms),
        Source::Circuit {
            packet_bytes,
            interval_ms,
            playout_ms,
        } => is_packet(packet_bytes) && is_positive(interval_ms) && playout_ms >= 0.0,
        Source::Voice | Source::Saturating => true,
        Source::Video {
            mean_mbps,
            picture_ms,
            group_pictures,
            intra_ratio,
            size_variation,
        } => {
            is_positive(mean_mbps)
                && is_positive(picture_ms)
                && group_pictures >= 1
                && is_positive(intra_ratio)
                && (0.0..100.0).contains(&size_variation)
        }
        Source::Web {
            mean_interval_s,
            size,
            window,
        } => is_positive(mean_interval_s) && is_size(size) && is_window(window),
    };
    require(holds, "a source whose numbers are out of range")
}

fn is_size(size: TransferSize) -> bool {
    match size {
        TransferSize::Fixed { bytes } => is_positive(bytes),
        TransferSize::Exponential { mean_bytes } => is_positive(mean_bytes),
        TransferSize::BoundedPareto {
            shape,
            least_bytes,
            most_bytes,
        } => is_positive(shape) && least_bytes >= 1.0 && most_bytes >= least_bytes,
    }
}

/// Longest round trip that is followed, a minute.
const ROUND_TRIP_MAX_MS: f64 = 60_000.0;

fn is_window(window: crate::scene::Window) -> bool {
    match window {
        crate::scene::Window::Open => true,
        crate::scene::Window::Closed {
            first_bytes,
            round_trip_ms,
            ..
        } => first_bytes >= 1 && (0.0..=ROUND_TRIP_MAX_MS).contains(&round_trip_ms),
    }
}

fn check_lines(scene: &Scene, lines: &VoiceLines) -> Result<(), &'static str> {
    let flow = |index: usize, direction| {
        scene
            .flows
            .get(index)
            .is_some_and(|f| f.source == Source::Voice && f.direction == direction)
    };
    require(
        flow(lines.downlink_flow, Direction::Downlink)
            && flow(lines.uplink_flow, Direction::Uplink),
        "its flows are not a downlink and an uplink of voice",
    )?;
    let spurts = lines.talk_spurts;
    require(
        lines.offered_erlang >= 0.0
            && lines.offered_erlang.is_finite()
            && is_positive(lines.mean_hold_s)
            && is_packet(lines.packet_bytes)
            && is_positive(lines.packet_ms)
            && spurts.is_none_or(|s| is_positive(s.talk_s) && is_positive(s.pause_s)),
        "numbers out of range",
    )
}

fn require(holds: bool, what: &'static str) -> Result<(), &'static str> {
    if holds { Ok(()) } else { Err(what) }
}

fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

fn is_share(value: f64) -> bool {
    (0.0..=1.0).contains(&value)
}

fn is_packet(bytes: u32) -> bool {
    (1..=65_535).contains(&bytes)
}
