//! What is there: the project, its network, ledger, findings, and what happens.

use std::convert::Infallible;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::response::sse::{self, KeepAlive, Sse};
use outputs::layers::{self, Cell, Kind};
use outputs::{CAUTION, Handout};
use pipeline::engine::frame::Direction;
use pipeline::engine::load::flow::PlanLoad;
use pipeline::engine::load::sector::ClassShare;
use pipeline::model::{self, SchedulingClass, Severity};
use store::project::PREMISES_FILES;
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::{Stream, StreamExt as _};

use super::received::Path;
use crate::api::Bounds;
use crate::api::change::History;
use crate::api::consequence::Counts;
use crate::api::event::{Event, Job};
use crate::api::finding::{Finding, Findings};
use crate::api::network::{HopMark, Mast, Network, PremisesMarks, SectorMark};
use crate::api::premises::{ColumnKind, Ledger, LedgerColumn, LedgerValue};
use crate::api::problem::Problem;
use crate::api::project::{
    Band, Card, Catalogue, DataSource, Plan, Project, ProjectState, RuleSet,
};
use crate::api::sector::{ChannelNeighbour, ClassAirtime, PlanRoom, SectorSheet, SectorStudy};
use crate::workspace::scene::Scene;
use crate::workspace::study::Study;
use crate::workspace::{Workspace, held};

type Shared = State<Arc<Workspace>>;

/// The project as a whole.
#[utoipa::path(get, path = "/api/project", responses((status = 200, body = Project)))]
pub(super) async fn project(State(workspace): Shared) -> Json<Project> {
    let scene = workspace.scene();
    let study = workspace.latest_study();
    let network = scene.network.as_deref();
    let current = study
        .as_ref()
        .filter(|study| study.revision == scene.revision);
    let findings = current.map_or(&scene.findings, |study| &study.findings);
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let folder = workspace
        .folder
        .canonicalize()
        .unwrap_or_else(|_| workspace.folder.clone());
    let folder = folder
        .file_name()
        .map_or(String::new(), |name| name.to_string_lossy().into_owned());
    let mut files = PREMISES_FILES.into_iter();
    let premises_file = files.find(|file| scene.stamps.iter().any(|stamp| &*stamp.file == *file));
    let sources = current.map_or(&[][..], |study| &study.ground.data_sources);
    // One lock after the other, never both: whoever writes holds the pen first and the state then.
    let study_state = workspace.state().study_state.clone();
    let history = held(&workspace.pen).show();
    Json(Project {
        version: pipeline::VERSION.to_owned(),
        caution: CAUTION.to_owned(),
        folder,
        state: match (&scene.sources.design, network) {
            (None, _) => ProjectState::Empty,
            (Some(_), None) => ProjectState::Unusable,
            (Some(_), Some(_)) => ProjectState::Ready,
        },
        name: network.map_or(String::new(), |network| network.name.clone()),
        revision: scene.revision.clone(),
        study: study_state,
        counts: study
            .as_ref()
            .map(|study| Counts::from(&study.result.summary)),
        territory: network.map(|network| bounds(&network.territory)),
        working_plane_epsg: network.map(|network| network.territory.working_plane_epsg),
        rule_set: network.map(|network| rule_set(&network.rule_set)),
        plans: network.map_or(Vec::new(), plans),
        mount_height_agl_m: network.map_or(6.0, |network| network.study.mount_height_agl_m),
        premises_file: premises_file.unwrap_or_default().to_owned(),
        data_sources: sources.iter().map(data_source).collect(),
        errors: count(Severity::Error),
        warnings: count(Severity::Warning),
        history,
        tile_address: workspace.tile_address.clone(),
        is_demo: network.is_some_and(|network| network.rule_set.id.as_str().starts_with("demo-")),
    })
}

fn bounds(territory: &model::Territory) -> Bounds {
    let (sw, ne) = (territory.south_west, territory.north_east);
    let turn = if ne.lon_deg() < sw.lon_deg() {
        360.0
    } else {
        0.0
    };
    Bounds {
        west_deg: sw.lon_deg(),
        south_deg: sw.lat_deg(),
        east_deg: ne.lon_deg() + turn,
        north_deg: ne.lat_deg(),
    }
}

