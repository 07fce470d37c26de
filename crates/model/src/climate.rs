//! Climate, as the methods of propagation ask for it.

use serde::Serialize;

/// From this frequency on rain weakens a signal enough to count.
///
/// Source: ITU-R P.530-18, section 2.4 (from memory of the text).
pub const RAIN_FROM_MHZ: f64 = 5_000.0;

/// Weather along a path, as Recommendation ITU-R P.530 asks for it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FadingClimate {
    /// Rain rate exceeded for 0.01 % of an average year, in a minute's mean.
    pub rain_001_mm_per_h: f64,
    /// Refractivity gradient over the lowest 65 m that is not exceeded for 1 % of an average year; negative.
    pub gradient_1pct_n_per_km: f64,
    /// The two values of the Recommendation's maps; `None` falls back on the gradient.
    pub multipath_map: Option<MultipathMap>,
}

/// Values of the maps of Recommendation ITU-R P.530 at the middle of a path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MultipathMap {
    /// Decimal logarithm of the geoclimatic factor.
    pub log_k: f64,
    /// Statistic of the refractivity gradient.
    pub gradient_75_n_per_km: f64,
}
