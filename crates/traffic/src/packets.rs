//! Frames on Ethernet: how many a rate makes.

use crate::stream::WIRE_GAP_BYTES;

/// Frame lengths to test a link with. Source: RFC 2544, 9.1. \[B\]
pub const TEST_FRAME_BYTES: [u32; 7] = [64, 128, 256, 512, 1024, 1280, 1518];

/// Frames a second that fill a link whose rate counts preambles and gaps. \[1/s\]
///
/// * `frame_bytes`: with the check sequence.
pub fn frames_per_s_on_wire(rate_mbps: f64, frame_bytes: u32) -> f64 {
    rate_mbps * 1e6 / (8.0 * f64::from(frame_bytes + WIRE_GAP_BYTES))
}

/// Packets a second of a rate that counts the packets alone. \[1/s\]
///
/// * `packet_bytes`: mean length, above 0.
pub fn packets_per_s(rate_mbps: f64, packet_bytes: f64) -> f64 {
    rate_mbps * 1e6 / (8.0 * packet_bytes)
}

/// Share of a wire's rate that its frames carry. \[0 to 1\]
pub fn frame_share_of_wire_frac(frame_bytes: u32) -> f64 {
    f64::from(frame_bytes) / f64::from(frame_bytes + WIRE_GAP_BYTES)
}

/// A mix of frame lengths that stands for Internet traffic: shares and lengths.
/// Common practice (7 : 4 : 1 of 64, 594 and 1518 B), no source. \[B\]
pub const INTERNET_MIX: [(f64, f64); 3] = [(7.0, 64.0), (4.0, 594.0), (1.0, 1518.0)];

/// Mean length over a mix of shares and lengths. \[B\]
pub fn mean_frame_bytes(mix: &[(f64, f64)]) -> f64 {
    let shares: f64 = mix.iter().map(|(share, _)| share).sum();
    mix.iter().map(|(share, bytes)| share * bytes).sum::<f64>() / shares
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frame lengths: RFC 2544, 9.1. 148 810 and 8 127 at 100 Mb/s are the
    /// well-known figures; the others by the same formula.
    #[test]
    fn ref_frame_rates_of_rfc_2544() {
        let rows = [
            (64, [14_881.0, 148_810.0, 1_488_095.0], 0.7619),
            (128, [8_446.0, 84_459.0, 844_595.0], 0.8649),
            (256, [4_529.0, 45_290.0, 452_899.0], 0.9275),
            (512, [2_350.0, 23_496.0, 234_962.0], 0.9624),
            (1024, [1_197.0, 11_973.0, 119_732.0], 0.9808),
            (1280, [962.0, 9_615.0, 96_154.0], 0.9846),
            (1518, [813.0, 8_127.0, 81_274.0], 0.9870),
        ];
        assert_eq!(rows.map(|r| r.0), TEST_FRAME_BYTES);
        for (bytes, rates, share) in rows {
            for (link_mbps, printed) in [10.0, 100.0, 1000.0].into_iter().zip(rates) {
                assert_eq!(frames_per_s_on_wire(link_mbps, bytes).round(), printed);
            }
            assert!((frame_share_of_wire_frac(bytes) - share).abs() < 5.01e-5);
        }
    }

    /// The same source: 361.83 B, and 17 273 packets a second at 50 Mb/s.
    #[test]
    fn ref_internet_mix() {
        let mean = mean_frame_bytes(&INTERNET_MIX);
        assert!((mean - 361.83).abs() < 0.005);
        assert_eq!(packets_per_s(50.0, mean).round(), 17_273.0);
    }
}
