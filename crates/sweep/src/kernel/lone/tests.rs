//! Single paths against the scalar model on the same samples.

use physics::path_loss::{PathProfile, Zone, p1812};
use proptest::prelude::*;

use super::{CHUNK, Ends, Inside, Lone};
use crate::kernel::Kernel;
use crate::radial::Receiver;
use crate::{CentreLatitude, Conditions};

/// Most that the two may differ. \[dB\]
const TOLERANCE_DB: f64 = 1e-9;

struct Path {
    step_km: f64,
    /// Ends included.
    ground_m: Vec<f64>,
    clutter_m: Vec<f32>,
}

impl Path {
    fn bare(ground: impl Fn(usize) -> f64, steps: usize) -> Self {
        Self {
            step_km: 0.03,
            ground_m: (0..=steps).map(ground).collect(),
            clutter_m: vec![0.0; steps + 1],
        }
    }

    fn steps(&self) -> usize {
        self.ground_m.len() - 1
    }

    fn d_km(&self) -> Vec<f64> {
        let d_km = |i: usize| i as f64 * self.step_km;
        (0..=self.steps()).map(d_km).collect()
    }

    /// Loss, horizon's elevation and least clearance by the scalar model.
    fn reference(&self, conditions: &Conditions) -> p1812::Terms {
        let clutter_m: Vec<f64> = self.clutter_m.iter().map(|c| f64::from(*c)).collect();
        let zone = vec![Zone::Inland; self.ground_m.len()];
        let d_km = self.d_km();
        let profile = PathProfile::new(&d_km, &self.ground_m, &clutter_m, &zone).unwrap();
        p1812::predict(&conditions.path_input(profile, self.centre_lat_deg()))
    }

    fn centre_lat_deg(&self) -> f64 {
        let length_km = self.steps() as f64 * self.step_km;
        CentreLatitude::new(45.0, 70.0).lat_deg(length_km)
    }

    /// How far the walks are from the scalar model. \[dB\]
    fn apart_db(&self, conditions: &Conditions) -> f64 {
        let steps = self.steps();
        let kernel = Kernel::new(conditions, self.step_km, steps, 44.0);
        let mut lone = Lone::new(&kernel, steps + 17);
        let mut inside = Inside::default();
        inside.begin(self.step_km, steps);
        for i in 1..steps {
            let k = i - 1;
            inside.ground_amsl_m[k / CHUNK][k % CHUNK] = self.ground_m[i];
            inside.clutter_m[k / CHUNK][k % CHUNK] = self.clutter_m[i];
        }
        let receiver = Receiver {
            d_km: steps as f64 * self.step_km,
            ground_amsl_m: self.ground_m[steps],
            clutter_m: self.clutter_m[steps].into(),
            zone: Zone::Inland,
        };
        let ends = Ends {
            mast_ground_amsl_m: self.ground_m[0],
            receiver: &receiver,
            centre_lat_deg: self.centre_lat_deg(),
        };
        let found = lone.receive(&mut inside, ends, true);
        let (reception, ratio) = found.expect("known ground, inland");
        let terms = self.reference(conditions);
        let elevation_deg = (terms.path.horizons.theta_t_mrad / 1e3).to_degrees();
        assert!((reception.mast_elevation_deg - elevation_deg).abs() < 1e-9);
        assert_eq!(ratio.unwrap() > 0.0, reception.line_of_sight);
        (reception.loss_db - terms.combination.lb_db).abs()
    }

    fn check(&self, name: &str) {
        for frequency_mhz in [60.0, 700.0, 3_600.0, 6_000.0] {
            for (mast_agl_m, receiver_agl_m) in [(30.0, 6.0), (80.0, 1.5), (3.0, 20.0)] {
                let conditions = Conditions::median(frequency_mhz, mast_agl_m, receiver_agl_m);
                let apart_db = self.apart_db(&conditions);
                assert!(
                    apart_db <= TOLERANCE_DB,
                    "{name}, {conditions:?}: {apart_db:e} dB"
                );
            }
        }
    }
}

/// Lengths below, at and above a whole number of chunks.
const STEPS: [usize; 9] = [4, 5, 9, 63, 64, 65, 66, 129, 700];

