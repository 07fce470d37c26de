//! Power allowed by a rule against worked rows. The rules' numbers are a
//! starting data set with its certainty marks, not legal advice.

use physics::radio_power::{
    AntennaSide, BindingLimit, ElevationLimit, GainReduction, PowerLimits, allowed_power,
    density_dbm_per_mhz, density_to_total_dbm,
};

fn reduction(gain_free_dbi: f64, slope_db_per_db: f64) -> Option<GainReduction> {
    Some(GainReduction {
        gain_free_dbi,
        slope_db_per_db,
    })
}

fn check(
    limits: PowerLimits,
    (gain_dbi, feeder_loss_db): (f64, f64),
    width_mhz: f64,
    expected: (f64, f64),
) {
    let allowed = allowed_power(
        &limits,
        &AntennaSide::new(gain_dbi, feeder_loss_db),
        width_mhz,
    );
    // Rows are printed to 0.01 dB at best.
    assert!(
        (allowed.conducted_dbm - expected.0).abs() < 0.03,
        "{allowed:?}"
    );
    assert!((allowed.eirp_dbm - expected.1).abs() < 0.03, "{allowed:?}");
}

#[test]
fn ref_worked_rows() {
    // [computed] from 47 CFR 15.247 fixed point-to-point, 2.4 GHz [read]: 1 W, 1 dB per 3 dB above 6 dBi.
    let ptp_24 = PowerLimits {
        conducted_dbm: Some(30.0),
        gain_free: reduction(6.0, 1.0 / 3.0),
        ..PowerLimits::default()
    };
    check(ptp_24, (24.0, 0.0), 20.0, (24.0, 48.0));
    check(ptp_24, (30.0, 0.0), 20.0, (22.0, 52.0));
    // [computed] from 47 CFR 15.407 U-NII-1 fixed point-to-point [read]: 1 W, dB for dB above 23 dBi.
    let unii1_ptp = PowerLimits {
        conducted_dbm: Some(30.0),
        conducted_dbm_per_mhz: Some(17.0),
        gain_free: reduction(23.0, 1.0),
        ..PowerLimits::default()
    };
    check(unii1_ptp, (26.0, 0.0), 20.0, (27.0, 53.0));
    // At 10 MHz the density, 17 + 10 dBm, binds before 1 W does.
    check(unii1_ptp, (23.0, 0.0), 10.0, (27.0, 50.0));
    // [computed] from 47 CFR 15.407 U-NII-3 point-to-multipoint [memory]: 1 W, 30 dBm/500 kHz, 6 dBi.
    let unii3 = PowerLimits {
        conducted_dbm: Some(30.0),
        conducted_dbm_per_mhz: Some(density_dbm_per_mhz(30.0, 0.5)),
        gain_free: reduction(6.0, 1.0),
        ..PowerLimits::default()
    };
    check(unii3, (16.0, 0.0), 10.0, (20.0, 36.0));
    // [computed] from 47 CFR 90.1321(a) [read]: 25 W in 25 MHz and 1 W in any 1 MHz, EIRP.
    let subpart_z = PowerLimits {
        eirp_dbm: Some(43.9794),
        eirp_dbm_per_mhz: Some(30.0),
        ..PowerLimits::default()
    };
    check(subpart_z, (17.0, 0.5), 10.0, (23.5, 40.0));
    for (width_mhz, eirp_dbm) in [
        (5.0, 36.99),
        (7.0, 38.45),
        (10.0, 40.0),
        (20.0, 43.01),
        (25.0, 43.98),
        (50.0, 43.98),
    ] {
        check(
            subpart_z,
            (17.0, 0.0),
            width_mhz,
            (eirp_dbm - 17.0, eirp_dbm),
        );
    }
    // [computed] from 47 CFR 96 Category B [read]: 47 dBm/10 MHz, 37 dBm/MHz.
    let category_b = PowerLimits {
        eirp_dbm_per_mhz: Some(37.0),
        ..PowerLimits::default()
    };
    check(category_b, (17.0, 0.0), 10.0, (30.0, 47.0));
    check(category_b, (17.0, 0.0), 5.0, (26.99, 43.99));
    check(category_b, (17.0, 0.0), 20.0, (33.01, 50.01));
    // [computed] from EN 302 502 [read]: 36 dBm EIRP, 23 dBm/MHz.
    let en_302_502 = PowerLimits {
        eirp_dbm: Some(36.0),
        eirp_dbm_per_mhz: Some(23.0),
        ..PowerLimits::default()
    };
    check(en_302_502, (16.0, 0.0), 10.0, (17.0, 33.0));
    check(en_302_502, (16.0, 0.0), 20.0, (20.0, 36.0));
    // [computed] 5470–5725 MHz, ECC/DEC/(04)08 [read]: 1 W, 50 mW/MHz EIRP.
    let rlan = PowerLimits {
        eirp_dbm: Some(30.0),
        eirp_dbm_per_mhz: Some(16.9897),
        ..PowerLimits::default()
    };
    check(rlan, (20.0, 0.0), 10.0, (7.0, 27.0));
    check(rlan, (20.0, 0.0), 20.0, (10.0, 30.0));
    // [computed] U-NII-2 [memory]: min(250 mW, 11 dBm + 10 log B), 6 dBi.
    let unii2 = PowerLimits {
        conducted_dbm: Some(23.979),
        conducted_dbm_per_mhz: Some(11.0),
        gain_free: reduction(6.0, 1.0),
        ..PowerLimits::default()
    };
    check(unii2, (6.0, 0.0), 10.0, (21.0, 27.0));
    check(unii2, (6.0, 0.0), 20.0, (23.98, 30.0));
}

#[test]
fn exact_elevation_limit() {
    // 47 CFR 15.407 U-NII-1 outdoor access point [read]: 21 dBm EIRP above 30°.
    let limits = PowerLimits {
        conducted_dbm: Some(30.0),
        gain_free: reduction(6.0, 1.0),
        elevation: Some(ElevationLimit {
            above_deg: 30.0,
            eirp_dbm: 21.0,
        }),
        ..PowerLimits::default()
    };
    let mut antenna = AntennaSide::new(16.0, 1.0);
    let open = allowed_power(&limits, &antenna, 20.0);
    assert_eq!(
        (open.binding, open.elevation_unchecked),
        (Some(BindingLimit::Conducted), true)
    );
    antenna.gain_above_elevation_dbi = Some(4.0);
    let bound = allowed_power(&limits, &antenna, 20.0);
    assert_eq!(
        (bound.binding, bound.elevation_unchecked),
        (Some(BindingLimit::Elevation), false)
    );
    assert!((bound.conducted_dbm - 18.0).abs() < 1e-9 && (bound.eirp_dbm - 33.0).abs() < 1e-9);
}

#[test]
fn exact_no_limit_is_no_limit() {
    let free = allowed_power(&PowerLimits::default(), &AntennaSide::new(10.0, 0.0), 10.0);
    assert_eq!((free.conducted_dbm, free.binding), (f64::INFINITY, None));
    assert!((density_to_total_dbm(30.0, 10.0) - 40.0).abs() < 1e-12);
}
