//! Coverage stopped in the middle, killed in the middle, on spoilt files: the
//! results are those of a run that nobody disturbed.

#![cfg(unix)]

use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

use serde_json::Value;

use crate::program::{Project, Ran, command, mastwright};

const ASKED: [&str; 6] = [
    "--cell-m",
    "150",
    "--what",
    "level,server",
    "--quiet",
    "--json",
];

fn cover(project: &Project, more: &[&str]) -> Ran {
    let args = [&["cover", project.dir()], &ASKED[..], more].concat();
    let ran = mastwright(&args);
    // The example asks for more power than its rules allow.
    assert_eq!(ran.code, 1, "{}", ran.all());
    ran
}

fn reuse(ran: &Ran, what: &str) -> u64 {
    let told: Value = ran.json();
    told["reuse"][what].as_u64().unwrap()
}

const RASTERS: [&str; 3] = ["best_server", "downlink_rsl_dbm", "uplink_rsl_dbm"];

fn rasters(project: &Project) -> Vec<Vec<u8>> {
    let path = |name: &str| project.path(&format!("results/coverage/{name}.tif"));
    RASTERS
        .iter()
        .map(|name| fs::read(path(name)).unwrap())
        .collect()
}

#[test]
fn exact_a_killed_run_goes_on_and_ends_as_one_that_was_not() {
    let whole = Project::example();
    cover(&whole, &["--no-cache"]);
    assert!(!whole.path("results/cache").exists());
    let expected = rasters(&whole);
    let project = Project::example();
    let (mut kills, mut pause_ms) = (0, 30);
    loop {
        let mut child = command()
            .args(["cover", project.dir()])
            .args(ASKED)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(pause_ms));
        if child.try_wait().unwrap().is_some() || kills == 25 {
            child.kill().unwrap();
            child.wait().unwrap();
            break;
        }
        // SIGKILL: nothing can be put in order.
        child.kill().unwrap();
        child.wait().unwrap();
        kills += 1;
        pause_ms += pause_ms / 2;
    }
    println!("killed {kills} times, up to {pause_ms} ms after the start");
    assert!(kills > 3);
    let ran = cover(&project, &[]);
    println!(
        "{} launch points were left to sweep",
        reuse(&ran, "swept_launch_points")
    );
    assert!(rasters(&project) == expected);
    let left = |folder: &str| {
        let entries = fs::read_dir(project.path(folder)).unwrap();
        let names = entries.map(|e| e.unwrap().file_name().into_string().unwrap());
        names
            .filter(|name| name.starts_with('.'))
            .collect::<Vec<_>>()
    };
    assert!(left("results/cache").is_empty() && left("results/coverage").is_empty());
}

#[test]
fn exact_an_interrupted_run_leaves_the_earlier_results_and_goes_on() {
    let project = Project::example();
    cover(&project, &[]);
    let before = rasters(&project);
    let mut child = command()
        .args(["cover", project.dir(), "--cell-m", "20", "--threads", "1"])
        .args(["--what", "level,server", "--quiet"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let entries = || fs::read_dir(project.path("results/cache")).unwrap().count();
    let at_first = entries();
    // Until something new was kept, so that there is something to go on from.
    while entries() < at_first + 2 {
        assert!(
            child.try_wait().unwrap().is_none(),
            "too short to be interrupted"
        );
        std::thread::sleep(Duration::from_millis(10));
    }
    let id = child.id().to_string();
    let killed = Command::new("kill").args(["-INT", &id]).status();
    assert!(killed.unwrap().success());
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(130), "{said}");
    assert!(rasters(&project) == before);
    let args = [
        "cover",
        project.dir(),
        "--cell-m",
        "20",
        "--what",
        "server",
        "--json",
        "--quiet",
    ];
    let ran = mastwright(&args);
    assert!(reuse(&ran, "swept_launch_points") < reuse(&ran, "launch_points"));
}

#[test]
fn exact_only_what_an_edit_or_damage_touches_is_computed_again() {
    let project = Project::example();
    let first = cover(&project, &[]);
    let expected = rasters(&project);
    let all = reuse(&first, "launch_points");
    assert_eq!(reuse(&first, "swept_launch_points"), all);
    assert_eq!(reuse(&cover(&project, &[]), "swept_launch_points"), 0);
    // Half of what is kept is spoilt.
    let entries = fs::read_dir(project.path("results/cache")).unwrap();
    let mut paths: Vec<_> = entries.map(|e| e.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some());
    paths.sort();
    for path in paths.iter().step_by(2) {
        let mut bytes = fs::read(path).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        fs::write(path, bytes).unwrap();
    }
    let mended = cover(&project, &[]);
    assert!((1..all).contains(&reuse(&mended, "swept_launch_points")));
    assert!(rasters(&project) == expected);
    // A folder that is gone is no loss but of time.
    fs::remove_dir_all(project.path("results/cache")).unwrap();
    cover(&project, &["--cache-gb", "0"]);
    assert!(rasters(&project) == expected);
    let folder = fs::read_dir(project.path("results/cache")).unwrap();
    let kept = folder.filter(|e| e.as_ref().unwrap().path().extension().is_some());
    assert_eq!(kept.count(), 0);
}
