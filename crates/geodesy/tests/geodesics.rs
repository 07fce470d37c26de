//! Geodesics, sphere formulas and working plane against outside values.

use geodesy::{Hemisphere, LocalXy, LonLat, WorkingPlane, declination, direct, inverse, sphere};
use proptest::prelude::*;

fn place(lon_deg: f64, lat_deg: f64) -> LonLat {
    LonLat::new(lon_deg, lat_deg).expect("a place")
}

/// A seven-digit azimuth and a distance in tenths of a millimetre are what
/// the printed values carry.
const AZIMUTH_TOLERANCE_DEG: f64 = 1e-7;

#[test]
fn ref_inverse_and_direct_worked_values() {
    // geographiclib 2.1.
    let path = inverse(place(-105.0, 40.0), place(-104.85, 40.1));
    assert!((path.distance_m - 16_944.674_0).abs() < 1e-4);
    assert!((path.azimuth_deg - 49.010_651_8).abs() < AZIMUTH_TOLERANCE_DEG);
    assert!((path.back_azimuth_deg - 229.107_170_3).abs() < AZIMUTH_TOLERANCE_DEG);
    let end = direct(place(151.2, -33.9), 275.0, 15_000.0);
    assert!((end.lat_deg() + 33.888_107_844).abs() < 1e-9);
    assert!((end.lon_deg() - 151.038_464_875).abs() < 1e-9);
}

#[test]
fn ref_inverse_of_vincenty_test_line() {
    // Flinders Peak to Buninyong, Geoscience Australia, "Geocentric Datum of
    // Australia Technical Manual" v2.4, section 4.2 (GRS 80, whose flattening
    // moves this line by less than 0.1 mm against WGS 84). Quoted from memory.
    let flinders = place(
        144.0 + 25.0 / 60.0 + 29.524_40 / 3600.0,
        -(37.0 + 57.0 / 60.0 + 3.720_30 / 3600.0),
    );
    let buninyong = place(
        143.0 + 55.0 / 60.0 + 35.383_9 / 3600.0,
        -(37.0 + 39.0 / 60.0 + 10.156_1 / 3600.0),
    );
    let path = inverse(flinders, buninyong);
    assert!(
        (path.distance_m - 54_972.271).abs() < 0.001,
        "{}",
        path.distance_m
    );
    let azimuth_deg = 306.0 + 52.0 / 60.0 + 5.37 / 3600.0;
    let back_deg = 127.0 + 10.0 / 60.0 + 25.07 / 3600.0;
    assert!((path.azimuth_deg - azimuth_deg).abs() < 0.01 / 3600.0);
    assert!((path.back_azimuth_deg - back_deg).abs() < 0.01 / 3600.0);
}

#[test]
fn exact_coincident_and_antimeridian() {
    let path = inverse(place(8.0, 48.0), place(8.0, 48.0));
    assert_eq!(path.distance_m, 0.0);
    let across = inverse(place(179.99, -16.0), place(-179.99, -16.0));
    assert!(across.distance_m < 2_200.0);
    assert_eq!(across.points(1).len(), 2);
}

#[test]
fn ref_utm_worked_values() {
    // PROJ 9.5 through pyproj: longitude, latitude, zone, easting, northing,
    // convergence.
    for (lon_deg, lat_deg, zone, x_m, y_m, gamma_deg) in [
        (
            -105.3,
            40.0,
            13,
            474_392.069_6,
            4_427_800.312_3,
            -0.192_837_3,
        ),
        (-0.1, 51.5, 30, 701_277.665_1, 5_709_417.124_8, 2.270_320_7),
        (
            151.2,
            -33.9,
            56,
            333_568.941_0,
            6_247_473.336_8,
            1.004_172_0,
        ),
    ] {
        let at = place(lon_deg, lat_deg);
        let plane = WorkingPlane::for_place(at).unwrap();
        assert_eq!(plane.zone(), zone);
        let xy = plane.to_local(at).unwrap();
        assert!((xy.x_m - x_m).abs() < 1e-4, "{} {x_m}", xy.x_m);
        assert!((xy.y_m - y_m).abs() < 1e-4, "{} {y_m}", xy.y_m);
        let gamma = plane.grid_convergence_deg(at);
        assert!((gamma - gamma_deg).abs() < 1e-7, "{gamma} {gamma_deg}");
    }
}

