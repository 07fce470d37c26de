//! One sector on a sheet.

use serde::Serialize;
use utoipa::ToSchema;

use super::finding::Finding;
use super::network::SectorMark;

/// One sector on a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SectorSheet {
    /// Revision of the design.
    pub revision: String,
    /// As designed.
    pub sector: SectorMark,
    /// Antenna card.
    pub antenna: String,
    /// Base station card.
    pub base_station: String,
    /// Air interface card.
    pub air_interface: String,
    /// Loss between radio and antenna.
    pub feeder_loss_db: f64,
    /// Share of the frame that the downlink has.
    pub downlink_share_frac: Option<f64>,
    /// As studied; `null` before the first study.
    pub study: Option<SectorStudy>,
    /// Airtime by scheduling class; empty before the first study.
    pub airtime_by_class: Vec<ClassAirtime>,
    /// How many more of each plan fit, with the sector's median link; empty
    /// before the first study and without customers.
    pub room: Vec<PlanRoom>,
    /// Sectors in the same or a touching channel.
    pub channel_neighbours: Vec<ChannelNeighbour>,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// What the study says of a sector.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SectorStudy {
    /// Power of one chain that the design asks for.
    pub requested_per_chain_dbm: f64,
    /// Power of one chain after equipment and rules.
    pub per_chain_dbm: f64,
    /// EIRP of all chains on the antenna's axis.
    pub eirp_dbm: f64,
    /// The rule that binds; `null` where the request stands.
    pub bound_by: Option<String>,
    /// How much the rule takes away.
    pub reduction_db: f64,
    /// Whether the rules of the set cover the channel.
    pub is_covered: bool,
    /// Terminals served.
    pub terminals: u32,
    /// Most terminals that the radio holds.
    pub max_terminals: u32,
    /// Share of the downlink in use at the busy hour.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink in use at the busy hour.
    pub uplink_airtime_frac: f64,
    /// Highest airtime that the design lets a sector carry.
    pub max_airtime_frac: f64,
    /// Traffic towards the customers.
    pub downlink_mbps: f64,
    /// Traffic from the customers.
    pub uplink_mbps: f64,
    /// Premises whose plan is met surely enough.
    pub served: usize,
    /// Premises whose plan is met on the median only.
    pub doubtful: usize,
    /// Farthest premises served.
    pub farthest_served_m: f64,
    /// Farthest terminal that the guard time allows.
    pub guard_range_m: f64,
    /// Mean uplink interference at one port; `null` where there is none.
    pub uplink_interference_dbm: Option<f64>,
    /// Noise of one receive chain.
    pub uplink_noise_dbm: f64,
}

/// Airtime of one scheduling class.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ClassAirtime {
    /// Scheduling class, as IEEE 802.16 abbreviates it.
    pub scheduling_class: String,
    /// Terminals.
    pub terminals: u32,
    /// Traffic towards the customers at the busy hour.
    pub downlink_mbps: f64,
    /// Traffic from the customers at the busy hour.
    pub uplink_mbps: f64,
    /// Share of the downlink that it takes.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink that it takes.
    pub uplink_airtime_frac: f64,
}

/// How many more of a plan fit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanRoom {
    /// The plan.
    pub plan: String,
    /// How many more.
    pub more: u32,
}

/// A sector in the same or a touching channel.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ChannelNeighbour {
    /// Its id.
    pub sector: String,
    /// How far away its mast is.
    pub distance_m: f64,
    /// Middle of its channel.
    pub channel_centre_mhz: f64,
    /// Width of the spectrum that both use; 0 where the channels only touch.
    pub overlap_mhz: f64,
}
