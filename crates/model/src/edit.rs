//! Every possible change to a network, as a value with an inverse.
//!
//! A drag on a map, a solver's proposal and an import are lists of
//! [`Edit`]; applying one returns the edit that undoes it.

use std::sync::Arc;

use serde::Serialize;

use crate::ids::{PlanId, PremisesId, SectorId};
use crate::network::{Network, Premises, Sector};

/// One change.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "edit")]
pub enum Edit {
    /// Set a number of a sector.
    Sector {
        /// The sector.
        sector: SectorId,
        /// Which number.
        field: SectorField,
        /// Its new value, in the unit of the field's name.
        value: f64,
    },
    /// Set a premises' mount height.
    PremisesMountHeight {
        /// The premises.
        premises: PremisesId,
        /// New height above ground.
        mount_height_agl_m: f64,
    },
    /// Set a premises' plan.
    PremisesPlan {
        /// The premises.
        premises: PremisesId,
        /// New plan.
        plan: PlanId,
    },
}

/// The numbers of a sector that can be edited. [`SectorField::key`] is its key in the design.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SectorField {
    /// Aim, clockwise from true north.
    AzimuthDeg,
    /// Mechanical downtilt.
    MechanicalDowntiltDeg,
    /// Electrical downtilt.
    ElectricalDowntiltDeg,
    /// Height of the antenna above ground.
    HeightAglM,
    /// Power of one chain.
    TxPowerPerChainDbm,
    /// Middle of the channel.
    ChannelCentreMhz,
}

impl SectorField {
    /// Key under which the design's text holds it.
    pub fn key(self) -> &'static str {
        match self {
            SectorField::AzimuthDeg => "azimuth_deg",
            SectorField::MechanicalDowntiltDeg => "mechanical_downtilt_deg",
            SectorField::ElectricalDowntiltDeg => "electrical_downtilt_deg",
            SectorField::HeightAglM => "height_agl_m",
            SectorField::TxPowerPerChainDbm => "tx_power_per_chain_dbm",
            SectorField::ChannelCentreMhz => "channel_mhz",
        }
    }

    fn of(self, sector: &mut Sector) -> &mut f64 {
        match self {
            SectorField::AzimuthDeg => &mut sector.azimuth_deg,
            SectorField::MechanicalDowntiltDeg => &mut sector.mechanical_downtilt_deg,
            SectorField::ElectricalDowntiltDeg => &mut sector.electrical_downtilt_deg,
            SectorField::HeightAglM => &mut sector.height_agl_m,
            SectorField::TxPowerPerChainDbm => &mut sector.tx_power_per_chain_dbm,
            SectorField::ChannelCentreMhz => &mut sector.channel.centre_mhz,
        }
    }
}

/// Why an edit could not be applied. The network is unchanged then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EditError {
    /// No such sector.
    UnknownSector(SectorId),
    /// No such premises.
    UnknownPremises(PremisesId),
    /// No such plan.
    UnknownPlan(PlanId),
}

impl std::fmt::Display for EditError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            EditError::UnknownSector(id) => write!(f, "no sector `{id}` in the design"),
            EditError::UnknownPremises(id) => write!(f, "no premises `{id}` in the design"),
            EditError::UnknownPlan(id) => write!(f, "no plan `{id}` in the design"),
        }
    }
}

impl std::error::Error for EditError {}

impl Edit {
    /// Applies the change and returns the edit that undoes it.
    pub fn apply(&self, network: &mut Network) -> Result<Edit, EditError> {
        match self {
            Edit::Sector {
                sector,
                field,
                value,
            } => {
                let slot = field.of(find_sector(network, sector)?);
                let before = std::mem::replace(slot, *value);
                Ok(Edit::Sector {
                    sector: sector.clone(),
                    field: *field,
                    value: before,
                })
            }
            Edit::PremisesMountHeight {
                premises,
                mount_height_agl_m,
            } => {
                let slot = &mut find_premises(network, premises)?.mount_height_agl_m;
                let before = std::mem::replace(slot, *mount_height_agl_m);
                Ok(Edit::PremisesMountHeight {
                    premises: premises.clone(),
                    mount_height_agl_m: before,
                })
            }
            Edit::PremisesPlan { premises, plan } => {
                let new = network
                    .plans
                    .get(plan)
                    .cloned()
                    .ok_or_else(|| EditError::UnknownPlan(plan.clone()))?;
                let slot: &mut Arc<_> = &mut find_premises(network, premises)?.plan;
                let before = std::mem::replace(slot, new);
                Ok(Edit::PremisesPlan {
                    premises: premises.clone(),
                    plan: before.id.clone(),
                })
            }
        }
    }
}

fn find_sector<'a>(network: &'a mut Network, id: &SectorId) -> Result<&'a mut Sector, EditError> {
    network
        .sectors
        .iter_mut()
        .find(|s| &s.id == id)
        .ok_or_else(|| EditError::UnknownSector(id.clone()))
}

fn find_premises<'a>(
    network: &'a mut Network,
    id: &PremisesId,
) -> Result<&'a mut Premises, EditError> {
    network
        .premises
        .iter_mut()
        .find(|p| &p.id == id)
        .ok_or_else(|| EditError::UnknownPremises(id.clone()))
}
