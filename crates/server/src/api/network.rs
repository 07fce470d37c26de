//! The network as the map draws it.

use serde::Serialize;
use utoipa::ToSchema;

use super::Place;
use super::premises::{Cause, Verdict};

/// Everything that the map draws.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Network {
    /// Revision of the design.
    pub revision: String,
    /// Revision that the verdicts are of; `null` before the first study.
    pub study_revision: Option<String>,
    /// Masts.
    pub masts: Vec<Mast>,
    /// Sectors.
    pub sectors: Vec<SectorMark>,
    /// Hops between masts.
    pub hops: Vec<HopMark>,
    /// Premises, column by column, equal lengths.
    pub premises: PremisesMarks,
}

/// A mast.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Mast {
    /// Id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// Where it stands.
    pub position: Place,
    /// Height above ground.
    pub height_agl_m: f64,
    /// Surveyed ground height, where the design gives one.
    pub ground_amsl_m: Option<f64>,
}

/// A sector as the map draws it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SectorMark {
    /// Id.
    pub id: String,
    /// The mast that carries it.
    pub mast: String,
    /// Where that stands.
    pub position: Place,
    /// Aim, clockwise from true north.
    pub azimuth_deg: f64,
    /// Width of its beam at half power; 360 for all around.
    pub beamwidth_deg: f64,
    /// Mechanical downtilt.
    pub mechanical_downtilt_deg: f64,
    /// Electrical downtilt.
    pub electrical_downtilt_deg: f64,
    /// Height of the antenna above ground.
    pub height_agl_m: f64,
    /// Middle of the channel.
    pub channel_centre_mhz: f64,
    /// Width of the channel.
    pub channel_width_mhz: f64,
    /// Power of one chain that the design asks for.
    pub tx_power_per_chain_dbm: f64,
    /// Terminals served; `null` before the first study.
    pub terminals: Option<u32>,
    /// Larger share of the two directions in use at the busy hour.
    pub airtime_frac: Option<f64>,
    /// Farthest premises served.
    pub farthest_served_m: Option<f64>,
}

/// A hop as the map draws it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HopMark {
    /// Id.
    pub id: String,
    /// One end.
    pub from: String,
    /// The other.
    pub to: String,
}

/// Premises column by column: row `i` of each column is one premises.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct PremisesMarks {
    /// Ids.
    pub id: Vec<String>,
    /// What a person calls them.
    pub name: Vec<String>,
    /// Longitudes.
    pub lon_deg: Vec<f64>,
    /// Latitudes.
    pub lat_deg: Vec<f64>,
    /// Answers; `null` before the first study.
    pub verdict: Vec<Option<Verdict>>,
    /// What holds them back.
    pub cause: Vec<Option<Cause>>,
    /// Index into the list of sectors of the one that serves, or comes closest.
    pub sector: Vec<Option<usize>>,
    /// Smaller margin of the two directions.
    pub margin_db: Vec<Option<f64>>,
}
