//! Circuit emulation: leased lines cut into packets.

use crate::stream::{IpVersion, RTP_BYTES, Stream, UDP_BYTES};

/// Control word of a circuit's packet. Source: RFC 4553, 4.3. \[B\]
pub const CONTROL_WORD_BYTES: u32 = 4;

/// A digital line of the plesiochronous hierarchy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Line {
    /// 1.544 Mb/s.
    T1,
    /// 2.048 Mb/s.
    E1,
    /// 34.368 Mb/s.
    E3,
    /// 44.736 Mb/s.
    T3,
}

impl Line {
    /// Rate of the line. Source: ITU-T G.702. \[Mb/s\]
    pub fn rate_mbps(self) -> f64 {
        match self {
            Line::T1 => 1.544,
            Line::E1 => 2.048,
            Line::E3 => 34.368,
            Line::T3 => 44.736,
        }
    }

    /// Payload of a packet where nothing else is agreed. Source: RFC 4553, 5.1. \[B\]
    pub fn default_payload_bytes(self) -> u32 {
        match self {
            Line::T1 => 192,
            Line::E1 => 256,
            Line::E3 | Line::T3 => 1024,
        }
    }
}

/// What stands before a circuit's payload.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CircuitHeaders {
    /// Version of the Internet protocol below UDP; `None` for the control word alone.
    pub ip: Option<IpVersion>,
    /// Whether RTP carries a time stamp.
    pub rtp: bool,
}

impl CircuitHeaders {
    /// Control word over UDP and IPv4, the usual case.
    pub const UDP_IPV4: Self = Self {
        ip: Some(IpVersion::V4),
        rtp: false,
    };

    /// Bytes of all headers. \[B\]
    pub fn bytes(self) -> u32 {
        let network = self.ip.map_or(0, |ip| UDP_BYTES + ip.header_bytes());
        let time_stamp = if self.rtp { RTP_BYTES } else { 0 };
        CONTROL_WORD_BYTES + network + time_stamp
    }
}

/// One direction of a whole line, its bits untouched.
///
/// * `payload_bytes`: 1 and more; 0 is taken as 1.
///
/// Source: RFC 4553 (structure-agnostic emulation over packets).
pub fn whole_line(line: Line, payload_bytes: u32, headers: CircuitHeaders) -> Stream {
    let payload_bytes = payload_bytes.max(1);
    Stream {
        payload_bytes,
        header_bytes: headers.bytes(),
        packets_per_s: line.rate_mbps() * 1e6 / (8.0 * f64::from(payload_bytes)),
    }
}

/// Packetisation of a bundle of time slots where nothing else is agreed.
/// Source: RFC 5086, 5. \[ms\]
pub fn default_packet_ms(time_slots: u32) -> u32 {
    match time_slots {
        0 | 1 => 8,
        2..=4 => 4,
        _ => 1,
    }
}

/// One direction of a bundle of 64 kb/s time slots, without signalling bits.
///
/// * `time_slots`: 1 to 31. `packet_ms`: 1 and more; 0 is taken as 1.
///
/// `L = 8·N·D`. Source: RFC 5086, 5 (structure-aware emulation).
pub fn time_slots(time_slots: u32, packet_ms: u32, headers: CircuitHeaders) -> Stream {
    let packet_ms = packet_ms.max(1);
    Stream {
        payload_bytes: 8 * time_slots * packet_ms,
        header_bytes: headers.bytes(),
        packets_per_s: 1e3 / f64::from(packet_ms),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stream::Layer;

    fn check_mbps(got: f64, printed: f64, what: &str) {
        // Half of the last printed digit.
        assert!(
            (got - printed).abs() < 0.000_051,
            "{what}: {got}, not {printed}"
        );
    }

    /// Payload sizes: RFC 4553, 5.1; rates by its arithmetic.
    #[test]
    fn ref_t1_and_e1_by_packet() {
        let rows = [
            (
                Line::T1,
                1005.21,
                [1.5762, 1.8013, 1.9461, 1.8978, 2.0426, 2.2034],
            ),
            (
                Line::E1,
                1000.00,
                [2.0800, 2.3040, 2.4480, 2.4000, 2.5440, 2.7040],
            ),
        ];
        for (line, packets_per_s, rates) in rows {
            let with = |ip, rtp| {
                let headers = CircuitHeaders { ip, rtp };
                whole_line(line, line.default_payload_bytes(), headers)
            };
            let [bare, udp, rtp] = [
                with(None, false),
                with(Some(IpVersion::V4), false),
                with(Some(IpVersion::V4), true),
            ];
            assert!((udp.packets_per_s - packets_per_s).abs() < 0.005);
            let got = [
                bare.rate_mbps(Layer::Ip),
                udp.rate_mbps(Layer::Ip),
                udp.rate_mbps(Layer::Ethernet),
                rtp.rate_mbps(Layer::Ip),
                rtp.rate_mbps(Layer::Ethernet),
                rtp.rate_mbps(Layer::Wire),
            ];
            for (got, printed) in got.into_iter().zip(rates) {
                check_mbps(got, printed, &format!("{line:?}"));
            }
        }
    }

    /// Packetisation: RFC 5086, 5; rates by its arithmetic, control word, UDP, IPv4, Ethernet.
    #[test]
    fn ref_bundles_of_time_slots() {
        for (n, printed) in [
            (1, 0.114),
            (4, 0.356),
            (12, 1.168),
            (24, 1.936),
            (30, 2.320),
        ] {
            let stream = time_slots(n, default_packet_ms(n), CircuitHeaders::UDP_IPV4);
            check_mbps(stream.rate_mbps(Layer::Ethernet), printed, &format!("{n}"));
        }
        assert_eq!(time_slots(1, 8, CircuitHeaders::UDP_IPV4).payload_bytes, 64);
    }

    #[test]
    fn exact_no_payload_is_no_packet_rate_without_bound() {
        let stream = whole_line(Line::T1, 0, CircuitHeaders::default());
        assert!(stream.packets_per_s.is_finite());
    }
}
