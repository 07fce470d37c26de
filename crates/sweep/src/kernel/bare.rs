//! The bare profile: horizons, smooth surface, roughness, for any receiver on
//! it (Attachment 1 of the Recommendation).
//!
//! Which of several equal points counts as a horizon is decided exactly as the
//! scalar model decides it: it walks in blocks of four points, takes the first
//! block (from the mast) or the last (from the receiver) that holds the
//! steepest point, and picks within it.

use super::fold::{Along, End};
use crate::hull::Hull;

/// Points the scalar model looks at together.
const LANES: usize = 4;

/// Horizons of a path over bare ground with the median Earth radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Horizons {
    pub(super) transhorizon: bool,
    pub(super) theta_t_mrad: f64,
    pub(super) theta_r_mrad: f64,
    /// Sample of the mast's horizon; beyond the horizon only.
    lt: usize,
    /// Sample of the receiver's horizon; beyond the horizon only.
    lr: usize,
}

/// The smooth surface of a path.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surface {
    /// For diffraction, equations (91). [m amsl]
    pub(super) hstd: f64,
    pub(super) hsrd: f64,
    /// For ducting, equations (92). [m amsl]
    pub(super) hst: f64,
    pub(super) hsr: f64,
}

/// Where the horizons stand, and the roughness between them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Between {
    pub(super) dlt_km: f64,
    pub(super) dlr_km: f64,
    pub(super) hm_m: f64,
}

/// The bare profile of a radial. Index k of a prefix holds the samples 1 to k.
#[derive(Debug, Default)]
pub(super) struct Bare {
    /// Median effective Earth radius. [km]
    ae: f64,
    /// Sample of the mast's horizon.
    horizon: Vec<u32>,
    /// Tangent of its elevation.
    horizon_slope: Vec<f64>,
    /// Steepest straight slope from the mast. [m/km]
    steepest: Vec<f64>,
    /// Sums of equations (85) and (86) up to sample k, from 0.
    v1: Vec<f64>,
    v2: Vec<f64>,
    folded: Hull,
    straight: Hull,
    pushed: usize,
}

impl Bare {
    pub(super) fn new(ae_km: f64) -> Self {
        Self {
            ae: ae_km,
            ..Self::default()
        }
    }

    /// Starts a radial.
    pub(super) fn begin(&mut self, along: &Along<'_>, h: &[f64]) {
        self.folded.clear();
        self.straight.clear();
        self.pushed = 0;
        self.fit(along.d, h);
        self.mast_horizons(along, h);
    }

    /// Equations (85) and (86).
    fn fit(&mut self, d: &[f64], h: &[f64]) {
        self.v1.clear();
        self.v2.clear();
        let (mut v1, mut v2) = (0.0, 0.0);
        self.v1.push(v1);
        self.v2.push(v2);
        for i in 1..h.len() {
            let [part1, part2] = segment([d[i - 1], d[i]], [h[i - 1], h[i]]);
            v1 += part1;
            v2 += part2;
            self.v1.push(v1);
            self.v2.push(v2);
        }
    }

    fn mast_horizons(&mut self, along: &Along<'_>, h: &[f64]) {
        self.horizon.clear();
        self.horizon_slope.clear();
        self.steepest.clear();
        self.horizon.push(0);
        self.horizon_slope.push(f64::NEG_INFINITY);
        self.steepest.push(f64::NEG_INFINITY);
        let half_bend = 500.0 / self.ae;
        let (mut best, mut steepest, mut block) = (f64::NEG_INFINITY, f64::NEG_INFINITY, 0);
        let (mut at, mut at_slope) = (1, f64::NEG_INFINITY);
        for i in 1..h.len() {
            let straight = (h[i] - along.hts) / along.d[i];
            steepest = steepest.max(straight);
            let t = straight - half_bend * along.d[i];
            let own = (i - 1) / LANES;
            let mut from = i;
            if t > best {
                best = t;
                if own != block {
                    block = own;
                    (at, at_slope) = (i, f64::NEG_INFINITY);
                    from = own * LANES + 1;
                }
            }
            if own == block {
                for j in from..=i {
                    let slope = self.slope_t(along, h, j);
                    if slope > at_slope {
                        (at, at_slope) = (j, slope);
                    }
                }
            }
            self.steepest.push(steepest);
            self.horizon.push(at as u32);
            self.horizon_slope.push(at_slope);
        }
    }