fn rule_set(rules: &model::RuleSet) -> RuleSet {
    let band = |rule: &model::SpectrumRule| Band {
        id: rule.id.to_string(),
        role: match rule.role {
            model::Role::Base => "base",
            model::Role::Terminal => "terminal",
            model::Role::PointToPoint => "point-to-point",
        }
        .to_owned(),
        lower_mhz: rule.lower_mhz,
        upper_mhz: rule.upper_mhz,
        eirp_dbm: rule.eirp_dbm,
        eirp_dbm_per_mhz: rule.eirp_dbm_per_mhz,
        conducted_dbm: rule.conducted_dbm,
        max_height_agl_m: rule.max_height_agl_m,
        conditions: rule.conditions.clone(),
        source: rule.source.clone(),
        certainty: rule.certainty.clone(),
    };
    RuleSet {
        id: rules.id.to_string(),
        title: rules.title.clone(),
        date_checked: rules.date_checked.clone(),
        caution: rules.caution.clone(),
        bands: rules.rules.iter().map(band).collect(),
    }
}

fn plans(network: &model::Network) -> Vec<Plan> {
    let plan = |plan: &Arc<model::ServicePlan>| Plan {
        id: plan.id.to_string(),
        name: plan.name.clone(),
        scheduling_class: plan.scheduling_class.name().to_owned(),
        downlink_mbps: plan.downlink_mbps,
        uplink_mbps: plan.uplink_mbps,
        target_probability_frac: plan.target_probability_frac,
    };
    network.plans.values().map(plan).collect()
}

fn data_source(source: &pipeline::engine::DataSource) -> DataSource {
    DataSource {
        kind: source.kind.to_owned(),
        file: source.file.clone(),
        description: source.description.clone(),
    }
}

/// Everything that the map draws.
#[utoipa::path(get, path = "/api/network", responses((status = 200, body = Network), (status = 409, body = Problem)))]
pub(super) async fn network(State(workspace): Shared) -> Result<Json<Network>, Problem> {
    let scene = workspace.scene();
    let network = scene.network()?;
    let study = workspace.latest_study();
    let mast = |mast: &model::Mast| Mast {
        id: mast.id.to_string(),
        name: mast.name.clone(),
        position: mast.position.into(),
        height_agl_m: mast.height_agl_m,
        ground_amsl_m: mast.ground_amsl_m,
    };
    let sectors = network.sectors.iter();
    let sectors = sectors.filter_map(|s| sector_mark(network, s, study.as_deref()));
    let hop = |hop: &model::Hop| HopMark {
        id: hop.id.to_string(),
        from: hop.from.mast.to_string(),
        to: hop.to.mast.to_string(),
    };
    Ok(Json(Network {
        revision: scene.revision.clone(),
        study_revision: study.as_ref().map(|study| study.revision.clone()),
        masts: network.masts.iter().map(mast).collect(),
        sectors: sectors.collect(),
        hops: network.backhaul.hops.iter().map(hop).collect(),
        premises: marks(network, study.as_deref()),
    }))
}

/// A sector as the map draws it.
fn sector_mark(
    network: &model::Network,
    sector: &model::Sector,
    study: Option<&Study>,
) -> Option<SectorMark> {
    let studied = study.and_then(|study| study.result.sectors.iter().find(|s| s.id == sector.id));
    Some(SectorMark {
        id: sector.id.to_string(),
        mast: sector.mast.to_string(),
        position: network.mast(&sector.mast)?.position.into(),
        azimuth_deg: sector.azimuth_deg,
        beamwidth_deg: outputs::sector_width_deg(sector),
        mechanical_downtilt_deg: sector.mechanical_downtilt_deg,
        electrical_downtilt_deg: sector.electrical_downtilt_deg,
        height_agl_m: sector.height_agl_m,
        channel_centre_mhz: sector.channel.centre_mhz,
        channel_width_mhz: sector.channel.width_mhz,
        tx_power_per_chain_dbm: sector.tx_power_per_chain_dbm,
        terminals: studied.map(|s| s.load.terminals),
        airtime_frac: studied.map(|s| s.load.downlink_airtime_frac.max(s.load.uplink_airtime_frac)),
        farthest_served_m: studied.map(|s| s.farthest_served_m),
    })
}

