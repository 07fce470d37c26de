//! The batch commands over the reference data that is kept beside the project.

use std::path::{Path, PathBuf};

use crate::program::mastwright;

/// A folder of the shared reference data, or `None` with a plain note.
fn shared(folder: &str) -> Option<PathBuf> {
    let root = std::env::var("MASTWRIGHT_SHARED").map_or_else(
        |_| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared"),
        PathBuf::from,
    );
    let path = root.join(folder);
    if path.is_dir() {
        return Some(path);
    }
    println!("skipped: {folder}, the shared reference data is not here");
    None
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// Pairs of two columns of a CSV text, both numbers.
fn pairs(table: &str, one: &str, other: &str) -> Vec<(f64, f64)> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|c| c == name).unwrap();
    let (one, other) = (column(one), column(other));
    reader
        .records()
        .map(|record| record.unwrap())
        .filter_map(|r| Some((r[one].parse().ok()?, r[other].parse().ok()?)))
        .collect()
}

/// Source: the README beside the spots (bilinear heights of a general-purpose
/// raster library). Both sides are rounded to 0.1 mm and 1 mm.
#[test]
fn ref_ground_at_spots_of_the_black_forest() {
    let Some(folder) = shared("geodata/black-forest") else {
        return;
    };
    let (tile, spots) = (folder.join("N48E008.hgt"), folder.join("spots.csv"));
    let ran = mastwright(&["ground", text(&tile), "--at", text(&spots)]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    let pairs = pairs(&ran.stdout, "bilinear", "height_m");
    assert_eq!(pairs.len(), 16, "every spot has a height");
    let worst = pairs.iter().map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    println!("worst difference {worst:.4} m over {} spots", pairs.len());
    assert!(worst <= 0.001, "{worst} m");
}

/// Source: published validation cases of Recommendation ITU-R P.1812; the
/// promise is 0.01 dB over the whole path.
#[test]
fn ref_model_over_the_published_cases() {
    let Some(folder) = shared("reference/propagation/p1812") else {
        return;
    };
    let (cases, profiles) = (folder.join("cases_published.csv"), folder.join("profiles"));
    let args = [
        "model",
        "p1812",
        "--cases",
        text(&cases),
        "--profiles",
        text(&profiles),
    ];
    let ran = mastwright(&args);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    let published = std::fs::read_to_string(&cases).unwrap();
    let wanted = pairs(&published, "lb_pub_db", "lb_pub_db");
    let got = pairs(&ran.stdout, "lb_db", "lb_db");
    assert!(!got.is_empty() && got.len() == wanted.len());
    let differences = wanted
        .iter()
        .zip(&got)
        .map(|((a, _), (b, _))| (a - b).abs());
    let worst = differences.fold(0.0, f64::max);
    println!("worst difference {worst:.5} dB over {} cases", got.len());
    assert!(worst <= 0.01, "{worst} dB");
    let mut as_json = args.to_vec();
    as_json.push("--json");
    let document = mastwright(&as_json).json();
    assert_eq!(document["results"].as_array().unwrap().len(), got.len());
}

#[test]
fn exact_mistakes_in_a_table_of_cases_are_told_with_their_lines() {
    let folder = tempfile::TempDir::new().unwrap();
    let cases = folder.path().join("cases.csv");
    std::fs::write(&cases, "f_ghz,d_km\n3.6,10\nx,5\n3.6,-1\n").unwrap();
    let ran = mastwright(&["model", "p525", "--cases", text(&cases)]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("cases.csv:3") && ran.stderr.contains("cases.csv:4"),
        "{}",
        ran.stderr
    );
}

/// Every table of the reference data is a valid input under the plain name of
/// its folder. That the results are those of the tables is checked over the
/// calculator itself.
#[test]
fn ref_every_table_of_cases_runs_under_its_plain_name() {
    let mut seen = 0;
    for name in [
        "p1812", "p452", "p526", "p530", "p676", "p838", "p833", "p1411", "p2108", "p2109", "itm",
    ] {
        let Some(folder) = shared(&format!("reference/propagation/{name}")) else {
            return;
        };
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|e| e != "csv") {
                continue;
            }
            let is_area = path
                .file_name()
                .unwrap()
                .to_str()
                .unwrap()
                .starts_with("area_");
            let name = if is_area { "itm-area" } else { name };
            let ran = mastwright(&["model", name, "--cases", text(&path), "--quiet"]);
            assert_eq!(ran.code, 0, "{name} {}: {}", path.display(), ran.stderr);
            let lines = |table: &str| table.lines().filter(|l| !l.is_empty()).count();
            assert_eq!(
                lines(&ran.stdout),
                lines(&std::fs::read_to_string(&path).unwrap()),
                "{}",
                path.display()
            );
            seen += 1;
        }
    }
    println!("{seen} tables");
    assert!(seen >= 36, "only {seen} tables");
}

/// Every name the trade asks for is known, with its edition and range.
#[test]
fn exact_every_model_is_listed_with_edition_and_range() {
    let listed = mastwright(&["model", "--list"]);
    assert_eq!(listed.code, 0, "{}", listed.stderr);
    for name in [
        "p1812", "p452", "p526", "p530", "p676", "p838", "p833", "p1411", "p2108", "p2109", "itm",
        "itm-area",
    ] {
        assert!(listed.stdout.contains(name), "{name} is not listed");
        let one = mastwright(&["model", name, "--list"]);
        assert_eq!(one.code, 0, "{name}: {}", one.stderr);
        let edition = name
            .strip_prefix('p')
            .map_or("Model 1.4".into(), |n| format!("P.{n}-"));
        assert!(
            one.stdout.contains(&edition) && one.stdout.contains("GHz"),
            "{name}: {}",
            one.stdout
        );
    }
}
