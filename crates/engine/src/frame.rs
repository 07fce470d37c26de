//! The air interface card handed to the frame arithmetic of `physics`.

use model::air_interface::{AirInterface, FrameSplit, FrameStructure, Mcs};
use physics::ofdma::frame::{
    FrameOverhead, FrameSplit as SymbolSplit, compressed_map_bits, downlink_slots, map_slots,
    map_symbols, slots_rate_mbps, uplink_slots,
};
use physics::ofdma::{OfdmaNumerology, PuscCarriers, SLOT_DATA_SUBCARRIERS};
use physics::tdd::{self, TddScheme};
use serde::Serialize;

/// Which way data goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// From the base station to the terminal.
    Downlink,
    /// From the terminal to the base station.
    Uplink,
}

/// Subcarriers of one subchannel and symbol that carry data, downlink and uplink.
const DOWNLINK_DATA_PER_SUBCHANNEL: u32 = 24;
const UPLINK_DATA_PER_SUBCHANNEL: u32 = 16;

/// What one direction of a frame carries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DirectionFrame {
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Slots {
        numerology: OfdmaNumerology,
        slots: u32,
    },
    Shares {
        scheme: TddScheme,
    },
}

impl DirectionFrame {
    /// One direction of a frame with a single terminal scheduled.
    pub fn new(card: &AirInterface, split: FrameSplit, direction: Direction) -> Self {
        Self::with_bursts(card, split, (direction, (1, 1)))
    }

    /// One direction of a frame whose maps name a number of bursts, downlink and uplink.
    pub fn with_bursts(
        card: &AirInterface,
        split: FrameSplit,
        (direction, bursts): (Direction, (u32, u32)),
    ) -> Self {
        let kind = match &card.frame {
            FrameStructure::OfdmaPusc {
                map_repetition,
                uplink_control_symbols,
                ..
            } => {
                let numerology = numerology(card);
                let maps = map_slots(compressed_map_bits(bursts.0, bursts.1), *map_repetition);
                let overhead = FrameOverhead {
                    preamble_symbols: 1,
                    map_symbols: map_symbols(&numerology, maps),
                    uplink_control_symbols: *uplink_control_symbols,
                };
                let split = symbol_split(card, split);
                let slots = match direction {
                    Direction::Downlink => downlink_slots(&numerology, split, overhead),
                    Direction::Uplink => uplink_slots(&numerology, split, overhead),
                };
                Kind::Slots { numerology, slots }
            }
            FrameStructure::GenericTdd {
                occupied_frac,
                guard_frac,
                overhead_frac,
                mac_efficiency_frac,
                ..
            } => Kind::Shares {
                scheme: TddScheme {
                    channel_mhz: card.channel_width_mhz,
                    occupied_frac: *occupied_frac,
                    // The formula of the downlink serves both directions, each
                    // with its own share: what neither has is guard.
                    downlink_frac: share_frac(card, split, direction),
                    guard_frac: *guard_frac,
                    control_frac: *overhead_frac,
                    access_frac: *mac_efficiency_frac,
                },
            },
        };
        Self { kind }
    }

    /// Rate of a step with the whole direction to itself.
    pub fn phy_rate_mbps(&self, mcs: &Mcs, streams: u32) -> f64 {
        let efficiency = mcs.efficiency_bit_per_symbol();
        match &self.kind {
            Kind::Slots { numerology, slots } => {
                let bits_per_slot = f64::from(SLOT_DATA_SUBCARRIERS) * efficiency;
                slots_rate_mbps(numerology, *slots, bits_per_slot) * f64::from(streams)
            }
            Kind::Shares { scheme } => scheme.downlink_mbps(efficiency, streams),
        }
    }

    /// Slots for data in the direction; `None` for an interface described by shares.
    pub fn data_slots(&self) -> Option<u32> {
        match &self.kind {
            Kind::Slots { slots, .. } => Some(*slots),
            Kind::Shares { .. } => None,
        }
    }
}

/// Rate at the Ethernet port of a rate on the air.
pub fn ethernet_rate_mbps(card: &AirInterface, phy_rate_mbps: f64) -> f64 {
    phy_rate_mbps * (1.0 - card.mac_overhead_frac)
}