fn marks(network: &model::Network, study: Option<&Study>) -> PremisesMarks {
    let results = study.map(|study| {
        let results = study.result.premises.iter().map(|p| (&p.id, p));
        results.collect::<std::collections::BTreeMap<_, _>>()
    });
    let places: std::collections::BTreeMap<_, _> = network
        .sectors
        .iter()
        .enumerate()
        .map(|(place, s)| (&s.id, place))
        .collect();
    let mut marks = PremisesMarks::default();
    for premises in &network.premises {
        let result = results
            .as_ref()
            .and_then(|results| results.get(&premises.id));
        let link = result.and_then(|result| result.link.as_ref());
        marks.id.push(premises.id.to_string());
        marks.name.push(premises.name.clone());
        marks.lon_deg.push(premises.position.lon_deg());
        marks.lat_deg.push(premises.position.lat_deg());
        marks
            .verdict
            .push(result.map(|result| result.verdict.into()));
        let limit = result.and_then(|result| result.limit.as_ref());
        marks.cause.push(limit.map(|limit| limit.cause.into()));
        marks
            .sector
            .push(link.and_then(|link| places.get(&link.sector).copied()));
        marks
            .margin_db
            .push(link.and_then(pipeline::engine::link::Link::margin_db));
    }
    marks
}

/// Cards that a design can name.
#[utoipa::path(get, path = "/api/catalogue", responses((status = 200, body = Catalogue)))]
pub(super) async fn catalogue(State(workspace): Shared) -> Json<Catalogue> {
    let scene = workspace.scene();
    let cards = &scene.catalogue;
    let bare = |id: &str, name: &str, source: &str| Card {
        id: id.to_owned(),
        name: name.to_owned(),
        lower_mhz: None,
        upper_mhz: None,
        gain_dbi: None,
        max_tx_power_per_chain_dbm: None,
        channel_width_mhz: None,
        source: source.to_owned(),
    };
    Json(Catalogue {
        antennas: cards
            .antennas
            .values()
            .map(|card| Card {
                gain_dbi: Some(card.gain_dbi),
                ..bare(card.id.as_str(), &card.name, &card.source)
            })
            .collect(),
        base_stations: cards
            .base_stations
            .values()
            .map(|card| Card {
                lower_mhz: Some(card.lower_mhz),
                upper_mhz: Some(card.upper_mhz),
                max_tx_power_per_chain_dbm: Some(card.max_tx_power_per_chain_dbm),
                ..bare(card.id.as_str(), &card.name, &card.source)
            })
            .collect(),
        terminals: cards
            .terminals
            .values()
            .map(|card| Card {
                lower_mhz: Some(card.lower_mhz),
                upper_mhz: Some(card.upper_mhz),
                gain_dbi: Some(card.antenna.gain_dbi),
                max_tx_power_per_chain_dbm: Some(card.max_tx_power_per_chain_dbm),
                ..bare(card.id.as_str(), &card.name, &card.source)
            })
            .collect(),
        air_interfaces: cards
            .air_interfaces
            .values()
            .map(|card| Card {
                channel_width_mhz: Some(card.channel_width_mhz),
                ..bare(card.id.as_str(), &card.name, &card.standard)
            })
            .collect(),
        rule_sets: cards
            .rule_sets
            .values()
            .map(|rules| {
                let base = || {
                    rules
                        .rules
                        .iter()
                        .filter(|rule| rule.role == model::Role::Base)
                };
                Card {
                    lower_mhz: base().map(|rule| rule.lower_mhz).reduce(f64::min),
                    upper_mhz: base().map(|rule| rule.upper_mhz).reduce(f64::max),
                    ..bare(rules.id.as_str(), &rules.title, &rules.caution)
                }
            })
            .collect(),
    })
}

/// Every finding.
#[utoipa::path(get, path = "/api/findings", responses((status = 200, body = Findings)))]
pub(super) async fn findings(State(workspace): Shared) -> Json<Findings> {
    let scene = workspace.scene();
    let study = workspace.study_of(&scene.revision);
    let findings = study
        .as_ref()
        .map_or(&scene.findings, |study| &study.findings);
    Json(Findings {
        revision: scene.revision.clone(),
        findings: Finding::list(findings, scene.network.as_deref()),
    })
}

