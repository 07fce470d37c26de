//! Walks over the samples of one path.
//!
//! Slopes are in metres per step, distances in steps, so that one table of
//! reciprocals serves every path. A chunk is walked only if its top could hold
//! what is sought.

use pulp::Arch;

use super::chunk::{
    AtLeast, Chunk, Key, Nearest, Obstruct, Slopes, Steepest, Summarise, Summary, greater,
};
use super::{CHUNK, Inside};

/// Points the scalar model looks at together; ties are decided in these.
const BLOCK: usize = 4;

/// Slopes nearer than this to the steepest are compared as the scalar model
/// computes them. \[m per step\]
const TIE_M: f64 = 1e-9;

/// Tables for paths of any number of steps, and what is noted of one.
#[derive(Debug, Clone)]
pub(super) struct Walks {
    /// Steps that the tables reach.
    most: usize,
    /// One over 1, 2, 3 …
    per: Vec<[f64; CHUNK]>,
    /// One over `most`, `most` − 1 … 1, then ones.
    per_back: Vec<f64>,
    tops: Vec<[f64; CHUNK]>,
    chunks: Vec<Chunk>,
}

impl Walks {
    pub(super) fn new(steps: usize) -> Self {
        let chunks = steps.div_ceil(CHUNK);
        let per = |c: usize| std::array::from_fn(|l| 1.0 / (c * CHUNK + l + 1) as f64);
        let back = (0..steps + CHUNK).map(|j| match steps.saturating_sub(j) {
            0 => 1.0,
            left => 1.0 / left as f64,
        });
        Self {
            most: steps,
            per: (0..chunks).map(per).collect(),
            per_back: back.collect(),
            tops: vec![[0.0; CHUNK]; chunks],
            chunks: Vec::with_capacity(chunks),
        }
    }

    /// Walks a path for the first time. It has no more steps than the tables.
    pub(super) fn begin<'a>(
        &'a mut self,
        arch: Arch,
        inside: &'a mut Inside,
        ends_m: [f64; 2],
        bulge_m: f64,
    ) -> Walk<'a> {
        self.chunks.clear();
        let chunks = inside.chunks();
        let past = inside.samples() - (chunks - 1) * CHUNK;
        // Behind the last sample nothing stands.
        inside.ground_amsl_m[chunks - 1][past..].fill(f64::NEG_INFINITY);
        inside.clutter_m[chunks - 1][past..].fill(0.0);
        let summary = arch.dispatch(Summarise {
            tops: &mut self.tops,
            chunks: &mut self.chunks,
            inside,
        });
        Walk {
            arch,
            walks: self,
            inside,
            summary,
            ends_m,
            bulge_m,
        }
    }
}

/// Which surface is looked at.
#[derive(Clone, Copy, PartialEq)]
enum Over {
    Ground,
    Clutter,
}

/// Which end looks.
#[derive(Clone, Copy, PartialEq)]
enum From {
    Mast,
    Receiver,
}

/// A path walked once.
pub(super) struct Walk<'a> {
    arch: Arch,
    walks: &'a mut Walks,
    inside: &'a Inside,
    pub(super) summary: Summary,
    /// Antennas above sea level. \[m\]
    ends_m: [f64; 2],
    /// 500 over the effective radius. \[m/km²\]
    bulge_m: f64,
}

/// The sample of a horizon and the tangent of its elevation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Horizon {
    pub(super) sample: usize,
    pub(super) slope: f64,
}

/// How bare ground stands to the straight line between the antennas, equations (89).
#[derive(Debug, Clone, Copy)]
pub(super) struct Obstruction {
    /// Greatest height above it. \[m\]
    pub(super) most_m: f64,
    /// Steepest straight slopes from mast and receiver. \[m/km\]
    pub(super) slopes: [f64; 2],
}

