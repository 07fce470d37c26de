//! What a change brings about.

use serde::Serialize;
use utoipa::ToSchema;

use super::Place;
use super::finding::Finding;
use super::premises::{Cause, Verdict};

/// What a change brings about: before and after.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Consequence {
    /// Counts before.
    pub before: Counts,
    /// Counts after.
    pub after: Counts,
    /// Premises that were unserved, or not there, and no longer are.
    pub gained: PremisesChanges,
    /// Premises that were served or doubtful and no longer are.
    pub lost: PremisesChanges,
    /// Premises that still are, but less surely: served before and doubtful
    /// after, or 1 dB of margin less.
    pub degraded: PremisesChanges,
    /// Premises that are more surely: doubtful before and served after, or 1 dB of margin more.
    pub improved: PremisesChanges,
    /// Sectors whose load, terminals or power change, or that come or go.
    pub sectors: Vec<SectorChange>,
    /// Findings that the change brings.
    pub new_findings: Vec<Finding>,
    /// Findings that it does away with.
    pub gone_findings: Vec<Finding>,
    /// The premises that was asked about; `null` where none was.
    pub premises: Option<PremisesChange>,
}

/// Counts of a network.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Counts {
    /// Premises in all.
    pub premises: usize,
    /// Premises whose plan is met surely enough.
    pub served: usize,
    /// Premises whose plan is met on the median only.
    pub doubtful: usize,
    /// Premises whose plan is not met.
    pub unserved: usize,
    /// Installations that may be expected to fail among the served and doubtful.
    pub expected_failed_installations: f64,
}

/// Premises that changed alike.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct PremisesChanges {
    /// How many.
    pub total: usize,
    /// The first of them, at most 1000, in the order of the design.
    pub premises: Vec<PremisesChange>,
}

/// One premises before and after.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PremisesChange {
    /// Id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// Where it stands, afterwards.
    pub position: Place,
    /// Before; `null` where it was not there.
    pub before: Option<PremisesState>,
    /// After; `null` where it no longer is.
    pub after: Option<PremisesState>,
}

/// How a premises fares.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PremisesState {
    /// The answer.
    pub verdict: Verdict,
    /// What holds it back; `null` where nothing does.
    pub cause: Option<Cause>,
    /// Sector that serves, or comes closest.
    pub sector: Option<String>,
    /// Smaller margin of the two directions.
    pub margin_db: Option<f64>,
    /// Probability that the installation meets its plan.
    pub probability_frac: Option<f64>,
    /// Rate at the Ethernet port, downlink.
    pub downlink_ethernet_rate_mbps: Option<f64>,
    /// Rate at the Ethernet port, uplink.
    pub uplink_ethernet_rate_mbps: Option<f64>,
}

/// One sector before and after.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SectorChange {
    /// Id.
    pub id: String,
    /// Before; `null` where it was not there.
    pub before: Option<SectorState>,
    /// After; `null` where it no longer is.
    pub after: Option<SectorState>,
}

/// How a sector fares.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct SectorState {
    /// Terminals served.
    pub terminals: u32,
    /// Share of the downlink in use at the busy hour.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink in use at the busy hour.
    pub uplink_airtime_frac: f64,
    /// Power of one chain after equipment and rules.
    pub power_per_chain_dbm: f64,
    /// EIRP of all chains on the antenna's axis.
    pub power_eirp_dbm: f64,
}
