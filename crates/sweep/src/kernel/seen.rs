//! How the own samples of a path stand to its two ends: steepest slopes, the nearest to
//! the ray, sums. Worked out as vector instructions of whatever width the processor has; no
//! result depends on that width, for maxima know no order and sums are made of eight parts.

use pulp::{Simd, WithSimd};

use crate::hull::TIE;
use crate::radial::{OWN_SAMPLES, OwnEnd, Receiver};

/// What is found of the own samples of one path. Slopes are folded but for one. \[m/km\]
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen {
    /// Steepest from the mast to ground and clutter.
    pub(super) from_mast: f64,
    /// Steepest from the receiver to ground and clutter.
    pub(super) from_receiver: f64,
    /// Greatest signed square of height by d·(dt−d), of a path in sight.
    pub(super) key: f64,
    /// Steepest from the mast to bare ground, folded and straight.
    pub(super) bare_from_mast: f64,
    pub(super) straight: f64,
    /// Steepest from the receiver to bare ground, and the first and last sample
    /// as steep within a tie.
    pub(super) bare_from_receiver: f64,
    pub(super) steepest: [usize; 2],
    /// Sum of the heights of bare ground, and of their products with the
    /// number of steps to the receiver. \[m\]
    pub(super) sums: [f64; 2],
}

/// What all paths of a radial share.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    /// Mast antenna above sea level. \[m\]
    pub(super) hts: f64,
    /// Receiving antenna above its ground. \[m\]
    pub(super) receiver_agl_m: f64,
    /// 500 over the effective radius. \[m/km²\]
    pub(super) c: f64,
}

/// Looks at the own ends of some receivers.
pub(super) struct Look<'a> {
    pub(super) view: View,
    pub(super) receivers: &'a [Receiver],
    pub(super) own: &'a [OwnEnd],
    pub(super) seen: &'a mut [Seen],
}

impl WithSimd for Look<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let ends = self.receivers.iter().zip(self.own);
        for (seen, (receiver, own)) in self.seen.iter_mut().zip(ends) {
            *seen = look(simd, self.view, receiver, own);
        }
    }
}

/// Steps from each sample to the receiver, one over it, and the sample's number.
const BACK: [f64; OWN_SAMPLES] = numbers(true);
const NUMBER: [f64; OWN_SAMPLES] = numbers(false);
const PER_BACK: [f64; OWN_SAMPLES] = {
    let mut per_back = BACK;
    let mut i = 0;
    while i < OWN_SAMPLES {
        per_back[i] = 1.0 / BACK[i];
        i += 1;
    }
    per_back
};

const fn numbers(is_back: bool) -> [f64; OWN_SAMPLES] {
    let mut numbers = [0.0; OWN_SAMPLES];
    let mut i = 0;
    while i < OWN_SAMPLES {
        numbers[i] = (if is_back { OWN_SAMPLES - i } else { i }) as f64;
        i += 1;
    }
    numbers
}

/// Parts that sums are made of, whatever the processor.
const PARTS: usize = 8;

