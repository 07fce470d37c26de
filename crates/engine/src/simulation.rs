//! A sector of a study, frame by frame: the same customers on the same links,
//! with the traffic of their plans, in the simulator of the scheduler.
//!
//! `scene` turns premises, plans and links into flows; what the
//! frames then do is `simulator`'s. The answer stands beside the airtime model's
//! so that the two can be compared.

mod flows;
mod scene;

use model::Network;
use model::ids::{PremisesId, SectorId};
use rayon::prelude::*;
use serde::Serialize;
use simulator::{Outcome, SimulateError};

use crate::radio::{ReadyNetwork, ReadySector};
use crate::run::RunControl;
use crate::study::StudyResult;

pub use flows::scheduling_class;
pub use scene::{SectorScene, sector_scene};
pub use simulator::{Class, ClassOutcome, Direction, FlowOutcome, Run};

/// One sector's busy hour, frame by frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectorSimulation {
    /// The sector.
    pub sector: SectorId,
    /// Premises by the outcome's index of terminals.
    pub premises: Vec<PremisesId>,
    /// Share of the downlink's data slots in use or reserved, by the airtime model.
    pub modelled_downlink_airtime_frac: f64,
    /// The same of the uplink.
    pub modelled_uplink_airtime_frac: f64,
    /// What happened.
    pub outcome: Outcome,
}

/// Why a sector could not be simulated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SimulationError {
    /// No such sector.
    #[error(
        "no sector `{0}` in the design\nhint: the sectors are those of `[[sector]]` in mastwright.toml"
    )]
    UnknownSector(String),
    /// Nobody is served, so nothing happens.
    #[error("sector `{0}` serves nobody: there is nothing to simulate")]
    Empty(SectorId),
    /// The simulator refused the scene, or was stopped.
    #[error("sector `{sector}` cannot be simulated: {error}")]
    Refused {
        /// The sector.
        sector: SectorId,
        /// Why.
        error: SimulateError,
    },
}

/// Simulates several sectors of a study side by side, each from the same seed; in the order given.
pub fn simulate_all(
    network: &Network,
    study: &StudyResult,
    (sectors, run): (&[SectorId], &Run),
    control: &RunControl<'_>,
) -> Result<Vec<SectorSimulation>, SimulationError> {
    control.install(|| {
        let ready = ReadyNetwork::new(network);
        let named = ready
            .sectors
            .iter()
            .filter(|s| sectors.contains(&s.sector.id));
        control.begin("frames", named.map(|s| frames(s, run)).sum());
        let one = |s: &SectorId| simulate(&ready, study, (s.as_str(), run), control);
        sectors.par_iter().map(one).collect()
    })
}

/// Simulates one sector of a study.
fn simulate(
    ready: &ReadyNetwork<'_>,
    study: &StudyResult,
    (sector, run): (&str, &Run),
    control: &RunControl<'_>,
) -> Result<SectorSimulation, SimulationError> {
    let index = ready
        .sectors
        .iter()
        .position(|s| s.sector.id.as_str() == sector)
        .ok_or_else(|| SimulationError::UnknownSector(sector.to_owned()))?;
    let id = ready.sectors[index].sector.id.clone();
    let scene = sector_scene(ready, study, index);
    if scene.premises.is_empty() {
        return Err(SimulationError::Empty(id));
    }
    let load = study.sectors[index].load;
    let outcome = simulator::simulate(&scene.scene, run, &Watched(control)).map_err(|error| {
        SimulationError::Refused {
            sector: id.clone(),
            error,
        }
    })?;
    Ok(SectorSimulation {
        sector: id,
        premises: scene.premises,
        modelled_downlink_airtime_frac: load.downlink_airtime_frac,
        modelled_uplink_airtime_frac: load.uplink_airtime_frac,
        outcome,
    })
}

fn frames(sector: &ReadySector<'_>, run: &Run) -> usize {
    ((run.warm_up_s + run.measured_s) * 1e3 / sector.sector.air_interface.frame_ms) as usize
}

/// The run's watcher as the simulator knows one.
struct Watched<'a>(&'a RunControl<'a>);

impl simulator::Watch for Watched<'_> {
    fn advance(&self, frames: u64) {
        self.0.advance(frames as usize);
    }

    fn interrupted(&self) -> bool {
        self.0.interrupted()
    }
}
