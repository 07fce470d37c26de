//! Textbook values of the small formulas.

use physics::diffraction::{
    Obstacle, TwoEdges, knife_edge_exact_db, knife_edge_loss_db, rounded_obstacle_loss_db,
    two_edges_loss_db,
};
use physics::free_space::free_space_loss_db;
use physics::fresnel::{
    clearance_ratio, diffraction_parameter, earth_bulge_m, first_zone_radius_m, zone_radius_m,
};
use physics::levels;
use physics::refractivity::{
    EARTH_RADIUS_KM, effective_radius_km, elevation_deg, horizon_km, k_factor,
};

#[track_caller]
fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} within {tolerance}"
    );
}

/// Source: ITU-R P.525, evaluated by hand and rounded to 0.01 dB; the usual
/// 32.45 differs from the exact 32.4478 by 0.002 dB.
#[test]
fn exact_free_space() {
    for (f_ghz, d_km, loss_db) in [
        (3.65, 1.0, 103.70),
        (3.65, 5.0, 117.68),
        (3.65, 10.0, 123.70),
        (3.65, 16.0, 127.78),
        (5.8, 5.0, 121.70),
        (2.4, 10.0, 120.05),
    ] {
        near(free_space_loss_db(f_ghz, d_km), loss_db, 0.0075);
    }
    near(free_space_loss_db(1.0, 1.0), 92.4478, 5e-5);
}

/// Source: F1 = √(λ·d1·d2/d) and b = d1·d2/(12.742·k), the common design table
/// of mid-path values, rounded to 0.001 m (bulge computed with 12.74).
#[test]
fn exact_fresnel_and_bulge() {
    for (d_km, f_ghz, f1_m, bulge_43_m, bulge_23_m) in [
        (5.0, 3.65, 10.136, 0.368, 0.736),
        (10.0, 3.65, 14.334, 1.472, 2.943),
        (10.0, 5.8, 11.371, 1.472, 2.943),
        (16.0, 3.65, 18.131, 3.768, 7.535),
        (20.0, 2.5, 24.494, 5.887, 11.774),
    ] {
        let half = d_km / 2.0;
        // The table takes the factor as 17.32, the exact one is 17.3145.
        near(first_zone_radius_m(f_ghz, half, half), f1_m, 0.01);
        near(earth_bulge_m(half, half, 4.0 / 3.0), bulge_43_m, 0.002);
        near(earth_bulge_m(half, half, 2.0 / 3.0), bulge_23_m, 0.003);
    }
    near(
        zone_radius_m(4, 3.65, 2.0, 3.0),
        2.0 * first_zone_radius_m(3.65, 2.0, 3.0),
        1e-12,
    );
    // 60 % of F1 above the bulge, common practice: 10.07 m at the middle of 10 km, 3.65 GHz.
    near(
        0.6 * first_zone_radius_m(3.65, 5.0, 5.0) + earth_bulge_m(5.0, 5.0, 4.0 / 3.0),
        10.07,
        0.01,
    );
    near(clearance_ratio(6.0, 10.0), 0.6, 1e-15);
}

/// Source: ITU-R P.526-15, equation (26), evaluated independently.
#[test]
fn exact_diffraction_parameter() {
    let nu = diffraction_parameter(10.0, 5.8, 3.0, 5.0);
    near(nu, 1.43654, 5e-6);
    near(knife_edge_loss_db(nu), 16.4591, 5e-5);
    near(first_zone_radius_m(5.8, 3.0, 5.0), 9.8446, 5e-5);
    near(
        knife_edge_loss_db(diffraction_parameter(5.0, 3.65, 4.0, 1.0)),
        13.07,
        0.005,
    );
}

