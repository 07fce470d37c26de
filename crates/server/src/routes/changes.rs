//! What changes something.

use std::sync::Arc;
use std::time::Duration;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;

use super::received::{self, Base, Path};
use crate::api::change::{Accepted, ChangeList};
use crate::api::event::JobStarted;
use crate::api::problem::Problem;
use crate::api::project::{Start, StudyState};
use crate::workspace::accept::Written;
use crate::workspace::history::Way;
use crate::workspace::{Workspace, aside, held};

type Shared = State<Arc<Workspace>>;

/// How long an answer waits for the study that tells the consequence.
const PATIENCE: Duration = Duration::from_millis(1500);

/// Makes changes: they stand on disk when this is answered.
#[utoipa::path(post, path = "/api/edits", request_body = ChangeList,
    params(("If-Match" = String, Header, description = "Revision that the changes were made from")),
    responses((status = 200, body = Accepted), (status = 400, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem), (status = 428, body = Problem)))]
pub(super) async fn edits(
    State(workspace): Shared,
    Base(base): Base,
    received::Json(list): received::Json<ChangeList>,
) -> Result<Json<Accepted>, Problem> {
    if list.changes.is_empty() {
        return Err(Problem::unusable("there is no change in the list"));
    }
    let label: String = list
        .label
        .chars()
        .filter(|c| !c.is_control())
        .take(200)
        .collect();
    let own = Arc::clone(&workspace);
    let written = aside(move || own.accept((&list.changes, &label), &base)).await?;
    accepted(&workspace, written).await
}

/// Takes the latest change back.
#[utoipa::path(post, path = "/api/undo",
    params(("If-Match" = String, Header, description = "Revision that the person sees")),
    responses((status = 200, body = Accepted), (status = 409, body = Problem), (status = 428, body = Problem)))]
pub(super) async fn undo(
    State(workspace): Shared,
    Base(base): Base,
) -> Result<Json<Accepted>, Problem> {
    go(workspace, Way::Back, base).await
}

/// Makes the change again that was taken back last.
#[utoipa::path(post, path = "/api/redo",
    params(("If-Match" = String, Header, description = "Revision that the person sees")),
    responses((status = 200, body = Accepted), (status = 409, body = Problem), (status = 428, body = Problem)))]
pub(super) async fn redo(
    State(workspace): Shared,
    Base(base): Base,
) -> Result<Json<Accepted>, Problem> {
    go(workspace, Way::Forth, base).await
}

async fn go(workspace: Arc<Workspace>, way: Way, base: String) -> Result<Json<Accepted>, Problem> {
    let own = Arc::clone(&workspace);
    let written = aside(move || own.go(way, Some(&base))).await?;
    accepted(&workspace, written).await
}

/// Tells what a change brought, where its study does not take long.
pub(super) async fn accepted(
    workspace: &Arc<Workspace>,
    written: Written,
) -> Result<Json<Accepted>, Problem> {
    let before = workspace.study_of(&written.before.revision);
    let after = tokio::time::timeout(PATIENCE, workspace.current_study()).await;
    let after = after.ok().and_then(Result::ok);
    let after = after.filter(|study| study.revision == written.scene.revision);
    let consequence = before
        .zip(after)
        .map(|(before, after)| super::ask::consequence(&before, &after, None));
    Ok(Json(Accepted {
        revision: written.scene.revision.clone(),
        consequence,
        history: written.history,
        kept_from_outside: written.kept_from_outside,
    }))
}

/// Writes the first design of an empty folder.
#[utoipa::path(post, path = "/api/start", request_body = Start,
    responses((status = 200, body = Accepted), (status = 400, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn start(
    State(workspace): Shared,
    received::Json(start): received::Json<Start>,
) -> Result<Json<Accepted>, Problem> {
    let own = Arc::clone(&workspace);
    let scene = aside(move || own.start(&start)).await?;
    Ok(Json(Accepted {
        revision: scene.revision.clone(),
        consequence: None,
        history: held(&workspace.pen).show(),
        kept_from_outside: false,
    }))
}

/// Begins to study the design as it stands, where that was stopped.
#[utoipa::path(post, path = "/api/study", responses((status = 200, body = JobStarted), (status = 409, body = Problem)))]
pub(super) async fn study(State(workspace): Shared) -> Result<Json<JobStarted>, Problem> {
    let state = workspace.state().study_state.clone();
    if !matches!(state, StudyState::Running { .. }) {
        workspace.start_study();
    }
    match workspace.state().study_state {
        StudyState::Running { job } => Ok(Json(JobStarted { job })),
        StudyState::Current => Ok(Json(JobStarted { job: 0 })),
        _ => Err(Problem::no_network()),
    }
}

/// Stops work.
#[utoipa::path(post, path = "/api/jobs/{id}/cancel", params(("id" = u64, Path, description = "Number of the job")),
    responses((status = 204), (status = 404, body = Problem)))]
pub(super) async fn cancel(
    State(workspace): Shared,
    Path(id): Path<u64>,
) -> Result<StatusCode, Problem> {
    if workspace.jobs.cancel(id) {
        Ok(StatusCode::NO_CONTENT)
    } else {
        Err(Problem::not_found("there is no such work under way"))
    }
}
