//! Link adaptation: every way in which a link can carry data in one
//! direction, with the SINR it asks for and the rate it gives.
//!
//! A step is a MIMO mode, a modulation and coding, and (uplink) the number of
//! subchannels in which a terminal concentrates its power. The SINR on which
//! steps are compared is that of one stream at one receive port, with the
//! transmit chain at full power and the whole channel in use; back-off,
//! combining, stream separation and concentration are folded into each step's
//! requirement, so that one number decides.

use model::air_interface::{AirInterface, FrameSplit};
use model::equipment::{BackOff, back_off_db};
use physics::levels;
use serde::Serialize;

use crate::frame::{self, Direction, DirectionFrame};
use crate::polarization::PortMatch;

/// How the antennas of a link are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MimoMode {
    /// One transmit chain.
    SingleStream,
    /// Two chains send the same data, coded over two symbols.
    SpaceTimeCoding,
    /// Two chains send different data.
    SpatialMultiplexing,
}

impl MimoMode {
    /// Data streams sent at once.
    pub fn streams(self) -> u32 {
        match self {
            MimoMode::SingleStream | MimoMode::SpaceTimeCoding => 1,
            MimoMode::SpatialMultiplexing => 2,
        }
    }

    /// What a person reads.
    pub fn name(self) -> &'static str {
        match self {
            MimoMode::SingleStream => "single stream",
            MimoMode::SpaceTimeCoding => "space-time coding",
            MimoMode::SpatialMultiplexing => "spatial multiplexing",
        }
    }
}

/// The two ends of a link as far as adaptation is concerned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkKind<'a> {
    /// Air interface of the sector.
    pub air_interface: &'a AirInterface,
    /// How the sector shares its frame.
    pub split: FrameSplit,
    /// Which way.
    pub direction: Direction,
    /// Transmit chains (1 or 2).
    pub tx_chains: u8,
    /// Receive chains (1 or 2).
    pub rx_chains: u8,
    /// Back-off of the transmitter from its highest power.
    pub back_off: &'a [BackOff],
    /// How far below its highest power the transmitter runs anyway: back-off up to this costs nothing.
    pub power_headroom_db: f64,
    /// How the ports of the two ends meet.
    pub ports: PortMatch,
    /// Margin kept above every threshold.
    pub fade_margin_db: f64,
}

/// One way to carry data.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// MIMO mode.
    pub mode: MimoMode,
    /// Index into the air interface's modulation and coding steps.
    pub mcs: usize,
    /// Share of the channel in use: below 1 where an uplink concentrates its power.
    pub bandwidth_frac: f64,
    /// SINR of one stream at one port at which the step holds; infinite where the streams cannot be told apart.
    pub required_sinr_db: f64,
    /// Rate on the air with the whole direction of the frame to itself.
    pub phy_rate_mbps: f64,
    /// Rate at the Ethernet port, the same.
    pub ethernet_rate_mbps: f64,
}

/// Every step of a kind of link, fastest first.
#[derive(Debug, Clone, PartialEq)]
pub struct StepTable {
    steps: Vec<Step>,
}

impl StepTable {
    /// Works out every step of a kind of link.
    pub fn new(kind: &LinkKind<'_>) -> Self {
        let mut steps = Vec::new();
        for mode in modes(kind) {
            for mcs in 0..kind.air_interface.mcs.len() {
                for bandwidth_frac in concentrations(kind) {
                    steps.extend(step(kind, (mode, mcs), bandwidth_frac));
                }
            }
        }
        // Fastest first; among equals the one that asks for least comes first.
        steps.sort_by(|a, b| {
            b.ethernet_rate_mbps
                .total_cmp(&a.ethernet_rate_mbps)
                .then(a.required_sinr_db.total_cmp(&b.required_sinr_db))
        });
        Self { steps }
    }

    /// The steps, fastest first.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The fastest step that a SINR carries.
    pub fn best_at(&self, sinr_db: f64) -> Option<&Step> {
        self.steps.iter().find(|s| s.required_sinr_db <= sinr_db)
    }

    /// The least SINR at which some step gives at least `rate_mbps`.
    pub fn required_for_db(&self, rate_mbps: f64) -> Option<f64> {
        self.steps
            .iter()
            .take_while(|s| s.ethernet_rate_mbps >= rate_mbps)
            .map(|s| s.required_sinr_db)
            .min_by(f64::total_cmp)
    }

    /// The step that takes least of the channel for its data, among those that
    /// a SINR carries and that give at least `rate_mbps`.
    ///
    /// A scheduler with other terminals to serve lets a weak one concentrate
    /// its power in few subchannels, where a faster modulation holds.
    pub fn leanest_at(&self, sinr_db: f64, rate_mbps: f64) -> Option<&Step> {
        self.steps
            .iter()
            .filter(|s| s.required_sinr_db <= sinr_db && s.ethernet_rate_mbps >= rate_mbps)
            .min_by(|a, b| a.channel_per_mbps().total_cmp(&b.channel_per_mbps()))
    }
}

