//! Terrain and patterns that are brought in, and premises kept as GeoJSON.

mod island;

use axum::http::StatusCode;
use geodesy::{Crs, MapXy};
use island::Island;
use raster::{Affine, Georeference, Grid};
use serde_json::{Value, json};
use store::geotiff_out::{CellType, encode};

/// 20 by 10 cells of 50 m, a tenth of them void.
fn raster(cells: CellType) -> Vec<u8> {
    let origin = MapXy {
        x: 500_000.0,
        y: 5_000_000.0,
    };
    let affine = Affine::north_up(origin, 50.0, 50.0).expect("cells have a size");
    let crs = Crs::from_epsg(32_632).expect("known");
    let georeference = Georeference::new(crs, affine, 20, 10);
    let value = |i: usize| {
        if i < 20 {
            f32::NAN
        } else {
            10.0 + (i % 7) as f32
        }
    };
    let grid = Grid::new(georeference, 20, 10, (0..200).map(value).collect()).expect("a grid");
    encode(&grid, cells).expect("it is encoded")
}

/// A panel by the tables of a file that tells no more than it must.
fn pattern() -> String {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../store/tests/reference/pattern_files/panel.csv"
    );
    let bytes = store::on_disk::read_if_there(path.as_ref()).expect("readable");
    String::from_utf8(bytes.expect("it is in the tree")).expect("text")
}

