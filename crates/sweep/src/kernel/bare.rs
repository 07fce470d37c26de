//! The bare profile: horizons, smooth surface, roughness, for any receiver on
//! it (Attachment 1 of the Recommendation).
//!
//! Which of several equal points counts as a horizon is decided exactly as the
//! scalar model decides it: it walks in blocks of four points, takes the first
//! block (from the mast) or the last (from the receiver) that holds the
//! steepest point, and picks within it.

mod horizons;

pub(super) use horizons::Recent;

use std::ops::Range;

use super::end::{End, Own};
use super::fold::Along;
use crate::hull::{Hull, prominent, recent};
use crate::wide::wide;

/// Points the scalar model looks at together.
const LANES: usize = 4;

/// Samples whose greatest height is kept.
const BLOCK: usize = 16;

/// Horizons of a path over bare ground with the median Earth radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Horizons {
    pub(super) transhorizon: bool,
    /// Tangents of the elevations (79), and (81) or (82).
    pub(super) slope_t: f64,
    pub(super) slope_r: f64,
    /// Sample of the mast's horizon; beyond the horizon only.
    pub(super) lt: usize,
    /// Sample of the receiver's horizon; beyond the horizon only.
    pub(super) lr: usize,
}

/// The smooth surface fitted to a path. All above sea level.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surface {
    pub(super) fitted_t: f64,
    pub(super) fitted_r: f64,
    pub(super) ground_t: f64,
    pub(super) ground_r: f64,
}

impl Surface {
    /// At the two ends for ducting, equations (92); for diffraction it is no higher. \[m amsl\]
    #[inline]
    pub(super) fn for_ducting(&self) -> [f64; 2] {
        [
            self.fitted_t.min(self.ground_t),
            self.fitted_r.min(self.ground_r),
        ]
    }
}

/// Where the horizons stand, and the roughness between them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Between {
    pub(super) dlt_km: f64,
    pub(super) dlr_km: f64,
    pub(super) hm_m: f64,
}

/// The bare profile of a radial, brought up to one sample after the other.
#[derive(Debug, Clone, Default)]
pub(super) struct Bare {
    /// Median effective Earth radius. \[km\]
    ae: f64,
    so_far: SoFar,
    /// Where the steepest straight slope changes, and where the mast's horizon does; how
    /// many of these have been reached.
    steeper: Vec<Steeper>,
    horizons: Vec<MastHorizon>,
    passed: [usize; 2],
    /// Straight slopes from the mast. \[m/km\]
    straight_slope: Vec<f64>,
    /// Greatest height of every [`BLOCK`] samples from 0.
    block_top: Vec<f64>,
    /// Folded heights; those that may be vertices, and how many of them have been pushed.
    g: Vec<f64>,
    is_prominent: Vec<bool>,
    prominent: Vec<u32>,
    pushed: usize,
    folded: Hull,
    /// The sums of equations (85) and (86) from sample 0.
    sums: Vec<[f64; 2]>,
}

/// What the samples up to one amount to.
#[derive(Debug, Clone, Copy)]
struct SoFar {
    /// Steepest straight slope from the mast. \[m/km\]
    steepest: f64,
    horizon: MastHorizon,
}

impl Default for SoFar {
    fn default() -> Self {
        Self {
            steepest: f64::NEG_INFINITY,
            horizon: MastHorizon {
                slope: f64::NEG_INFINITY,
                sample: 1,
                from: 1,
            },
        }
    }
}

/// A sample that sets a new steepest straight slope. \[m/km\]
#[derive(Debug, Clone, Copy)]
struct Steeper {
    slope: f64,
    sample: u32,
}

