//! Bending of the ray by the atmosphere: effective Earth radius and horizons.
//!
//! Source: ITU-R P.1812-8, equations (6) and (7); the same in P.452 and P.834.

/// Mean Earth radius of the Recommendations. \[km\]
pub const EARTH_RADIUS_KM: f64 = 6371.0;

/// Median lapse rate commonly assumed in temperate climates without a map. \[N/km\]
pub const DEFAULT_DELTA_N_PER_KM: f64 = 45.0;

/// Sea-level surface refractivity commonly assumed in temperate climates. \[N-units\]
pub const DEFAULT_N0: f64 = 325.0;

/// Effective Earth radius factor k of a refractivity lapse rate.
///
/// * `delta_n_per_km`: ΔN, positive when refractivity falls with height,
///   below 157 (at 157 the ray follows the ground).
///
/// Source: ITU-R P.1812-8, equation (6).
#[must_use]
pub fn k_factor(delta_n_per_km: f64) -> f64 {
    157.0 / (157.0 - delta_n_per_km)
}

/// Effective Earth radius of a refractivity lapse rate. \[km\]
///
/// Source: ITU-R P.1812-8, equation (7a).
#[must_use]
pub fn effective_radius_km(delta_n_per_km: f64) -> f64 {
    EARTH_RADIUS_KM * k_factor(delta_n_per_km)
}

/// Distance to the smooth-Earth horizon. \[km\]
///
/// * `height_m`: antenna height above the surface, >= 0.
/// * `effective_radius_km`: k times the Earth radius, > 0.
#[must_use]
pub fn horizon_km(height_m: f64, effective_radius_km: f64) -> f64 {
    (2.0 * effective_radius_km * height_m * 1e-3).sqrt()
}

/// Elevation angle of the ray towards the other end, above the horizontal. \[deg\]
///
/// * `height_difference_m`: other end less this end. `d_km`: distance, > 0.
///
/// Source: ITU-R P.1812-8, equation (78), in degrees.
#[must_use]
pub fn elevation_deg(height_difference_m: f64, d_km: f64, effective_radius_km: f64) -> f64 {
    (height_difference_m / (1e3 * d_km) - d_km / (2.0 * effective_radius_km))
        .atan()
        .to_degrees()
}
