//! The program killed while it writes: what was acknowledged is there, and
//! nothing is there by half.

#![expect(
    clippy::disallowed_methods,
    reason = "the test starts itself once more, as the program that is killed"
)]

mod island;

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use axum::http::StatusCode;
use island::Island;
use serde_json::{Value, json};
use server::Settings;

/// The folder that the started test serves.
const FOLDER: &str = "MASTWRIGHT_TEST_SERVED_FOLDER";
const SECTOR: &str = "kettle-nw";
const TIMES: usize = 12;

/// Not a test of its own: serves where it is told a folder, until it is killed.
#[test]
fn serves_until_it_is_killed() {
    let Ok(folder) = std::env::var(FOLDER) else {
        return;
    };
    let settings = Settings {
        folder: folder.into(),
        threads: 1,
        ..Settings::default()
    };
    // On a line of its own, wherever the test's own words stand.
    let opened = |address: &str| println!("\nopened {address}");
    server::serve(&settings, opened, || false).expect("it serves");
}

/// A program that serves, and the address and secret to ask it with.
fn start(folder: &Path) -> (Child, String, String) {
    let mut child = Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "serves_until_it_is_killed", "--nocapture"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    let lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let mut lines = lines.map_while(Result::ok);
    let line = lines.find_map(|line| line.strip_prefix("opened ").map(str::to_owned));
    let opening = line.expect("it tells its address");
    // Nobody reads the rest: the pipe stays open so that writing does not fail.
    thread::spawn(move || lines.for_each(drop));
    let (address, token) = opening.split_once("/open?token=").expect("an address");
    (child, address.to_owned(), format!("Bearer {token}"))
}

/// Sends edits one after the other until nobody answers; tells of each that
/// was acknowledged. Every one goes into two files.
fn edit_on(address: &str, bearer: &str, (from, acknowledged): (u32, &mpsc::Sender<u32>)) {
    let agent = ureq::Agent::new_with_defaults();
    let ask = || -> Result<Value, ureq::Error> {
        let project = agent.get(format!("{address}/api/project"));
        let mut project = project.header("authorization", bearer).call()?;
        Ok(serde_json::from_reader(project.body_mut().as_reader()).unwrap_or_default())
    };
    let Ok(project) = ask() else { return };
    let mut revision = project["revision"].as_str().unwrap_or_default().to_owned();
    for number in from.. {
        let request = agent.post(format!("{address}/api/edits"));
        let request = request
            .header("authorization", bearer)
            .header("content-type", "application/json")
            .header("if-match", format!("\"{revision}\""));
        let Ok(mut answer) = request.send(edit(number).to_string()) else {
            return;
        };
        let answer: Value =
            serde_json::from_reader(answer.body_mut().as_reader()).unwrap_or_default();
        let Some(next) = answer["revision"].as_str() else {
            return;
        };
        next.clone_into(&mut revision);
        acknowledged.send(number).expect("somebody listens");
    }
}

fn edit(number: u32) -> Value {
    let azimuth_deg = f64::from(number % 360);
    let height_m = 3.0 + f64::from(number % 360) / 10.0;
    json!({"label": format!("edit {number}"), "changes": [
        {"change": "set_sector_number", "sector": SECTOR, "field": "azimuth_deg", "value": azimuth_deg},
        {"change": "set_mount_height", "premises": "TV-001", "mount_height_agl_m": height_m},
    ]})
}

/// The number of the edit that the folder holds: both files tell the same.
async fn held_edit(island: &Island) -> u32 {
    let network = island.get("/api/network").await.json();
    let mut sectors = network["sectors"].as_array().expect("a list").iter();
    let sector = sectors.find(|s| s["id"] == SECTOR).expect("it is there");
    let azimuth_deg = sector["azimuth_deg"].as_f64().expect("a number");
    let table = island.read("premises.csv");
    let columns: Vec<&str> = table.lines().next().expect("a header").split(',').collect();
    let column = columns
        .iter()
        .position(|c| *c == "mount_height_agl_m")
        .expect("a column");
    let row = table.lines().find(|line| line.contains("TV-001"));
    let height_m = row.and_then(|row| row.split(',').nth(column)?.parse::<f64>().ok());
    let height_m = height_m.expect("a height");
    let number = azimuth_deg as u32;
    let expected_m = 3.0 + f64::from(number) / 10.0;
    assert_eq!(height_m, expected_m, "one file is of another edit");
    number
}

#[tokio::test(flavor = "multi_thread")]
async fn exact_a_kill_in_the_middle_of_an_edit_loses_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    island::write_example(folder.path());
    let mut folder = Some(folder);
    let (mut held, mut kills_under_way) = (0, 0);
    for round in 0..TIMES {
        let here = folder.take().expect("it comes back");
        let (mut child, address, bearer) = start(here.path());
        let (send, acknowledged) = mpsc::channel();
        let from = held + 1;
        let editing = thread::spawn(move || edit_on(&address, &bearer, (from, &send)));
        let first = acknowledged.recv_timeout(Duration::from_secs(120));
        let mut latest = first.expect("an edit is acknowledged");
        // Each time at another moment of what comes next.
        let pause = Duration::from_micros(1700 * round as u64);
        while let Ok(number) = acknowledged.recv_timeout(pause) {
            latest = number;
            if latest > from + 2 {
                thread::sleep(pause);
                break;
            }
        }
        child.kill().expect("it is killed");
        child.wait().expect("it is gone");
        latest = acknowledged.iter().last().unwrap_or(latest);
        editing.join().expect("it ends");
        let island = Island::in_folder(here);
        held = held_edit(&island).await;
        assert!(
            held == latest || held == latest + 1,
            "{held} is there, {latest} was acknowledged"
        );
        kills_under_way += usize::from(held > latest);
        let findings = island.get("/api/findings").await.json();
        let mut findings = findings["findings"].as_array().expect("a list").iter();
        assert!(!findings.any(|f| f["severity"] == "error"));
        // The last of them can be taken back, in both files.
        let revision = island.revision().await;
        let undone = island
            .post_from("/api/undo", Some(&revision), &json!({}))
            .await;
        assert_eq!(undone.status, StatusCode::OK, "{undone:?}");
        if held > 1 {
            assert_eq!(held_edit(&island).await, held - 1);
        }
        let revision = island.revision().await;
        island
            .post_from("/api/redo", Some(&revision), &json!({}))
            .await;
        assert_eq!(held_edit(&island).await, held);
        folder = Some(island.folder);
    }
    println!("{TIMES} kills, {kills_under_way} after writing and before the answer");
}
