//! The network: masts, sectors, premises, and what they share.

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::LonLat;
use serde::Serialize;

use crate::air_interface::{AirInterface, FrameSplit};
use crate::backhaul::Backhaul;
pub use crate::channel::Channel;
use crate::climate::FadingClimate;
use crate::equipment::{Antenna, BaseStation, Terminal};
use crate::ids::{MastId, PlanId, PremisesId, SectorId};
use crate::plan::ServicePlan;
use crate::rules::RuleSet;
use crate::settings::{GroundSources, PropagationSettings, StudySettings};

/// A whole design, resolved.
///
/// `masts`, `sectors` and `premises` keep the order of the design; a
/// sector's mast and a premises' plan exist by construction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Network {
    /// What a person calls the project.
    pub name: String,
    /// The territory.
    pub territory: Territory,
    /// What may be radiated.
    pub rule_set: Arc<RuleSet>,
    /// Masts, in the order of the design.
    pub masts: Vec<Mast>,
    /// Sectors, in the order of the design.
    pub sectors: Vec<Sector>,
    /// Hops between the masts, and where they meet the core.
    pub backhaul: Backhaul,
    /// Premises, in the order of their file.
    pub premises: Vec<Premises>,
    /// Service plans by id.
    pub plans: BTreeMap<PlanId, Arc<ServicePlan>>,
    /// Terminal and plan of a bare place that a person asks about; `None` where the design gives none.
    pub place_defaults: Option<PlaceDefaults>,
    /// Path-loss settings.
    pub propagation: PropagationSettings,
    /// What makes signals fade, at the middle of the territory; a hop has its own.
    pub climate: FadingClimate,
    /// Study settings.
    pub study: StudySettings,
    /// Where the ground comes from.
    pub ground: GroundSources,
}

impl Network {
    /// The mast of an id.
    pub fn mast(&self, id: &MastId) -> Option<&Mast> {
        self.masts.iter().find(|m| &m.id == id)
    }

    /// The sector of an id.
    pub fn sector(&self, id: &SectorId) -> Option<&Sector> {
        self.sectors.iter().find(|s| &s.id == id)
    }

    /// The premises of an id.
    pub fn premises(&self, id: &PremisesId) -> Option<&Premises> {
        self.premises.iter().find(|p| &p.id == id)
    }

    /// The same network with other premises; its own, which may be many, are not copied.
    #[must_use]
    pub fn with_premises(&self, premises: Vec<Premises>) -> Self {
        Self {
            premises,
            name: self.name.clone(),
            territory: self.territory.clone(),
            rule_set: Arc::clone(&self.rule_set),
            masts: self.masts.clone(),
            sectors: self.sectors.clone(),
            backhaul: self.backhaul.clone(),
            plans: self.plans.clone(),
            place_defaults: self.place_defaults.clone(),
            propagation: self.propagation.clone(),
            climate: self.climate,
            study: self.study.clone(),
            ground: self.ground.clone(),
        }
    }
}

/// What would stand at a place that is no premises of the design.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceDefaults {
    /// Radio and antenna.
    pub terminal: Arc<Terminal>,
    /// Plan.
    pub plan: Arc<ServicePlan>,
}

/// The territory a design covers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Territory {
    /// South-west corner.
    pub south_west: LonLat,
    /// North-east corner.
    pub north_east: LonLat,
    /// EPSG code of the working plane; a UTM zone.
    pub working_plane_epsg: u32,
}

/// A structure that carries radios.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mast {
    /// Id.
    pub id: MastId,
    /// What a person calls it.
    pub name: String,
    /// Where it stands.
    pub position: LonLat,
    /// Height of the structure above ground.
    pub height_agl_m: f64,
    /// Ground height that replaces the terrain's, where the design gives a surveyed one.
    pub ground_amsl_m: Option<f64>,
}

/// One base station behind one antenna on a mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sector {
    /// Id.
    pub id: SectorId,
    /// The mast that carries it.
    pub mast: MastId,
    /// Middle of the antenna above ground.
    pub height_agl_m: f64,
    /// Aim, clockwise from true north.
    pub azimuth_deg: f64,
    /// Mechanical downtilt, positive below the horizon.
    pub mechanical_downtilt_deg: f64,
    /// Electrical downtilt, positive below the horizon.
    pub electrical_downtilt_deg: f64,
    /// Antenna.
    pub antenna: Arc<Antenna>,
    /// Radio.
    pub base_station: Arc<BaseStation>,
    /// Air interface.
    pub air_interface: Arc<AirInterface>,
    /// How the frame is shared between the directions.
    pub split: FrameSplit,
    /// Whether its frames begin with the common time.
    pub synchronised: bool,
    /// Channel.
    pub channel: Channel,
    /// Power of one transmit chain that the design asks for, before rules and back-off.
    pub tx_power_per_chain_dbm: f64,
    /// Loss between radio and antenna.
    pub feeder_loss_db: f64,
}

/// What stands around a terminal, as far as the rasters do not show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Mounting {
    /// In the open, on a roof or a mast: only what the rasters show.
    #[default]
    Open,
    /// Outside, well below the roofs of a town or suburb (ITU-R P.2108).
    BelowRoofs,
    /// Behind walls and windows without metal layers (ITU-R P.2109).
    IndoorTraditional,
    /// Behind metallised glass or foil-backed insulation (ITU-R P.2109).
    IndoorEfficient,
}

impl Mounting {
    /// Every mounting, as a design writes it.
    pub const NAMES: [(&'static str, Self); 4] = [
        ("open", Self::Open),
        ("below-roofs", Self::BelowRoofs),
        ("indoor-traditional", Self::IndoorTraditional),
        ("indoor-efficient", Self::IndoorEfficient),
    ];
}

/// A home, farm or business.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Premises {
    /// Id.
    pub id: PremisesId,
    /// What a person calls it; may be empty.
    pub name: String,
    /// Where it stands.
    pub position: LonLat,
    /// Height of the terminal's antenna above ground.
    pub mount_height_agl_m: f64,
    /// What stands around its terminal.
    pub mounting: Mounting,
    /// The plan it would buy.
    pub plan: Arc<ServicePlan>,
    /// Radio and antenna it would get.
    pub terminal: Arc<Terminal>,
    /// Higher is kept first when a sector runs out of airtime.
    pub priority: i32,
    /// A sector that a person has chosen, which binds.
    pub fixed_sector: Option<SectorId>,
    /// People who live or work there; `None` where nobody has counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub people: Option<f64>,
}
