//! Radios and antennas, as their cards describe them.

use std::sync::Arc;

use serde::Serialize;

use crate::air_interface::Modulation;
use crate::channel::Channel;
use crate::ids::EquipmentId;

/// An antenna: its peak gain and how the gain falls off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Antenna {
    /// Card id.
    pub id: EquipmentId,
    /// What a person calls it.
    pub name: String,
    /// Peak gain of one port.
    pub gain_dbi: f64,
    /// How the gain falls off.
    pub pattern: PatternSpec,
    /// The two polarizations of a dual-polarized antenna.
    pub polarization: PolarizationPair,
    /// Cross-polar discrimination on axis: isolation between its two ports' polarizations.
    pub cross_polar_discrimination_db: f64,
    /// Where the card's figures come from.
    pub source: String,
}

/// How an antenna's two ports are polarized.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PolarizationPair {
    /// Horizontal and vertical.
    HorizontalVertical,
    /// Plus and minus 45 degrees.
    DualSlant,
    /// Both ports vertical: no polarization diversity.
    VerticalOnly,
    /// Both ports horizontal: no polarization diversity.
    HorizontalOnly,
}

/// Which pattern formula or table gives the gain away from the axis.
///
/// The formulas live in `physics::antenna`; this only names one and its figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "formula")]
pub enum PatternSpec {
    /// The same gain everywhere.
    Isotropic,
    /// Recommendation ITU-R F.1336, sector antenna.
    F1336Sector {
        /// Half-power beamwidth in azimuth.
        beamwidth_h_deg: f64,
        /// Half-power beamwidth in elevation.
        beamwidth_v_deg: f64,
        /// Side lobes: peak envelope or average.
        side_lobes: SideLobes,
        /// Improved side-lobe performance (`true`) or typical.
        improved: bool,
    },
    /// Recommendation ITU-R F.1336, omnidirectional antenna.
    F1336Omni {
        /// Half-power beamwidth in elevation.
        beamwidth_v_deg: f64,
        /// Side lobes: peak envelope or average.
        side_lobes: SideLobes,
        /// Improved side-lobe performance (`true`) or typical.
        improved: bool,
    },
    /// 3GPP TR 38.901 antenna element.
    Tr38901Element {
        /// Half-power beamwidth in azimuth.
        beamwidth_h_deg: f64,
        /// Half-power beamwidth in elevation.
        beamwidth_v_deg: f64,
        /// Side-lobe level limit in elevation.
        side_lobe_limit_db: f64,
        /// Front-to-back limit.
        front_to_back_db: f64,
    },
    /// Recommendation ITU-R F.1245, dish, average side lobes.
    F1245Dish {
        /// Dish diameter over wavelength; `None` derives it from the gain.
        diameter_wavelengths: Option<f64>,
    },
    /// Recommendation ITU-R F.699, dish, peak side-lobe envelope.
    F699Dish {
        /// Dish diameter over wavelength; `None` derives it from the gain.
        diameter_wavelengths: Option<f64>,
    },
    /// Measured or specified cuts through the peak.
    Cuts {
        /// Loss below the peak in the horizontal plane.
        horizontal: Vec<CutPoint>,
        /// Loss below the peak in the vertical plane.
        vertical: Vec<CutPoint>,
        /// Nearly the same in every plane through the axis (dish, panel), or a sector.
        near_symmetric: bool,
    },
}

/// Whether a pattern formula gives the envelope of the side lobes or their average.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SideLobes {
    /// Envelope of the peaks: one interferer.
    Peak,
    /// Average level: the sum of many interferers.
    Average,
}

/// One point of a pattern cut.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CutPoint {
    /// Angle from the axis: clockwise seen from above, or upwards.
    pub angle_deg: f64,
    /// Loss below the peak, at least zero.
    pub loss_db: f64,
}

/// How far the transmit power has to be backed off for a modulation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BackOff {
    /// The modulation it applies to.
    pub modulation: Modulation,
    /// Reduction of the power per chain.
    pub back_off_db: f64,
}

