//! The profile with its clutter, heights folded by one effective Earth radius:
//! the Bullington loss of the path to any receiver on it.

use crate::fast::{decades, exp};
use crate::hull::{Hull, prominent, recent};
use crate::wide::wide;

use super::bare::greater;
use super::end::End;

/// Vertices of the Fresnel search looked at together.
const BLOCK: usize = 16;

/// Widens the test that rules a Fresnel incursion out, against rounding. \[m/km\]
const SAFETY: f64 = 1e-9;

/// What a radial and its sweep share with every fold.
#[derive(Clone, Copy)]
pub(super) struct Along<'a> {
    /// Distances of the samples. \[km\]
    pub(super) d: &'a [f64],
    /// One over the distance of n samples.
    pub(super) per_distance: &'a [f64],
    /// √(2·0.78²·λ/(0.004·d)): slope of the Fresnel margin of a sample. \[m/km\]
    pub(super) margin: &'a [f64],
    /// Mast antenna above sea level. \[m\]
    pub(super) hts: f64,
    /// Wavelength. \[m\]
    pub(super) lambda_m: f64,
}

impl Along<'_> {
    /// Step between samples. \[km\]
    pub(super) fn step(&self) -> f64 {
        self.d.get(1).copied().unwrap_or(1.0)
    }
}

/// What stands nearest to the ray.
#[derive(Debug, Clone, Copy)]
pub(super) enum Obstacle {
    /// Nothing reaches ν = −0.78.
    None,
    /// Something below the ray: the greatest signed square of height by d·(dt−d).
    Below { key: f64 },
    /// The steepest slopes from both ends meet above the ray. \[m/km\]
    Edge { slopes: [f64; 2] },
}

/// One fold, brought up to one sample after the other.
#[derive(Debug, Clone, Default)]
pub(super) struct Fold {
    /// 500 over the effective radius. \[1/km · m/km\]
    c: f64,
    /// Samples that set a new steepest slope, and how many of them have been reached.
    records: Vec<Record>,
    passed: usize,
    /// Samples that set a new greatest slope plus Fresnel margin, and how many of
    /// them have been reached.
    reaches: Vec<Reach>,
    reached: usize,
    /// The greatest so far. \[m/km\]
    reach: f64,
    /// Folded heights; those that may be vertices, and how many of them have been pushed.
    g: Vec<f64>,
    t: Vec<f64>,
    is_prominent: Vec<bool>,
    prominent: Vec<u32>,
    pushed: usize,
    hull: Hull,
}

/// A sample that sets a new greatest slope plus Fresnel margin. \[m/km\]
#[derive(Debug, Clone, Copy)]
struct Reach {
    reach: f64,
    sample: u32,
}

/// A sample that sets a new steepest slope.
#[derive(Debug, Clone, Copy)]
struct Record {
    d: f64,
    /// Its folded slope. \[m/km\]
    t: f64,
    sample: u32,
}

impl Fold {
    pub(super) fn new(radius_km: f64) -> Self {
        Self {
            c: 500.0 / radius_km,
            ..Self::default()
        }
    }

    /// Starts a radial of which `top` is the height of ground and clutter.
    pub(super) fn begin(&mut self, along: &Along<'_>, top: &[f64]) {
        let samples = top.len();
        self.hull.clear(samples);
        self.pushed = 0;
        self.fold(along, top);
        let (step, parts) = (along.step(), (&mut self.is_prominent, &mut self.prominent));
        prominent(&self.g, step, parts.0, parts.1);
        (self.passed, self.reached) = (0, 0);
        self.reach = f64::NEG_INFINITY;
        self.records.clear();
        self.reaches.clear();
        let (records, reaches) = (&mut self.records, &mut self.reaches);
        let (t, margin) = (&self.t[..], &along.margin[..samples]);
        wide(
            #[inline(always)]
            || {
                let (mut steepest, mut reach) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
                let blocks = t.chunks(BLOCK).zip(margin.chunks(BLOCK));
                for (number, (t, margin)) in blocks.enumerate() {
                    let mut is_new = 0_u64;
                    for (t, margin) in t.iter().zip(margin) {
                        is_new |= u64::from((*t > steepest) | (t + margin > reach));
                    }
                    // The mast itself is none, and nothing is known of its slope.
                    if is_new == 0 && number > 0 {
                        continue;
                    }
                    let first = usize::from(number == 0);
                    for (k, (t, margin)) in t.iter().zip(margin).enumerate().skip(first) {
                        let i = number * BLOCK + k;
                        let sample = i as u32;
                        if *t > steepest {
                            steepest = *t;
                            let (d, t) = (along.d[i], *t);
                            records.push(Record { d, t, sample });
                        }
                        if t + margin > reach {
                            reach = t + margin;
                            reaches.push(Reach { reach, sample });
                        }
                    }
                }
            },
        );
    }

