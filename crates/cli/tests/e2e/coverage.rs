//! Coverage of the example, its files read back.

use std::fs;
use std::process::Command;

use serde_json::Value;

use crate::program::{Project, mastwright};

/// A column of premises.csv says how many people there are.
#[test]
fn exact_people_are_told_by_class() {
    let project = Project::example();
    let table = project.text("premises.csv");
    let counted: String = table
        .lines()
        .enumerate()
        .map(|(i, line)| match i {
            0 => format!("{line},people\n"),
            1 => format!("{line},\n"),
            _ => format!("{line},3\n"),
        })
        .collect();
    let homes = table.lines().count() - 1;
    project.write("premises.csv", counted);
    let ran = mastwright(&[
        "cover",
        project.dir(),
        "--cell-m",
        "250",
        "--what",
        "rate-down,clearance",
        "--json",
        "--quiet",
    ]);
    assert_eq!(ran.code, 1, "{}", ran.all());
    let told = ran.json();
    let figures = &told["statistics"][0];
    assert_eq!(figures["people"], 3.0 * (homes - 1) as f64);
    assert_eq!(figures["premises_without_people"], 1);
    let classes = figures["classes"].as_array().unwrap();
    let best = classes.last().unwrap()["people_or_better"]
        .as_f64()
        .unwrap();
    assert!(best > 0.0 && best <= 3.0 * homes as f64, "{best}");
    let csv = project.text("results/coverage/downlink_ethernet_rate_mbps.csv");
    assert!(csv.lines().next().unwrap().contains(",people,"), "{csv}");
    // Blocked paths and clear ones.
    let clearance = &told["statistics"][1];
    assert_eq!(clearance["quantity"], "clearance_ratio");
    let known = |class: &&Value| class["cells"].as_u64().unwrap() > 0;
    let known = clearance["classes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(known);
    assert!(known.count() >= 4, "{clearance}");
}

#[test]
fn exact_cover_writes_rasters_pictures_and_figures_that_agree() {
    let project = Project::example();
    let ran = mastwright(&[
        "cover",
        project.dir(),
        "--cell-m",
        "200",
        "--what",
        "rate-down,server,level",
        "--kmz",
        "--contours",
        "--json",
        "--quiet",
    ]);
    // The example asks for more power than its rules allow, as a study tells too.
    assert_eq!(ran.code, 1, "{}", ran.all());
    let told = ran.json();
    let folder = project.path("results/coverage");
    let files: Vec<&str> = told["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f.as_str().unwrap())
        .collect();
    for file in &files {
        assert!(
            fs::metadata(folder.join(file)).unwrap().len() > 200,
            "{file}"
        );
    }
    for name in [
        "downlink_ethernet_rate_mbps",
        "best_server",
        "downlink_rsl_dbm",
        "uplink_rsl_dbm",
    ] {
        for suffix in ["tif", "png", "csv", "json", "kmz"] {
            assert!(
                files.contains(&format!("{name}.{suffix}").as_str()),
                "{name}.{suffix}"
            );
        }
    }
    assert!(files.contains(&"downlink_rsl_dbm.contours.geojson"));
    let left: Vec<_> = fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), files.len(), "{left:?}");
    // Most of the island has a link, and the figures of the rate cover as many cells as there are.
    let linked = told["linked_frac"].as_f64().unwrap();
    assert!((0.4..0.95).contains(&linked), "{linked}");
    let rates = &told["statistics"][0];
    let cells = |row: &Value| row["cells"].as_u64().unwrap();
    let in_classes: u64 = rates["classes"].as_array().unwrap().iter().map(cells).sum();
    let all = told["columns"].as_u64().unwrap() * told["rows"].as_u64().unwrap();
    assert_eq!(in_classes + cells(&rates["unknown"]), all);
    servers_read_back(&project);
    gdal_reads(&project);
}

/// Our own reader finds one of the twelve sectors in the middle of the island.
fn servers_read_back(project: &Project) {
    let raster = project.path("results/coverage/best_server.tif");
    let points = project.path("points.csv");
    fs::write(&points, "id,lon,lat\nmiddle,-28.06,43.95\n").unwrap();
    let ran = mastwright(&[
        "ground",
        raster.to_str().unwrap(),
        "--classes",
        "--at",
        points.to_str().unwrap(),
        "--quiet",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.all());
    let row = ran.stdout.lines().nth(1).unwrap();
    let code: usize = row.rsplit(',').next().unwrap().trim().parse().unwrap();
    assert!(code < 12, "{}", ran.stdout);
}

/// GDAL finds nothing to complain of, where it is installed.
fn gdal_reads(project: &Project) {
    for name in ["best_server", "downlink_rsl_dbm"] {
        let raster = project.path(&format!("results/coverage/{name}.tif"));
        let Ok(output) = Command::new("gdalinfo").arg(&raster).output() else {
            println!("skipped: gdalinfo over coverage, it is not installed here");
            return;
        };
        let said = String::from_utf8_lossy(&output.stdout);
        assert!(
            output.status.success() && output.stderr.is_empty(),
            "{said}"
        );
        assert!(
            said.contains("LAYOUT=COG") && said.contains("NoData"),
            "{said}"
        );
    }
}

#[test]
fn exact_cover_of_one_sector_has_its_own_folder_and_unknown_ones_are_told() {
    let project = Project::example();
    let cover = |more: &[&str]| {
        let mut args = vec![
            "cover",
            project.dir(),
            "--cell-m",
            "400",
            "--what",
            "level",
            "--quiet",
        ];
        args.extend(more);
        mastwright(&args)
    };
    let ran = cover(&["--sector", "kettle-ne"]);
    assert_eq!(ran.code, 1, "{}", ran.all());
    assert!(
        project
            .path("results/coverage/kettle-ne/downlink_rsl_dbm.tif")
            .exists()
    );
    for (args, said) in [
        (["--sector", "nowhere"], "no sector `nowhere`"),
        (["--cell-m", "0"], "cells of `0` m"),
    ] {
        let ran = mastwright(&["cover", project.dir(), args[0], args[1]]);
        assert_eq!(ran.code, 2, "{}", ran.all());
        assert!(ran.stderr.contains(said), "{}", ran.stderr);
    }
}
