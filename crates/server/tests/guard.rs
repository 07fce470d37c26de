//! Nobody is let in who has no business here, and nothing gets out of the folder.

mod island;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use island::{Island, PORT};
use proptest::prelude::*;
use serde_json::{Value, json};

fn bare(path: &str) -> axum::http::request::Builder {
    Request::builder().uri(path)
}

#[tokio::test]
async fn exact_only_this_machines_own_names_are_answered() {
    let island = Island::empty();
    let token = island.app.token().reveal().to_owned();
    for (host, expected) in [
        (Some(format!("127.0.0.1:{PORT}")), StatusCode::OK),
        (Some(format!("LOCALHOST:{PORT}")), StatusCode::OK),
        (Some(format!("[::1]:{PORT}")), StatusCode::OK),
        (Some("127.0.0.1".to_owned()), StatusCode::FORBIDDEN),
        (
            Some(format!("127.0.0.1:{}", PORT + 1)),
            StatusCode::FORBIDDEN,
        ),
        (
            Some(format!("rebound.example:{PORT}")),
            StatusCode::FORBIDDEN,
        ),
        (
            Some(format!("127.0.0.1:{PORT}.example")),
            StatusCode::FORBIDDEN,
        ),
        (Some(String::new()), StatusCode::FORBIDDEN),
        (None, StatusCode::FORBIDDEN),
    ] {
        let mut request =
            bare("/api/project").header(header::AUTHORIZATION, format!("Bearer {token}"));
        if let Some(host) = &host {
            request = request.header(header::HOST, host);
        }
        let answer = island
            .send(request.body(Body::empty()).expect("a request"))
            .await;
        assert_eq!(answer.status, expected, "{host:?}");
    }
}

#[tokio::test]
async fn exact_another_page_cannot_ask() {
    let island = Island::empty();
    let own = format!("http://127.0.0.1:{PORT}");
    for (origin, expected) in [
        (own.as_str(), StatusCode::OK),
        ("http://elsewhere.example", StatusCode::FORBIDDEN),
        ("https://127.0.0.1:4999", StatusCode::FORBIDDEN),
        ("http://127.0.0.1:5000", StatusCode::FORBIDDEN),
        ("null", StatusCode::FORBIDDEN),
        ("", StatusCode::FORBIDDEN),
    ] {
        let mut request = island
            .request(Method::GET, "/api/project")
            .body(Body::empty())
            .expect("a request");
        request
            .headers_mut()
            .insert(header::ORIGIN, origin.parse().expect("a value"));
        assert_eq!(island.send(request).await.status, expected, "{origin}");
    }
    // A link from elsewhere carries no origin, but the browser says whose it is.
    for (site, expected) in [
        ("same-origin", 200),
        ("none", 200),
        ("cross-site", 403),
        ("same-site", 403),
    ] {
        let mut request = island
            .request(Method::GET, "/api/project")
            .body(Body::empty())
            .expect("a request");
        request.headers_mut().remove(header::ORIGIN);
        request
            .headers_mut()
            .insert("sec-fetch-site", site.parse().expect("a value"));
        assert_eq!(
            island.send(request).await.status.as_u16(),
            expected,
            "{site}"
        );
    }
}

