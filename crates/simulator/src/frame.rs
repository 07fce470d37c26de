//! How many slots a frame has for data, given how many terminals its maps name.

use physics::ofdma::OfdmaNumerology;
use physics::ofdma::frame::{
    FrameOverhead, FrameSplit, compressed_map_bits, downlink_slots, map_slots, map_symbols,
    uplink_slots,
};

/// The frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FrameModel {
    /// IEEE 802.16 OFDMA: maps take more symbols, the more bursts they name.
    Ofdma {
        /// Carriers and symbols.
        numerology: OfdmaNumerology,
        /// Symbols of the two directions.
        split: FrameSplit,
        /// Repetition of the maps: 1, 2, 4 or 6.
        map_repetition: u32,
        /// Uplink symbols for ranging and reports.
        uplink_control_symbols: u32,
    },
    /// Slots that nothing takes from: any other frame described by what is left of it.
    Fixed {
        /// Length.
        frame_ms: f64,
        /// Slots for data, downlink.
        downlink_slots: u32,
        /// Slots for data, uplink.
        uplink_slots: u32,
        /// End of the downlink as a share of the frame.
        downlink_frac: f64,
    },
}

impl FrameModel {
    /// Length. \[ms\]
    pub fn frame_ms(&self) -> f64 {
        match self {
            Self::Ofdma { numerology, .. } => numerology.frame_ms,
            Self::Fixed { frame_ms, .. } => *frame_ms,
        }
    }

    /// Moment of the frame at which the last downlink symbol is received. \[ms\]
    pub fn downlink_end_ms(&self) -> f64 {
        match self {
            Self::Ofdma {
                numerology, split, ..
            } => f64::from(split.downlink_symbols) * numerology.symbol_time_us() / 1e3,
            Self::Fixed {
                frame_ms,
                downlink_frac,
                ..
            } => frame_ms * downlink_frac,
        }
    }

    /// Slots for data in the downlink when the maps name so many bursts.
    pub fn downlink_slots(&self, downlink_bursts: u32, uplink_bursts: u32) -> u32 {
        match self {
            Self::Ofdma {
                numerology,
                split,
                map_repetition,
                uplink_control_symbols,
            } => {
                let bits = compressed_map_bits(downlink_bursts, uplink_bursts);
                let overhead = FrameOverhead {
                    preamble_symbols: 1,
                    map_symbols: map_symbols(numerology, map_slots(bits, *map_repetition)),
                    uplink_control_symbols: *uplink_control_symbols,
                };
                downlink_slots(numerology, *split, overhead)
            }
            Self::Fixed { downlink_slots, .. } => *downlink_slots,
        }
    }

    /// Slots of the downlink that data and maps share.
    pub fn downlink_slots_and_maps(&self) -> u32 {
        match self {
            Self::Ofdma {
                numerology, split, ..
            } => {
                let overhead = FrameOverhead {
                    preamble_symbols: 1,
                    map_symbols: 0,
                    uplink_control_symbols: 0,
                };
                downlink_slots(numerology, *split, overhead)
            }
            Self::Fixed { downlink_slots, .. } => *downlink_slots,
        }
    }

    /// Slots for data in the uplink.
    pub fn uplink_slots(&self) -> u32 {
        match self {
            Self::Ofdma {
                numerology,
                split,
                uplink_control_symbols,
                ..
            } => {
                let overhead = FrameOverhead {
                    preamble_symbols: 0,
                    map_symbols: 0,
                    uplink_control_symbols: *uplink_control_symbols,
                };
                uplink_slots(numerology, *split, overhead)
            }
            Self::Fixed { uplink_slots, .. } => *uplink_slots,
        }
    }
}

/// Data slots of the downlink for every number of bursts, counted once.
#[derive(Debug)]
pub(crate) struct SlotTable {
    /// By uplink bursts, then by downlink bursts.
    slots: Vec<u32>,
    bursts_max: u32,
    pub(crate) uplink: u32,
    pub(crate) downlink_and_maps: u32,
}

impl SlotTable {
    pub(crate) fn new(frame: &FrameModel, bursts_max: u32) -> Self {
        let counts = || 0..=bursts_max;
        let slots = counts().flat_map(|up| counts().map(move |down| (down, up)));
        Self {
            slots: slots
                .map(|(down, up)| frame.downlink_slots(down, up))
                .collect(),
            bursts_max,
            uplink: frame.uplink_slots(),
            downlink_and_maps: frame.downlink_slots_and_maps(),
        }
    }

    /// Slots for each number of downlink bursts.
    pub(crate) fn downlink(&self, uplink_bursts: u32) -> &[u32] {
        let width = self.bursts_max as usize + 1;
        let row = uplink_bursts.min(self.bursts_max) as usize;
        &self.slots[row * width..(row + 1) * width]
    }
}
