//! The story, from a project folder's texts to answers.
//!
//! 1. [`read`]: design text, premises and cards become a network and findings.
//! 2. [`World::ground`]: the rasters that the network names become surroundings.
//! 3. [`evaluate`]: every premises against every sector, and what comes of it.
//! 4. [`explain`]: one link of that network taken apart.
//! 5. [`load`]: how full each sector is, with which customers, and for how long.
//! 6. [`cover`]: every cell of the territory, with or without a premises.
//! 7. [`mod@compare`]: two evaluations side by side, the consequence of a change.
//!
//! The outside world comes in through [`World`] alone: `store` implements it
//! over a folder, tests over texts and formulas.

mod covering;

use std::fmt;
use std::sync::Arc;

use design::ProjectSources;
use engine::coverage::CoverageError;
use engine::explain::{Company, ExplainError, PathReport};
use engine::second_opinion::SecondOpinion;
use engine::simulation::{self, SectorSimulation, SimulationError};
use engine::{DataSource, Interrupted, RunControl, StudyResult, Surroundings};
use geodesy::{LonLat, LonLatBox};
use model::network::{Mounting, Premises};
use model::{Finding, ModelChoice, Network, PremisesId, SectorId, Severity};
use serde::Serialize;

pub use covering::{Covering, cover};
pub use design;
pub use engine;
pub use engine::compare::{self, Consequence, compare, compare_premises};
pub use model;

/// Everything that comes from outside.
pub trait World: Sync {
    /// The texts and tables of the project.
    fn sources(&self) -> &ProjectSources;

    /// The ground that a network names, read over its territory.
    fn ground(&self, network: &Network) -> Ground;

    /// The same over a box besides, for findings and pictures: where that is a
    /// lot of ground, the surroundings may be coarser than the rasters.
    fn ground_over(&self, network: &Network, _extent: &LonLatBox) -> Ground {
        self.ground(network)
    }

    /// The ground of a box alone, as fine as there is. Its findings are the
    /// errors of reading it, nothing else.
    fn ground_piece(&self, network: &Network, _extent: &LonLatBox) -> Ground {
        self.ground(network)
    }
}

/// The ground of a network.
pub struct Ground {
    /// What stands between two places; unknown everywhere where nothing could be read.
    pub surroundings: Box<dyn Surroundings>,
    /// What was read.
    pub data_sources: Vec<DataSource>,
    /// What could not be read, or only in part.
    pub findings: Vec<Finding>,
}

impl fmt::Debug for Ground {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Ground")
            .field("data_sources", &self.data_sources)
            .field("findings", &self.findings)
            .finish_non_exhaustive()
    }
}

/// A project as read: the network as far as it can be used, and all findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The network; `None` where too little of the design is left.
    pub network: Option<Network>,
    /// Everything that is wrong or worth knowing.
    pub findings: Vec<Finding>,
}

impl Reading {
    /// Whether something has to be corrected before an evaluation can be trusted.
    pub fn has_errors(&self) -> bool {
        has_errors(&self.findings)
    }
}

/// Whether any finding is an error.
pub fn has_errors(findings: &[Finding]) -> bool {
    findings.iter().any(|f| f.severity == Severity::Error)
}

/// A whole evaluation, and what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Evaluation {
    /// Version of the program.
    pub version: &'static str,
    /// The network as understood.
    pub network: Network,
    /// The data it rests on.
    pub data_sources: Vec<DataSource>,
    /// Every finding, from reading the design to the study's own, worst first.
    pub findings: Vec<Finding>,
    /// The answers.
    pub study: StudyResult,
}

/// Why an evaluation did not come about.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PipelineError {
    /// The design cannot be used as it stands; the findings say why.
    #[error("the design cannot be evaluated as it stands")]
    UnusableDesign {
        /// Every finding.
        findings: Vec<Finding>,
    },
    /// No such sector or premises, or no path between them.
    #[error(transparent)]
    Explain(#[from] ExplainError),
    /// Nothing says what would stand at a bare place.
    #[error(
        "the design names no terminal and plan for a bare place\nhint: set `terminal` and `plan` under `[defaults]`"
    )]
    NoTerminal,
    /// A sector cannot be simulated.
    #[error(transparent)]
    Simulation(#[from] SimulationError),
    /// The territory cannot be covered.
    #[error(transparent)]
    Coverage(#[from] CoverageError),
    /// Stopped from outside.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
}

/// Version of the program, as every result carries it.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Reads a project: its network and all findings.
pub fn read(world: &dyn World) -> Reading {
    let (network, findings) = design::read(world.sources());
    Reading {
        network,
        findings: in_order(findings),
    }
}

/// Reads a project and its ground, without evaluating anything.
///
/// Errors in the design do not stop the ground from being looked at, so that a
/// person is told everything at once.
pub fn check(world: &dyn World) -> Reading {
    let mut reading = read(world);
    if let Some(network) = &reading.network {
        let ready = engine::radio::ReadyNetwork::new(network);
        reading.findings.extend(ready.findings);
        let hops = engine::hop::rule_findings(network);
        reading.findings.extend(hops);
        reading.findings.extend(world.ground(network).findings);
    }
    Reading {
        findings: in_order(reading.findings),
        ..reading
    }
}

/// How much of a design has to stand for it to be evaluated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Completeness {
    /// All of it: any error stops.
    Whole,
    /// Whatever can be used; what had to be left out stands in the findings.
    WhatStands,
}