/// All premises, column by column. Waits for a study that is at work.
#[utoipa::path(get, path = "/api/ledger", responses((status = 200, body = Ledger), (status = 409, body = Problem)))]
pub(super) async fn ledger(State(workspace): Shared) -> Result<Json<Ledger>, Problem> {
    let study = workspace.current_study().await?;
    let layer = layers::premises(&Handout {
        version: pipeline::VERSION,
        written_at: "",
        network: &study.network,
        study: &study.result,
        findings: &study.findings,
        data_sources: &study.ground.data_sources,
        surroundings: None,
        cross_sections: &[],
    });
    let columns = layer
        .columns
        .iter()
        .enumerate()
        .map(|(place, column)| LedgerColumn {
            name: column.name.to_owned(),
            meaning: column.meaning.to_owned(),
            kind: match column.kind {
                Kind::Text => ColumnKind::Text,
                Kind::Number => ColumnKind::Number,
                Kind::Count => ColumnKind::Count,
                Kind::Flag => ColumnKind::Flag,
            },
            values: layer
                .rows
                .iter()
                .map(|row| value(&row.cells[place]))
                .collect(),
        });
    Ok(Json(Ledger {
        revision: study.revision.clone(),
        rows: layer.rows.len(),
        columns: columns.collect(),
    }))
}

fn value(cell: &Cell) -> LedgerValue {
    match cell {
        Cell::Text(text) => LedgerValue::Text(text.clone()),
        Cell::Number(number) => LedgerValue::Number(*number),
        Cell::Count(count) => LedgerValue::Count(*count),
        Cell::Flag(flag) => LedgerValue::Flag(*flag),
        Cell::Empty => LedgerValue::Empty(()),
    }
}

