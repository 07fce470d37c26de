//! The sweep against the scalar model on the same radial.

use physics::path_loss::{Polarization, Zone};
use proptest::prelude::*;
use sweep::{CentreLatitude, Conditions, Kernel, OWN_SAMPLES, OwnEnd, Radial, Receiver, Reception};

/// Most that the two may differ. \[dB\]
const TOLERANCE_DB: f64 = 1e-9;

/// Numbers between 0 and 1 by a fixed rule.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn radial(step_km: f64, ground: Vec<f64>, clutter: Vec<f64>, zone: Vec<Zone>) -> Radial {
    Radial {
        step_km,
        ground_amsl_m: ground,
        clutter_m: clutter,
        zone,
        centre: CentreLatitude::new(45.0, 70.0),
    }
}

/// A radial over ground by a formula of the sample, 300 samples of 30 m.
fn bare(ground: impl Fn(usize) -> f64) -> Radial {
    let ground: Vec<f64> = (0..SAMPLES).map(ground).collect();
    let n = ground.len();
    radial(0.03, ground, vec![0.0; n], vec![Zone::Inland; n])
}

const SAMPLES: usize = 300;

/// Receivers between and on the samples, on the ground beside them.
fn receivers(radial: &Radial, dice: &mut Dice) -> Vec<Receiver> {
    let mut all = Vec::new();
    for i in 2..radial.ground_amsl_m.len() {
        for _ in 0..2 {
            let along = if dice.roll() < 0.2 {
                0.0
            } else {
                dice.roll() - 0.5
            };
            all.push(Receiver {
                d_km: (i as f64 + along) * radial.step_km,
                ground_amsl_m: radial.ground_amsl_m[i],
                clutter_m: radial.clutter_m[i],
                zone: radial.zone[i],
            });
        }
    }
    all.sort_by(|a, b| a.d_km.total_cmp(&b.d_km));
    all
}

/// The end of a path divided into equal steps, on what stands at the radial's
/// nearest samples.
fn own_end(radial: &Radial, receiver: &Receiver) -> OwnEnd {
    let steps = (receiver.d_km / radial.step_km - 1e-9).ceil();
    let mut own = OwnEnd {
        step_km: receiver.d_km / steps,
        ..OwnEnd::default()
    };
    for i in 0..OWN_SAMPLES {
        let at = own.d_km(receiver.d_km, i) / radial.step_km;
        let at = (at.round().max(0.0) as usize).min(radial.ground_amsl_m.len() - 1);
        own.ground_amsl_m[i] = radial.ground_amsl_m[at];
        own.clutter_m[i] = radial.clutter_m[at];
        own.zone[i] = radial.zone[at];
    }
    own
}

/// Worst difference over every receiver, with and without own ends. \[dB\]
fn worst_db(name: &str, radial: &Radial, conditions: &Conditions) -> f64 {
    let receivers = receivers(radial, &mut Dice(7));
    let own: Vec<OwnEnd> = receivers.iter().map(|r| own_end(radial, r)).collect();
    let shared_db = worst_of_db(name, radial, conditions, (&receivers, None));
    shared_db.max(worst_of_db(
        name,
        radial,
        conditions,
        (&receivers, Some(&own)),
    ))
}

/// Worst difference over some receivers. \[dB\]
fn worst_of_db(
    name: &str,
    radial: &Radial,
    conditions: &Conditions,
    (receivers, own): (&[Receiver], Option<&[OwnEnd]>),
) -> f64 {
    let mut kernel = Kernel::new(conditions, radial.step_km, radial.ground_amsl_m.len(), 44.0);
    let mut follow = kernel.follow(radial);
    let mut worst_db = 0.0_f64;
    let mut together = Vec::new();
    follow.receive_all(receivers, own, |_, reception| together.push(reception));
    let mut follow = kernel.follow(radial);
    for (i, (receiver, together)) in receivers.iter().zip(together).enumerate() {
        let own = own.map(|own| &own[i]);
        let swept = follow.receive(receiver, own);
        let apart_db = |(a, b): (Reception, Reception)| (a.loss_db - b.loss_db).abs();
        let batched_db = swept.zip(together).map_or(0.0, apart_db);
        assert!(
            swept.is_some() == together.is_some() && batched_db <= TOLERANCE_DB,
            "{name}: {batched_db:e} dB at {receiver:?} under {conditions:?}"
        );
        let Some(terms) = radial.reference(receiver, own, conditions) else {
            assert_eq!(swept, None);
            continue;
        };
        let swept = swept.expect("the scalar model has an answer");
        let apart_db = (swept.loss_db - terms.combination.lb_db).abs();
        assert!(
            apart_db <= TOLERANCE_DB,
            "{name}, own end {}: {} instead of {} dB at {receiver:?} under {conditions:?}\n{:#?}",
            own.is_some(),
            swept.loss_db,
            terms.combination.lb_db,
            terms
                .list()
                .iter()
                .map(|t| format!("{} {}", t.name, t.value))
                .collect::<Vec<_>>()
        );
        let elevation_deg = (terms.path.horizons.theta_t_mrad / 1e3).to_degrees();
        assert!((swept.mast_elevation_deg - elevation_deg).abs() < 1e-9);
        worst_db = worst_db.max(apart_db);
    }
    worst_db
}

