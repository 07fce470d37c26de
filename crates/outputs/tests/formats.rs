//! Every format is read back by a reader that is not ours.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot be set up has failed"
)]

mod valley;

use std::sync::Arc;

use engine::verdict::Verdict;
use model::EquipmentId;
use model::equipment::{CutPoint, PatternSpec};
use outputs::format::round_field;
use rusqlite::{Connection, MAIN_DB};
use valley::{HOSTILE_NAME, Valley};

fn open(bytes: &[u8]) -> Connection {
    let mut db = Connection::open_in_memory().unwrap();
    let copy = std::io::Cursor::new(bytes);
    db.deserialize_read_exact(MAIN_DB, copy, bytes.len(), true)
        .unwrap();
    db
}

fn number(db: &Connection, sql: &str) -> f64 {
    db.query_row(sql, [], |row| row.get(0)).unwrap()
}

#[test]
fn exact_every_form_carries_the_caution() {
    let valley = Valley::small();
    let handout = valley.handout();
    let db = open(&outputs::geopackage::geopackage(&handout).unwrap());
    let described = format!(
        "SELECT count(*) FROM gpkg_contents WHERE description NOT LIKE '%{}'",
        outputs::CAUTION
    );
    assert_eq!(number(&db, &described), 0.0);
    let kml = String::from_utf8(outputs::kml::kml(&handout).unwrap()).unwrap();
    let page = roxmltree::Document::parse(&kml).unwrap();
    let told = page
        .descendants()
        .find(|n| n.tag_name().name() == "description");
    assert_eq!(told.and_then(|n| n.text()), Some(outputs::CAUTION));
    let layer = outputs::vector_geojson::premises(&handout).unwrap();
    let layer: serde_json::Value = serde_json::from_str(&layer).unwrap();
    assert_eq!(layer["description"], outputs::CAUTION);
    let study = outputs::json::study(&handout).unwrap();
    let study: serde_json::Value = serde_json::from_str(&study).unwrap();
    assert_eq!(study["caution"], outputs::CAUTION);
}

/// OGC 12-128r17, GeoPackage 1.3: requirements 2 (application id, version),
/// 11 (reference systems), 13 to 16 (contents), 21 to 24 (geometry columns).
#[test]
fn ref_geopackage_keeps_the_standards_tables() {
    let valley = Valley::small();
    let db = open(&outputs::geopackage::geopackage(&valley.handout()).unwrap());
    assert_eq!(
        number(&db, "SELECT * FROM pragma_application_id()"),
        f64::from(0x4750_4b47)
    );
    assert_eq!(number(&db, "SELECT * FROM pragma_user_version()"), 10_300.0);
    let integrity: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(integrity, "ok");
    assert!(
        !db.prepare("PRAGMA foreign_key_check")
            .unwrap()
            .exists([])
            .unwrap()
    );
    for srs_id in [-1, 0, 4326] {
        let sql = format!("SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id = {srs_id}");
        assert_eq!(number(&db, &sql), 1.0, "{srs_id}");
    }
    let layers = "SELECT count(*) FROM gpkg_contents c JOIN gpkg_geometry_columns g
        ON c.table_name = g.table_name AND c.srs_id = g.srs_id
        WHERE c.data_type = 'features' AND c.last_change = '2026-05-01T12:00:00.000Z'";
    assert_eq!(number(&db, layers), 4.0);
    let described = "SELECT count(*) FROM gpkg_data_columns WHERE table_name = 'premises'";
    let columns =
        "SELECT count(*) FROM pragma_table_info('premises') WHERE name NOT IN ('fid', 'geom')";
    assert_eq!(number(&db, described), number(&db, columns));
}

#[test]
fn exact_geopackage_holds_what_the_study_says() {
    let valley = Valley::small();
    let db = open(&outputs::geopackage::geopackage(&valley.handout()).unwrap());
    for p in &valley.study.premises {
        let (name, verdict, rsl_dbm): (String, String, Option<f64>) = db
            .query_row(
                "SELECT name, verdict, downlink_rsl_dbm FROM premises WHERE id = ?1",
                [p.id.as_str()],
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
            )
            .unwrap();
        assert_eq!(name, p.name);
        assert_eq!(verdict, p.verdict.name());
        assert_eq!(rsl_dbm, p.link.as_ref().map(|l| l.downlink.rsl_dbm));
    }
    let links = valley.study.premises.iter().filter(|p| p.link.is_some());
    assert_eq!(
        number(&db, "SELECT count(*) FROM links"),
        links.count() as f64
    );
    let west_deg = valley
        .study
        .premises
        .iter()
        .map(|p| p.position.lon_deg())
        .fold(f64::INFINITY, f64::min);
    let sql = "SELECT min_x FROM gpkg_contents WHERE table_name = 'premises'";
    assert_eq!(number(&db, sql), west_deg);
}

