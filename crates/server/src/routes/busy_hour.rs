//! A busy hour on demand.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use pipeline::engine::Progress as _;
use pipeline::engine::simulation::{
    ClassOutcome, Direction, Run, SectorSimulation, SimulationError, scheduling_class, simulate_all,
};
use pipeline::model::SectorId;

use super::received::{self, Path};
use crate::api::busy_hour::{BusyHour, BusyHourClass, BusyHourQuestion};
use crate::api::problem::Problem;
use crate::workspace::jobs::CancelOnDrop;
use crate::workspace::study::stopped;
use crate::workspace::{Workspace, aside};

/// Runs the busy hour of one sector of the design as it stands, frame by
/// frame: delay, jitter and loss by class. A job: its progress is told, and it
/// can be stopped.
#[utoipa::path(post, path = "/api/sectors/{id}/busy-hour", params(("id" = String, Path, description = "Id of the sector")), request_body = BusyHourQuestion,
    responses((status = 200, body = BusyHour), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem), (status = 413, body = Problem), (status = 415, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn busy_hour(
    State(workspace): State<Arc<Workspace>>,
    Path(id): Path<String>,
    received::Json(question): received::Json<BusyHourQuestion>,
) -> Result<Json<BusyHour>, Problem> {
    if !(1.0..=36_000.0).contains(&question.measured_s) {
        return Err(Problem::unusable(format!(
            "`measured_s` is `{}`, outside 1 to 36000\nhint: an hour has 3600",
            question.measured_s
        )));
    }
    let study = workspace.current_study().await?;
    let running = workspace.jobs.begin("busy-hour", &workspace.events);
    let _cancel = CancelOnDrop(Arc::clone(&running.job));
    aside(move || {
        let sector = SectorId::new(id);
        if study.network.sector(&sector).is_none() {
            return Err(Problem::not_found(format!(
                "no sector `{sector}` in the design"
            )));
        }
        let run = Run {
            measured_s: question.measured_s,
            ..Run::busy_hour(u64::from(question.seed))
        };
        let only = [sector];
        let asked = (&only[..], &run);
        let simulated = simulate_all(
            &study.network,
            &study.result,
            asked,
            &workspace.run(&running.job),
        );
        let simulated = simulated.map_err(|error| match error {
            _ if running.job.interrupted() => stopped(),
            SimulationError::UnknownSector(_) => Problem::not_found(error.to_string()),
            other => Problem::unusable(other.to_string()),
        })?;
        let simulation = simulated
            .first()
            .ok_or_else(|| Problem::fault("no simulation"))?;
        Ok(Json(shown(simulation, (&study.revision, question))))
    })
    .await
}

fn shown(
    simulation: &SectorSimulation,
    (revision, question): (&str, BusyHourQuestion),
) -> BusyHour {
    let outcome = &simulation.outcome;
    let in_use = |direction| {
        let own = outcome.airtime.iter().find(|a| a.direction == direction);
        own.map_or(0.0, |airtime| 1.0 - airtime.idle_frac)
    };
    BusyHour {
        revision: revision.to_owned(),
        sector: simulation.sector.to_string(),
        seed: question.seed,
        measured_s: outcome.measured_s,
        terminals: simulation.premises.len(),
        modelled_downlink_airtime_frac: simulation.modelled_downlink_airtime_frac,
        modelled_uplink_airtime_frac: simulation.modelled_uplink_airtime_frac,
        downlink_airtime_frac: in_use(Direction::Downlink),
        uplink_airtime_frac: in_use(Direction::Uplink),
        classes: outcome.classes.iter().map(class).collect(),
    }
}

fn class(class: &ClassOutcome) -> BusyHourClass {
    let packets = class.packets;
    BusyHourClass {
        scheduling_class: scheduling_class(class.class).name().to_owned(),
        direction: match class.direction {
            Direction::Downlink => "downlink",
            Direction::Uplink => "uplink",
        }
        .to_owned(),
        flows: class.flows,
        offered_mbps: class.offered_mbps,
        delivered_mbps: class.delivered_mbps,
        airtime_frac: class.airtime_frac,
        delay_p50_ms: packets.map(|p| p.delay_ms.p50),
        delay_p95_ms: packets.map(|p| p.delay_ms.p95),
        delay_p99_ms: packets.map(|p| p.delay_ms.p99),
        delay_p999_ms: packets.map(|p| p.delay_ms.p999),
        jitter_ms: packets.map(|p| p.jitter_ms),
        delay_variation_ms: packets.map(|p| p.delay_variation_ms),
        lost_p50_frac: class.lost_frac.p50,
        lost_p95_frac: class.lost_frac.p95,
        lost_max_frac: class.lost_frac.max,
        transfer_mean_rate_mbps: class.transfers.map(|t| t.mean_rate_mbps),
        rating_min: class.rating.map(|r| r.min),
    }
}
