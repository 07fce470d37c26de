//! 3GPP patterns: the two-plane parabola of TR 36.814 and the element and
//! vertical column of TR 38.901.

use std::f64::consts::PI;

/// TR 36.814, Table A.2.1.1-2.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedParabolic {
    pub(super) beamwidth_h_deg: f64,
    pub(super) beamwidth_v_deg: f64,
    pub(super) max_attenuation_db: f64,
    pub(super) side_lobe_attenuation_db: f64,
}

impl PreparedParabolic {
    /// `min(AH + AV, Am)` with each plane capped on its own. \[dB\]
    pub(super) fn loss_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let across = azimuth_deg / self.beamwidth_h_deg;
        let up = elevation_deg / self.beamwidth_v_deg;
        let horizontal = (12.0 * across * across).min(self.max_attenuation_db);
        let vertical = (12.0 * up * up).min(self.side_lobe_attenuation_db);
        (horizontal + vertical).min(self.max_attenuation_db)
    }
}

/// TR 38.901 Table 7.3-1: 65° by 65°, 30 dB in each plane and together.
const ELEMENT: PreparedParabolic = PreparedParabolic {
    beamwidth_h_deg: 65.0,
    beamwidth_v_deg: 65.0,
    max_attenuation_db: 30.0,
    side_lobe_attenuation_db: 30.0,
};

/// Deepest null of the array: real columns fill theirs in at least this far.
/// Our own bound, no source; it also keeps the loss finite.
const DEEPEST_NULL_DB: f64 = 40.0;

/// A uniform vertical column of elements.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedPanel {
    elements: f64,
    phase_per_cos: f64,
}

impl PreparedPanel {
    pub(super) fn new(elements: u32, spacing_wavelengths: f64) -> Self {
        Self {
            elements: f64::from(elements),
            phase_per_cos: PI * spacing_wavelengths,
        }
    }

    /// Element loss plus the loss of the array factor steered to the tilt. \[dB\]
    ///
    /// `|Σ exp(j·2π·m·dv·(cos θ − cos θtilt))|²/M²`, whose sum is
    /// `sin²(M·u)/(M²·sin² u)` with `u = π·dv·(cos θ − cos θtilt)`.
    pub(super) fn loss_db(&self, azimuth_deg: f64, elevation_deg: f64, downtilt_deg: f64) -> f64 {
        let element_db = ELEMENT.loss_db(azimuth_deg, elevation_deg);
        if self.elements < 2.0 {
            return element_db;
        }
        // cos of the zenith angle is the sine of the elevation.
        let u = self.phase_per_cos
            * (elevation_deg.to_radians().sin() + downtilt_deg.to_radians().sin());
        let one = u.sin() * self.elements;
        // At a multiple of π all elements add in phase (main or grating lobe).
        let amplitude = if one.abs() < 1e-9 {
            1.0
        } else {
            (self.elements * u).sin() / one
        };
        let array_db = -10.0 * (amplitude * amplitude).log10();
        element_db + array_db.clamp(0.0, DEEPEST_NULL_DB)
    }
}
