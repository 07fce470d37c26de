//! Changes reach the disk, come back from it, and never overwrite anybody's.

mod island;

use axum::http::StatusCode;
use island::Island;
use serde_json::{Value, json};

fn aim(sector: &str, azimuth_deg: f64) -> Value {
    json!({"change": "set_sector_number", "sector": sector, "field": "azimuth_deg", "value": azimuth_deg})
}

fn list(changes: &[Value]) -> Value {
    json!({"changes": changes, "label": "test"})
}

async fn sectors(island: &Island) -> Vec<String> {
    let network = island.get("/api/network").await.json();
    let sectors = network["sectors"].as_array().expect("sectors").clone();
    sectors
        .iter()
        .map(|s| s["id"].as_str().expect("an id").to_owned())
        .collect()
}

/// The line that sets a key of a sector.
fn line_of<'t>(text: &'t str, sector: &str, key: &str) -> &'t str {
    let block = text
        .split("[[sector]]")
        .find(|b| b.contains(&format!("id = \"{sector}\"")))
        .expect("a block");
    block
        .lines()
        .find(|line| line.starts_with(key))
        .expect("a line")
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_an_accepted_change_is_on_disk_and_goes_back_to_the_byte() {
    let island = Island::new();
    let sector = sectors(&island).await[0].clone();
    let before = island.read("mastwright.toml");
    let ledger = island.get("/api/ledger").await.json();
    let revision = island.revision().await;
    let asked = island
        .post("/api/what-if", &list(&[aim(&sector, 123.0)]))
        .await;
    assert_eq!(
        asked.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "a label is no part of a question"
    );
    let asked = island
        .post("/api/what-if", &json!({"changes": [aim(&sector, 123.0)]}))
        .await;
    assert_eq!(
        asked.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&asked.bytes)
    );
    assert_eq!(
        island.read("mastwright.toml"),
        before,
        "a question changes nothing"
    );
    let accepted = island
        .post_from("/api/edits", Some(&revision), &list(&[aim(&sector, 123.0)]))
        .await;
    assert_eq!(accepted.status, StatusCode::OK);
    let after = island.read("mastwright.toml");
    assert!(line_of(&after, &sector, "azimuth_deg").contains("123"));
    assert_eq!(before.lines().count(), after.lines().count());
    let told = accepted.json();
    assert_eq!(
        told["consequence"]["after"],
        asked.json()["after"],
        "the answer to the question holds"
    );
    assert_eq!(told["history"]["undo"][0]["label"], "test");
    let undone = island
        .post_from("/api/undo", told["revision"].as_str(), &json!({}))
        .await;
    assert_eq!(undone.status, StatusCode::OK);
    assert_eq!(island.read("mastwright.toml"), before);
    assert_eq!(undone.json()["revision"], revision.as_str());
    assert_eq!(island.get("/api/ledger").await.json(), ledger);
    let redone = island
        .post_from("/api/redo", Some(&revision), &json!({}))
        .await;
    assert_eq!(redone.status, StatusCode::OK);
    assert_eq!(island.read("mastwright.toml"), after);
    let nothing = island
        .post_from("/api/redo", Some(&revision), &json!({}))
        .await;
    assert_eq!(nothing.status, StatusCode::CONFLICT);
    // The history outlives the program.
    let Island { folder, app } = island;
    drop(app);
    let island = Island::in_folder(folder);
    let revision = island.revision().await;
    assert_eq!(
        island
            .post_from("/api/undo", Some(&revision), &json!({}))
            .await
            .status,
        StatusCode::OK
    );
    assert_eq!(island.read("mastwright.toml"), before);
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_two_windows_change_beside_each_other_and_conflicts_are_told() {
    let island = Island::new();
    let sectors = sectors(&island).await;
    let revision = island.revision().await;
    let first = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[0], 10.0)]),
        )
        .await;
    assert_eq!(first.status, StatusCode::OK);
    // The other window has not seen it: another value is merged, the same one refused.
    let second = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[1], 20.0)]),
        )
        .await;
    assert_eq!(second.status, StatusCode::OK);
    assert_eq!(second.json()["kept_from_outside"], true);
    let third = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[0], 30.0)]),
        )
        .await;
    assert_eq!(third.status, StatusCode::CONFLICT);
    let conflict = &third.json()["conflicts"][0];
    assert_eq!(
        (conflict["on_disk"].as_str(), conflict["wanted"].as_str()),
        (Some("10"), Some("30"))
    );
    let text = island.read("mastwright.toml");
    assert!(line_of(&text, &sectors[0], "azimuth_deg").contains("10"));
    assert!(line_of(&text, &sectors[1], "azimuth_deg").contains("20"));
    let stale = island
        .post_from(
            "/api/edits",
            Some("nonsense"),
            &list(&[aim(&sectors[0], 30.0)]),
        )
        .await;
    assert_eq!(
        (
            stale.status,
            stale.json()["code"].as_str().map(str::to_owned)
        ),
        (StatusCode::CONFLICT, Some("unknown-revision".to_owned()))
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_text_editor_is_never_overwritten() {
    let island = Island::new();
    let sectors = sectors(&island).await;
    let revision = island.revision().await;
    let theirs = island
        .read("mastwright.toml")
        .replace("[project]", "# a thought of mine\n[project]");
    island.write("mastwright.toml", &theirs);
    let accepted = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[0], 77.0)]),
        )
        .await;
    assert_eq!(accepted.status, StatusCode::OK);
    assert_eq!(accepted.json()["kept_from_outside"], true);
    let text = island.read("mastwright.toml");
    assert!(
        text.contains("# a thought of mine")
            && line_of(&text, &sectors[0], "azimuth_deg").contains("77")
    );
    // Undone beside what was written since.
    island.write(
        "mastwright.toml",
        &text.replace("a thought of mine", "a second thought"),
    );
    let revision = island.revision().await;
    let undone = island
        .post_from("/api/undo", Some(&revision), &json!({}))
        .await;
    assert_eq!(
        undone.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&undone.bytes)
    );
    assert_eq!(
        island.read("mastwright.toml"),
        theirs.replace("a thought of mine", "a second thought")
    );
    // Their own value of the same thing is kept, and both are told.
    let revision = island.revision().await;
    let line = line_of(&theirs, &sectors[0], "azimuth_deg").to_owned();
    let changed = island
        .read("mastwright.toml")
        .replacen(&line, "azimuth_deg = 5", 1);
    island.write("mastwright.toml", &changed);
    let refused = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[0], 99.0)]),
        )
        .await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert_eq!(refused.json()["conflicts"][0]["on_disk"], "5");
    assert_eq!(island.read("mastwright.toml"), changed);
    // A broken text is told, and left alone.
    island.write("mastwright.toml", "[broken");
    let refused = island
        .post_from(
            "/api/edits",
            Some(&revision),
            &list(&[aim(&sectors[0], 99.0)]),
        )
        .await;
    assert!(refused.status.is_client_error());
    assert_eq!(island.read("mastwright.toml"), "[broken");
    assert!(
        island.get("/api/findings").await.json()["findings"]
            .as_array()
            .is_some_and(|f| !f.is_empty())
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_masts_sectors_and_premises_come_and_go() {
    let island = Island::new();
    let (design, premises) = (island.read("mastwright.toml"), island.read("premises.csv"));
    let network = island.get("/api/network").await.json();
    let place = network["masts"][0]["position"].clone();
    let house = network["premises"]["id"][0].clone();
    let channel = network["sectors"][0]["channel_centre_mhz"].clone();
    let revision = island.revision().await;
    let near = json!({"lon_deg": place["lon_deg"].as_f64().expect("one") + 0.01, "lat_deg": place["lat_deg"]});
    let accepted = island.post_from("/api/edits", Some(&revision), &list(&[
        json!({"change": "add_mast", "mast": {"id": "new-mast", "position": near, "height_agl_m": 20}}),
        json!({"change": "add_sector", "sector": {"id": "new-sector", "mast": "new-mast", "azimuth_deg": 40, "channel_centre_mhz": channel}}),
        json!({"change": "add_premises", "premises": {"id": "new-house", "name": "a \"quoted\", name", "position": near}}),
        json!({"change": "set_mount_height", "premises": house, "mount_height_agl_m": 9.5}),
        json!({"change": "move_mast", "mast": "new-mast", "position": place}),
    ])).await;
    assert_eq!(
        accepted.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&accepted.bytes)
    );
    let network = island.get("/api/network").await.json();
    assert!(
        network["masts"]
            .as_array()
            .expect("masts")
            .iter()
            .any(|m| m["id"] == "new-mast" && m["position"] == place)
    );
    assert!(
        network["sectors"]
            .as_array()
            .expect("sectors")
            .iter()
            .any(|s| s["id"] == "new-sector" && s["height_agl_m"] == 20.0)
    );
    assert!(
        network["premises"]["name"]
            .as_array()
            .expect("names")
            .contains(&json!("a \"quoted\", name"))
    );
    let held = island
        .post_from(
            "/api/edits",
            accepted.json()["revision"].as_str(),
            &list(&[json!({"change": "remove_mast", "mast": "new-mast"})]),
        )
        .await;
    assert_eq!(
        held.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "it carries a sector"
    );
    let undone = island
        .post_from(
            "/api/undo",
            accepted.json()["revision"].as_str(),
            &json!({}),
        )
        .await;
    assert_eq!(undone.status, StatusCode::OK);
    assert_eq!(
        (island.read("mastwright.toml"), island.read("premises.csv")),
        (design, premises)
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_table_with_mistakes_comes_in_as_far_as_it_is_sound() {
    let island = Island::new();
    let network = island.get("/api/network").await.json();
    let (lon, lat) = (
        &network["masts"][0]["position"]["lon_deg"],
        &network["masts"][0]["position"]["lat_deg"],
    );
    let known = network["premises"]["id"][0]
        .as_str()
        .expect("an id")
        .to_owned();
    let table = format!(
        "Ref;Longitude;Latitude;Title\nx1;{lon};{lat};good\nx2;abc;{lat};no number\nx3;\"1,5\";{lat};comma\nx1;{lon};{lat};twice\n{known};{lon};{lat};there\n;{lon};{lat};no id\n"
    );
    let preview = island
        .upload("/api/import/preview?file_name=homes.csv", table.as_bytes())
        .await;
    assert_eq!(
        preview.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&preview.bytes)
    );
    let preview = preview.json();
    assert_eq!(
        (
            &preview["rows"],
            &preview["usable"],
            &preview["already_there"]
        ),
        (&json!(6), &json!(1), &json!(1))
    );
    let codes: Vec<_> = preview["mistakes"]
        .as_array()
        .expect("mistakes")
        .iter()
        .map(|m| m["code"].clone())
        .collect();
    assert_eq!(
        codes,
        [
            "wrong-type",
            "decimal-comma",
            "duplicate-id",
            "missing-cell"
        ]
    );
    assert_eq!(preview["mistakes"][0]["text_place"]["line"], 3);
    let before = island.read("premises.csv");
    let revision = island.revision().await;
    let accepted = island
        .upload(
            &format!("/api/import/accept?file_name=homes.csv&revision={revision}"),
            table.as_bytes(),
        )
        .await;
    assert_eq!(
        accepted.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&accepted.bytes)
    );
    let after = island.read("premises.csv");
    assert!(after.starts_with(&before) && after.lines().count() == before.lines().count() + 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_an_empty_folder_gets_a_design_that_reads() {
    let island = Island::empty();
    assert_eq!(island.get("/api/project").await.json()["state"], "empty");
    assert_eq!(
        island.get("/api/network").await.status,
        StatusCode::CONFLICT
    );
    let start = json!({"name": "A \"first\" one", "rule_set": "demo-lightly-licensed-3600", "air_interface": "ofdma-10",
        "channel_centre_mhz": 3620, "antenna": "sector-90-3500", "base_station": "base-2x2-3500", "terminal": "terminal-panel-18-3500",
        "mast_id": "hill", "mast_position": {"lon_deg": -28.06, "lat_deg": 43.95}, "mast_height_agl_m": 30, "sectors": 3});
    let started = island.post("/api/start", &start).await;
    assert_eq!(
        started.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&started.bytes)
    );
    let project = island.get("/api/project").await.json();
    assert_eq!(
        (&project["state"], &project["name"]),
        (&json!("ready"), &json!("A \"first\" one"))
    );
    assert_eq!(sectors(&island).await, ["hill-1", "hill-2", "hill-3"]);
    assert_eq!(
        island.post("/api/start", &start).await.status,
        StatusCode::CONFLICT
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_every_question_of_the_page_is_answered() {
    let island = Island::new();
    let network = island.get("/api/network").await.json();
    let sector = network["sectors"][0]["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let place = network["masts"][0]["position"].clone();
    let house = network["premises"]["id"][0].clone();
    let near = json!({"lon_deg": place["lon_deg"].as_f64().expect("one") + 0.01, "lat_deg": place["lat_deg"]});
    for question in [
        json!({"premises": house}),
        json!({"premises": house, "company": "alone", "mount_height_agl_m": 12.0}),
        json!({"place": near}),
        json!({"place": near, "sector": sector}),
    ] {
        let why = island.post("/api/why", &question).await;
        assert_eq!(
            why.status,
            StatusCode::OK,
            "{question}: {}",
            String::from_utf8_lossy(&why.bytes)
        );
        let why = why.json();
        assert_eq!(
            why["section"]["distance_m"].as_array().map(Vec::len),
            why["section"]["ray_amsl_m"].as_array().map(Vec::len)
        );
        assert!(
            why["downlink"]
                .as_array()
                .is_some_and(|terms| terms.len() > 5)
        );
    }
    for path in [
        "/api/catalogue",
        "/api/history",
        "/api/jobs",
        "/api/buildings",
        "/api/outputs",
        "/",
    ] {
        assert_eq!(island.get(path).await.status, StatusCode::OK, "{path}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_the_map_is_drawn_and_a_preview_counts_as_the_study_does() {
    let island = Island::new();
    island.studied().await;
    let network = island.get("/api/network").await.json();
    let sector = network["sectors"][0]["id"]
        .as_str()
        .expect("an id")
        .to_owned();
    let place = network["masts"][0]["position"].clone();
    let sheet = island.get(&format!("/api/sectors/{sector}")).await.json();
    assert!(sheet["study"]["terminals"].is_number() && sheet["airtime_by_class"].is_array());
    let (lon, lat) = (
        place["lon_deg"].as_f64().expect("one"),
        place["lat_deg"].as_f64().expect("one"),
    );
    assert!(
        island
            .get(&format!("/api/spot?lon_deg={lon}&lat_deg={lat}"))
            .await
            .json()["ground_amsl_m"]
            .is_number()
    );
    let column = ((lon + 180.0) / 360.0 * 1024.0) as u32;
    let row = ((1.0 - lat.to_radians().tan().asinh() / std::f64::consts::PI) / 2.0 * 1024.0) as u32;
    for what in ["relief", "land-cover"] {
        let tile = island
            .get(&format!("/api/{what}/10/{column}/{row}.png"))
            .await;
        assert_eq!(tile.status, StatusCode::OK, "{what}");
        assert_eq!(&tile.bytes[1..4], b"PNG");
    }
    assert_eq!(
        island.get("/api/relief/10/0/0.png").await.status,
        StatusCode::NO_CONTENT
    );
    assert_eq!(
        island.get("/api/relief/99/0/0.png").await.status,
        StatusCode::NOT_FOUND
    );
    let lines = island.get("/api/contours").await.json();
    assert!(lines["features"].as_array().is_some_and(|f| !f.is_empty()));
    let quantities = island.get("/api/coverage").await.json();
    let quantity = quantities["quantities"][0]["name"]
        .as_str()
        .expect("a name")
        .to_owned();
    let grid = island
        .get(&format!("/api/coverage/{quantity}.grid?cell_m=200"))
        .await;
    let (head, values) = head(&grid.bytes);
    assert_eq!(
        values,
        head["width"].as_u64().expect("one") as usize
            * head["height"].as_u64().expect("one") as usize
    );
    let question = json!({"changes": [aim(&sector, 200.0)], "ticket": 1, "window": "w", "quantity": quantity, "cell_m": 200, "with_counts": true});
    let preview = island.post("/api/preview", &question).await;
    assert_eq!(
        preview.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&preview.bytes)
    );
    let asked = island
        .post("/api/what-if", &json!({"changes": [aim(&sector, 200.0)]}))
        .await
        .json();
    assert_eq!(
        head_of(&preview.bytes)["counts"],
        asked["after"],
        "a preview counts as the study does"
    );
    // Back where it was, the picture is the one that it was.
    let question =
        json!({"changes": [], "ticket": 2, "window": "w", "quantity": quantity, "cell_m": 200});
    let back = island.post("/api/preview", &question).await;
    assert_eq!(pixels(&back.bytes), pixels(&grid.bytes));
}

fn head_of(bytes: &[u8]) -> Value {
    head(bytes).0
}

fn head(bytes: &[u8]) -> (Value, usize) {
    assert_eq!(&bytes[..4], b"MWG1");
    let length = u32::from_le_bytes(bytes[4..8].try_into().expect("four")) as usize;
    let head = serde_json::from_slice(&bytes[8..8 + length]).expect("a head");
    (head, (bytes.len() - 8 - length) / 4)
}

fn pixels(bytes: &[u8]) -> &[u8] {
    let length = u32::from_le_bytes(bytes[4..8].try_into().expect("four")) as usize;
    &bytes[8 + length..]
}