async fn undo(island: &Island, path: &str) -> Value {
    let revision = island.revision().await;
    let answer = island.post_from(path, Some(&revision), &json!({})).await;
    assert_eq!(answer.status, StatusCode::OK, "{answer:?}");
    answer.json()
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_terrain_enters_the_design_and_goes_back_to_the_byte() {
    let island = Island::new();
    let before = island.read("mastwright.toml");
    let bytes = raster(CellType::Float32);
    let address = "/api/import/file/preview?file_name=hills.tif";
    let seen = island.upload(address, &bytes).await;
    assert_eq!(seen.status, StatusCode::OK, "{seen:?}");
    let seen = seen.json();
    assert_eq!(
        (&seen["kind"], &seen["is_there"]),
        (&json!("terrain"), &json!(false))
    );
    let facts = &seen["raster"];
    assert_eq!(facts["void_frac"], json!(0.1));
    assert_eq!(facts["spacing_m"], json!([50.0, 50.0]));
    assert_eq!(
        (&facts["least"], &facts["greatest"]),
        (&json!(10.0), &json!(16.0))
    );
    assert!(
        facts["reference_system"]
            .as_str()
            .is_some_and(|name| !name.is_empty())
    );
    // The central meridian of zone 32 is 9° E.
    assert!(
        facts["bounds"]["west_deg"]
            .as_f64()
            .is_some_and(|west| (west - 9.0).abs() < 1e-3)
    );
    assert_eq!(
        island.read("mastwright.toml"),
        before,
        "a look changes nothing"
    );

    let brought = island
        .upload("/api/import/file?file_name=hills.tif", &bytes)
        .await;
    assert_eq!(brought.status, StatusCode::OK, "{brought:?}");
    let brought = brought.json();
    assert_eq!(
        (&brought["is_in_design"], &brought["next"]),
        (&json!(true), &json!(""))
    );
    assert_eq!(brought["file"], "terrain/hills.tif");
    let named = island.read("mastwright.toml");
    assert!(named.contains("terrain/hills.tif\"") || named == before);
    let is_new = named != before;
    assert_eq!(
        brought["history"]["undo"].as_array().map(Vec::len),
        Some(usize::from(is_new))
    );
    assert!(is_new, "the example names its rasters one by one");
    undo(&island, "/api/undo").await;
    assert_eq!(island.read("mastwright.toml"), before);
    undo(&island, "/api/redo").await;
    assert_eq!(island.read("mastwright.toml"), named);
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_file_that_does_not_fit_is_refused() {
    let island = Island::new();
    let bytes = raster(CellType::Float32);
    let first = island
        .upload("/api/import/file?file_name=hills.tif", &bytes)
        .await;
    assert_eq!(first.status, StatusCode::OK);
    // The same file once more is no fault, another of its name is.
    let again = island
        .upload("/api/import/file?file_name=hills.tif", &bytes)
        .await;
    assert_eq!(again.status, StatusCode::OK);
    let other = raster(CellType::Unsigned8);
    let other = island
        .upload("/api/import/file?file_name=hills.tif&kind=terrain", &other)
        .await;
    assert_eq!(other.status, StatusCode::CONFLICT);
    let classes = raster(CellType::Unsigned8);
    let seen = island
        .upload("/api/import/file/preview?file_name=c.tif", &classes)
        .await
        .json();
    assert_eq!(seen["kind"], "land_cover");
    for (address, bytes) in [
        (
            "/api/import/file/preview?file_name=c.tif&kind=antenna_pattern",
            classes.as_slice(),
        ),
        ("/api/import/file/preview?file_name=c.tif", b"junk"),
        ("/api/import/file/preview?file_name=c.csv", b"junk"),
        (
            "/api/import/file/preview?file_name=panel.csv&kind=terrain",
            b"junk",
        ),
    ] {
        let refused = island.upload(address, bytes).await;
        assert_eq!(
            refused.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{address}"
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_pattern_becomes_a_card_and_goes_again() {
    let island = Island::new();
    let cards = || island.folder.path().join("equipment/brought-in.toml");
    let address = "/api/import/file?file_name=panel-x.csv&gain_dbi=16.5";
    let brought = island.upload(address, pattern().as_bytes()).await;
    assert_eq!(brought.status, StatusCode::OK, "{brought:?}");
    let brought = brought.json();
    assert_eq!(brought["is_in_design"], true, "{brought}");
    assert!(cards().exists());
    let antennas = async || {
        let catalogue = island.get("/api/catalogue").await.json();
        let antennas = catalogue["antennas"].as_array().expect("a list").iter();
        antennas
            .filter(|card| card["id"] == "panel-x")
            .cloned()
            .collect::<Vec<_>>()
    };
    let own = antennas().await;
    assert_eq!(own.len(), 1);
    assert_eq!(own[0]["gain_dbi"], 16.5);
    // A sector can have it at once.
    let sector = json!({"change": "add_sector", "sector": {
        "id": "new", "mast": "kettle", "azimuth_deg": 10, "channel_centre_mhz": 3600, "antenna": "panel-x",
    }});
    let asked = island
        .post("/api/what-if", &json!({"changes": [sector]}))
        .await;
    assert_eq!(asked.status, StatusCode::OK, "{asked:?}");
    undo(&island, "/api/undo").await;
    assert!(antennas().await.is_empty());
    assert!(!cards().exists(), "an empty file of cards is left behind");
    undo(&island, "/api/redo").await;
    assert_eq!(antennas().await.len(), 1);
    let unknown = island
        .upload(
            "/api/import/file?file_name=panel-y.csv&gain_dbi=99",
            pattern().as_bytes(),
        )
        .await;
    let unknown = unknown.json();
    assert_eq!(unknown["is_in_design"], false);
    assert!(
        unknown["next"]
            .as_str()
            .is_some_and(|next| next.contains("pattern_file"))
    );
}

/// The example with its premises as GeoJSON.
async fn with_geojson() -> (Island, String) {
    let folder = tempfile::tempdir().expect("a folder");
    island::write_example(folder.path());
    let csv = folder.path().join("premises.csv");
    let table = store::on_disk::read_if_there(&csv)
        .expect("readable")
        .expect("there");
    let table = String::from_utf8(table).expect("text");
    let mut lines = table.lines();
    let columns: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let features: Vec<String> = lines
        .take(40)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let cell = |name: &str| cells[columns.iter().position(|c| *c == name).expect("a column")];
            format!(
                "{{ \"type\":\"Feature\", \"properties\":{{\"own\":  [1, 2.50],\"id\":\"{}\", \"plan\":\"{}\"}}, \"geometry\":{{\"type\":\"Point\",\"coordinates\":[{},{}]}} }}",
                cell("id"), cell("plan"), cell("lon"), cell("lat")
            )
        })
        .collect();
    let text = format!(
        "{{\"type\":\"FeatureCollection\",\"made_by\":\"x\",\n\"features\":[\n{}\n]}}\n",
        features.join(",\n")
    );
    std::fs::remove_file(csv).expect("it goes");
    store::write_atomically(&folder.path().join("premises.geojson"), text.as_bytes())
        .expect("written");
    (Island::in_folder(folder), text)
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_premises_in_geojson_are_edited_in_place() {
    let (island, before) = with_geojson().await;
    let network = island.get("/api/network").await.json();
    let ids = network["premises"]["id"].as_array().expect("ids").clone();
    assert_eq!(ids.len(), 40);
    let plans = island.get("/api/project").await.json()["plans"].clone();
    let changes = json!([
        {"change": "set_mount_height", "premises": ids[0], "mount_height_agl_m": 9.5},
        {"change": "set_plan", "premises": ids[1], "plan": plans[0]["id"]},
        {"change": "move_premises", "premises": ids[2], "position": {"lon_deg": network["premises"]["lon_deg"][3], "lat_deg": network["premises"]["lat_deg"][2]}},
        {"change": "remove_premises", "premises": ids[3]},
        {"change": "add_premises", "premises": {"id": "new", "name": "N \"1\"", "position": {"lon_deg": network["premises"]["lon_deg"][3], "lat_deg": network["premises"]["lat_deg"][3]}}},
    ]);
    let list = json!({"changes": changes, "label": "some"});
    let revision = island.revision().await;
    let accepted = island.post_from("/api/edits", Some(&revision), &list).await;
    assert_eq!(accepted.status, StatusCode::OK, "{accepted:?}");
    let after = island.read("premises.geojson");
    assert!(!island.folder.path().join("premises.csv").exists());
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    let (old, new) = (lines(&before), lines(&after));
    assert_eq!(old.len(), new.len(), "one goes and one comes");
    assert_eq!(old[..2], new[..2]);
    assert_eq!(old[6..41], new[5..40], "others are as they were");
    assert!(new[2].contains("\"mount_height_agl_m\": 9.5") && new[2].contains("[1, 2.50]"));
    let read = island.get("/api/network").await.json();
    let read = read["premises"]["id"].as_array().expect("ids");
    assert!(read.contains(&json!("new")) && !read.contains(&ids[3]));
    undo(&island, "/api/undo").await;
    assert_eq!(island.read("premises.geojson"), before);
    undo(&island, "/api/redo").await;
    assert_eq!(island.read("premises.geojson"), after);
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_buildings_are_drawn_where_the_design_names_them() {
    let island = Island::new();
    let none = island.get("/api/buildings").await.json();
    assert_eq!(none["features"], json!([]));
    let text = island.read("mastwright.toml");
    let network = island.get("/api/network").await.json();
    let at = &network["masts"][0]["position"];
    let [lon, lat] = ["lon_deg", "lat_deg"].map(|key| at[key].as_f64().expect("a number"));
    let ring = [[0.0, 0.0], [1e-4, 0.0], [1e-4, 1e-4], [0.0, 0.0]];
    let ring = ring.map(|[x, y]| [lon + x, lat + y]);
    let barn = json!({"type": "FeatureCollection", "features": [{
        "type": "Feature", "properties": {"name": "barn", "height_m": 7.5},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }]});
    island.write("barns.geojson", &barn.to_string());
    island.write(
        "mastwright.toml",
        &format!("{text}\n[buildings]\nfiles = [\"barns.geojson\"]\nheight_field = \"height_m\"\n"),
    );
    let island = Island::in_folder(island.folder);
    let drawn = island.get("/api/buildings").await.json();
    assert_eq!(
        drawn["features"][0]["properties"]["height_m"], 7.5,
        "{drawn}"
    );
    assert_eq!(drawn["features"][0]["geometry"]["type"], "Polygon");
}

/// A folder whose premises no program of ours writes into.
#[tokio::test(flavor = "multi_thread")]
async fn exact_premises_in_a_geopackage_are_left_as_they_are() {
    let folder = tempfile::tempdir().expect("a folder");
    island::write_example(folder.path());
    std::fs::remove_file(folder.path().join("premises.csv")).expect("it goes");
    let path = folder.path().join("premises.gpkg");
    store::write_atomically(&path, b"not read here").expect("written");
    let island = Island::in_folder(folder);
    let place = json!({"lon_deg": 0.0, "lat_deg": 0.0});
    let change = json!({"change": "add_premises", "premises": {"id": "new", "position": place}});
    let revision = island.revision().await;
    let list = json!({"changes": [change]});
    let refused = island.post_from("/api/edits", Some(&revision), &list).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.json()["hint"]
            .as_str()
            .is_some_and(|hint| hint.contains("premises.geojson"))
    );
    assert!(!island.folder.path().join("premises.csv").exists());
    let there = store::on_disk::read_if_there(&path).expect("readable");
    assert_eq!(there.as_deref(), Some(&b"not read here"[..]));
}