impl Walk<'_> {
    pub(super) fn step_km(&self) -> f64 {
        self.inside.step_km
    }

    pub(super) fn steps(&self) -> f64 {
        self.inside.steps as f64
    }

    /// Fall of the folded picture over the first step. \[m\]
    fn bend_m(&self) -> f64 {
        self.bulge_m * self.step_km() * self.step_km()
    }

    /// First and last sample of a chunk.
    fn range(&self, chunk: usize) -> [usize; 2] {
        let first = chunk * CHUNK + 1;
        [first, (first + CHUNK - 1).min(self.inside.samples())]
    }

    fn heights(&self, over: Over, chunk: usize) -> &[f64; CHUNK] {
        match over {
            Over::Ground => &self.inside.ground_amsl_m[chunk],
            Over::Clutter => &self.walks.tops[chunk],
        }
    }

    fn top(&self, over: Over, chunk: usize) -> f64 {
        match over {
            Over::Ground => self.walks.chunks[chunk].ground,
            Over::Clutter => self.walks.chunks[chunk].top,
        }
    }

    /// Reciprocal distances from the receiver.
    fn per_back(&self, chunk: usize) -> &[f64; CHUNK] {
        let start = self.walks.most - self.inside.steps + chunk * CHUNK + 1;
        self.walks.per_back[start..]
            .first_chunk()
            .expect("the table is a chunk longer than the longest path")
    }

    /// No folded slope from an end to a chunk is above this.
    fn most_slope(&self, from: From, over: Over, chunk: usize) -> f64 {
        let [first, last] = self.range(chunk);
        let (end_m, near, far) = match from {
            From::Mast => (self.ends_m[0], first, last),
            From::Receiver => {
                let steps = self.inside.steps;
                (self.ends_m[1], steps - last, steps - first)
            }
        };
        let over_m = self.top(over, chunk) - end_m;
        let steps = if over_m > 0.0 { near } else { far };
        over_m / steps as f64 - self.bend_m() * near as f64 + TIE_M
    }

    fn slopes(&self, from: From, over: Over, chunk: usize) -> Slopes<'_> {
        let first = (chunk * CHUNK + 1) as f64;
        let (end_m, per, first, turn) = match from {
            From::Mast => (self.ends_m[0], &self.walks.per[chunk], first, 1.0),
            From::Receiver => {
                let steps = self.inside.steps as f64;
                (self.ends_m[1], self.per_back(chunk), steps - first, -1.0)
            }
        };
        let bend_m = self.bend_m();
        Slopes {
            heights: self.heights(over, chunk),
            per,
            end_m,
            first_m: bend_m * first,
            bend_m: bend_m * turn,
        }
    }

    /// Steepest folded slope from an end to a chunk.
    fn slope(&self, from: From, over: Over, chunk: usize) -> f64 {
        self.arch.dispatch(Steepest(self.slopes(from, over, chunk)))
    }

    /// The only sample of bare ground that can be as steep as the steepest, if
    /// there is just one.
    fn only(&self, from: From, found: &Found) -> Option<usize> {
        let chunk = found.only()?;
        let least = found.best - TIE_M;
        let slopes = self.slopes(from, Over::Ground, chunk);
        let [first, last] = self.arch.dispatch(AtLeast(slopes, least));
        (first == last).then_some(chunk * CHUNK + 1 + first)
    }

    /// Steepest folded slope from the mast to ground and clutter. \[m/km\]
    pub(super) fn steepest_from_mast(&mut self) -> f64 {
        let mut best = f64::NEG_INFINITY;
        for chunk in 0..self.inside.chunks() {
            let mut most = self.most_slope(From::Mast, Over::Clutter, chunk);
            if most > best {
                most = self.slope(From::Mast, Over::Clutter, chunk);
                best = greater(best, most);
            }
            self.walks.chunks[chunk].most_slope = most;
        }
        best / self.step_km()
    }

    /// Steepest folded slope from the receiver to ground and clutter. \[m/km\]
    pub(super) fn steepest_from_receiver(&self) -> f64 {
        let mut best = f64::NEG_INFINITY;
        for chunk in (0..self.inside.chunks()).rev() {
            if self.most_slope(From::Receiver, Over::Clutter, chunk) > best {
                best = greater(best, self.slope(From::Receiver, Over::Clutter, chunk));
            }
        }
        best / self.step_km()
    }

    /// Greatest signed square of the height of ground and clutter over the ray
    /// by d·(dt−d), of a path in sight, if it is above `least`.
    ///
    /// * `line`: folded slope of the ray. \[m/km\]
    pub(super) fn greatest_key_in_sight(&self, line: f64, least: f64) -> Option<f64> {
        let step_km = self.step_km();
        let (line, mut best) = (line * step_km, least * step_km * step_km);
        let start = best;
        for chunk in 0..self.inside.chunks() {
            let [first, _] = self.range(chunk);
            let under = line - self.walks.chunks[chunk].most_slope;
            let share = first as f64 / (self.inside.steps - first) as f64;
            if under > 0.0 && -under * under * share < best {
                continue;
            }
            let slopes = self.slopes(From::Mast, Over::Clutter, chunk);
            let seen = [line, first as f64];
            let key = self
                .arch
                .dispatch(Nearest(slopes, self.per_back(chunk), seen));
            best = greater(best, key);
        }
        (best > start).then(|| best / (step_km * step_km))
    }

    /// Greatest signed square of the height over the ray by d·(dt−d).
    pub(super) fn greatest_key(&self) -> f64 {
        let keys = (0..self.inside.chunks()).map(|chunk| self.key(Over::Clutter, chunk));
        let best = keys.fold(f64::NEG_INFINITY, greater);
        best / (self.step_km() * self.step_km())
    }

    fn key(&self, over: Over, chunk: usize) -> f64 {
        let [from_m, to_m] = self.ends_m;
        let steps = self.inside.steps as f64;
        self.arch.dispatch(Key {
            heights: self.heights(over, chunk),
            per: [&self.walks.per[chunk], self.per_back(chunk)],
            from_m,
            line: (to_m - from_m) / steps,
            bend_m: self.bend_m(),
            first: (chunk * CHUNK + 1) as f64,
            steps,
        })
    }

    pub(super) fn d_km(&self, sample: usize) -> f64 {
        sample as f64 * self.step_km()
    }

    fn ground(&self, sample: usize) -> f64 {
        let k = sample - 1;
        self.inside.ground_amsl_m[k / CHUNK][k % CHUNK]
    }

    /// The mast's horizon over bare ground as the scalar model picks it, if
    /// it could be as steep as `least`, a tangent.
    pub(super) fn mast_horizon(&self, least: f64) -> Option<Horizon> {
        let least = 1e3 * self.step_km() * least - TIE_M;
        let mut found = Found::default();
        for chunk in 0..self.inside.chunks() {
            let least = greater(found.best, least);
            // Bare ground stands no higher than its clutter.
            if self.walks.chunks[chunk].most_slope + TIE_M >= least
                && self.most_slope(From::Mast, Over::Ground, chunk) >= least
            {
                found.add(chunk, self.slope(From::Mast, Over::Ground, chunk));
            }
        }
        if found.best < least {
            return None;
        }
        let (half_bend, hts) = (self.bulge_m, self.ends_m[0]);
        let t = |i: usize| {
            let d = self.d_km(i);
            (self.ground(i) - hts) / d - half_bend * d
        };
        let exact = |i: usize| {
            let (d, ae) = (self.d_km(i), 500.0 / self.bulge_m);
            (self.ground(i) - hts) / (1e3 * d) - d / (2.0 * ae)
        };
        let horizon = match self.only(From::Mast, &found) {
            Some(sample) => Horizon {
                sample,
                slope: exact(sample),
            },
            None => self.pick(&found, false, (&t, &exact)),
        };
        Some(horizon)
    }

    /// The receiver's horizon over bare ground as the scalar model picks it.
    pub(super) fn receiver_horizon(&self) -> Horizon {
        let mut found = Found::default();
        for chunk in (0..self.inside.chunks()).rev() {
            if self.most_slope(From::Receiver, Over::Ground, chunk) >= found.best {
                found.add(chunk, self.slope(From::Receiver, Over::Ground, chunk));
            }
        }
        let (half_bend, hrs, dt) = (self.bulge_m, self.ends_m[1], self.d_km(self.inside.steps));
        let r = |i: usize| {
            let e = dt - self.d_km(i);
            (self.ground(i) - hrs) / e - half_bend * e
        };
        let exact = |i: usize| {
            let (e, ae) = (dt - self.d_km(i), 500.0 / self.bulge_m);
            (self.ground(i) - hrs) / (1e3 * e) - e / (2.0 * ae)
        };
        match self.only(From::Receiver, &found) {
            Some(sample) => Horizon {
                sample,
                slope: exact(sample),
            },
            None => self.pick(&found, true, (&r, &exact)),
        }
    }

    /// The sample of least clearance over bare ground as the scalar model picks it.
    pub(super) fn least_clearance(&self) -> usize {
        let mut found = Found::default();
        for chunk in 0..self.inside.chunks() {
            found.add(chunk, self.key(Over::Ground, chunk));
        }
        let ([hts, hrs], dt, c) = (self.ends_m, self.d_km(self.inside.steps), self.bulge_m);
        let line = (hrs - hts) / dt;
        let key = |i: usize| {
            let d = self.d_km(i);
            let dd = d * (dt - d);
            let y = (self.ground(i) - (hts + line * d)) + c * dd;
            y * y.abs() / dd
        };
        let exact = |i: usize| {
            let (d, e) = (self.d_km(i), dt - self.d_km(i));
            let y = self.ground(i) + 500.0 * d * e / (500.0 / c) - (hts * e + hrs * d) / dt;
            y * y.abs() / (d * e)
        };
        self.pick(&found, true, (&key, &exact)).sample
    }

    /// The sample that the scalar model picks among those that nearly tie: the
    /// first, or the last, block that holds the greatest of `value`; in it
    /// the first, or the last, greatest of `exact`.
    fn pick(&self, found: &Found, takes_last: bool, (value, exact): Rules<'_>) -> Horizon {
        let (mut best, mut block) = (f64::NEG_INFINITY, [1, 1]);
        for chunk in found.candidates(self.inside.chunks()) {
            let [first, last] = self.range(chunk);
            for start in (first..=last).step_by(BLOCK) {
                let end = (start + BLOCK - 1).min(last);
                let greatest = (start..=end).map(value).fold(f64::NEG_INFINITY, greater);
                if greatest > best || (takes_last && greatest >= best) {
                    (best, block) = (greatest, [start, end]);
                }
            }
        }
        let mut horizon = Horizon {
            sample: block[0],
            slope: exact(block[0]),
        };
        for sample in block[0] + 1..=block[1] {
            let slope = exact(sample);
            if slope > horizon.slope || (takes_last && slope >= horizon.slope) {
                horizon = Horizon { sample, slope };
            }
        }
        horizon
    }

    /// How bare ground stands to the straight line between the antennas.
    pub(super) fn obstruction(&self) -> Obstruction {
        let [from_m, to_m] = self.ends_m;
        let mut found = [f64::NEG_INFINITY; 3];
        for chunk in 0..self.inside.chunks() {
            let three = self.arch.dispatch(Obstruct {
                heights: &self.inside.ground_amsl_m[chunk],
                per: [&self.walks.per[chunk], self.per_back(chunk)],
                ends_m: self.ends_m,
                line: (to_m - from_m) / self.inside.steps as f64,
                first: (chunk * CHUNK + 1) as f64,
            });
            found = std::array::from_fn(|n| greater(found[n], three[n]));
        }
        let [most_m, from_mast, from_receiver] = found;
        Obstruction {
            most_m,
            slopes: [from_mast / self.step_km(), from_receiver / self.step_km()],
        }
    }

    /// Greatest height of bare ground between two samples over a line of a
    /// height at the mast and a slope. \[m\]
    pub(super) fn most_over(&self, [from, to]: [usize; 2], [at_mast, slope]: [f64; 2]) -> f64 {
        let on_line = |i: usize| at_mast + slope * self.d_km(i);
        let mut best = f64::NEG_INFINITY;
        for chunk in (from - 1) / CHUNK..=(to - 1) / CHUNK {
            let [first, last] = self.range(chunk);
            let (first, last) = (first.max(from), last.min(to));
            let low = on_line(first).min(on_line(last));
            if self.walks.chunks[chunk].ground - low >= best {
                let over = (first..=last).map(|i| self.ground(i) - on_line(i));
                best = over.fold(best, greater);
            }
        }
        best
    }
}

