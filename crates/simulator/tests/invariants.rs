//! What holds in every run, whatever the scene: bytes and airtime are
//! conserved, nobody goes beyond a grant, a seed says all.

mod scenes;

use proptest::prelude::*;
use scenes::best_effort;
use simulator::scene::{
    BestEffortShare, Fading, Framing, Policy, RadioLink, Step, TalkSpurts, TransferSize, VoiceLines,
};
use simulator::{
    Class, Direction, Flow, FrameModel, Outcome, Run, Scene, SimulateError, Source, Terminal,
    Unwatched, Watch, Window, simulate,
};

const WINDOW: Window = Window::Closed {
    first_bytes: 3000,
    full_bytes: 20_000,
    round_trip_ms: 30.0,
};

fn source(kind: u8, rate: f64) -> Source {
    match kind {
        0 => Source::Constant {
            packet_bytes: 210,
            interval_ms: 20.0 / rate,
        },
        1 => Source::Circuit {
            packet_bytes: 236,
            interval_ms: 4.0 / rate,
            playout_ms: 12.0,
        },
        2 => Source::Random {
            packet_bytes: 700,
            mean_interval_ms: 10.0 / rate,
        },
        3 => Source::Video {
            mean_mbps: 0.5 * rate,
            picture_ms: 40.0,
            group_pictures: 12,
            intra_ratio: 4.0,
            size_variation: 0.5,
        },
        4 => Source::Saturating,
        kind => Source::Web {
            mean_interval_s: 0.5 / rate,
            size: TransferSize::BoundedPareto {
                shape: 1.2,
                least_bytes: 2000.0,
                most_bytes: 300_000.0,
            },
            window: if kind == 5 { WINDOW } else { Window::Open },
        },
    }
}

fn frame(is_ofdma: bool) -> FrameModel {
    if !is_ofdma {
        return scenes::fixed(5.0, 200);
    }
    FrameModel::Ofdma {
        numerology: physics::ofdma::OfdmaNumerology::for_channel(10.0).expect("a profile"),
        split: physics::ofdma::frame::FrameSplit {
            downlink_symbols: 29,
            uplink_symbols: 18,
        },
        map_repetition: 4,
        uplink_control_symbols: 3,
    }
}

prop_compose! {
    fn terminals()(
        count in 1_usize..6,
    )(
        links in prop::collection::vec((-2.0_f64..25.0, 0.0_f64..5.0, 5_u32..200), count),
    ) -> Vec<Terminal> {
        let terminal = |(mean_sinr_db, deviation_db, slots_max): (f64, f64, u32)| {
            let link = RadioLink { ladder: 0, mean_sinr_db, slots_max };
            let fading = Fading { deviation_db, correlation_s: 0.5 };
            Terminal { downlink: link, uplink: link, fading }
        };
        links.into_iter().map(terminal).collect()
    }
}

prop_compose! {
    fn flows()(
        flows in prop::collection::vec(
            (0_usize..6, any::<bool>(), 0_usize..5, 0_u8..7, 0.3_f64..4.0, any::<(bool, bool, bool)>()),
            1..12,
        ),
    ) -> Vec<Flow> {
        let flow = |(terminal, down, class, kind, rate, (arq, bound, ceiling)): (_, bool, usize, u8, _, (bool, bool, bool))| {
            let class = Class::ALL[class];
            // Grants are for even packets.
            let kind = if class <= Class::ExtendedRealTimePolling { kind % 2 } else { kind };
            Flow {
                terminal,
                direction: if down { Direction::Downlink } else { Direction::Uplink },
                class,
                priority: kind % 3,
                max_mbps: ceiling.then_some(0.8),
                min_mbps: 0.2,
                latency_bound_ms: bound.then_some(80.0),
                weight: rate,
                arq,
                ..best_effort(0, source(kind, rate))
            }
        };
        flows.into_iter().map(flow).collect()
    }
}

