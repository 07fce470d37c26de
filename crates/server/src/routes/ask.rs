//! Questions: why a link is as it is, what a change would bring, what is at a spot.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use pipeline::engine::RunControl;
use pipeline::engine::explain::{self, ExplainError, PathReport, explain_again};
use pipeline::model::{self, Mounting, Network, PlaceDefaults, Premises, PremisesId};
use pipeline::{compare, compare_premises};
use serde::Deserialize;
use utoipa::IntoParams;

use super::received::{self, Query};
use crate::api::Place;
use crate::api::change::WhatIf;
use crate::api::consequence::{
    Consequence, Counts, PremisesChange, PremisesChanges, PremisesState, SectorChange, SectorState,
};
use crate::api::finding::Finding;
use crate::api::problem::Problem;
use crate::api::project::Spot;
use crate::api::why::{PremisesFacts, SectorChoice, Why, WhyQuestion};
use crate::workspace::jobs::{CancelOnDrop, JobState};
use crate::workspace::scene::{Scene, Told};
use crate::workspace::study::{Study, stopped};
use crate::workspace::{Workspace, aside, resolve};

type Shared = State<Arc<Workspace>>;

/// Premises that a list of a consequence shows.
const MOST_LISTED: usize = 1000;
/// Sectors that are tried for a bare place.
const MOST_TRIED: usize = 24;

