//! The example project in a folder of its own, asked without a connection.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "each test file includes this module whole and uses part of it"
)]

use std::path::Path;

use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use demo::DemoContent;
use http_body_util::BodyExt as _;
use serde_json::Value;
use server::{App, Settings};
use store::geotiff_out::{CellType, encode};
use tempfile::TempDir;
use tower::ServiceExt as _;

/// Port that the tests' address has; nothing listens there.
pub const PORT: u16 = 4999;

/// A project that can be asked.
pub struct Island {
    pub folder: TempDir,
    pub app: App,
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: StatusCode,
    pub headers: axum::http::HeaderMap,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes)
            .unwrap_or_else(|error| panic!("{error}: {}", String::from_utf8_lossy(&self.bytes)))
    }
}

/// Writes the example.
pub fn write_example(folder: &Path) {
    for file in demo::files() {
        let path = folder.join(file.path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("it can be made");
        let bytes = match file.content {
            DemoContent::Text(text) => text.into_bytes(),
            DemoContent::Elevation(grid) => {
                encode(&grid, CellType::Float32).expect("it is encoded")
            }
            DemoContent::Classes(grid) => {
                encode(&grid, CellType::Unsigned8).expect("it is encoded")
            }
        };
        store::write_atomically(&path, &bytes).expect("it is written");
    }
}

impl Island {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        write_example(folder.path());
        Self::in_folder(folder)
    }

    pub fn empty() -> Self {
        Self::in_folder(tempfile::tempdir().expect("a folder"))
    }

    pub fn in_folder(folder: TempDir) -> Self {
        let settings = Settings {
            folder: folder.path().to_owned(),
            ..Settings::default()
        };
        let app = App::open(&settings, PORT).expect("it opens");
        Self { folder, app }
    }

    pub fn router(&self) -> Router {
        self.app.router()
    }

    pub fn read(&self, file: &str) -> String {
        let bytes = store::on_disk::read_if_there(&self.folder.path().join(file));
        String::from_utf8(bytes.expect("readable").unwrap_or_default()).expect("text")
    }

    pub fn write(&self, file: &str, text: &str) {
        store::write_atomically(&self.folder.path().join(file), text.as_bytes()).expect("written");
    }

    /// A request as the page sends it.
    pub fn request(&self, method: Method, path: &str) -> axum::http::request::Builder {
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, format!("127.0.0.1:{PORT}"))
            .header(header::ORIGIN, format!("http://127.0.0.1:{PORT}"))
            .header(
                header::COOKIE,
                format!("other=1; mastwright-{PORT}={}", self.app.token().reveal()),
            )
    }

    pub async fn send(&self, request: Request<Body>) -> Answer {
        let response = self
            .router()
            .oneshot(request)
            .await
            .expect("it is answered");
        let (parts, body) = response.into_parts();
        let bytes = body.collect().await.expect("a body").to_bytes().to_vec();
        Answer {
            status: parts.status,
            headers: parts.headers,
            bytes,
        }
    }

    pub async fn get(&self, path: &str) -> Answer {
        let request = self.request(Method::GET, path).body(Body::empty());
        self.send(request.expect("a request")).await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.post_from(path, None, body).await
    }

    pub async fn post_from(&self, path: &str, revision: Option<&str>, body: &Value) -> Answer {
        let mut request = self
            .request(Method::POST, path)
            .header(header::CONTENT_TYPE, "application/json");
        if let Some(revision) = revision {
            request = request.header(header::IF_MATCH, format!("\"{revision}\""));
        }
        self.send(
            request
                .body(Body::from(body.to_string()))
                .expect("a request"),
        )
        .await
    }

    pub async fn upload(&self, path: &str, bytes: &[u8]) -> Answer {
        let request = self
            .request(Method::POST, path)
            .header(header::CONTENT_TYPE, "application/octet-stream");
        self.send(request.body(Body::from(bytes.to_vec())).expect("a request"))
            .await
    }

    /// Waits until the design as it stands has been studied.
    pub async fn studied(&self) {
        for _ in 0..1200 {
            let project = self.get("/api/project").await.json();
            if project["study"]["state"] == "current" {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        panic!("the study did not end within two minutes");
    }

    pub async fn revision(&self) -> String {
        self.get("/api/project").await.json()["revision"]
            .as_str()
            .expect("one")
            .to_owned()
    }
}
