//! What the model takes from a profile: mean height, horizons, fitted lines
//! and the irregularity.
//!
//! Positions are truncated to profile indices exactly as in the reference
//! program, because those truncations show in the result; sums run in four
//! lanes, which moves them by rounding only.

use super::settings::Terrain;
use crate::lanes::{LANES, NONE, each, for_blocks, greatest, raise};

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

/// Points looked over together for anything that might stand out.
const STRETCH: usize = 16;

/// How far below the line of sight to the horizon a point is still looked at
/// exactly; rounding is far smaller. \[m\]
const DOUBT_M: f64 = 1e-6;

/// The horizon of one end while it is sought.
#[derive(Clone, Copy)]
struct Sight {
    amsl_m: f64,
    /// Half the curvature of the effective Earth. \[1/m\]
    curve: f64,
    theta_rad: f64,
    d_m: f64,
}

impl Sight {
    /// Towards an antenna at distance `d_m`, nothing between.
    fn clear(amsl_m: f64, other_amsl_m: f64, d_m: f64, curve: f64) -> Self {
        Self {
            amsl_m,
            curve,
            theta_rad: (other_amsl_m - amsl_m) / d_m - d_m * curve,
            d_m,
        }
    }

    /// Height of a point above the line of sight to the horizon found so far. \[m\]
    #[inline(always)]
    fn above_m(&self, z: f64, x: f64) -> f64 {
        z - self.amsl_m - x * (x * self.curve + self.theta_rad)
    }

    /// Takes the point for the horizon where it stands higher.
    fn see(&mut self, z: f64, x: f64) {
        let theta_rad = (z - self.amsl_m) / x - x * self.curve;
        if theta_rad > self.theta_rad {
            (self.theta_rad, self.d_m) = (theta_rad, x);
        }
    }
}

/// Distances of a point from both ends, grown step by step as in the reference
/// program: their rounding decides which points count where nine tenths of one
/// end on a point.
struct Steps {
    index: usize,
    to_tx_m: f64,
    to_rx_m: f64,
}

impl Steps {
    fn to(&mut self, index: usize, spacing_m: f64) -> (f64, f64) {
        while self.index < index {
            self.to_tx_m += spacing_m;
            self.to_rx_m -= spacing_m;
            self.index += 1;
        }
        (self.to_tx_m, self.to_rx_m)
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

    /// Horizons of antennas at these heights above sea level, as the reference program `NTIA/itm` finds them.
    pub(super) fn horizon(&self, tx_amsl_m: f64, rx_amsl_m: f64, ae_m: f64) -> Horizon {
        let (xi, d) = (self.spacing_m, self.length_m());
        let curve = 0.5 / ae_m;
        let mut tx = Sight::clear(tx_amsl_m, rx_amsl_m, d, curve);
        let mut rx = Sight::clear(rx_amsl_m, tx_amsl_m, d, curve);
        let mut steps = Steps {
            index: 0,
            to_tx_m: 0.0,
            to_rx_m: d,
        };
        let inner = self.h_m.get(1..self.steps()).unwrap_or(&[]);
        let mut first = 1;
        for stretch in inner.chunks(STRETCH) {
            // A division per point and end is saved where nothing stands out.
            let (mut over_tx, mut over_rx) = (NONE, NONE);
            let last = stretch.len() as f64 - 1.0;
            let start = first as f64;
            for_blocks([stretch], |block, [z]| {
                let offset = (block * LANES) as f64;
                // The last block is filled up with its last point.
                let x = each(|l| (start + (offset + l as f64).min(last)) * xi);
                raise(&mut over_tx, each(|l| tx.above_m(z[l], x[l])));
                raise(&mut over_rx, each(|l| rx.above_m(z[l], d - x[l])));
            });
            if greatest(&over_tx) > -DOUBT_M || greatest(&over_rx) > -DOUBT_M {
                for (i, z) in stretch.iter().enumerate() {
                    let (to_tx_m, to_rx_m) = steps.to(first + i, xi);
                    tx.see(*z, to_tx_m);
                    rx.see(*z, to_rx_m);
                }
            }
            first += stretch.len();
        }
        Horizon {
            theta_rad: [tx.theta_rad, rx.theta_rad],
            d_m: [tx.d_m, rx.d_m],
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
        // Added to a smaller number it rounds it to a whole one in the last bits.
        const WHOLE: f64 = 4_503_599_627_370_496.0;
        let last = self.steps();
        let mut count = 0.0;
        for height in heights {
            let position = start + count * step;
            count += 1.0;
            let rounded = position + 0.5 + WHOLE;
            // On a point either neighbour will do: both lines meet there.
            let after = (rounded.to_bits() & 0xffff_ffff) as usize;
            let after = after.clamp(1, last);
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
