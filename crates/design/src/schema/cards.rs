//! `equipment/*.toml` and the cards that ship inside the program.

use std::collections::BTreeMap;

use model::equipment::SideLobes;
use model::settings::Surface;
use model::{Modulation, PolarizationPair, Role};
use schemars::{Schema, SchemaGenerator, json_schema};
use toml::Spanned;
use toml::de::DeValue;

use super::backhaul::HopRadioText;
use crate::written::{At, Pair, Ratio, Reader, Written, written_choice, written_table};

written_table! {
    /// Cards: equipment, air interfaces, rule sets and legends. A card with the id of a built-in one replaces it.
    pub struct CardsText {
        /// Antennas.
        antenna: optional Vec<At<AntennaText>>;
        /// Radios at the mast.
        base_station: optional Vec<At<BaseStationText>>;
        /// Radios and antennas at the premises.
        terminal: optional Vec<At<TerminalText>>;
        /// Radios of hops.
        hop_radio: optional Vec<At<HopRadioText>>;
        /// Air interfaces.
        air_interface: optional Vec<At<AirInterfaceText>>;
        /// Spectrum rule sets.
        rule_set: optional Vec<At<RuleSetText>>;
        /// Land cover legends.
        legend: optional Vec<At<LegendText>>;
    }
}

/// Where a card's figures come from: one text, or one text by key with `others` for the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceNote(pub String);

impl Written for SourceNote {
    const WANTED: &'static str = "text in quotes, or a table of text by key";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        if value.get_ref().as_str().is_some() {
            return String::read(value, reader).map(SourceNote);
        }
        if value.get_ref().as_table().is_none() {
            reader.wrong_type(value, Self::WANTED);
            return None;
        }
        let by_key = BTreeMap::<String, At<String>>::read(value, reader)?;
        let (others, keys): (Vec<_>, Vec<_>) = by_key.iter().partition(|(key, _)| *key == "others");
        let notes: Vec<_> = keys
            .iter()
            .chain(&others)
            .map(|(key, note)| format!("{key}: {}", note.value))
            .collect();
        Some(SourceNote(notes.join("; ")))
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": ["string", "object"], "additionalProperties": { "type": "string" },
        })
    }
}

written_table! {
    /// An antenna.
    pub struct AntennaText {
        /// Id by which sectors and terminals refer to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// Peak gain of one port.
        gain_dbi: required f64 [-20.0, 60.0];
        /// The two polarizations of its ports.
        polarization: optional PolarizationPair = PolarizationPair::DualSlant;
        /// Isolation between its ports' polarizations on the axis.
        cross_polar_discrimination_db: optional f64 [0.0, 60.0] = 15.0;
        /// How the gain falls off by a formula.
        pattern: optional PatternText;
        /// How the gain falls off by measured cuts: a file relative to the project folder.
        pattern_file: optional String;
        /// Whether the file's cuts hold in every plane through the axis (dish, panel) or are a sector's.
        near_symmetric: optional bool = false;
        /// Where the figures come from.
        source: required SourceNote;
    }
}

/// The pattern formulas that a card can name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PatternFormula {
    /// The same gain everywhere.
    Isotropic,
    /// ITU-R F.1336 sector antenna.
    F1336Sector,
    /// ITU-R F.1336 omnidirectional antenna.
    F1336Omni,
    /// 3GPP TR 38.901 element.
    Tr38901Element,
    /// ITU-R F.1245 dish, average side lobes.
    F1245Dish,
    /// ITU-R F.699 dish, peak side lobes.
    F699Dish,
}

written_choice!(PatternFormula {
    "isotropic" => PatternFormula::Isotropic,
    "f1336-sector" => PatternFormula::F1336Sector,
    "f1336-omni" => PatternFormula::F1336Omni,
    "tr38901-element" => PatternFormula::Tr38901Element,
    "f1245-dish" => PatternFormula::F1245Dish,
    "f699-dish" => PatternFormula::F699Dish,
});

written_table! {
    /// A pattern formula and its figures.
    pub struct PatternText {
        /// Which formula.
        formula: required PatternFormula;
        /// Half-power beamwidth in azimuth; sector and element formulas.
        beamwidth_h_deg: optional f64 [0.1, 360.0];
        /// Half-power beamwidth in elevation; sector, omni and element formulas.
        beamwidth_v_deg: optional f64 [0.1, 180.0];
        /// Envelope or average of the side lobes; F.1336 formulas.
        side_lobes: optional SideLobes = SideLobes::Average;
        /// Improved instead of typical side lobes; F.1336 formulas.
        improved: optional bool = false;
        /// Side-lobe limit in elevation; element formula.
        side_lobe_limit_db: optional f64 [0.0, 60.0] = 30.0;
        /// Front-to-back limit; element formula.
        front_to_back_db: optional f64 [0.0, 60.0] = 30.0;
        /// Dish diameter over wavelength; dish formulas. Default: from the gain.
        diameter_wavelengths: optional f64 [0.5, 10000.0];
    }
}

