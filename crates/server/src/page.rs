//! The page and what belongs to it, from inside the program.

use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "page"]
struct Page;

/// A file of the page. An address without a file is the page itself, which
/// shows what the address names.
pub(crate) async fn file(uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    let name = if path.is_empty() { "index.html" } else { path };
    match Page::get(name) {
        Some(file) => {
            let kind = file.metadata.mimetype().to_owned();
            // Names below `assets` change with their content.
            let keeps = if name.starts_with("assets/") {
                "private, max-age=31536000, immutable"
            } else {
                "no-cache"
            };
            let headers = [(CONTENT_TYPE, kind), (CACHE_CONTROL, keeps.to_owned())];
            (headers, file.data.into_owned()).into_response()
        }
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
