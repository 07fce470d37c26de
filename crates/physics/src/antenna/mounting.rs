//! How an antenna sits on its mast: aim, mechanical and electrical tilt.

use super::{PreparedPattern, wrap_deg};

/// Aim and tilt of an antenna.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mounting {
    /// Boresight azimuth, clockwise from true north. \[deg\]
    pub azimuth_deg: f64,
    /// Tilt of the whole antenna, positive below the horizon, −90 to 90. \[deg\]
    pub mechanical_downtilt_deg: f64,
    /// Tilt of the beam within the antenna, positive below, within ±89. \[deg\]
    pub electrical_downtilt_deg: f64,
}

impl Mounting {
    /// Aimed at an azimuth, upright.
    #[must_use]
    pub fn upright(azimuth_deg: f64) -> Self {
        Self {
            azimuth_deg,
            mechanical_downtilt_deg: 0.0,
            electrical_downtilt_deg: 0.0,
        }
    }
}

/// Gain of a mounted antenna towards a true azimuth and an elevation. \[dBi\]
///
/// For one question; a map asks a [`MountedAntenna`], which keeps the sines.
#[must_use]
pub fn gain_toward_dbi(
    pattern: &PreparedPattern,
    mounting: &Mounting,
    true_azimuth_deg: f64,
    elevation_deg: f64,
) -> f64 {
    let rotation = Rotation::new(mounting);
    rotation.gain_dbi(pattern, true_azimuth_deg, elevation_deg)
}

/// A prepared pattern with its aim and tilt, for many directions.
#[derive(Debug, Clone, PartialEq)]
pub struct MountedAntenna {
    pattern: PreparedPattern,
    mounting: Mounting,
    rotation: Rotation,
}

impl MountedAntenna {
    /// Mounts a pattern.
    #[must_use]
    pub fn new(pattern: PreparedPattern, mounting: Mounting) -> Self {
        let rotation = Rotation::new(&mounting);
        Self {
            pattern,
            mounting,
            rotation,
        }
    }

    /// The pattern as mounted.
    #[must_use]
    pub fn pattern(&self) -> &PreparedPattern {
        &self.pattern
    }

    /// Aim and tilt.
    #[must_use]
    pub fn mounting(&self) -> &Mounting {
        &self.mounting
    }

    /// Gain towards a true azimuth and an elevation. \[dBi\]
    ///
    /// * `true_azimuth_deg`: clockwise from true north, any finite angle.
    /// * `elevation_deg`: above the horizon, clamped to ±90.
    #[must_use]
    pub fn gain_toward_dbi(&self, true_azimuth_deg: f64, elevation_deg: f64) -> f64 {
        self.rotation
            .gain_dbi(&self.pattern, true_azimuth_deg, elevation_deg)
    }
}

/// The mounting's angles as the formulas use them.
#[derive(Debug, Clone, PartialEq)]
struct Rotation {
    azimuth_deg: f64,
    mechanical: Option<(f64, f64)>,
    electrical_downtilt_deg: f64,
}

impl Rotation {
    fn new(mounting: &Mounting) -> Self {
        let beta_deg = mounting.mechanical_downtilt_deg;
        Self {
            azimuth_deg: mounting.azimuth_deg,
            mechanical: (beta_deg != 0.0).then(|| beta_deg.to_radians().sin_cos()),
            electrical_downtilt_deg: mounting.electrical_downtilt_deg.clamp(-89.0, 89.0),
        }
    }

    fn gain_dbi(
        &self,
        pattern: &PreparedPattern,
        true_azimuth_deg: f64,
        elevation_deg: f64,
    ) -> f64 {
        let phi_h = wrap_deg(true_azimuth_deg - self.azimuth_deg);
        let theta_h = elevation_deg.clamp(-90.0, 90.0);
        let (phi, theta) = match self.mechanical {
            None => (phi_h, theta_h),
            Some(sin_cos_beta) => mechanically_tilted_deg(phi_h, theta_h, sin_cos_beta),
        };
        pattern.gain_dbi - pattern.steered_loss_db(phi, theta, self.electrical_downtilt_deg)
    }
}

/// Direction in the frame of a mechanically tilted antenna, F.1336-5 recommends 3.4.
///
/// The azimuth's arc cosine is written as a two-argument arc tangent, which is
/// the same angle, with its sign, and exact near the boresight.
fn mechanically_tilted_deg(phi_h: f64, theta_h: f64, sin_cos_beta: (f64, f64)) -> (f64, f64) {
    let (sin_beta, cos_beta) = sin_cos_beta;
    let (sin_phi, cos_phi) = phi_h.to_radians().sin_cos();
    let (sin_theta, cos_theta) = theta_h.to_radians().sin_cos();
    let up = sin_theta * cos_beta + cos_theta * cos_phi * sin_beta;
    let ahead = -sin_theta * sin_beta + cos_theta * cos_phi * cos_beta;
    let across = cos_theta * sin_phi;
    (
        across.atan2(ahead).to_degrees(),
        up.clamp(-1.0, 1.0).asin().to_degrees(),
    )
}

/// Elevation in the frame of an electrically tilted beam, F.1336-5 recommends 3.5.
pub(super) fn electrically_tilted_deg(theta_h: f64, beta: f64) -> f64 {
    if beta == 0.0 {
        return theta_h;
    }
    let shifted = theta_h + beta;
    if shifted >= 0.0 {
        90.0 * shifted / (90.0 + beta)
    } else {
        90.0 * shifted / (90.0 - beta)
    }
}
