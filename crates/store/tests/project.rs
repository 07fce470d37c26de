//! Project folders on disk.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "the test writes folders to read, and says what it skips and how near it came"
)]

use std::path::Path;

use model::{Finding, Network, Severity};
use pipeline::design::{self, minimal_design, premises_from_csv};
use proptest::prelude::*;
use store::project::{self, ProjectError, premises_from_geojson};
use store::write_atomically;

fn folder_of(files: &[(String, String)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (file, text) in files {
        put(folder.path(), file, text.as_bytes());
    }
    folder
}

fn put(folder: &Path, file: &str, bytes: &[u8]) {
    let path = folder.join(file);
    std::fs::create_dir_all(path.parent().expect("it lies in the folder")).expect("a folder");
    write_atomically(&path, bytes).expect("it can be written");
}

fn read(folder: &Path) -> (Option<Network>, Vec<Finding>) {
    design::read(&project::open(folder).expect("the folder opens").sources)
}

fn codes(findings: &[Finding]) -> Vec<&'static str> {
    findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn exact_minimal_design_opens_and_reads() {
    let folder = folder_of(&minimal_design("orchard"));
    put(folder.path(), "terrain/N47E009.hgt", b"posts");
    put(folder.path(), "results/old.tif", b"old");
    put(folder.path(), ".hidden/x", b"x");
    let project = project::open(folder.path()).expect("the folder opens");
    let files: Vec<_> = project.sources.files.iter().map(|file| &**file).collect();
    assert_eq!(
        files,
        [
            "mastwright.toml",
            "plans.toml",
            "premises.csv",
            "terrain/N47E009.hgt"
        ]
    );
    let (network, findings) = read(folder.path());
    assert_eq!(network.expect("a network").premises.len(), 2);
    assert_eq!(codes(&findings), ["no-terrain", "climate-assumed"]);
}

#[test]
fn exact_what_is_no_project_folder_is_an_error() {
    let folder = folder_of(&minimal_design("orchard"));
    assert!(matches!(
        project::open(&folder.path().join("no")),
        Err(ProjectError::NoFolder(_))
    ));
    let file = folder.path().join("plans.toml");
    assert!(matches!(
        project::open(&file),
        Err(ProjectError::NotAFolder(_))
    ));
    let empty = tempfile::tempdir().expect("a temporary folder");
    let (network, findings) = read(empty.path());
    assert!(network.is_none());
    assert!(codes(&findings).contains(&"no-such-file"));
}

#[test]
fn exact_two_premises_files_are_told() {
    let folder = folder_of(&minimal_design("orchard"));
    put(folder.path(), "premises.geojson", b"{}");
    let (_, findings) = read(folder.path());
    assert!(
        codes(&findings).contains(&"two-premises-files"),
        "{findings:#?}"
    );
}

#[test]
fn exact_text_that_is_not_utf_8_is_told_by_line() {
    let folder = folder_of(&minimal_design("orchard"));
    put(
        folder.path(),
        "premises.csv",
        b"id,lon,lat,name\np1,-28.06,43.96,M\xfchle\n",
    );
    let (network, findings) = read(folder.path());
    let finding = findings
        .iter()
        .find(|f| f.code == "encoding")
        .expect("it is told");
    assert_eq!(finding.place.as_ref().map(|place| place.line), Some(2));
    assert_eq!(network.expect("a network").premises.len(), 1);
}

#[test]
fn exact_geojson_premises_take_their_properties() {
    let mut files = minimal_design("orchard");
    files.retain(|(file, _)| file != "premises.csv");
    let folder = folder_of(&files);
    put(
        folder.path(),
        "premises.geojson",
        br#"{"type": "FeatureCollection", "features": [
            {"type": "Feature", "id": 7, "properties": {"name": "barn", "mount_height_agl_m": 9.5, "priority": 2},
             "geometry": {"type": "Point", "coordinates": [9.45, 47.16]}},
            {"type": "Feature", "properties": {"id": "house", "plan": "home"},
             "geometry": {"type": "Polygon", "coordinates": [[[9.46, 47.16], [9.48, 47.16], [9.48, 47.18], [9.46, 47.18], [9.46, 47.16]]]}},
            {"type": "Feature", "properties": {"id": "nowhere"}, "geometry": null}
        ]}"#,
    );
    let (network, findings) = read(folder.path());
    let premises = network.expect("a network").premises;
    assert_eq!(premises.len(), 2, "{findings:#?}");
    assert_eq!(
        (premises[0].id.as_str(), premises[0].mount_height_agl_m),
        ("7", 9.5)
    );
    assert_eq!(premises[0].priority, 2);
    assert!((premises[1].position.lon_deg() - 9.47).abs() < 1e-9);
    assert!((premises[1].position.lat_deg() - 47.17).abs() < 1e-9);
    assert!(codes(&findings).contains(&"no-geometry"));
}

#[test]
fn exact_pattern_file_of_a_card_is_read() {
    let folder = folder_of(&minimal_design("orchard"));
    let card = "[[antenna]]\nid = \"sector-90-3500\"\ngain_dbi = 16\npattern_file = \"patterns/own.csv\"\n\
                near_symmetric = true\nsource = \"data sheet\"\n";
    put(folder.path(), "equipment/own.toml", card.as_bytes());
    put(
        folder.path(),
        "patterns/own.csv",
        b"cut,angle_deg,level_db\nH,-180,-30\nH,-45,-3\nH,0,0\nH,45,-3\nH,90,-15\n",
    );
    let (network, findings) = read(folder.path());
    let antenna = &network.unwrap_or_else(|| panic!("{findings:#?}")).sectors[0].antenna;
    let model::PatternSpec::Cuts {
        horizontal,
        vertical,
        ..
    } = &antenna.pattern
    else {
        panic!("{findings:#?}")
    };
    assert_eq!(horizontal.len(), 5);
    assert_eq!(horizontal, vertical);
    assert_eq!(horizontal[1].loss_db, 3.0);
}

