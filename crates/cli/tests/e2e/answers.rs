//! What a person gets from a design that can be used.

use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::program::{Project, mastwright};

#[test]
fn exact_demo_writes_evaluates_and_says_where_to_look() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("island");
    let dir = dir.to_str().unwrap();
    let started = Instant::now();
    let ran = mastwright(&["demo", dir, "--no-open"]);
    let took = started.elapsed();
    println!("demo took {took:.1?}");
    assert!(took < Duration::from_secs(30), "{took:?}");
    assert_eq!(ran.code, 0, "{}", ran.all());
    for part in [
        "served",
        "interference",
        "kettle-ne",
        "report.html",
        "mastwright path",
    ] {
        assert!(ran.stdout.contains(part), "no `{part}` in {}", ran.stdout);
    }
    assert!(!ran.stdout.contains('\u{1b}'), "colours outside a terminal");
    for file in [
        "ledger.csv",
        "premises.geojson",
        "sectors.geojson",
        "links.geojson",
        "network.gpkg",
        "study.json",
        "network.kml",
        "report.html",
    ] {
        let path = folder.path().join("island/results").join(file);
        assert!(
            path.metadata().unwrap().len() > 500,
            "{file} is nearly empty"
        );
    }
}

#[test]
fn exact_demo_leaves_what_a_person_has_written() {
    let project = Project::example();
    project.replace("mastwright.toml", "first draft", "second draft");
    let ran = mastwright(&["demo", project.dir(), "--no-open"]);
    assert_eq!(ran.code, 0, "{}", ran.all());
    assert!(project.text("mastwright.toml").contains("second draft"));

    let other = TempDir::new().unwrap();
    std::fs::write(other.path().join("mastwright.toml"), "# mine").unwrap();
    for command in ["demo", "init"] {
        let ran = mastwright(&[command, other.path().to_str().unwrap()]);
        assert_eq!(ran.code, 2);
        assert!(ran.stderr.contains("hint:"), "{}", ran.stderr);
    }
    assert_eq!(std::fs::read_dir(other.path()).unwrap().count(), 1);
}

#[test]
fn exact_exit_code_tells_power_over_the_limit() {
    let project = Project::example();
    let ran = mastwright(&["study", project.dir()]);
    assert_eq!(ran.code, 1, "{}", ran.all());
    assert!(ran.stdout.contains("thrum-w"));
    project.replace("mastwright.toml", "tx_power_per_chain_dbm = 27\n", "");
    assert_eq!(mastwright(&["study", project.dir()]).code, 0);
    let (_, code) = project.check();
    assert_eq!(code, 0);
}

#[test]
fn exact_initial_design_reads_and_asks_for_terrain() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("new");
    let dir = dir.to_str().unwrap();
    assert_eq!(mastwright(&["init", dir]).code, 0);
    let ran = mastwright(&["check", dir]);
    assert_eq!(ran.code, 2);
    assert_eq!(ran.stdout.matches("error:").count(), 1, "{}", ran.stdout);
    assert!(ran.stdout.contains("elevation"), "{}", ran.stdout);
}

#[test]
fn exact_results_do_not_depend_on_threads() {
    let project = Project::example();
    let mut results = Vec::new();
    for threads in ["1", "2"] {
        let ran = mastwright(&["study", project.dir(), "--threads", threads, "--quiet"]);
        assert_eq!(ran.code, 1, "{}", ran.all());
        let files = [
            "study.json",
            "ledger.csv",
            "report.html",
            "network.kml",
            "links.geojson",
        ];
        results.push(files.map(|f| std::fs::read(project.path("results").join(f)).unwrap()));
    }
    assert!(results[0] == results[1]);
}

#[test]
fn exact_every_evaluating_command_gives_one_json_document() {
    let project = Project::example();
    let study = mastwright(&["--json", "study", project.dir()]).json();
    assert!(study["summary"]["served"].as_u64().unwrap() > 300);
    assert_eq!(study["sectors"].as_array().unwrap().len(), 12);
    let path = [
        "path",
        project.dir(),
        "--from",
        "saddle-w",
        "--to",
        "TV-001",
        "--json",
    ];
    let path = mastwright(&path).json();
    assert_eq!(path["to"], "TV-001");
    assert!(path["link"]["downlink"]["sinr_db"].is_number());
    let checked = mastwright(&["check", project.dir(), "--json"]).json();
    assert_eq!(checked["findings"][0]["code"], "rule-limit");
}

