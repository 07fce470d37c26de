//! Decibels and linear quantities, both ways, and power sums.
//!
//! Every conversion between a level and a linear quantity in the workspace
//! goes through this module, so that a power ratio (10·log10) is never
//! mistaken for an amplitude ratio (20·log10). A level (`_dbm`) plus a ratio
//! (`_db`, `_dbi`) is a level; two levels are combined by [`sum_dbm`] only.

pub mod single;

/// Ten to the power `x`.
#[must_use]
pub fn pow10(x: f64) -> f64 {
    10f64.powf(x)
}

/// Decimal logarithm of a non-negative number; minus infinity for zero.
#[must_use]
pub fn log10(x: f64) -> f64 {
    x.log10()
}

/// Power ratio of a level difference in decibels: `10^(x/10)`.
#[must_use]
pub fn db_to_ratio(x_db: f64) -> f64 {
    pow10(0.1 * x_db)
}

/// Level difference of a power ratio, `10·log10(x)`; minus infinity for zero. \[dB\]
#[must_use]
pub fn ratio_to_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Amplitude (field, voltage) ratio of a level difference: `10^(x/20)`.
#[must_use]
pub fn db_to_amplitude(x_db: f64) -> f64 {
    pow10(0.05 * x_db)
}

/// Level difference of an amplitude ratio, `20·log10(x)`. \[dB\]
#[must_use]
pub fn amplitude_to_db(amplitude: f64) -> f64 {
    20.0 * amplitude.log10()
}

/// Power of a level. \[mW\]
#[must_use]
pub fn dbm_to_mw(level_dbm: f64) -> f64 {
    db_to_ratio(level_dbm)
}

/// Level of a power; minus infinity for no power. \[dBm\]
#[must_use]
pub fn mw_to_dbm(power_mw: f64) -> f64 {
    ratio_to_db(power_mw)
}

/// Power of a level. \[W\]
#[must_use]
pub fn dbm_to_w(level_dbm: f64) -> f64 {
    db_to_ratio(level_dbm - 30.0)
}

/// Level of a power in watts. \[dBm\]
#[must_use]
pub fn w_to_dbm(power_w: f64) -> f64 {
    ratio_to_db(power_w) + 30.0
}

/// Level of the sum of powers that arrive unrelated in phase. \[dBm\]
///
/// The sum of nothing is minus infinity, which is a level of zero power.
#[must_use]
pub fn sum_dbm(levels_dbm: impl IntoIterator<Item = f64>) -> f64 {
    mw_to_dbm(levels_dbm.into_iter().map(dbm_to_mw).sum())
}

/// Mean power of several levels, averaged as powers, not as decibels. \[dBm\]
///
/// Minus infinity for no levels.
#[must_use]
pub fn mean_dbm(levels_dbm: impl IntoIterator<Item = f64>) -> f64 {
    let (sum_mw, count) = levels_dbm
        .into_iter()
        .fold((0.0, 0.0f64), |(sum, n), x| (sum + dbm_to_mw(x), n + 1.0));
    mw_to_dbm(sum_mw / count.max(1.0))
}

/// Loss of several parallel ways together: the power sum of attenuations. \[dB\]
///
/// `−10·log10(Σ 10^(−L/10))`; infinity (no way through) for none.
#[must_use]
pub fn parallel_loss_db(losses_db: impl IntoIterator<Item = f64>) -> f64 {
    -sum_dbm(losses_db.into_iter().map(|loss| -loss))
}