fn every_condition() -> Vec<Conditions> {
    let mut all = Vec::new();
    for frequency_mhz in [60.0, 700.0, 3_600.0, 6_000.0] {
        for (mast_agl_m, receiver_agl_m) in [(30.0, 6.0), (80.0, 1.5), (3.0, 20.0)] {
            for time_pct in [50.0, 10.0, 1.0] {
                all.push(Conditions {
                    time_pct,
                    polarization: if time_pct == 10.0 {
                        Polarization::Horizontal
                    } else {
                        Polarization::Vertical
                    },
                    ..Conditions::median(frequency_mhz, mast_agl_m, receiver_agl_m)
                });
            }
        }
    }
    all
}

#[expect(clippy::print_stdout, reason = "a test tells its worst case")]
fn check(name: &str, radial: &Radial) {
    let worst = every_condition()
        .iter()
        .map(|c| worst_db(name, radial, c))
        .fold(0.0, f64::max);
    println!("{name}: at most {worst:.1e} dB from the scalar model");
}

#[test]
fn exact_flat_ground() {
    check("flat", &bare(|_| 100.0));
}

#[test]
fn exact_ramps() {
    check("rising ramp", &bare(|i| 10.0 + 1.5 * i as f64));
    check("falling ramp", &bare(|i| 900.0 - 2.0 * i as f64));
}

#[test]
fn exact_plateaus_with_ties() {
    check(
        "plateaus",
        &bare(|i| if (i / 40) % 2 == 0 { 200.0 } else { 260.0 }),
    );
    check("stairs", &bare(|i| 20.0 * (i / 25) as f64));
}

#[test]
fn exact_ridges() {
    check("ridges", &bare(|i| 300.0 + 150.0 * (i as f64 * 0.07).sin()));
    check(
        "equal ridges",
        &bare(|i| if i % 50 == 30 { 400.0 } else { 100.0 }),
    );
}

#[test]
fn exact_single_spikes() {
    check("spike", &bare(|i| if i == 120 { 800.0 } else { 50.0 }));
    check(
        "spike at the mast",
        &bare(|i| if i == 1 { 120.0 } else { 50.0 }),
    );
    check("pit", &bare(|i| if i == 120 { -200.0 } else { 50.0 }));
}

/// Ground that follows the sight line of the receiver's horizon: every point ties.
#[test]
fn exact_ground_folded_into_a_straight_line() {
    let c = 500.0 / physics::refractivity::effective_radius_km(45.0);
    check(
        "parabola",
        &bare(|i| {
            let d = i as f64 * 0.03;
            500.0 + c * d * d - 20.0 * d
        }),
    );
}

#[test]
fn exact_random_ground_and_clutter() {
    let mut dice = Dice(3);
    for roughness_m in [0.5, 10.0, 200.0] {
        let ground: Vec<f64> = (0..SAMPLES)
            .map(|_| 500.0 + roughness_m * dice.roll())
            .collect();
        let clutter = (0..SAMPLES)
            .map(|_| if dice.roll() < 0.3 { 15.0 } else { 0.0 })
            .collect();
        check(
            "random",
            &radial(0.03, ground, clutter, vec![Zone::Inland; SAMPLES]),
        );
    }
}

