//! Footprints in a project: a building in the way costs level and is named,
//! the one that the terminal is on does not.

use serde_json::{Value, json};

use crate::program::{Project, mastwright};

/// A square of some metres around a place, with a height.
fn house(name: &str, [lon, lat]: [f64; 2], half_m: f64, height_m: Option<f64>) -> Value {
    let (dx, dy) = (
        half_m / (111_320.0 * lat.to_radians().cos()),
        half_m / 111_320.0,
    );
    let corners = [
        (-1.0, -1.0),
        (1.0, -1.0),
        (1.0, 1.0),
        (-1.0, 1.0),
        (-1.0, -1.0),
    ];
    let ring = corners.map(|(x, y)| [lon + x * dx, lat + y * dy]);
    json!({
        "type": "Feature",
        "properties": {"name": name, "height_m": height_m},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    })
}

fn write(project: &Project, houses: &[Value]) {
    let collection = json!({"type": "FeatureCollection", "features": houses});
    project.write("buildings.geojson", collection.to_string());
}

fn position(of: &Value) -> [f64; 2] {
    ["lon_deg", "lat_deg"].map(|name| of["position"][name].as_f64().unwrap())
}

#[test]
fn exact_a_building_in_the_way_is_named_and_the_terminals_own_is_not_in_the_way() {
    let project = Project::example();
    let study: Value = serde_json::from_str(&project.text("results/study.json")).unwrap();
    // A short, clear link to a premises of the table.
    let premises = study["premises"].as_array().unwrap();
    let clear = premises.iter().find(|p| {
        let link = &p["link"];
        link["clearance_ratio"].as_f64().is_some_and(|c| c > 1.0)
            && (500.0..3_000.0).contains(&link["distance_m"].as_f64().unwrap())
    });
    let clear = clear.unwrap();
    let (id, sector) = (
        clear["id"].as_str().unwrap(),
        clear["link"]["sector"].as_str().unwrap(),
    );
    let home = position(clear);
    let sectors = study["sectors"].as_array().unwrap();
    let own = sectors.iter().find(|s| s["id"] == sector).unwrap();
    let mast = position(own);
    let path = || {
        let args = [
            "path",
            project.dir(),
            "--from",
            sector,
            "--to",
            id,
            "--alone",
        ];
        let told = mastwright(&[&args[..], &["--json"]].concat()).json();
        let loss_db = told["link"]["excess_loss_db"].as_f64().unwrap();
        let drawn = mastwright(&args).stdout;
        (loss_db, told["obstacle_building"].clone(), drawn)
    };
    let (bare_db, nothing, _) = path();
    assert_eq!(nothing, Value::Null);
    let design = project.text("mastwright.toml");
    let named = design + "\n[buildings]\nfiles = [\"buildings.geojson\"]\n";
    let before_home = [0, 1].map(|i| home[i] + 0.06 * (mast[i] - home[i]));
    let barn = house("Long Barn", before_home, 25.0, Some(70.0));
    write(&project, &[barn, house("shed", before_home, 5.0, None)]);
    project.write("mastwright.toml", named);
    let (blocked_db, building, drawn) = path();
    assert_eq!(building, "Long Barn");
    assert!(
        blocked_db > bare_db + 6.0,
        "{bare_db} dB, then {blocked_db} dB"
    );
    assert!(
        drawn.contains("blocked: building Long Barn stands"),
        "{drawn}"
    );
    let (findings, _) = project.check();
    let heights = findings.iter().filter(|f| f["code"] == "building-height");
    assert_eq!(heights.count(), 1, "{findings:?}");
    // The house that the antenna is on, however tall, and the mast's own.
    let ends = [
        house("home", home, 25.0, Some(70.0)),
        house("tower", mast, 25.0, Some(70.0)),
    ];
    write(&project, &ends);
    let (own_db, building, _) = path();
    assert_eq!((own_db, building), (bare_db, Value::Null));
    // A neighbour of the one on which the antenna is counts.
    let terrace = [
        ends[0].clone(),
        house("next door", before_home, 25.0, Some(70.0)),
    ];
    write(&project, &terrace);
    assert_eq!(path().1, "next door");
}