/// Source: ITU-R P.526-15, equations (30) and (31); exact values by an
/// independent numerical library's Fresnel integrals, rounded to 1e-4 dB.
#[test]
fn ref_knife_edge_exact() {
    for (nu, approximate_db, exact_db) in [
        (-1.5, 0.0, -0.6587),
        (-1.0, 0.0, -1.0010),
        (-0.78, 0.0, -0.0111),
        (-0.5, 1.9592, 1.8586),
        (0.0, 6.0329, 6.0206),
        (0.5, 10.2878, 10.2338),
        (1.0, 13.9257, 13.8641),
        (1.5, 16.7844, 16.7773),
        (2.0, 19.0429, 19.0910),
        (3.0, 22.4160, 22.5218),
        (5.0, 26.8136, 26.9362),
    ] {
        near(knife_edge_loss_db(nu), approximate_db, 5.1e-5);
        near(knife_edge_exact_db(nu), exact_db, 5.1e-5);
    }
    // The two series meet.
    near(
        knife_edge_exact_db(3.5 - 1e-9),
        knife_edge_exact_db(3.5),
        1e-6,
    );
}

/// Source: ITU-R P.526-15, section 4.2, evaluated independently (no published case).
#[test]
fn ref_rounded_obstacle() {
    let low = Obstacle {
        h_m: 10.0,
        d1_km: 3.0,
        d2_km: 5.0,
    };
    near(rounded_obstacle_loss_db(&low, 50.0, 5.8), 17.7303, 1e-4);
    let high = Obstacle {
        h_m: 40.0,
        d1_km: 4.0,
        d2_km: 6.0,
    };
    near(rounded_obstacle_loss_db(&high, 200.0, 3.6), 29.4322, 1e-4);
    near(
        rounded_obstacle_loss_db(&low, 1e-9, 5.8),
        rounded_obstacle_loss_db(&low, 0.0, 5.8),
        1e-3,
    );
}

/// Turning the path round changes nothing; by symmetry of section 4.3.
#[test]
fn exact_two_edges_reciprocal() {
    let edges = TwoEdges {
        a_km: 2.0,
        b_km: 3.0,
        c_km: 1.5,
        h1_m: 25.0,
        h2_m: 18.0,
    };
    let turned = TwoEdges {
        a_km: 1.5,
        b_km: 3.0,
        c_km: 2.0,
        h1_m: 18.0,
        h2_m: 25.0,
    };
    near(
        two_edges_loss_db(&edges, 3.6),
        two_edges_loss_db(&turned, 3.6),
        1e-9,
    );
}

/// Source: k = 157/(157 − ΔN), ITU-R P.1812-8 equation (6); horizon 3.5696·√(k·h).
#[test]
fn exact_refractivity() {
    near(k_factor(39.25), 4.0 / 3.0, 1e-12);
    near(
        effective_radius_km(39.25),
        4.0 / 3.0 * EARTH_RADIUS_KM,
        1e-9,
    );
    near(
        horizon_km(30.0, effective_radius_km(39.25)),
        3.5696 * 40f64.sqrt(),
        1e-3,
    );
    near(elevation_deg(0.0, 10.0, 8494.667), -0.033725, 1e-5);
}

/// Closed forms of power sums.
#[test]
fn exact_levels() {
    near(levels::dbm_to_mw(30.0), 1000.0, 1e-9);
    near(levels::w_to_dbm(1.0), 30.0, 1e-12);
    near(levels::dbm_to_w(30.0), 1.0, 1e-12);
    near(
        levels::sum_dbm([-90.0, -90.0]),
        -90.0 + 10.0 * 2f64.log10(),
        1e-12,
    );
    near(levels::sum_dbm([-90.0, f64::NEG_INFINITY]), -90.0, 1e-12);
    near(levels::mean_dbm([-90.0, -90.0, -90.0]), -90.0, 1e-12);
    near(
        levels::parallel_loss_db([20.0, 20.0]),
        20.0 - 10.0 * 2f64.log10(),
        1e-12,
    );
    near(levels::db_to_amplitude(6.0205999), 2.0, 1e-7);
    near(levels::amplitude_to_db(10.0), 20.0, 1e-12);
    assert_eq!(levels::sum_dbm([]), f64::NEG_INFINITY);
}