written_choice!(PolarizationPair {
    "dual-slant" => PolarizationPair::DualSlant,
    "horizontal-vertical" => PolarizationPair::HorizontalVertical,
    "vertical-only" => PolarizationPair::VerticalOnly,
    "horizontal-only" => PolarizationPair::HorizontalOnly,
});

written_choice!(SideLobes {
    "average" => SideLobes::Average,
    "peak" => SideLobes::Peak,
});

written_choice!(Modulation {
    "QPSK" => Modulation::Qpsk,
    "16QAM" => Modulation::Qam16,
    "64QAM" => Modulation::Qam64,
    "256QAM" => Modulation::Qam256,
});

written_table! {
    /// The radio at the mast.
    pub struct BaseStationText {
        /// Id by which sectors refer to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// Lower end of what it tunes to. Default: no limit.
        lower_mhz: optional f64 [10.0, 100000.0] = 10.0;
        /// Upper end of what it tunes to. Default: no limit.
        upper_mhz: optional f64 [10.0, 100000.0] = 100000.0;
        /// Highest power of one transmit chain.
        max_tx_power_per_chain_dbm: required f64 [-60.0, 60.0];
        /// Lowest power of one transmit chain.
        min_tx_power_per_chain_dbm: optional f64 [-60.0, 60.0] = 0.0;
        /// Transmit and receive chains.
        chains: optional u32 [1.0, 2.0] = 2u32;
        /// Power back-off by modulation, in dB.
        back_off_db: optional BTreeMap<String, At<f64>>;
        /// Receiver noise figure.
        noise_figure_db: required f64 [0.0, 30.0];
        /// Rejection of an adjacent channel of the same width, both ends together.
        adjacent_channel_rejection_db: required f64 [0.0, 100.0];
        /// Largest number of terminals.
        max_terminals: required u32 [1.0, 100000.0];
        /// Largest sum of both directions at the Ethernet port.
        max_aggregate_mbps: required f64 [0.1, 100000.0];
        /// Largest packet rate, both directions together.
        max_packets_per_s: required f64 [1.0, 1e9];
        /// Error of the oscillator's frequency when the common time is lost, in parts of 10⁹.
        oscillator_offset_ppb: optional f64 [0.0, 10000.0] = 1.0;
        /// Ageing of the oscillator, in parts of 10⁹ a day.
        oscillator_ageing_ppb_per_day: optional f64 [0.0, 10000.0] = 0.5;
        /// Where the figures come from.
        source: required SourceNote;
    }
}

written_table! {
    /// The radio and antenna at a premises.
    pub struct TerminalText {
        /// Id by which premises refer to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// Id of its antenna card.
        antenna: required String;
        /// Lower end of what it tunes to. Default: no limit.
        lower_mhz: optional f64 [10.0, 100000.0] = 10.0;
        /// Upper end of what it tunes to. Default: no limit.
        upper_mhz: optional f64 [10.0, 100000.0] = 100000.0;
        /// Highest power of one transmit chain.
        max_tx_power_per_chain_dbm: required f64 [-60.0, 60.0];
        /// Lowest power of one transmit chain: the floor of uplink power control.
        min_tx_power_per_chain_dbm: optional f64 [-60.0, 60.0] = -30.0;
        /// Transmit chains.
        tx_chains: optional u32 [1.0, 2.0] = 1u32;
        /// Receive chains.
        rx_chains: optional u32 [1.0, 2.0] = 2u32;
        /// Power back-off by modulation, in dB.
        back_off_db: optional BTreeMap<String, At<f64>>;
        /// Receiver noise figure.
        noise_figure_db: required f64 [0.0, 30.0];
        /// Loss between radio and antenna.
        feeder_loss_db: optional f64 [0.0, 30.0] = 0.0;
        /// Angle by which an installer's aim may be off.
        pointing_error_deg: optional f64 [0.0, 90.0] = 3.0;
        /// Rotation about the axis by which an installer's mounting may be off.
        roll_error_deg: optional f64 [0.0, 45.0] = 3.0;
        /// Rejection of an adjacent channel of the same width.
        adjacent_channel_rejection_db: required f64 [0.0, 100.0];
        /// Price in the project's currency; 0 where unknown.
        price: optional f64 [0.0, 1000000.0] = 0.0;
        /// Where the figures come from.
        source: required SourceNote;
    }
}

