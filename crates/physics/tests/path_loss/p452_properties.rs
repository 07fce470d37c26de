//! What must hold for every path of ITU-R P.452-18.

use physics::path_loss::{Model, PathInput, Polarization, Zone};
use proptest::prelude::*;

use crate::data::Profile;
use crate::properties::{profiles, seeded};
use crate::synthetic::spaced;

prop_compose! {
    /// Frequency, lapse rate, antennas, latitude, coast, over the stated range.
    fn settings()(log_f in -1.0f64..1.699, dn in 0.0f64..104.0, tx in 1.0f64..500.0, rx in 1.0f64..500.0,
                  lat in -90.0f64..90.0, tx_coast in 0.0f64..500.0, rx_coast in 0.0f64..500.0) -> [f64; 7] {
        [10f64.powf(log_f), dn, tx, rx, lat, tx_coast, rx_coast]
    }
}

fn input<'a>(path: &'a Profile, s: [f64; 7], time_pct: f64) -> PathInput<'a> {
    PathInput {
        time_pct,
        delta_n_per_km: s[1],
        tx_agl_m: s[2],
        rx_agl_m: s[3],
        path_centre_lat_deg: s[4],
        tx_coast_km: s[5],
        rx_coast_km: s[6],
        tx_horizon_gain_dbi: 12.0,
        rx_horizon_gain_dbi: 30.0,
        ..PathInput::median(path.borrow(), s[0])
    }
}

fn value(input: &PathInput<'_>, name: &str) -> f64 {
    let list = Model::P452.predict(input).list();
    list.iter().find(|t| t.name == name).expect("a term").value
}

proptest! {
    #![proptest_config(seeded(1500))]

    /// No term of any case is anything but a number, and nothing panics, up to
    /// 80 GHz, where the oxygen band makes losses of thousands of dB.
    #[test]
    fn exact_every_term_is_finite(path in profiles(), mut s in settings(), log_p in -3.0f64..1.699, high in any::<bool>()) {
        if high { s[0] = 55.0 + 0.5 * s[0]; }
        let case = input(&path, s, 10f64.powf(log_p));
        let loss = Model::P452.predict(&case);
        for term in loss.list() {
            prop_assert!(term.value.is_finite(), "{} = {}", term.name, term.value);
        }
        prop_assert!(loss.gas_db() > 0.0);
    }

    /// From either end the loss is the same where the ray is well clear of the
    /// ground or well hidden from both ends: there Fj is 1 or 0 seen from
    /// either side. Between, the Recommendation looks from the transmitter only.
    #[test]
    fn exact_reciprocal_off_grazing(path in profiles(), s in settings(), log_p in -3.0f64..1.699, vertical in any::<bool>()) {
        let there = PathInput {
            polarization: if vertical { Polarization::Vertical } else { Polarization::Horizontal },
            ..input(&path, s, 10f64.powf(log_p))
        };
        let other = path.turned();
        let back = PathInput {
            profile: other.borrow(),
            tx_agl_m: there.rx_agl_m,
            rx_agl_m: there.tx_agl_m,
            tx_coast_km: there.rx_coast_km,
            rx_coast_km: there.tx_coast_km,
            ..there
        };
        let (a, b) = (value(&there, "fj"), value(&back, "fj"));
        prop_assume!((a - b).abs() < 1e-12);
        let (a, b) = (Model::P452.predict(&there).loss_db, Model::P452.predict(&back).loss_db);
        prop_assert!((a - b).abs() < 1e-6, "{a} {b}");
    }

    /// A loss not exceeded for more of the time is not smaller, in each part
    /// that the Recommendation makes a function of time alone.
    #[test]
    fn exact_monotone_in_time(mut path in profiles(), s in settings()) {
        path.zone.fill(Zone::Inland);
        let case = input(&path, s, 50.0);
        for name in ["lb0p_db", "lbs_db", "ldp_db"] {
            let mut before = f64::NEG_INFINITY;
            for p in [0.001, 0.01, 0.1, 1.0, 3.0, 10.0, 30.0, 50.0] {
                let now = value(&PathInput { time_pct: p, ..case }, name);
                // See the same check of P.1812 for the slack.
                let slack = if name == "ldp_db" { 0.05 } else { 1e-9 };
                prop_assert!(now >= before - slack, "{name} at {p} %: {now} after {before}");
                before = now;
            }
        }
    }

    /// The result as a whole grows with the time percentage over flat land at temperate latitudes.
    #[test]
    fn exact_flat_land_is_monotone_in_time(length in 1u32..300, f in 0.1f64..50.0, tx in 5.0f64..100.0, rx in 5.0f64..100.0) {
        let path = spaced(100, f64::from(length) / 100.0, |_| 20.0);
        let mut before = f64::NEG_INFINITY;
        for p in [0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 20.0, 50.0] {
            let case = PathInput { time_pct: p, tx_agl_m: tx, rx_agl_m: rx, ..PathInput::median(path.borrow(), f) };
            let now = Model::P452.predict(&case).loss_db;
            prop_assert!(now >= before - 1e-6, "at {p} %: {now} after {before}");
            before = now;
        }
    }

    /// A little more of the time or of frequency moves the loss by little.
    #[test]
    fn exact_continuous_in_time_and_frequency(path in profiles(), s in settings(), log_p in -3.0f64..1.69) {
        let case = input(&path, s, 10f64.powf(log_p));
        let loss = |c: &PathInput<'_>| Model::P452.predict(c).loss_db;
        let here = loss(&case);
        let later = loss(&PathInput { time_pct: case.time_pct * (1.0 + 1e-9), ..case });
        let higher = loss(&PathInput { f_ghz: case.f_ghz * (1.0 + 1e-9), ..case });
        prop_assert!((later - here).abs() < 1e-4, "{later} {here}");
        prop_assert!((higher - here).abs() < 1e-4, "{higher} {here}");
    }
}