#[tokio::test]
async fn exact_nothing_is_answered_without_the_token() {
    let island = Island::new();
    let token = island.app.token().reveal().to_owned();
    let host = format!("127.0.0.1:{PORT}");
    let wrong = "0".repeat(64);
    for path in [
        "/",
        "/index.html",
        "/api/project",
        "/api/events",
        "/api/outputs/ledger.csv",
        "/api/nothing",
    ] {
        for secret in [None, Some(wrong.as_str()), Some(&token[..63]), Some("")] {
            let mut request = bare(path).header(header::HOST, &host);
            if let Some(secret) = secret {
                request = request.header(header::COOKIE, format!("mastwright-{PORT}={secret}"));
            }
            let answer = island
                .send(request.body(Body::empty()).expect("a request"))
                .await;
            assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{path}");
            let text = String::from_utf8_lossy(&answer.bytes);
            assert!(!text.contains(&token) && !text.contains("island"));
        }
    }
    // The opening address gives the cookie, which a script cannot read, and nothing else.
    let opened = bare(&format!("/open?token={token}")).header(header::HOST, &host);
    let opened = island
        .send(opened.body(Body::empty()).expect("a request"))
        .await;
    assert_eq!(opened.status, StatusCode::SEE_OTHER);
    let cookie = opened.headers[header::SET_COOKIE]
        .to_str()
        .expect("text")
        .to_owned();
    assert!(
        cookie.contains("HttpOnly")
            && cookie.contains("SameSite=Strict")
            && cookie.contains(&token)
    );
    assert_eq!(opened.headers[header::LOCATION], "/");
    let refused = bare("/open?token=x").header(header::HOST, &host);
    let refused = island
        .send(refused.body(Body::empty()).expect("a request"))
        .await;
    assert_eq!(refused.status, StatusCode::UNAUTHORIZED);
    assert!(!refused.headers.contains_key(header::SET_COOKIE));
}

/// Every operation of the description, with something for each part of its address.
fn every_operation() -> Vec<(Method, String)> {
    let description = server::openapi_json().expect("a description");
    let description: Value = serde_json::from_str(&description).expect("JSON");
    let paths = description["paths"].as_object().expect("paths");
    let mut all = Vec::new();
    for (path, operations) in paths {
        let path = path.replace(['{', '}'], "");
        for method in operations.as_object().expect("operations").keys() {
            let method = method.to_uppercase().parse().expect("a method");
            all.push((method, path.clone()));
        }
    }
    assert!(all.len() > 30);
    all
}

#[tokio::test]
async fn exact_no_operation_forgets_to_ask_who_is_there() {
    let island = Island::new();
    let before = (island.read("mastwright.toml"), island.read("premises.csv"));
    let host = format!("127.0.0.1:{PORT}");
    let own = format!("http://{host}");
    let token = island.app.token().reveal().to_owned();
    let cookie = format!("mastwright-{PORT}={token}");
    let wrong = format!("mastwright-{PORT}={}", "0".repeat(64));
    let other_port = format!("mastwright-1={token}");
    for (method, path) in every_operation() {
        for (host, origin, cookie, expected) in [
            (
                "elsewhere.example:4999",
                own.as_str(),
                cookie.as_str(),
                StatusCode::FORBIDDEN,
            ),
            (
                &host,
                "http://elsewhere.example",
                &cookie,
                StatusCode::FORBIDDEN,
            ),
            (&host, "null", &cookie, StatusCode::FORBIDDEN),
            (&host, &own, &wrong, StatusCode::UNAUTHORIZED),
            (&host, &own, &other_port, StatusCode::UNAUTHORIZED),
            (&host, &own, "", StatusCode::UNAUTHORIZED),
        ] {
            let request = Request::builder()
                .method(method.clone())
                .uri(&path)
                .header(header::HOST, host)
                .header(header::ORIGIN, origin)
                .header(header::COOKIE, cookie)
                .header(header::CONTENT_TYPE, "application/json")
                .header(header::IF_MATCH, "x")
                .body(Body::from("{\"changes\":[]}"));
            let answer = island.send(request.expect("a request")).await;
            assert_eq!(
                answer.status, expected,
                "{method} {path} {host} {origin} {cookie}"
            );
            let text = String::from_utf8_lossy(&answer.bytes);
            assert!(!text.contains(&token) && !text.contains("Ossorel"));
        }
    }
    let after = (island.read("mastwright.toml"), island.read("premises.csv"));
    assert_eq!(before, after);
}

