//! Input that cannot be used: everything is told at once, with its place, and nothing breaks.

use serde_json::Value;

use crate::program::{Project, mastwright};

/// Whether a finding of a file and line says something.
fn is_told(findings: &[Value], file: &str, line: Option<u64>, part: &str) -> bool {
    findings.iter().any(|f| {
        f["place"]["file"] == file
            && line.is_none_or(|line| f["place"]["line"] == line)
            && f["message"].as_str().unwrap_or("").contains(part)
    })
}

/// Spoils the example and expects a finding, exit code 2 and no results.
fn unusable(spoil: impl Fn(&Project), file: &str, line: Option<u64>, part: &str) {
    let project = Project::example();
    std::fs::remove_dir_all(project.path("results")).unwrap();
    spoil(&project);
    let (findings, code) = project.check();
    assert!(
        is_told(&findings, file, line, part),
        "nothing says `{part}` at {file}: {findings:#?}"
    );
    assert_eq!(code, 2, "{findings:#?}");
    let ran = mastwright(&["study", project.dir()]);
    assert_eq!(ran.code, 2, "{}", ran.all());
    assert!(
        ran.stderr.contains(part) && ran.stderr.contains("hint:"),
        "{}",
        ran.stderr
    );
    assert!(!project.path("results").exists());
}

/// Puts a row in place of the second premises, on line 3.
fn row(project: &Project, row: &str) {
    let text = project.text("premises.csv");
    let second = text.lines().nth(2).unwrap().to_owned();
    project.replace("premises.csv", &second, row);
}

#[test]
fn exact_empty_files() {
    for file in ["mastwright.toml", "premises.csv"] {
        unusable(|p| p.write(file, ""), file, None, "is empty");
    }
    let project = Project::example();
    project.write("plans.toml", "");
    assert_eq!(project.check().1, 2);
}

#[test]
fn exact_numbers_that_are_none() {
    for cell in ["NaN", "inf", "12,5x", "zwölf"] {
        let cell = cell.replace(',', ".");
        let bad = format!("P1,{cell},43.95,House,home,,0,,");
        unusable(|p| row(p, &bad), "premises.csv", Some(3), "lon");
    }
}

#[test]
fn exact_duplicate_ids() {
    let bad = "TV-001,-28.03,43.97,House,home,,0,,";
    unusable(|p| row(p, bad), "premises.csv", Some(3), "TV-001");
}

#[test]
fn exact_swapped_longitude_and_latitude() {
    let bad = "P1,43.97,-28.03,House,home,,0,,";
    unusable(|p| row(p, bad), "premises.csv", Some(3), "swapped");
}

#[test]
fn exact_negative_heights() {
    let bad = "P1,-28.03,43.97,House,home,-4,0,,";
    unusable(
        |p| row(p, bad),
        "premises.csv",
        Some(3),
        "mount_height_agl_m",
    );
    let spoil =
        |p: &Project| p.replace("mastwright.toml", "height_agl_m = 24", "height_agl_m = -24");
    unusable(spoil, "mastwright.toml", None, "height_agl_m");
}

#[test]
fn exact_premises_outside_the_terrain_are_told_and_the_rest_is_served() {
    let project = Project::example();
    row(&project, "P1,-28.3,43.97,House,home,,0,,");
    let (findings, code) = project.check();
    assert_eq!(code, 1, "{findings:#?}");
    let told = |f: &Value| {
        f["code"] == "unknown-ground" && f["message"].as_str().unwrap().contains("`P1`")
    };
    assert!(findings.iter().any(told), "{findings:#?}");
    let study = mastwright(&["study", project.dir(), "--json"]);
    assert_eq!(study.code, 1);
    assert!(study.json()["summary"]["served"].as_u64().unwrap() > 300);
}

#[test]
fn exact_rasters_that_cannot_be_read() {
    let terrain = "terrain/ossorel.tif";
    unusable(|p| p.write(terrain, ""), terrain, None, "empty");
    let cut = |p: &Project| {
        let bytes = std::fs::read(p.path(terrain)).unwrap();
        p.write(terrain, &bytes[..bytes.len() / 3]);
    };
    unusable(cut, terrain, None, "terrain cannot be used");
    let junk = |p: &Project| p.write(terrain, [0x17; 4096]);
    unusable(junk, terrain, None, "terrain cannot be used");
}

#[test]
fn exact_raster_without_or_with_the_wrong_reference_system() {
    let heights = "ncols 2\nnrows 2\nxllcorner 408000\nyllcorner 4860000\ncellsize 30\n1 2\n3 4\n";
    let bare = |p: &Project| {
        p.write("terrain/bare.asc", heights);
        p.replace("mastwright.toml", "terrain/ossorel.tif", "terrain/bare.asc");
    };
    unusable(bare, "terrain/bare.asc", None, "reference system");
    let elsewhere = |p: &Project| {
        bare(p);
        p.replace(
            "mastwright.toml",
            "[propagation]",
            "[[ground.raster]]\nfile = \"terrain/bare.asc\"\nassumed_crs = \"EPSG:32733\"\n\n[propagation]",
        );
    };
    let project = Project::example();
    elsewhere(&project);
    let (findings, code) = project.check();
    assert_eq!(code, 2, "{findings:#?}");
    assert!(
        findings.iter().any(|f| f["code"] == "no-elevation"),
        "{findings:#?}"
    );
}

#[test]
fn exact_fifty_mistakes_are_told_at_once() {
    use std::fmt::Write as _;
    let project = Project::example();
    let mut text = project.text("mastwright.toml");
    let first_line = text.lines().count() as u64 + 2;
    for i in 0..50 {
        write!(
            text,
            "\n[[sector]]\nid = \"bad-{i}\"\nmast = \"nowhere\"\nazimuth_deg = 10\nchannel_mhz = 3600\n"
        )
        .unwrap();
    }
    project.write("mastwright.toml", text);
    let (findings, code) = project.check();
    assert_eq!(code, 2);
    let told = |i: u64| {
        is_told(
            &findings,
            "mastwright.toml",
            Some(first_line + 6 * i + 2),
            "nowhere",
        )
    };
    assert!((0..50).all(told), "{findings:#?}");
    let ran = mastwright(&["study", project.dir()]);
    assert!(
        ran.stderr.matches("there is no mast `nowhere`").count() >= 50,
        "{}",
        ran.stderr
    );
    let ran = mastwright(&["study", project.dir(), "--partial"]);
    assert_eq!(ran.code, 1, "{}", ran.all());
}

#[test]
fn exact_folders_and_files_that_are_not_there() {
    for args in [
        ["check", "/no/such/folder"],
        ["study", "/no/such/folder"],
        ["init", "/dev/null"],
    ] {
        let ran = mastwright(&args);
        assert_eq!(ran.code, 2, "{}", ran.all());
        assert!(ran.stderr.contains("hint:"), "{}", ran.stderr);
    }
    let ran = mastwright(&["ground", "/no/such.tif", "--profile", "8,48", "8.1,48.1"]);
    assert_eq!(ran.code, 2);
    let ran = mastwright(&["model", "p525", "--cases", "/no/such.csv"]);
    assert_eq!(ran.code, 2);
}