/// Evaluates a project: every premises against every sector in reach.
pub fn evaluate(
    world: &dyn World,
    completeness: Completeness,
    run: &RunControl<'_>,
) -> Result<Evaluation, PipelineError> {
    evaluate_on_ground(world, completeness, run).map(|(evaluation, _)| evaluation)
}

/// The same, with the ground it stands on: reports draw it.
pub fn evaluate_on_ground(
    world: &dyn World,
    completeness: Completeness,
    run: &RunControl<'_>,
) -> Result<(Evaluation, Ground), PipelineError> {
    let (network, mut findings) = usable(world, completeness)?;
    let ground = world.ground(&network);
    findings.extend(ground.findings.iter().cloned());
    if completeness == Completeness::Whole && has_errors(&findings) {
        return Err(PipelineError::UnusableDesign {
            findings: in_order(findings),
        });
    }
    let study = engine::study(&network, ground.surroundings.as_ref(), run)?;
    findings.extend(study.findings.iter().cloned());
    let evaluation = Evaluation {
        version: VERSION,
        network,
        data_sources: ground.data_sources.clone(),
        findings: in_order(findings),
        study,
    };
    Ok((evaluation, ground))
}

/// The load of every sector, or of one that is named, from a whole evaluation.
pub fn load(
    world: &dyn World,
    completeness: Completeness,
    (sector, run): (Option<&str>, &RunControl<'_>),
) -> Result<Evaluation, PipelineError> {
    let mut evaluation = evaluate(world, completeness, run)?;
    if let Some(sector) = sector {
        let capacity = &mut evaluation.study.capacity;
        capacity.retain(|c| c.sector.as_str() == sector);
        if capacity.is_empty() {
            return Err(ExplainError::UnknownSector(sector.to_owned()).into());
        }
    }
    Ok(evaluation)
}

/// The busy hour of the loaded sectors of an evaluation, frame by frame.
pub fn simulate(
    loaded: &Evaluation,
    (busy_hour, run): (&simulation::Run, &RunControl<'_>),
) -> Result<Vec<SectorSimulation>, PipelineError> {
    let with_customers = loaded
        .study
        .capacity
        .iter()
        .filter(|c| !c.customers.is_empty());
    let sectors: Vec<SectorId> = with_customers.map(|c| c.sector.clone()).collect();
    let (network, study) = (&loaded.network, &loaded.study);
    Ok(simulation::simulate_all(
        network,
        study,
        (&sectors, busy_hour),
        run,
    )?)
}

/// The far end of a path that a person asks about.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// A premises of the design.
    Premises(String),
    /// Any place, with the design's default terminal, plan and mount height.
    Place(LonLat),
}

/// What came of a question about one path, and what has to be told beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told<T> {
    /// The answer.
    pub answer: T,
    /// Findings of the design and its ground, worst first.
    pub findings: Vec<Finding>,
}

/// Takes one link apart.
pub fn explain(
    world: &dyn World,
    (sector, target): (&str, &Target),
    (company, run): (Company, &RunControl<'_>),
) -> Result<Told<PathReport>, PipelineError> {
    let (mut network, mut findings) = usable(world, Completeness::WhatStands)?;
    let premises = end_of(&mut network, target)?;
    let ground = world.ground(&network);
    let answer = engine::explain::explain(
        &network,
        ground.surroundings.as_ref(),
        (sector, &premises),
        (company, run),
    )?;
    findings.extend(ground.findings);
    Ok(Told {
        answer,
        findings: in_order(findings),
    })
}

/// The path of one link by the study's model and by another, side by side.
pub fn second_opinion(
    world: &dyn World,
    (sector, target): (&str, &Target),
    other: ModelChoice,
) -> Result<SecondOpinion, PipelineError> {
    let (mut network, _) = usable(world, Completeness::WhatStands)?;
    let premises = end_of(&mut network, target)?;
    let ground = world.ground(&network);
    let opinion = engine::second_opinion::second_opinion(
        &network,
        ground.surroundings.as_ref(),
        (sector, &premises),
        other,
    )?;
    Ok(opinion)
}

/// Id of the premises at a target; a bare place is added to the network.
fn end_of(network: &mut Network, target: &Target) -> Result<String, PipelineError> {
    match target {
        Target::Premises(id) => Ok(id.clone()),
        Target::Place(place) => add_place(network, *place),
    }
}

fn usable(
    world: &dyn World,
    completeness: Completeness,
) -> Result<(Network, Vec<Finding>), PipelineError> {
    let reading = read(world);
    let enough = completeness == Completeness::WhatStands || !reading.has_errors();
    match reading.network {
        Some(network) if enough => Ok((network, reading.findings)),
        _ => Err(PipelineError::UnusableDesign {
            findings: reading.findings,
        }),
    }
}

/// Puts a nameless premises at a place and returns its id.
fn add_place(network: &mut Network, place: LonLat) -> Result<String, PipelineError> {
    let defaults = network
        .place_defaults
        .as_ref()
        .ok_or(PipelineError::NoTerminal)?;
    let id = format!("{place}");
    network.premises.push(Premises {
        id: PremisesId::new(id.clone()),
        name: String::new(),
        position: place,
        mount_height_agl_m: network.study.mount_height_agl_m,
        mounting: Mounting::Open,
        plan: Arc::clone(&defaults.plan),
        terminal: Arc::clone(&defaults.terminal),
        priority: 0,
        fixed_sector: None,
        people: None,
    });
    Ok(id)
}

/// Worst first; among equals in the order of the text.
fn in_order(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.sort_by(|a, b| {
        b.severity
            .cmp(&a.severity)
            .then_with(|| a.place.cmp(&b.place))
    });
    findings
}