/// The mast's horizon of paths from some sample on.
#[derive(Debug, Clone, Copy)]
struct MastHorizon {
    /// Tangent of its elevation.
    slope: f64,
    sample: u32,
    /// Last sample of the first such path.
    from: u32,
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
        self.folded.clear(h.len());
        self.pushed = 0;
        self.fold(along, h);
        let (step, parts) = (along.step(), (&mut self.is_prominent, &mut self.prominent));
        prominent(&self.g, step, parts.0, parts.1);
        self.block_top.clear();
        let tops = h
            .chunks(BLOCK)
            .map(|h| h.iter().copied().fold(f64::NEG_INFINITY, greater));
        self.block_top.extend(tops);
        sum_up(self.sums.get_mut(1..).unwrap_or_default());
        (self.so_far, self.passed) = (SoFar::default(), [0, 0]);
        let mut steeper = std::mem::take(&mut self.steeper);
        let mut horizons = std::mem::take(&mut self.horizons);
        steeper.clear();
        horizons.clear();
        wide(
            #[inline(always)]
            || self.changes((along, h), (&mut steeper, &mut horizons)),
        );
        (self.steeper, self.horizons) = (steeper, horizons);
    }

    /// Finds where the steepest straight slope and the mast's horizon change. Blocks
    /// of which no sample is steeper than what is known are passed over.
    #[inline(always)]
    fn changes(
        &self,
        (along, h): (&Along<'_>, &[f64]),
        (steeper, horizons): (&mut Vec<Steeper>, &mut Vec<MastHorizon>),
    ) {
        let half_bend = 500.0 / self.ae;
        let (mut steepest, mut best) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let mut found = SoFar::default().horizon;
        let straight = self.straight_slope.get(1..).unwrap_or_default();
        let blocks = straight
            .chunks(BLOCK)
            .zip(along.d.get(1..).unwrap_or_default().chunks(BLOCK));
        for (number, (straight, d)) in blocks.enumerate() {
            let mut is_new = 0_u64;
            for (straight, d) in straight.iter().zip(d) {
                is_new |= u64::from((*straight > steepest) | (straight - half_bend * d > best));
            }
            if is_new == 0 {
                continue;
            }
            let mut block_end = 0;
            for (k, (straight, d)) in straight.iter().zip(d).enumerate() {
                let i = number * BLOCK + k + 1;
                if *straight > steepest {
                    steepest = *straight;
                    let sample = i as u32;
                    steeper.push(Steeper {
                        slope: *straight,
                        sample,
                    });
                }
                let t = straight - half_bend * d;
                if t > best || i < block_end {
                    let mut from = i;
                    if t > best {
                        best = t;
                        if i >= block_end {
                            from = (i - 1) / LANES * LANES + 1;
                            block_end = from + LANES;
                            found.slope = f64::NEG_INFINITY;
                        }
                    }
                    let samples = along.d[..=i].iter().zip(&h[..=i]);
                    for (j, (d, h)) in samples.enumerate().skip(from) {
                        let slope = self.slope_t(along.hts, (*d, *h));
                        if slope > found.slope {
                            (found.sample, found.slope) = (j as u32, slope);
                        }
                    }
                    found.from = i as u32;
                    horizons.push(found);
                }
            }
        }
    }

    /// What each sample amounts to alone.
    fn fold(&mut self, along: &Along<'_>, h: &[f64]) {
        let samples = h.len();
        self.straight_slope.resize(samples, 0.0);
        self.g.resize(samples, 0.0);
        self.sums.resize(samples, [0.0; 2]);
        let (hts, c, d) = (along.hts, 500.0 / self.ae, &along.d[..samples]);
        let (slopes, g, sums) = (&mut self.straight_slope, &mut self.g, &mut self.sums);
        wide(
            #[inline(always)]
            || {
                let outs = slopes.iter_mut().zip(g);
                for ((slope, g), (h, d)) in outs.zip(h.iter().zip(d)) {
                    *slope = (h - hts) / d;
                    *g = h - c * d * d;
                }
                let pairs = d.windows(2).zip(h.windows(2));
                for (part, (d, h)) in sums.iter_mut().skip(1).zip(pairs) {
                    *part = segment([d[0], d[1]], [h[0], h[1]]);
                }
            },
        );
    }

    /// Tangent of the elevation angle from the mast to a sample, equation (77).
    #[inline]
    fn slope_t(&self, hts: f64, (d, h): (f64, f64)) -> f64 {
        (h - hts) / (1e3 * d) - d / (2.0 * self.ae)
    }

    /// Tangent of the elevation angle from the receiver, equation (82a).
    fn slope_r(&self, along: &Along<'_>, h: &[f64], end: &End<'_>, i: usize) -> f64 {
        let d = end.dt - end.d(along.d, i);
        (end.ground(h, i) - end.hrs) / (1e3 * d) - d / (2.0 * self.ae)
    }

    /// Brings everything up to sample `last`, the hull to what stands before the [`recent`].
    #[inline]
    pub(super) fn advance(&mut self, along: &Along<'_>, last: usize) {
        let so_far = &mut self.so_far;
        let [steeper, horizons] = &mut self.passed;
        while let Some(next) = self.steeper.get(*steeper)
            && next.sample as usize <= last
        {
            so_far.steepest = next.slope;
            *steeper += 1;
        }
        while let Some(next) = self.horizons.get(*horizons)
            && next.from as usize <= last
        {
            so_far.horizon = *next;
            *horizons += 1;
        }
        let list = (&self.prominent[..], self.pushed);
        let points = (along.d, &self.g[..], along.per_distance);
        self.pushed = self.folded.push_up_to(last, list, points);
    }

    /// Folded heights.
    #[inline]
    pub(super) fn folded(&self) -> &[f64] {
        &self.g
    }

    /// Distance and height of the last sample of a path, and the sums of equations (85)
    /// and (86) up to it.
    #[inline]
    pub(super) fn up_to_last(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
    ) -> ([f64; 2], [f64; 2]) {
        let shared = [along.d[end.last], h[end.last]];
        let so_far = self.sums[end.last];
        match end.own {
            None => (shared, so_far),
            Some(own) => own_segments(end.dt, (shared, so_far), own),
        }
    }

    /// Smooth surface, equations (85) to (88).
    #[inline]
    pub(super) fn surface(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
        ground: f64,
    ) -> Surface {
        let dt = end.dt;
        let ([d, height], [v1, v2]) = self.up_to_last(along, h, end);
        let [part1, part2] = segment([d, dt], [height, ground]);
        let (v1, v2) = (v1 + part1, v2 + part2);
        let per_square = 1.0 / (dt * dt);
        Surface {
            fitted_t: (2.0 * v1 * dt - v2) * per_square, // (87)
            fitted_r: (v2 - v1 * dt) * per_square,       // (88)
            ground_t: h[0],
            ground_r: ground,
        }
    }

    /// Heights of the surface at the two ends for diffraction, equations (89)
    /// to (91). \[m amsl\]
    ///
    /// Whatever stands highest over the chord, or steepest from the receiver, is
    /// a vertex of the folded hull too: folding raises a sample over the chord of any two
    /// others. So the vertices are looked through, and no hull of unfolded heights is kept.
    #[inline]
    pub(super) fn for_diffraction(
        &self,
        along: &Along<'_>,
        end: &End<'_>,
        surface: &Surface,
    ) -> [f64; 2] {
        let Surface {
            fitted_t: mut over_t,
            fitted_r: mut over_r,
            ground_t,
            ground_r,
        } = *surface;
        let steepest = self.so_far.steepest;
        let steepest = end
            .own
            .map_or(steepest, |own| greater(steepest, own.seen.straight));
        let from_tx = steepest - end.line; // (89b)
        if from_tx > 0.0 {
            let c = 500.0 / self.ae;
            let (mut hobs, mut from_rx) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
            let last = recent(end.last).map(|i| (along.d[i], self.g[i]));
            let shared = self.folded.vertices().chain(last);
            let shared = shared.map(|(d, g)| (d, g + c * d * d));
            for (d, h) in shared.chain(end.own_ground()) {
                let above = h - (along.hts + end.line * d); // (89d)
                hobs = greater(hobs, above); // (89a)
                from_rx = greater(from_rx, above / (end.dt - d)); // (89c)
            }
            if hobs > 0.0 {
                over_t -= hobs * from_tx / (from_tx + from_rx); // (90c)
                over_r -= hobs * from_rx / (from_tx + from_rx); // (90d)
            }
        }
        [over_t.min(ground_t), over_r.min(ground_r)] // (91)
    }

    /// Distances of the horizons of a path beyond them. \[km\]
    #[inline]
    pub(super) fn horizon_distances(
        &self,
        along: &Along<'_>,
        end: &End<'_>,
        horizons: &Horizons,
    ) -> [f64; 2] {
        let d = |i: usize| end.d(along.d, i);
        [d(horizons.lt), end.dt - d(horizons.lr)]
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
        end: &End<'_>,
        path: (&Horizons, &Surface),
    ) -> Between {
        let (horizons, surface) = path;
        let (lt, lr) = if horizons.transhorizon {
            (horizons.lt, horizons.lr)
        } else {
            let m = self.least_clearance(along, h, end);
            (m, m)
        };
        let [hst, hsr] = surface.for_ducting();
        let m = (hsr - hst) / end.dt; // (93)
        let range = lt.min(lr)..lt.max(lr) + 1;
        let line = [hst, m];
        Between {
            dlt_km: end.d(along.d, lt),
            dlr_km: end.dt - end.d(along.d, lr),
            hm_m: self.most_over(along.d, h, end, (range, line)),
        }
    }

    /// Greatest height in a range over a line of a height at the mast and a slope.
    ///
    /// A block of the radial is walked only if its top could stand higher over the
    /// line's lower end than what is found already.
    fn most_over(
        &self,
        d: &[f64],
        h: &[f64],
        end: &End<'_>,
        (all, line): (Range<usize>, [f64; 2]),
    ) -> f64 {
        let [at_mast, slope] = line;
        let range = all.start..all.end.min(end.last + 1);
        let own = all.start.max(range.end)..all.end;
        let own = own.map(|i| end.ground(h, i) - (at_mast + slope * end.d(d, i)));
        let mut best = own.fold(f64::NEG_INFINITY, greater);
        let on_line = |i: usize| at_mast + slope * d[i];
        let mut start = range.start;
        while start < range.end {
            let end = ((start / BLOCK + 1) * BLOCK).min(range.end);
            let low = on_line(start).min(on_line(end - 1));
            if self.block_top[start / BLOCK] - low >= best {
                best = (start..end).map(|i| h[i] - on_line(i)).fold(best, greater);
            }
            start = end;
        }
        best
    }

    /// The sample with the least clearance in Fresnel zones, as the scalar
    /// model picks it.
    fn least_clearance(&self, along: &Along<'_>, h: &[f64], end: &End<'_>) -> usize {
        let c = 500.0 / self.ae;
        let (dt, hts, hrs) = (end.dt, along.hts, end.hrs);
        let (mut best, mut block) = (f64::NEG_INFINITY, 0);
        let inside = along.d.iter().copied().zip(h.iter().copied());
        let inside = inside.take(end.last + 1).chain(end.own_ground());
        for (i, (d, h)) in inside.enumerate().skip(1) {
            let dd = d * (dt - d);
            let y = (h - (hts + end.line * d)) + c * dd;
            let key = y * y.abs() / dd;
            if key >= best {
                (best, block) = (key, (i - 1) / LANES);
            }
        }
        pick_last(block, end.last_of_all(), |i| {
            let d = end.d(along.d, i);
            let e = dt - d;
            let y = end.ground(h, i) + 500.0 * d * e / self.ae - (hts * e + hrs * d) / dt;
            y * y.abs() / (d * e)
        })
    }
}