#[test]
fn exact_plane_refuses_what_it_cannot_show() {
    assert!(WorkingPlane::new(0, Hemisphere::North).is_err());
    assert!(WorkingPlane::new(61, Hemisphere::South).is_err());
    let plane = WorkingPlane::new(32, Hemisphere::North).unwrap();
    let nowhere = LocalXy {
        x_m: f64::NAN,
        y_m: 0.0,
    };
    assert!(plane.to_lonlat(nowhere).is_err());
}

#[test]
fn exact_sphere_midpoint_halves_the_way() {
    let (a, b) = (place(-105.0, 40.0), place(-100.0, 42.0));
    let mid = sphere::midpoint(a, b);
    let halves = sphere::distance_m(a, mid) - sphere::distance_m(mid, b);
    assert!(halves.abs() < 1e-6);
    // A quarter of the equator.
    let quarter_m = sphere::distance_m(place(0.0, 0.0), place(90.0, 0.0));
    let exact_m = sphere::EARTH_RADIUS_M * std::f64::consts::FRAC_PI_2;
    assert!((quarter_m - exact_m).abs() < 1e-6);
    assert!((sphere::azimuth_deg(place(0.0, 0.0), place(90.0, 0.0)) - 90.0).abs() < 1e-12);
}

/// pygeomag 1.1.0 with WMM2025; the library computes in single precision.
#[test]
fn ref_declination() {
    for (lon_deg, lat_deg, height_m, year, day, expected_deg) in [
        (-105.0, 40.0, 1600.0, 2026, 183, 7.543_1),
        (0.0, 51.5, 0.0, 2025, 1, 0.948_7),
        (151.2, -33.9, 0.0, 2027, 1, 12.841_1),
        (37.0, 0.0, 1700.0, 2026, 1, 0.663_9),
        (0.0, 80.0, 0.0, 2025, 1, 1.281_5),
    ] {
        let d = declination(place(lon_deg, lat_deg), height_m, year, day).unwrap();
        assert!(
            (d.declination_deg - expected_deg).abs() < 0.01,
            "{d:?} {expected_deg}"
        );
        assert!(d.uncertainty_deg > 0.1 && d.uncertainty_deg < 5.0);
        assert!(!d.compass_unreliable);
    }
    assert!(declination(place(0.0, 0.0), 0.0, 2031, 1).is_err());
    assert!(declination(place(0.0, 0.0), 0.0, 2026, 400).is_err());
    // Beside the northern magnetic pole of 2025.
    assert!(
        declination(place(139.3, 85.8), 0.0, 2025, 1)
            .unwrap()
            .compass_unreliable
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn exact_inverse_undoes_direct(
        lon_deg in -180.0..180.0_f64,
        lat_deg in -85.0..85.0_f64,
        azimuth_deg in 0.0..360.0_f64,
        distance_m in 1.0..300_000.0_f64,
    ) {
        let start = place(lon_deg, lat_deg);
        let path = inverse(start, direct(start, azimuth_deg, distance_m));
        prop_assert!((path.distance_m - distance_m).abs() < 1e-6);
        let turn = (path.azimuth_deg - azimuth_deg).rem_euclid(360.0);
        // One metre of path resolves an azimuth to about 1e-7 degrees.
        prop_assert!(turn.min(360.0 - turn) < 1e-6);
    }

    #[test]
    fn exact_plane_there_and_back(dlon in -4.0..4.0_f64, lat_deg in -80.0..80.0_f64, zone in 1..=60_u8) {
        let central = 6.0 * f64::from(zone) - 183.0;
        let at = place(central + dlon, lat_deg);
        let plane = WorkingPlane::new(zone, Hemisphere::North).unwrap();
        let back = plane.to_lonlat(plane.to_local(at).unwrap()).unwrap();
        prop_assert!((back.lat_deg() - lat_deg).abs() < 1e-9);
        prop_assert!(inverse(back, at).distance_m < 1e-3);
    }

    /// Convergence against the direction that the projection itself gives to
    /// a short step north.
    #[test]
    fn exact_convergence_is_the_turn_of_a_step_north(dlon in -3.0..3.0_f64, lat_deg in -70.0..70.0_f64) {
        let plane = WorkingPlane::new(33, Hemisphere::North).unwrap();
        let at = place(15.0 + dlon, lat_deg);
        let a = plane.to_local(at).unwrap();
        let b = plane.to_local(direct(at, 0.0, 100.0)).unwrap();
        let grid_azimuth_deg = (b.x_m - a.x_m).atan2(b.y_m - a.y_m).to_degrees();
        prop_assert!((grid_azimuth_deg + plane.grid_convergence_deg(at)).abs() < 1e-4);
    }
}