/// Slots that all symbols of a direction would hold, the preamble's and the
/// control's among them; 1 for an interface described by shares.
pub fn all_slots(card: &AirInterface, split: FrameSplit, direction: Direction) -> f64 {
    let FrameStructure::OfdmaPusc { .. } = &card.frame else {
        return 1.0;
    };
    let numerology = numerology(card);
    let split = symbol_split(card, split);
    let (symbols, carriers) = match direction {
        Direction::Downlink => (split.downlink_symbols, numerology.downlink),
        Direction::Uplink => (split.uplink_symbols, numerology.uplink),
    };
    f64::from(symbols * carriers.subchannels) / f64::from(carriers.slot_symbols)
}

/// Farthest terminal whose uplink still fits the gap of a split.
pub fn guard_range_m(card: &AirInterface, split: FrameSplit) -> f64 {
    let range_km = match &card.frame {
        FrameStructure::OfdmaPusc {
            symbols_per_frame,
            transmit_transition_gap_us,
            terminal_turnaround_us,
            ..
        } => {
            let split = symbol_split(card, split);
            let idle = symbols_per_frame
                .saturating_sub(split.downlink_symbols)
                .saturating_sub(split.uplink_symbols);
            let gap_us =
                transmit_transition_gap_us + f64::from(idle) * numerology(card).symbol_time_us();
            tdd::guard_range_km(gap_us, *terminal_turnaround_us)
        }
        FrameStructure::GenericTdd {
            guard_period_us,
            terminal_turnaround_us,
            guard_frac,
            ..
        } => {
            let share = |direction| share_frac(card, split, direction);
            let idle_frac =
                1.0 - share(Direction::Downlink) - share(Direction::Uplink) - guard_frac;
            let gap_us = guard_period_us + idle_frac.max(0.0) * card.frame_ms * 1e3;
            tdd::guard_range_km(gap_us, *terminal_turnaround_us)
        }
    };
    range_km * 1e3
}

/// When a frame's directions are on the air, counted from its beginning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameTimes {
    /// Length of the frame.
    pub frame_us: f64,
    /// The downlink lasts from the beginning until here.
    pub downlink_us: f64,
    /// The uplink begins.
    pub uplink_from_us: f64,
    /// The uplink lasts.
    pub uplink_us: f64,
}

/// When the directions of a split are on the air, at the base station.
///
/// The uplink ends with the frame, less the gap before the next downlink;
/// symbols that a split leaves out lengthen the gap before it.
pub fn times(card: &AirInterface, split: FrameSplit) -> FrameTimes {
    let frame_us = card.frame_ms * 1e3;
    let (downlink_us, uplink_us, end_gap_us) = match &card.frame {
        FrameStructure::OfdmaPusc {
            receive_transition_gap_us,
            ..
        } => {
            let split = symbol_split(card, split);
            let symbol_us = numerology(card).symbol_time_us();
            (
                f64::from(split.downlink_symbols) * symbol_us,
                f64::from(split.uplink_symbols) * symbol_us,
                *receive_transition_gap_us,
            )
        }
        FrameStructure::GenericTdd {
            terminal_turnaround_us,
            ..
        } => {
            let share_us = |direction| share_frac(card, split, direction) * frame_us;
            (
                share_us(Direction::Downlink),
                share_us(Direction::Uplink),
                *terminal_turnaround_us,
            )
        }
    };
    let uplink_from_us = (frame_us - end_gap_us - uplink_us).max(downlink_us);
    FrameTimes {
        frame_us,
        downlink_us,
        uplink_from_us,
        uplink_us: uplink_us.max(f64::MIN_POSITIVE),
    }
}

/// A split as a design writes it.
pub fn split_text(split: FrameSplit) -> String {
    match split {
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        } => format!("[{downlink_symbols}, {uplink_symbols}]"),
        FrameSplit::Fractions {
            downlink_frac,
            uplink_frac,
        } => format!("[{downlink_frac}, {uplink_frac}]"),
    }
}

/// Spectrum that carries signal: what the noise is counted over.
pub fn occupied_mhz(card: &AirInterface) -> f64 {
    match &card.frame {
        FrameStructure::OfdmaPusc { .. } => {
            let numerology = numerology(card);
            numerology.occupied_mhz(&numerology.downlink)
        }
        FrameStructure::GenericTdd { occupied_frac, .. } => card.channel_width_mhz * occupied_frac,
    }
}

/// Subchannels of the uplink in which a terminal may concentrate its power; 1 where it cannot.
pub fn uplink_subchannels(card: &AirInterface) -> u32 {
    match &card.frame {
        FrameStructure::OfdmaPusc {
            subchannels_uplink, ..
        } => *subchannels_uplink,
        FrameStructure::GenericTdd { .. } => 1,
    }
}