#[inline(always)]
fn look<S: Simd>(simd: S, view: View, receiver: &Receiver, own: &OwnEnd) -> Seen {
    let hrs = receiver.ground_amsl_m + view.receiver_agl_m;
    // Slope of the ray in the folded picture.
    let line = (hrs - view.hts) / receiver.d_km - view.c * receiver.d_km;
    let (dt, c, line) = (
        simd.splat_f64s(receiver.d_km),
        simd.splat_f64s(view.c),
        simd.splat_f64s(line),
    );
    let (mast, receiver) = (simd.splat_f64s(view.hts), simd.splat_f64s(hrs));
    let (step, per_step) = (
        simd.splat_f64s(own.step_km),
        simd.splat_f64s(1.0 / own.step_km),
    );
    let nothing = simd.splat_f64s(f64::NEG_INFINITY);
    let [mut from_mast, mut from_receiver, mut key] = [nothing; 3];
    let [mut bare, mut straight, mut bare_back] = [nothing; 3];
    let mut slopes = [nothing; OWN_SAMPLES];
    let mut parts = [[simd.splat_f64s(0.0); PARTS]; 2];
    for (i, kept) in slopes
        .iter_mut()
        .take(OWN_SAMPLES / S::F64_LANES)
        .enumerate()
    {
        let ground = at::<S>(&own.ground_amsl_m, i);
        let top = simd.add_f64s(ground, at::<S>(&own.clutter_m, i));
        let d = simd.sub_f64s(dt, simd.mul_f64s(step, at::<S>(&BACK, i)));
        let per_d = simd.div_f64s(simd.splat_f64s(1.0), d);
        let per_back = simd.mul_f64s(per_step, at::<S>(&PER_BACK, i));
        let bend = simd.mul_f64s(c, d);
        // All slopes from the receiver are folded ones less a constant.
        let whole = simd.add_f64s(bend, simd.mul_f64s(c, dt));
        let to_top = simd.sub_f64s(slope(simd, top, mast, per_d), bend);
        from_mast = simd.max_f64s(from_mast, to_top);
        let to_top_back = simd.add_f64s(slope(simd, top, receiver, per_back), whole);
        from_receiver = simd.max_f64s(from_receiver, to_top_back);
        let under = simd.sub_f64s(line, to_top);
        let share = simd.mul_f64s(d, per_back);
        let nearest = simd.mul_f64s(simd.mul_f64s(under, under), share);
        key = simd.max_f64s(key, simd.neg_f64s(nearest));
        let to_ground = slope(simd, ground, mast, per_d);
        straight = simd.max_f64s(straight, to_ground);
        bare = simd.max_f64s(bare, simd.sub_f64s(to_ground, bend));
        *kept = simd.add_f64s(slope(simd, ground, receiver, per_back), whole);
        bare_back = simd.max_f64s(bare_back, *kept);
        let part = i % (PARTS / S::F64_LANES);
        parts[0][part] = simd.add_f64s(parts[0][part], ground);
        let numbered = simd.mul_f64s(ground, at::<S>(&BACK, i));
        parts[1][part] = simd.add_f64s(parts[1][part], numbered);
    }
    let bare_from_receiver = simd.reduce_max_f64s(bare_back);
    let least = simd.splat_f64s(bare_from_receiver - TIE);
    let (before, after) = (simd.splat_f64s(-1.0), simd.splat_f64s(OWN_SAMPLES as f64));
    let (mut first, mut last) = (after, before);
    for (i, slope) in slopes.iter().take(OWN_SAMPLES / S::F64_LANES).enumerate() {
        let is_steep = simd.greater_than_or_equal_f64s(*slope, least);
        first = simd.min_f64s(
            first,
            simd.select_f64s(is_steep, at::<S>(&NUMBER, i), after),
        );
        last = simd.max_f64s(
            last,
            simd.select_f64s(is_steep, at::<S>(&NUMBER, i), before),
        );
    }
    Seen {
        from_mast: simd.reduce_max_f64s(from_mast),
        from_receiver: simd.reduce_max_f64s(from_receiver),
        key: simd.reduce_max_f64s(key),
        bare_from_mast: simd.reduce_max_f64s(bare),
        straight: simd.reduce_max_f64s(straight),
        bare_from_receiver,
        steepest: [
            simd.reduce_min_f64s(first) as usize,
            simd.reduce_max_f64s(last) as usize,
        ],
        sums: [sum(simd, &parts[0]), sum(simd, &parts[1])],
    }
}

#[inline(always)]
fn at<S: Simd>(values: &[f64; OWN_SAMPLES], i: usize) -> S::f64s {
    S::as_simd_f64s(values).0[i]
}

/// Straight slopes to heights from an end.
#[inline(always)]
fn slope<S: Simd>(simd: S, h: S::f64s, end: S::f64s, per: S::f64s) -> S::f64s {
    simd.mul_f64s(simd.sub_f64s(h, end), per)
}

/// The eight parts, added in pairs.
#[inline(always)]
fn sum<S: Simd>(_simd: S, parts: &[S::f64s; PARTS]) -> f64 {
    let mut v = [0.0; PARTS];
    let to = S::as_mut_simd_f64s(&mut v).0;
    to.copy_from_slice(&parts[..PARTS / S::F64_LANES]);
    ((v[0] + v[4]) + (v[2] + v[6])) + ((v[1] + v[5]) + (v[3] + v[7]))
}