#[test]
fn exact_path_to_a_place_and_its_drawing() {
    let project = Project::example();
    let svg = project.path("section.svg");
    let ran = mastwright(&[
        "path",
        project.dir(),
        "--from",
        "kettle-se",
        "--to",
        "-28.03,43.93",
        "--alone",
        "--svg",
        svg.to_str().unwrap(),
    ]);
    assert_eq!(ran.code, 0, "{}", ran.all());
    assert!(ran.stdout.contains("margin"), "{}", ran.stdout);
    assert!(std::fs::read_to_string(svg).unwrap().contains("<svg"));
    let ran = mastwright(&[
        "path",
        project.dir(),
        "--from",
        "kettle-xx",
        "--to",
        "TV-001",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("`kettle-se`"), "{}", ran.stderr);
}

#[test]
fn exact_shells_are_served() {
    for args in [["completions", "bash"], ["completions", "fish"]] {
        assert!(mastwright(&args).stdout.contains("mastwright"));
    }
    let page = mastwright(&["man"]).stdout;
    assert!(page.contains(".TH") && page.contains("study"));
    let schema = mastwright(&["schema"]).json();
    assert!(schema["properties"]["sector"].is_object());
    assert_eq!(mastwright(&["no-such-command"]).code, 2);
}

#[test]
fn exact_two_models_are_compared_part_by_part() {
    let project = Project::example();
    let link = [
        "path",
        project.dir(),
        "--from",
        "kettle-ne",
        "--to",
        "TV-001",
    ];
    let told = mastwright(&[&link[..], &["--also", "itm", "--alone"]].concat());
    assert_eq!(told.code, 0, "{}", told.all());
    assert!(told.stdout.contains("Irregular Terrain Model"));

    let json = mastwright(&[&link[..], &["--also", "itm", "--alone", "--json"]].concat());
    let value: serde_json::Value = serde_json::from_str(&json.stdout).unwrap();
    let parts = value["second_opinion"]["parts"].as_array().unwrap();
    let difference_db = |p: &serde_json::Value| p["difference_db"].as_f64().unwrap();
    let (whole, rest) = parts.split_last().unwrap();
    let sum_db: f64 = rest.iter().map(difference_db).sum();
    assert!((sum_db - difference_db(whole)).abs() < 1e-9);
}

/// Bars by class and panels by year, in words and numbers of `load`.
#[test]
fn exact_the_report_shows_the_load_that_load_tells() {
    let project = Project::example();
    let told = mastwright(&["load", project.dir(), "--json", "--quiet"]).json();
    let report = project.text("results/report.html");
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..roxmltree::ParsingOptions::default()
    };
    let page = roxmltree::Document::parse_with_options(&report, options).unwrap();
    let charts: Vec<_> = page
        .descendants()
        .filter(|n| n.attribute("class") == Some("chart"))
        .collect();
    // Twelve sectors in two strips, and the panels.
    assert_eq!(charts.len(), 3);
    let words = |chart: &roxmltree::Node<'_, '_>| -> Vec<String> {
        let texts = chart
            .descendants()
            .filter(|n| n.tag_name().name() == "text");
        let words = texts.filter_map(|n| n.text());
        words.map(|t| t.trim().to_owned()).collect()
    };
    let bars = [words(&charts[0]), words(&charts[1])].concat();
    let panels = words(&charts[2]);
    for sector in told["sectors"].as_array().unwrap() {
        let id = sector["sector"].as_str().unwrap();
        assert!(bars.iter().any(|word| word == id), "{id}");
        let at = panels.iter().position(|word| word == id).unwrap();
        let expected = match sector["full_in_year"].as_u64() {
            Some(0) => "full today".to_owned(),
            Some(year) => format!("full in year {year}"),
            None => "room throughout".to_owned(),
        };
        assert_eq!(panels[at + 1], expected, "{id}");
    }
}
