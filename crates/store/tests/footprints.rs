//! Footprints of a whole small country, in two formats, against the centroids
//! and the area that the data's own description gives.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "tests fail where something is not there, write files and say what they found"
)]

mod ground_data;

use geodesy::LonLat;
use ground_data::shared;
use pipeline::engine::buildings::{Buildings, Footprint};
use pipeline::model::{BuildingSources, Severity};
use store::project::read_footprints;

fn sources(height_field: &str, default_height_m: Option<f64>) -> BuildingSources {
    BuildingSources {
        files: Vec::new(),
        height_field: height_field.to_owned(),
        default_height_m,
    }
}

/// Twice the signed area in square degrees, times the square metres of one
/// there: outer rings run one way round, holes the other (RFC 7946).
fn area_m2(footprint: &Footprint) -> f64 {
    let rings = footprint.rings.iter().map(|ring| {
        let [lon0, lat0] = ring[0];
        let next = ring.iter().cycle().skip(1);
        let twice: f64 = ring
            .iter()
            .zip(next)
            .map(|(a, b)| (a[0] - lon0) * (b[1] - lat0) - (b[0] - lon0) * (a[1] - lat0))
            .sum();
        // Metres a degree on WGS 84, by the geodesics of a hundredth of one.
        let at = |lon, lat| LonLat::new(lon, lat).unwrap();
        let metres = |to| 100.0 * geodesy::inverse(at(lon0, lat0), to).distance_m;
        let (east_m, north_m) = (metres(at(lon0 + 0.01, lat0)), metres(at(lon0, lat0 + 0.01)));
        0.5 * twice * east_m * north_m
    });
    rings.sum()
}

/// `liechtenstein/README.md`: 8 994 footprints, 2 201 709 m² in all (OpenStreetMap, ODbL 1.0).
#[test]
fn ref_footprints_of_a_country() {
    let Some(folder) = shared("geodata/liechtenstein") else {
        return;
    };
    let read = read_footprints(
        &folder,
        "buildings.geojson",
        &sources("height_m", Some(8.0)),
    );
    assert_eq!((read.features, read.footprints.len()), (8_994, 8_994));
    // None has a height of its own.
    let told: Vec<_> = read.findings.iter().map(|f| (f.code, f.severity)).collect();
    assert_eq!(told, [("building-height", Severity::Note)]);
    assert!(read.findings[0].message.starts_with("`8994` of the `8994`"));
    let total_m2: f64 = read.footprints.iter().map(area_m2).sum();
    println!("{total_m2:.0} m² of footprints");
    // Corners of seven decimals, an area by a plane for each: a part in two thousand.
    assert!((total_m2 / 2_201_709.0 - 1.0).abs() < 5e-4, "{total_m2}");
    assert_eq!(&*read.footprints[0].name, "Schloss Vaduz");
    // The same buildings from a GeoPackage in UTM.
    let package = read_footprints(
        &folder,
        "buildings_utm32.gpkg",
        &sources("height_m", Some(8.0)),
    );
    assert_eq!(package.features, 8_994);
    let total_package_m2: f64 = package.footprints.iter().map(|f| area_m2(f).abs()).sum();
    println!("{total_package_m2:.0} m² in the other format");
    holds_the_centroids(&read.footprints, &folder);
    holds_the_centroids(&package.footprints, &folder);
    // Levels are there for some, and no metres: whoever takes them must say so.
    let levels = read_footprints(&folder, "buildings.geojson", &sources("levels", None));
    assert!(levels.footprints.len() < 2_000);
    assert_eq!(levels.findings[0].severity, Severity::Warning);
    assert!(levels.findings[0].message.ends_with("they are left out"));
}

/// Nearly every centroid lies in its own building; those of bent ones may not.
fn holds_the_centroids(footprints: &[Footprint], folder: &std::path::Path) {
    let buildings = Buildings::new(footprints.to_vec());
    let table = std::fs::read_to_string(folder.join("building_centroids.csv")).unwrap();
    let held = table.lines().skip(1).enumerate().filter(|(index, line)| {
        let cells: Vec<&str> = line.split(',').collect();
        let [lon, lat] = [2, 3].map(|i| cells[i].parse::<f64>().unwrap());
        buildings
            .holding(LonLat::new(lon, lat).unwrap())
            .contains(index)
    });
    let held = held.count();
    println!("{held} centroids lie in their own footprint");
    assert!(held as f64 > 0.97 * 8_994.0, "{held}");
}

#[test]
fn exact_what_cannot_be_read_is_told_and_nothing_panics() {
    let folder = tempfile::tempdir().unwrap();
    let read = |name: &str, bytes: &[u8]| {
        std::fs::write(folder.path().join(name), bytes).unwrap();
        let read = read_footprints(folder.path(), name, &sources("height_m", None));
        let codes: Vec<_> = read.findings.iter().map(|f| f.code).collect();
        (read.footprints.len(), codes)
    };
    assert_eq!(read("a.geojson", b"{"), (0, vec!["syntax"]));
    assert_eq!(read("a.gpkg", b"no database"), (0, vec!["syntax"]));
    let point = br#"{"type":"Feature","properties":{"height_m":5},"geometry":{"type":"Point","coordinates":[9,47]}}"#;
    assert_eq!(read("b.geojson", point), (0, vec!["no-footprint"]));
    let area = |height: &str| {
        format!(
            r#"{{"type":"Feature","properties":{{"height_m":{height},"name":"a\nb"}},"geometry":{{"type":"Polygon","coordinates":[[[9,47],[9.001,47],[9,47.001],[9,47]]]}}}}"#
        )
    };
    for height in ["null", "-3", "\"tall\"", "1e9"] {
        let found = read("c.geojson", area(height).as_bytes());
        assert_eq!(found, (0, vec!["building-height"]), "{height}");
    }
    for height in ["12.5", "\" 12.5 \""] {
        assert_eq!(read("d.geojson", area(height).as_bytes()), (1, vec![]));
    }
    let missing = read_footprints(folder.path(), "e.geojson", &sources("height_m", None));
    assert_eq!(missing.findings[0].code, "unreadable-file");
}