#[tokio::test]
async fn exact_a_sound_file_under_a_bad_name_stays_in_the_folder() {
    let island = Island::new();
    let terrain = store::on_disk::read_if_there(&island.folder.path().join("terrain/ossorel.tif"));
    let terrain = terrain.expect("readable").expect("it is there");
    for name in [
        "..%2F..%2Fescape.tif",
        "%2Ftmp%2Fescape.tif",
        "..%5Cescape.tif",
    ] {
        let address = format!("/api/import/file?file_name={name}");
        let answer = island.upload(&address, &terrain).await;
        assert_eq!(answer.status, StatusCode::OK, "{name}");
        assert_eq!(answer.json()["file"], "terrain/escape.tif");
    }
    let parent = island.folder.path().parent().expect("a parent");
    assert!(!parent.join("escape.tif").exists());
}

#[tokio::test]
async fn exact_every_answer_is_locked_down() {
    let island = Island::empty();
    for path in ["/", "/api/project", "/api/nothing"] {
        let answer = island.get(path).await;
        let policy = answer.headers["content-security-policy"]
            .to_str()
            .expect("text");
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"));
        assert!(!policy.contains("http"), "{policy}");
        assert_eq!(answer.headers["x-content-type-options"], "nosniff");
        assert!(!answer.headers.contains_key("access-control-allow-origin"));
    }
}

#[tokio::test]
async fn exact_no_address_leads_out_of_the_folder() {
    let island = Island::new();
    let outside = island.folder.path().join("secret.txt");
    store::write_atomically(&outside, b"do not tell").expect("written");
    for path in [
        "/../secret.txt",
        "/..%2fsecret.txt",
        "/%2e%2e/secret.txt",
        "/....//secret.txt",
        "/api/outputs/..%2Fsecret.txt",
        "/api/outputs/%2e%2e%2fmastwright.toml",
        "/api/outputs/..%5csecret.txt",
        "/api/outputs/%2Fetc%2Fpasswd",
        "/api/outputs/workspace%2Fhistory.json",
        "/api/outputs/ledger.csv%00.png",
        "/etc/passwd",
        "/mastwright.toml",
    ] {
        let answer = island.get(path).await;
        assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        assert!(!String::from_utf8_lossy(&answer.bytes).contains("do not tell"));
    }
    // A link among the results is not followed.
    #[cfg(unix)]
    {
        std::fs::create_dir_all(island.folder.path().join("results")).expect("made");
        std::os::unix::fs::symlink(&outside, island.folder.path().join("results/link.csv"))
            .expect("linked");
        assert_eq!(
            island.get("/api/outputs/link.csv").await.status,
            StatusCode::NOT_FOUND
        );
    }
    // Nor does a name that comes with a file.
    for name in [
        "..%2F..%2Fescape.asc",
        "%2Fetc%2Fescape.asc",
        "..",
        "%00",
        "a%2F.hidden",
    ] {
        let answer = island
            .upload(&format!("/api/import/file?file_name={name}"), b"junk")
            .await;
        assert!(answer.status.is_client_error(), "{name}: {}", answer.status);
    }
    assert!(
        !island
            .folder
            .path()
            .parent()
            .expect("a parent")
            .join("escape.asc")
            .exists()
    );
}

#[tokio::test]
async fn exact_bodies_that_are_no_request_are_refused_with_words() {
    let island = Island::new();
    let revision = island.revision().await;
    let before = (island.read("mastwright.toml"), island.read("premises.csv"));
    for path in [
        "/api/edits",
        "/api/why",
        "/api/what-if",
        "/api/preview",
        "/api/start",
    ] {
        for body in [
            "",
            "{",
            "null",
            "[]",
            "{\"changes\":1}",
            "\u{0}",
            "{\"changes\":[{\"change\":\"nothing\"}]}",
            "{\"unknown\":1}",
        ] {
            let request = island
                .request(Method::POST, path)
                .header(header::CONTENT_TYPE, "application/json")
                .header(header::IF_MATCH, &revision);
            let answer = island
                .send(request.body(Body::from(body)).expect("a request"))
                .await;
            assert!(
                answer.status.is_client_error(),
                "{path} {body}: {}",
                answer.status
            );
            assert!(
                answer.json()["message"]
                    .as_str()
                    .is_some_and(|m| !m.is_empty())
            );
        }
    }
    let huge = vec![b' '; 33 << 20];
    let request = island
        .request(Method::POST, "/api/why")
        .header(header::CONTENT_TYPE, "application/json");
    let answer = island
        .send(request.body(Body::from(huge)).expect("a request"))
        .await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(answer.json()["code"], "too-large");
    let after = (island.read("mastwright.toml"), island.read("premises.csv"));
    assert_eq!(before, after);
}

