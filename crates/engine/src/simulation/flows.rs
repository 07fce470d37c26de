//! A plan's services as flows of the simulator.

use model::SchedulingClass;
use model::plan::ServicePlan;
use simulator::scene::{TalkSpurts, TransferSize};
use simulator::{Class, Direction as Way, Flow, Scene, Source, VoiceLines, Window};
use traffic::quality;

use crate::frame::Direction;
use crate::load::cost::{DIRECTIONS, NRTPS_POLL_S, RTPS_POLL_S};
use crate::load::flow::{LAYER, PlanLoad, codec};

/// Sizes of transfers: heavy tailed, 12 kB to 30 MB, 1.2 as exponent. Common practice, no source.
const TRANSFERS: TransferSize = TransferSize::BoundedPareto {
    shape: 1.2,
    least_bytes: 12_000.0,
    most_bytes: 30e6,
};

/// Ten packets at first, a quarter megabyte at most, 40 ms to a server and back. Common practice, no source.
const WINDOW: Window = Window::Closed {
    first_bytes: 14_600,
    full_bytes: 262_144,
    round_trip_ms: 40.0,
};

/// Twenty-five pictures a second, one in twelve coded alone. Common practice, no source.
const PICTURE_MS: f64 = 40.0;
const GROUP_PICTURES: u32 = 12;
const INTRA_RATIO: f64 = 4.0;
const SIZE_VARIATION: f64 = 0.4;

/// Mean length of a call. Common practice, no source.
const HOLD_S: f64 = 180.0;
/// Codec, far network and far end, mouth to ear. Common practice, no source.
const OUTSIDE_MS: f64 = 60.0;
/// Delay that a packet of a call may have over the air before it is of no use. Common practice, no source.
const CALL_BOUND_MS: f64 = 100.0;
/// Play-out of a circuit: three frames of 5 ms, within the 10 to 20 ms that re-bunching by the frame asks for (common practice).
const PLAYOUT_MS: f64 = 15.0;

/// Puts the services of a plan on a terminal.
pub(super) fn add(scene: &mut Scene, terminal: usize, plan: &ServicePlan) {
    for direction in DIRECTIONS {
        let load = PlanLoad::new(plan, direction);
        data(scene, (terminal, direction), (&load, plan));
        circuits(scene, (terminal, direction), &load);
    }
    calls(scene, terminal, plan);
}

fn data(
    scene: &mut Scene,
    (terminal, direction): (usize, Direction),
    (load, plan): (&PlanLoad, &ServicePlan),
) {
    let Some(source) = source(load) else { return };
    let is_elastic = matches!(source, Source::Web { .. });
    scene.flows.push(Flow {
        priority: plan.priority.min(7),
        max_mbps: Some(load.peak_mbps.max(load.guaranteed_mbps)),
        min_mbps: load.guaranteed_mbps,
        latency_bound_ms: plan.delay_bound_ms.filter(|_| !is_elastic),
        weight: load.weight,
        arq: load.class != SchedulingClass::UnsolicitedGrant,
        poll_interval_ms: poll_ms(load.class),
        ..flow((terminal, way(direction)), class(load.class), source)
    });
}

/// What the data of a plan looks like; `None` where there is none.
fn source(load: &PlanLoad) -> Option<Source> {
    let mean_mbps = load.mean_mbps.max(match load.class {
        SchedulingClass::UnsolicitedGrant | SchedulingClass::ExtendedRealTimePolling => {
            load.guaranteed_mbps
        }
        _ => 0.0,
    });
    if mean_mbps <= 0.0 {
        return None;
    }
    Some(match load.class {
        SchedulingClass::UnsolicitedGrant | SchedulingClass::ExtendedRealTimePolling => {
            let packet_bytes = load.packet_bytes.round().max(1.0);
            Source::Constant {
                packet_bytes: packet_bytes as u32,
                // Bits over megabits a second are microseconds.
                interval_ms: 8.0 * packet_bytes / mean_mbps / 1e3,
            }
        }
        SchedulingClass::RealTimePolling => Source::Video {
            mean_mbps,
            picture_ms: PICTURE_MS,
            group_pictures: GROUP_PICTURES,
            intra_ratio: INTRA_RATIO,
            size_variation: SIZE_VARIATION,
        },
        SchedulingClass::NonRealTimePolling | SchedulingClass::BestEffort => Source::Web {
            mean_interval_s: mean_bytes(TRANSFERS) * 8.0 / (mean_mbps * 1e6),
            size: TRANSFERS,
            window: WINDOW,
        },
    })
}

/// Mean of a distribution of sizes. The Pareto distribution between two bounds
/// L and H with exponent a has the mean `L^a/(1 − (L/H)^a) · a/(a−1) · (L^(1−a) − H^(1−a))` (textbook).
fn mean_bytes(size: TransferSize) -> f64 {
    match size {
        TransferSize::Fixed { bytes } => bytes,
        TransferSize::Exponential { mean_bytes } => mean_bytes,
        TransferSize::BoundedPareto {
            shape: a,
            least_bytes: least,
            most_bytes: most,
        } => {
            let whole = 1.0 - (least / most).powf(a);
            least.powf(a) / whole * a / (a - 1.0) * (least.powf(1.0 - a) - most.powf(1.0 - a))
        }
    }
}

