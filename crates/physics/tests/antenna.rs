//! Antenna patterns against the check values of the Recommendations' formulas.
//!
//! The numbers come from an independent evaluation of the printed formulas
//! (F.1336-5, F.699-8, F.1245-3), each formula having been compared by eye with
//! a public implementation of it. The Recommendations print no numbers of their own.

use physics::antenna::{
    DishMask, Envelope, Pattern, PreparedPattern, SectorBand, SideLobes, dish_diameter_wavelengths,
    dish_gain_dbi, pointing_loss_db,
};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

fn sector(envelope: Envelope, side_lobes: SideLobes, band: SectorBand) -> Pattern {
    let (beamwidth_h_deg, beamwidth_v_deg) = match band {
        SectorBand::Below6Ghz => (90.0, 8.0),
        SectorBand::Above6Ghz => (60.0, 8.0),
    };
    Pattern::Sector {
        band,
        envelope,
        side_lobes,
        beamwidth_h_deg,
        beamwidth_v_deg,
    }
}

fn check(pattern: &PreparedPattern, (azimuth_deg, elevation_deg): (f64, f64), expected_dbi: f64) {
    let got_dbi = pattern.gain_dbi(azimuth_deg, elevation_deg);
    // The values are printed to four decimals.
    assert!(
        (got_dbi - expected_dbi).abs() < 6e-5,
        "at ({azimuth_deg}, {elevation_deg}): {got_dbi} dBi, expected {expected_dbi}"
    );
}

#[test]
fn ref_f1336_sector_below_6_ghz() {
    use Envelope::{Average, Peak};
    use SideLobes::{Improved, Typical};
    let prepared = |envelope, lobes| {
        sector(envelope, lobes, SectorBand::Below6Ghz)
            .prepare(16.0)
            .expect("valid")
    };
    let patterns = [
        prepared(Peak, Typical),
        prepared(Peak, Improved),
        prepared(Average, Typical),
    ];
    let rows = [
        ((0.0, 0.0), [16.0, 16.0, 16.0]),
        ((45.0, 0.0), [13.0, 13.0, 13.0]),
        ((90.0, 0.0), [6.2233, 5.8735, 6.2233]),
        ((180.0, 0.0), [-8.0873, -8.0873, -9.3455]),
        ((0.0, 20.0), [3.7908, 1.4271, 0.7908]),
        ((60.0, 10.0), [2.6002, 1.4379, 0.0988]),
        ((0.0, 90.0), [-8.0873, -8.0873, -11.0873]),
    ];
    for (direction, expected) in rows {
        for (pattern, expected_dbi) in patterns.iter().zip(expected) {
            check(pattern, direction, expected_dbi);
        }
    }
}

#[test]
fn ref_f1336_sector_above_6_ghz() {
    let prepared = |envelope| {
        let pattern = sector(envelope, SideLobes::Typical, SectorBand::Above6Ghz);
        pattern.prepare(18.0).expect("valid")
    };
    let (peak, average) = (prepared(Envelope::Peak), prepared(Envelope::Average));
    for (direction, peak_dbi, average_dbi) in [
        ((30.0, 0.0), 15.0, 15.0),
        ((60.0, 0.0), 6.0, 6.0),
        ((120.0, 0.0), -9.4410, -12.0086),
        ((180.0, 0.0), -14.2827, -17.2827),
        ((0.0, 10.0), 4.5463, 1.5463),
        ((30.0, 10.0), 3.8132, 0.8132),
        ((150.0, 20.0), -12.4078, -15.3306),
    ] {
        check(&peak, direction, peak_dbi);
        check(&average, direction, average_dbi);
    }
}

#[test]
fn ref_f1336_omni() {
    let beamwidth_v_deg = physics::antenna::omni_beamwidth_v_deg(12.0);
    for (envelope, side_lobe_k, expected) in [
        (Envelope::Peak, 0.0, [5.4913, -1.0692, -9.6796, -16.8365]),
        (Envelope::Peak, 0.7, [5.4913, 1.7078, -0.9277, -1.4223]),
        (
            Envelope::Average,
            0.0,
            [5.4913, -4.0692, -12.6796, -19.8365],
        ),
    ] {
        let pattern = Pattern::Omni {
            envelope,
            side_lobe_k,
            beamwidth_v_deg,
        };
        let pattern = pattern.prepare(12.0).expect("valid");
        for (elevation_deg, expected_dbi) in [5.0, 8.0, 30.0, 90.0].into_iter().zip(expected) {
            check(&pattern, (77.0, elevation_deg), expected_dbi);
            check(&pattern, (-77.0, -elevation_deg), expected_dbi);
        }
    }
}

