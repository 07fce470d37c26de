//! Seconds for a busy hour of a sector of 200 premises, frame by frame, on one core.

use physics::ofdma::OfdmaNumerology;
use physics::ofdma::frame::FrameSplit;
use physics::ofdma::modulation::MODULATIONS;
use simulator::scene::{
    Fading, Policy, RadioLink, Step, TalkSpurts, Terminal, TransferSize, VoiceLines,
};
use simulator::{
    Class, Direction, Flow, FrameModel, Run, Scene, Source, Unwatched, Window, simulate,
};

use crate::Figure;
use crate::coverage::cpu_s;

const PREMISES: usize = 200;

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let scene = busy_sector();
    let mut best_s = f64::INFINITY;
    let mut frames = 0;
    for _ in 0..3 {
        let start_s = cpu_s()?;
        let outcome = simulate(&scene, &Run::busy_hour(1), &Unwatched)?;
        best_s = best_s.min(cpu_s()? - start_s);
        frames = outcome.frames;
    }
    Ok(vec![
        Figure::at_most("simulator_busy_hour_200_s", best_s, "s", 10.0),
        Figure::plain("simulator_frames_per_s", frames as f64 / best_s, "frames/s"),
    ])
}

/// 200 premises in 10 MHz, links from QPSK to 64QAM, all five classes, about two thirds full.
fn busy_sector() -> Scene {
    let mut scene = Scene {
        frame: FrameModel::Ofdma {
            numerology: OfdmaNumerology::for_channel(10.0).expect("a profile"),
            split: FrameSplit {
                downlink_symbols: 29,
                uplink_symbols: 18,
            },
            map_repetition: 4,
            uplink_control_symbols: 3,
        },
        ladders: vec![ladder(2), ladder(1)],
        terminals: (0..PREMISES).map(terminal).collect(),
        flows: Vec::new(),
        voice_lines: Vec::new(),
        policy: Policy::default(),
    };
    for premises in 0..PREMISES {
        web(&mut scene, premises);
        if premises.is_multiple_of(2) {
            telephone(&mut scene, premises);
        }
        if premises.is_multiple_of(40) {
            video(&mut scene, premises);
            circuit(&mut scene, PREMISES - 1 - premises / 40);
        }
    }
    scene
}

/// Turbo code thresholds with 2 dB in hand; two streams from 10 dB on, 3 dB more for each.
fn ladder(streams_most: u32) -> Vec<Step> {
    let step = |streams: u32| {
        let thresholds = MODULATIONS.iter().filter(|m| m.name != "64QAM 1/2");
        thresholds.map(move |m| Step {
            bits_per_slot: m.bits_per_slot() as u32,
            streams,
            sinr_threshold_db: m.turbo_snr_db + 2.0 + 3.0 * f64::from(streams - 1),
        })
    };
    let mut steps: Vec<Step> = (1..=streams_most).flat_map(step).collect();
    steps.sort_by(|a, b| a.sinr_threshold_db.total_cmp(&b.sinr_threshold_db));
    // A step is of use only if it is faster than all before it.
    let mut fastest = 0;
    steps.retain(|s| {
        let faster = s.slot_bits() > fastest;
        fastest = fastest.max(s.slot_bits());
        faster
    });
    steps
}

/// SINRs from 8 to 30 dB, evenly.
fn terminal(premises: usize) -> Terminal {
    let mean_sinr_db = 8.0 + 22.0 * premises as f64 / PREMISES as f64;
    Terminal {
        downlink: RadioLink {
            ladder: 0,
            mean_sinr_db,
            slots_max: u32::MAX,
        },
        uplink: RadioLink {
            ladder: 1,
            mean_sinr_db: mean_sinr_db - 4.0,
            slots_max: 50,
        },
        fading: Fading {
            deviation_db: 2.0,
            correlation_s: 2.0,
        },
    }
}

fn flow(terminal: usize, direction: Direction, class: Class, source: Source) -> Flow {
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
        poll_interval_ms: 20.0,
        source,
    }
}

/// Heavy-tailed transfers, 22 kb/s down and 5 kb/s up.
fn web(scene: &mut Scene, premises: usize) {
    let source = |mean_interval_s| Source::Web {
        mean_interval_s,
        size: TransferSize::BoundedPareto {
            shape: 1.2,
            least_bytes: 15_000.0,
            most_bytes: 10_000_000.0,
        },
        window: Window::Closed {
            first_bytes: 14_600,
            full_bytes: 65_535,
            round_trip_ms: 40.0,
        },
    };
    for (direction, mean_interval_s, max_mbps) in [
        (Direction::Downlink, 24.0, 4.0),
        (Direction::Uplink, 112.0, 1.0),
    ] {
        let class = if premises.is_multiple_of(20) {
            Class::NonRealTimePolling
        } else {
            Class::BestEffort
        };
        scene.flows.push(Flow {
            max_mbps: Some(max_mbps),
            min_mbps: if class == Class::BestEffort { 0.0 } else { 0.1 },
            poll_interval_ms: 1000.0,
            ..flow(premises, direction, class, source(mean_interval_s))
        });
    }
}

/// G.729 at 20 ms in Ethernet frames, silence suppressed, 0.1 E.
fn telephone(scene: &mut Scene, premises: usize) {
    let first = scene.flows.len();
    for direction in Direction::BOTH {
        scene.flows.push(Flow {
            latency_bound_ms: Some(100.0),
            arq: false,
            ..flow(
                premises,
                direction,
                Class::ExtendedRealTimePolling,
                Source::Voice,
            )
        });
    }
    scene.voice_lines.push(VoiceLines {
        downlink_flow: first,
        uplink_flow: first + 1,
        lines: 2,
        offered_erlang: 0.1,
        mean_hold_s: 180.0,
        packet_bytes: 78,
        packet_ms: 20.0,
        talk_spurts: Some(TalkSpurts::P59),
        impairment: traffic::quality::impairment(traffic::voice::Codec::G729),
        outside_ms: 60.0,
    });
}

fn video(scene: &mut Scene, premises: usize) {
    let source = Source::Video {
        mean_mbps: 0.3,
        picture_ms: 40.0,
        group_pictures: 12,
        intra_ratio: 4.0,
        size_variation: 0.4,
    };
    scene.flows.push(Flow {
        min_mbps: 0.3,
        max_mbps: Some(1.5),
        latency_bound_ms: Some(400.0),
        ..flow(
            premises,
            Direction::Downlink,
            Class::RealTimePolling,
            source,
        )
    });
}

/// Four time slots of 64 kb/s, packets of 4 ms.
fn circuit(scene: &mut Scene, premises: usize) {
    for direction in Direction::BOTH {
        let source = Source::Circuit {
            packet_bytes: 178,
            interval_ms: 4.0,
            playout_ms: 15.0,
        };
        scene.flows.push(Flow {
            arq: false,
            latency_bound_ms: Some(50.0),
            ..flow(premises, direction, Class::UnsolicitedGrant, source)
        });
    }
}
