//! PortPolarization: what a rotated or differently polarized antenna loses, and
//! how well two crossed channels stay apart.

use crate::levels;

/// Highest isolation the formulas give; a perfect zero never survives a mount.
/// Our own bound, no source.
pub const ISOLATION_CEILING_DB: f64 = 60.0;

/// How an antenna port is polarized.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PortPolarization {
    /// Linear, tilted from horizontal: horizontal 0, vertical 90, slants 45 and 135 (−45). \[deg\]
    Linear {
        /// Angle of the electric field above the horizontal. \[deg\]
        tilt_deg: f64,
    },
    /// Right-hand circular.
    RightCircular,
    /// Left-hand circular.
    LeftCircular,
}

/// Level lost by the wanted port when one end is rotated by an angle. \[dB\]
///
/// `−20·log10(cos t)`, up to [`ISOLATION_CEILING_DB`].
#[must_use]
pub fn co_polar_loss_db(rotation_deg: f64) -> f64 {
    ratio_loss_db(rotation_deg.to_radians().cos())
}

/// Isolation between two crossed streams when one end is rotated. \[dB\]
///
/// `−20·log10(tan t)`, within ±[`ISOLATION_CEILING_DB`]; below zero from 45° on,
/// where each port hears the other stream louder than its own.
#[must_use]
pub fn rotation_isolation_db(rotation_deg: f64) -> f64 {
    let tangent = rotation_deg.to_radians().tan().abs();
    (-levels::amplitude_to_db(tangent)).clamp(-ISOLATION_CEILING_DB, ISOLATION_CEILING_DB)
}

/// Isolation left when several leaks add by power. \[dB\]
///
/// `−10·log10(Σ 10^(−Xi/10))`: rotation of the mount, cross-polar
/// discrimination of the two antennas, depolarization on the path. Their phases
/// are taken as independent (common practice, no source).
#[must_use]
pub fn combined_isolation_db(isolations_db: &[f64]) -> f64 {
    let leak: f64 = isolations_db
        .iter()
        .map(|x_db| levels::db_to_ratio(-x_db))
        .sum();
    (-levels::ratio_to_db(leak)).clamp(-ISOLATION_CEILING_DB, ISOLATION_CEILING_DB)
}

/// Loss between two polarizations, limited by cross-polar discrimination. \[dB\]
///
/// Two linear ones at an angle Δ: `−10·log10(cos²Δ + 10^(−XPD/10)·sin²Δ)`;
/// linear against circular 3.01 dB; opposite circulars the XPD.
///
/// * `xpd_db`: discrimination of the worse antenna, ≥ 0.
#[must_use]
pub fn polarization_loss_db(a: PortPolarization, b: PortPolarization, xpd_db: f64) -> f64 {
    use PortPolarization::{LeftCircular, Linear, RightCircular};
    let matched_frac = match (a, b) {
        (Linear { tilt_deg: one }, Linear { tilt_deg: other }) => {
            let cos = (one - other).to_radians().cos();
            cos * cos
        }
        (RightCircular, RightCircular) | (LeftCircular, LeftCircular) => 1.0,
        (RightCircular, LeftCircular) | (LeftCircular, RightCircular) => 0.0,
        _ => 0.5,
    };
    let leak_frac = levels::db_to_ratio(-xpd_db.clamp(0.0, ISOLATION_CEILING_DB));
    -levels::ratio_to_db((matched_frac + leak_frac * (1.0 - matched_frac)).min(1.0))
}

/// Loss of an amplitude ratio of at most 1, up to the ceiling.
fn ratio_loss_db(amplitude: f64) -> f64 {
    (-levels::amplitude_to_db(amplitude.abs())).clamp(0.0, ISOLATION_CEILING_DB)
}
