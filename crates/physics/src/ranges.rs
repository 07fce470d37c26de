//! Stated ranges of the inputs of a model.

use crate::path_loss::Warning;

/// A warning for every quantity outside its range, ends included: field name
/// with unit, value, least, greatest.
pub(crate) fn outside<const N: usize>(ranges: [(&'static str, f64, f64, f64); N]) -> Vec<Warning> {
    ranges
        .into_iter()
        .filter(|(_, value, min, max)| !(*min..=*max).contains(value))
        .map(|(quantity, value, min, max)| Warning::OutOfRange {
            quantity,
            value,
            min,
            max,
        })
        .collect()
}
