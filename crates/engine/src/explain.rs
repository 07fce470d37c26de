//! One link taken apart: its cross-section, every term of its loss and every
//! line of its budget, for a person who asks why.

pub(crate) mod budget;

use model::network::Network;
use serde::Serialize;

use crate::frame::Direction;
use crate::interference::{Interferer, Scene};
use crate::link::{self, Link, LinkInterference};
use crate::matrix::{self, PathMatrix, clutter_use};
use crate::near_end::NEAR_STRETCH_M;
use crate::path::{
    ClutterUse, PathConditions, PathEnd, PathError, PathEvaluator, PathGeometry, path_model,
};
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, RunControl};
use crate::service;
use crate::study::StudyKept;
use crate::surroundings::{CrossSection, Surroundings};
use crate::woodland::Woodland;

pub use budget::BudgetTerm;
use budget::{Names, budget};

/// One quantity of the path-loss model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LossTerm {
    /// Name with its unit.
    pub name: &'static str,
    /// What it is, in a few words.
    pub meaning: &'static str,
    /// Value.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
}

impl From<physics::path_loss::Term> for LossTerm {
    fn from(term: physics::path_loss::Term) -> Self {
        Self {
            name: term.name,
            meaning: term.meaning,
            value: term.value,
            unit: term.unit,
        }
    }
}

/// Ground, clutter and ray along a path, for a drawing. Equal lengths.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectionView {
    /// Distance from the mast.
    pub distance_m: Vec<f64>,
    /// Ground above sea level; surveyed heights at the ends where the design gives them.
    pub ground_amsl_m: Vec<f64>,
    /// Clutter height above the ground, as the path loss counts it.
    pub clutter_m: Vec<f64>,
    /// Mapped clutter that the path loss leaves out, because the term for a terminal below the roofs stands for it.
    pub set_aside_clutter_m: Vec<f64>,
    /// Height by which the curved Earth rises above the chord, median refraction: add it to the ground.
    pub earth_bulge_m: Vec<f64>,
    /// Straight ray above sea level.
    pub ray_amsl_m: Vec<f64>,
    /// Radius of the first Fresnel zone.
    pub fresnel_radius_m: Vec<f64>,
}

/// A link taken apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PathReport {
    /// Sector at the near end.
    pub from: String,
    /// Premises or place at the far end.
    pub to: String,
    /// Whose interference the budgets count.
    pub company: Company,
    /// Carrier.
    pub frequency_mhz: f64,
    /// Name and edition of the path-loss model.
    pub model: &'static str,
    /// Geometry and clearance.
    pub geometry: PathGeometry,
    /// Name of the building that is the closest thing below the ray, where it is one.
    pub obstacle_building: Option<String>,
    /// For the drawing.
    pub section: SectionView,
    /// Every term of the path loss.
    pub loss_terms: Vec<LossTerm>,
    /// Trees around the terminal; `None` where its antenna stands clear of them.
    pub woodland: Option<Woodland>,
    /// Where the inputs leave the range the model is stated for.
    pub loss_warnings: Vec<String>,
    /// Budget from the base station.
    pub downlink: Vec<BudgetTerm>,
    /// Budget from the terminal.
    pub uplink: Vec<BudgetTerm>,
    /// The strongest unwanted signals at the terminal, strongest first.
    pub downlink_interferers: Vec<InterfererLine>,
    /// The strongest unwanted signals at the base station, strongest first.
    pub uplink_interferers: Vec<InterfererLine>,
    /// The link as the study sees it.
    pub link: Link,
}

/// One unwanted signal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InterfererLine {
    /// Sector that sends it, or whose terminals do.
    pub sector: String,
    /// Mean level at one port.
    pub level_dbm: f64,
}

/// Why a link cannot be taken apart.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ExplainError {
    /// No such sector.
    #[error("no sector `{0}` in the design")]
    UnknownSector(String),
    /// No such premises.
    #[error("no premises `{0}` in the design")]
    UnknownPremises(String),
    /// The path cannot be evaluated.
    #[error(transparent)]
    Path(#[from] PathError),
    /// Stopped from outside.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
}

/// Whether the rest of the network is evaluated for its interference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Company {
    /// The link alone in its channel: quick.
    Alone,
    /// With the interference of the whole network.
    WholeNetwork,
}

