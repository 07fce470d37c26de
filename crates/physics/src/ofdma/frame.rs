//! Slots of a frame, and what preamble, maps and control take of them.

use super::modulation::Modulation;
use super::{OfdmaNumerology, PuscCarriers, SLOT_DATA_SUBCARRIERS};

/// Symbols of the two directions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FrameSplit {
    /// Downlink symbols, the preamble included.
    pub downlink_symbols: u32,
    /// Uplink symbols.
    pub uplink_symbols: u32,
}

/// Symbols that carry no user data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FrameOverhead {
    /// Preamble of the downlink.
    pub preamble_symbols: u32,
    /// Frame control header and maps of the downlink.
    pub map_symbols: u32,
    /// Ranging, channel quality and acknowledgement of the uplink.
    pub uplink_control_symbols: u32,
}

impl Default for FrameOverhead {
    /// One preamble, four symbols for header and maps, three uplink control
    /// symbols (three: read; four: the smallest map, computed).
    fn default() -> Self {
        Self {
            preamble_symbols: 1,
            map_symbols: 4,
            uplink_control_symbols: 3,
        }
    }
}

/// Slots left for user data in the downlink:
/// `⌊(DL − preamble − maps)/2⌋ · sub-channels`.
#[must_use]
pub fn downlink_slots(
    numerology: &OfdmaNumerology,
    split: FrameSplit,
    overhead: FrameOverhead,
) -> u32 {
    let taken = overhead.preamble_symbols + overhead.map_symbols;
    slots_in(
        &numerology.downlink,
        split.downlink_symbols.saturating_sub(taken),
    )
}

/// Slots left for user data in the uplink: `⌊(UL − control)/3⌋ · sub-channels`.
#[must_use]
pub fn uplink_slots(
    numerology: &OfdmaNumerology,
    split: FrameSplit,
    overhead: FrameOverhead,
) -> u32 {
    let left = split
        .uplink_symbols
        .saturating_sub(overhead.uplink_control_symbols);
    slots_in(&numerology.uplink, left)
}

/// Whole slots in a number of data symbols.
#[must_use]
pub fn slots_in(carriers: &PuscCarriers, data_symbols: u32) -> u32 {
    data_symbols / carriers.slot_symbols.max(1) * carriers.subchannels
}

/// Rate of a number of slots per frame. \[Mb/s\]
#[must_use]
pub fn slots_rate_mbps(numerology: &OfdmaNumerology, slots: u32, bits_per_slot: f64) -> f64 {
    f64::from(slots) * bits_per_slot / (numerology.frame_ms * 1e3)
}

/// PHY rate of one stream with a number of data symbols per frame. \[Mb/s\]
///
/// `data carriers · symbols · bits per carrier / frame`.
#[must_use]
pub fn phy_rate_mbps(
    numerology: &OfdmaNumerology,
    carriers: &PuscCarriers,
    data_symbols: u32,
    modulation: &Modulation,
) -> f64 {
    let carrier_symbols = f64::from(carriers.data_subcarriers) * f64::from(data_symbols);
    carrier_symbols * modulation.bits_per_subcarrier() / (numerology.frame_ms * 1e3)
}

/// Slots of the downlink frame prefix (frame control header): 24 bits doubled
/// to 48, QPSK 1/2 with repetition 4 (bits read, slots memory).
pub const FRAME_CONTROL_HEADER_SLOTS: u32 = 4;

/// Bits of compressed maps for users with one burst in each direction.
///
/// `88 + 60·n` downlink, `48 + 32·n + 52` uplink with its ranging element,
/// 32 of check sum (element sizes read, headers memory).
#[must_use]
pub fn compressed_map_bits(downlink_bursts: u32, uplink_bursts: u32) -> u32 {
    let downlink = 60_u32.saturating_mul(downlink_bursts).saturating_add(88);
    let uplink = 32_u32.saturating_mul(uplink_bursts).saturating_add(48 + 52);
    downlink.saturating_add(uplink).saturating_add(32)
}

/// Slots the maps take in QPSK 1/2, repeated 1, 2, 4 or 6 times.
#[must_use]
pub fn map_slots(map_bits: u32, repetition: u32) -> u32 {
    map_bits
        .div_ceil(SLOT_DATA_SUBCARRIERS)
        .saturating_mul(repetition)
}

/// Whole downlink symbols that frame control header and maps take.
#[must_use]
pub fn map_symbols(numerology: &OfdmaNumerology, map_slots: u32) -> u32 {
    let slots = map_slots.saturating_add(FRAME_CONTROL_HEADER_SLOTS);
    slots.div_ceil(numerology.downlink.subchannels.max(1)) * numerology.downlink.slot_symbols
}

/// Bytes the medium access layer adds to a packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PacketOverhead {
    /// Generic header. \[bytes\]
    pub header_bytes: u32,
    /// Check sum, 0 where switched off. \[bytes\]
    pub crc_bytes: u32,
    /// Fragmentation or packing sub-header. \[bytes\]
    pub subheader_bytes: u32,
}

impl Default for PacketOverhead {
    /// 6 bytes header, 4 check sum, 2 fragmentation (read).
    fn default() -> Self {
        Self {
            header_bytes: 6,
            crc_bytes: 4,
            subheader_bytes: 2,
        }
    }
}

impl PacketOverhead {
    /// Share of the PHY bits left to packets of a mean size, 0 to 1.
    #[must_use]
    pub fn efficiency_frac(&self, packet_bytes: f64) -> f64 {
        let added = f64::from(self.header_bytes + self.crc_bytes + self.subheader_bytes);
        if packet_bytes > 0.0 {
            packet_bytes / (packet_bytes + added)
        } else {
            0.0
        }
    }
}

/// Mean bits per slot of users who each carry a share of the traffic. \[bits/slot\]
///
/// The harmonic mean, `1/Σ(share/bits)`: a slow user holds more slots for the
/// same traffic. Shares are taken relative to their sum. Zero for no users, or
/// when a user with a share has no rate.
///
/// * `shares`: pairs of traffic share (≥ 0) and bits per slot.
#[must_use]
pub fn mean_bits_per_slot(shares: &[(f64, f64)]) -> f64 {
    let served = shares.iter().filter(|(share, _)| *share > 0.0);
    let (mut total, mut slots) = (0.0, 0.0);
    for &(share, bits_per_slot) in served {
        total += share;
        slots += share / bits_per_slot;
    }
    if slots > 0.0 { total / slots } else { 0.0 }
}
