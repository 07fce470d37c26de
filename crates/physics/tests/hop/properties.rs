//! Closed forms and what must hold for every hop.

use physics::hop::{
    C0Reading, CrossPolarRadio, DEFAULT_XPD_U0_DB, Geoclimate, GroundClimate, Hop, Margins,
    Multipath, Obstacle, RainCrossPolar, RainFade, RainHop, Ray, Unavailability,
    average_terrain_fade, clearance, least_k_factor, scaled_attenuation_db, year_offset_db,
};
use physics::path_loss::Polarization;
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, RngSeed};

fn seeded() -> ProptestConfig {
    ProptestConfig {
        cases: 1000,
        rng_algorithm: RngAlgorithm::ChaCha,
        rng_seed: RngSeed::Fixed(530),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

prop_compose! {
    fn hops()(d_km in 5.0f64..100.0, f_ghz in 3.0f64..45.0, tx in 5.0f64..600.0, rx in 5.0f64..600.0,
              ground in 0.0f64..200.0) -> Hop {
        Hop { d_km, f_ghz, tx_amsl_m: ground + tx, rx_amsl_m: ground + rx, mean_terrain_amsl_m: ground }
    }
}

fn geoclimates() -> impl Strategy<Value = Geoclimate> {
    prop_oneof![
        (-6.5f64..-3.0, 0.0f64..120.0).prop_map(|(log_k, dn75)| Geoclimate::Maps { log_k, dn75 }),
        (-400.0f64..-50.0).prop_map(|dn1| Geoclimate::Gradient { dn1 }),
    ]
}

prop_compose! {
    fn rain_hops()(d_km in 0.05f64..60.0, f_ghz in 1.0f64..100.0, r in 1.0f64..150.0, v in any::<bool>()) -> RainHop {
        let polarization = if v { Polarization::Vertical } else { Polarization::Horizontal };
        RainHop { d_km, f_ghz, polarization, rain001_mm_per_h: r }
    }
}

const DEPTHS_DB: [f64; 9] = [0.5, 1.0, 3.0, 6.0, 10.0, 20.0, 30.0, 45.0, 60.0];

proptest! {
    #![proptest_config(seeded())]

    /// Every term is a number; a deeper fade is rarer; no share leaves 0 to 100 %.
    #[test]
    fn exact_multipath_falls_with_depth(hop in hops(), geoclimate in geoclimates()) {
        let fading = Multipath::of(&hop, &geoclimate);
        for term in fading.list() {
            prop_assert!(term.value.is_finite(), "{} = {}", term.name, term.value);
        }
        prop_assume!(fading.p0_pct < Multipath::GREATEST_P0_PCT);
        let mut before = 100.0;
        for a_db in DEPTHS_DB {
            let now = fading.fade_pct(a_db);
            prop_assert!(now > 0.0 && now <= before, "{a_db} dB: {now} after {before}");
            before = now;
        }
        let mut before = 0.0;
        for e_db in DEPTHS_DB {
            let now = fading.enhancement_not_exceeded_pct(e_db);
            prop_assert!((0.0..=100.0).contains(&now), "{e_db} dB: {now}");
            prop_assert!(now >= before - 0.5, "{e_db} dB: {now} after {before}");
            before = now;
        }
    }

    /// The curve for any depth joins the straight line at At, in the year as in the month.
    #[test]
    fn exact_multipath_is_continuous(hop in hops(), geoclimate in geoclimates(), offset_db in 0.0f64..10.8) {
        let fading = Multipath::of(&hop, &geoclimate);
        prop_assume!(fading.at_db > 1.0 && fading.p0_pct < Multipath::GREATEST_P0_PCT);
        for of in [0.0, offset_db] {
            let (below, at) = (fading.annual_fade_pct(fading.at_db - 1e-9, of), fading.annual_fade_pct(fading.at_db, of));
            prop_assert!((below / at - 1.0).abs() < 1e-7, "{below} {at}");
        }
    }

    /// A hop is the same from either end.
    #[test]
    fn exact_multipath_is_reciprocal(hop in hops(), geoclimate in geoclimates()) {
        let turned = Hop { tx_amsl_m: hop.rx_amsl_m, rx_amsl_m: hop.tx_amsl_m, ..hop };
        let (a, b) = (Multipath::of(&hop, &geoclimate), Multipath::of(&turned, &geoclimate));
        prop_assert!((a.p0_pct / b.p0_pct - 1.0).abs() < 1e-12);
    }

    /// Rain: rarer is deeper, the inverse is one, more rain is more loss.
    #[test]
    fn exact_rain_distribution(hop in rain_hops(), reading in prop_oneof![Just(C0Reading::LogOfPower), Just(C0Reading::PowerOfLog)]) {
        let rain = RainFade::of(&hop, reading);
        for term in rain.list() {
            prop_assert!(term.value.is_finite(), "{} = {}", term.name, term.value);
        }
        prop_assert!(rain.r_factor > 0.0 && rain.r_factor <= 2.5);
        let mut before = f64::INFINITY;
        for p_pct in [0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0] {
            let now = rain.attenuation_db(p_pct);
            prop_assert!(now > 0.0 && now < before, "{p_pct} %: {now} after {before}");
            prop_assert!((rain.exceeded_pct(now) / p_pct - 1.0).abs() < 1e-6, "{p_pct} %: {}", rain.exceeded_pct(now));
            before = now;
        }
        prop_assert_eq!(rain.exceeded_pct(1e6), RainFade::LEAST_PCT);
        prop_assert_eq!(rain.exceeded_pct(0.0), 100.0);
        let dry = RainFade::of(&RainHop { rain001_mm_per_h: 0.0, ..hop }, reading);
        prop_assert_eq!(dry.exceeded_pct(10.0), 0.0);
    }

    /// Below 10 GHz C0 is constant, above it grows from the same value: the fade is continuous there.
    #[test]
    fn exact_rain_is_continuous_at_10_ghz(hop in rain_hops(), p_pct in 0.001f64..1.0) {
        let at = |f_ghz| RainFade::of(&RainHop { f_ghz, ..hop }, C0Reading::LogOfPower).attenuation_db(p_pct);
        let (below, above) = (at(10.0 - 1e-9), at(10.0 + 1e-9));
        prop_assert!((below / above - 1.0).abs() < 1e-6, "{below} {above}");
    }

    /// Scaling to the same frequency changes nothing.
    #[test]
    fn exact_scaling_to_itself(f in 7.0f64..50.0, a in 0.0f64..60.0) {
        prop_assert!((scaled_attenuation_db(a, f, f) - a).abs() < 1e-12);
    }

    /// More margin never means more outage; the parts make the sum.
    #[test]
    fn exact_unavailability_falls_with_margin(hop in hops(), geoclimate in geoclimates(), rain in rain_hops(), lat in -90.0f64..90.0) {
        let multipath = Multipath::of(&hop, &geoclimate);
        prop_assume!(multipath.p0_pct < Multipath::GREATEST_P0_PCT);
        let rain = RainFade::of(&RainHop { d_km: hop.d_km.min(60.0), f_ghz: hop.f_ghz, ..rain }, C0Reading::default());
        let mut before = 100.0;
        for margin_db in [-3.0, 0.0].into_iter().chain(DEPTHS_DB) {
            let down = Unavailability::of(&hop, &multipath, lat, &rain, Margins::both(margin_db));
            for term in down.list() {
                prop_assert!(term.value.is_finite(), "{} = {}", term.name, term.value);
            }
            prop_assert!(down.multipath_year_pct <= down.multipath_worst_month_pct);
            prop_assert!(down.year_pct <= before + 1e-9, "{margin_db} dB: {} after {before}", down.year_pct);
            prop_assert!((down.year_pct - (down.multipath_year_pct + down.rain_year_pct).min(100.0)).abs() < 1e-12);
            prop_assert!((down.availability_pct() + down.year_pct - 100.0).abs() < 1e-12);
            before = down.year_pct;
        }
    }

    /// Lifting both antennas by the shortfall leaves none.
    #[test]
    fn exact_shortfall_is_what_to_raise(d1 in 0.5f64..60.0, d2 in 0.5f64..60.0, f in 1.0f64..45.0, top in 0.0f64..300.0, rx in 10.0f64..300.0) {
        let obstacle = Obstacle { top_amsl_m: top, d1_km: d1, d2_km: d2 };
        let ray = Ray { tx_amsl_m: 50.0, rx_amsl_m: rx, f_ghz: f };
        for climate in [GroundClimate::TemperateIsolated, GroundClimate::TemperateExtended, GroundClimate::Tropical] {
            let missing_m = clearance(&ray, &obstacle, climate, None).shortfall_m();
            let raised = Ray { tx_amsl_m: ray.tx_amsl_m + missing_m, rx_amsl_m: ray.rx_amsl_m + missing_m, ..ray };
            prop_assert!(clearance(&raised, &obstacle, climate, None).shortfall_m().abs() < 1e-9);
        }
    }
}

/// Rain that attenuates at 0.01 % as much as the radio bears is 0.01 % of outage:
/// m = 23.26·log10(1/0.12) = 21.42, n = −2.004, as near as the method was fitted.
#[test]
fn exact_cross_polar_anchor() {
    let rain_hop = RainHop {
        d_km: 10.0,
        f_ghz: 18.0,
        polarization: Polarization::Vertical,
        rain001_mm_per_h: 42.0,
    };
    let rain = RainFade::of(&rain_hop, C0Reading::default());
    let mut radio = CrossPolarRadio {
        c0_over_i_db: 0.0,
        u0_db: DEFAULT_XPD_U0_DB,
        xpif_db: 0.0,
    };
    let a_db = rain.attenuation_db(0.01);
    radio.c0_over_i_db = RainCrossPolar::of(&radio, 18.0, &rain).xpd_db(a_db);
    let got = RainCrossPolar::of(&radio, 18.0, &rain);
    assert!((got.ap_db / a_db - 1.0).abs() < 1e-12);
    assert!(
        (got.m - 21.4182).abs() < 1e-4 && (got.n + 2.0038).abs() < 1e-4,
        "{got:?}"
    );
    assert!((got.outage_frac / 1e-4 - 1.0).abs() < 0.01);
    let dry = RainHop {
        rain001_mm_per_h: 0.0,
        ..rain_hop
    };
    assert_eq!(
        RainCrossPolar::of(&radio, 18.0, &RainFade::of(&dry, C0Reading::default())).m,
        40.0
    );
}

/// 0.6 of the first zone clear is −2 dB, grazing 10 dB, one zone blocked 30 dB (equation (2)).
#[test]
fn exact_average_terrain() {
    let grazing = average_terrain_fade(0.0, 6.0, 10.0, 10.0);
    assert_eq!(grazing.ad_db, 10.0);
    let clear = average_terrain_fade(0.6 * grazing.f1_m, 6.0, 10.0, 10.0);
    assert!((clear.ad_db + 2.0).abs() < 1e-12 && clear.fade_db() == 0.0);
    assert!((clear.ratio() - 0.6).abs() < 1e-12);
    assert!((average_terrain_fade(-grazing.f1_m, 6.0, 10.0, 10.0).ad_db - 30.0).abs() < 1e-12);
    assert_eq!(
        [5.0, 20.0, 50.0, 100.0, 200.0, 900.0].map(least_k_factor),
        [0.5, 0.5, 0.7, 0.85, 0.95, 0.95]
    );
}

/// 40 km at 6 GHz, hill in the middle: bulge 500·20²/(k·6371), F1 17.3·√(400/240).
#[test]
fn exact_clearance_by_hand() {
    let ray = Ray {
        tx_amsl_m: 120.0,
        rx_amsl_m: 80.0,
        f_ghz: 6.0,
    };
    let obstacle = Obstacle {
        top_amsl_m: 50.0,
        d1_km: 20.0,
        d2_km: 20.0,
    };
    let got = clearance(&ray, &obstacle, GroundClimate::TemperateExtended, None);
    assert!(
        (got.median.clearance_m - (50.0 - 31.3922 * 0.75)).abs() < 1e-3,
        "{got:?}"
    );
    assert!((got.median.f1_m - 22.3342).abs() < 1e-4);
    assert!((got.least.clearance_m - (50.0 - 31.3922 / got.least_k)).abs() < 1e-3);
    assert!((got.least_k - 0.6513).abs() < 1e-3);
    assert_eq!(got.list().len(), 8);
}

/// ΔG is at most 10.8 dB and changes side at 45°, where both forms meet.
#[test]
fn exact_year_offset() {
    assert_eq!(year_offset_db(60.0, 1.0, 0.0), 10.8);
    let (below, above) = (
        year_offset_db(44.999_999, 40.0, 2.0),
        year_offset_db(45.000_001, 40.0, 2.0),
    );
    assert!((below - above).abs() < 1e-3);
    // Equator, 40 km, level: 10.5 − 5.6·0.32222 − 2.7·1.60206.
    assert!((year_offset_db(0.0, 40.0, 0.0) - 4.3700).abs() < 1e-4);
}

/// A short hop takes no multipath; the larger effect of rain counts.
#[test]
fn exact_short_hop_and_cross_polar() {
    let hop = Hop {
        d_km: 4.0,
        f_ghz: 18.0,
        tx_amsl_m: 40.0,
        rx_amsl_m: 60.0,
        mean_terrain_amsl_m: 10.0,
    };
    let geoclimate = Geoclimate::Gradient { dn1: -200.0 };
    let rain_hop = RainHop {
        d_km: 4.0,
        f_ghz: 18.0,
        polarization: Polarization::Vertical,
        rain001_mm_per_h: 42.0,
    };
    let rain = RainFade::of(&rain_hop, C0Reading::default());
    let margins = Margins::both(25.0);
    let down = Unavailability::of(
        &hop,
        &Multipath::of(&hop, &geoclimate),
        50.0,
        &rain,
        margins,
    );
    assert_eq!(down.multipath_year_pct, 0.0);
    assert_eq!(down.year_pct, rain.exceeded_pct(25.0));
    assert_eq!(
        Unavailability::warnings(&hop, &geoclimate, &rain_hop, &rain, margins),
        []
    );
    assert_eq!(
        Unavailability::warnings(&hop, &geoclimate, &rain_hop, &rain, Margins::both(0.1)).len(),
        1
    );
    let radio = CrossPolarRadio {
        c0_over_i_db: 34.0,
        u0_db: 15.0,
        xpif_db: 0.0,
    };
    let cross = RainCrossPolar::of(&radio, 18.0, &rain);
    let both = down.with_cross_polar(&cross);
    assert!(
        both.cross_polar_year_pct > down.rain_year_pct
            && both.year_pct == both.cross_polar_year_pct
    );
    assert_eq!(RainCrossPolar::warnings(40.0).len(), 1);
}
