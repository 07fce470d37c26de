//! Voice over packets: codecs, packetisation, speech activity.

use crate::stream::{IpVersion, RTP_BYTES, Stream, UDP_BYTES};

/// Share of the time in which one party of a conversation speaks.
///
/// Source: ITU-T P.59 (1993), Table 1, mean talk spurt 1.004 s and mean pause
/// 1.587 s; from memory.
pub const SPEECH_ACTIVITY_FRAC: f64 = 1.004 / (1.004 + 1.587);

/// Mean length of a talk spurt. Source: as [`SPEECH_ACTIVITY_FRAC`]. \[s\]
pub const TALK_SPURT_S: f64 = 1.004;

/// Mean length of a pause. Source: as [`SPEECH_ACTIVITY_FRAC`]. \[s\]
pub const PAUSE_S: f64 = 1.587;

/// Signalling beside a call, as a share of its rate. Common practice, no source.
pub const SIGNALLING_FRAC: f64 = 0.05;

/// How speech is coded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Codec {
    /// ITU-T G.711, 64 kb/s.
    G711,
    /// ITU-T G.722, 64 kb/s, wide band.
    G722,
    /// ITU-T G.723.1, 5.3 kb/s.
    G723At5,
    /// ITU-T G.723.1, 6.3 kb/s.
    G723At6,
    /// ITU-T G.726, 32 kb/s.
    G726At32,
    /// ITU-T G.729 and its annex A, 8 kb/s.
    G729,
}

impl Codec {
    /// Every codec.
    pub const ALL: [Self; 6] = [
        Codec::G711,
        Codec::G722,
        Codec::G723At5,
        Codec::G723At6,
        Codec::G726At32,
        Codec::G729,
    ];

    /// What the trade calls it.
    pub fn name(self) -> &'static str {
        match self {
            Codec::G711 => "G.711",
            Codec::G722 => "G.722",
            Codec::G723At5 => "G.723.1 5.3k",
            Codec::G723At6 => "G.723.1 6.3k",
            Codec::G726At32 => "G.726 32k",
            Codec::G729 => "G.729",
        }
    }

    /// Length of the codec's own frame, and its bytes: packets hold whole frames.
    ///
    /// The codecs that work sample by sample are counted by the millisecond.
    pub fn frame_ms_bytes(self) -> (u32, u32) {
        match self {
            Codec::G711 | Codec::G722 => (1, 8),
            Codec::G726At32 => (1, 4),
            Codec::G729 => (10, 10),
            Codec::G723At5 => (30, 20),
            Codec::G723At6 => (30, 24),
        }
    }

    /// How far ahead the coder listens, beyond the packet that it fills. \[ms\]
    ///
    /// Source: the codecs' Recommendations; from memory.
    pub fn look_ahead_ms(self) -> f64 {
        match self {
            Codec::G729 => 5.0,
            Codec::G723At5 | Codec::G723At6 => 7.5,
            Codec::G711 | Codec::G722 | Codec::G726At32 => 0.0,
        }
    }

    /// Bytes in a packet of `packet_ms`; `None` where that is not a whole
    /// number of the codec's frames, none of them, or over a second.
    pub fn payload_bytes(self, packet_ms: u32) -> Option<u32> {
        let (frame_ms, frame_bytes) = self.frame_ms_bytes();
        let is_whole = packet_ms > 0 && packet_ms <= 1000 && packet_ms.is_multiple_of(frame_ms);
        is_whole.then(|| packet_ms / frame_ms * frame_bytes)
    }
}

/// One direction of a call while somebody speaks.
///
/// * `packet_ms`: speech in one packet, a whole number of the codec's frames.
///
/// `None` where the codec cannot fill such a packet. Source: RFC 3551, 4.2
/// for the packetisation.
pub fn stream(codec: Codec, packet_ms: u32, ip: IpVersion) -> Option<Stream> {
    Some(Stream {
        payload_bytes: codec.payload_bytes(packet_ms)?,
        header_bytes: RTP_BYTES + UDP_BYTES + ip.header_bytes(),
        packets_per_s: 1e3 / f64::from(packet_ms),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stream::Layer;

    /// Codec, interval, and the rate by IP, Ethernet, tagged Ethernet and wire; -1 where the table is blank. \[kb/s\]
    const ROWS: &[(Codec, u32, [f64; 4])] = &[
        (Codec::G711, 10, [96.00, 110.40, 113.60, 126.40]),
        (Codec::G711, 20, [80.00, 87.20, 88.80, 95.20]),
        (Codec::G711, 30, [74.67, 79.47, 80.53, 84.80]),
        (Codec::G729, 10, [40.00, 54.40, 57.60, 70.40]),
        (Codec::G729, 20, [24.00, 31.20, 32.80, 39.20]),
        (Codec::G729, 30, [18.67, 23.47, 24.53, 28.80]),
        (Codec::G726At32, 20, [48.00, 55.20, 56.80, 63.20]),
        (Codec::G722, 20, [80.00, 87.20, 88.80, 95.20]),
        (Codec::G723At5, 30, [16.00, 20.80, -1.0, -1.0]),
        (Codec::G723At6, 30, [17.07, 21.87, -1.0, -1.0]),
    ];

    /// Published voice bandwidth tables of telephony engineering pages: the
    /// Ethernet column, the IP column at 20 ms; the rest by the same formula.
    #[test]
    fn ref_voice_bandwidth_tables() {
        for (codec, packet_ms, kbps) in ROWS {
            let stream = stream(*codec, *packet_ms, IpVersion::V4).unwrap();
            let layers = [
                Layer::Ip,
                Layer::Ethernet,
                Layer::EthernetTagged,
                Layer::Wire,
            ];
            for (layer, expected) in layers.into_iter().zip(kbps).filter(|(_, e)| **e > 0.0) {
                let got = stream.rate_mbps(layer) * 1e3;
                // Half of the last printed digit.
                assert!(
                    (got - expected).abs() < 0.00501,
                    "{} {packet_ms} {layer:?}: {got} instead of {expected}",
                    codec.name()
                );
            }
        }
    }

    /// The same tables with preamble but no gap: G.711 20 ms 90.4, G.729 34.4 kb/s.
    #[test]
    fn ref_preamble_without_gap() {
        for (codec, kbps) in [(Codec::G711, 90.4), (Codec::G729, 34.4)] {
            let s = stream(codec, 20, IpVersion::V4).unwrap();
            let got = crate::stream::rate_mbps(s.ip_bytes() + 26, s.packets_per_s) * 1e3;
            assert!((got - kbps).abs() < 1e-9);
        }
    }

    #[test]
    fn exact_a_packet_holds_whole_frames() {
        assert_eq!(Codec::G729.payload_bytes(15), None);
        assert_eq!(Codec::G711.payload_bytes(0), None);
        assert_eq!(Codec::G711.payload_bytes(u32::MAX), None);
        assert_eq!(Codec::G723At6.payload_bytes(60), Some(48));
        assert_eq!(
            stream(Codec::G711, 20, IpVersion::V6).unwrap().header_bytes,
            60
        );
    }
}
