//! The simulator against closed forms: calls, queues, shares, capacity.
//!
//! Each figure is the mean of ten independent runs; theory must lie within the
//! 99 % confidence interval (Student's t), and the interval must be narrow
//! enough to tell. Seeds are fixed, so the checks do not vary from day to day.

#![expect(clippy::print_stdout, reason = "a test tells what it compared")]

mod scenes;

use physics::ofdma::OfdmaNumerology;
use physics::ofdma::frame::{FrameSplit, mean_bits_per_slot};
use scenes::{Interval, best_effort, fixed, run, runs, steady};
use simulator::scene::{BestEffortShare, Framing, TransferSize, VoiceLines};
use simulator::{Class, Direction, Flow, FrameModel, Outcome, Scene, Source, Window};

/// One terminal's lines with so many trunks in the sector; packets are few, calls are what counts.
fn trunks(calls_max: u32, offered_erlang: f64) -> Scene {
    let mut scene = steady(fixed(20.0, 1000), &[96]);
    for direction in Direction::BOTH {
        scene.flows.push(Flow {
            direction,
            class: Class::UnsolicitedGrant,
            ..best_effort(0, Source::Voice)
        });
    }
    scene.voice_lines.push(VoiceLines {
        downlink_flow: 0,
        uplink_flow: 1,
        lines: 1000,
        offered_erlang,
        mean_hold_s: 4.0,
        packet_bytes: 100,
        packet_ms: 1000.0,
        talk_spurts: None,
        impairment: Some(traffic::quality::G711_WITHOUT_CONCEALMENT),
        outside_ms: 0.0,
    });
    scene.policy.calls_max = Some(calls_max);
    scene.policy.terminals_per_frame_max = 1;
    scene
}

/// Erlang B, any table: 10 lines and 7 E block 7.874 %, 5 and 3 E 11.005 %;
/// 15 lines carry 8.108 E at 1 % (handbook table). Ten runs of 20,000 s with
/// calls of 4 s on average.
#[test]
fn ref_blocking_is_erlang_b() {
    for (lines, offered_erlang, blocked_frac, widest) in [
        (10, 7.0, 0.078_741, 0.06),
        (5, 3.0, 0.110_054, 0.06),
        (15, 8.108, 0.01, 0.25),
    ] {
        let scene = trunks(lines, offered_erlang);
        let calls = |o: &Outcome| o.calls.expect("lines");
        let outcomes = runs(&scene, 20_000.0);
        let blocked = Interval::of(&outcomes, |o| calls(o).blocked_frac);
        blocked.check(&format!("blocking of {lines} lines"), blocked_frac, widest);
        let carried = Interval::of(&outcomes, |o| calls(o).carried_erlang);
        let expected = offered_erlang * (1.0 - blocked_frac);
        carried.check("carried traffic, E", expected, 0.02);
    }
}

/// A frame that carries one packet, shared by some flows.
fn packet_server(flows: usize, source: Source) -> Scene {
    let mut scene = steady(fixed(5.0, 1), &vec![800; flows]);
    scene.policy.terminals_per_frame_max = 1;
    scene.policy.round_bytes = 100;
    scene.flows = (0..flows).map(|t| best_effort(t, source)).collect();
    scene
}

fn mean_delay_ms(outcome: &Outcome) -> f64 {
    outcome.classes[0].packets.expect("packets").delay_ms.mean
}

/// M/D/1 with slots: `W = ρm/(2(1−ρ)) + m/2` (D. Bertsekas and R. Gallager, Data Networks, 2nd ed.,
/// section 3.5, slotted frequency division; from memory), and the service m itself.
/// Packets of Poisson streams, one per frame of 5 ms; ten runs of 2,000 s.
#[test]
fn ref_poisson_packets_wait_as_in_a_slotted_md1_queue() {
    for (flows, load) in [(1, 0.5), (1, 0.8), (20, 0.8)] {
        let mean_interval_ms = 5.0 * f64::from(flows) / load;
        let source = Source::Random {
            packet_bytes: 100,
            mean_interval_ms,
        };
        let scene = packet_server(flows as usize, source);
        let wait_ms = traffic::queue::mean_wait_equal_s(load, 5.0) + 2.5;
        let delay = Interval::of(&runs(&scene, 2000.0), mean_delay_ms);
        let what = format!("delay of {flows} flows at load {load}, ms");
        delay.check(&what, wait_ms + 5.0, 0.03);
    }
}

