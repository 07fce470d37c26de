//! The project as a whole.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::change::History;
use super::consequence::Counts;
use super::{Bounds, Place};

/// The project as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Project {
    /// Version of the program.
    pub version: String,
    /// What has to stand beside every result.
    pub caution: String,
    /// Name of the folder, without the way to it.
    pub folder: String,
    /// How far the folder has come.
    pub state: ProjectState,
    /// Name that the design gives itself.
    pub name: String,
    /// Content of the design's texts, as a hash; every change gives another.
    pub revision: String,
    /// How far the study has come.
    pub study: StudyState,
    /// Counts of the latest study; `null` before the first.
    pub counts: Option<Counts>,
    /// The territory; `null` where the design cannot be used.
    pub territory: Option<Bounds>,
    /// EPSG code of the working plane.
    pub working_plane_epsg: Option<u32>,
    /// What may be radiated.
    pub rule_set: Option<RuleSet>,
    /// Service plans.
    pub plans: Vec<Plan>,
    /// Mount height of a premises that names none.
    pub mount_height_agl_m: f64,
    /// Where the premises come from: `premises.csv`, `premises.geojson`,
    /// `premises.gpkg`; empty where there are none. Only CSV can be changed here.
    pub premises_file: String,
    /// Rasters and other data that the answers rest on.
    pub data_sources: Vec<DataSource>,
    /// Errors among the findings.
    pub errors: usize,
    /// Warnings among the findings.
    pub warnings: usize,
    /// What can be taken back and done again.
    pub history: History,
    /// Address of map tiles that the person configured, with `{z}`, `{x}`, `{y}`; `null` for none.
    pub tile_address: Option<String>,
    /// Whether this is the example that ships with the program.
    pub is_demo: bool,
}

/// How far a folder has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProjectState {
    /// There is no design yet.
    Empty,
    /// There is one, but it cannot be used: see the findings.
    Unusable,
    /// There is one.
    Ready,
}

/// How far a study has come.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum StudyState {
    /// There is nothing to study.
    None,
    /// At work.
    Running {
        /// Its job, which can be cancelled.
        job: u64,
    },
    /// Done, of the design as it stands.
    Current,
    /// Cancelled or failed; the answers are those of an earlier revision, or none.
    Stale {
        /// Why.
        reason: String,
    },
}

/// What may be radiated.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RuleSet {
    /// Id.
    pub id: String,
    /// What a person calls it.
    pub title: String,
    /// When its figures were last compared with their sources.
    pub date_checked: String,
    /// What a reader must be told before relying on it.
    pub caution: String,
    /// Its bands.
    pub bands: Vec<Band>,
}

/// One limit of a rule set.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Band {
    /// Id of the rule.
    pub id: String,
    /// `base`, `terminal` or `point-to-point`.
    pub role: String,
    /// Lower edge.
    pub lower_mhz: f64,
    /// Upper edge.
    pub upper_mhz: f64,
    /// Highest EIRP, all transmitters together.
    pub eirp_dbm: Option<f64>,
    /// Highest EIRP density.
    pub eirp_dbm_per_mhz: Option<f64>,
    /// Highest conducted power.
    pub conducted_dbm: Option<f64>,
    /// Highest antenna height above ground.
    pub max_height_agl_m: Option<f64>,
    /// What else the rule asks for.
    pub conditions: Vec<String>,
    /// The text it comes from.
    pub source: String,
    /// How sure the figures are.
    pub certainty: String,
}

/// A service plan.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Plan {
    /// Id.
    pub id: String,
    /// What the customer calls it.
    pub name: String,
    /// Scheduling class.
    pub scheduling_class: String,
    /// Peak rate sold, towards the customer.
    pub downlink_mbps: f64,
    /// Peak rate sold, from the customer.
    pub uplink_mbps: f64,
    /// Probability with which an installation must meet the plan.
    pub target_probability_frac: f64,
}

/// A data set that the answers rest on.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DataSource {
    /// `terrain`, `land cover` or `canopy height`.
    pub kind: String,
    /// File, relative to the project folder.
    pub file: String,
    /// What was read of it.
    pub description: String,
}

/// Cards that a design can name, the project's own and those that ship.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Catalogue {
    /// Antennas of sectors.
    pub antennas: Vec<Card>,
    /// Radios of sectors.
    pub base_stations: Vec<Card>,
    /// Radios and antennas of premises.
    pub terminals: Vec<Card>,
    /// Air interfaces.
    pub air_interfaces: Vec<Card>,
    /// Rule sets.
    pub rule_sets: Vec<Card>,
}

/// A card.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Card {
    /// Id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// Lower edge of its band; `null` where it has none.
    pub lower_mhz: Option<f64>,
    /// Upper edge of its band.
    pub upper_mhz: Option<f64>,
    /// Gain of its antenna.
    pub gain_dbi: Option<f64>,
    /// Highest power of one chain.
    pub max_tx_power_per_chain_dbm: Option<f64>,
    /// Width of its channel.
    pub channel_width_mhz: Option<f64>,
    /// Where its figures come from.
    pub source: String,
}

/// A design to begin with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// Name of the project.
    pub name: String,
    /// Id of a rule set.
    pub rule_set: String,
    /// Id of an air interface.
    pub air_interface: String,
    /// Middle of the first sector's channel.
    pub channel_centre_mhz: f64,
    /// Id of an antenna card.
    pub antenna: String,
    /// Id of a base station card.
    pub base_station: String,
    /// Id of a terminal card.
    pub terminal: String,
    /// Id of the first mast.
    pub mast_id: String,
    /// Where it stands.
    pub mast_position: Place,
    /// Its height above ground.
    #[schema(minimum = 1, maximum = 700)]
    pub mast_height_agl_m: f64,
    /// How many sectors it gets, evenly around.
    #[schema(minimum = 1, maximum = 12)]
    pub sectors: u8,
}

/// What is at a place.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Spot {
    /// Where.
    pub position: Place,
    /// Ground above sea level; `null` where it is unknown.
    pub ground_amsl_m: Option<f64>,
    /// Land cover in words; `null` where it is unknown.
    pub land_cover: Option<String>,
    /// Height of the clutter that the land cover stands for.
    pub clutter_height_m: Option<f64>,
    /// Height of the trees; `null` where none are mapped.
    pub canopy_height_m: Option<f64>,
}