impl Step {
    /// Share of the channel's capacity that one megabit a second takes.
    pub fn channel_per_mbps(&self) -> f64 {
        self.bandwidth_frac / self.ethernet_rate_mbps
    }
}

/// One step; `None` where it cannot hold at any SINR, carries nothing, or is
/// below what the card asks for separate streams.
fn step(kind: &LinkKind<'_>, (mode, mcs): (MimoMode, usize), bandwidth_frac: f64) -> Option<Step> {
    let card = kind.air_interface;
    let profile = &card.mcs[mcs];
    let decoder_db = profile.sinr_threshold_db + card.implementation_margin_db;
    let separate = mode == MimoMode::SpatialMultiplexing;
    if separate && decoder_db < card.mimo.spatial_multiplexing_min_sinr_db {
        return None;
    }
    let frame = DirectionFrame::new(card, kind.split, kind.direction);
    let phy_rate_mbps = frame.phy_rate_mbps(profile, mode.streams()) * bandwidth_frac;
    let required_sinr_db = required_port_sinr_db(mode, decoder_db, kind)
        + kind.fade_margin_db
        + (back_off_db(kind.back_off, profile.modulation) - kind.power_headroom_db).max(0.0)
        + levels::ratio_to_db(bandwidth_frac);
    (required_sinr_db.is_finite() && phy_rate_mbps > 0.0).then(|| Step {
        mode,
        mcs,
        bandwidth_frac,
        required_sinr_db,
        phy_rate_mbps,
        ethernet_rate_mbps: frame::ethernet_rate_mbps(card, phy_rate_mbps),
    })
}

/// Modes that the chains of a link allow.
fn modes(kind: &LinkKind<'_>) -> Vec<MimoMode> {
    if kind.tx_chains < 2 {
        return vec![MimoMode::SingleStream];
    }
    let streams_allowed = kind.direction == Direction::Downlink
        || kind.air_interface.mimo.uplink_spatial_multiplexing;
    if kind.rx_chains >= 2 && streams_allowed && kind.ports.stream_isolation_db.is_some() {
        vec![MimoMode::SpaceTimeCoding, MimoMode::SpatialMultiplexing]
    } else {
        vec![MimoMode::SpaceTimeCoding]
    }
}

/// Shares of the channel in which a direction may concentrate its power.
fn concentrations(kind: &LinkKind<'_>) -> Vec<f64> {
    let subchannels = frame::uplink_subchannels(kind.air_interface);
    if kind.direction == Direction::Downlink || subchannels <= 1 {
        return vec![1.0];
    }
    let least = kind
        .air_interface
        .min_uplink_subchannels
        .clamp(1, subchannels);
    let mut counts = vec![subchannels];
    while let Some(&last) = counts.last() {
        if last <= least {
            break;
        }
        counts.push((last / 2).max(least));
    }
    counts
        .into_iter()
        .map(|n| f64::from(n) / f64::from(subchannels))
        .collect()
}

/// SINR of one stream at one port at which the decoder sees `decoder_db`.
///
/// A receiver with two ports combines them, and space-time coding sums the
/// power of every way between the antennas (Alamouti); separated streams keep
/// their own level and hear the other as interference.
fn required_port_sinr_db(mode: MimoMode, decoder_db: f64, kind: &LinkKind<'_>) -> f64 {
    let ports = &kind.ports;
    let receivers = f64::from(kind.rx_chains.clamp(1, 2));
    match mode {
        MimoMode::SingleStream if receivers > 1.0 => decoder_db - ports.both_ports_db,
        MimoMode::SingleStream => decoder_db,
        MimoMode::SpaceTimeCoding => {
            // All ways are those of two receivers; one hears half of them.
            let heard_db = ports.all_ways_db + levels::ratio_to_db(receivers / 2.0);
            decoder_db - heard_db - kind.air_interface.mimo.space_time_coding_gain_db
        }
        MimoMode::SpatialMultiplexing => {
            let Some(isolation_db) = ports.stream_isolation_db else {
                return f64::INFINITY;
            };
            // The inverse of 1/SINR = 1/port + 1/isolation. Isolation does not
            // fade with the signal, so the fade margin stays outside.
            let isolation_db = isolation_db + kind.air_interface.mimo.stream_cancellation_db;
            let noise_share = levels::db_to_ratio(-decoder_db) - levels::db_to_ratio(-isolation_db);
            if noise_share > 0.0 {
                -levels::ratio_to_db(noise_share)
            } else {
                f64::INFINITY
            }
        }
    }
}