fn dishes(diameter_m: f64, f_ghz: f64) -> (f64, PreparedPattern, PreparedPattern) {
    let wavelengths = dish_diameter_wavelengths(diameter_m, f_ghz);
    let gain_dbi = dish_gain_dbi(wavelengths);
    let prepared = |mask| {
        let dish = Pattern::Dish {
            mask,
            f_ghz,
            diameter_wavelengths: Some(wavelengths),
        };
        dish.prepare(gain_dbi).expect("valid")
    };
    (
        gain_dbi,
        prepared(DishMask::F699Peak),
        prepared(DishMask::F1245Average),
    )
}

#[test]
fn ref_f699_and_f1245_dishes() {
    assert!((dish_diameter_wavelengths(0.6, 5.8) - 11.6080).abs() < 5e-5);
    assert!((dish_diameter_wavelengths(1.8, 18.0) - 108.0748).abs() < 5e-5);
    let (small_dbi, small_peak, small_average) = dishes(0.6, 5.8);
    let (large_dbi, large_peak, large_average) = dishes(1.8, 18.0);
    assert!((small_dbi - 28.9952).abs() < 5e-5 && (large_dbi - 48.3745).abs() < 5e-5);
    for (psi_deg, peak_dbi, average_dbi) in [
        (2.0, 27.6477, 27.6477),
        (4.0, 23.6053, 23.6053),
        (8.0, 17.9714, 11.0990),
        (20.0, 8.8267, 1.1505),
        (47.0, -0.4500, -8.1262),
        (180.0, -0.6476, -8.3238),
    ] {
        check(&small_peak, (psi_deg, 0.0), peak_dbi);
        check(&small_average, (-psi_deg, 0.0), average_dbi);
        if psi_deg < 90.0 {
            check(&small_peak, (0.0, psi_deg), peak_dbi);
        }
    }
    for (psi_deg, peak_dbi, average_dbi) in [
        (0.5, 41.0744, 41.0744),
        (1.0, 32.0, 29.0),
        (1.2, 30.0205, 27.0205),
        (20.0, -0.5257, -3.5257),
        (60.0, -10.0, -13.0),
    ] {
        // 1.0° on the 1.8 m dish is exactly on `32 − 25·log ψ` at ψ = 1.
        check(&large_peak, (psi_deg, 0.0), peak_dbi);
        check(&large_average, (0.0, -psi_deg), average_dbi);
    }
}

#[test]
fn exact_f1336_vertical_mask_joins_without_a_step() {
    // The constants C and λkv of F.1336 are chosen so that the vertical mask is
    // continuous at 4·θ3 and at 90°.
    for envelope in [Envelope::Peak, Envelope::Average] {
        for side_lobes in [SideLobes::Typical, SideLobes::Improved] {
            let pattern = Pattern::Sector {
                band: SectorBand::Below6Ghz,
                envelope,
                side_lobes,
                beamwidth_h_deg: 90.0,
                beamwidth_v_deg: 7.0,
            };
            let pattern = pattern.prepare(17.0).expect("valid");
            for join_deg in [28.0, 90.0] {
                let step_db =
                    pattern.gain_dbi(0.0, join_deg) - pattern.gain_dbi(0.0, join_deg - 1e-10);
                assert!(step_db.abs() < 1e-9, "{step_db} dB at {join_deg} deg");
            }
        }
    }
}

