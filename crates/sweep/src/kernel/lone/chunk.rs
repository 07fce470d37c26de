//! What is done with a chunk of samples at once, as vector instructions of
//! whatever width the processor has. No result depends on that width: maxima know
//! no order, sums are made of halves, and products are rounded before they are added.

use pulp::{Simd, WithSimd};

use super::{CHUNK, Inside};

/// 0, 1, 2 …
const NUMBERS: [f64; CHUNK] = {
    let mut numbers = [0.0; CHUNK];
    let mut k = 0;
    while k < CHUNK {
        numbers[k] = k as f64;
        k += 1;
    }
    numbers
};

/// Greatest of an expression over a chunk, element by element of the arrays
/// that it names. A macro, because what a closure does would be compiled for
/// the least processor.
macro_rules! greatest {
    ($simd:ident, $($name:ident in $array:expr),+ => $value:expr) => {{
        let mut best = $simd.splat_f64s(f64::NEG_INFINITY);
        for i in 0..CHUNK / S::F64_LANES {
            $(let $name = S::as_simd_f64s($array).0[i];)+
            best = $simd.max_f64s(best, $value);
        }
        $simd.reduce_max_f64s(best)
    }};
}

#[inline(always)]
pub(super) fn greater(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// Lanes that sums are kept in, whatever the processor: the result knows it not.
const LANES: usize = 8;

/// Sum of the values of a chunk, and of their products with [`NUMBERS`].
#[inline(always)]
fn sums<S: Simd>(simd: S, values: &[f64; CHUNK]) -> (f64, f64) {
    let mut plain = [simd.splat_f64s(0.0); LANES];
    let mut numbered = plain;
    for i in 0..CHUNK / S::F64_LANES {
        let lane = i % (LANES / S::F64_LANES);
        let value = S::as_simd_f64s(values).0[i];
        let number = S::as_simd_f64s(&NUMBERS).0[i];
        plain[lane] = simd.add_f64s(plain[lane], value);
        numbered[lane] = simd.add_f64s(numbered[lane], simd.mul_f64s(value, number));
    }
    let (mut lanes, mut numbered_lanes) = ([0.0; LANES], [0.0; LANES]);
    let used = LANES / S::F64_LANES;
    S::as_mut_simd_f64s(&mut lanes)
        .0
        .copy_from_slice(&plain[..used]);
    let to = S::as_mut_simd_f64s(&mut numbered_lanes).0;
    to.copy_from_slice(&numbered[..used]);
    (sum(lanes), sum(numbered_lanes))
}

#[inline(always)]
fn sum(v: [f64; LANES]) -> f64 {
    ((v[0] + v[4]) + (v[2] + v[6])) + ((v[1] + v[5]) + (v[3] + v[7]))
}

/// What the first walk finds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Summary {
    /// Sum of the heights of ground, and of their products with the sample's number.
    pub(super) sums: [f64; 2],
    pub(super) is_inland: bool,
}

pub(super) struct Summarise<'a> {
    pub(super) tops: &'a mut [[f64; CHUNK]],
    pub(super) chunks: &'a mut Vec<Chunk>,
    pub(super) inside: &'a Inside,
}

impl WithSimd for Summarise<'_> {
    type Output = Summary;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Summary {
        let Self {
            tops,
            chunks: found,
            inside,
        } = self;
        let (mut plain, mut weighted) = (0.0, 0.0);
        let mut signs = [0_u32; CHUNK];
        let chunks = inside.chunks();
        let past = inside.samples() - (chunks - 1) * CHUNK;
        let heights = &inside.ground_amsl_m[..chunks];
        let clutter = &inside.clutter_m[..chunks];
        let tops = &mut tops[..chunks];
        for (chunk, ((h, r), top)) in heights.iter().zip(clutter).zip(tops).enumerate() {
            let mut padded = [0.0; CHUNK];
            let known = if chunk + 1 == chunks {
                padded[..past].copy_from_slice(&h[..past]);
                &padded
            } else {
                h
            };
            let (sums, numbered) = sums(simd, known);
            plain += sums;
            weighted += numbered + sums * (chunk * CHUNK + 1) as f64;
            for k in 0..CHUNK {
                top[k] = h[k] + f64::from(r[k].abs());
                signs[k] |= r[k].to_bits();
            }
            found.push(Chunk {
                ground: greatest!(simd, h in h => h),
                top: greatest!(simd, top in top => top),
                most_slope: f64::INFINITY,
            });
        }
        Summary {
            sums: [plain, weighted],
            is_inland: signs.iter().fold(0, |a, b| a | b) >> 31 == 0,
        }
    }
}

/// How high a chunk stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chunk {
    pub(super) ground: f64,
    pub(super) top: f64,
    /// No slope from the mast to ground or clutter is above this.
    pub(super) most_slope: f64,
}

/// Folded slopes from one end to a chunk.
#[derive(Clone, Copy)]
pub(super) struct Slopes<'a> {
    pub(super) heights: &'a [f64; CHUNK],
    pub(super) per: &'a [f64; CHUNK],
    pub(super) end_m: f64,
    /// Fall of the folded picture at the first sample, and from one to the next.
    pub(super) first_m: f64,
    pub(super) bend_m: f64,
}

/// [`Slopes`] in every lane.
#[derive(Clone, Copy)]
struct Lanes<S: Simd> {
    end: S::f64s,
    pub(super) first: S::f64s,
    bend: S::f64s,
}