#[test]
fn exact_same_handout_same_bytes() {
    let (one, two) = (Valley::small(), Valley::small());
    let pair = |f: fn(&outputs::Handout<'_>) -> Vec<u8>| (f(&one.handout()), f(&two.handout()));
    let (a, b) = pair(|h| outputs::geopackage::geopackage(h).unwrap());
    assert!(a == b);
    let (a, b) = pair(|h| outputs::report::report(h).unwrap().into_bytes());
    assert!(a == b);
    let (a, b) = pair(|h| outputs::kml::kml(h).unwrap());
    assert!(a == b);
}

/// GDAL is the reader most programs share.
#[test]
fn ref_geopackage_is_read_by_gdal() {
    let found = std::process::Command::new("ogrinfo")
        .arg("--version")
        .output();
    if found.is_err() {
        println!("skipped: GDAL's reading of the GeoPackage, ogrinfo is not installed");
        return;
    }
    let valley = Valley::small();
    let bytes = outputs::geopackage::geopackage(&valley.handout()).unwrap();
    let file = std::env::temp_dir().join(format!("mastwright-{}.gpkg", std::process::id()));
    write(&file, &bytes);
    let read = std::process::Command::new("ogrinfo")
        .args(["-ro", "-al"])
        .arg(&file)
        .output()
        .unwrap();
    std::fs::remove_file(&file).unwrap();
    let text = String::from_utf8_lossy(&read.stdout);
    let errors = String::from_utf8_lossy(&read.stderr);
    assert!(read.status.success(), "{errors}");
    assert!(
        !errors.contains("Warning") && !errors.contains("ERROR"),
        "{errors}"
    );
    for line in [
        "Layer name: sector_wedges",
        "Layer name: links",
        "Layer name: sectors",
        "Layer name: premises",
        "Feature Count: 5",
        "ID[\"EPSG\",4326]]",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    assert!(
        text.contains("POINT (") && text.contains("LINESTRING (") && text.contains("POLYGON ((")
    );
}

#[expect(clippy::disallowed_methods, reason = "GDAL reads files")]
fn write(file: &std::path::Path, bytes: &[u8]) {
    std::fs::write(file, bytes).unwrap();
}

#[test]
fn exact_ledger_round_trip() {
    let valley = Valley::small();
    let bytes = outputs::ledger_csv::premises(&valley.handout()).unwrap();
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let heads = reader.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|h| h == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), valley.study.premises.len());
    for (row, p) in rows.iter().zip(&valley.study.premises) {
        assert_eq!(&row[column("id")], p.id.as_str());
        assert_eq!(&row[column("name")], p.name);
        let written = row[column("downlink_rsl_dbm")].parse::<f64>().ok();
        let expected = p
            .link
            .as_ref()
            .map(|l| round_field("downlink_rsl_dbm", l.downlink.rsl_dbm));
        assert_eq!(written, expected);
        assert_eq!(
            row[column("limit_cause")].is_empty(),
            p.verdict != Verdict::Unserved
        );
    }
    let sectors = outputs::ledger_csv::sectors(&valley.handout()).unwrap();
    let mut reader = csv::Reader::from_reader(sectors.as_slice());
    assert_eq!(reader.records().map(Result::unwrap).count(), 2);
}

/// RFC 7946: longitude first, closed counterclockwise rings (3.1.6).
#[test]
fn ref_geojson_is_valid() {
    let valley = Valley::small();
    let h = valley.handout();
    let texts = [
        outputs::vector_geojson::premises(&h).unwrap(),
        outputs::vector_geojson::sectors(&h).unwrap(),
        outputs::vector_geojson::links(&h).unwrap(),
    ];
    let counts = texts.each_ref().map(|text| {
        let collection: geojson::FeatureCollection = text
            .parse::<geojson::GeoJson>()
            .unwrap()
            .try_into()
            .unwrap();
        for feature in &collection.features {
            if let geojson::GeometryValue::Polygon { coordinates } =
                &feature.geometry.as_ref().unwrap().value
            {
                let ring = &coordinates[0];
                let twice_area: f64 = ring
                    .windows(2)
                    .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
                    .sum();
                assert!(ring.len() >= 4 && ring[0] == ring[ring.len() - 1] && twice_area > 0.0);
            }
        }
        collection.features.len()
    });
    let links = valley
        .study
        .premises
        .iter()
        .filter(|p| p.link.is_some())
        .count();
    assert_eq!(counts, [5, 2, links]);
    let first: serde_json::Value = serde_json::from_str(&texts[0]).unwrap();
    let feature = &first["features"][0];
    assert_eq!(feature["properties"]["name"], HOSTILE_NAME);
    let lon_deg = feature["geometry"]["coordinates"][0].as_f64().unwrap();
    assert_eq!(
        lon_deg,
        round_field("lon_deg", valley.network.premises[0].position.lon_deg())
    );
}

