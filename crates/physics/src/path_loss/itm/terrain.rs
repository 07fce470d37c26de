//! What the model takes from a profile: mean height, horizons, fitted lines
//! and the irregularity.
//!
//! Positions are truncated to profile indices exactly as in the reference
//! program, because those truncations show in the result; sums run in four
//! lanes, which moves them by rounding only.

use super::settings::Terrain;
use crate::lanes::{LANES, Lane, NONE, each};

/// Greatest number of heights the irregularity is read from (10·25 − 5).
const MOST_SAMPLES: usize = 245;

/// A whole number of steps, towards zero; negative and not-a-number give 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the model truncates distances to profile indices; the cast saturates"
)]
fn whole(x: f64) -> usize {
    x as usize
}

/// Horizon seen from each end: elevation and distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Horizon {
    /// At transmitter and receiver. \[rad\]
    pub(super) theta_rad: [f64; 2],
    /// From transmitter and receiver. \[m\]
    pub(super) d_m: [f64; 2],
}

/// The greatest of one quantity over the profile and where it stood first.
#[derive(Clone, Copy)]
struct Summit {
    value: Lane,
    x: Lane,
}

impl Summit {
    const NOTHING: Self = Self {
        value: NONE,
        x: [0.0; LANES],
    };

    #[inline(always)]
    fn raise(&mut self, value: Lane, x: Lane) {
        for l in 0..LANES {
            let higher = value[l] > self.value[l];
            self.value[l] = if higher { value[l] } else { self.value[l] };
            self.x[l] = if higher { x[l] } else { self.x[l] };
        }
    }

    /// The greatest of the lanes, of equals the one nearer to the transmitter;
    /// `start` where nothing exceeds it.
    fn or(&self, start: (f64, f64), nearer: impl Fn(f64, f64) -> bool) -> (f64, f64) {
        let mut best = start;
        let mut found = false;
        for (value, x) in self.value.into_iter().zip(self.x) {
            if value > best.0 || found && value == best.0 && nearer(x, best.1) {
                (best, found) = ((value, x), true);
            }
        }
        best
    }
}

/// Elevations of a point from the two antennas.
struct View {
    tx_amsl_m: f64,
    rx_amsl_m: f64,
    /// Half the curvature of the effective Earth. \[1/m\]
    curve: f64,
}

impl View {
    #[inline(always)]
    fn from_tx(&self, z: f64, x: f64) -> f64 {
        (z - self.tx_amsl_m) / x - x * self.curve
    }

    #[inline(always)]
    fn from_rx(&self, z: f64, x: f64) -> f64 {
        (z - self.rx_amsl_m) / x - x * self.curve
    }
}

impl<'a> Terrain<'a> {
    fn steps(&self) -> usize {
        self.h_m.len().max(2) - 1
    }

    /// Ground at the two ends. \[m\]
    pub(super) fn ends_m(&self) -> [f64; 2] {
        [self.h_m.first(), self.h_m.last()].map(|z| z.copied().unwrap_or(0.0))
    }

    /// Path length. \[m\]
    pub(super) fn length_m(&self) -> f64 {
        self.steps() as f64 * self.spacing_m
    }

    /// Mean height of the ground without a tenth at each end. \[m\]
    pub(super) fn mean_height_m(&self) -> f64 {
        let n = self.steps();
        let tenth = whole(0.1 * n as f64);
        let middle = self.h_m.get(tenth..=n - tenth).unwrap_or(&[]);
        sum(middle) / middle.len().max(1) as f64
    }

    /// Horizons of antennas at these heights above sea level. Sheet step 3.
    pub(super) fn horizon(&self, tx_amsl_m: f64, rx_amsl_m: f64, ae_m: f64) -> Horizon {
        let (xi, d) = (self.spacing_m, self.length_m());
        let inner = self.h_m.get(1..self.steps()).unwrap_or(&[]);
        let (blocks, rest) = inner.as_chunks::<LANES>();
        let view = View {
            tx_amsl_m,
            rx_amsl_m,
            curve: 0.5 / ae_m,
        };
        let (mut from_tx, mut from_rx) = (Summit::NOTHING, Summit::NOTHING);
        // Distances grow step by step as in the reference program: their
        // rounding decides which points count where 0.9 of one ends on a point.
        let (mut to_tx, mut to_rx) = (0.0, d);
        let mut next = || {
            to_tx += xi;
            to_rx -= xi;
            (to_tx, to_rx)
        };
        let mut walk = |z: Lane, steps: usize| {
            let mut x = [(1.0, 1.0); LANES];
            let mut seen = [false; LANES];
            for l in 0..steps {
                (x[l], seen[l]) = (next(), true);
            }
            let only = |l: usize, v: f64| if seen[l] { v } else { f64::NEG_INFINITY };
            let tx = each(|l| only(l, view.from_tx(z[l], x[l].0)));
            let rx = each(|l| only(l, view.from_rx(z[l], x[l].1)));
            from_tx.raise(tx, each(|l| x[l].0));
            from_rx.raise(rx, each(|l| x[l].1));
        };
        for block in blocks {
            walk(*block, LANES);
        }
        walk(each(|l| rest.get(l).copied().unwrap_or(0.0)), rest.len());
        let rise = (rx_amsl_m - tx_amsl_m) / d;
        let (theta_tx, d_tx) = from_tx.or((rise - d * view.curve, d), |x, first| x < first);
        let (theta_rx, d_rx) = from_rx.or((-rise - d * view.curve, d), |x, first| x > first);
        Horizon {
            theta_rad: [theta_tx, theta_rx],
            d_m: [d_tx, d_rx],
        }
    }

