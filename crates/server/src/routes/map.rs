//! Pictures and grids for the map.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use outputs::web_map::{Tile, contours_geojson, land_cover_tile, relief_tile};
use serde::Deserialize;
use serde_json::json;
use utoipa::IntoParams;

use super::received::{self, Path, Query};
use crate::api::coverage::{CoverageList, PreviewQuestion};
use crate::api::problem::Problem;
use crate::workspace::{Workspace, aside};

type Shared = State<Arc<Workspace>>;

/// The quantities that coverage has, each with its legend.
#[utoipa::path(get, path = "/api/coverage", responses((status = 200, body = CoverageList), (status = 409, body = Problem)))]
pub(super) async fn coverage_list(State(workspace): Shared) -> Result<Json<CoverageList>, Problem> {
    let own = Arc::clone(&workspace);
    let list = aside(move || own.coverage_list()).await?;
    // Who asks will look at one.
    workspace.prepare_coverage();
    Ok(Json(list))
}

/// What may be chosen of a coverage.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct CoverageChoice {
    /// The only sector that may serve; without it every sector may.
    sector: Option<String>,
    /// Side of a cell; without it the usual one.
    #[param(minimum = 5, maximum = 5000)]
    cell_m: Option<f64>,
}

/// The grid of one quantity, bytes as in `GridHead`.
#[utoipa::path(get, path = "/api/coverage/{quantity}",
    params(("quantity" = String, Path, description = "Name of a quantity, with or without `.grid` behind it"), CoverageChoice),
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = 404, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn coverage(
    State(workspace): Shared,
    Path(quantity): Path<String>,
    Query(choice): Query<CoverageChoice>,
) -> Result<Response, Problem> {
    let name = quantity
        .strip_suffix(".grid")
        .unwrap_or(&quantity)
        .to_owned();
    let grid = workspace
        .coverage_grid(name, choice.sector, choice.cell_m)
        .await?;
    Ok(bytes(grid.bytes()?))
}

/// The grid and the counts with changes that are not made, while a pointer
/// moves; bytes as in `GridHead`. A later ticket of the same window ends an
/// earlier one, which is then answered with 409 and `superseded` or `stopped`.
#[utoipa::path(post, path = "/api/preview", request_body = PreviewQuestion,
    responses((status = 200, content_type = "application/octet-stream", body = Vec<u8>), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn preview(
    State(workspace): Shared,
    received::Json(question): received::Json<PreviewQuestion>,
) -> Result<Response, Problem> {
    let grid = workspace.preview(question).await?;
    Ok(bytes(grid.bytes()?))
}

fn bytes(bytes: Vec<u8>) -> Response {
    ([(CONTENT_TYPE, "application/octet-stream")], bytes).into_response()
}

/// Zoom, column, row; the row may end in `.png`.
type Address = (u8, u32, String);

fn tile((zoom, column, row): Address) -> Result<Tile, Problem> {
    let row = row.strip_suffix(".png").unwrap_or(&row);
    let row = row
        .parse()
        .map_err(|_| Problem::bad_request(format!("`{row}` is no row of tiles")))?;
    Tile::new(zoom, column, row).map_err(|error| Problem::not_found(error.to_string()))
}

/// A picture that may be kept as long as the page is open; nothing where there is none.
fn picture(png: Option<Vec<u8>>) -> Response {
    let kept = (CACHE_CONTROL, "private, max-age=600");
    match png {
        Some(png) => ([(CONTENT_TYPE, "image/png"), kept], png).into_response(),
        None => (StatusCode::NO_CONTENT, [kept]).into_response(),
    }
}

/// Shaded relief of the project's own terrain, in Web Mercator.
#[utoipa::path(get, path = "/api/relief/{z}/{x}/{y}",
    params(("z" = u8, Path, description = "Zoom"), ("x" = u32, Path, description = "Column"), ("y" = String, Path, description = "Row, with or without `.png` behind it")),
    responses((status = 200, content_type = "image/png", body = Vec<u8>), (status = 204, description = "No known ground there"), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub(super) async fn relief(
    State(workspace): Shared,
    Path(address): Path<Address>,
) -> Result<Response, Problem> {
    let tile = tile(address)?;
    aside(move || {
        let scene = workspace.scene();
        let ground = workspace.ground(&scene, scene.network()?);
        let png = relief_tile(tile, ground.surroundings.as_ref());
        png.map(picture)
            .map_err(|error| Problem::fault(error.to_string()))
    })
    .await
}

/// Land cover, in Web Mercator.
#[utoipa::path(get, path = "/api/land-cover/{z}/{x}/{y}",
    params(("z" = u8, Path, description = "Zoom"), ("x" = u32, Path, description = "Column"), ("y" = String, Path, description = "Row, with or without `.png` behind it")),
    responses((status = 200, content_type = "image/png", body = Vec<u8>), (status = 204, description = "No known land cover there"), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub(super) async fn land_cover(
    State(workspace): Shared,
    Path(address): Path<Address>,
) -> Result<Response, Problem> {
    let tile = tile(address)?;
    aside(move || {
        let scene = workspace.scene();
        let ground = workspace.ground(&scene, scene.network()?);
        let cover = ground
            .surroundings
            .mapped()
            .and_then(|mapped| mapped.land_cover());
        let png = cover.map(|cover| land_cover_tile(tile, (&cover.classes, &cover.clutter)));
        let png = png
            .transpose()
            .map_err(|error| Problem::fault(error.to_string()))?;
        Ok(picture(png.flatten()))
    })
    .await
}

/// Contour lines of the territory, GeoJSON; each line names its `from` height.
#[utoipa::path(get, path = "/api/contours",
    responses((status = 200, content_type = "application/geo+json", body = Object), (status = 409, body = Problem), (status = 422, body = Problem)))]
pub(super) async fn contours(State(workspace): Shared) -> Result<Response, Problem> {
    aside(move || {
        let scene = workspace.scene();
        let network = scene.network()?;
        let ground = workspace.ground(&scene, network);
        let lines = contours_geojson(&network.territory, ground.surroundings.as_ref());
        let lines = lines.map_err(|error| Problem::unusable(error.to_string()))?;
        Ok(geojson(lines))
    })
    .await
}

/// Building footprints, GeoJSON, each with `name` and `height_m`; an empty
/// collection while a project has none.
#[utoipa::path(get, path = "/api/buildings", responses((status = 200, content_type = "application/geo+json", body = Object)))]
pub(super) async fn buildings(State(workspace): Shared) -> Result<Response, Problem> {
    aside(move || {
        let scene = workspace.scene();
        let ground = scene.network().ok();
        let ground = ground.map(|network| workspace.ground(&scene, network));
        let mapped = ground.as_ref().and_then(|g| g.surroundings.mapped());
        let buildings = mapped.and_then(|mapped| mapped.buildings());
        let footprints = buildings.map_or(&[][..], |buildings| buildings.footprints());
        let features = footprints.iter().map(|footprint| {
            json!({
                "type": "Feature",
                "geometry": {"type": "Polygon", "coordinates": footprint.rings},
                "properties": {"name": footprint.name, "height_m": footprint.height_m},
            })
        });
        let features: Vec<_> = features.collect();
        let collection = json!({"type": "FeatureCollection", "features": features});
        Ok(geojson(collection.to_string()))
    })
    .await
}

fn geojson(text: String) -> Response {
    ([(CONTENT_TYPE, "application/geo+json")], text).into_response()
}