/// Packets that come evenly to an even server do not wait for one another: all wait alike, for the frame.
#[test]
fn exact_even_packets_do_not_queue() {
    let source = Source::Constant {
        packet_bytes: 100,
        interval_ms: 10.0,
    };
    let outcome = run(&packet_server(1, source), 5, 100.0);
    let packets = outcome.flows[0].packets.expect("packets");
    assert!(packets.jitter_ms < 1e-6 && packets.delay_variation_ms < 1e-6);
    assert!((5.0..10.0).contains(&packets.delay_ms.mean));
    assert_eq!(outcome.flows[0].delivered_bytes, 1_000_000);
}

/// 24 Mb/s shared by the transfers of 200 terminals.
fn shared_pipe(load: f64, size: TransferSize) -> Scene {
    let terminals = 200;
    let mut scene = steady(fixed(5.0, 15_000), &[8; 200]);
    scene.policy.round_bytes = 1500;
    let mean_interval_s = f64::from(terminals) * size.mean_bytes() * 8e-6 / (24.0 * load);
    let source = Source::Web {
        mean_interval_s,
        size,
        window: Window::Open,
    };
    scene.flows = (0..terminals as usize)
        .map(|t| best_effort(t, source))
        .collect();
    scene
}

/// M/G/1 with processor sharing: `T = S/(C(1−ρ))` whatever the sizes' distribution (textbook; L. Kleinrock,
/// Queueing Systems II). Half a frame is spent waiting for the first frame and
/// half in the last. Ten runs of 1,500 s
/// (3,000 s at the higher load), 7,500 to 21,000 transfers each.
#[test]
fn ref_transfers_last_as_in_processor_sharing() {
    let exponential = TransferSize::Exponential {
        mean_bytes: 300_000.0,
    };
    let heavy = TransferSize::BoundedPareto {
        shape: 1.3,
        least_bytes: 100_000.0,
        most_bytes: 5_000_000.0,
    };
    for (name, size, (load, measured_s)) in [
        ("exponential", exponential, (0.5, 1500.0)),
        ("exponential", exponential, (0.7, 3000.0)),
        ("heavy-tailed", heavy, (0.5, 1500.0)),
    ] {
        let scene = shared_pipe(load, size);
        let expected_ms =
            1e3 * traffic::sharing::transfer_s(size.mean_bytes() * 8e-6, 24.0, load) + 5.0;
        let duration = Interval::of(&runs(&scene, measured_s), |o| {
            o.classes[0].transfers.expect("transfers").duration_ms.mean
        });
        duration.check(&format!("{name} at load {load}, ms"), expected_ms, 0.06);
    }
}

/// Bits per slot and share of terminals: 64QAM 5/6 twice, 64QAM 3/4, 16QAM 3/4, 16QAM 1/2, QPSK 1/2.
const MIX: [u32; 10] = [480, 480, 480, 480, 216, 216, 144, 144, 96, 48];

/// All terminals of a mix with something to send without end.
fn saturated(frame: FrameModel, directions: &[Direction]) -> Scene {
    let mut scene = steady(frame, &MIX);
    for &direction in directions {
        for terminal in 0..MIX.len() {
            scene.flows.push(Flow {
                direction,
                ..best_effort(terminal, Source::Saturating)
            });
        }
    }
    scene
}

fn near(what: &str, value: f64, expected: f64, within_frac: f64) {
    println!("{what}: {value:.4}, closed form {expected:.4}");
    assert!(
        (value / expected - 1.0).abs() <= within_frac,
        "{what}: {value}, closed form {expected}"
    );
}

/// 450 slots in 5 ms: the harmonic mean of the mix is 159.41 bits a slot and
/// 14.35 Mb/s at equal rates, the arithmetic 278.4 and 25.06 Mb/s at equal
/// airtime. The rest is padding, half a slot a burst. One run of 60 s.
#[test]
fn exact_a_mixed_sector_carries_the_harmonic_mean() {
    let mut scene = saturated(fixed(5.0, 450), &[Direction::Downlink]);
    let equal_rate = run(&scene, 1, 60.0);
    let class = &equal_rate.classes[0];
    near("equal rate, Mb/s", class.delivered_mbps, 14.35, 0.02);
    near(
        "smallest over largest rate",
        class.rate_mbps.min,
        class.rate_mbps.max,
        0.01,
    );
    scene.policy.best_effort = BestEffortShare::EqualAirtime;
    let equal_airtime = run(&scene, 1, 60.0);
    near(
        "equal airtime, Mb/s",
        equal_airtime.classes[0].delivered_mbps,
        25.06,
        0.02,
    );
    let airtime: Vec<f64> = equal_airtime.flows.iter().map(|f| f.airtime_frac).collect();
    airtime.iter().for_each(|&a| near("airtime", a, 0.1, 0.03));
}