    /// The straight line fitted between two distances, at both ends of the profile. \[m\]
    pub(super) fn fitted_ends_m(&self, from_m: f64, to_m: f64) -> [f64; 2] {
        fitted_ends(self.h_m, from_m / self.spacing_m, to_m / self.spacing_m)
    }

    /// Terrain irregularity between two distances, as for a path without end. \[m\]
    ///
    /// The range of heights between the highest and the lowest tenth above a
    /// fitted line, over at most 245 heights interpolated at equal steps.
    pub(super) fn irregularity_m(&self, from_m: f64, to_m: f64) -> f64 {
        let (a, b) = (from_m / self.spacing_m, to_m / self.spacing_m);
        if b - a < 2.0 {
            return 0.0;
        }
        let tenth = whole(0.1 * (b - a + 8.0)).clamp(4, 25);
        let n = 10 * tenth - 5;
        let mut samples = [0.0; MOST_SAMPLES];
        let s = &mut samples[..n];
        self.resample(a, (b - a) / (n - 1) as f64, s);
        let [first, last] = fitted_ends(s, 0.0, (n - 1) as f64);
        let slope = (last - first) / (n - 1) as f64;
        let mut keys = [0i64; MOST_SAMPLES];
        let keys = &mut keys[..n];
        for (j, (key, height)) in keys.iter_mut().zip(&*s).enumerate() {
            *key = ordered(height - (first + j as f64 * slope));
        }
        // The `tenth`-th from below, then the `tenth`-th from above among the rest.
        let (_, low, above) = keys.select_nth_unstable(tenth - 1);
        let low = number(*low);
        let from_above = above.len().saturating_sub(tenth);
        let (_, high, _) = above.select_nth_unstable(from_above);
        let range = number(*high) - low;
        range / (1.0 - 0.8 * (-(to_m - from_m) / 50e3).exp())
    }

    /// Heights at `start`, `start + step`, … in steps of the profile.
    fn resample(&self, start: f64, step: f64, heights: &mut [f64]) {
        let n = self.steps();
        for (j, height) in heights.iter_mut().enumerate() {
            let position = start + j as f64 * step;
            let after = (whole(position) + 1).min(n);
            let (z0, z1) = (self.h_m[after - 1], self.h_m[after]);
            *height = z1 + (z1 - z0) * (position - after as f64);
        }
    }
}

/// An integer that sorts as the number does.
fn ordered(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

/// The number of an [`ordered`] key.
fn number(key: i64) -> f64 {
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

/// Least-squares line through the points from `a` to `b` (in steps, truncated
/// to whole points), evaluated at the first and the last point of the profile.
fn fitted_ends(y: &[f64], a: f64, b: f64) -> [f64; 2] {
    let n = y.len() - 1;
    let end = n as f64;
    let mut i0 = whole(a).min(n);
    let mut i1 = n - whole(end - b).min(n);
    if i1 <= i0 {
        i0 = i0.saturating_sub(1);
        i1 = (i1 + 1).min(n);
    }
    let length = (i1 - i0).max(1) as f64;
    let half = 0.5 * length;
    let (y0, y1) = (y[i0], y[i1]);
    let inner = y.get(i0 + 1..i1).unwrap_or(&[]);
    let (mut sums, mut moments) = ([0.0; LANES], [0.0; LANES]);
    let (blocks, rest) = inner.as_chunks::<LANES>();
    let mut weight = each(|l| l as f64 + 1.0 - half);
    for block in blocks {
        for l in 0..LANES {
            sums[l] += block[l];
            moments[l] += block[l] * weight[l];
            weight[l] += LANES as f64;
        }
    }
    for (l, y) in rest.iter().enumerate() {
        sums[l] += y;
        moments[l] += y * weight[l];
    }
    let mean = (0.5 * (y0 + y1) + sums.iter().sum::<f64>()) / length;
    let moment = 0.5 * (y1 - y0) * half + moments.iter().sum::<f64>();
    let slope = moment * 12.0 / ((length * length + 2.0) * length);
    let centre = i1 as f64 - half;
    [mean - slope * centre, mean + slope * (end - centre)]
}

fn sum(values: &[f64]) -> f64 {
    let (blocks, rest) = values.as_chunks::<LANES>();
    let lanes = blocks
        .iter()
        .fold([0.0; LANES], |sum, block| each(|l| sum[l] + block[l]));
    lanes.iter().sum::<f64>() + rest.iter().sum::<f64>()
}
