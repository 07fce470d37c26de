//! A count of values in bins of equal ratio: percentiles of any number of
//! values in the same memory, to a few per cent.

/// Bits of the mantissa that number the bins of an octave.
const OCTAVE_BITS: u32 = 5;
const BINS_PER_OCTAVE: usize = 1 << OCTAVE_BITS;

/// Exponent of the smallest value told apart, 2⁻⁸, and octaves from there: up to 2²⁰.
const LEAST_EXPONENT: i64 = -8;
const OCTAVES: usize = 28;
const BINS: usize = OCTAVES * BINS_PER_OCTAVE;

/// Counts of positive values. The lowest bin takes zero and all that is too small, the highest all that is too large.
#[derive(Debug, Clone)]
pub(crate) struct Histogram {
    counts: Box<[u32]>,
    count: u64,
    sum: f64,
    least: f64,
    most: f64,
}

/// Bin of a value: exponent and leading bits of the mantissa, as the number is stored.
fn bin(value: f64) -> usize {
    let stored = (value.max(0.0).to_bits() >> (52 - OCTAVE_BITS)) as i64;
    let first = (LEAST_EXPONENT + 1023) << OCTAVE_BITS;
    (stored - first).clamp(0, BINS as i64 - 1) as usize
}

/// Lower edge of a bin.
fn edge(bin: usize) -> f64 {
    let octave = (bin / BINS_PER_OCTAVE) as i32 + LEAST_EXPONENT as i32;
    let within = (bin % BINS_PER_OCTAVE) as f64 / BINS_PER_OCTAVE as f64;
    (1.0 + within) * f64::powi(2.0, octave)
}

impl Default for Histogram {
    fn default() -> Self {
        Self {
            counts: vec![0; BINS].into_boxed_slice(),
            count: 0,
            sum: 0.0,
            least: f64::INFINITY,
            most: 0.0,
        }
    }
}

impl Histogram {
    #[inline]
    pub(crate) fn add(&mut self, value: f64) {
        self.counts[bin(value)] += 1;
        self.count += 1;
        self.sum += value;
        self.least = self.least.min(value);
        self.most = self.most.max(value);
    }

    pub(crate) fn merge(&mut self, other: &Self) {
        for (count, more) in self.counts.iter_mut().zip(&other.counts) {
            *count += more;
        }
        self.count += other.count;
        self.sum += other.sum;
        self.least = self.least.min(other.least);
        self.most = self.most.max(other.most);
    }

    pub(crate) fn count(&self) -> u64 {
        self.count
    }

    pub(crate) fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }

    pub(crate) fn least(&self) -> Option<f64> {
        (self.count > 0).then_some(self.least)
    }

    pub(crate) fn most(&self) -> Option<f64> {
        (self.count > 0).then_some(self.most)
    }

    /// The value that a share of the values does not exceed, evenly spread within its bin.
    pub(crate) fn quantile(&self, share_frac: f64) -> Option<f64> {
        let wanted = share_frac * self.count as f64;
        let mut below = 0.0;
        for (bin, &count) in self.counts.iter().enumerate() {
            let up_to = below + f64::from(count);
            if count > 0 && up_to >= wanted {
                let within = ((wanted - below) / f64::from(count)).clamp(0.0, 1.0);
                let value = edge(bin) + within * (edge(bin + 1) - edge(bin));
                return Some(value.clamp(self.least, self.most));
            }
            below = up_to;
        }
        self.most()
    }

    /// Share of the values up to the upper edge of each bin that holds any: `(edge, share)`.
    pub(crate) fn cumulative(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let mut below = 0_u64;
        let held = self.counts.iter().enumerate().filter(|(_, n)| **n > 0);
        held.map(move |(bin, &count)| {
            below += u64::from(count);
            let edge = edge(bin + 1).min(self.most);
            (edge, below as f64 / self.count as f64)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_quantiles_of_an_even_spread() {
        let mut histogram = Histogram::default();
        (1..=100_000).for_each(|i| histogram.add(f64::from(i) / 100.0));
        for share in [0.01, 0.5, 0.95, 0.99, 0.999] {
            let value = histogram.quantile(share).expect("values");
            // Within a bin the spread is even here, so only its edge matters.
            assert!((value / (share * 1000.0) - 1.0).abs() < 0.005, "{value}");
        }
        assert!((histogram.mean().expect("values") - 500.005).abs() < 1e-6);
        let (last, share) = histogram.cumulative().last().expect("bins");
        assert!((last - 1000.0).abs() < 1e-9 && (share - 1.0).abs() < 1e-12);
    }

    #[test]
    fn exact_edges_enclose_their_values() {
        for value in [4e-3, 0.37, 1.0, 4.999, 1e3, 9e5] {
            let at = bin(value);
            assert!(edge(at) <= value && value < edge(at + 1), "{value}");
        }
        assert_eq!(bin(0.0), 0);
        assert_eq!(bin(f64::INFINITY), BINS - 1);
    }
}
