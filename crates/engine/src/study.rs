//! The study: every premises against every sector in reach, and what comes of it.

use geodesy::LonLat;
use model::finding::{Finding, Severity, Subject};
use model::ids::{MastId, PlanId, PremisesId, SectorId};
use model::network::{Channel, Network};
use rayon::prelude::*;
use serde::Serialize;

use crate::compliance::AllowedPower;
use crate::coupling::Coupling;
use crate::hop::load::{CarriedLoad, MastLoad};
use crate::hop::{self, BackhaulResult};
use crate::interference::{Interferer, Scene, sum_dbm};
use crate::link::Link;
use crate::load;
use crate::load::admission::{Candidates, SectorLoad};
use crate::load::sector::{self, SectorCapacity};
use crate::matrix::{PathMatrix, PathState};
use crate::path::PathError;
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, RunControl};
use crate::service::{self, Served};
use crate::surroundings::Surroundings;
use crate::timing::{self, TimingResult};
use crate::verdict::{self, Limit, LimitingCause, Verdict};

/// Everything a study says. Field names are the names of the output files.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StudyResult {
    /// Counts over the whole network.
    pub summary: Summary,
    /// One per premises, in the network's order.
    pub premises: Vec<PremisesResult>,
    /// One per sector, in the network's order.
    pub sectors: Vec<SectorResult>,
    /// Load, room and growth by sector, in the network's order.
    pub capacity: Vec<SectorCapacity>,
    /// Base stations that transmit while others listen, and what the loss of the common time does.
    pub timing: TimingResult,
    /// Hops between the masts, and the masts' routes to the core.
    pub backhaul: BackhaulResult,
    /// What the evaluation has to tell.
    pub findings: Vec<Finding>,
}

/// Counts over the whole network.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Premises in all.
    pub premises: usize,
    /// Premises whose plan is met surely enough.
    pub served: usize,
    /// Premises whose plan is met on the median only.
    pub doubtful: usize,
    /// Premises whose plan is not met.
    pub unserved: usize,
    /// Unserved premises by cause.
    pub unserved_by_cause: Vec<CauseCount>,
    /// Installations that may be expected to fail among the served and doubtful: the sum of one minus probability.
    pub expected_failed_installations: f64,
    /// Paths evaluated.
    pub evaluated_paths: usize,
}

/// How many premises a cause holds back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct CauseCount {
    /// The cause.
    pub cause: LimitingCause,
    /// How many.
    pub premises: usize,
}

/// What the study says of one premises.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PremisesResult {
    /// Id.
    pub id: PremisesId,
    /// What a person calls it.
    pub name: String,
    /// Where it stands.
    pub position: LonLat,
    /// Plan it would buy.
    pub plan: PlanId,
    /// Height of the terminal's antenna above ground.
    pub mount_height_agl_m: f64,
    /// The answer.
    pub verdict: Verdict,
    /// What holds it back; `None` where it is served or doubtful.
    pub limit: Option<Limit>,
    /// The link that serves, or the one that comes closest.
    pub link: Option<Link>,
    /// Other sectors in falling order of margin.
    pub alternatives: Vec<Alternative>,
}

/// A sector that could serve instead.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    /// The sector.
    pub sector: SectorId,
    /// Its margin; `None` where it cannot give the plan's rate at all.
    pub margin_db: Option<f64>,
}

/// What the study says of one sector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectorResult {
    /// Id.
    pub id: SectorId,
    /// Its mast.
    pub mast: MastId,
    /// Where the mast stands.
    pub position: LonLat,
    /// Aim.
    pub azimuth_deg: f64,
    /// Height of the antenna above ground.
    pub height_agl_m: f64,
    /// Channel.
    pub channel: Channel,
    /// Power after equipment and rules.
    pub power: AllowedPower,
    /// Load at the busy hour.
    pub load: SectorLoad,
    /// Premises whose plan is met surely enough.
    pub served: usize,
    /// Premises whose plan is met on the median only.
    pub doubtful: usize,
    /// Farthest premises served.
    pub farthest_served_m: f64,
    /// Farthest terminal that the guard time allows.
    pub guard_range_m: f64,
    /// Mean uplink interference at one port; `None` where there is none.
    pub uplink_interference_dbm: Option<f64>,
    /// Noise of one receive chain.
    pub uplink_noise_dbm: f64,
}