/// Turns terms into their sums from the first on, four at a time, so that the
/// sums need not wait for each other.
fn sum_up(terms: &mut [[f64; 2]]) {
    let mut so_far = [0.0; 2];
    let mut fours = terms.chunks_exact_mut(4);
    for four in &mut fours {
        for axis in 0..2 {
            let [a, b, c, d] = [0, 1, 2, 3].map(|k: usize| four[k][axis]);
            let two = a + b;
            let before = so_far[axis];
            so_far[axis] = before + (two + (c + d));
            let sums = [before + a, before + two, before + (two + c), so_far[axis]];
            for (term, sum) in four.iter_mut().zip(sums) {
                term[axis] = sum;
            }
        }
    }
    for term in fours.into_remainder() {
        for axis in 0..2 {
            so_far[axis] += term[axis];
        }
        *term = so_far;
    }
}

/// The greater of two numbers, in the form that is one instruction.
#[inline]
pub(super) fn greater(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
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
#[inline(always)]
pub(super) fn segment([d0, d1]: [f64; 2], [h0, h1]: [f64; 2]) -> [f64; 2] {
    let step = d1 - d0;
    [
        step * (h1 + h0),
        step * (h1 * (2.0 * d1 + d0) + h0 * (d1 + 2.0 * d0)),
    ]
}

/// The last sample of an own end and the sums up to it, from the radial's last and those
/// up to that: equal steps make of the segments between them two sums.
#[inline(always)]
fn own_segments(
    dt: f64,
    ([d0, h0], so_far): ([f64; 2], [f64; 2]),
    own: Own<'_>,
) -> ([f64; 2], [f64; 2]) {
    let (step, [plain, numbered]) = (own.samples.step_km, own.seen.sums);
    let heights = &own.samples.ground_amsl_m;
    let (first, last) = (heights[0], heights[heights.len() - 1]);
    let (d, end) = (own.samples.d_km(dt, 0), dt - step);
    let [v1, v2] = segment([d0, d], [h0, first]);
    let products = 6.0 * (dt * plain - step * numbered);
    let ends = first * (3.0 * d - step) + last * (3.0 * end + step);
    let sums = [
        so_far[0] + (v1 + step * (2.0 * plain - first - last)),
        so_far[1] + (v2 + step * (products - ends)),
    ];
    ([end, last], sums)
}

/// Whether one slope makes the greater angle. The scalar model compares the
/// angles, which rounding may make equal.
#[inline]
pub(super) fn is_over(slope: f64, other: f64) -> bool {
    if (slope - other).abs() > 1e-12 {
        slope > other
    } else {
        1e3 * slope.atan() > 1e3 * other.atan()
    }
}