written_table! {
    /// An air interface; it holds either `ofdma_pusc` or `generic_tdd`.
    pub struct AirInterfaceText {
        /// Id by which the design refers to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// The open standard it follows.
        standard: required String;
        /// Channel width.
        channel_width_mhz: required f64 [0.1, 2000.0];
        /// Frame duration.
        frame_ms: required f64 [0.1, 100.0];
        /// How the frame is shared where nothing else says so, downlink then uplink.
        default_split: required Pair;
        /// Splits to choose among, each downlink then uplink. Default: the one of `default_split`.
        splits: optional Vec<At<Pair>>;
        /// Share of blocks that are sent again at the steps' thresholds.
        block_error_frac: optional f64 [0.0, 0.5] = 0.01;
        /// Difference between a real receiver and the thresholds' ideal one.
        implementation_margin_db: required f64 [0.0, 20.0];
        /// Share of the MAC payload lost to headers, fragmentation and retransmission.
        mac_overhead_frac: required f64 [0.0, 0.9];
        /// Smallest number of uplink subchannels into which a terminal may concentrate its power.
        min_uplink_subchannels: optional u32 [1.0, 1000.0] = 1u32;
        /// IEEE 802.16 OFDMA frame with partial usage of subchannels.
        ofdma_pusc: optional OfdmaPuscText;
        /// Any TDD OFDM frame, by shares.
        generic_tdd: optional GenericTddText;
        /// How two antennas at each end are used.
        mimo: optional MimoText;
        /// Modulation and coding steps, in rising order of threshold.
        mcs: required Vec<At<McsText>>;
        /// Where the figures come from.
        source: required SourceNote;
    }
}

written_table! {
    /// IEEE 802.16 OFDMA frame with partial usage of subchannels.
    pub struct OfdmaPuscText {
        /// Size of the Fourier transform.
        fft_size: required u32 [128.0, 2048.0];
        /// Sampling factor: numerator, denominator.
        sampling_factor: required Pair;
        /// Cyclic prefix over the useful symbol.
        cyclic_prefix_frac: required Ratio [0.0, 0.5];
        /// Subchannels in the downlink.
        subchannels_downlink: required u32 [1.0, 200.0];
        /// Subchannels in the uplink.
        subchannels_uplink: required u32 [1.0, 200.0];
        /// Subcarriers in use, without the one in the middle.
        used_subcarriers: required u32 [1.0, 2048.0];
        /// OFDMA symbols in a frame, both directions.
        symbols_per_frame: required u32 [4.0, 1000.0];
        /// Transmit-to-receive gap at the base station.
        transmit_transition_gap_us: required f64 [0.0, 10000.0];
        /// Receive-to-transmit gap at the base station.
        receive_transition_gap_us: required f64 [0.0, 10000.0];
        /// Time a terminal needs from receiving to transmitting.
        terminal_turnaround_us: required f64 [0.0, 1000.0];
        /// Symbols of the uplink that carry ranging and reports.
        uplink_control_symbols: required u32 [0.0, 30.0];
        /// Repetition of the maps: 1, 2, 4 or 6.
        map_repetition: required u32 [1.0, 6.0];
    }
}

written_table! {
    /// Any TDD OFDM frame, by shares.
    pub struct GenericTddText {
        /// Share of the channel's width that carries signal.
        occupied_frac: required f64 [0.1, 1.0];
        /// Share of the frame spent in the guard period.
        guard_frac: required f64 [0.0, 0.9];
        /// Share of the symbols spent on pilots and control.
        overhead_frac: required f64 [0.0, 0.9];
        /// Length of the guard period.
        guard_period_us: required f64 [0.0, 10000.0];
        /// Time a terminal needs from receiving to transmitting.
        terminal_turnaround_us: required f64 [0.0, 1000.0];
        /// Share of what is sent that is neither retransmission nor MAC header.
        mac_efficiency_frac: required f64 [0.1, 1.0];
    }
}