#[test]
fn exact_json_carries_the_field_names_of_the_structs() {
    let valley = Valley::small();
    let text = outputs::json::study(&valley.handout()).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["summary"]["premises"], 5);
    assert_eq!(value["premises"][0]["name"], HOSTILE_NAME);
    assert!(value["premises"][0]["link"]["downlink"]["rsl_dbm"].is_f64());
    assert_eq!(value["network"]["territory"]["working_plane_epsg"], 32_632);
    let path = outputs::json::path(&valley.cross_sections[0], None, &[]).unwrap();
    let value: serde_json::Value = serde_json::from_str(&path).unwrap();
    assert!(value["geometry"]["clearance_ratio"].is_f64());
}

/// A terminal whose antenna has cuts of 360 points each.
fn with_cuts(mut valley: Valley) -> Valley {
    let cut: Vec<CutPoint> = (0..360)
        .map(|i| CutPoint {
            angle_deg: f64::from(i) - 180.0,
            loss_db: f64::from(i) / 12.0,
        })
        .collect();
    for p in &mut valley.network.premises {
        let mut terminal = (*p.terminal).clone();
        let mut antenna = (*terminal.antenna).clone();
        antenna.id = EquipmentId::new("measured");
        antenna.pattern = PatternSpec::Cuts {
            horizontal: cut.clone(),
            vertical: cut.clone(),
            near_symmetric: true,
        };
        terminal.antenna = Arc::new(antenna);
        p.terminal = Arc::new(terminal);
    }
    valley
}

#[test]
fn exact_json_has_every_card_once_and_its_ids_resolve() {
    let valley = with_cuts(Valley::settled(140));
    let text = outputs::json::study(&valley.handout()).unwrap();
    assert_eq!(text.matches("\"near_symmetric\"").count(), 1);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let network = &value["network"];
    let card = |kind: &str, id: &serde_json::Value| {
        let card = &network["cards"][kind][id.as_str().unwrap()];
        assert_eq!(&card["id"], id, "{kind}");
        card
    };
    let premises = network["premises"].as_array().unwrap();
    assert_eq!(premises.len(), valley.network.premises.len());
    for (json, p) in premises.iter().zip(&valley.network.premises) {
        let terminal = card("terminals", &json["terminal"]);
        let antenna = card("antennas", &terminal["antenna"]);
        assert_eq!(antenna["gain_dbi"], p.terminal.antenna.gain_dbi);
        assert_eq!(
            antenna["pattern"]["horizontal"].as_array().unwrap().len(),
            360
        );
        assert_eq!(terminal["noise_figure_db"], p.terminal.noise_figure_db);
        let plan = card("plans", &json["plan"]);
        assert_eq!(plan["downlink_mbps"], p.plan.downlink_mbps);
        assert_eq!(json["mount_height_agl_m"], p.mount_height_agl_m);
    }
    for (json, s) in network["sectors"]
        .as_array()
        .unwrap()
        .iter()
        .zip(&valley.network.sectors)
    {
        let base = card("base_stations", &json["base_station"]);
        assert_eq!(base["noise_figure_db"], s.base_station.noise_figure_db);
        card("antennas", &json["antenna"]);
        card("air_interfaces", &json["air_interface"]);
        assert_eq!(json["channel"]["centre_mhz"], s.channel.centre_mhz);
    }
    card("rule_sets", &network["rule_set"]);
    // One premises of the design: an id, a place and the ids of what it uses.
    let bytes = serde_json::to_string(premises).unwrap().len() / premises.len();
    assert!(bytes < 400, "{bytes} bytes for each premises");
}

/// OGC 07-147r2: one document in the KML 2.2 namespace, every style that a
/// placemark names is there, coordinates are longitude then latitude.
#[test]
fn ref_kml_is_well_formed() {
    let valley = Valley::small();
    let text = String::from_utf8(outputs::kml::kml(&valley.handout()).unwrap()).unwrap();
    let xml = roxmltree::Document::parse(&text).unwrap();
    let root = xml.root_element();
    assert_eq!(
        root.tag_name().namespace(),
        Some("http://www.opengis.net/kml/2.2")
    );
    let all = |name: &'static str| {
        root.descendants()
            .filter(move |n| n.has_tag_name(("http://www.opengis.net/kml/2.2", name)))
    };
    let styles: Vec<_> = all("Style").filter_map(|s| s.attribute("id")).collect();
    for url in all("styleUrl") {
        assert!(styles.contains(&url.text().unwrap().trim_start_matches('#')));
    }
    let links = valley
        .study
        .premises
        .iter()
        .filter(|p| p.link.is_some())
        .count();
    assert_eq!(all("Placemark").count(), 5 + 2 + links);
    assert!(all("value").any(|v| v.text() == Some(HOSTILE_NAME)));
    let point = all("Point").next().unwrap();
    let coordinates = point
        .descendants()
        .find_map(|n| n.text().filter(|t| t.contains(',')))
        .unwrap();
    let p = valley.network.premises[0].position;
    assert_eq!(
        coordinates,
        format!("{:.7},{:.7}", p.lon_deg(), p.lat_deg())
    );
}