    /// Tangent of the elevation angle from the mast, equation (77).
    fn slope_t(&self, along: &Along<'_>, h: &[f64], i: usize) -> f64 {
        (h[i] - along.hts) / (1e3 * along.d[i]) - along.d[i] / (2.0 * self.ae)
    }

    /// Tangent of the elevation angle from the receiver, equation (82a).
    fn slope_r(&self, along: &Along<'_>, h: &[f64], end: &End, i: usize) -> f64 {
        let d = end.dt - along.d[i];
        (h[i] - end.hrs) / (1e3 * d) - d / (2.0 * self.ae)
    }

    /// Brings the hulls to the samples up to `last`.
    #[inline]
    pub(super) fn advance(&mut self, along: &Along<'_>, h: &[f64], last: usize) {
        let c = 500.0 / self.ae;
        for i in self.pushed + 1..=last {
            let d = along.d[i];
            self.folded.push(i, d, h[i] - c * d * d, along.per_distance);
            self.straight.push(i, d, h[i], along.per_distance);
        }
        self.pushed = self.pushed.max(last);
    }

    /// Horizons, equations (76) to (82).
    #[inline]
    pub(super) fn horizons(&self, along: &Along<'_>, h: &[f64], end: &End) -> Horizons {
        let (dt, hts, hrs) = (end.dt, along.hts, end.hrs);
        let direct = (hrs - hts) / (1e3 * dt) - dt / (2.0 * self.ae); // (78)
        let steepest = self.horizon_slope[end.last];
        let (theta_td, theta_max) = (mrad(direct), mrad(steepest));
        if theta_max > theta_td {
            let lr = self.receiver_horizon(along, h, end);
            return Horizons {
                transhorizon: true,
                theta_t_mrad: theta_max,                             // (79)
                theta_r_mrad: mrad(self.slope_r(along, h, end, lr)), // (82)
                lt: self.horizon[end.last] as usize,
                lr,
            };
        }
        Horizons {
            transhorizon: false,
            theta_t_mrad: theta_td,
            theta_r_mrad: mrad((hts - hrs) / (1e3 * dt) - dt / (2.0 * self.ae)), // (81)
            lt: 0,
            lr: 0,
        }
    }

    /// Sample of the receiver's horizon, equation (83).
    #[inline]
    fn receiver_horizon(&self, along: &Along<'_>, h: &[f64], end: &End) -> usize {
        let c = 500.0 / self.ae;
        let touch = self.folded.tangent(end.dt, end.hrs - c * end.dt * end.dt);
        if touch.first == touch.last {
            return self.folded.sample_at(touch.at);
        }
        let (mut best, mut block) = (f64::NEG_INFINITY, 0);
        for vertex in touch.first..=touch.last {
            let i = self.folded.sample_at(vertex);
            let e = end.dt - along.d[i];
            let r = (h[i] - end.hrs) / e - c * e;
            if r >= best {
                (best, block) = (r, (i - 1) / LANES);
            }
        }
        pick_last(block, end.last, |i| self.slope_r(along, h, end, i))
    }

