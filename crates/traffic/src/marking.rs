//! Names of traffic on its way: code points of differentiated services and
//! the priority bits of Ethernet.

/// What a stream is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Service {
    /// Routing, control of the network.
    NetworkControl,
    /// Voice and emulated circuits.
    Telephony,
    /// Setting up calls.
    Signalling,
    /// Conferences with pictures.
    Conferencing,
    /// Interactive in real time.
    Interactive,
    /// Pictures sent ahead of their use.
    Streaming,
    /// Broadcast pictures.
    Broadcast,
    /// Business data that must not wait.
    LowLatencyData,
    /// Operation and maintenance.
    Maintenance,
    /// Transfers with a floor.
    HighThroughputData,
    /// Everything else.
    Standard,
    /// What may wait for everything else.
    LowPriority,
}

impl Service {
    /// Every service, most urgent first.
    pub const ALL: [Self; 12] = [
        Service::NetworkControl,
        Service::Telephony,
        Service::Signalling,
        Service::Conferencing,
        Service::Interactive,
        Service::Streaming,
        Service::Broadcast,
        Service::LowLatencyData,
        Service::Maintenance,
        Service::HighThroughputData,
        Service::Standard,
        Service::LowPriority,
    ];

    /// Code point, 0 to 63. Source: RFC 4594, Figure 3, the lowest drop
    /// precedence of each class; values of RFC 2474, 2597 and 3246.
    pub fn dscp(self) -> u8 {
        match self {
            Service::NetworkControl => class_selector(6),
            Service::Telephony => EXPEDITED,
            Service::Signalling => class_selector(5),
            Service::Conferencing => assured(4, 1),
            Service::Interactive => class_selector(4),
            Service::Streaming => assured(3, 1),
            Service::Broadcast => class_selector(3),
            Service::LowLatencyData => assured(2, 1),
            Service::Maintenance => class_selector(2),
            Service::HighThroughputData => assured(1, 1),
            Service::Standard => 0,
            Service::LowPriority => class_selector(1),
        }
    }

    /// Priority bits of IEEE 802.1Q, 0 to 7. Common practice, no source.
    pub fn priority(self) -> u8 {
        match self {
            Service::NetworkControl => 6,
            Service::Telephony | Service::Signalling => 5,
            Service::Conferencing | Service::Interactive | Service::Streaming => 4,
            Service::Broadcast => 4,
            Service::LowLatencyData => 3,
            Service::Maintenance | Service::HighThroughputData => 2,
            Service::Standard => 0,
            Service::LowPriority => 1,
        }
    }
}

/// Expedited forwarding. Source: RFC 3246, 2.8.
pub const EXPEDITED: u8 = 46;

/// Class selector of class `x`, 0 to 7: `8x`. Source: RFC 2474, 4.2.2.
pub const fn class_selector(x: u8) -> u8 {
    8 * x
}

/// Assured forwarding of class `x`, 1 to 4, and drop precedence `y`, 1 to 3: `8x + 2y`. Source: RFC 2597, 6.
pub const fn assured(x: u8, y: u8) -> u8 {
    8 * x + 2 * y
}

/// Name of a code point: `EF`, `CS5`, `AF41`, `DF`, `LE`; `None` for one without a name.
pub fn name(dscp: u8) -> Option<String> {
    let (class, rest) = (dscp / 8, dscp % 8);
    match (dscp, class, rest) {
        (0, _, _) => Some("DF".to_owned()),
        // RFC 8622.
        (1, _, _) => Some("LE".to_owned()),
        (EXPEDITED, _, _) => Some("EF".to_owned()),
        (_, 1..=7, 0) => Some(format!("CS{class}")),
        (_, 1..=4, 2 | 4 | 6) => Some(format!("AF{class}{}", rest / 2)),
        _ => None,
    }
}

/// The code point of a name as [`name`] writes it, in any case, or of a number.
pub fn dscp(text: &str) -> Option<u8> {
    let text = text.trim();
    (0..64)
        .find(|dscp| name(*dscp).is_some_and(|n| n.eq_ignore_ascii_case(text)))
        .or_else(|| text.parse().ok().filter(|dscp| *dscp < 64))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4594, Figure 3; decimals of RFC 2474, 2597, 3246.
    #[test]
    fn ref_code_points_of_rfc_4594() {
        let rows = [
            (Service::NetworkControl, "CS6", 48),
            (Service::Telephony, "EF", 46),
            (Service::Signalling, "CS5", 40),
            (Service::Conferencing, "AF41", 34),
            (Service::Interactive, "CS4", 32),
            (Service::Streaming, "AF31", 26),
            (Service::Broadcast, "CS3", 24),
            (Service::LowLatencyData, "AF21", 18),
            (Service::Maintenance, "CS2", 16),
            (Service::HighThroughputData, "AF11", 10),
            (Service::Standard, "DF", 0),
            (Service::LowPriority, "CS1", 8),
        ];
        assert_eq!(rows.map(|r| r.0), Service::ALL);
        for (service, printed, decimal) in rows {
            assert_eq!(service.dscp(), decimal);
            assert_eq!(name(decimal).as_deref(), Some(printed));
            assert_eq!(dscp(printed), Some(decimal));
        }
        let assured: Vec<_> = [
            "af42", "AF43", "AF32", "AF33", "AF22", "AF23", "AF12", "AF13",
        ]
        .map(dscp)
        .into_iter()
        .flatten()
        .collect();
        assert_eq!(assured, [36, 38, 28, 30, 20, 22, 12, 14]);
    }

    #[test]
    fn exact_a_number_is_a_code_point_too() {
        assert_eq!(dscp("44"), Some(44));
        assert_eq!(dscp("64"), None);
        assert_eq!(dscp("gold"), None);
        assert_eq!(name(63), None);
        assert_eq!(name(62), None);
    }
}
