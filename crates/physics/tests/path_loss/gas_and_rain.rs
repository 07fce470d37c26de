//! ITU-R P.676-13 and P.838-3 against the validation examples of ITU-R Study
//! Group 3 and what must hold for any air.

use physics::gas::{Air, PathGas, specific_attenuation, warnings};
use physics::path_loss::Polarization;
use physics::rain::{CIRCULAR_TILT_DEG, RainLaw};
use proptest::prelude::*;

use crate::data::{Worst, shared, table};
use crate::properties::seeded;

fn check_gas(file: &str, tolerance: f64) {
    let Some(folder) = shared("p676") else { return };
    let mut worst = Worst::default();
    for row in table(&folder.join(file)) {
        let f_ghz = row.number("f_ghz");
        let air = Air {
            dry_pressure_hpa: row.number("p_dry_hpa"),
            temperature_k: row.number("t_k"),
            vapour_g_per_m3: row.number("rho_gm3"),
        };
        let got = specific_attenuation(f_ghz, &air);
        let case = format!("{f_ghz} GHz, {air:?}");
        for (column, value) in [
            ("gamma_o_dbkm", got.oxygen_db_per_km),
            ("gamma_w_dbkm", got.vapour_db_per_km),
            ("gamma_dbkm", got.total_db_per_km()),
        ] {
            worst.note(column, &case, value, row.number(column));
        }
    }
    worst.check(file, |_| tolerance);
}

/// Source: ITU-R P.676 validation examples of ITU-R Study Group 3, given to
/// double precision; the tolerance is dB/km.
#[test]
fn ref_gas_published() {
    check_gas("gamma_published.csv", 2e-13);
}

/// Source: the public reference program of P.452 (see the data's own notes),
/// 12 significant digits of values up to 15 dB/km.
#[test]
fn ref_gas_generated() {
    check_gas("gamma_generated.csv", 6e-11);
}

/// Source: `itur` 0.4.0 (P.676-12 exact), printed to six digits after the point.
#[test]
fn ref_gas_printed() {
    for (f_ghz, dry, wet) in [
        (3.6, 0.007194, 0.000670),
        (5.8, 0.007509, 0.001789),
        (11.0, 0.008449, 0.007570),
        (24.125, 0.014740, 0.154984),
        (60.0, 14.623475, 0.154842),
        (80.0, 0.072307, 0.270060),
    ] {
        let air = Air {
            dry_pressure_hpa: 1013.25,
            temperature_k: 288.15,
            vapour_g_per_m3: 7.5,
        };
        let got = specific_attenuation(f_ghz, &air);
        assert!((got.oxygen_db_per_km - dry).abs() < 5.1e-7, "{f_ghz}");
        assert!((got.vapour_db_per_km - wet).abs() < 5.1e-7, "{f_ghz}");
    }
}

/// The dry pressure is the total less the vapour: 7.5 g/m³ at 288.15 K weigh 9.97 hPa.
#[test]
fn exact_total_pressure() {
    let air = Air::reference_at(0.0);
    assert!((air.vapour_pressure_hpa() - 7.5 * 288.15 / 216.7).abs() < 1e-12);
    assert!((air.dry_pressure_hpa + air.vapour_pressure_hpa() - 1013.25).abs() < 1e-9);
    // U.S. Standard Atmosphere 1976: 264.36 hPa and 223.15 K at 10 km (geopotential).
    let high = Air::reference_at(10_000.0);
    assert!((high.temperature_k - 223.15).abs() < 1e-9);
    assert!((high.dry_pressure_hpa + high.vapour_pressure_hpa() - 264.36).abs() < 0.2);
    assert!(warnings(24.0, &air).is_empty());
    assert_eq!(warnings(0.5, &air).len(), 1);
}

/// Source: ITU-R P.838 validation examples of ITU-R Study Group 3, 8 digits after the point.
#[test]
fn ref_rain_published() {
    check_rain("specific_attenuation_published.csv", 5.1e-9, 0.0);
}

/// Source: `itur` (see the data's own notes), 12 significant digits; relative.
#[test]
fn ref_rain_generated() {
    check_rain("specific_attenuation_generated.csv", 0.0, 6e-12);
}

fn check_rain(file: &str, absolute: f64, relative: f64) {
    let Some(folder) = shared("p838") else { return };
    let mut worst = Worst::default();
    for row in table(&folder.join(file)) {
        let [f_ghz, elevation, tau, rain] =
            ["f_ghz", "elevation_deg", "tau_deg", "rain_mmh"].map(|c| row.number(c));
        let law = RainLaw::inclined(f_ghz, elevation, tau);
        let case = format!("{f_ghz} GHz, {elevation} deg, {tau} deg");
        for (column, value) in [
            ("k", law.k),
            ("alpha", law.alpha),
            ("gamma_dbkm", law.attenuation_db_per_km(rain)),
        ] {
            let expected = row.number(column);
            let scale = if relative > 0.0 { expected.abs() } else { 1.0 };
            worst.note(column, &case, value / scale, expected / scale);
        }
    }
    worst.check(file, |_| absolute + relative);
}