prop_compose! {
    fn scene()(
        terminals in terminals(),
        flows in flows(),
        share in 0_usize..3,
        (is_ofdma, packs, has_voice) in any::<(bool, bool, bool)>(),
        named in 1_u32..10,
    ) -> Scene {
        let step = |bits_per_slot, sinr_threshold_db| Step { bits_per_slot, streams: 1, sinr_threshold_db };
        let shares = [BestEffortShare::EqualRate, BestEffortShare::EqualAirtime, BestEffortShare::Weighted];
        let mut scene = Scene {
            frame: frame(is_ofdma),
            ladders: vec![vec![step(24, 0.0), step(48, 3.0), step(144, 12.0), step(240, 20.0)]],
            flows: flows.into_iter().map(|f| Flow { terminal: f.terminal % terminals.len(), ..f }).collect(),
            terminals,
            voice_lines: Vec::new(),
            policy: Policy {
                best_effort: shares[share],
                terminals_per_frame_max: named,
                framing: Framing { pack_bytes: if packs { 1000 } else { 0 }, ..Framing::default() },
                ..Policy::default()
            },
        };
        if has_voice {
            add_voice(&mut scene);
        }
        scene
    }
}

fn add_voice(scene: &mut Scene) {
    let first = scene.flows.len();
    for direction in Direction::BOTH {
        scene.flows.push(Flow {
            direction,
            class: Class::ExtendedRealTimePolling,
            latency_bound_ms: Some(100.0),
            arq: false,
            ..best_effort(0, Source::Voice)
        });
    }
    scene.voice_lines.push(VoiceLines {
        downlink_flow: first,
        uplink_flow: first + 1,
        lines: 3,
        offered_erlang: 2.0,
        mean_hold_s: 2.0,
        packet_bytes: 78,
        packet_ms: 20.0,
        talk_spurts: Some(TalkSpurts::P59),
        impairment: Some(traffic::quality::G711_WITHOUT_CONCEALMENT),
        outside_ms: 50.0,
    });
}

fn run(scene: &Scene, seed: u64) -> Outcome {
    let run = Run {
        seed,
        warm_up_s: 1.0,
        measured_s: 5.0,
    };
    simulate(scene, &run, &Unwatched).expect("a scene that makes sense")
}

/// Rate of a source that grants are made for. \[bytes/s\]
fn granted_rate(scene: &Scene, flow: &Flow) -> f64 {
    match flow.source {
        Source::Constant {
            packet_bytes,
            interval_ms,
        }
        | Source::Circuit {
            packet_bytes,
            interval_ms,
            ..
        } => f64::from(packet_bytes) / interval_ms * 1e3,
        _ => scene
            .voice_lines
            .iter()
            .map(|l| f64::from(l.lines * l.packet_bytes) / l.packet_ms * 1e3)
            .sum(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, rng_seed: proptest::test_runner::RngSeed::Fixed(16), ..ProptestConfig::default() })]

    #[test]
    fn exact_bytes_airtime_and_grants_are_conserved(scene in scene(), seed in any::<u64>()) {
        let outcome = run(&scene, seed);
        for flow in &outcome.flows {
            let came = flow.queued_at_start_bytes + flow.offered_bytes;
            let went = flow.delivered_bytes + flow.lost_bytes + flow.queued_bytes;
            prop_assert_eq!(came, went, "flow {:?}", scene.flows[flow.flow]);
            prop_assert!((0.0..=1.0).contains(&flow.lost_frac));
            if flow.class <= Class::ExtendedRealTimePolling {
                let rate = granted_rate(&scene, &scene.flows[flow.flow]);
                // 1 % to catch up, and an account of two frames or two packets for each of three calls.
                let most = 1.0102 * rate * 5.0 + (0.010 * rate).max(6.0 * 236.0) + 236.0;
                prop_assert!(flow.granted_sent_bytes as f64 <= most);
                prop_assert!(flow.granted_bytes as f64 <= most);
                prop_assert!(flow.granted_sent_bytes <= flow.granted_bytes);
            }
        }
        for airtime in &outcome.airtime {
            let parts = [airtime.requests_frac, airtime.maps_frac, airtime.idle_frac];
            let sum: f64 = airtime.by_class_frac.iter().chain(&parts).sum();
            prop_assert!((sum - 1.0).abs() < 1e-9, "{:?}", airtime);
            prop_assert!(airtime.terminals_per_frame <= f64::from(scene.policy.terminals_per_frame_max));
            let of_flows: f64 = outcome.flows.iter().filter(|f| f.direction == airtime.direction).map(|f| f.airtime_frac).sum();
            prop_assert!((of_flows - airtime.by_class_frac.iter().sum::<f64>()).abs() < 1e-9);
        }
    }

    #[test]
    fn exact_a_seed_says_all(scene in scene(), seed in any::<u64>()) {
        prop_assert_eq!(run(&scene, seed), run(&scene, seed));
    }
}