    /// Folded heights, and slopes from the mast.
    fn fold(&mut self, along: &Along<'_>, top: &[f64]) {
        let samples = top.len();
        self.g.resize(samples, 0.0);
        self.t.resize(samples, 0.0);
        let parts = (&along.d[..samples], &along.per_distance[..samples]);
        let (g, t) = (&mut self.g[..], &mut self.t[..]);
        let (c, hts) = (self.c, along.hts);
        wide(
            #[inline(always)]
            || {
                let outs = g.iter_mut().zip(t);
                let ins = top.iter().zip(parts.0).zip(parts.1);
                for ((g, t), ((top, d), per_distance)) in outs.zip(ins) {
                    *g = top - c * d * d;
                    *t = (top - hts) * per_distance - c * d;
                }
            },
        );
    }

    /// Brings everything up to sample `last`, the hull to what stands before the [`recent`].
    #[inline]
    pub(super) fn advance(&mut self, along: &Along<'_>, last: usize) {
        let is_behind = |sample: u32| sample as usize <= last;
        while self
            .records
            .get(self.passed)
            .is_some_and(|r| is_behind(r.sample))
        {
            self.passed += 1;
        }
        while let Some(next) = self.reaches.get(self.reached)
            && is_behind(next.sample)
        {
            self.reach = next.reach;
            self.reached += 1;
        }
        let list = (&self.prominent[..], self.pushed);
        let points = (along.d, &self.g[..], along.per_distance);
        self.pushed = self.hull.push_up_to(last, list, points);
    }

    /// Folded heights.
    #[inline]
    pub(super) fn folded(&self) -> &[f64] {
        &self.g
    }

    /// Whether the straight ray clears ground and clutter.
    #[inline]
    pub(super) fn in_sight(&self, end: &End<'_>) -> bool {
        self.steepest(end) + self.c * end.dt < end.line
    }

    /// Steepest folded slope from the mast. \[m/km\]
    #[inline]
    fn steepest(&self, end: &End<'_>) -> f64 {
        let steepest = self.steepest_of_radial();
        match end.own {
            Some(own) => greater(steepest, own.seen.from_mast),
            None => steepest,
        }
    }

    /// That of the radial's samples.
    #[inline]
    fn steepest_of_radial(&self) -> f64 {
        let last = self.passed.checked_sub(1);
        last.map_or(f64::NEG_INFINITY, |last| self.records[last].t)
    }

    /// Greatest slope plus Fresnel margin of the samples before some one. \[m/km\]
    #[inline]
    fn reach_before(&self, before: usize) -> f64 {
        let is_before = |r: &&Reach| (r.sample as usize) < before;
        let reach = self.reaches[..self.reached].iter().rev().find(is_before);
        reach.map_or(f64::NEG_INFINITY, |r| r.reach)
    }

    /// Bullington loss of the profile, equations (13) to (21). \[dB\]
    #[inline]
    pub(super) fn bullington_db(&self, along: &Along<'_>, end: &End<'_>) -> f64 {
        let g = end.hrs - self.c * end.dt * end.dt;
        let slopes = recent(end.last).map(|i| (self.g[i] - g) / (end.dt - along.d[i]));
        let of_recent = slopes.fold(f64::NEG_INFINITY, greater);
        let nu = match self.obstacle(along, end, of_recent) {
            Obstacle::None => return 0.0,
            Obstacle::Below { key } => nu_of_key(key, end.dt, along.lambda_m),
            Obstacle::Edge { slopes } => {
                edge_nu([along.hts, end.hrs], slopes, end.dt, along.lambda_m)
            }
        };
        single_edge_db(nu, end.dt)
    }

    /// What the Bullington loss of a path comes from.
    ///
    /// * `of_recent`: folded slope from the receiver to the [`recent`] samples. \[m/km\]
    #[inline]
    pub(super) fn obstacle(&self, along: &Along<'_>, end: &End<'_>, of_recent: f64) -> Obstacle {
        if self.in_sight(end) {
            let t = end.line - self.c * end.dt;
            let own = end.own.map(|own| own.seen.key);
            if t >= self.reach + SAFETY {
                return own.map_or(Obstacle::None, |key| Obstacle::Below { key });
            }
            let key = greater(self.sight_key(end, t), own.unwrap_or(f64::NEG_INFINITY));
            return Obstacle::Below { key };
        }
        let stim = self.steepest(end) + self.c * end.dt; // (13)
        Obstacle::Edge {
            slopes: [stim, self.steepest_from_receiver(along, end, of_recent)],
        }
    }