proptest! {
    #![proptest_config(seeded(400))]

    /// The prepared polynomial is the sum of the lines, in any weather at any height.
    #[test]
    fn exact_prepared_gas_is_the_sum(f in 0.1f64..350.0, p in 300.0f64..1100.0, t in 230.0f64..320.0, omega in 0.0f64..1.0) {
        let gas = PathGas::of(f, p, t);
        prop_assert!(gas.is_for(f, p, t) && !gas.is_for(f, p, t + 1.0));
        for omega in [omega, 0.0, 1.0] {
            let air = Air { dry_pressure_hpa: p, temperature_k: t, vapour_g_per_m3: PathGas::vapour_g_per_m3(omega) };
            let (got, sum) = (gas.on_path(omega), specific_attenuation(f, &air));
            prop_assert!((got.oxygen_db_per_km / sum.oxygen_db_per_km - 1.0).abs() < 1e-8, "{got:?} {sum:?}");
            prop_assert!((got.vapour_db_per_km / sum.vapour_db_per_km - 1.0).abs() < 1e-8, "{got:?} {sum:?}");
        }
    }

    /// More vapour, more attenuation by it; both parts positive up to 350 GHz.
    #[test]
    fn exact_gas_grows_with_vapour(f in 0.1f64..350.0, t in 230.0f64..320.0, rho in 0.0f64..30.0) {
        let with = |rho| specific_attenuation(f, &Air { dry_pressure_hpa: 1000.0, temperature_k: t, vapour_g_per_m3: rho });
        let (less, more) = (with(rho), with(rho + 0.1));
        prop_assert!(more.vapour_db_per_km > less.vapour_db_per_km && less.vapour_db_per_km >= 0.0);
        prop_assert!(less.oxygen_db_per_km > 0.0);
    }

    /// A number at every frequency of the stated range, in any air.
    #[test]
    fn exact_gas_is_finite(f in 1.0f64..1000.0, p in 0.01f64..1100.0, t in 180.0f64..330.0, rho in 0.0f64..40.0) {
        let got = specific_attenuation(f, &Air { dry_pressure_hpa: p, temperature_k: t, vapour_g_per_m3: rho });
        prop_assert!(got.oxygen_db_per_km.is_finite() && got.vapour_db_per_km.is_finite(), "{got:?}");
    }

    /// More rain attenuates more; frequency and the inclination move it continuously.
    /// It is not monotone in frequency: k passes its greatest value between 100 and 300 GHz.
    #[test]
    fn exact_rain_grows(f in 1.0f64..999.0, elevation in 0.0f64..90.0, tau in 0.0f64..90.0, rain in 0.1f64..200.0, more in 0.01f64..50.0) {
        let law = RainLaw::inclined(f, elevation, tau);
        let here = law.attenuation_db_per_km(rain);
        prop_assert!(here.is_finite() && here > 0.0);
        prop_assert!(law.attenuation_db_per_km(rain + more) > here);
        prop_assert_eq!(law.attenuation_db_per_km(0.0), 0.0);
        for near in [RainLaw::inclined(f * (1.0 + 1e-9), elevation, tau), RainLaw::inclined(f, elevation + 1e-9, tau)] {
            prop_assert!((near.attenuation_db_per_km(rain) / here - 1.0).abs() < 1e-6);
        }
    }

    /// A level law is the inclined one at 0° with the field level or upright;
    /// circular lies between; the rate comes back from the attenuation.
    #[test]
    fn exact_rain_law(f in 1.0f64..1000.0, rain in 0.1f64..200.0) {
        let h = RainLaw::level(f, Polarization::Horizontal);
        let v = RainLaw::level(f, Polarization::Vertical);
        let close = |a: RainLaw, b: RainLaw| (a.k / b.k - 1.0).abs() < 1e-12 && (a.alpha - b.alpha).abs() < 1e-12;
        prop_assert!(close(RainLaw::inclined(f, 0.0, 0.0), h));
        prop_assert!(close(RainLaw::inclined(f, 0.0, 90.0), v));
        let circular = RainLaw::inclined(f, 0.0, CIRCULAR_TILT_DEG);
        prop_assert!((circular.k - 0.5 * (h.k + v.k)).abs() < 1e-12 * h.k);
        prop_assert!((h.rain_mm_per_h(h.attenuation_db_per_km(rain)) / rain - 1.0).abs() < 1e-12);
    }
}
