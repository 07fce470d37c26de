//! Sizes of transfers.

use crate::random::Stream;
use crate::scene::TransferSize;

impl TransferSize {
    /// Mean size. \[bytes\]
    pub fn mean_bytes(&self) -> f64 {
        match *self {
            Self::Fixed { bytes } => bytes,
            Self::Exponential { mean_bytes } => mean_bytes,
            Self::BoundedPareto {
                shape,
                least_bytes,
                most_bytes,
            } => bounded_pareto_mean(shape, least_bytes, most_bytes),
        }
    }
}

/// Mean of a Pareto distribution cut at both ends: with `q = l/h`,
/// `a·l/(a−1) · (1 − q^(a−1))/(1 − q^a)`, and its limit at `a = 1`.
fn bounded_pareto_mean(shape: f64, least: f64, most: f64) -> f64 {
    let ratio = least / most;
    if ratio >= 1.0 {
        return least;
    }
    if (shape - 1.0).abs() < 1e-9 {
        return -least * ratio.ln() / (1.0 - ratio);
    }
    let above = (1.0 - ratio.powf(shape - 1.0)) / (1.0 - ratio.powf(shape));
    shape * least / (shape - 1.0) * above
}

/// One size, a whole byte at least.
pub(super) fn size_bytes(size: TransferSize, random: &mut Stream) -> u64 {
    let bytes = match size {
        TransferSize::Fixed { bytes } => bytes,
        TransferSize::Exponential { mean_bytes } => random.exponential(mean_bytes),
        TransferSize::BoundedPareto {
            shape,
            least_bytes,
            most_bytes,
        } => {
            let cut = 1.0 - (least_bytes / most_bytes).powf(shape);
            least_bytes * (1.0 - random.uniform() * cut).powf(-1.0 / shape)
        }
    };
    bytes.round().max(1.0) as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Purpose;

    #[test]
    fn exact_means_are_those_of_the_formulas() {
        let sizes = [
            TransferSize::Exponential { mean_bytes: 1e5 },
            TransferSize::BoundedPareto {
                shape: 1.2,
                least_bytes: 1e4,
                most_bytes: 1e7,
            },
            TransferSize::BoundedPareto {
                shape: 1.0,
                least_bytes: 1e4,
                most_bytes: 1e6,
            },
        ];
        for size in sizes {
            let mut random = Stream::new(11, Purpose::Traffic, 0);
            let n = 1_000_000;
            let mean = (0..n)
                .map(|_| size_bytes(size, &mut random) as f64)
                .sum::<f64>()
                / f64::from(n);
            // The heaviest tail here has a deviation of five means: standard error 0.5 %.
            assert!((mean / size.mean_bytes() - 1.0).abs() < 0.015, "{size:?}");
        }
    }
}
