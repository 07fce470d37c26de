//! Ctrl-C in the middle of a study.

#![cfg(unix)]

use std::fmt::Write as _;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::program::{Project, command};

#[test]
fn exact_interrupted_study_leaves_the_earlier_results() {
    let project = Project::example();
    let before = results(&project);
    make_long(&project);
    let mut child = command()
        .args(["study", project.dir(), "--threads", "1"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_secs(2));
    assert!(
        child.try_wait().unwrap().is_none(),
        "the study was too short to be interrupted"
    );
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    let asked = Instant::now();
    let output = child.wait_with_output().unwrap();
    println!("stopped {:.1?} after Ctrl-C", asked.elapsed());
    assert_eq!(
        output.status.code(),
        Some(130),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(asked.elapsed() < Duration::from_secs(10));
    assert!(before == results(&project));
}

/// Many more premises, and cross-sections metre by metre.
fn make_long(project: &Project) {
    project.replace(
        "mastwright.toml",
        "reach_km = 8",
        "profile_step_m = 1\nreach_km = 8",
    );
    let table = project.text("premises.csv");
    let mut longer = table.clone();
    for copy in 0..20 {
        for line in table.lines().skip(1) {
            writeln!(longer, "C{copy}-{line}").unwrap();
        }
    }
    project.write("premises.csv", longer);
}

/// Every file of the results, hidden ones too.
fn results(project: &Project) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = std::fs::read_dir(project.path("results"))
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.display().to_string(), std::fs::read(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}