/// Clutter counts from 50 m off the ends: at 40 m it hides nothing, at 60 m it does.
#[test]
fn exact_ends_are_bare() {
    let loss = |at: usize| {
        let mut path = spaced(500, 0.01, |_| 0.0);
        path.clutter_m[at] = 60.0;
        let case = PathInput {
            tx_agl_m: 20.0,
            rx_agl_m: 20.0,
            ..PathInput::median(path.borrow(), 6.0)
        };
        (
            value(&case, "lbulla50_db"),
            Model::P1812.predict(&case).diffraction_db(),
        )
    };
    for (near, far) in [(4, 6), (496, 494)] {
        let ((bare, p1812), (hidden, _)) = (loss(near), loss(far));
        assert!(
            bare == 0.0 && hidden > 20.0 && p1812 > 20.0,
            "{bare} {hidden} {p1812}"
        );
    }
}

/// Prepared gases of other conditions are not used.
#[test]
fn exact_foreign_gas_is_refused() {
    let path = spaced(100, 0.5, |_| 0.0);
    let case = PathInput::median(path.borrow(), 24.0);
    let foreign = PathInput {
        f_ghz: 60.0,
        ..case
    }
    .path_gas();
    let with = PathInput {
        gas: Some(&foreign),
        ..case
    };
    assert_eq!(Model::P452.predict(&with), Model::P452.predict(&case));
}

/// Every stated range is watched.
#[test]
fn exact_warnings() {
    let path = spaced(3, 1.0, |_| 0.0);
    let case = PathInput {
        time_pct: 60.0,
        temperature_c: f64::NAN,
        ..PathInput::median(path.borrow(), 60.0)
    };
    let text: Vec<String> = Model::P452
        .warnings(&case)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(text.len(), 4, "{text:?}");
    assert_eq!(
        text[0],
        "`f_ghz` is 60, outside the model's range 0.1 to 50"
    );
}