#[test]
fn exact_shapes_of_ground() {
    let c = 500.0 / physics::refractivity::effective_radius_km(45.0);
    for steps in STEPS {
        let bare = |name: &str, ground: &dyn Fn(usize) -> f64| {
            Path::bare(ground, steps).check(&format!("{name} of {steps} steps"));
        };
        bare("flat", &|_| 100.0);
        bare("sea level", &|_| 0.0);
        bare("rising ramp", &|i| 10.0 + 1.5 * i as f64);
        bare("falling ramp", &|i| 900.0 - 2.0 * i as f64);
        bare("plateaus", &|i| {
            if (i / 40) % 2 == 0 { 200.0 } else { 260.0 }
        });
        bare("stairs", &|i| 20.0 * (i / 25) as f64);
        bare("ridges", &|i| 300.0 + 150.0 * (i as f64 * 0.07).sin());
        bare("equal ridges", &|i| {
            if i % 50 == 30 { 400.0 } else { 100.0 }
        });
        bare("spike", &|i| if i == steps / 2 { 800.0 } else { 50.0 });
        bare("spike at the mast", &|i| if i == 1 { 120.0 } else { 50.0 });
        bare("spike at the receiver", &|i| {
            if i + 1 == steps { 90.0 } else { 50.0 }
        });
        bare("pit", &|i| if i == steps / 2 { -200.0 } else { 50.0 });
        // Every point ties for the horizon.
        bare("parabola", &|i| {
            let d = i as f64 * 0.03;
            500.0 + c * d * d - 20.0 * d
        });
    }
}

#[test]
fn exact_what_a_single_path_leaves_to_others() {
    let conditions = Conditions::median(3_600.0, 30.0, 6.0);
    let kernel = Kernel::new(&conditions, 0.03, 200, 44.0);
    let mut lone = Lone::new(&kernel, 200);
    let receiver = Receiver {
        d_km: 6.0,
        ground_amsl_m: 10.0,
        clutter_m: 0.0,
        zone: Zone::Inland,
    };
    let sea = Receiver {
        zone: Zone::Sea,
        ..receiver
    };
    let mut answers = |height_m: f64, clutter_m: f32, receiver: &Receiver| {
        let mut inside = Inside::default();
        inside.begin(0.03, 200);
        inside.ground_amsl_m[1][7] = height_m;
        inside.clutter_m[2][9] = clutter_m;
        let ends = Ends {
            mast_ground_amsl_m: 10.0,
            receiver,
            centre_lat_deg: 45.0,
        };
        lone.receive(&mut inside, ends, false).is_some()
    };
    assert!(answers(10.0, 3.0, &receiver));
    assert!(!answers(f64::NAN, 3.0, &receiver));
    assert!(!answers(10.0, -0.0, &receiver));
    assert!(!answers(10.0, 3.0, &sea));
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400,
        rng_seed: proptest::test_runner::RngSeed::Fixed(31),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn exact_any_path(
        rolls in proptest::collection::vec((0.0..1.0_f64, 0.0..1.0_f64), 5..400),
        shape in 0_usize..4,
        scale_m in 0.1..800.0_f64,
        step_km in 0.005..0.4_f64,
        frequency_mhz in 30.0..6_000.0_f64,
        mast_agl_m in 1.0..200.0_f64,
        receiver_agl_m in 1.0..60.0_f64,
        lapse in 20.0..140.0_f64,
    ) {
        let mut h = 300.0;
        let ground = |(i, (roll, _)): (usize, &(f64, f64))| match shape {
            0 => scale_m * roll,
            1 => { h += 0.1 * scale_m * (roll - 0.5); h }
            2 => (scale_m * (i as f64 * 0.11).sin()).round(),
            _ => if *roll < 0.05 { scale_m } else { 0.0 },
        };
        let path = Path {
            step_km,
            ground_m: rolls.iter().enumerate().map(ground).collect(),
            clutter_m: rolls.iter().map(|(_, roll)| if *roll < 0.2 { (125.0 * roll).round() as f32 } else { 0.0 }).collect(),
        };
        let conditions = Conditions {
            refractivity_lapse_n_per_km: lapse,
            ..Conditions::median(frequency_mhz, mast_agl_m, receiver_agl_m)
        };
        let apart_db = path.apart_db(&conditions);
        prop_assert!(apart_db <= TOLERANCE_DB, "{apart_db:e} dB");
    }
}
