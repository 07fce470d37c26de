//! Backhaul: the hops between masts that carry the network's load to its core.

use std::sync::Arc;

use serde::Serialize;

use crate::channel::Channel;
use crate::climate::FadingClimate;
use crate::equipment::Antenna;
use crate::ids::{EquipmentId, HopId, MastId};
use crate::rules::RuleSet;

/// The backhaul of a network; one without hops where the design has none.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Backhaul {
    /// Masts at which the network meets its core.
    pub core: Vec<MastId>,
    /// Hops, in the order of the design; both masts of each exist.
    pub hops: Vec<Hop>,
}

/// A fixed link between two masts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hop {
    /// Id.
    pub id: HopId,
    /// The end that the design names first.
    pub from: HopEnd,
    /// The other end.
    pub to: HopEnd,
    /// Channel, the same in both directions or the upper one of a pair.
    pub channel: Channel,
    /// Polarization.
    pub polarization: HopPolarization,
    /// Radio at both ends.
    pub radio: Arc<HopRadio>,
    /// How the radio picks its step.
    pub modulation: HopModulation,
    /// Power that the design asks for, before the rules and the step's own limit.
    pub tx_power_dbm: f64,
    /// Angle by which each antenna may be off after it was peaked on the received level.
    pub pointing_error_deg: f64,
    /// What may be radiated.
    pub rule_set: Arc<RuleSet>,
    /// Weather along the hop.
    pub climate: FadingClimate,
    /// Share of an average year for which the hop must carry its lowest step.
    pub availability_target_pct: f64,
}

impl Hop {
    /// Whether a mast carries one of its ends.
    pub fn touches(&self, mast: &MastId) -> bool {
        &self.from.mast == mast || &self.to.mast == mast
    }
}

/// One end of a hop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopEnd {
    /// The mast that carries it.
    pub mast: MastId,
    /// Middle of the antenna above ground.
    pub height_agl_m: f64,
    /// Antenna, aimed at the other end.
    pub antenna: Arc<Antenna>,
    /// Loss between radio and antenna.
    pub feeder_loss_db: f64,
}

/// Polarization of a hop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum HopPolarization {
    /// The electric field stands upright: rain weakens it least.
    #[default]
    Vertical,
    /// The electric field lies flat.
    Horizontal,
}

impl HopPolarization {
    /// The word as the design writes it.
    pub fn name(self) -> &'static str {
        match self {
            HopPolarization::Vertical => "vertical",
            HopPolarization::Horizontal => "horizontal",
        }
    }
}

/// How a radio picks its step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase", tag = "kind", content = "step")]
pub enum HopModulation {
    /// The fastest step that the level of the moment bears.
    Adaptive,
    /// Always the same one: index into [`HopRadio::steps`].
    Fixed(usize),
}

/// The radio of a hop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopRadio {
    /// Card id.
    pub id: EquipmentId,
    /// What a person calls it.
    pub name: String,
    /// Lowest frequency it tunes to.
    pub lower_mhz: f64,
    /// Highest frequency it tunes to.
    pub upper_mhz: f64,
    /// Receiver noise figure.
    pub noise_figure_db: f64,
    /// Whether it can change its step from moment to moment.
    pub adaptive: bool,
    /// Modulation steps in rising order of capacity; at least one.
    pub steps: Vec<HopStep>,
    /// Where the card's figures come from.
    pub source: String,
}

impl HopRadio {
    /// Highest power of any step.
    pub fn max_tx_power_dbm(&self) -> f64 {
        self.steps
            .iter()
            .map(|s| s.max_tx_power_dbm)
            .fold(f64::NEG_INFINITY, f64::max)
    }
}

/// One modulation step of a hop's radio.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopStep {
    /// Name, such as `64QAM`.
    pub name: String,
    /// What it needs at a bit error ratio of 1e-6.
    pub threshold: HopThreshold,
    /// Rate at the Ethernet port, each direction, per megahertz of channel.
    pub rate_mbps_per_mhz: f64,
    /// Highest power at this step.
    pub max_tx_power_dbm: f64,
}

/// What a step needs at a bit error ratio of 1e-6.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum HopThreshold {
    /// A ratio of signal to noise.
    Snr {
        /// The ratio.
        required_snr_db: f64,
    },
    /// A received level, as data sheets give it for one width.
    Level {
        /// The level.
        threshold_dbm: f64,
        /// Channel width that it was given for.
        threshold_width_mhz: f64,
    },
}