/// What changes would bring; nothing is changed.
#[utoipa::path(post, path = "/api/what-if", request_body = WhatIf,
    responses((status = 200, body = Consequence), (status = 400, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn what_if(
    State(workspace): Shared,
    received::Json(question): received::Json<WhatIf>,
) -> Result<Json<Consequence>, Problem> {
    let before = workspace.current_study().await?;
    let scene = workspace.scene_of(&before.revision).ok_or_else(stopped)?;
    let own = Arc::clone(&workspace);
    let changes = question.changes;
    let next = aside(move || own.changed(&scene, &changes).map(Arc::new)).await?;
    let after = workspace.study_aside("what-if", next).await?;
    Ok(Json(consequence(
        &before,
        &after,
        question.premises.as_deref(),
    )))
}

/// Two studies side by side.
pub(super) fn consequence(before: &Study, after: &Study, premises: Option<&str>) -> Consequence {
    let found = compare(&before.result, &after.result);
    let beyond = |some: &Study, others: &Study| {
        let known = Told::of(&others.findings);
        let new = some.findings.iter().filter(|f| !known.has(f));
        let new: Vec<_> = new.take(MOST_LISTED).cloned().collect();
        Finding::list(&new, Some(&some.network))
    };
    Consequence {
        before: Counts::from(&found.before),
        after: Counts::from(&found.after),
        gained: listed(&found.gained),
        lost: listed(&found.lost),
        degraded: listed(&found.degraded),
        improved: listed(&found.improved),
        sectors: found.sectors.iter().map(SectorChange::from).collect(),
        new_findings: beyond(after, before),
        gone_findings: beyond(before, after),
        premises: premises
            .and_then(|id| compare_premises(&before.result, &after.result, id))
            .map(|change| PremisesChange::from(&change)),
    }
}

fn listed(changes: &[pipeline::compare::PremisesChange]) -> PremisesChanges {
    PremisesChanges {
        total: changes.len(),
        premises: changes
            .iter()
            .take(MOST_LISTED)
            .map(PremisesChange::from)
            .collect(),
    }
}

/// Takes one link apart: cross-section, budget down and up, what holds it back.
#[utoipa::path(post, path = "/api/why", request_body = WhyQuestion,
    responses((status = 200, body = Why), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn why(
    State(workspace): Shared,
    received::Json(question): received::Json<WhyQuestion>,
) -> Result<Json<Why>, Problem> {
    let study = workspace.current_study().await?;
    let running = workspace.jobs.begin("why", &workspace.events);
    let _cancel = CancelOnDrop(Arc::clone(&running.job));
    aside(move || {
        let scene = workspace.scene_of(&study.revision).ok_or_else(stopped)?;
        let asked = Asked::new(&scene, &study, &question)?;
        asked.answer(&running.job, workspace.threads).map(Json)
    })
    .await
}

/// A question with the network it is asked of.
struct Asked<'a> {
    study: &'a Study,
    question: &'a WhyQuestion,
    /// The design's with the far end as its only premises.
    network: Network,
    end: Premises,
    /// Whether that stands in the design as it is.
    is_designed: bool,
}

impl<'a> Asked<'a> {
    fn new(scene: &Scene, study: &'a Study, question: &'a WhyQuestion) -> Result<Self, Problem> {
        let designed = &study.network;
        let mut end = match (&question.premises, question.place) {
            (Some(id), None) => {
                let found = designed.premises(&PremisesId::new(id.as_str())).cloned();
                found.ok_or_else(|| {
                    Problem::not_found(format!("no premises `{id}` in the design"))
                })?
            }
            (None, Some(place)) => bare(designed, place)?,
            _ => {
                return Err(Problem::unusable(
                    "a question is about a premises or a place, not both",
                ));
            }
        };
        let mut is_designed = question.premises.is_some();
        if let Some(height_m) = question.mount_height_agl_m {
            if !(0.5..=100.0).contains(&height_m) {
                return Err(Problem::unusable(format!(
                    "`mount_height_agl_m` is `{height_m}`, outside 0.5 to 100"
                )));
            }
            is_designed &= height_m == end.mount_height_agl_m;
            end.mount_height_agl_m = height_m;
        }
        if let Some(id) = &question.terminal {
            let card = scene.catalogue.terminals.get(id).cloned();
            let card =
                card.ok_or_else(|| Problem::unusable(format!("there is no terminal `{id}`")))?;
            is_designed &= card == end.terminal;
            end.terminal = card;
        }
        Ok(Self {
            study,
            question,
            network: designed.with_premises(vec![end.clone()]),
            end,
            is_designed,
        })
    }

    fn answer(&self, job: &JobState, threads: usize) -> Result<Why, Problem> {
        let run = RunControl {
            progress: job,
            threads,
        };
        let result = self
            .study
            .result
            .premises
            .iter()
            .find(|p| p.id == self.end.id);
        let sector = match &self.question.sector {
            Some(sector) => sector.clone(),
            None => match result.and_then(|p| p.link.as_ref()) {
                Some(link) => link.sector.to_string(),
                None => self.best_sector(&run)?,
            },
        };
        let report = self.explain(&sector, self.question.company.into(), &run)?;
        let network = &self.network;
        let known = network.sector(&model::SectorId::new(sector.as_str()));
        let mast = known.and_then(|sector| network.mast(&sector.mast));
        let mast =
            mast.ok_or_else(|| Problem::not_found(format!("no sector `{sector}` in the design")))?;
        let result = result.filter(|_| self.is_designed);
        let limit = result.and_then(|p| p.limit.as_ref());
        let alternatives = result.map_or(Vec::new(), |p| {
            let choice = |a: &pipeline::engine::study::Alternative| SectorChoice {
                sector: a.sector.to_string(),
                margin_db: a.margin_db,
            };
            p.alternatives.iter().map(choice).collect()
        });
        Ok(Why {
            revision: self.study.revision.clone(),
            premises: self.question.premises.as_ref().map(|_| facts(&self.end)),
            place: self.end.position.into(),
            answer: result.map(|p| PremisesState::from(&pipeline::compare::PremisesState::from(p))),
            limiting_cause: limit.map_or(String::new(), |limit| limit.cause.name().to_owned()),
            shortfall_db: limit.map_or(0.0, |limit| limit.shortfall_db),
            mast: mast.id.to_string(),
            mast_place: mast.position.into(),
            alternatives,
            company: report.company.into(),
            frequency_mhz: report.frequency_mhz,
            model: report.model.to_owned(),
            geometry: (&report).into(),
            obstacle: outputs::obstacle_text(&report),
            link: (&report.link).into(),
            sector,
            section: report.section.into(),
            loss_terms: report.loss_terms.into_iter().map(Into::into).collect(),
            loss_warnings: report.loss_warnings,
            downlink: report.downlink.into_iter().map(Into::into).collect(),
            uplink: report.uplink.into_iter().map(Into::into).collect(),
            downlink_interferers: report
                .downlink_interferers
                .into_iter()
                .map(Into::into)
                .collect(),
            uplink_interferers: report
                .uplink_interferers
                .into_iter()
                .map(Into::into)
                .collect(),
        })
    }

    fn explain(
        &self,
        sector: &str,
        company: explain::Company,
        run: &RunControl<'_>,
    ) -> Result<PathReport, Problem> {
        let ground = self.study.ground.surroundings.as_ref();
        let link = (sector, self.end.id.as_str());
        explain_again(
            &self.network,
            ground,
            (link, &self.study.kept),
            (company, run),
        )
        .map_err(|error| match error {
            ExplainError::Interrupted(_) => stopped(),
            ExplainError::UnknownSector(_) | ExplainError::UnknownPremises(_) => {
                Problem::not_found(error.to_string())
            }
            ExplainError::Path(_) => Problem::unusable(error.to_string()),
        })
    }

    /// The sector that comes closest to serving a place where the study serves nobody:
    /// the greatest margin among the nearest, each alone in its channel.
    fn best_sector(&self, run: &RunControl<'_>) -> Result<String, Problem> {
        let distance_m = |sector: &model::Sector| {
            let mast = self.network.mast(&sector.mast);
            mast.map_or(f64::INFINITY, |mast| {
                geodesy::inverse(mast.position, self.end.position).distance_m
            })
        };
        let mut near: Vec<(f64, &model::Sector)> = self
            .network
            .sectors
            .iter()
            .map(|s| (distance_m(s), s))
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best: Option<(f64, String)> = None;
        let mut refused = None;
        for (_, sector) in near.into_iter().take(MOST_TRIED) {
            match self.explain(sector.id.as_str(), explain::Company::Alone, run) {
                Ok(report) => {
                    let margin_db = report
                        .link
                        .margin_db()
                        .unwrap_or(report.link.downlink.snr_db - 1e3);
                    if best.as_ref().is_none_or(|(own, _)| margin_db > *own) {
                        best = Some((margin_db, sector.id.to_string()));
                    }
                }
                Err(problem) => refused = refused.or(Some(problem)),
            }
        }
        let nothing = || {
            refused
                .unwrap_or_else(|| Problem::unusable("the design has no sector\nhint: put one up"))
        };
        best.map(|(_, sector)| sector).ok_or_else(nothing)
    }
}

/// A nameless premises at a place, with what the design gives by default.
fn bare(network: &Network, place: Place) -> Result<Premises, Problem> {
    let position = resolve::place(place)?;
    let defaults = network.place_defaults.as_ref();
    let PlaceDefaults { terminal, plan } = defaults.cloned().ok_or_else(|| {
        Problem::unusable("the design names no terminal and plan for a bare place\nhint: set `terminal` and `plan` under `[defaults]`")
    })?;
    Ok(Premises {
        // A control character: no id of a design can be the same.
        id: PremisesId::new("\u{1}place"),
        name: String::new(),
        position,
        mount_height_agl_m: network.study.mount_height_agl_m,
        mounting: Mounting::Open,
        plan,
        terminal,
        priority: 0,
        fixed_sector: None,
        people: None,
    })
}

fn facts(premises: &Premises) -> PremisesFacts {
    let mounting = Mounting::NAMES
        .iter()
        .find(|(_, mounting)| *mounting == premises.mounting);
    PremisesFacts {
        id: premises.id.to_string(),
        name: premises.name.clone(),
        plan: premises.plan.id.to_string(),
        mount_height_agl_m: premises.mount_height_agl_m,
        mounting: mounting.map_or(String::new(), |(name, _)| (*name).to_owned()),
        terminal: premises.terminal.id.to_string(),
        priority: premises.priority,
        fixed_sector: premises.fixed_sector.as_ref().map(ToString::to_string),
    }
}

/// A spot on the map.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct SpotQuestion {
    /// Longitude, WGS 84.
    #[param(minimum = -180, maximum = 180)]
    lon_deg: f64,
    /// Latitude, WGS 84.
    #[param(minimum = -90, maximum = 90)]
    lat_deg: f64,
}

/// What is at a spot: ground, land cover, trees.
#[utoipa::path(get, path = "/api/spot", params(SpotQuestion),
    responses((status = 200, body = Spot), (status = 400, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn spot(
    State(workspace): Shared,
    Query(question): Query<SpotQuestion>,
) -> Result<Json<Spot>, Problem> {
    aside(move || {
        let position = Place {
            lon_deg: question.lon_deg,
            lat_deg: question.lat_deg,
        };
        let at = resolve::place(position)?;
        let scene = workspace.scene();
        let ground = workspace.ground(&scene, scene.network()?);
        let mapped = ground.surroundings.mapped();
        let cover = mapped.and_then(|mapped| mapped.land_cover());
        let class = cover.and_then(|cover| cover.clutter.class(cover.classes.class(at)?));
        let canopy = mapped.and_then(|mapped| mapped.canopy());
        let canopy_m = canopy.map(|canopy| f64::from(canopy.heights.nearest(at)) * canopy.unit_m);
        Ok(Json(Spot {
            position,
            ground_amsl_m: ground.surroundings.ground_amsl_m(at),
            land_cover: class.map(|class| class.name.clone()),
            clutter_height_m: class.map(|class| class.height_m),
            canopy_height_m: canopy_m.filter(|m| m.is_finite()),
        }))
    })
    .await
}

impl From<&pipeline::engine::study::Summary> for Counts {
    fn from(summary: &pipeline::engine::study::Summary) -> Self {
        Self {
            premises: summary.premises,
            served: summary.served,
            doubtful: summary.doubtful,
            unserved: summary.unserved,
            expected_failed_installations: summary.expected_failed_installations,
        }
    }
}

impl From<&pipeline::compare::PremisesState> for PremisesState {
    fn from(state: &pipeline::compare::PremisesState) -> Self {
        Self {
            verdict: state.verdict.into(),
            cause: state.cause.map(Into::into),
            sector: state.sector.as_ref().map(ToString::to_string),
            margin_db: state.margin_db,
            probability_frac: state.probability_frac,
            downlink_ethernet_rate_mbps: state.downlink_ethernet_rate_mbps,
            uplink_ethernet_rate_mbps: state.uplink_ethernet_rate_mbps,
        }
    }
}

impl From<&pipeline::compare::PremisesChange> for PremisesChange {
    fn from(change: &pipeline::compare::PremisesChange) -> Self {
        Self {
            id: change.id.to_string(),
            name: change.name.clone(),
            position: change.position.into(),
            before: change.before.as_ref().map(Into::into),
            after: change.after.as_ref().map(Into::into),
        }
    }
}

impl From<&pipeline::compare::SectorChange> for SectorChange {
    fn from(change: &pipeline::compare::SectorChange) -> Self {
        let state = |state: &pipeline::compare::SectorState| SectorState {
            terminals: state.terminals,
            downlink_airtime_frac: state.downlink_airtime_frac,
            uplink_airtime_frac: state.uplink_airtime_frac,
            power_per_chain_dbm: state.power_per_chain_dbm,
            power_eirp_dbm: state.power_eirp_dbm,
        };
        Self {
            id: change.id.to_string(),
            before: change.before.as_ref().map(state),
            after: change.after.as_ref().map(state),
        }
    }
}
