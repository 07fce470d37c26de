//! The air interface: frame structure, modulation and coding steps, and the
//! rules by which two antennas at each end are used.

use serde::Serialize;

use crate::ids::EquipmentId;

/// A modulation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Modulation {
    /// Two bits a symbol.
    #[serde(rename = "QPSK")]
    Qpsk,
    /// Four bits a symbol.
    #[serde(rename = "16QAM")]
    Qam16,
    /// Six bits a symbol.
    #[serde(rename = "64QAM")]
    Qam64,
    /// Eight bits a symbol.
    #[serde(rename = "256QAM")]
    Qam256,
}

impl Modulation {
    /// Bits carried by one constellation point.
    pub fn bits_per_symbol(self) -> u8 {
        match self {
            Modulation::Qpsk => 2,
            Modulation::Qam16 => 4,
            Modulation::Qam64 => 6,
            Modulation::Qam256 => 8,
        }
    }

    /// The trade's name.
    pub fn name(self) -> &'static str {
        match self {
            Modulation::Qpsk => "QPSK",
            Modulation::Qam16 => "16QAM",
            Modulation::Qam64 => "64QAM",
            Modulation::Qam256 => "256QAM",
        }
    }
}

/// One modulation and coding step (a burst profile).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mcs {
    /// Name as the standard writes it, such as `64QAM 5/6`.
    pub name: String,
    /// Modulation.
    pub modulation: Modulation,
    /// Code rate, 0 to 1.
    pub code_rate: f64,
    /// How many times the slot is repeated (1, 2, 4 or 6).
    pub repetition: u8,
    /// Lowest SINR at the decoder at which the card's block error rate holds, before the implementation margin.
    pub sinr_threshold_db: f64,
}

impl Mcs {
    /// Information bits per data subcarrier and symbol, one stream.
    pub fn efficiency_bit_per_symbol(&self) -> f64 {
        f64::from(self.modulation.bits_per_symbol()) * self.code_rate / f64::from(self.repetition)
    }
}

/// How a frame is built, which decides how many data symbols a direction has.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "structure")]
pub enum FrameStructure {
    /// IEEE 802.16 OFDMA TDD with partial usage of subchannels.
    OfdmaPusc {
        /// Size of the Fourier transform.
        fft_size: u32,
        /// Sampling factor as a fraction: numerator, denominator.
        sampling_factor: (u32, u32),
        /// Cyclic prefix as a fraction of the useful symbol.
        cyclic_prefix_frac: f64,
        /// Subchannels in the downlink.
        subchannels_downlink: u32,
        /// Subchannels in the uplink.
        subchannels_uplink: u32,
        /// Subcarriers in use, without the one in the middle.
        used_subcarriers: u32,
        /// OFDMA symbols in a frame, both directions.
        symbols_per_frame: u32,
        /// Transmit-to-receive gap at the base station.
        transmit_transition_gap_us: f64,
        /// Receive-to-transmit gap at the base station.
        receive_transition_gap_us: f64,
        /// Time a terminal needs from receiving to transmitting.
        terminal_turnaround_us: f64,
        /// Symbols of the uplink that carry ranging and reports.
        uplink_control_symbols: u32,
        /// Repetition of the maps (1, 2, 4 or 6).
        map_repetition: u32,
    },
    /// Any TDD OFDM radio, described by shares of the frame (3GPP NR among them).
    GenericTdd {
        /// Share of the channel's width that carries signal.
        occupied_frac: f64,
        /// Share of the frame spent in the guard period.
        guard_frac: f64,
        /// Share of the symbols spent on pilots and control.
        overhead_frac: f64,
        /// Length of the guard period.
        guard_period_us: f64,
        /// Time a terminal needs from receiving to transmitting.
        terminal_turnaround_us: f64,
        /// Share of what is sent that is not retransmission or MAC header.
        mac_efficiency_frac: f64,
    },
}

/// How the frame is shared between the directions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", untagged)]
pub enum FrameSplit {
    /// Whole symbols, preamble included in the downlink.
    Symbols {
        /// Downlink symbols, the preamble among them.
        downlink_symbols: u32,
        /// Uplink symbols.
        uplink_symbols: u32,
    },
    /// Shares of the frame; what is left is guard.
    Fractions {
        /// Downlink share.
        downlink_frac: f64,
        /// Uplink share.
        uplink_frac: f64,
    },
}

/// How two antennas at each end are used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MimoRules {
    /// Gain of space-time coding over one transmitter at the same total power (0 in a fading-free channel).
    pub space_time_coding_gain_db: f64,
    /// Whether the uplink may carry two streams.
    pub uplink_spatial_multiplexing: bool,
    /// Lowest SINR per stream, after separation, at which spatial multiplexing is chosen.
    pub spatial_multiplexing_min_sinr_db: f64,
    /// How far a receiver suppresses the other stream, on top of the isolation of antennas and mounting.
    pub stream_cancellation_db: f64,
}

/// An air interface card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AirInterface {
    /// Card id.
    pub id: EquipmentId,
    /// What a person calls it.
    pub name: String,
    /// The open standard it follows.
    pub standard: String,
    /// Channel width.
    pub channel_width_mhz: f64,
    /// Frame duration.
    pub frame_ms: f64,
    /// How the frame is built.
    pub frame: FrameStructure,
    /// The split used where a sector does not name one.
    pub default_split: FrameSplit,
    /// Splits that the card allows, the default among them.
    pub splits: Vec<FrameSplit>,
    /// Share of blocks that are sent again at the steps' thresholds.
    pub block_error_frac: f64,
    /// Modulation and coding steps, in rising order of threshold.
    pub mcs: Vec<Mcs>,
    /// Difference between a real receiver and the thresholds' ideal one.
    pub implementation_margin_db: f64,
    /// How two antennas at each end are used.
    pub mimo: MimoRules,
    /// Share of the MAC payload lost to headers, fragmentation and retransmission at the Ethernet port.
    pub mac_overhead_frac: f64,
    /// Smallest number of uplink subchannels a terminal may concentrate its power in; 1 or more.
    pub min_uplink_subchannels: u32,
    /// Where the card's figures come from.
    pub source: String,
}