/// Circuits take what they need before best effort gets anything. Half a
/// percent for the padding that falls differently.
#[test]
fn exact_more_guaranteed_load_never_raises_best_effort() {
    let mut last_mbps = f64::INFINITY;
    for circuits in 0..12 {
        let mut scene = scenes::steady(frame(true), &[96; 12]);
        scene.policy.terminals_per_frame_max = 12;
        for terminal in 0..12 {
            scene.flows.push(best_effort(terminal, Source::Saturating));
        }
        for terminal in 0..circuits {
            scene.flows.push(Flow {
                class: Class::UnsolicitedGrant,
                ..best_effort(terminal, source(1, 1.0))
            });
        }
        let outcome = run(&scene, 1);
        let rest = outcome
            .classes
            .iter()
            .find(|c| c.class == Class::BestEffort);
        let rest_mbps = rest.expect("best effort").delivered_mbps;
        assert!(
            rest_mbps <= last_mbps * 1.005,
            "{circuits}: {rest_mbps}, before {last_mbps}"
        );
        last_mbps = rest_mbps;
    }
}

/// In a sector with room, granted packets are neither lost nor late, and every circuit keeps step.
#[test]
fn exact_granted_traffic_meets_its_bounds_in_a_sector_with_room() {
    let mut scene = scenes::steady(frame(true), &[144; 8]);
    add_voice(&mut scene);
    for direction in Direction::BOTH {
        for terminal in 0..4 {
            scene.flows.push(Flow {
                direction,
                class: Class::UnsolicitedGrant,
                ..best_effort(terminal, source(1, 1.0))
            });
            scene.flows.push(Flow {
                direction,
                ..best_effort(4 + terminal, Source::Saturating)
            });
        }
    }
    let outcome = run(&scene, 2);
    for flow in outcome
        .flows
        .iter()
        .filter(|f| f.class < Class::RealTimePolling)
    {
        assert_eq!(flow.lost_bytes, 0, "{flow:?}");
        assert!(flow.circuit.is_none_or(|c| c.slips == 0), "{flow:?}");
        let delay_ms = flow.packets.expect("packets").delay_ms;
        let most_ms = if flow.class == Class::UnsolicitedGrant {
            16.0
        } else {
            45.0
        };
        assert!(delay_ms.max < most_ms, "{flow:?}");
        assert!(flow.voice.is_none_or(|v| v.rating > 85.0), "{flow:?}");
    }
}

/// Stops at once.
struct Impatient;

impl Watch for Impatient {
    fn advance(&self, _frames: u64) {}
    fn interrupted(&self) -> bool {
        true
    }
}

#[test]
fn exact_a_watcher_may_stop_it() {
    let scene = scenes::steady(frame(true), &[96]);
    let run = Run::busy_hour(1);
    assert_eq!(
        simulate(&scene, &run, &Impatient),
        Err(SimulateError::Interrupted)
    );
}

#[test]
fn exact_scenes_without_sense_are_refused() {
    let refused = |change: fn(&mut Scene)| {
        let mut scene = scenes::steady(frame(false), &[96]);
        scene.flows.push(best_effort(0, source(2, 1.0)));
        change(&mut scene);
        let error = simulate(&scene, &Run::busy_hour(1), &Unwatched).expect_err("no sense");
        println!("{error}");
        assert!(matches!(error, SimulateError::Scene(_)));
    };
    refused(|s| s.frame = scenes::fixed(0.0, 10));
    refused(|s| s.policy.terminals_per_frame_max = 0);
    refused(|s| s.terminals[0].uplink.ladder = 9);
    refused(|s| s.terminals[0].downlink.mean_sinr_db = f64::NAN);
    refused(|s| s.flows[0].terminal = 4);
    refused(|s| s.flows[0].class = Class::UnsolicitedGrant);
    refused(|s| s.flows[0].weight = 0.0);
    refused(|s| s.flows[0].source = Source::Voice);
    refused(add_voice_to_the_wrong_flow);
}

fn add_voice_to_the_wrong_flow(scene: &mut Scene) {
    add_voice(scene);
    scene.voice_lines[0].uplink_flow = 0;
}
