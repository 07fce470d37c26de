//! Changes of a design as they come and go.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Place;

/// One change. A list of them is what a drag, an import and a proposal are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "change", rename_all = "snake_case", deny_unknown_fields)]
pub enum Change {
    /// Set a number of a sector.
    SetSectorNumber {
        /// The sector.
        sector: String,
        /// Which number.
        field: SectorNumber,
        /// Its new value, in the unit of the field's name.
        value: f64,
    },
    /// Put up a sector.
    AddSector {
        /// The sector.
        sector: NewSector,
    },
    /// Take a sector away.
    RemoveSector {
        /// The sector.
        sector: String,
    },
    /// Put up a mast.
    AddMast {
        /// The mast.
        mast: NewMast,
    },
    /// Take a mast away that carries nothing.
    RemoveMast {
        /// The mast.
        mast: String,
    },
    /// Put a mast somewhere else.
    MoveMast {
        /// The mast.
        mast: String,
        /// Where it then stands.
        position: Place,
    },
    /// Set the height of a mast above ground. Sectors keep theirs where the design gives it.
    SetMastHeight {
        /// The mast.
        mast: String,
        /// New height.
        #[schema(minimum = 1, maximum = 700)]
        height_agl_m: f64,
    },
    /// Add a premises.
    AddPremises {
        /// The premises.
        premises: NewPremises,
    },
    /// Take a premises out.
    RemovePremises {
        /// The premises.
        premises: String,
    },
    /// Put a premises somewhere else.
    MovePremises {
        /// The premises.
        premises: String,
        /// Where it then stands.
        position: Place,
    },
    /// Set the height of a terminal's antenna above ground.
    SetMountHeight {
        /// The premises.
        premises: String,
        /// New height.
        #[schema(minimum = 0.5, maximum = 100)]
        mount_height_agl_m: f64,
    },
    /// Set the plan of a premises.
    SetPlan {
        /// The premises.
        premises: String,
        /// New plan.
        plan: String,
    },
    /// Set the terminal of a premises, and with it its antenna.
    SetTerminal {
        /// The premises.
        premises: String,
        /// Id of a terminal card.
        terminal: String,
    },
    /// Bind a premises to a sector, or let it go.
    SetServingSector {
        /// The premises.
        premises: String,
        /// The only sector that may serve; `null` lets every sector serve.
        sector: Option<String>,
    },
}

/// The numbers of a sector that can be set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SectorNumber {
    /// Aim, clockwise from true north, 0 to 360.
    AzimuthDeg,
    /// Mechanical downtilt, −30 to 30, positive below the horizon.
    MechanicalDowntiltDeg,
    /// Electrical downtilt, −30 to 30, positive below the horizon.
    ElectricalDowntiltDeg,
    /// Height of the antenna above ground, 1 to 700.
    HeightAglM,
    /// Power of one chain, −60 to 60, before rules and back-off.
    TxPowerPerChainDbm,
    /// Middle of the channel.
    ChannelCentreMhz,
}

/// A mast to put up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMast {
    /// Id, new in the design.
    pub id: String,
    /// What a person calls it; the id where empty.
    #[serde(default)]
    pub name: String,
    /// Where it stands.
    pub position: Place,
    /// Height above ground.
    #[schema(minimum = 1, maximum = 700)]
    pub height_agl_m: f64,
    /// Surveyed ground height at its foot; `null` takes the terrain's.
    #[serde(default)]
    pub ground_amsl_m: Option<f64>,
    /// Place among the design's masts, counted from 0; `null` is the last.
    #[serde(default)]
    pub index: Option<usize>,
}

/// A sector to put up. What is `null` comes from the design's defaults.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSector {
    /// Id, new in the design.
    pub id: String,
    /// The mast that carries it.
    pub mast: String,
    /// Aim, clockwise from true north.
    #[schema(minimum = 0, maximum = 360)]
    pub azimuth_deg: f64,
    /// Middle of the channel.
    pub channel_centre_mhz: f64,
    /// Middle of the antenna above ground; `null` is the top of the mast.
    #[serde(default)]
    pub height_agl_m: Option<f64>,
    /// Mechanical downtilt.
    #[serde(default)]
    pub mechanical_downtilt_deg: Option<f64>,
    /// Electrical downtilt.
    #[serde(default)]
    pub electrical_downtilt_deg: Option<f64>,
    /// Id of an antenna card.
    #[serde(default)]
    pub antenna: Option<String>,
    /// Id of a base station card.
    #[serde(default)]
    pub base_station: Option<String>,
    /// Id of an air interface card.
    #[serde(default)]
    pub air_interface: Option<String>,
    /// Power of one chain.
    #[serde(default)]
    pub tx_power_per_chain_dbm: Option<f64>,
    /// Loss between radio and antenna.
    #[serde(default)]
    pub feeder_loss_db: Option<f64>,
    /// Place among the design's sectors, counted from 0; `null` is the last.
    #[serde(default)]
    pub index: Option<usize>,
}

/// A premises to add. What is `null` comes from the design's defaults.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPremises {
    /// Id, new in the table.
    pub id: String,
    /// What a person calls it; may be empty.
    #[serde(default)]
    pub name: String,
    /// Where it stands.
    pub position: Place,
    /// Plan it would buy.
    #[serde(default)]
    pub plan: Option<String>,
    /// Height of the terminal's antenna above ground.
    #[serde(default)]
    #[schema(minimum = 0.5, maximum = 100)]
    pub mount_height_agl_m: Option<f64>,
    /// Id of a terminal card.
    #[serde(default)]
    pub terminal: Option<String>,
    /// `open`, `below-roofs`, `indoor-traditional` or `indoor-efficient`.
    #[serde(default)]
    pub mounting: Option<String>,
    /// Higher is kept first when a sector runs out of airtime.
    #[serde(default)]
    pub priority: Option<i32>,
    /// The only sector that may serve.
    #[serde(default)]
    pub sector: Option<String>,
    /// Place among the premises, counted from 0; `null` is the last.
    #[serde(default)]
    pub index: Option<usize>,
}

/// Changes to make.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeList {
    /// The changes, in the order in which they are made.
    pub changes: Vec<Change>,
    /// What a person calls them in the history, such as `aim of hill-north`; may be empty.
    #[serde(default)]
    pub label: String,
}

/// A question about changes that are not made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WhatIf {
    /// The changes, in the order in which they would be made.
    pub changes: Vec<Change>,
    /// A premises whose answer is wanted before and after.
    #[serde(default)]
    pub premises: Option<String>,
}

/// Changes that stand on disk.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Accepted {
    /// Revision of the design with the changes.
    pub revision: String,
    /// What they change; `null` while the study is still at work: the event
    /// `study_finished` tells when it has ended.
    pub consequence: Option<super::consequence::Consequence>,
    /// What can be taken back and done again.
    pub history: History,
    /// Changes from outside, in a text editor, that were there and were kept.
    pub kept_from_outside: bool,
}

/// What can be taken back and done again, the next one first.
#[derive(Debug, Clone, PartialEq, Default, Serialize, ToSchema)]
pub struct History {
    /// Can be undone.
    pub undo: Vec<HistoryEntry>,
    /// Can be done again.
    pub redo: Vec<HistoryEntry>,
}

/// One step of the history.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HistoryEntry {
    /// What a person called it.
    pub label: String,
    /// How many changes it has.
    pub changes: usize,
}
