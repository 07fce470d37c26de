//! Work that is begun from the page: written, counted, stopped.

mod island;

use axum::http::StatusCode;
use island::Island;
use serde_json::{Value, json};

/// Waits until a job is no longer under way.
async fn ended(island: &Island, job: &Value) {
    for _ in 0..1200 {
        let jobs = island.get("/api/jobs").await.json();
        let mut jobs = jobs.as_array().expect("a list").iter();
        if !jobs.any(|running| running["id"] == *job) {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("job {job} does not end");
}

async fn files(island: &Island) -> Vec<Value> {
    let list = island.get("/api/outputs").await.json();
    list["files"].as_array().expect("a list").clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_coverage_is_written_listed_and_handed_out() {
    let island = Island::new();
    let wanted = json!({
        "quantities": ["downlink_rsl_dbm", "best_server"], "sectors": ["kettle-nw"], "cell_m": 250,
    });
    let begun = island.post("/api/coverage-outputs", &wanted).await;
    assert_eq!(begun.status, StatusCode::OK, "{begun:?}");
    ended(&island, &begun.json()["job"]).await;
    let listed = files(&island).await;
    for folder in ["coverage", "coverage/kettle-nw"] {
        for quantity in ["downlink_rsl_dbm", "best_server"] {
            for suffix in ["tif", "png", "csv", "json"] {
                let name = format!("{folder}/{quantity}.{suffix}");
                let file = listed.iter().find(|file| file["name"] == name);
                let file = file.unwrap_or_else(|| panic!("{name} is not listed"));
                assert_eq!(file["is_current"], true, "{name}");
                assert!(file["meaning"].as_str().is_some_and(|m| !m.is_empty()));
                let address = format!("/api/outputs/{}", name.replace('/', "%2F"));
                let answer = island.get(&address).await;
                assert_eq!(answer.status, StatusCode::OK, "{name}");
                assert_eq!(json!(answer.bytes.len()), file["size_bytes"]);
                match suffix {
                    "tif" => assert!(answer.bytes.starts_with(b"II*\0")),
                    "png" => assert!(answer.bytes.starts_with(b"\x89PNG")),
                    _ => assert!(!answer.bytes.is_empty()),
                }
            }
        }
    }
    // After a change they are those of an earlier design.
    let change = json!({"change": "set_sector_number", "sector": "kettle-nw", "field": "azimuth_deg", "value": 12});
    let revision = island.revision().await;
    let list = json!({"changes": [change]});
    let accepted = island.post_from("/api/edits", Some(&revision), &list).await;
    assert_eq!(accepted.status, StatusCode::OK);
    let listed = files(&island).await;
    assert!(listed.iter().all(|file| file["is_current"] == false));
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_coverage_that_is_stopped_writes_nothing_more() {
    let island = Island::new();
    let all = ["kettle-nw", "kettle-ne", "kettle-se", "saddle-n"];
    let wanted = json!({"quantities": ["downlink_rsl_dbm"], "sectors": all, "cell_m": 60});
    let job = island.post("/api/coverage-outputs", &wanted).await.json()["job"].clone();
    let cancelled = island
        .post(&format!("/api/jobs/{job}/cancel"), &json!({}))
        .await;
    assert_eq!(cancelled.status, StatusCode::NO_CONTENT);
    ended(&island, &job).await;
    let coverage = |file: &Value| {
        file["name"]
            .as_str()
            .is_some_and(|n| n.starts_with("coverage"))
    };
    assert_eq!(
        files(&island).await.iter().filter(|f| coverage(f)).count(),
        0
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_what_cannot_be_written_is_refused_at_once() {
    let island = Island::new();
    let ask = async |wanted: Value| island.post("/api/coverage-outputs", &wanted).await.status;
    let unknown = StatusCode::NOT_FOUND;
    assert_eq!(
        ask(json!({"quantities": ["../../etc/passwd"]})).await,
        unknown
    );
    let nobody = json!({"quantities": ["servers"], "sectors": ["nobody"]});
    assert_eq!(ask(nobody).await, unknown);
    for unusable in [
        json!({"quantities": []}),
        json!({"quantities": ["servers"], "network": false}),
        json!({"quantities": ["servers"], "cell_m": 0.1}),
    ] {
        assert_eq!(ask(unusable).await, StatusCode::UNPROCESSABLE_ENTITY);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_busy_hour_is_that_of_its_seed() {
    let island = Island::new();
    let run = async |seed: u32| {
        let question = json!({"seed": seed, "measured_s": 20});
        let answer = island
            .post("/api/sectors/kettle-nw/busy-hour", &question)
            .await;
        assert_eq!(answer.status, StatusCode::OK, "{answer:?}");
        answer.json()
    };
    let first = run(7).await;
    assert_eq!(first, run(7).await);
    let other = run(8).await;
    assert_ne!(first["classes"], other["classes"]);
    let classes = first["classes"].as_array().expect("a list");
    let directions = ["downlink", "uplink"];
    for direction in directions {
        let mut own = classes.iter().filter(|c| c["direction"] == direction);
        assert!(own.any(|c| c["delivered_mbps"].as_f64().is_some_and(|rate| rate > 0.0)));
    }
    for class in classes {
        let number = |name: &str| class[name].as_f64();
        let delays = [
            "delay_p50_ms",
            "delay_p95_ms",
            "delay_p99_ms",
            "delay_p999_ms",
        ]
        .map(number);
        assert!(delays.is_sorted(), "{class}");
        assert!(number("jitter_ms").is_none_or(|ms| ms >= 0.0));
        assert!(number("lost_max_frac").is_some_and(|frac| (0.0..=1.0).contains(&frac)));
    }
    for (path, question, status) in [
        ("nobody", json!({}), StatusCode::NOT_FOUND),
        (
            "kettle-nw",
            json!({"measured_s": 0}),
            StatusCode::UNPROCESSABLE_ENTITY,
        ),
        (
            "kettle-nw",
            json!({"measured_s": 1e9}),
            StatusCode::UNPROCESSABLE_ENTITY,
        ),
    ] {
        let path = format!("/api/sectors/{path}/busy-hour");
        assert_eq!(
            island.post(&path, &question).await.status,
            status,
            "{question}"
        );
    }
}
