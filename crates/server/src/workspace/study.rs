//! What comes of a design: its ground, its study, and what a change would bring.

use std::sync::Arc;

use geodesy::{LonLat, LonLatBox, sphere};
use pipeline::engine::StudyResult;
use pipeline::engine::study::{StudyKept, study_again};
use pipeline::model::settings::GroundSources;
use pipeline::model::{Finding, Network};
use pipeline::{Ground, World};
use store::on_disk::Stamp;
use store::world::FolderWorld;

use super::jobs::{CancelOnDrop, JobState};
use super::scene::Scene;
use super::{Workspace, aside, held};
use crate::api::event::Event;
use crate::api::problem::Problem;
use crate::api::project::StudyState;

/// A study and what it rests on.
#[derive(Debug)]
pub(crate) struct Study {
    pub(crate) revision: String,
    pub(crate) network: Arc<Network>,
    pub(crate) ground: Arc<Ground>,
    pub(crate) result: StudyResult,
    /// Everything, from reading to studying, worst first.
    pub(crate) findings: Vec<Finding>,
    pub(crate) kept: StudyKept,
}

/// Ground that was read, and for what.
#[derive(Debug)]
pub(crate) struct GroundKept {
    sources: GroundSources,
    extent: LonLatBox,
    rasters: Vec<Stamp>,
    ground: Arc<Ground>,
}

/// Premises farther from every mast than this are no reason to read ground.
const FARTHEST_PREMISES_M: f64 = 100e3;

/// What the ground has to reach: the territory, the masts, and the premises
/// that some mast could serve.
fn places(network: &Network) -> Vec<LonLat> {
    let territory = &network.territory;
    let territory = LonLatBox::new(territory.south_west, territory.north_east);
    let masts = || network.masts.iter().map(|mast| mast.position);
    let farthest_m = FARTHEST_PREMISES_M.max(2e3 * network.propagation.reach_km);
    let near = |at: &LonLat| masts().any(|mast| sphere::distance_m(mast, *at) < farthest_m);
    let premises = network.premises.iter().map(|p| p.position);
    let premises = premises.filter(|at| !territory.contains(*at)).filter(near);
    let mut places = territory.border(8);
    places.extend(masts());
    places.extend(premises);
    places
}

impl Workspace {
    /// The ground of a network, read where it is not kept.
    pub(crate) fn ground(&self, scene: &Scene, network: &Network) -> Arc<Ground> {
        let needed = places(network);
        let is_raster = |stamp: &&Stamp| {
            let sources = &network.ground;
            let rasters = [&sources.terrain, &sources.land_cover, &sources.canopy];
            let mut rasters = rasters.into_iter().flatten();
            rasters.any(|raster| raster.path == stamp.file)
                || sources.buildings.files.contains(&stamp.file)
        };
        let rasters: Vec<Stamp> = scene.stamps.iter().filter(is_raster).cloned().collect();
        let mut kept = held(&self.ground);
        if let Some(kept) = &*kept
            && kept.sources == network.ground
            && kept.rasters == rasters
            && needed.iter().all(|at| kept.extent.contains(*at))
        {
            return Arc::clone(&kept.ground);
        }
        let world = FolderWorld::new(&self.folder, scene.sources.clone());
        let around = LonLatBox::around(needed);
        let extent = around.unwrap_or(LonLatBox::new(
            network.territory.south_west,
            network.territory.north_east,
        ));
        let ground = Arc::new(world.ground_over(network, &extent));
        *kept = Some(GroundKept {
            sources: network.ground.clone(),
            extent,
            rasters,
            ground: Arc::clone(&ground),
        });
        ground
    }

    /// Studies a scene, with the paths of an earlier study over the same ground.
    pub(crate) fn study(&self, scene: &Scene, job: &JobState) -> Result<Arc<Study>, Problem> {
        if let Some(study) = self.study_of(&scene.revision) {
            return Ok(study);
        }
        let network = Arc::clone(scene.network()?);
        let ground = self.ground(scene, &network);
        let earlier = self.latest_study();
        let earlier = earlier.filter(|study| Arc::ptr_eq(&study.ground, &ground));
        let run = self.run(job);
        let paths = earlier.as_ref().map(|study| &study.kept.paths);
        let (result, kept) = study_again(&network, ground.surroundings.as_ref(), paths, &run)
            .map_err(|_| stopped())?;
        let mut findings = scene.findings.clone();
        findings.extend(ground.findings.iter().cloned());
        findings.extend(result.findings.iter().cloned());
        findings.sort_by(|a, b| {
            let worst = b.severity.cmp(&a.severity);
            worst.then_with(|| a.place.cmp(&b.place))
        });
        Ok(Arc::new(Study {
            revision: scene.revision.clone(),
            network,
            ground,
            result,
            findings,
            kept,
        }))
    }

