//! Every possible change to a network, as a value with an inverse.
//!
//! A drag on a map, a solver's proposal and an import are lists of
//! [`Edit`]; applying one returns the edit that undoes it.

use std::sync::Arc;

use serde::Serialize;

use geodesy::LonLat;

use crate::equipment::Terminal;
use crate::ids::{MastId, PlanId, PremisesId, SectorId};
use crate::network::{Mast, Network, Premises, Sector};

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
    /// Put up a sector.
    AddSector {
        /// Place among the sectors, counted from 0; at most their number.
        index: usize,
        /// The sector, its mast in the design.
        sector: Box<Sector>,
    },
    /// Take a sector away that no premises is bound to.
    RemoveSector {
        /// The sector.
        sector: SectorId,
    },
    /// Put up a mast.
    AddMast {
        /// Place among the masts, counted from 0; at most their number.
        index: usize,
        /// The mast.
        mast: Mast,
    },
    /// Take a mast away that carries nothing.
    RemoveMast {
        /// The mast.
        mast: MastId,
    },
    /// Put a mast somewhere else.
    MoveMast {
        /// The mast.
        mast: MastId,
        /// Where it then stands.
        position: LonLat,
    },
    /// Set the height of a mast.
    MastHeight {
        /// The mast.
        mast: MastId,
        /// New height above ground.
        height_agl_m: f64,
        /// Sectors at its very top, which go along; the others keep their height.
        top_sectors: Vec<SectorId>,
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
    /// Set a premises' terminal, and with it its antenna.
    PremisesTerminal {
        /// The premises.
        premises: PremisesId,
        /// New terminal.
        terminal: Arc<Terminal>,
    },
    /// Bind a premises to a sector, or let it go.
    PremisesSector {
        /// The premises.
        premises: PremisesId,
        /// The only sector that may serve; `None` lets every sector serve.
        sector: Option<SectorId>,
    },
    /// Put a premises somewhere else.
    MovePremises {
        /// The premises.
        premises: PremisesId,
        /// Where it then stands.
        position: LonLat,
    },
    /// Add a premises.
    AddPremises {
        /// Place among the premises, counted from 0; at most their number.
        index: usize,
        /// The premises, its plan and sector in the design.
        premises: Box<Premises>,
    },
    /// Take a premises out.
    RemovePremises {
        /// The premises.
        premises: PremisesId,
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
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// No such sector.
    #[error("no sector `{0}` in the design")]
    UnknownSector(SectorId),
    /// No such mast.
    #[error("no mast `{0}` in the design")]
    UnknownMast(MastId),
    /// No such premises.
    #[error("no premises `{0}` in the design")]
    UnknownPremises(PremisesId),
    /// No such plan.
    #[error("no plan `{0}` in the design")]
    UnknownPlan(PlanId),
    /// The id is taken.
    #[error("`{id}` stands in the design already\nhint: choose another id")]
    Taken {
        /// The id.
        id: String,
    },
    /// The mast still carries something.
    #[error("mast `{mast}` carries {what} `{id}`\nhint: take that away first")]
    MastInUse {
        /// The mast.
        mast: MastId,
        /// `sector` or `hop`.
        what: &'static str,
        /// Which one.
        id: String,
    },
    /// A premises is bound to the sector.
    #[error("premises `{premises}` is bound to sector `{sector}`\nhint: let it go first")]
    SectorInUse {
        /// The sector.
        sector: SectorId,
        /// The premises.
        premises: PremisesId,
    },
    /// The sector does not stand at the top of the mast.
    #[error("sector `{sector}` does not stand at the top of mast `{mast}`")]
    NotAtTop {
        /// The sector.
        sector: SectorId,
        /// The mast.
        mast: MastId,
    },
    /// The place in the list does not exist.
    #[error("there is no place {index} in a list of {length}")]
    NoSuchPlace {
        /// Where it was to go.
        index: usize,
        /// How long the list is.
        length: usize,
    },
}

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
            Edit::AddSector { index, sector } => add_sector(network, *index, sector),
            Edit::RemoveSector { sector } => remove_sector(network, sector),
            Edit::AddMast { index, mast } => add_mast(network, *index, mast),
            Edit::RemoveMast { mast } => remove_mast(network, mast),
            Edit::MoveMast { mast, position } => {
                let slot = &mut find_mast(network, mast)?.position;
                Ok(Edit::MoveMast {
                    mast: mast.clone(),
                    position: std::mem::replace(slot, *position),
                })
            }
            Edit::MastHeight {
                mast,
                height_agl_m,
                top_sectors,
            } => {
                let before_m = set_mast_height(network, (mast, *height_agl_m), top_sectors)?;
                Ok(Edit::MastHeight {
                    mast: mast.clone(),
                    height_agl_m: before_m,
                    top_sectors: top_sectors.clone(),
                })
            }
            Edit::AddPremises { index, premises } => add_premises(network, *index, premises),
            Edit::RemovePremises { premises } => remove_premises(network, premises),
            Edit::PremisesMountHeight { .. }
            | Edit::PremisesPlan { .. }
            | Edit::PremisesTerminal { .. }
            | Edit::PremisesSector { .. }
            | Edit::MovePremises { .. } => self.apply_to_premises(network),
        }
    }

    /// The same for what changes one value of a premises.
    fn apply_to_premises(&self, network: &mut Network) -> Result<Edit, EditError> {
        match self {
            Edit::PremisesPlan { premises, plan } => {
                let new = network.plans.get(plan).cloned();
                let new = new.ok_or_else(|| EditError::UnknownPlan(plan.clone()))?;
                let slot = &mut find_premises(network, premises)?.plan;
                Ok(Edit::PremisesPlan {
                    premises: premises.clone(),
                    plan: std::mem::replace(slot, new).id.clone(),
                })
            }
            Edit::PremisesTerminal { premises, terminal } => {
                let slot = &mut find_premises(network, premises)?.terminal;
                Ok(Edit::PremisesTerminal {
                    premises: premises.clone(),
                    terminal: std::mem::replace(slot, Arc::clone(terminal)),
                })
            }
            Edit::PremisesSector { premises, sector } => {
                let known = sector.as_ref().is_none_or(|s| network.sector(s).is_some());
                if let Some(unknown) = sector.as_ref().filter(|_| !known) {
                    return Err(EditError::UnknownSector(unknown.clone()));
                }
                let slot = &mut find_premises(network, premises)?.fixed_sector;
                Ok(Edit::PremisesSector {
                    premises: premises.clone(),
                    sector: std::mem::replace(slot, sector.clone()),
                })
            }
            Edit::MovePremises { premises, position } => {
                let slot = &mut find_premises(network, premises)?.position;
                Ok(Edit::MovePremises {
                    premises: premises.clone(),
                    position: std::mem::replace(slot, *position),
                })
            }
            Edit::PremisesMountHeight {
                premises,
                mount_height_agl_m,
            } => {
                let slot = &mut find_premises(network, premises)?.mount_height_agl_m;
                Ok(Edit::PremisesMountHeight {
                    premises: premises.clone(),
                    mount_height_agl_m: std::mem::replace(slot, *mount_height_agl_m),
                })
            }
            other => other.apply(network),
        }
    }

    /// Applies a list in its order, or none of it; returns the list that undoes it.
    pub fn apply_all(edits: &[Edit], network: &mut Network) -> Result<Vec<Edit>, EditError> {
        let mut undo = Vec::with_capacity(edits.len());
        for edit in edits {
            match edit.apply(network) {
                Ok(inverse) => undo.push(inverse),
                Err(error) => {
                    for inverse in undo.iter().rev() {
                        // What undoes a change just made finds all as it left it.
                        let _ = inverse.apply(network);
                    }
                    return Err(error);
                }
            }
        }
        undo.reverse();
        Ok(undo)
    }
}