#[test]
fn exact_weights_divide_the_rate() {
    let mut scene = saturated(fixed(5.0, 450), &[Direction::Downlink]);
    scene.policy.best_effort = BestEffortShare::Weighted;
    scene.flows[3].weight = 3.0;
    let outcome = run(&scene, 1, 60.0);
    let rate = |flow: usize| outcome.flows[flow].delivered_mbps;
    near("three times the weight", rate(3), 3.0 * rate(4), 0.01);
}

/// A saturated 10 MHz sector against slot arithmetic: slots that eight named
/// terminals leave, harmonic mean, headers of 12 bytes on 250, one in ten
/// blocks sent again. Within 3 %; one run of 60 s.
#[test]
fn exact_saturation_is_that_of_slot_arithmetic() {
    let named = 8;
    let numerology = OfdmaNumerology::for_channel(10.0).expect("a profile");
    let frame = FrameModel::Ofdma {
        numerology,
        split: FrameSplit {
            downlink_symbols: 29,
            uplink_symbols: 18,
        },
        map_repetition: 4,
        uplink_control_symbols: 3,
    };
    let mut scene = saturated(frame, &Direction::BOTH);
    scene.policy.terminals_per_frame_max = named;
    // Rounds small enough that every frame names eight terminals in both directions.
    scene.policy.round_bytes = 250;
    scene.policy.framing = Framing {
        segment_bytes: 250,
        ..Framing::default()
    };
    let errors = &mut scene.policy.adaptation.errors;
    errors.at_threshold_frac = 0.1;
    for terminal in &mut scene.terminals {
        terminal.downlink.mean_sinr_db = 0.0;
        terminal.uplink.mean_sinr_db = 0.0;
    }
    scene.policy.adaptation.margin_db = 0.0;
    let outcome = run(&scene, 1, 60.0);
    let shares: Vec<(f64, f64)> = MIX.iter().map(|&bits| (1.0, f64::from(bits))).collect();
    let bits_per_slot = mean_bits_per_slot(&shares);
    for (class, slots) in [
        (0, frame.downlink_slots(named, named)),
        (1, frame.uplink_slots()),
    ] {
        // Each burst's last slot is half empty on average.
        let slots = f64::from(slots) - 0.5 * f64::from(named);
        let expected_mbps = slots * bits_per_slot / 5e3 * 250.0 / 262.0 * 0.9;
        near(
            "terminals",
            outcome.airtime[class].terminals_per_frame,
            f64::from(named),
            0.01,
        );
        let direction = outcome.classes[class].direction;
        let delivered_mbps = outcome.classes[class].delivered_mbps;
        near(
            &format!("{direction:?}, Mb/s"),
            delivered_mbps,
            expected_mbps,
            0.03,
        );
    }
}

/// With a ceiling on each transfer: `r/(1 + C(m, A)/(m − A))` with m = C/r (textbook, M/M/m).
/// 40 Mb/s, 10 Mb/s each, offered 20 and 28: 9.200 and 7.368 Mb/s.
#[test]
fn ref_transfers_with_a_ceiling_share_the_rest() {
    for (offered_mbps, expected_mbps) in [(20.0, 9.200), (28.0, 7.368)] {
        let size = TransferSize::Exponential {
            mean_bytes: 600_000.0,
        };
        let mut scene = shared_pipe(offered_mbps / 24.0, size);
        scene.frame = fixed(5.0, 25_000);
        scene.policy.burst_ms = 5.0;
        for flow in &mut scene.flows {
            flow.max_mbps = Some(10.0);
        }
        let mean_ms = size.mean_bytes() * 8e-3 / expected_mbps + 5.0;
        let duration = Interval::of(&runs(&scene, 1000.0), |o| {
            o.classes[0].transfers.expect("transfers").duration_ms.mean
        });
        duration.check(&format!("offered {offered_mbps} Mb/s, ms"), mean_ms, 0.05);
    }
}

/// A transfer that waits for word of delivery gets a window every round trip:
/// 60,000 bytes every 55 + 5 ms, 8 Mb/s, less the two round trips of its start.
#[test]
fn exact_a_window_bounds_the_rate() {
    let mut scene = steady(fixed(5.0, 25_000), &[8]);
    let source = Source::Web {
        mean_interval_s: 100.0,
        size: TransferSize::Fixed { bytes: 6e6 },
        window: Window::Closed {
            first_bytes: 15_000,
            full_bytes: 60_000,
            round_trip_ms: 55.0,
        },
    };
    scene.flows = vec![best_effort(0, source)];
    let outcome = run(&scene, 3, 2000.0);
    let rates = outcome.flows[0].transfers.expect("transfers").rate_mbps;
    println!("{rates:?}");
    assert!(rates.count > 10);
    assert!(rates.max <= 8.0 && rates.p50 > 7.8, "{rates:?}");
}