#[test]
fn ref_3gpp_parabolas() {
    // TR 36.814: 70° by 10°, 25 dB, 20 dB, peak 14 dBi (Table A.2.1.1-2).
    let sector = Pattern::tr36814().prepare(14.0).expect("valid");
    check(&sector, (35.0, 0.0), 11.0);
    check(&sector, (0.0, 5.0), 11.0);
    check(&sector, (180.0, 0.0), -11.0);
    check(&sector, (0.0, 90.0), -6.0);
    // TR 38.901 Table 7.3-1: 65° by 65°, 30 dB, element peak 8 dBi.
    let element = Pattern::tr38901_element().prepare(8.0).expect("valid");
    check(&element, (32.5, 0.0), 5.0);
    check(&element, (0.0, -32.5), 5.0);
    check(&element, (180.0, 90.0), -22.0);
    // Alignment loss, common practice: 20° beam 5° off 0.75 dB; 10° beam 3° off 1.08 dB.
    let narrow = Pattern::Parabolic {
        beamwidth_h_deg: 20.0,
        beamwidth_v_deg: 10.0,
        max_attenuation_db: 25.0,
        side_lobe_attenuation_db: 25.0,
    };
    let narrow = narrow.prepare(20.0).expect("valid");
    assert!((pointing_loss_db(&narrow, 5.0, 0.0) - 0.75).abs() < 1e-12);
    assert!((pointing_loss_db(&narrow, 0.0, 3.0) - 1.08).abs() < 1e-12);
}

#[test]
fn exact_panel_array_factor_is_the_sum_of_its_elements() {
    // TR 38.901 array factor as the plain complex sum, against the closed form.
    let (elements, spacing) = (8_u32, 0.8);
    let panel = Pattern::Panel {
        elements,
        spacing_wavelengths: spacing,
    };
    let panel = panel.prepare(17.0).expect("valid");
    let element = Pattern::tr38901_element().prepare(8.0).expect("valid");
    for elevation_deg in [-60.0_f64, -33.0, -10.0, -4.0, 0.0, 3.0, 11.0, 25.0, 70.0] {
        let cos_zenith = elevation_deg.to_radians().sin();
        let (mut re, mut im) = (0.0_f64, 0.0_f64);
        for m in 0..elements {
            let phase = std::f64::consts::TAU * f64::from(m) * spacing * cos_zenith;
            re += phase.cos();
            im += phase.sin();
        }
        let count = f64::from(elements);
        let array_db = 10.0 * ((re * re + im * im) / (count * count)).log10();
        let expected_db = array_db.max(-40.0) - element.loss_db(20.0, elevation_deg);
        let got_db = -panel.loss_db(20.0, elevation_deg);
        assert!(
            (got_db - expected_db).abs() < 1e-9,
            "{elevation_deg}: {got_db} {expected_db}"
        );
    }
}