impl Company {
    /// What has to stand beside a budget; `None` where it counts everything.
    pub fn caption(self) -> Option<&'static str> {
        match self {
            Company::Alone => Some("this link alone, without interference"),
            Company::WholeNetwork => None,
        }
    }
}

/// Takes the link of a sector and a premises apart.
///
/// * `link`: ids of the sector and the premises.
pub fn explain(
    network: &Network,
    surroundings: &dyn Surroundings,
    link: (&str, &str),
    (company, run): (Company, &RunControl<'_>),
) -> Result<PathReport, ExplainError> {
    let mut reports = explain_links(network, surroundings, &[link], (company, run))?;
    reports
        .pop()
        .ok_or(ExplainError::Path(PathError::SamePlace))
}

/// Takes one link apart as [`explain`] does, with what a study of the same
/// network over the same ground has kept.
///
/// The premises itself may be another than the study saw, or none that it saw:
/// the uplink is then that of the terminals that the study serves.
pub fn explain_again(
    network: &Network,
    surroundings: &dyn Surroundings,
    (link, kept): ((&str, &str), &StudyKept),
    (company, run): (Company, &RunControl<'_>),
) -> Result<PathReport, ExplainError> {
    let (sector, premises) = find(network, &link)?;
    run.install(|| {
        let (network, sector) = match company {
            Company::WholeNetwork => (among_sectors(network, premises), sector),
            Company::Alone => (alone(network, (sector, premises)), 0),
        };
        let network = reaching(network, &[(sector, 0)]);
        let ready = ReadyNetwork::new(&network);
        run.begin("paths", 1);
        let paths = PathMatrix::evaluate_again(&ready, surroundings, Some(&kept.paths), run)?;
        let uplink = match company {
            Company::WholeNetwork => kept.uplink.get(sector).map_or(&[][..], Vec::as_slice),
            Company::Alone => &[],
        };
        let scene = Scene::new(&ready, &paths);
        let report = report(&scene, surroundings, (sector, 0), uplink)?;
        Ok(PathReport { company, ..report })
    })
}

/// Takes several links apart; the network is evaluated once for all of them.
///
/// * `links`: ids of sectors and premises. The reports stand in their order.
pub fn explain_links(
    network: &Network,
    surroundings: &dyn Surroundings,
    links: &[(&str, &str)],
    (company, run): (Company, &RunControl<'_>),
) -> Result<Vec<PathReport>, ExplainError> {
    let indices: Vec<(usize, usize)> = links
        .iter()
        .map(|link| find(network, link))
        .collect::<Result<_, _>>()?;
    run.install(|| match company {
        Company::WholeNetwork => {
            explain_in(network.clone(), surroundings, &indices, (company, run))
        }
        Company::Alone => {
            let mut reports = Vec::with_capacity(indices.len());
            for link in indices {
                let alone = alone(network, link);
                reports.extend(explain_in(alone, surroundings, &[(0, 0)], (company, run))?);
            }
            Ok(reports)
        }
    })
}

/// Indices of a sector and a premises.
pub(crate) fn find(
    network: &Network,
    (sector, premises): &(&str, &str),
) -> Result<(usize, usize), ExplainError> {
    let sector_index = network
        .sectors
        .iter()
        .position(|s| s.id.as_str() == *sector)
        .ok_or_else(|| ExplainError::UnknownSector((*sector).to_owned()))?;
    let premises_index = network
        .premises
        .iter()
        .position(|p| p.id.as_str() == *premises)
        .ok_or_else(|| ExplainError::UnknownPremises((*premises).to_owned()))?;
    Ok((sector_index, premises_index))
}

/// The same network with one sector and one premises.
fn alone(network: &Network, (sector, premises): (usize, usize)) -> Network {
    Network {
        sectors: vec![network.sectors[sector].clone()],
        ..among_sectors(network, premises)
    }
}

/// The same network with one premises.
fn among_sectors(network: &Network, premises: usize) -> Network {
    let premises = vec![network.premises[premises].clone()];
    network.with_premises(premises)
}

fn explain_in(
    network: Network,
    surroundings: &dyn Surroundings,
    links: &[(usize, usize)],
    (company, run): (Company, &RunControl<'_>),
) -> Result<Vec<PathReport>, ExplainError> {
    let network = reaching(network, links);
    let ready = ReadyNetwork::new(&network);
    run.begin("paths", network.premises.len());
    let paths = PathMatrix::evaluate(&ready, surroundings, run)?;
    let scene = Scene::new(&ready, &paths);
    let served = service::serve(&scene, run)?;
    links
        .iter()
        .map(|link| {
            let report = report(&scene, surroundings, *link, &served.uplink[link.0])?;
            Ok(PathReport { company, ..report })
        })
        .collect()
}

/// The network with a reach that no link asked for exceeds: asked for by name,
/// a path is shown however long it is.
fn reaching(mut network: Network, links: &[(usize, usize)]) -> Network {
    for (sector, premises) in links {
        let mast = network.mast(&network.sectors[*sector].mast);
        let place = network.premises[*premises].position;
        let length_m = mast.map_or(0.0, |m| geodesy::inverse(m.position, place).distance_m);
        // A metre more, so that rounding does not put the end out of reach.
        let needed_km = length_m / 1e3 + 0.001;
        let settings = &mut network.propagation;
        settings.reach_km = settings.reach_km.max(needed_km);
        settings.interference_reach_km = settings.interference_reach_km.max(needed_km);
    }
    network
}

fn report(
    scene: &Scene<'_>,
    surroundings: &dyn Surroundings,
    (sector, premises): (usize, usize),
    uplink: &[Interferer],
) -> Result<PathReport, ExplainError> {
    let ready = scene.ready;
    let detail = Detail::trace(scene, surroundings, (sector, premises))?;
    let path = scene
        .paths
        .state(premises, sector)
        .known()
        .ok_or(PathError::SamePlace)?;
    let downlink = scene.downlink_interferers(premises, sector);
    let interference = LinkInterference {
        downlink_dbm: crate::interference::sum_dbm(&downlink),
        uplink_dbm: crate::interference::sum_dbm(uplink),
    };
    let link = link::evaluate(ready, (premises, sector), path, &interference);
    let names = Names::new(ready, (sector, premises), detail.woodland);
    Ok(PathReport {
        from: ready.network.sectors[sector].id.to_string(),
        to: ready.network.premises[premises].id.to_string(),
        company: Company::WholeNetwork,
        frequency_mhz: ready.network.sectors[sector].channel.centre_mhz,
        model: path_model(
            ready.network.propagation.service_model,
            ready.network.sectors[sector].channel.centre_mhz,
        )
        .title(),
        geometry: detail.geometry,
        section: detail.section,
        obstacle_building: detail.building,
        loss_terms: detail.loss_terms,
        woodland: detail.woodland,
        loss_warnings: detail.loss_warnings,
        downlink: budget(&link.downlink, Direction::Downlink, &names),
        uplink: budget(&link.uplink, Direction::Uplink, &names),
        downlink_interferers: lines(ready, &downlink),
        uplink_interferers: lines(ready, uplink),
        link,
    })
}

/// What only the full evaluation of one path gives.
struct Detail {
    geometry: PathGeometry,
    section: SectionView,
    building: Option<String>,
    loss_terms: Vec<LossTerm>,
    woodland: Option<Woodland>,
    loss_warnings: Vec<String>,
}

impl Detail {
    fn trace(
        scene: &Scene<'_>,
        surroundings: &dyn Surroundings,
        (sector, premises): (usize, usize),
    ) -> Result<Self, PathError> {
        let network = scene.ready.network;
        let ready_sector = &scene.ready.sectors[sector];
        let from = ready_sector.path_end();
        let p = &network.premises[premises];
        let to = PathEnd {
            position: p.position,
            agl_m: p.mount_height_agl_m,
            ground_amsl_m: None,
        };
        let mut section = CrossSection::default();
        surroundings.trace(
            from.position,
            to.position,
            network.propagation.profile_step_m,
            &mut section,
        );
        let conditions = PathConditions {
            clutter: clutter_use(p.mounting),
            ..matrix::conditions(
                PathConditions::wanted(&network.propagation),
                ready_sector.sector,
            )
        };
        let frequency_mhz = ready_sector.sector.channel.centre_mhz;
        let mut evaluator = PathEvaluator::default();
        let ends = (&from, &to);
        let path = evaluator.evaluate(&section, ends, frequency_mhz, &conditions)?;
        let warnings = evaluator.range_warnings(&section, ends, frequency_mhz, &conditions)?;
        let loss_terms = path.loss.list().into_iter().map(LossTerm::from).collect();
        Ok(Self {
            geometry: path.geometry,
            building: obstacle_building(&section, &path.geometry),
            section: view(&section, &path.geometry, frequency_mhz, &conditions),
            loss_terms,
            woodland: path.woodland,
            loss_warnings: warnings.iter().map(ToString::to_string).collect(),
        })
    }
}

/// The building that is the closest thing below the ray.
fn obstacle_building(section: &CrossSection, geometry: &PathGeometry) -> Option<String> {
    let obstacle = &geometry.obstacle;
    let distances = section.distance_m.iter();
    let at = distances.zip(&section.building).find_map(|(d_m, name)| {
        let is_there = (d_m - obstacle.distance_m).abs() < 1e-3;
        is_there.then_some(name)
    });
    // Where the model takes the clutter away the building is not counted either.
    at?.as_deref()
        .filter(|_| obstacle.clutter_m > 0.0)
        .map(str::to_owned)
}

fn view(
    section: &CrossSection,
    geometry: &PathGeometry,
    frequency_mhz: f64,
    conditions: &PathConditions,
) -> SectionView {
    let k = physics::refractivity::k_factor(conditions.refractivity_lapse_n_per_km);
    let length_m = section.length_m;
    let at = |d_m: f64| (d_m / 1e3, ((length_m - d_m) / 1e3).max(0.0));
    let (clutter_m, set_aside_clutter_m) = counted(section, conditions.clutter);
    SectionView {
        distance_m: section.distance_m.clone(),
        ground_amsl_m: evaluated_ground_m(section, geometry),
        clutter_m,
        set_aside_clutter_m,
        earth_bulge_m: section
            .distance_m
            .iter()
            .map(|d_m| {
                let (near_km, far_km) = at(*d_m);
                physics::fresnel::earth_bulge_m(near_km, far_km, k)
            })
            .collect(),
        ray_amsl_m: section
            .distance_m
            .iter()
            .map(|d_m| {
                geometry.from_amsl_m + (geometry.to_amsl_m - geometry.from_amsl_m) * d_m / length_m
            })
            .collect(),
        fresnel_radius_m: section
            .distance_m
            .iter()
            .map(|d_m| {
                let (near_km, far_km) = at(*d_m);
                physics::fresnel::first_zone_radius_m(frequency_mhz / 1e3, near_km, far_km)
            })
            .collect(),
    }
}

/// The ground under the ray as it was evaluated: its ends carry the antennas.
fn evaluated_ground_m(section: &CrossSection, geometry: &PathGeometry) -> Vec<f64> {
    let mut ground_m = section.ground_amsl_m.clone();
    if let Some(first) = ground_m.first_mut() {
        *first = geometry.from_amsl_m - geometry.from_agl_m;
    }
    if let Some(last) = ground_m.last_mut() {
        *last = geometry.to_amsl_m - geometry.to_agl_m;
    }
    ground_m
}

/// Clutter that the path loss counts, and mapped clutter that it leaves out.
fn counted(section: &CrossSection, clutter: ClutterUse) -> (Vec<f64>, Vec<f64>) {
    let counted_to_m = match clutter {
        ClutterUse::Standing => f64::INFINITY,
        ClutterUse::ClearedNearTerminal => section.length_m - NEAR_STRETCH_M,
        ClutterUse::Removed => f64::NEG_INFINITY,
    };
    let both = section.clutter_m.iter().zip(&section.distance_m);
    both.map(|(clutter_m, d_m)| {
        if *d_m < counted_to_m {
            (*clutter_m, 0.0)
        } else {
            (0.0, *clutter_m)
        }
    })
    .unzip()
}

fn lines(ready: &ReadyNetwork<'_>, interferers: &[Interferer]) -> Vec<InterfererLine> {
    let mut lines: Vec<InterfererLine> = interferers
        .iter()
        .map(|i| InterfererLine {
            sector: ready.sectors[i.sector].sector.id.to_string(),
            level_dbm: i.level_dbm,
        })
        .collect();
    lines.sort_by(|a, b| b.level_dbm.total_cmp(&a.level_dbm));
    lines
}
