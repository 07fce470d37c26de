//! Pictures: lognormal sizes, those coded alone larger than the others.

use crate::random::Stream;
use crate::scene::Source;

/// Bytes of the picture of a number.
pub(super) fn picture_bytes(source: &Source, number: u64, random: &mut Stream) -> u32 {
    let &Source::Video {
        mean_mbps,
        picture_ms,
        group_pictures,
        intra_ratio,
        size_variation,
    } = source
    else {
        return 0;
    };
    let group = f64::from(group_pictures.max(1));
    // Mb/s times milliseconds are kilobits.
    let mean_bytes = mean_mbps * picture_ms * 125.0;
    let other_bytes = mean_bytes * group / (intra_ratio + group - 1.0);
    let is_intra = number.is_multiple_of(u64::from(group_pictures.max(1)));
    let expected_bytes = other_bytes * if is_intra { intra_ratio } else { 1.0 };
    // Lognormal with mean 1: variance of the logarithm ln(1 + v²).
    let variance = (1.0 + size_variation * size_variation).ln();
    let factor = (variance.sqrt() * random.normal() - 0.5 * variance).exp();
    (expected_bytes * factor).round().clamp(1.0, 1e7) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Purpose;

    #[test]
    fn exact_the_mean_rate_is_kept() {
        let source = Source::Video {
            mean_mbps: 2.0,
            picture_ms: 40.0,
            group_pictures: 12,
            intra_ratio: 4.0,
            size_variation: 0.4,
        };
        let mut random = Stream::new(3, Purpose::Traffic, 0);
        let n = 120_000;
        let total: f64 = (0..n)
            .map(|i| f64::from(picture_bytes(&source, i, &mut random)))
            .sum();
        // 2 Mb/s and 25 pictures a second: 10,000 bytes each. Standard error 0.15 %.
        assert!((total / n as f64 / 10_000.0 - 1.0).abs() < 0.006);
    }
}
