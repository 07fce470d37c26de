//! Logarithm, exponential and arc tangent without a call, so that the compiler
//! can interleave and vectorise them. Exact to a few parts in 1e15, which the
//! tests below hold them to; nothing coarser is used anywhere in a sweep.

/// Natural logarithm of a positive, finite, normal number.
#[inline(always)]
pub(crate) fn ln(x: f64) -> f64 {
    // The mantissa is taken between √½ and √2, so that the series is short.
    const SQRT_HALF_BITS: u64 = 0x3FE6_A09E_667F_3BCD;
    // A number whose low bits are an integer, to turn it into a float without
    // a conversion that some processors do one at a time.
    const WHOLE: u64 = 0x4330_0000_0000_0000;
    const BIAS: u64 = 2048;
    let biased = x
        .to_bits()
        .wrapping_sub(SQRT_HALF_BITS)
        .wrapping_add(BIAS << 52)
        >> 52;
    let exponent = f64::from_bits(WHOLE | biased) - (4_503_599_627_370_496.0 + BIAS as f64);
    let shift = biased.wrapping_sub(BIAS) << 52;
    let mantissa = f64::from_bits(x.to_bits().wrapping_sub(shift));
    let f = (mantissa - 1.0) / (mantissa + 1.0);
    let s = f * f;
    // 2·artanh(f), terms up to f^19, added in pairs: a chain would wait for itself.
    let s2 = s * s;
    let s4 = s2 * s2;
    let low = (1.0 / 3.0 + s * (1.0 / 5.0)) + s2 * (1.0 / 7.0 + s * (1.0 / 9.0));
    let high = (1.0 / 11.0 + s * (1.0 / 13.0)) + s2 * (1.0 / 15.0 + s * (1.0 / 17.0));
    let series = low + s4 * (high + s4 * (1.0 / 19.0));
    2.0 * (f + f * s * series) + std::f64::consts::LN_2 * exponent
}

/// Natural logarithm of ten.
pub(crate) const E_PER_DECADE: f64 = std::f64::consts::LN_2 * std::f64::consts::LOG2_10;

/// Logarithm to base ten of a positive, finite, normal number.
#[inline(always)]
pub(crate) fn decades(x: f64) -> f64 {
    ln(x) * (1.0 / E_PER_DECADE)
}

/// e to the power of a number up to 700; of less than −700 as of −700.
#[inline(always)]
pub(crate) fn exp(x: f64) -> f64 {
    const PER_LN_2: f64 = std::f64::consts::LOG2_E;
    // ln 2 in two parts, the first exact in products with small integers.
    const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    // Adding and taking away 1.5·2^52 rounds to a whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let x = if x > -700.0 { x } else { -700.0 };
    let shifted = x * PER_LN_2 + ROUND;
    let n = shifted - ROUND;
    let r = (x - n * LN_2_HIGH) - n * LN_2_LOW;
    // The series to r^13, added in pairs.
    let r2 = r * r;
    let r4 = r2 * r2;
    let r8 = r4 * r4;
    let low = (1.0 + r) + r2 * (1.0 / 2.0 + r * (1.0 / 6.0));
    let middle = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5_040.0));
    let upper = (1.0 / 40_320.0 + r * (1.0 / 362_880.0))
        + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0));
    let top = 1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0);
    let sum = (low + r4 * middle) + r8 * (upper + r4 * top);
    f64::from_bits(sum.to_bits().wrapping_add(shifted.to_bits() << 52))
}

/// Ten to the power of a number between −300 and 300.
#[inline(always)]
pub(crate) fn ten_to(x: f64) -> f64 {
    exp(x * E_PER_DECADE)
}

/// A positive number to a power.
#[inline(always)]
pub(crate) fn power(x: f64, exponent: f64) -> f64 {
    exp(exponent * ln(x))
}

/// Arc tangent; in line for the slopes of terrain, the library beyond.
#[inline(always)]
pub(crate) fn atan(x: f64) -> f64 {
    let steep = x.abs();
    if steep <= 0.13 {
        atan_series(x)
    } else if steep <= 0.4 {
        // Turned by the arc tangent of a quarter, what is left is small.
        let left = (steep - 0.25) / (1.0 + 0.25 * steep);
        (ATAN_QUARTER + atan_series(left)).copysign(x)
    } else {
        x.atan()
    }
}