#[test]
fn exact_a_walk_of_whole_metres() {
    let mut dice = Dice(11);
    let mut h = 400.0_f64;
    let ground: Vec<f64> = (0..SAMPLES)
        .map(|_| {
            h += (8.0 * (dice.roll() - 0.5)).round();
            h
        })
        .collect();
    let clutter = (0..SAMPLES)
        .map(|i| if i % 70 < 20 { 12.0 } else { 0.0 })
        .collect();
    check(
        "walk",
        &radial(0.03, ground, clutter, vec![Zone::Inland; SAMPLES]),
    );
}

#[test]
fn exact_sea_and_coast() {
    let zones = |of: &dyn Fn(usize) -> Zone| (0..SAMPLES).map(of).collect::<Vec<_>>();
    let sea = zones(&|_| Zone::Sea);
    check(
        "sea",
        &radial(0.1, vec![0.0; SAMPLES], vec![0.0; SAMPLES], sea),
    );
    let mixed = zones(&|i| match i {
        0..20 => Zone::Inland,
        20..50 => Zone::CoastalLand,
        50..240 => Zone::Sea,
        240..260 => Zone::CoastalLand,
        _ => Zone::Inland,
    });
    let ground = (0..SAMPLES).map(|i| if (50..240).contains(&i) { 0.0 } else { 8.0 });
    check(
        "coast",
        &radial(0.1, ground.collect(), vec![0.0; SAMPLES], mixed),
    );
    let islands = zones(&|i| {
        if i % 60 < 12 {
            Zone::CoastalLand
        } else {
            Zone::Sea
        }
    });
    let ground = (0..SAMPLES).map(|i| if i % 60 < 12 { 30.0 } else { 0.0 });
    check(
        "islands",
        &radial(0.1, ground.collect(), vec![0.0; SAMPLES], islands),
    );
}

#[test]
fn exact_long_steps() {
    let mut dice = Dice(5);
    let ground = (0..SAMPLES).map(|_| 200.0 + 300.0 * dice.roll());
    check(
        "long",
        &radial(
            0.5,
            ground.collect(),
            vec![0.0; SAMPLES],
            vec![Zone::Inland; SAMPLES],
        ),
    );
}

#[test]
fn exact_unknown_ground_has_no_answer() {
    let unknown = bare(|i| if i >= 100 { f64::NAN } else { 50.0 });
    check("unknown", &unknown);
    check(
        "unknown mast",
        &bare(|i| if i == 0 { f64::NAN } else { 50.0 }),
    );
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 60,
        rng_seed: proptest::test_runner::RngSeed::Fixed(12),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn exact_any_radial(
        seed in any::<u64>(),
        shape in 0_usize..4,
        scale_m in 0.1..800.0_f64,
        step_km in 0.005..0.4_f64,
        frequency_mhz in 30.0..6_000.0_f64,
        mast_agl_m in 1.0..200.0_f64,
        receiver_agl_m in 1.0..60.0_f64,
        time_pct in prop_oneof![Just(50.0), 1.0..50.0_f64],
        lapse in 20.0..140.0_f64,
    ) {
        let mut dice = Dice(seed);
        let n = 40 + (dice.roll() * 200.0) as usize;
        let mut h = 300.0;
        let ground: Vec<f64> = (0..n).map(|i| match shape {
            0 => scale_m * dice.roll(),
            1 => { h += 0.1 * scale_m * (dice.roll() - 0.5); h }
            2 => (scale_m * (i as f64 * 0.11).sin()).round(),
            _ => if dice.roll() < 0.05 { scale_m } else { 0.0 },
        }).collect();
        let clutter = (0..n).map(|_| if dice.roll() < 0.2 { (25.0 * dice.roll()).round() } else { 0.0 }).collect();
        let mut zone = Zone::Inland;
        let all_inland = dice.roll() < 0.5;
        let zones = (0..n).map(|_| {
            if !all_inland && dice.roll() < 0.05 {
                zone = [Zone::Inland, Zone::CoastalLand, Zone::Sea][(3.0 * dice.roll()) as usize];
            }
            zone
        }).collect();
        let conditions = Conditions {
            time_pct,
            refractivity_lapse_n_per_km: lapse,
            ..Conditions::median(frequency_mhz, mast_agl_m, receiver_agl_m)
        };
        worst_db("any", &radial(step_km, ground, clutter, zones), &conditions);
    }
}
