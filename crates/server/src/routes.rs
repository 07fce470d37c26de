//! The routes and their description.

mod ask;
mod busy_hour;
mod changes;
mod files;
mod map;
mod received;
mod show;

use std::sync::Arc;

use axum::extract::DefaultBodyLimit;
use utoipa::OpenApi;
use utoipa::openapi::security::{ApiKey, ApiKeyValue, HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{ContentBuilder, Ref, ResponseBuilder};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::api;
use crate::workspace::Workspace;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Mastwright workspace",
        description = "One project folder, for the person at this machine. Every request needs the token of the opening address, as the cookie that the address sets or as a bearer token.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    components(schemas(api::event::Event, api::coverage::GridHead)),
    modifiers(&Secured)
)]
struct Described;

/// Every request needs the token.
struct Secured;

impl utoipa::Modify for Secured {
    fn modify(&self, description: &mut utoipa::openapi::OpenApi) {
        let components = description.components.get_or_insert_default();
        let bearer = HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build();
        components.add_security_scheme("token", SecurityScheme::Http(bearer));
        let cookie = ApiKey::Cookie(ApiKeyValue::new("mastwright-PORT"));
        components.add_security_scheme("cookie", SecurityScheme::ApiKey(cookie));
        let needs =
            |name: &str| utoipa::openapi::SecurityRequirement::new(name, Vec::<String>::new());
        description.security = Some(vec![needs("token"), needs("cookie")]);
    }
}

/// Largest body of a request in JSON: a change of every premises of a large network.
const LARGEST_JSON_BYTES: usize = 32 << 20;
/// Largest file that is brought in.
const LARGEST_FILE_BYTES: usize = 512 << 20;

pub(crate) fn router() -> OpenApiRouter<Arc<Workspace>> {
    let json = OpenApiRouter::with_openapi(Described::openapi())
        .routes(routes!(show::project))
        .routes(routes!(show::network))
        .routes(routes!(show::catalogue))
        .routes(routes!(show::findings))
        .routes(routes!(show::ledger))
        .routes(routes!(show::sector))
        .routes(routes!(show::history))
        .routes(routes!(show::events))
        .routes(routes!(show::jobs))
        .routes(routes!(changes::cancel))
        .routes(routes!(changes::study))
        .routes(routes!(changes::edits))
        .routes(routes!(changes::undo))
        .routes(routes!(changes::redo))
        .routes(routes!(changes::start))
        .routes(routes!(ask::why))
        .routes(routes!(ask::spot))
        .routes(routes!(ask::what_if))
        .routes(routes!(map::preview))
        .routes(routes!(map::coverage_list))
        .routes(routes!(map::coverage))
        .routes(routes!(map::relief))
        .routes(routes!(map::land_cover))
        .routes(routes!(map::contours))
        .routes(routes!(map::buildings))
        .routes(routes!(files::outputs, files::write_outputs))
        .routes(routes!(files::output))
        .routes(routes!(files::write_coverage))
        .routes(routes!(busy_hour::busy_hour))
        .layer(DefaultBodyLimit::max(LARGEST_JSON_BYTES));
    let files = OpenApiRouter::new()
        .routes(routes!(files::import_preview))
        .routes(routes!(files::import_accept))
        .routes(routes!(files::import_file))
        .routes(routes!(files::import_file_preview))
        .layer(DefaultBodyLimit::max(LARGEST_FILE_BYTES));
    json.merge(files)
}

/// Says of every operation how it refuses what it cannot read, and who it does
/// not let in.
fn describe_refusals(description: &mut utoipa::openapi::OpenApi) {
    for item in description.paths.paths.values_mut() {
        let operations = [
            &mut item.get,
            &mut item.post,
            &mut item.put,
            &mut item.delete,
        ];
        for operation in operations.into_iter().flatten() {
            let has_input = operation.request_body.is_some()
                || operation.parameters.as_ref().is_some_and(|p| !p.is_empty());
            let mut refusals = vec![
                ("401", "The token is missing or wrong"),
                ("403", "Asked under another name, or from another page"),
            ];
            if has_input {
                refusals.push(("400", "The request cannot be read"));
            }
            if let Some(body) = &operation.request_body {
                refusals.push(("413", "The body is too large"));
                if body.content.contains_key("application/json") {
                    refusals.push(("415", "The body is not said to be JSON"));
                }
            }
            for (status, meaning) in refusals {
                let answers = &mut operation.responses.responses;
                if !answers.contains_key(status) {
                    let problem = Ref::from_schema_name("Problem");
                    let content = ContentBuilder::new().schema(Some(problem)).build();
                    let answer = ResponseBuilder::new()
                        .description(meaning)
                        .content("application/json", content);
                    answers.insert(status.to_owned(), answer.build().into());
                }
            }
        }
    }
}

/// The API's description, OpenAPI 3.1.
///
/// # Errors
/// A description that has no JSON form.
pub fn openapi_json() -> Result<String, serde_json::Error> {
    let (_, mut description) = router().split_for_parts();
    describe_refusals(&mut description);
    let mut text = description.to_pretty_json()?;
    text.push('\n');
    Ok(text)
}