/// What a study keeps for later questions over the same ground.
#[derive(Debug)]
pub struct StudyKept {
    /// Losses, for a study of a network with changes.
    pub paths: PathMatrix,
    /// What the terminals that others serve put into each sector, in the
    /// network's order: one entry per interfering sector.
    pub uplink: Vec<Vec<Interferer>>,
}

/// Evaluates a network.
pub fn study(
    network: &Network,
    surroundings: &dyn Surroundings,
    run: &RunControl<'_>,
) -> Result<StudyResult, Interrupted> {
    study_again(network, surroundings, None, run).map(|(study, _)| study)
}

/// The same with the paths of an earlier study over the same ground: what
/// still fits is taken from them, and the answer is the same. Gives what the
/// next one and [`crate::explain::explain_again`] can use.
pub fn study_again(
    network: &Network,
    surroundings: &dyn Surroundings,
    kept: Option<&PathMatrix>,
    run: &RunControl<'_>,
) -> Result<(StudyResult, StudyKept), Interrupted> {
    run.install(|| {
        let ready = ReadyNetwork::new(network);
        run.begin("paths", network.premises.len());
        let paths = PathMatrix::evaluate_again(&ready, surroundings, kept, run)?;
        run.begin("links", network.premises.len());
        let scene = Scene::new(&ready, &paths);
        let served = service::serve(&scene, run)?;
        let premises = premises_results(&scene, &served, surroundings, run)?;
        let sectors = sector_results(&scene, &served, &premises);
        let capacity = sector::capacities(&ready, &served.premises, &served.admission);
        let timing = timing::evaluate(&ready, surroundings, run)?;
        let loads = mast_loads(&sectors);
        let (backhaul, told) = hop::evaluate(network, surroundings, &loads, run)?;
        let mut findings = ready.findings.clone();
        findings.extend(ground_findings(&paths, &premises));
        findings.extend(unknown_interference(&scene, &served.serving()));
        findings.extend(load::findings(&ready, &capacity, &served.premises));
        findings.extend(timing::findings(&ready, &timing));
        findings.extend(told);
        let study = StudyResult {
            summary: summary(&premises, paths.evaluated_paths),
            premises,
            sectors,
            capacity,
            timing,
            backhaul,
            findings,
        };
        let uplink = served.uplink;
        Ok((study, StudyKept { paths, uplink }))
    })
}

fn premises_results(
    scene: &Scene<'_>,
    served: &Served,
    surroundings: &dyn Surroundings,
    run: &RunControl<'_>,
) -> Result<Vec<PremisesResult>, Interrupted> {
    let results: Vec<Option<PremisesResult>> = served
        .premises
        .par_iter()
        .enumerate()
        .map(|(p, candidates)| {
            if run.interrupted() {
                return None;
            }
            let result = premises_result(scene, surroundings, p, candidates);
            run.advance(1);
            Some(result)
        })
        .collect();
    results.into_iter().map(|r| r.ok_or(Interrupted)).collect()
}

fn premises_result(
    scene: &Scene<'_>,
    surroundings: &dyn Surroundings,
    index: usize,
    candidates: &Candidates,
) -> PremisesResult {
    let p = &scene.ready.network.premises[index];
    let shown = candidates.serving.unwrap_or(0);
    let link = candidates.links.get(shown).map(|(_, link)| link.clone());
    let verdict = match (&link, candidates.serving) {
        (Some(link), Some(_)) if link.probability_frac >= p.plan.target_probability_frac => {
            Verdict::Served
        }
        (Some(_), Some(_)) => Verdict::Doubtful,
        _ => Verdict::Unserved,
    };
    let limit = (verdict == Verdict::Unserved)
        .then(|| verdict::limit(scene, surroundings, index, candidates));
    let alternatives = candidates
        .links
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != shown)
        .map(|(_, (_, link))| Alternative {
            sector: link.sector.clone(),
            margin_db: link.margin_db(),
        })
        .collect();
    PremisesResult {
        id: p.id.clone(),
        name: p.name.clone(),
        position: p.position,
        plan: p.plan.id.clone(),
        mount_height_agl_m: p.mount_height_agl_m,
        verdict,
        limit,
        link,
        alternatives,
    }
}