/// The card's figures as the frame arithmetic takes them. Gaps are kept in
/// microseconds by the card and in physical slots by the standard.
pub(crate) fn numerology(card: &AirInterface) -> OfdmaNumerology {
    let FrameStructure::OfdmaPusc {
        fft_size,
        sampling_factor,
        cyclic_prefix_frac,
        subchannels_downlink,
        subchannels_uplink,
        used_subcarriers,
        symbols_per_frame,
        transmit_transition_gap_us,
        receive_transition_gap_us,
        ..
    } = &card.frame
    else {
        // Shares have no numerology; nothing asks for one.
        return EMPTY;
    };
    let mut numerology = OfdmaNumerology {
        channel_mhz: card.channel_width_mhz,
        fft_size: *fft_size,
        sampling_num: sampling_factor.0,
        sampling_den: sampling_factor.1,
        guard_frac: *cyclic_prefix_frac,
        frame_ms: card.frame_ms,
        frame_symbols: *symbols_per_frame,
        ttg_physical_slots: 0,
        rtg_physical_slots: 0,
        downlink: carriers(
            *used_subcarriers,
            *subchannels_downlink,
            (DOWNLINK_DATA_PER_SUBCHANNEL, 2),
        ),
        uplink: carriers(
            *used_subcarriers,
            *subchannels_uplink,
            (UPLINK_DATA_PER_SUBCHANNEL, 3),
        ),
    };
    let slot_us = numerology.physical_slot_us();
    numerology.ttg_physical_slots = (transmit_transition_gap_us / slot_us).round() as u32;
    numerology.rtg_physical_slots = (receive_transition_gap_us / slot_us).round() as u32;
    numerology
}

fn carriers(used: u32, subchannels: u32, (data_each, slot_symbols): (u32, u32)) -> PuscCarriers {
    let data_subcarriers = data_each * subchannels;
    PuscCarriers {
        // The arithmetic counts the one in the middle; the card does not.
        used_subcarriers: used + 1,
        subchannels,
        data_subcarriers,
        pilot_subcarriers: used.saturating_sub(data_subcarriers),
        slot_symbols,
    }
}

const EMPTY: OfdmaNumerology = OfdmaNumerology {
    channel_mhz: 0.0,
    fft_size: 1,
    sampling_num: 1,
    sampling_den: 1,
    guard_frac: 0.0,
    frame_ms: 1.0,
    frame_symbols: 0,
    ttg_physical_slots: 0,
    rtg_physical_slots: 0,
    downlink: EMPTY_CARRIERS,
    uplink: EMPTY_CARRIERS,
};

const EMPTY_CARRIERS: PuscCarriers = PuscCarriers {
    used_subcarriers: 1,
    subchannels: 0,
    data_subcarriers: 0,
    pilot_subcarriers: 0,
    slot_symbols: 1,
};

/// A split in whole symbols; shares are rounded down.
pub(crate) fn symbol_split(card: &AirInterface, split: FrameSplit) -> SymbolSplit {
    match split {
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        } => SymbolSplit {
            downlink_symbols,
            uplink_symbols,
        },
        FrameSplit::Fractions {
            downlink_frac,
            uplink_frac,
        } => {
            let symbols = match &card.frame {
                FrameStructure::OfdmaPusc {
                    symbols_per_frame, ..
                } => f64::from(*symbols_per_frame),
                FrameStructure::GenericTdd { .. } => 0.0,
            };
            SymbolSplit {
                downlink_symbols: (downlink_frac * symbols).floor() as u32,
                uplink_symbols: (uplink_frac * symbols).floor() as u32,
            }
        }
    }
}

/// Share of the frame that a direction has.
pub(crate) fn share_frac(card: &AirInterface, split: FrameSplit, direction: Direction) -> f64 {
    let (downlink_frac, uplink_frac) = match split {
        FrameSplit::Fractions {
            downlink_frac,
            uplink_frac,
        } => (downlink_frac, uplink_frac),
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        } => {
            let guard_frac = match &card.frame {
                FrameStructure::GenericTdd { guard_frac, .. } => *guard_frac,
                FrameStructure::OfdmaPusc { .. } => 0.0,
            };
            let sum = f64::from(downlink_symbols + uplink_symbols).max(1.0);
            let used_frac = 1.0 - guard_frac;
            (
                f64::from(downlink_symbols) / sum * used_frac,
                f64::from(uplink_symbols) / sum * used_frac,
            )
        }
    };
    match direction {
        Direction::Downlink => downlink_frac,
        Direction::Uplink => uplink_frac,
    }
}