fn add_sector(network: &mut Network, index: usize, sector: &Sector) -> Result<Edit, EditError> {
    place_in(index, network.sectors.len())?;
    if network.sector(&sector.id).is_some() {
        return Err(taken(sector.id.as_str()));
    }
    find_mast(network, &sector.mast)?;
    network.sectors.insert(index, sector.clone());
    Ok(Edit::RemoveSector {
        sector: sector.id.clone(),
    })
}

fn remove_sector(network: &mut Network, id: &SectorId) -> Result<Edit, EditError> {
    let index = network.sectors.iter().position(|s| &s.id == id);
    let index = index.ok_or_else(|| EditError::UnknownSector(id.clone()))?;
    let bound = network
        .premises
        .iter()
        .find(|p| p.fixed_sector.as_ref() == Some(id));
    if let Some(bound) = bound {
        return Err(EditError::SectorInUse {
            sector: id.clone(),
            premises: bound.id.clone(),
        });
    }
    Ok(Edit::AddSector {
        index,
        sector: Box::new(network.sectors.remove(index)),
    })
}

fn add_mast(network: &mut Network, index: usize, mast: &Mast) -> Result<Edit, EditError> {
    place_in(index, network.masts.len())?;
    if network.mast(&mast.id).is_some() {
        return Err(taken(mast.id.as_str()));
    }
    network.masts.insert(index, mast.clone());
    Ok(Edit::RemoveMast {
        mast: mast.id.clone(),
    })
}

