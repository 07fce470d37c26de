//! A stream of equal packets, and what the headers of each layer add to it.

/// RTP header without extensions. Source: RFC 3550, 5.1. \[B\]
pub const RTP_BYTES: u32 = 12;
/// UDP header. Source: RFC 768. \[B\]
pub const UDP_BYTES: u32 = 8;
/// IPv4 header without options. Source: RFC 791. \[B\]
pub const IPV4_BYTES: u32 = 20;
/// IPv6 header. Source: RFC 8200. \[B\]
pub const IPV6_BYTES: u32 = 40;
/// Ethernet header and frame check sequence. Source: IEEE 802.3, clause 3. \[B\]
pub const ETHERNET_BYTES: u32 = 18;
/// One tag of a virtual network. Source: IEEE 802.1Q. \[B\]
pub const VLAN_TAG_BYTES: u32 = 4;
/// Preamble, start delimiter and the gap between frames. Source: IEEE 802.3, clause 4. \[B\]
pub const WIRE_GAP_BYTES: u32 = 20;
/// Point-to-point protocol over Ethernet. Source: RFC 2516. \[B\]
pub const PPPOE_BYTES: u32 = 8;
/// One label of multiprotocol label switching. Source: RFC 3032. \[B\]
pub const MPLS_LABEL_BYTES: u32 = 4;
/// Least Ethernet frame: shorter ones are padded. Source: IEEE 802.3, clause 4. \[B\]
pub const LEAST_FRAME_BYTES: u32 = 64;

/// Which version of the Internet protocol carries a stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum IpVersion {
    /// IPv4.
    #[default]
    V4,
    /// IPv6.
    V6,
}

impl IpVersion {
    /// Its header. \[B\]
    pub fn header_bytes(self) -> u32 {
        match self {
            IpVersion::V4 => IPV4_BYTES,
            IpVersion::V6 => IPV6_BYTES,
        }
    }
}

/// The layer at which a rate is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// The packet of the Internet protocol.
    Ip,
    /// The Ethernet frame with its check sequence.
    Ethernet,
    /// The Ethernet frame with one tag.
    EthernetTagged,
    /// The untagged frame with preamble and gap: what a cable is occupied by.
    Wire,
}

impl Layer {
    /// Bytes that the layer adds to a packet of the Internet protocol. \[B\]
    pub fn added_bytes(self) -> u32 {
        match self {
            Layer::Ip => 0,
            Layer::Ethernet => ETHERNET_BYTES,
            Layer::EthernetTagged => ETHERNET_BYTES + VLAN_TAG_BYTES,
            Layer::Wire => ETHERNET_BYTES + WIRE_GAP_BYTES,
        }
    }
}

/// Equal packets at a constant pace, one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream {
    /// What the service puts into one packet. \[B\]
    pub payload_bytes: u32,
    /// Headers up to and with the Internet protocol's. \[B\]
    pub header_bytes: u32,
    /// Pace. \[1/s\]
    pub packets_per_s: f64,
}

impl Stream {
    /// A packet of the Internet protocol. \[B\]
    pub fn ip_bytes(&self) -> u32 {
        self.payload_bytes + self.header_bytes
    }

    /// A packet as a layer counts it; short frames are not padded. \[B\]
    pub fn bytes_at(&self, layer: Layer) -> u32 {
        self.ip_bytes() + layer.added_bytes()
    }

    /// Rate as a layer counts it. \[Mb/s\]
    pub fn rate_mbps(&self, layer: Layer) -> f64 {
        rate_mbps(self.bytes_at(layer), self.packets_per_s)
    }

    /// Time from one packet to the next. \[s\]
    pub fn interval_s(&self) -> f64 {
        1.0 / self.packets_per_s
    }
}

/// Rate of packets of equal length. \[Mb/s\]
pub fn rate_mbps(packet_bytes: u32, packets_per_s: f64) -> f64 {
    f64::from(packet_bytes) * 8.0 * packets_per_s / 1e6
}