written_table! {
    /// How two antennas at each end are used.
    pub struct MimoText {
        /// Gain of space-time coding over one transmitter at the same total power.
        space_time_coding_gain_db: optional f64 [0.0, 20.0] = 0.0;
        /// Whether the uplink may carry two streams.
        uplink_spatial_multiplexing: optional bool = false;
        /// Lowest SINR per stream at which spatial multiplexing is chosen.
        spatial_multiplexing_min_sinr_db: optional f64 [-10.0, 40.0] = 10.0;
        /// How far a receiver suppresses the other stream, on top of the isolation of antennas and mounting.
        stream_cancellation_db: optional f64 [0.0, 40.0] = 10.0;
    }
}

written_table! {
    /// One modulation and coding step.
    pub struct McsText {
        /// Name as the standard writes it, such as `64QAM 5/6`.
        name: required String;
        /// Modulation.
        modulation: required Modulation;
        /// Code rate: a number or a fraction in quotes.
        code_rate: required Ratio [0.01, 1.0];
        /// How many times the slot is repeated: 1, 2, 4 or 6.
        repetition: optional u32 [1.0, 6.0] = 1u32;
        /// Lowest SINR at the decoder, before the implementation margin.
        sinr_threshold_db: required f64 [-30.0, 60.0];
    }
}

written_choice!(Role {
    "base" => Role::Base,
    "terminal" => Role::Terminal,
    "point-to-point" => Role::PointToPoint,
});

written_table! {
    /// A rule set: what may be radiated. A starting point for a planning check, never legal advice.
    pub struct RuleSetText {
        /// Id by which the design refers to it.
        id: required String;
        /// What a person calls it.
        title: required String;
        /// When its figures were last compared with their sources.
        date_checked: required String;
        /// What a reader must be told before relying on it.
        caution: required String;
        /// The limits, one table each.
        rule: required Vec<At<RuleText>>;
    }
}

written_table! {
    /// One limit for one role in one part of the spectrum; an absent limit does not exist.
    pub struct RuleText {
        /// Id within the set.
        id: required String;
        /// Which end of a link it limits.
        role: required Role;
        /// Lower edge.
        lower_mhz: required f64 [1.0, 300000.0];
        /// Upper edge.
        upper_mhz: required f64 [1.0, 300000.0];
        /// Highest EIRP, all transmitters together.
        eirp_dbm: optional f64 [-50.0, 100.0];
        /// Highest EIRP density, all transmitters together.
        eirp_dbm_per_mhz: optional f64 [-80.0, 100.0];
        /// Highest conducted power, all transmitters together.
        conducted_dbm: optional f64 [-50.0, 100.0];
        /// Highest conducted power density, all transmitters together.
        conducted_dbm_per_mhz: optional f64 [-80.0, 100.0];
        /// Antenna gain up to which the conducted limit stands unreduced.
        gain_free_dbi: optional f64 [-20.0, 60.0];
        /// Reduction of the conducted limit per dB of gain beyond that; may be `"1/3"`.
        gain_slope_db_per_db: optional Ratio [0.0, 1.0];
        /// Elevation above which `elevation_eirp_dbm` holds.
        elevation_above_deg: optional f64 [-90.0, 90.0];
        /// Highest EIRP above that elevation.
        elevation_eirp_dbm: optional f64 [-50.0, 100.0];
        /// Whether the transmitters of one base count with their array gain.
        count_array_gain: optional bool = false;
        /// Highest antenna height above ground.
        max_height_agl_m: optional f64 [0.0, 1000.0];
        /// What else the rule asks for, in words.
        conditions: optional Vec<At<String>>;
        /// The text it comes from, with its date or edition.
        source: required String;
        /// How sure the source is.
        certainty: required String;
    }
}

written_choice!(Surface {
    "inland" => Surface::Inland,
    "coastal" => Surface::Coastal,
    "sea" => Surface::Sea,
});

written_table! {
    /// A land cover legend: codes and the clutter they stand for.
    pub struct LegendText {
        /// Id by which the design refers to it.
        id: required String;
        /// What a person calls it.
        name: required String;
        /// Where the heights come from, for every class that gives no source of its own.
        source: required String;
        /// Classes.
        classes: required Vec<At<LegendClassText>>;
    }
}

written_table! {
    /// One land cover class.
    pub struct LegendClassText {
        /// Value in the raster.
        code: required i32 [-32768.0, 65535.0];
        /// What a person calls it.
        name: required String;
        /// Representative clutter height above ground.
        height_m: required f64 [0.0, 100.0];
        /// Kind of surface for models that tell land from sea.
        surface: optional Surface = Surface::Inland;
        /// Where the height comes from.
        source: optional String;
    }
}