/// Every formula pattern, over beamwidths and sizes as they occur.
fn any_pattern() -> impl Strategy<Value = (Pattern, f64)> {
    let envelope = prop_oneof![Just(Envelope::Peak), Just(Envelope::Average)];
    let lobes = prop_oneof![Just(SideLobes::Typical), Just(SideLobes::Improved)];
    let band = prop_oneof![Just(SectorBand::Below6Ghz), Just(SectorBand::Above6Ghz)];
    let mask = prop_oneof![Just(DishMask::F699Peak), Just(DishMask::F1245Average)];
    let sectors = (envelope.clone(), lobes, band, 0.5..360.0, 0.5..180.0).prop_map(
        |(envelope, side_lobes, band, beamwidth_h_deg, beamwidth_v_deg)| Pattern::Sector {
            band,
            envelope,
            side_lobes,
            beamwidth_h_deg,
            beamwidth_v_deg,
        },
    );
    let omnis =
        (envelope, 0.0..1.0, 0.5..180.0).prop_map(|(envelope, side_lobe_k, beamwidth_v_deg)| {
            Pattern::Omni {
                envelope,
                side_lobe_k,
                beamwidth_v_deg,
            }
        });
    let dishes =
        (mask, 0.1..86.0, 0.7..2000.0).prop_map(|(mask, f_ghz, wavelengths)| Pattern::Dish {
            mask,
            f_ghz,
            diameter_wavelengths: Some(wavelengths),
        });
    let panels = (1_u32..64, 0.3..1.0).prop_map(|(elements, spacing_wavelengths)| Pattern::Panel {
        elements,
        spacing_wavelengths,
    });
    let shapes = prop_oneof![
        sectors,
        omnis,
        dishes,
        panels,
        Just(Pattern::tr36814()),
        Just(Pattern::Isotropic)
    ];
    (shapes, -5.0..60.0)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, rng_seed: RngSeed::Fixed(1336), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_finite_and_never_above_peak(
        (pattern, gain_dbi) in any_pattern(),
        azimuth_deg in -1000.0..1000.0_f64,
        elevation_deg in -100.0..100.0_f64,
    ) {
        let prepared = pattern.prepare(gain_dbi).expect("in range");
        for (a, e) in [(azimuth_deg, elevation_deg), (0.0, elevation_deg), (180.0, 0.0),
            (-180.0, elevation_deg), (azimuth_deg, 90.0), (azimuth_deg, -90.0), (azimuth_deg, 0.0)] {
            let got = prepared.gain_dbi(a, e);
            prop_assert!(got.is_finite() && got <= gain_dbi + 1e-9, "{pattern:?} ({a}, {e}): {got}");
        }
        prop_assert!((prepared.gain_dbi(0.0, 0.0) - gain_dbi).abs() < 1e-9);
    }

    #[test]
    fn exact_formula_patterns_are_mirrored_in_both_planes(
        (pattern, gain_dbi) in any_pattern(),
        azimuth_deg in -180.0..180.0_f64,
        elevation_deg in -90.0..90.0_f64,
    ) {
        let prepared = pattern.prepare(gain_dbi).expect("in range");
        let here = prepared.gain_dbi(azimuth_deg, elevation_deg);
        prop_assert!((here - prepared.gain_dbi(-azimuth_deg, elevation_deg)).abs() < 1e-9);
        prop_assert!((here - prepared.gain_dbi(azimuth_deg, -elevation_deg)).abs() < 1e-9);
        prop_assert!((here - prepared.gain_dbi(azimuth_deg + 360.0, elevation_deg)).abs() < 1e-6);
    }

    #[test]
    fn exact_bad_numbers_are_refused_not_computed(value in prop_oneof![
        Just(f64::NAN), Just(f64::INFINITY), Just(0.0), Just(-3.0), Just(1e300)]) {
        let bad = Pattern::Sector { band: SectorBand::Below6Ghz, envelope: Envelope::Peak,
            side_lobes: SideLobes::Typical, beamwidth_h_deg: value, beamwidth_v_deg: 7.0 };
        prop_assert!(bad.prepare(16.0).is_err());
        let bad = Pattern::Dish { mask: DishMask::F699Peak, f_ghz: value, diameter_wavelengths: None };
        prop_assert!(bad.prepare(16.0).is_err());
    }
}

#[test]
fn exact_dish_side_lobes_meet_the_far_out_level() {
    // F.699-8 and F.1245-3 choose the far-out levels so that the 25·log ψ law
    // meets them; their round numbers leave a step of up to 0.05 dB.
    for (mask, f_ghz, wavelengths, far_deg) in [
        (DishMask::F699Peak, 18.0, 300.0, 48.0),
        (DishMask::F699Peak, 18.0, 30.0, 48.0),
        (DishMask::F699Peak, 80.0, 160.0, 120.0),
        (DishMask::F699Peak, 80.0, 80.0, 120.0),
        (DishMask::F699Peak, 0.9, 12.0, 144.5 * 12_f64.powf(-0.2)),
        (DishMask::F1245Average, 18.0, 300.0, 48.0),
        (DishMask::F1245Average, 18.0, 30.0, 48.0),
        (DishMask::F1245Average, 80.0, 160.0, 120.0),
        (DishMask::F1245Average, 80.0, 80.0, 120.0),
    ] {
        let dish = Pattern::Dish {
            mask,
            f_ghz,
            diameter_wavelengths: Some(wavelengths),
        };
        let dish = dish.prepare(dish_gain_dbi(wavelengths)).expect("valid");
        let step_db = dish.gain_dbi(far_deg - 1e-6, 0.0) - dish.gain_dbi(far_deg + 1e-6, 0.0);
        assert!(
            step_db.abs() < 0.05,
            "{mask:?} {f_ghz} GHz {wavelengths}: {step_db} dB"
        );
        assert!(dish.gain_dbi(far_deg - 20.0, 0.0) > dish.gain_dbi(far_deg - 10.0, 0.0));
        assert_eq!(
            dish.gain_dbi(far_deg + 10.0, 0.0),
            dish.gain_dbi(180.0, 0.0)
        );
    }
}