fn circuits(scene: &mut Scene, (terminal, direction): (usize, Direction), load: &PlanLoad) {
    let Some((stream, count)) = load.circuits else {
        return;
    };
    for _ in 0..count {
        let source = Source::Circuit {
            packet_bytes: stream.bytes_at(LAYER),
            interval_ms: 1e3 / stream.packets_per_s,
            playout_ms: PLAYOUT_MS,
        };
        scene.flows.push(Flow {
            arq: false,
            ..flow((terminal, way(direction)), Class::UnsolicitedGrant, source)
        });
    }
}

fn calls(scene: &mut Scene, terminal: usize, plan: &ServicePlan) {
    let (Some(lines), Some(calls)) = (&plan.voice, PlanLoad::new(plan, Direction::Downlink).calls)
    else {
        return;
    };
    let first = scene.flows.len();
    for way in Way::BOTH {
        scene.flows.push(Flow {
            priority: 7,
            latency_bound_ms: Some(CALL_BOUND_MS),
            arq: false,
            ..flow((terminal, way), class(calls.class), Source::Voice)
        });
    }
    scene.voice_lines.push(VoiceLines {
        downlink_flow: first,
        uplink_flow: first + 1,
        lines: lines.lines,
        offered_erlang: calls.offered_erlang,
        mean_hold_s: HOLD_S,
        packet_bytes: calls.stream.bytes_at(LAYER),
        packet_ms: f64::from(lines.packet_ms),
        talk_spurts: lines
            .silence_suppression
            .then(|| spurts(lines.activity_frac)),
        impairment: quality::impairment(codec(lines.codec)),
        outside_ms: OUTSIDE_MS,
    });
}

/// P.59's cycle of talking and pausing, shared out as the plan's activity says.
fn spurts(activity_frac: f64) -> TalkSpurts {
    let cycle_s = TalkSpurts::P59.talk_s + TalkSpurts::P59.pause_s;
    let talk_s = cycle_s * activity_frac.clamp(0.01, 0.99);
    TalkSpurts {
        talk_s,
        pause_s: cycle_s - talk_s,
    }
}

fn flow((terminal, direction): (usize, Way), class: Class, source: Source) -> Flow {
    Flow {
        terminal,
        direction,
        class,
        priority: 0,
        max_mbps: None,
        min_mbps: 0.0,
        latency_bound_ms: None,
        weight: 1.0,
        arq: true,
        poll_interval_ms: 1e3 * RTPS_POLL_S,
        source,
    }
}

fn poll_ms(class: SchedulingClass) -> f64 {
    1e3 * match class {
        SchedulingClass::NonRealTimePolling => NRTPS_POLL_S,
        _ => RTPS_POLL_S,
    }
}

pub(super) fn way(direction: Direction) -> Way {
    match direction {
        Direction::Downlink => Way::Downlink,
        Direction::Uplink => Way::Uplink,
    }
}

fn class(class: SchedulingClass) -> Class {
    match class {
        SchedulingClass::UnsolicitedGrant => Class::UnsolicitedGrant,
        SchedulingClass::ExtendedRealTimePolling => Class::ExtendedRealTimePolling,
        SchedulingClass::RealTimePolling => Class::RealTimePolling,
        SchedulingClass::NonRealTimePolling => Class::NonRealTimePolling,
        SchedulingClass::BestEffort => Class::BestEffort,
    }
}

/// The class of a flow as the model names it.
pub fn scheduling_class(class: Class) -> SchedulingClass {
    match class {
        Class::UnsolicitedGrant => SchedulingClass::UnsolicitedGrant,
        Class::ExtendedRealTimePolling => SchedulingClass::ExtendedRealTimePolling,
        Class::RealTimePolling => SchedulingClass::RealTimePolling,
        Class::NonRealTimePolling => SchedulingClass::NonRealTimePolling,
        Class::BestEffort => SchedulingClass::BestEffort,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The closed form against a sum over the distribution's quantiles.
    #[test]
    fn exact_mean_of_bounded_pareto() {
        let TransferSize::BoundedPareto {
            shape,
            least_bytes,
            most_bytes,
        } = TRANSFERS
        else {
            unreachable!("transfers are heavy tailed")
        };
        let whole = 1.0 - (least_bytes / most_bytes).powf(shape);
        let steps = 2_000_000;
        let quantile = |i: i32| {
            let share = (f64::from(i) + 0.5) / f64::from(steps);
            least_bytes * (1.0 - share * whole).powf(-1.0 / shape)
        };
        let mean = (0..steps).map(quantile).sum::<f64>() / f64::from(steps);
        assert!((mean / mean_bytes(TRANSFERS) - 1.0).abs() < 1e-4, "{mean}");
    }
}
