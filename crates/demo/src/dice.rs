//! Numbers that look random and never change: a counter-based generator and
//! smooth noise made of it. No function of the mathematics library is used,
//! so that every machine gives the same bits.

/// The mixing function of the SplitMix64 generator (Steele, Lea, Flood 2014).
fn mixed(seed: u64) -> u64 {
    let z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

fn share(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1_u64 << 53) as f64
}

/// A sequence of numbers.
#[derive(Debug, Clone)]
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(mixed(seed))
    }

    /// The next number, from 0 up to but not including 1.
    pub(crate) fn roll(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        share(mixed(self.0))
    }

    /// A number between -1 and 1, most often near 0.
    pub(crate) fn around_zero(&mut self) -> f64 {
        (self.roll() + self.roll() + self.roll()) / 1.5 - 1.0
    }

    /// A whole number below `count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.roll() * count as f64) as usize).min(count.saturating_sub(1))
    }
}

/// A number from 0 to 1 that belongs to a whole-numbered place.
pub(crate) fn at_place(x: i64, y: i64, seed: u64) -> f64 {
    share(mixed(mixed(mixed(seed) ^ x as u64) ^ y as u64))
}

/// Smooth noise from 0 to 1 with features about one unit wide.
fn noise(x: f64, y: f64, seed: u64) -> f64 {
    let (left, top) = (x.floor(), y.floor());
    let (u, v) = (smooth(x - left), smooth(y - top));
    let (i, j) = (left as i64, top as i64);
    let mix = |a: f64, b: f64, w: f64| a + (b - a) * w;
    let upper = mix(at_place(i, j, seed), at_place(i + 1, j, seed), u);
    let lower = mix(at_place(i, j + 1, seed), at_place(i + 1, j + 1, seed), u);
    mix(upper, lower, v)
}

/// Noise in `octaves` layers, each half as wide and half as strong, from 0 to 1.
pub(crate) fn fractal(x: f64, y: f64, octaves: u32, seed: u64) -> f64 {
    let (mut sum, mut weight, mut scale, mut total) = (0.0, 1.0, 1.0, 0.0);
    for octave in 0..octaves {
        sum += weight * noise(x * scale, y * scale, seed + u64::from(octave));
        total += weight;
        weight *= 0.5;
        scale *= 2.0;
    }
    sum / total
}

/// 0 at 0 and 1 at 1 with level ends.
pub(crate) fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}
