//! Gain, beamwidth and size: the relations between them.

use crate::levels;

/// Speed of light. \[m/s\]
const SPEED_OF_LIGHT_M_S: f64 = 299_792_458.0;

/// Gain of an antenna from its two 3 dB beamwidths. \[dBi\]
///
/// `G = 10·log10(K/(φ3·θ3))`
///
/// * `product_deg2`: K. 31 000 is the sector relation of ITU-R F.1336-5
///   recommends 3.3; 41 253 the lossless bound; real arrays and dishes reach
///   27 000–32 400 (common practice, no source).
#[must_use]
pub fn gain_from_beamwidths_dbi(
    beamwidth_h_deg: f64,
    beamwidth_v_deg: f64,
    product_deg2: f64,
) -> f64 {
    levels::ratio_to_db(product_deg2 / (beamwidth_h_deg * beamwidth_v_deg))
}

/// Highest directivity two 3 dB beamwidths allow, `41 253/(φ3·θ3)`. \[dBi\]
#[must_use]
pub fn directivity_bound_dbi(beamwidth_h_deg: f64, beamwidth_v_deg: f64) -> f64 {
    gain_from_beamwidths_dbi(beamwidth_h_deg, beamwidth_v_deg, 41_253.0)
}

/// Vertical 3 dB beamwidth of a sector antenna of up to 120°. \[deg\]
///
/// `θ3 = 31000·10^(−0.1·G0)/φ3`. Source: ITU-R F.1336-5, recommends 3.3.
#[must_use]
pub fn sector_beamwidth_v_deg(gain_dbi: f64, beamwidth_h_deg: f64) -> f64 {
    31_000.0 * levels::db_to_ratio(-gain_dbi) / beamwidth_h_deg
}

/// Vertical 3 dB beamwidth of an omnidirectional antenna. \[deg\]
///
/// `θ3 = 107.6·10^(−0.1·G0)`. Source: ITU-R F.1336-5, recommends 2.
#[must_use]
pub fn omni_beamwidth_v_deg(gain_dbi: f64) -> f64 {
    107.6 * levels::db_to_ratio(-gain_dbi)
}

/// Diameter of a dish in wavelengths.
#[must_use]
pub fn dish_diameter_wavelengths(diameter_m: f64, f_ghz: f64) -> f64 {
    diameter_m * f_ghz * 1e9 / SPEED_OF_LIGHT_M_S
}

/// Gain of a dish from its diameter in wavelengths, `20·log10(D/λ) + 7.7`. \[dBi\]
///
/// Source: ITU-R F.699-8, recommends 3.
#[must_use]
pub fn dish_gain_dbi(diameter_wavelengths: f64) -> f64 {
    levels::amplitude_to_db(diameter_wavelengths) + 7.7
}

/// Diameter in wavelengths of a dish of known gain, `10^((G0 − 7.7)/20)`.
///
/// Source: ITU-R F.699-8, recommends 3.
#[must_use]
pub fn gain_wavelengths(gain_dbi: f64) -> f64 {
    levels::db_to_amplitude(gain_dbi - 7.7)
}

/// 3 dB beamwidth of a dish, about `70/(D/λ)`. \[deg\]
///
/// Source: ITU-R F.699-8, recommends 4.
#[must_use]
pub fn dish_beamwidth_deg(diameter_wavelengths: f64) -> f64 {
    70.0 / diameter_wavelengths
}

/// Gain of an aperture, `10·log10(η·(π·D/λ)²)`. \[dBi\]
///
/// * `efficiency_frac`: η, 0.5–0.65 for dishes (common practice, no source).
#[must_use]
pub fn aperture_gain_dbi(diameter_wavelengths: f64, efficiency_frac: f64) -> f64 {
    let circumference = std::f64::consts::PI * diameter_wavelengths;
    levels::ratio_to_db(efficiency_frac * circumference * circumference)
}

/// Loss of a beam aimed off by an angle, `12·(ψ/ψ3)²`, inside its main lobe. \[dB\]
///
/// The parabola of the 3GPP patterns; a pattern itself answers through
/// [`super::pointing_loss_db`], side lobes included.
#[must_use]
pub fn parabolic_pointing_loss_db(error_deg: f64, beamwidth_deg: f64) -> f64 {
    let x = error_deg / beamwidth_deg;
    12.0 * x * x
}