fn remove_mast(network: &mut Network, id: &MastId) -> Result<Edit, EditError> {
    let index = network.masts.iter().position(|m| &m.id == id);
    let index = index.ok_or_else(|| EditError::UnknownMast(id.clone()))?;
    let in_use = |what, by: &dyn std::fmt::Display| EditError::MastInUse {
        mast: id.clone(),
        what,
        id: by.to_string(),
    };
    if let Some(sector) = network.sectors.iter().find(|s| &s.mast == id) {
        return Err(in_use("sector", &sector.id));
    }
    let mut hops = network.backhaul.hops.iter();
    if let Some(hop) = hops.find(|h| &h.from.mast == id || &h.to.mast == id) {
        return Err(in_use("hop", &hop.id));
    }
    Ok(Edit::AddMast {
        index,
        mast: network.masts.remove(index),
    })
}

/// Sets the height of a mast and of the sectors at its top; gives the height before.
fn set_mast_height(
    network: &mut Network,
    (mast, height_agl_m): (&MastId, f64),
    top_sectors: &[SectorId],
) -> Result<f64, EditError> {
    let before_m = find_mast(network, mast)?.height_agl_m;
    for id in top_sectors {
        let sector = find_sector(network, id)?;
        if &sector.mast != mast || sector.height_agl_m != before_m {
            return Err(EditError::NotAtTop {
                sector: id.clone(),
                mast: mast.clone(),
            });
        }
    }
    find_mast(network, mast)?.height_agl_m = height_agl_m;
    for id in top_sectors {
        find_sector(network, id)?.height_agl_m = height_agl_m;
    }
    Ok(before_m)
}

fn add_premises(
    network: &mut Network,
    index: usize,
    premises: &Premises,
) -> Result<Edit, EditError> {
    place_in(index, network.premises.len())?;
    if network.premises(&premises.id).is_some() {
        return Err(taken(premises.id.as_str()));
    }
    if !network.plans.contains_key(&premises.plan.id) {
        return Err(EditError::UnknownPlan(premises.plan.id.clone()));
    }
    network.premises.insert(index, premises.clone());
    Ok(Edit::RemovePremises {
        premises: premises.id.clone(),
    })
}

fn remove_premises(network: &mut Network, id: &PremisesId) -> Result<Edit, EditError> {
    let index = network.premises.iter().position(|p| &p.id == id);
    let index = index.ok_or_else(|| EditError::UnknownPremises(id.clone()))?;
    Ok(Edit::AddPremises {
        index,
        premises: Box::new(network.premises.remove(index)),
    })
}

fn place_in(index: usize, length: usize) -> Result<(), EditError> {
    if index > length {
        return Err(EditError::NoSuchPlace { index, length });
    }
    Ok(())
}

fn taken(id: &str) -> EditError {
    EditError::Taken { id: id.to_owned() }
}

fn find_sector<'a>(network: &'a mut Network, id: &SectorId) -> Result<&'a mut Sector, EditError> {
    let mut all = network.sectors.iter_mut();
    all.find(|s| &s.id == id)
        .ok_or_else(|| EditError::UnknownSector(id.clone()))
}

fn find_mast<'a>(network: &'a mut Network, id: &MastId) -> Result<&'a mut Mast, EditError> {
    let mut all = network.masts.iter_mut();
    all.find(|m| &m.id == id)
        .ok_or_else(|| EditError::UnknownMast(id.clone()))
}

fn find_premises<'a>(
    network: &'a mut Network,
    id: &PremisesId,
) -> Result<&'a mut Premises, EditError> {
    let mut all = network.premises.iter_mut();
    all.find(|p| &p.id == id)
        .ok_or_else(|| EditError::UnknownPremises(id.clone()))
}
