//! The validated network: what a design means once every default, unit,
//! reference and equipment name has been resolved.
//!
//! Nothing here can be half-known: a value that exists is in range, an id
//! that is named exists. `design` makes a [`Network`] from text and findings
//! from everything it had to leave out; `engine` evaluates it; only
//! [`edit::Edit`] changes it.
//!
//! Read [`network`] first, then [`equipment`] and [`air_interface`].

pub mod air_interface;
pub mod backhaul;
pub mod channel;
pub mod climate;
pub mod edit;
pub mod equipment;
pub mod finding;
pub mod ids;
pub mod network;
pub mod plan;
pub mod rules;
pub mod settings;

pub use air_interface::{AirInterface, FrameSplit, Mcs, Modulation};
pub use backhaul::{Backhaul, Hop, HopRadio};
pub use climate::{FadingClimate, MultipathMap};
pub use edit::{Edit, EditError};
pub use equipment::{Antenna, BaseStation, Oscillator, PatternSpec, PolarizationPair, Terminal};
pub use finding::{Finding, Severity, Subject, TextPlace};
pub use ids::{EquipmentId, HopId, MastId, PlanId, PremisesId, RuleId, SectorId};
pub use network::{Channel, Mast, Mounting, Network, PlaceDefaults, Premises, Sector, Territory};
pub use plan::{
    CircuitStructure, Circuits, LeasedLine, SchedulingClass, ServicePlan, VoiceCodec, VoiceLines,
};
pub use rules::{Role, RuleSet, SpectrumRule};
pub use settings::{
    BestEffortSharing, BuildingSources, ClutterClass, ClutterTable, GroundSources, ModelChoice,
    PropagationSettings, StudySettings,
};