/// Arc tangent up to 0.4 either way, without a branch.
#[inline(always)]
pub(crate) fn atan_gentle(x: f64) -> f64 {
    let steep = x.abs();
    let is_turned = steep > 0.13;
    let turn = if is_turned { 0.25 } else { 0.0 };
    let turned_rad = if is_turned { ATAN_QUARTER } else { 0.0 };
    let left = (steep - turn) / (1.0 + turn * steep);
    (turned_rad + atan_series(left)).copysign(x)
}

/// Arc tangent of a quarter.
const ATAN_QUARTER: f64 = 0.244_978_663_126_864_15;

/// Up to 0.14 either way.
#[inline(always)]
fn atan_series(x: f64) -> f64 {
    let s = x * x;
    let s2 = s * s;
    let low = (1.0 / 3.0 - s * (1.0 / 5.0)) + s2 * (1.0 / 7.0 - s * (1.0 / 9.0));
    let high = (1.0 / 11.0 - s * (1.0 / 13.0)) + s2 * (1.0 / 15.0 - s * (1.0 / 17.0));
    x - x * s * (low + s2 * s2 * high)
}

/// Direction of a vector, clockwise from the second axis, −π to π, within 1e-9.
#[inline(always)]
pub(crate) fn bearing_rad(first: f64, second: f64) -> f64 {
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};
    let (a, b) = (first.abs(), second.abs());
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    // Within an eighth of the octave's middle the argument is small.
    let (numerator, denominator, offset) = if low > 0.414_213_562_373_095 * high {
        (low - high, low + high, FRAC_PI_4)
    } else {
        (low, high, 0.0)
    };
    let x = if denominator > 0.0 {
        numerator / denominator
    } else {
        0.0
    };
    let s = x * x;
    let s2 = s * s;
    let s4 = s2 * s2;
    let low = (1.0 / 3.0 - s * (1.0 / 5.0)) + s2 * (1.0 / 7.0 - s * (1.0 / 9.0));
    let high = (1.0 / 11.0 - s * (1.0 / 13.0)) + s2 * (1.0 / 15.0 - s * (1.0 / 17.0));
    let series = low + s4 * (high + s4 * (1.0 / 19.0));
    let octave = offset + (x - x * s * series);
    let quadrant = if a < b { octave } else { FRAC_PI_2 - octave };
    let half = if second < 0.0 {
        PI - quadrant
    } else {
        quadrant
    };
    half.copysign(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers over many orders of magnitude.
    fn positive() -> impl Iterator<Item = f64> {
        (0..40_000).map(|i| (f64::from(i) * 0.0345 - 690.0).exp() * 1.000_123)
    }

    #[test]
    fn exact_logarithm() {
        for x in positive().chain((1..4000).map(|i| f64::from(i) * 1e-3)) {
            let apart = (ln(x) - x.ln()).abs();
            assert!(apart <= 4e-16 * x.ln().abs() + 2e-16, "{x}: {apart:e}");
            let decibels = physics::levels::ratio_to_db(x);
            assert!((10.0 * decades(x) - decibels).abs() <= 1e-15 * decibels.abs() + 2e-15);
        }
    }

    #[test]
    fn exact_exponential() {
        for i in -69_000..69_000 {
            let x = f64::from(i) * 0.01;
            let apart = (exp(x) / x.exp() - 1.0).abs();
            assert!(apart <= 1e-15, "{x}: {apart:e}");
        }
        assert!(exp(-1e6) < 1e-300);
    }

    #[test]
    fn exact_arc_tangent() {
        for i in -6000..6000 {
            let x = f64::from(i) * 1e-4;
            let apart = (atan(x) - x.atan()).abs();
            assert!(apart <= 5e-16 * x.abs(), "{x}: {apart:e}");
            if x.abs() <= 0.4 {
                assert!((atan_gentle(x) - x.atan()).abs() <= 5e-16 * x.abs());
            }
        }
    }

    #[test]
    fn exact_bearing() {
        for i in 0..7200 {
            let (sin, cos) = (f64::from(i) * 0.05).to_radians().sin_cos();
            let apart = bearing_rad(sin, cos) - sin.atan2(cos);
            let apart = apart.rem_euclid(std::f64::consts::TAU);
            assert!(
                apart.min(std::f64::consts::TAU - apart) < 1e-9,
                "{i}: {apart:e}"
            );
        }
        assert!(bearing_rad(0.0, 0.0).is_finite());
    }
}
