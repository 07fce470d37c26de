//! Bringing in and taking out.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use utoipa::IntoParams;

use super::received::{self, Bytes, Path, Query};
use crate::api::change::Accepted;
use crate::api::event::JobStarted;
use crate::api::import::{
    ColumnChoice, CoverageOutputs, FileChoice, FilePreview, ImportPreview, ImportedFile, OutputList,
};
use crate::api::problem::Problem;
use crate::workspace::import::read_premises;
use crate::workspace::{Workspace, aside};

type Shared = State<Arc<Workspace>>;

/// What a file of premises would bring; nothing is changed.
#[utoipa::path(post, path = "/api/import/preview", params(ColumnChoice), request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = ImportPreview), (status = 400, body = Problem), (status = 409, body = Problem), (status = 413, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn import_preview(
    State(workspace): Shared,
    Query(choice): Query<ColumnChoice>,
    Bytes(bytes): Bytes,
) -> Result<Json<ImportPreview>, Problem> {
    aside(move || {
        let read = read_premises(&workspace.scene(), &bytes, &choice)?;
        Ok(Json(read.preview))
    })
    .await
}

/// The revision that an import was looked at with.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct ImportBase {
    /// Revision of the design.
    revision: String,
    /// Name of the file.
    file_name: String,
    /// Column of the ids.
    id: Option<String>,
    /// Column of the longitudes.
    lon: Option<String>,
    /// Column of the latitudes.
    lat: Option<String>,
    /// Column of the names.
    name: Option<String>,
    /// Column of the plans.
    plan: Option<String>,
    /// Column of the mount heights.
    mount_height_agl_m: Option<String>,
    /// Column of the terminals.
    terminal: Option<String>,
    /// Column of the priorities.
    priority: Option<String>,
    /// Whether a guess fills what is not named.
    guess: Option<bool>,
}

/// Adds the usable rows of a file of premises to the design, as one change.
#[utoipa::path(post, path = "/api/import/accept", params(ImportBase), request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = Accepted), (status = 400, body = Problem), (status = 409, body = Problem), (status = 413, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn import_accept(
    State(workspace): Shared,
    Query(base): Query<ImportBase>,
    Bytes(bytes): Bytes,
) -> Result<Json<Accepted>, Problem> {
    let own = Arc::clone(&workspace);
    let written = aside(move || {
        let choice = ColumnChoice {
            file_name: base.file_name,
            id: base.id,
            lon: base.lon,
            lat: base.lat,
            name: base.name,
            plan: base.plan,
            mount_height_agl_m: base.mount_height_agl_m,
            terminal: base.terminal,
            priority: base.priority,
            guess: base.guess,
        };
        let read = read_premises(&own.scene(), &bytes, &choice)?;
        if read.changes.is_empty() {
            return Err(Problem::unusable("no row of the file can be brought in\nhint: see the mistakes, and which columns are read"));
        }
        let label = format!("import of {}", crate::workspace::import::plain_name(&choice.file_name)?);
        own.accept((&read.changes, &label), &base.revision)
    })
    .await?;
    super::changes::accepted(&workspace, written).await
}

/// What a file of terrain, land cover or an antenna pattern is and covers;
/// nothing is changed.
#[utoipa::path(post, path = "/api/import/file/preview", params(FileChoice), request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = FilePreview), (status = 400, body = Problem), (status = 413, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn import_file_preview(
    State(workspace): Shared,
    Query(choice): Query<FileChoice>,
    Bytes(bytes): Bytes,
) -> Result<Json<FilePreview>, Problem> {
    aside(move || workspace.look_at_file(&choice, &bytes).map(Json)).await
}

/// Puts terrain or land cover (GeoTIFF, `.hgt`, `.asc`) or an antenna pattern
/// into the project, and names it in the design as a change that can be undone.
#[utoipa::path(post, path = "/api/import/file", params(FileChoice), request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = ImportedFile), (status = 400, body = Problem), (status = 409, body = Problem), (status = 413, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn import_file(
    State(workspace): Shared,
    Query(choice): Query<FileChoice>,
    Bytes(bytes): Bytes,
) -> Result<Json<ImportedFile>, Problem> {
    aside(move || workspace.bring_in(&choice, &bytes).map(Json)).await
}

/// Files to take out.
#[utoipa::path(get, path = "/api/outputs", responses((status = 200, body = OutputList)))]
pub(super) async fn outputs(State(workspace): Shared) -> Result<Json<OutputList>, Problem> {
    aside(move || Ok(Json(workspace.outputs()))).await
}

/// Begins to write every file of the study of the design as it stands.
#[utoipa::path(post, path = "/api/outputs", responses((status = 200, body = JobStarted), (status = 409, body = Problem)))]
pub(super) async fn write_outputs(State(workspace): Shared) -> Result<Json<JobStarted>, Problem> {
    workspace.scene().network()?;
    Ok(Json(JobStarted {
        job: workspace.start_outputs(),
    }))
}

/// Begins to write coverage of the design as it stands: rasters, sheets and
/// figures below `coverage/`. A job: its progress is told, and it can be stopped.
#[utoipa::path(post, path = "/api/coverage-outputs", request_body = CoverageOutputs,
    responses((status = 200, body = JobStarted), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem), (status = 413, body = Problem), (status = 415, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn write_coverage(
    State(workspace): Shared,
    received::Json(wanted): received::Json<CoverageOutputs>,
) -> Result<Json<JobStarted>, Problem> {
    let job = workspace.start_coverage_outputs(&wanted)?;
    Ok(Json(JobStarted { job }))
}

/// One file, by its name in the list.
#[utoipa::path(get, path = "/api/outputs/{name}", params(("name" = String, Path, description = "Name in the list, `/` written as `%2F`")),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = 404, body = Problem)))]
pub(super) async fn output(
    State(workspace): Shared,
    Path(name): Path<String>,
) -> Result<Response, Problem> {
    let (name, bytes) = aside(move || workspace.output(&name)).await?;
    let last = name.rsplit('/').next().unwrap_or_default();
    let is_plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
    let plain: String = last
        .chars()
        .map(|c| if is_plain(c) { c } else { '_' })
        .collect();
    let disposition = format!("attachment; filename=\"{plain}\"");
    let headers = [
        (CONTENT_TYPE, "application/octet-stream".to_owned()),
        (CONTENT_DISPOSITION, disposition),
    ];
    Ok((headers, bytes).into_response())
}