/// The radio at the mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BaseStation {
    /// Card id.
    pub id: EquipmentId,
    /// What a person calls it.
    pub name: String,
    /// Lower end of what it tunes to.
    pub lower_mhz: f64,
    /// Upper end of what it tunes to.
    pub upper_mhz: f64,
    /// Highest power of one transmit chain.
    pub max_tx_power_per_chain_dbm: f64,
    /// Lowest power of one transmit chain.
    pub min_tx_power_per_chain_dbm: f64,
    /// Transmit and receive chains (1 or 2).
    pub chains: u8,
    /// Power back-off by modulation; a modulation not listed has none.
    pub back_off: Vec<BackOff>,
    /// Receiver noise figure.
    pub noise_figure_db: f64,
    /// Rejection of an adjacent channel of the same width: transmitter leakage and receiver selectivity together.
    pub adjacent_channel_rejection_db: f64,
    /// Largest number of terminals.
    pub max_terminals: u32,
    /// Largest sum of both directions at the Ethernet port.
    pub max_aggregate_mbps: f64,
    /// Largest packet rate, both directions together.
    pub max_packets_per_s: f64,
    /// What keeps the time when the common one is lost.
    pub oscillator: Oscillator,
    /// Where the card's figures come from.
    pub source: String,
}

/// The oscillator of a base station, once it has to do without the common time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Oscillator {
    /// Error of its frequency at the moment of the loss, in parts of 10⁹.
    pub offset_ppb: f64,
    /// Ageing, in parts of 10⁹ a day.
    pub ageing_ppb_per_day: f64,
}

/// The radio and antenna at the premises.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Terminal {
    /// Card id.
    pub id: EquipmentId,
    /// What a person calls it.
    pub name: String,
    /// Its antenna.
    pub antenna: Arc<Antenna>,
    /// Lower end of what it tunes to.
    pub lower_mhz: f64,
    /// Upper end of what it tunes to.
    pub upper_mhz: f64,
    /// Highest power of one transmit chain.
    pub max_tx_power_per_chain_dbm: f64,
    /// Lowest power of one transmit chain: the floor of uplink power control.
    pub min_tx_power_per_chain_dbm: f64,
    /// Transmit chains (1 or 2).
    pub tx_chains: u8,
    /// Receive chains (1 or 2).
    pub rx_chains: u8,
    /// Power back-off by modulation; a modulation not listed has none.
    pub back_off: Vec<BackOff>,
    /// Receiver noise figure.
    pub noise_figure_db: f64,
    /// Loss between radio and antenna.
    pub feeder_loss_db: f64,
    /// Angle by which an installer's aim may be off, in any direction.
    pub pointing_error_deg: f64,
    /// Rotation about the axis by which an installer's mounting may be off.
    pub roll_error_deg: f64,
    /// Rejection of an adjacent channel of the same width.
    pub adjacent_channel_rejection_db: f64,
    /// Price relative to the design's currency; 0 where unknown.
    pub price: f64,
    /// Where the card's figures come from.
    pub source: String,
}

/// Back-off that a table gives for a modulation; none where it is not listed.
pub fn back_off_db(table: &[BackOff], modulation: Modulation) -> f64 {
    table
        .iter()
        .find(|row| row.modulation == modulation)
        .map_or(0.0, |row| row.back_off_db)
}

impl BaseStation {
    /// Whether it tunes to the whole of a channel.
    pub fn tunes_to(&self, channel: &Channel) -> bool {
        self.lower_mhz <= channel.lower_mhz() && channel.upper_mhz() <= self.upper_mhz
    }
}

impl Terminal {
    /// Whether it tunes to the whole of a channel.
    pub fn tunes_to(&self, channel: &Channel) -> bool {
        self.lower_mhz <= channel.lower_mhz() && channel.upper_mhz() <= self.upper_mhz
    }
}
