//! Free space: the loss every other loss is counted from.
//!
//! Source: ITU-R P.525. Models that fix a constant of their own (92.4 in
//! P.1812) keep it in their own file.

/// Speed of light in vacuum, exact by definition. \[m/s\]
pub const SPEED_OF_LIGHT_M_S: f64 = 299_792_458.0;

/// Wavelength in vacuum. \[m\]
///
/// * `f_ghz`: frequency, > 0.
#[must_use]
pub fn wavelength_m(f_ghz: f64) -> f64 {
    SPEED_OF_LIGHT_M_S / (f_ghz * 1e9)
}

/// Free-space basic transmission loss between isotropic antennas. \[dB\]
///
/// `L = 20·log10(4π·d/λ)`, that is 92.45 + 20·log10(f) + 20·log10(d).
///
/// * `f_ghz`: carrier frequency, > 0. `d_km`: path length, > 0.
/// * Valid: far field of both antennas; no terrain, gas or rain.
///
/// Source: ITU-R P.525-4, equations (3) and (4).
#[must_use]
pub fn free_space_loss_db(f_ghz: f64, d_km: f64) -> f64 {
    20.0 * (4.0 * std::f64::consts::PI * d_km * 1e3 / wavelength_m(f_ghz)).log10()
}

/// Length of the straight line between two antennas. \[km\]
///
/// * `d_km`: distance over ground, >= 0. `height_difference_m`: either sign.
#[must_use]
pub fn slant_distance_km(d_km: f64, height_difference_m: f64) -> f64 {
    d_km.hypot(height_difference_m / 1e3)
}