/// One sector on a sheet.
#[utoipa::path(get, path = "/api/sectors/{id}", params(("id" = String, Path, description = "Id of the sector")),
    responses((status = 200, body = SectorSheet), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub(super) async fn sector(
    State(workspace): Shared,
    Path(id): Path<String>,
) -> Result<Json<SectorSheet>, Problem> {
    let scene = workspace.scene();
    let network = scene.network()?;
    let id = model::SectorId::new(id);
    let unknown = || Problem::not_found(format!("no sector `{id}` in the design"));
    let sector = network.sector(&id).ok_or_else(unknown)?;
    let study = workspace.study_of(&scene.revision);
    let study = study.as_deref();
    let findings = study.map_or(&scene.findings, |study| &study.findings);
    let own = findings
        .iter()
        .filter(|f| f.subject == model::Subject::Sector(id.clone()));
    Ok(Json(SectorSheet {
        revision: scene.revision.clone(),
        sector: sector_mark(network, sector, study).ok_or_else(unknown)?,
        antenna: sector.antenna.id.to_string(),
        base_station: sector.base_station.id.to_string(),
        air_interface: sector.air_interface.id.to_string(),
        feeder_loss_db: sector.feeder_loss_db,
        downlink_share_frac: Some(match sector.split {
            model::FrameSplit::Symbols {
                downlink_symbols,
                uplink_symbols,
            } => {
                f64::from(downlink_symbols) / f64::from((downlink_symbols + uplink_symbols).max(1))
            }
            model::FrameSplit::Fractions { downlink_frac, .. } => downlink_frac,
        }),
        study: study.and_then(|study| sector_study(study, sector)),
        airtime_by_class: study.map_or(Vec::new(), |study| by_class(study, sector)),
        room: study.map_or(Vec::new(), |study| room(study, sector)),
        channel_neighbours: neighbours(&scene, sector),
        findings: own
            .map(|finding| Finding::of(finding, Some(network)))
            .collect(),
    }))
}

fn sector_study(study: &Study, sector: &model::Sector) -> Option<SectorStudy> {
    let s = study.result.sectors.iter().find(|s| s.id == sector.id)?;
    Some(SectorStudy {
        requested_per_chain_dbm: s.power.requested_per_chain_dbm,
        per_chain_dbm: s.power.per_chain_dbm,
        eirp_dbm: s.power.eirp_dbm,
        bound_by: s.power.bound_by.as_ref().map(ToString::to_string),
        reduction_db: s.power.reduction_db,
        is_covered: s.power.covered,
        terminals: s.load.terminals,
        max_terminals: sector.base_station.max_terminals,
        downlink_airtime_frac: s.load.downlink_airtime_frac,
        uplink_airtime_frac: s.load.uplink_airtime_frac,
        max_airtime_frac: study.network.study.max_airtime_frac,
        downlink_mbps: s.load.downlink_mbps,
        uplink_mbps: s.load.uplink_mbps,
        served: s.served,
        doubtful: s.doubtful,
        farthest_served_m: s.farthest_served_m,
        guard_range_m: s.guard_range_m,
        uplink_interference_dbm: s.uplink_interference_dbm,
        uplink_noise_dbm: s.uplink_noise_dbm,
    })
}

/// The sector's airtime by class, as the study accounts for it.
fn by_class(study: &Study, sector: &model::Sector) -> Vec<ClassAirtime> {
    let capacity = study.result.capacity.iter().find(|c| c.sector == sector.id);
    let Some(capacity) = capacity else {
        return Vec::new();
    };
    let share = |shares: &[ClassShare], class| {
        let own = shares.iter().filter(|share| share.class == class);
        own.map(|share| share.guaranteed_frac + share.elastic_frac)
            .sum()
    };
    let classes = SchedulingClass::ALL.into_iter().map(|class| {
        let plans = capacity.customers.iter();
        let plans = plans.filter_map(|customer| study.network.plans.get(&customer.plan));
        let plans: Vec<_> = plans
            .filter(|plan| plan.scheduling_class == class)
            .collect();
        let demand = |direction| {
            let flows = plans.iter().map(|plan| PlanLoad::new(plan, direction));
            flows.map(|flow| flow.demand_mbps()).sum()
        };
        ClassAirtime {
            scheduling_class: class.name().to_owned(),
            terminals: u32::try_from(plans.len()).unwrap_or(u32::MAX),
            downlink_mbps: demand(Direction::Downlink),
            uplink_mbps: demand(Direction::Uplink),
            downlink_airtime_frac: share(&capacity.downlink.symbols.classes, class),
            uplink_airtime_frac: share(&capacity.uplink.symbols.classes, class),
        }
    });
    let is_used = |class: &ClassAirtime| {
        class.terminals > 0 || class.downlink_airtime_frac + class.uplink_airtime_frac > 0.0
    };
    classes.filter(is_used).collect()
}

fn room(study: &Study, sector: &model::Sector) -> Vec<PlanRoom> {
    let capacity = study.result.capacity.iter().find(|c| c.sector == sector.id);
    let room = capacity.map_or(&[][..], |capacity| &capacity.room);
    let one = |room: &pipeline::engine::load::room::RoomFor| PlanRoom {
        plan: room.plan.to_string(),
        more: room.more,
    };
    room.iter().map(one).collect()
}

fn neighbours(scene: &Scene, sector: &model::Sector) -> Vec<ChannelNeighbour> {
    let Some(network) = scene.network.as_deref() else {
        return Vec::new();
    };
    let place = |sector: &model::Sector| network.mast(&sector.mast).map(|mast| mast.position);
    let others = network.sectors.iter().filter(|other| other.id != sector.id);
    let touching = others.filter(|other| other.channel.touches(&sector.channel));
    let mut list: Vec<ChannelNeighbour> = touching
        .filter_map(|other| {
            let path = geodesy::inverse(place(sector)?, place(other)?);
            Some(ChannelNeighbour {
                sector: other.id.to_string(),
                distance_m: path.distance_m,
                channel_centre_mhz: other.channel.centre_mhz,
                overlap_mhz: other.channel.overlap_mhz(&sector.channel),
            })
        })
        .collect();
    list.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    list
}

/// What can be taken back and done again.
#[utoipa::path(get, path = "/api/history", responses((status = 200, body = History)))]
pub(super) async fn history(State(workspace): Shared) -> Json<History> {
    Json(held(&workspace.pen).show())
}

/// What happens, as it happens: server-sent events, each named as in [`Event`].
#[utoipa::path(get, path = "/api/events", responses((status = 200, content_type = "text/event-stream", body = Event)))]
pub(super) async fn events(
    State(workspace): Shared,
) -> Sse<impl Stream<Item = Result<sse::Event, Infallible>>> {
    let events = BroadcastStream::new(workspace.events.subscribe());
    let hello = Event::Hello {
        revision: workspace.scene().revision.clone(),
    };
    let later = events.map(|event| event.unwrap_or(Event::Missed));
    let stream = tokio_stream::once(hello).chain(later).map(|event| {
        let sent = sse::Event::default().event(event.name()).json_data(&event);
        Ok(sent.unwrap_or_else(|_| sse::Event::default().event("missed").data("{}")))
    });
    Sse::new(stream).keep_alive(KeepAlive::default())
}

/// Work under way.
#[utoipa::path(get, path = "/api/jobs", responses((status = 200, body = [Job])))]
pub(super) async fn jobs(State(workspace): Shared) -> Json<Vec<Job>> {
    Json(workspace.jobs.list())
}