/// What a block is judged by, and what a sample of it.
type Rules<'a> = (&'a dyn Fn(usize) -> f64, &'a dyn Fn(usize) -> f64);

/// The chunks that may hold the greatest of something.
struct Found {
    best: f64,
    /// Chunks whose greatest was within a tie of the best so far.
    near: u64,
    is_far: bool,
}

impl Default for Found {
    fn default() -> Self {
        Self {
            best: f64::NEG_INFINITY,
            near: 0,
            is_far: false,
        }
    }
}

impl Found {
    fn add(&mut self, chunk: usize, value: f64) {
        let tie = TIE_M + 1e-12 * value.abs();
        if value < self.best - tie {
            return;
        }
        if value > self.best + tie {
            self.near = 0;
        }
        self.best = greater(self.best, value);
        if chunk < 64 {
            self.near |= 1 << chunk;
        } else {
            self.is_far = true;
        }
    }

    /// The chunk, if it is just one.
    fn only(&self) -> Option<usize> {
        let is_one = self.near.is_power_of_two() && !self.is_far;
        is_one.then(|| self.near.trailing_zeros() as usize)
    }

    /// In rising order; on very long paths all that are far.
    fn candidates(&self, chunks: usize) -> impl Iterator<Item = usize> {
        let (near, is_far) = (self.near, self.is_far);
        (0..chunks).filter(move |c| if *c < 64 { near >> c & 1 == 1 } else { is_far })
    }
}
