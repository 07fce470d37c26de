//! Sector masks of ITU-R F.1336-5, recommends 3.1 (0.4–6 GHz) and 3.2 (6–70 GHz).

use super::{Envelope, SideLobes};

/// Frequency range of a sector mask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectorBand {
    /// 400 MHz to 6 GHz, recommends 3.1.
    Below6Ghz,
    /// 6 to 70 GHz, recommends 3.2.
    Above6Ghz,
}

/// Beamwidth from which segment 3 of the vertical mask is empty (4·θ3 = 90°).
const WIDEST_REGULAR_BEAM_DEG: f64 = 22.5;

/// Recommends 3.1 with its constants; symbols as printed there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedSector {
    phi3: f64,
    theta3: f64,
    g180: f64,
    kh_exponent: f64,
    lambda_kh: f64,
    ghr_back: f64,
    kv: f64,
    near_offset: f64,
    far_offset: f64,
    far_slope: f64,
    xk: f64,
    x_far: f64,
    x_end: f64,
}

impl PreparedSector {
    pub(super) fn new(envelope: Envelope, side_lobes: SideLobes, beam: (f64, f64)) -> Self {
        let (phi3, theta3) = beam;
        let (kp, ka, kh, kv): (f64, f64, f64, f64) = match side_lobes {
            SideLobes::Typical => (0.7, 0.7, 0.8, 0.7),
            SideLobes::Improved => (0.7, 0.7, 0.7, 0.3),
        };
        // The average mask lies 3 dB lower outside its main lobe.
        let (k180, k, near_offset, xk): (f64, f64, f64, f64) = match envelope {
            Envelope::Peak => (-12.0, kp, -12.0, (1.0 - 0.36 * kv).sqrt()),
            Envelope::Average => (-15.0, ka, -15.0, (1.33 - 0.33 * kv).sqrt()),
        };
        let g180 = k180 + 10.0 * (1.0 + 8.0 * k).log10() - 15.0 * (180.0 / theta3).log10(); // [2b1], [2c1]
        let join = 4_f64.powf(-1.5) + kv;
        let far_slope = 10.0 * ((180.0 / theta3).powf(1.5) * join / (1.0 + 8.0 * k)).log10()
            / (WIDEST_REGULAR_BEAM_DEG / theta3).log10();
        let lambda_kv = -near_offset - far_slope * 4_f64.log10() - 10.0 * join.log10();
        let x_end = 90.0 / theta3;
        let mut sector = Self {
            phi3,
            theta3,
            g180,
            kh_exponent: 2.0 - kh,
            lambda_kh: 3.0 * (1.0 - 0.5_f64.powf(-kh)),
            ghr_back: 0.0,
            kv,
            near_offset,
            far_offset: -lambda_kv,
            far_slope,
            xk,
            // F.1336 is silent on beams of 22.5° and more: segment 2 goes on to 90°.
            x_far: if theta3 < WIDEST_REGULAR_BEAM_DEG {
                4.0
            } else {
                x_end
            },
            x_end,
        };
        sector.ghr_back = sector.ghr(180.0 / phi3);
        sector
    }

    /// Loss below the peak, \[2a1\]: `−(Ghr + R·Gvr)`. \[dB\]
    pub(super) fn loss_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let ghr = self.ghr(azimuth_deg.abs() / self.phi3);
        let compression = (ghr - self.ghr_back) / -self.ghr_back; // [2a2], Ghr(0) = 0
        -(ghr + compression * self.gvr(elevation_deg.abs() / self.theta3))
    }

    /// Relative gain in azimuth, \[2b2\] and \[2c2\]. \[dB\]
    fn ghr(&self, xh: f64) -> f64 {
        let raw = if xh <= 0.5 {
            -12.0 * xh * xh
        } else {
            -12.0 * xh.powf(self.kh_exponent) - self.lambda_kh
        };
        raw.max(self.g180)
    }

    /// Relative gain in elevation, \[2b3\] and \[2c3\]. \[dB\]
    fn gvr(&self, xv: f64) -> f64 {
        if xv >= self.x_end {
            self.g180
        } else if xv < self.xk {
            -12.0 * xv * xv
        } else if xv < self.x_far {
            self.near_offset + 10.0 * (xv.powf(-1.5) + self.kv).log10()
        } else {
            self.far_offset - self.far_slope * xv.log10()
        }
    }
}

/// Recommends 3.2 with its constants; symbols as printed there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedSectorAbove6 {
    inverse_phi3: f64,
    inverse_theta3: f64,
    phi_th: f64,
    x_main: f64,
    far_offset: f64,
}

impl PreparedSectorAbove6 {
    pub(super) fn new(envelope: Envelope, beam: (f64, f64)) -> Self {
        let (phi3, theta3) = beam;
        let (x_main, far_offset) = match envelope {
            Envelope::Peak => (1.0, 12.0),      // [2e]
            Envelope::Average => (1.152, 15.0), // [2f]
        };
        Self {
            inverse_phi3: 1.0 / phi3,
            inverse_theta3: 1.0 / theta3,
            phi_th: x_main * phi3,
            x_main,
            far_offset,
        }
    }

    /// Loss below the peak. \[dB\]
    pub(super) fn loss_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let (sin_phi, cos_phi) = azimuth_deg.to_radians().sin_cos();
        let (sin_theta, cos_theta) = elevation_deg.to_radians().sin_cos();
        // [2d1], [2d2] written with the roll angle's sine and cosine, which
        // stays exact at the zenith where tan θ would not be finite.
        let across = cos_theta * sin_phi;
        let off_axis_sin = across.hypot(sin_theta);
        let psi = off_axis_sin.atan2(cos_theta * cos_phi).to_degrees();
        let inverse_psi_alpha = if psi > 90.0 {
            (cos_theta * self.inverse_phi3m(azimuth_deg.abs()))
                .hypot(sin_theta * self.inverse_theta3)
        } else if off_axis_sin > 0.0 {
            (across * self.inverse_phi3).hypot(sin_theta * self.inverse_theta3) / off_axis_sin
        } else {
            0.0
        };
        let x = psi * inverse_psi_alpha;
        if x < self.x_main {
            12.0 * x * x
        } else {
            self.far_offset + 15.0 * x.log10()
        }
    }

    /// `1/φ3m`, the azimuth beamwidth of the rear half, \[2d4\].
    fn inverse_phi3m(&self, azimuth_abs_deg: f64) -> f64 {
        if azimuth_abs_deg <= self.phi_th {
            return self.inverse_phi3;
        }
        let q_deg = 90.0 * (azimuth_abs_deg - self.phi_th) / (180.0 - self.phi_th);
        let (sin_q, cos_q) = q_deg.to_radians().sin_cos();
        (cos_q * self.inverse_phi3).hypot(sin_q * self.inverse_theta3)
    }
}
