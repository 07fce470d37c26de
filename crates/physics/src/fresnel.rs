//! Fresnel zones and the room a path needs above its ground.

use crate::free_space::wavelength_m;
use crate::refractivity::EARTH_RADIUS_KM;

/// Radius of the first Fresnel zone at a point of the path. \[m\]
///
/// `F1 = √(λ·d1·d2/(d1+d2))`, about 17.3·√(d1·d2/(f·d)).
///
/// * `f_ghz`: > 0. `d1_km`, `d2_km`: distances to the two ends, >= 0, not both 0.
///
/// Source: ITU-R P.526-15, section 2.
#[must_use]
pub fn first_zone_radius_m(f_ghz: f64, d1_km: f64, d2_km: f64) -> f64 {
    (wavelength_m(f_ghz) * 1e3 * d1_km * d2_km / (d1_km + d2_km)).sqrt()
}

/// Radius of the n-th Fresnel zone: √n times the first. \[m\]
#[must_use]
pub fn zone_radius_m(zone: u32, f_ghz: f64, d1_km: f64, d2_km: f64) -> f64 {
    f64::from(zone).sqrt() * first_zone_radius_m(f_ghz, d1_km, d2_km)
}

/// Clearance as a fraction of the first Fresnel zone; negative when blocked.
///
/// * `clearance_m`: ray height less everything below it (ground, clutter,
///   Earth bulge). `first_zone_radius_m`: > 0.
#[must_use]
pub fn clearance_ratio(clearance_m: f64, first_zone_radius_m: f64) -> f64 {
    clearance_m / first_zone_radius_m
}

/// Height by which the curved Earth rises above the chord between the ends. \[m\]
///
/// `b = 500·d1·d2/(k·6371)`.
///
/// * `d1_km`, `d2_km`: distances to the ends, >= 0. `k`: effective Earth
///   radius factor, > 0 ([`crate::refractivity::k_factor`]).
#[must_use]
pub fn earth_bulge_m(d1_km: f64, d2_km: f64, k: f64) -> f64 {
    500.0 * d1_km * d2_km / (k * EARTH_RADIUS_KM)
}

/// Diffraction parameter ν of an obstacle: √2 times height over F1.
///
/// * `h_m`: top of the obstacle above the straight line, negative if below.
///
/// Source: ITU-R P.526-15, equation (26).
#[must_use]
pub fn diffraction_parameter(h_m: f64, f_ghz: f64, d1_km: f64, d2_km: f64) -> f64 {
    std::f64::consts::SQRT_2 * h_m / first_zone_radius_m(f_ghz, d1_km, d2_km)
}
