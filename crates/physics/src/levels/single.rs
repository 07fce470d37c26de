//! The same conversions in single precision, in line, so that the compiler
//! works out several cells of a map at once.
//!
//! Within 5e-5 dB of [`super::db_to_ratio`] and [`super::ratio_to_db`] between
//! −300 and 300 dB, which the tests below hold them to.

/// Power ratio of a level difference, limited to −300 … 300 dB.
#[inline(always)]
#[must_use]
pub fn db_to_ratio(x_db: f32) -> f32 {
    /// Adding and taking away 1.5·2^23 rounds to a whole number.
    const ROUND: f32 = 12_582_912.0;
    // A tenth of log2(10) in two parts, the first with few enough digits that
    // its product with a whole number of decibels has no rounding.
    const HIGH: f32 = 0.332_031_25;
    const LOW: f32 = 0.000_161_559_48;
    let x_db = if x_db > -300.0 { x_db } else { -300.0 };
    let x_db = if x_db < 300.0 { x_db } else { 300.0 };
    let shifted = x_db * (HIGH + LOW) + ROUND;
    let n = shifted - ROUND;
    let f = (x_db * HIGH - n) + x_db * LOW;
    // 2^f, the series to the seventh power.
    let t = f * std::f32::consts::LN_2;
    let t2 = t * t;
    let low = (1.0 + t) + t2 * (0.5 + t * (1.0 / 6.0));
    let high = (1.0 / 24.0 + t * (1.0 / 120.0)) + t2 * (1.0 / 720.0 + t * (1.0 / 5_040.0));
    let series = low + t2 * t2 * high;
    f32::from_bits(series.to_bits().wrapping_add(shifted.to_bits() << 23))
}

/// Level difference of a power ratio; of zero some −380 dB, of a negative
/// number or NaN no meaningful one. \[dB\]
#[inline(always)]
#[must_use]
pub fn ratio_to_db(ratio: f32) -> f32 {
    /// √½: the mantissa is taken between it and √2, so that the series is short.
    const SQRT_HALF_BITS: u32 = 0x3F35_04F3;
    const DB_PER_OCTAVE: f32 = 3.010_3;
    const DB_PER_E: f32 = 4.342_945;
    let bits = ratio.to_bits();
    let exponent = (bits.wrapping_sub(SQRT_HALF_BITS) as i32) >> 23;
    let mantissa = f32::from_bits(bits.wrapping_sub((exponent as u32) << 23));
    let f = (mantissa - 1.0) / (mantissa + 1.0);
    let s = f * f;
    let series = 1.0 / 3.0 + s * (1.0 / 5.0 + s * (1.0 / 7.0 + s * (1.0 / 9.0)));
    2.0 * (f + f * s * series) * DB_PER_E + exponent as f32 * DB_PER_OCTAVE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_single_precision_stays_within_its_bound() {
        for i in -299_000..=299_000 {
            let x_db = i as f32 * 1e-3;
            let ratio = db_to_ratio(x_db);
            let told_db = crate::levels::ratio_to_db(f64::from(ratio));
            assert!(
                (told_db - f64::from(x_db)).abs() < 5e-5,
                "{x_db}: {told_db}"
            );
            let back_db = ratio_to_db(ratio);
            assert!((f64::from(back_db) - told_db).abs() < 5e-5, "{x_db}");
        }
        assert!(ratio_to_db(0.0) < -370.0);
        assert!(db_to_ratio(-1e9) > 0.0 && db_to_ratio(1e9) < 1.1e30);
    }
}
