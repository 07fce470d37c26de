//! What the bare ground of a profile does to a ray: the smooth surface fitted
//! to it and how far it stands above the straight line.
//!
//! Source: ITU-R P.1812-8, Attachment 1, sections 5.6.1 and 5.6.2; the same in
//! P.526-15 section 4.5.2 and P.452.

use crate::lanes::{LANES, NONE, each, for_blocks, greatest, raise};

/// Heights of the least-squares smooth surface at the two ends, above sea level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LeastSquares {
    /// At the transmitter. \[m\]
    pub(crate) hst_m: f64,
    /// At the receiver. \[m\]
    pub(crate) hsr_m: f64,
}

impl LeastSquares {
    /// Fits the surface to a profile. Equations (85) to (88).
    pub(crate) fn of(d_km: &[f64], h_m: &[f64]) -> Self {
        let n = d_km.len().min(h_m.len());
        let dt = d_km.last().copied().unwrap_or(0.0);
        if n < 2 {
            return Self {
                hst_m: h_m.first().copied().unwrap_or(0.0),
                hsr_m: h_m.last().copied().unwrap_or(0.0),
            };
        }
        let (d0, d1) = (&d_km[..n - 1], &d_km[1..n]);
        let (h0, h1) = (&h_m[..n - 1], &h_m[1..n]);
        let (mut v1, mut v2) = ([0.0; LANES], [0.0; LANES]);
        let full = (n - 1) / LANES * LANES;
        for_blocks(
            [&d0[..full], &d1[..full], &h0[..full], &h1[..full]],
            |_, [d0, d1, h0, h1]| {
                for l in 0..LANES {
                    let step = d1[l] - d0[l];
                    v1[l] += step * (h1[l] + h0[l]); // (85)
                    v2[l] += step * (h1[l] * (2.0 * d1[l] + d0[l]) + h0[l] * (d1[l] + 2.0 * d0[l])); // (86)
                }
            },
        );
        for i in full..n - 1 {
            let step = d1[i] - d0[i];
            v1[0] += step * (h1[i] + h0[i]);
            v2[0] += step * (h1[i] * (2.0 * d1[i] + d0[i]) + h0[i] * (d1[i] + 2.0 * d0[i]));
        }
        let (v1, v2): (f64, f64) = (v1.iter().sum(), v2.iter().sum());
        Self {
            hst_m: (2.0 * v1 * dt - v2) / (dt * dt), // (87)
            hsr_m: (v2 - v1 * dt) / (dt * dt),       // (88)
        }
    }

    /// Surface heights for the diffraction model. Equations (90) and (91).
    pub(crate) fn for_diffraction(&self, over: &Obstruction, h_m: &[f64]) -> (f64, f64) {
        let (mut hst, mut hsr) = (self.hst_m, self.hsr_m);
        if over.hobs_m > 0.0 {
            let sum = over.aobt_m_per_km + over.aobr_m_per_km;
            hst -= over.hobs_m * over.aobt_m_per_km / sum; // (90c)
            hsr -= over.hobs_m * over.aobr_m_per_km / sum; // (90d)
        }
        let (first, last) = (h_m.first().copied(), h_m.last().copied());
        (hst.min(first.unwrap_or(hst)), hsr.min(last.unwrap_or(hsr))) // (91)
    }
}

/// How the ground stands to the straight line between the antennas, no bulge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Obstruction {
    /// Greatest height above the line. \[m\] Equation (89a).
    pub(crate) hobs_m: f64,
    /// Greatest angle of obstruction from the transmitter. \[m/km\] Equation (89b).
    pub(crate) aobt_m_per_km: f64,
    /// Greatest angle of obstruction from the receiver. \[m/km\] Equation (89c).
    pub(crate) aobr_m_per_km: f64,
}

impl Obstruction {
    /// Walks the interior points.
    pub(crate) fn of(d_km: &[f64], h_m: &[f64], tx_amsl_m: f64, rx_amsl_m: f64) -> Self {
        let dt = d_km.last().copied().unwrap_or(0.0);
        let slope = (rx_amsl_m - tx_amsl_m) / dt;
        let end = d_km.len().min(h_m.len()).max(2) - 1;
        let inner = [d_km, h_m].map(|s| s.get(1..end).unwrap_or(&[]));
        let (mut top, mut from_tx, mut from_rx) = (NONE, NONE, NONE);
        for_blocks(inner, |_, [d, h]| {
            let above = each(|l| h[l] - (tx_amsl_m + slope * d[l])); // (89d)
            raise(&mut top, above);
            raise(&mut from_tx, each(|l| above[l] / d[l]));
            raise(&mut from_rx, each(|l| above[l] / (dt - d[l])));
        });
        Self {
            hobs_m: greatest(&top),
            aobt_m_per_km: greatest(&from_tx),
            aobr_m_per_km: greatest(&from_rx),
        }
    }
}