#[test]
fn exact_atomic_write_keeps_links_and_permissions() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("a.toml");
    write_atomically(&path, b"one").expect("a new file");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).expect("its owner");
        let link = folder.path().join("link.toml");
        std::os::unix::fs::symlink(&path, &link).expect("a link");
        write_atomically(&link, b"two").expect("through the link");
        assert!(link.symlink_metadata().expect("it exists").is_symlink());
        let mode = path.metadata().expect("it exists").permissions().mode();
        assert_eq!(mode & 0o777, 0o640);
        assert_eq!(std::fs::read(&path).expect("it exists"), b"two");
    }
    assert!(write_atomically(&folder.path().join("no/b"), b"x").is_err());
    let left = std::fs::read_dir(folder.path())
        .expect("it exists")
        .flatten();
    assert!(
        left.into_iter()
            .all(|entry| !entry.file_name().to_string_lossy().ends_with(".tmp"))
    );
}

/// Buildings of the shared reference data, © OpenStreetMap contributors
/// (ODbL 1.0), against the area centroids that came with them (GDAL 3.6.2).
mod buildings {
    use super::*;
    use std::path::PathBuf;

    fn shared(file: &str) -> Option<PathBuf> {
        let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared");
        let shared = std::env::var_os("MASTWRIGHT_SHARED").map_or(beside, PathBuf::from);
        let path = shared.join("geodata/liechtenstein").join(file);
        if path.exists() {
            return Some(path);
        }
        println!("skipped: premises from `{file}`, the shared reference data is not here");
        None
    }

    fn check(table: &design::PremisesTable) {
        let Some(path) = shared("building_centroids.csv") else {
            return;
        };
        let text = std::fs::read_to_string(path).expect("the centroids can be read");
        let (centroids, _) = premises_from_csv(&design::SourceText::new("centroids", text));
        let centroids = centroids.expect("a table");
        assert_eq!(table.rows.len(), 8994);
        let (lon, lat) = (
            centroids.column("centroid_lon"),
            centroids.column("centroid_lat"),
        );
        let (lon, lat) = (lon.expect("a column"), lat.expect("a column"));
        let number = |row: &design::PremisesRow, index: usize| -> f64 {
            row.cells[index].parse().expect("a number")
        };
        let (own_lon, own_lat) = (table.column("lon"), table.column("lat"));
        let (own_lon, own_lat) = (own_lon.expect("a column"), own_lat.expect("a column"));
        let worst = table
            .rows
            .iter()
            .zip(centroids.rows.iter())
            .map(|(row, reference)| {
                let east = (number(row, own_lon) - number(reference, lon)) * 75_700.0;
                let north = (number(row, own_lat) - number(reference, lat)) * 111_200.0;
                east.hypot(north)
            })
            .fold(0.0, f64::max);
        println!(
            "worst distance of {} centroids: {worst:.4} m",
            table.rows.len()
        );
        // Rounding: the reference prints seven decimals, half a unit of which is 6 mm on the diagonal.
        assert!(worst < 0.01, "{worst} m");
    }

    #[test]
    fn ref_geojson_buildings() {
        let Some(path) = shared("buildings.geojson") else {
            return;
        };
        let text = std::fs::read_to_string(path).expect("it can be read");
        let source = design::SourceText::new("premises.geojson", text);
        let (table, findings) = premises_from_geojson(&source);
        check(&table.expect("a table"));
        // The file has no `id`, and says so.
        assert_eq!(codes(&findings), ["missing-column"]);
    }

    #[test]
    fn ref_geopackage_buildings() {
        let Some(path) = shared("buildings_utm32.gpkg") else {
            return;
        };
        let (table, findings) = project::premises_from_geopackage("premises.gpkg", &path);
        check(&table.expect("a table"));
        assert_eq!(codes(&findings), ["missing-column"]);
    }
}

#[test]
fn exact_a_file_that_is_no_geopackage_is_told() {
    let folder = folder_of(&minimal_design("orchard"));
    std::fs::remove_file(folder.path().join("premises.csv")).expect("it was there");
    for junk in [
        &b""[..],
        b"not a database",
        b"SQLite format 3\0\x10\0\x01\x01",
    ] {
        put(folder.path(), "premises.gpkg", junk);
        let (_, findings) = read(folder.path());
        assert!(
            findings
                .iter()
                .any(|f| f.severity == Severity::Error && f.code == "syntax"),
            "{findings:#?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: prop::test_runner::RngSeed::Fixed(11), ..ProptestConfig::default() })]

    #[test]
    fn exact_junk_is_no_panic(text in "[\\[\\]{}:\",.a-z0-9 -]{0,80}", coordinates in prop::collection::vec(any::<f64>(), 0..8)) {
        let feature = format!(
            "{{\"type\": \"Feature\", \"properties\": null, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[{coordinates:?}]]}}}}"
        );
        for text in [text, feature] {
            let _ = premises_from_geojson(&design::SourceText::new("x", text));
        }
    }
}