    /// Begins to study the current scene; an earlier study under way ends.
    pub(crate) fn start_study(self: &Arc<Self>) {
        let scene = self.scene();
        let running = self.jobs.begin("study", &self.events);
        {
            let mut state = self.state();
            if let StudyState::Running { job } = state.study_state {
                self.jobs.cancel(job);
            }
            if scene.network.is_none() {
                state.study_state = StudyState::None;
                drop(state);
                self.studied.send_modify(|count| *count += 1);
                return;
            }
            state.study_state = StudyState::Running {
                job: running.job.id,
            };
        }
        let workspace = Arc::clone(self);
        let work = move || {
            let job = Arc::clone(&running.job);
            let studied = workspace.study(&scene, &job);
            drop(running);
            workspace.take_study(studied, job.id);
        };
        match tokio::runtime::Handle::try_current() {
            Ok(runtime) => drop(runtime.spawn_blocking(work)),
            Err(_) => work(),
        }
    }

    fn take_study(&self, studied: Result<Arc<Study>, Problem>, job: u64) {
        let mut state = self.state();
        let is_awaited = state.study_state == StudyState::Running { job };
        let event = match studied {
            Ok(study) if study.revision == state.scene.revision => {
                let revision = study.revision.clone();
                if let Some(earlier) = state.study.replace(study) {
                    drop(state);
                    self.shelve(earlier);
                    state = self.state();
                }
                state.study_state = StudyState::Current;
                Some(Event::StudyFinished { job, revision })
            }
            Ok(study) => {
                drop(state);
                self.shelve(study);
                return;
            }
            Err(problem) if is_awaited => {
                state.study_state = StudyState::Stale {
                    reason: problem.message.clone(),
                };
                Some(Event::Stopped {
                    job,
                    reason: problem.message,
                })
            }
            Err(_) => None,
        };
        drop(state);
        self.studied.send_modify(|count| *count += 1);
        if let Some(event) = event {
            self.send(event);
        }
    }

    /// The study of the design as it stands, waited for where it is at work.
    pub(crate) async fn current_study(&self) -> Result<Arc<Study>, Problem> {
        let mut changes = self.studied.subscribe();
        loop {
            {
                let state = self.state();
                let current = state.study.as_ref();
                if let Some(study) = current.filter(|s| s.revision == state.scene.revision) {
                    return Ok(Arc::clone(study));
                }
                match &state.study_state {
                    StudyState::Running { .. } | StudyState::Current => {}
                    StudyState::None => return Err(Problem::no_network()),
                    StudyState::Stale { reason } => {
                        return Err(Problem::new(
                            axum::http::StatusCode::CONFLICT,
                            "not-studied",
                            reason.clone(),
                        )
                        .hint("begin the study again"));
                    }
                }
            }
            if changes.changed().await.is_err() {
                return Err(stopped());
            }
        }
    }

    /// Studies a scene that is not entered, for as long as somebody waits.
    pub(crate) async fn study_aside(
        self: &Arc<Self>,
        kind: &'static str,
        scene: Arc<Scene>,
    ) -> Result<Arc<Study>, Problem> {
        let running = self.jobs.begin(kind, &self.events);
        let _cancel = CancelOnDrop(Arc::clone(&running.job));
        let workspace = Arc::clone(self);
        aside(move || {
            let study = workspace.study(&scene, &running.job)?;
            workspace.shelve(Arc::clone(&study));
            Ok(study)
        })
        .await
    }
}

/// What is said of work that was stopped.
pub(crate) fn stopped() -> Problem {
    Problem::new(
        axum::http::StatusCode::CONFLICT,
        "stopped",
        "stopped before the end",
    )
}