#[tokio::test]
async fn exact_wild_values_are_refused_and_change_nothing() {
    let island = Island::new();
    let network = island.get("/api/network").await.json();
    let sector = network["sectors"][0]["id"].clone();
    let revision = island.revision().await;
    let before = island.read("mastwright.toml");
    let text = "x\"\n[[mast]]\nid = \"m";
    for change in [
        json!({"change": "set_sector_number", "sector": sector, "field": "azimuth_deg", "value": 1e300}),
        json!({"change": "set_sector_number", "sector": sector, "field": "azimuth_deg", "value": -1}),
        json!({"change": "set_sector_number", "sector": sector, "field": "tx_power_per_chain_dbm", "value": 60}),
        json!({"change": "set_sector_number", "sector": "nobody", "field": "azimuth_deg", "value": 1}),
        json!({"change": "set_mast_height", "mast": "nobody", "height_agl_m": 20}),
        json!({"change": "add_mast", "mast": {"id": text, "position": {"lon_deg": 0, "lat_deg": 0}, "height_agl_m": 9}}),
        json!({"change": "add_mast", "mast": {"id": "", "position": {"lon_deg": 0, "lat_deg": 0}, "height_agl_m": 9}}),
        json!({"change": "add_mast", "mast": {"id": "m", "position": {"lon_deg": 999, "lat_deg": 0}, "height_agl_m": 9}}),
        json!({"change": "add_sector", "sector": {"id": sector, "mast": "nobody", "azimuth_deg": 0, "channel_centre_mhz": 3600}}),
        json!({"change": "set_plan", "premises": "nobody", "plan": "nothing"}),
    ] {
        let list = json!({"changes": [change], "label": "wild"});
        let answer = island.post_from("/api/edits", Some(&revision), &list).await;
        assert!(
            answer.status.is_client_error(),
            "{list}: {} {}",
            answer.status,
            String::from_utf8_lossy(&answer.bytes)
        );
        let asked = island
            .post("/api/what-if", &json!({"changes": list["changes"]}))
            .await;
        assert!(asked.status.is_client_error(), "{list}");
    }
    assert_eq!(island.read("mastwright.toml"), before);
    let unsaid = island.post("/api/edits", &json!({"changes": []})).await;
    assert_eq!(unsaid.status, StatusCode::PRECONDITION_REQUIRED);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, rng_seed: prop::test_runner::RngSeed::Fixed(5), failure_persistence: None, ..ProptestConfig::default() })]

    /// No bytes make an import or a question a fault of the program.
    #[test]
    fn exact_junk_is_no_fault(junk in prop::collection::vec(any::<u8>(), 0..400), lines in "[a-z0-9,;.\"\n\t-]{0,200}") {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().expect("a runtime");
        runtime.block_on(async {
            let island = Island::in_folder({
                let folder = tempfile::tempdir().expect("a folder");
                for (file, text) in pipeline::design::minimal_design("junk") {
                    store::write_atomically(&folder.path().join(file), text.as_bytes()).expect("written");
                }
                folder
            });
            for name in ["a.csv", "a.geojson", "a.gpkg"] {
                for bytes in [junk.as_slice(), lines.as_bytes()] {
                    let answer = island.upload(&format!("/api/import/preview?file_name={name}"), bytes).await;
                    assert!(answer.status.as_u16() < 500, "{name}: {}", String::from_utf8_lossy(&answer.bytes));
                }
            }
            for name in ["a.tif", "a.hgt", "a.asc", "a.txt"] {
                let answer = island.upload(&format!("/api/import/file?file_name={name}"), &junk).await;
                assert!(answer.status.as_u16() < 500, "{name}");
            }
        });
    }
}