    /// Steepest slope from the receiver, equation (17). \[m/km\]
    #[inline]
    fn steepest_from_receiver(&self, along: &Along<'_>, end: &End<'_>, of_recent: f64) -> f64 {
        let (dt, c) = (end.dt, self.c);
        let own = end.own.map(|own| own.seen.from_receiver);
        let from_mast = self.steepest_of_radial();
        if let Some(slope) = own
            && end.hides_radial(along, c, slope, from_mast)
        {
            return slope - c * dt;
        }
        let g = end.hrs - c * dt * dt;
        let touch = self.hull.tangent(dt, g);
        let slope = touch.map_or(of_recent, |touch| greater(touch.slope, of_recent));
        own.map_or(slope, |own| greater(slope, own)) - c * dt
    }

    /// Greatest signed square of the height over the ray by d·(dt−d), of the
    /// radial's samples of a path in sight: a negative number.
    ///
    /// * `ruled_out`: samples whose slope plus margin stays below this are not
    ///   sought; minus infinity seeks all.
    #[inline]
    fn sight_key(&self, end: &End<'_>, ruled_out: f64) -> f64 {
        let (dt, t) = (end.dt, end.line - self.c * end.dt);
        let count = self.passed;
        let records = &self.records[..count];
        let mut best = f64::NEG_INFINITY;
        let mut high = count;
        // The records below `high` are before this.
        let mut before = end.last + 1;
        while high > 0 && ruled_out < self.reach_before(before) + SAFETY {
            let low = (high - 1) / BLOCK * BLOCK;
            // Slopes rise and distances too: no record of the block comes
            // closer than its last slope at its first distance.
            let under = t - records[high - 1].t;
            let first = records[low].d;
            if -under * under * first / (dt - first) > best {
                for record in &records[low..high] {
                    let under = t - record.t;
                    best = best.max(-under * under * record.d / (dt - record.d));
                }
            }
            high = low;
            before = records[low].sample as usize;
        }
        best
    }

    /// Greatest signed square of the height over the ray by d·(dt−d).
    pub(super) fn greatest_key(&self, along: &Along<'_>, end: &End<'_>) -> f64 {
        if self.in_sight(end) {
            let own = end.own.map_or(f64::NEG_INFINITY, |own| own.seen.key);
            return greater(self.sight_key(end, f64::NEG_INFINITY), own);
        }
        // Where something stands above the ray, the greatest is a vertex.
        let (dt, base) = (end.dt, end.hrs - end.line * end.dt);
        let slope = end.line - self.c * dt;
        let key = |(d, g): (f64, f64)| {
            let y = g - (base + slope * d);
            y * y.abs() / (d * (dt - d))
        };
        let last = recent(end.last).map(|i| (along.d[i], self.g[i]));
        let fold = |(d, top): (f64, f64)| (d, top - self.c * d * d);
        let own = end.own_tops().map(fold);
        let all = self.hull.vertices().chain(last).chain(own);
        all.map(key).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// ν of a signed square `y·|y|/(d·(dt−d))`.
#[inline]
pub(super) fn nu_of_key(key: f64, dt_km: f64, lambda_m: f64) -> f64 {
    (key.abs() * 0.002 * dt_km / lambda_m).sqrt().copysign(key)
}

/// Equations (18) and (19): heights of the ends, steepest slopes from them.
#[inline]
pub(super) fn edge_nu([h1, h2]: [f64; 2], [stim, srim]: [f64; 2], dt: f64, lambda_m: f64) -> f64 {
    let db = (h2 - h1 + srim * dt) / (stim + srim); // (18)
    let above = h1 + stim * db - (h1 * (dt - db) + h2 * db) / dt;
    let nu = above * (0.002 * dt / (lambda_m * db * (dt - db))).sqrt(); // (19)
    if nu.is_finite() { nu } else { 0.0 }
}

/// Loss of a single edge, equation (12), with the empirical part of equation (21). \[dB\]
#[inline]
pub(super) fn single_edge_db(nu: f64, dt_km: f64) -> f64 {
    if nu <= -0.78 {
        return 0.0;
    }
    let v = nu - 0.1;
    let luc_db = 6.9 + 20.0 * decades((v * v + 1.0).sqrt() + v);
    if luc_db > 0.0 {
        luc_db + (1.0 - exp(-luc_db / 6.0)) * (10.0 + 0.02 * dt_km)
    } else {
        0.0
    }
}