fn sector_results(
    scene: &Scene<'_>,
    served: &Served,
    premises: &[PremisesResult],
) -> Vec<SectorResult> {
    let serving = served.serving();
    scene
        .ready
        .sectors
        .iter()
        .enumerate()
        .map(|(index, s)| {
            let own = || {
                premises
                    .iter()
                    .zip(&serving)
                    .filter(move |(_, sector)| **sector == Some(index))
                    .map(|(p, _)| p)
            };
            let count = |verdict| own().filter(|p| p.verdict == verdict).count();
            let interference_dbm = sum_dbm(&served.uplink[index]);
            SectorResult {
                id: s.sector.id.clone(),
                mast: s.mast.id.clone(),
                position: s.mast.position,
                azimuth_deg: s.sector.azimuth_deg,
                height_agl_m: s.sector.height_agl_m,
                channel: s.sector.channel,
                power: s.power.clone(),
                load: served.admission.loads[index],
                served: count(Verdict::Served),
                doubtful: count(Verdict::Doubtful),
                farthest_served_m: own()
                    .filter_map(|p| p.link.as_ref())
                    .map(|l| l.distance_m)
                    .fold(0.0, f64::max),
                guard_range_m: s.guard_range_m,
                uplink_interference_dbm: interference_dbm.is_finite().then_some(interference_dbm),
                uplink_noise_dbm: s.noise_dbm,
            }
        })
        .collect()
}

/// What each mast's sectors bring to the backhaul.
fn mast_loads(sectors: &[SectorResult]) -> Vec<MastLoad> {
    sectors
        .iter()
        .map(|s| MastLoad {
            mast: s.mast.clone(),
            load: CarriedLoad {
                downlink_mbps: s.load.downlink_mbps,
                uplink_mbps: s.load.uplink_mbps,
            },
        })
        .collect()
}

fn summary(premises: &[PremisesResult], evaluated_paths: usize) -> Summary {
    let count = |verdict| premises.iter().filter(|p| p.verdict == verdict).count();
    let unserved_by_cause = LimitingCause::ALL
        .into_iter()
        .map(|cause| CauseCount {
            cause,
            premises: premises
                .iter()
                .filter(|p| p.limit.as_ref().is_some_and(|l| l.cause == cause))
                .count(),
        })
        .filter(|c| c.premises > 0)
        .collect();
    Summary {
        premises: premises.len(),
        served: count(Verdict::Served),
        doubtful: count(Verdict::Doubtful),
        unserved: count(Verdict::Unserved),
        unserved_by_cause,
        expected_failed_installations: premises
            .iter()
            .filter(|p| p.verdict != Verdict::Unserved)
            .filter_map(|p| p.link.as_ref())
            .map(|l| 1.0 - l.probability_frac)
            .sum(),
        evaluated_paths,
    }
}

fn ground_findings(paths: &PathMatrix, premises: &[PremisesResult]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for p in premises {
        let unknown = p
            .limit
            .as_ref()
            .is_some_and(|l| l.cause == LimitingCause::UnknownGround);
        if unknown {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    "unknown-ground",
                    format!(
                        "premises `{}` has no path over known ground to any sector in reach",
                        p.id
                    ),
                )
                .about(Subject::Premises(p.id.clone()))
                .hint("add terrain that covers it; unknown ground is never taken as flat"),
            );
        }
    }
    if paths.unknown_cover_points > 0 {
        findings.push(
            Finding::new(
                Severity::Warning,
                "unknown-land-cover",
                format!(
                    "land cover is unknown at `{}` points of the cross-sections; they were taken as bare ground",
                    paths.unknown_cover_points
                ),
            )
            .hint("add land cover for the whole territory, name the legend that the raster was made with, or write a legend card with the missing codes"),
        );
    }
    findings
}

/// Unwanted signals whose path crosses unknown ground count for nothing; that must be told.
fn unknown_interference(scene: &Scene<'_>, serving: &[Option<usize>]) -> Option<Finding> {
    let mut unknown = 0;
    for (premises, sector) in serving.iter().enumerate() {
        let Some(own) = *sector else { continue };
        unknown += (0..scene.ready.sectors.len())
            .filter(|other| scene.couplings.get(own, *other) != Coupling::Apart)
            .filter(|other| {
                matches!(
                    scene.paths.state(premises, *other),
                    PathState::Unknown(PathError::UnknownGround { .. })
                )
            })
            .count();
    }
    (unknown > 0).then(|| {
        Finding::new(
            Severity::Warning,
            "unknown-interference",
            format!(
                "`{unknown}` unwanted signals cross unknown ground and could not be counted: SINR is too good where they matter"
            ),
        )
        .hint("add terrain between all masts and premises that share channels")
    })
}