    /// Smooth surface, equations (85) to (92).
    #[inline]
    pub(super) fn surface(&self, along: &Along<'_>, h: &[f64], end: &End, ground: f64) -> Surface {
        let (dt, last) = (end.dt, end.last);
        let [part1, part2] = segment([along.d[last], dt], [h[last], ground]);
        let (v1, v2) = (self.v1[last] + part1, self.v2[last] + part2);
        let fitted_t = (2.0 * v1 * dt - v2) / (dt * dt); // (87)
        let fitted_r = (v2 - v1 * dt) / (dt * dt); // (88)
        let (mut over_t, mut over_r) = (fitted_t, fitted_r);
        if self.steepest[last] > end.line {
            let i = self.straight.highest_over(end.line);
            let hobs = h[i] - (along.hts + end.line * along.d[i]); // (89a)
            if hobs > 0.0 {
                let at = self.straight.tangent(dt, end.hrs).at;
                let j = self.straight.sample_at(at);
                let from_rx = (h[j] - end.hrs) / (dt - along.d[j]) + end.line; // (89c)
                let from_tx = self.steepest[last] - end.line; // (89b)
                over_t -= hobs * from_tx / (from_tx + from_rx); // (90c)
                over_r -= hobs * from_rx / (from_tx + from_rx); // (90d)
            }
        }
        Surface {
            hstd: over_t.min(h[0]), // (91)
            hsrd: over_r.min(ground),
            hst: fitted_t.min(h[0]), // (92)
            hsr: fitted_r.min(ground),
        }
    }

    /// Distances of the horizons of a path beyond them. [km]
    #[inline]
    pub(super) fn horizon_distances(
        &self,
        along: &Along<'_>,
        end: &End,
        horizons: &Horizons,
    ) -> [f64; 2] {
        [along.d[horizons.lt], end.dt - along.d[horizons.lr]]
    }

    /// Where the horizons stand, equations (80) and (83), and the roughness
    /// between them, equation (95).
    ///
    /// The roughness is a maximum over a range that neither starts nor ends
    /// with the radial; it is walked. So is a path in sight, whose horizon is
    /// the point of least clearance.
    pub(super) fn between(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End,
        path: (&Horizons, &Surface),
    ) -> Between {
        let (horizons, surface) = path;
        let (lt, lr) = if horizons.transhorizon {
            (horizons.lt, horizons.lr)
        } else {
            let m = self.least_clearance(along, h, end);
            (m, m)
        };
        let m = (surface.hsr - surface.hst) / end.dt; // (93)
        let range = lt.min(lr)..=lt.max(lr);
        let above = |(h, d): (&f64, &f64)| h - (surface.hst + m * d);
        let rough = h[range.clone()].iter().zip(&along.d[range]).map(above);
        Between {
            dlt_km: along.d[lt],
            dlr_km: end.dt - along.d[lr],
            hm_m: rough.fold(f64::NEG_INFINITY, |a, b| if b > a { b } else { a }),
        }
    }

    /// The sample with the least clearance in Fresnel zones, as the scalar
    /// model picks it.
    fn least_clearance(&self, along: &Along<'_>, h: &[f64], end: &End) -> usize {
        let c = 500.0 / self.ae;
        let (dt, hts, hrs) = (end.dt, along.hts, end.hrs);
        let (mut best, mut block) = (f64::NEG_INFINITY, 0);
        for i in 1..=end.last {
            let d = along.d[i];
            let dd = d * (dt - d);
            let y = (h[i] - (hts + end.line * d)) + c * dd;
            let key = y * y.abs() / dd;
            if key >= best {
                (best, block) = (key, (i - 1) / LANES);
            }
        }
        pick_last(block, end.last, |i| {
            let (d, e) = (along.d[i], dt - along.d[i]);
            let y = h[i] + 500.0 * d * e / self.ae - (hts * e + hrs * d) / dt;
            y * y.abs() / (d * e)
        })
    }
}

/// The last sample of a block, no farther than `last`, where `value` is greatest.
fn pick_last(block: usize, last: usize, value: impl Fn(usize) -> f64) -> usize {
    let start = block * LANES + 1;
    let mut at = start;
    for i in start + 1..=(start + LANES - 1).min(last) {
        if value(i) >= value(at) {
            at = i;
        }
    }
    at
}

/// One segment of the sums of equations (85) and (86).
#[inline]
fn segment([d0, d1]: [f64; 2], [h0, h1]: [f64; 2]) -> [f64; 2] {
    let step = d1 - d0;
    [
        step * (h1 + h0),
        step * (h1 * (2.0 * d1 + d0) + h0 * (d1 + 2.0 * d0)),
    ]
}

#[inline]
fn mrad(slope: f64) -> f64 {
    1e3 * slope.atan()
}