impl Slopes<'_> {
    #[inline(always)]
    fn lanes<S: Simd>(&self, simd: S) -> Lanes<S> {
        Lanes {
            end: simd.splat_f64s(self.end_m),
            first: simd.splat_f64s(self.first_m),
            bend: simd.splat_f64s(self.bend_m),
        }
    }
}

impl<S: Simd> Lanes<S> {
    /// Slopes of heights, of reciprocal distances and numbers in the chunk.
    #[inline(always)]
    fn slope(&self, simd: S, h: S::f64s, per: S::f64s, k: S::f64s) -> S::f64s {
        let straight = simd.mul_f64s(simd.sub_f64s(h, self.end), per);
        simd.sub_f64s(
            straight,
            simd.add_f64s(self.first, simd.mul_f64s(self.bend, k)),
        )
    }
}

pub(super) struct Steepest<'a>(pub(super) Slopes<'a>);

impl WithSimd for Steepest<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let lanes = self.0.lanes(simd);
        greatest!(simd, h in self.0.heights, per in self.0.per, k in &NUMBERS =>
            lanes.slope(simd, h, per, k))
    }
}

/// First and last place in a chunk where the slope is at least something.
pub(super) struct AtLeast<'a>(pub(super) Slopes<'a>, pub(super) f64);

impl WithSimd for AtLeast<'_> {
    type Output = [usize; 2];

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> [usize; 2] {
        let Self(slopes, least) = self;
        let (lanes, least) = (slopes.lanes(simd), simd.splat_f64s(least));
        let (after, before) = (simd.splat_f64s(CHUNK as f64), simd.splat_f64s(-1.0));
        let (mut first, mut last) = (after, before);
        for i in 0..CHUNK / S::F64_LANES {
            let h = S::as_simd_f64s(slopes.heights).0[i];
            let per = S::as_simd_f64s(slopes.per).0[i];
            let k = S::as_simd_f64s(&NUMBERS).0[i];
            let is_steep = simd.greater_than_or_equal_f64s(lanes.slope(simd, h, per, k), least);
            first = simd.min_f64s(first, simd.select_f64s(is_steep, k, after));
            last = simd.max_f64s(last, simd.select_f64s(is_steep, k, before));
        }
        let (first, last) = (simd.reduce_min_f64s(first), simd.reduce_max_f64s(last));
        [first as usize, last as usize]
    }
}

/// Least clearance of ground and clutter below a ray in sight, as a key of ν.
pub(super) struct Nearest<'a>(
    pub(super) Slopes<'a>,
    pub(super) &'a [f64; CHUNK],
    pub(super) [f64; 2],
);

impl WithSimd for Nearest<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let Self(slopes, per_back, [line, first]) = self;
        let lanes = slopes.lanes(simd);
        let (line, first) = (simd.splat_f64s(line), simd.splat_f64s(first));
        greatest!(simd, h in slopes.heights, per in slopes.per, back in per_back, k in &NUMBERS => {
            let over = simd.sub_f64s(lanes.slope(simd, h, per, k), line);
            let share = simd.mul_f64s(simd.add_f64s(first, k), back);
            simd.neg_f64s(simd.mul_f64s(simd.mul_f64s(over, over), share))
        })
    }
}

/// Greatest key of ν, above the ray or below it.
pub(super) struct Key<'a> {
    pub(super) heights: &'a [f64; CHUNK],
    pub(super) per: [&'a [f64; CHUNK]; 2],
    pub(super) from_m: f64,
    pub(super) line: f64,
    pub(super) bend_m: f64,
    pub(super) first: f64,
    pub(super) steps: f64,
}

impl WithSimd for Key<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let from = simd.splat_f64s(self.from_m);
        let line = simd.splat_f64s(self.line);
        let bend = simd.splat_f64s(self.bend_m);
        let first = simd.splat_f64s(self.first);
        let steps = simd.splat_f64s(self.steps);
        greatest!(simd, h in self.heights, per in self.per[0], back in self.per[1], k in &NUMBERS => {
            let i = simd.add_f64s(first, k);
            let ray = simd.add_f64s(from, simd.mul_f64s(line, i));
            let bulge = simd.mul_f64s(bend, simd.mul_f64s(i, simd.sub_f64s(steps, i)));
            let y = simd.add_f64s(simd.sub_f64s(h, ray), bulge);
            let square = simd.mul_f64s(y, simd.abs_f64s(y));
            simd.mul_f64s(square, simd.mul_f64s(per, back))
        })
    }
}

/// How a chunk stands to the straight line between the antennas, equations (89).
pub(super) struct Obstruct<'a> {
    pub(super) heights: &'a [f64; CHUNK],
    pub(super) per: [&'a [f64; CHUNK]; 2],
    pub(super) ends_m: [f64; 2],
    pub(super) line: f64,
    pub(super) first: f64,
}

impl WithSimd for Obstruct<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> [f64; 3] {
        let from = simd.splat_f64s(self.ends_m[0]);
        let to = simd.splat_f64s(self.ends_m[1]);
        let line = simd.splat_f64s(self.line);
        let first = simd.splat_f64s(self.first);
        let over = greatest!(simd, h in self.heights, k in &NUMBERS => {
            let ray = simd.add_f64s(from, simd.mul_f64s(line, simd.add_f64s(first, k)));
            simd.sub_f64s(h, ray)
        });
        let from_mast = greatest!(simd, h in self.heights, per in self.per[0] =>
            simd.mul_f64s(simd.sub_f64s(h, from), per));
        let from_receiver = greatest!(simd, h in self.heights, per in self.per[1] =>
            simd.mul_f64s(simd.sub_f64s(h, to), per));
        [over, from_mast, from_receiver]
    }
}
