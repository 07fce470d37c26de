//! The workspace over a real connection, and killed in the middle of changes.

#![cfg(unix)]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use serde_json::{Value, json};

use crate::program::{Project, command};

/// The program serving a project.
struct Served {
    child: Child,
    host: String,
    token: String,
}

impl Served {
    fn new(project: &Project) -> Self {
        let mut child = command()
            .args(["open", project.dir(), "--no-browser", "--quiet"])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut said = BufReader::new(child.stdout.take().unwrap());
        said.read_line(&mut line).unwrap();
        let address = line.split_whitespace().last().unwrap();
        let (host, token) = address
            .strip_prefix("http://")
            .and_then(|rest| rest.split_once("/open?token="))
            .unwrap_or_else(|| panic!("no address in {line:?}"));
        Self {
            host: host.to_owned(),
            token: token.to_owned(),
            child,
        }
    }

    /// Status and body of an answer; `None` where the connection ends before it.
    fn ask(&self, request: &str, headers: &str, body: &str) -> Option<(u16, String)> {
        ask(&self.host, request, headers, body)
    }

    fn with_token(&self, request: &str, headers: &str, body: &str) -> Option<(u16, String)> {
        let headers = format!(
            "Host: {}\r\nAuthorization: Bearer {}\r\n{headers}",
            self.host, self.token
        );
        self.ask(request, &headers, body)
    }
}

fn ask(host: &str, request: &str, headers: &str, body: &str) -> Option<(u16, String)> {
    let mut stream = TcpStream::connect(host).ok()?;
    stream
        .set_read_timeout(Some(Duration::from_secs(60)))
        .ok()?;
    let text = format!(
        "{request} HTTP/1.1\r\n{headers}Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    stream.write_all(text.as_bytes()).ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    let (head, body) = answer.split_once("\r\n\r\n")?;
    let status = head.split_whitespace().nth(1)?.parse().ok()?;
    Some((status, body.to_owned()))
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn exact_a_connection_is_held_to_host_origin_and_token() {
    let project = Project::example();
    let served = Served::new(&project);
    assert!(served.host.starts_with("127.0.0.1:"));
    let status = |headers: &str| served.ask("GET /api/project", headers, "").unwrap().0;
    let (host, token) = (&served.host, &served.token);
    assert_eq!(status(&format!("Host: {host}\r\n")), 401);
    assert_eq!(
        status(&format!(
            "Host: {host}\r\nAuthorization: Bearer {}\r\n",
            "0".repeat(64)
        )),
        401
    );
    assert_eq!(
        status(&format!(
            "Host: elsewhere.example\r\nAuthorization: Bearer {token}\r\n"
        )),
        403
    );
    assert_eq!(
        status(&format!(
            "Host: {host}\r\nOrigin: http://elsewhere.example\r\nAuthorization: Bearer {token}\r\n"
        )),
        403
    );
    assert_eq!(
        status(&format!(
            "Host: {host}\r\nHost: {host}\r\nAuthorization: Bearer {token}\r\n"
        )),
        403
    );
    assert_eq!(
        status(&format!(
            "Host: {host}\r\nAuthorization: Bearer {token}\r\n"
        )),
        200
    );
    // What is no HTTP ends without taking the program along.
    for junk in [
        "\u{0}\u{1}\u{2}\r\n\r\n",
        "GET\r\n\r\n",
        "GET /../../etc/passwd HTTP/1.1\r\n\r\n",
    ] {
        let mut stream = TcpStream::connect(host.as_str()).unwrap();
        // A request that may be followed by another leaves the connection open.
        let patience = Some(Duration::from_secs(2));
        stream.set_read_timeout(patience).unwrap();
        stream.write_all(junk.as_bytes()).unwrap();
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        assert!(!String::from_utf8_lossy(&answer).contains("root:"));
    }
    assert_eq!(
        served.with_token("GET /api/project", "", "").unwrap().0,
        200
    );
    // Nobody but this machine is listened to.
    let port = host.rsplit_once(':').unwrap().1;
    assert!(TcpStream::connect(format!("127.0.0.2:{port}")).is_err());
}

/// What changes are made of: an aim and a mount height, one in each file.
#[derive(Clone)]
struct Target {
    sector: String,
    house: String,
}

impl Target {
    fn of(project: &Project) -> Self {
        let design = project.text("mastwright.toml");
        let sector = design.split("[[sector]]").nth(1).unwrap();
        let sector = sector.split("id = \"").nth(1).unwrap();
        let premises = project.text("premises.csv");
        let row = premises.lines().nth(1).unwrap();
        Self {
            sector: sector.split('"').next().unwrap().to_owned(),
            house: row.split(',').next().unwrap().to_owned(),
        }
    }

    /// Both files in one change: the one that a kill can cut in two.
    fn change(&self, step: usize) -> Value {
        json!({"label": "kill", "changes": [
            {"change": "set_sector_number", "sector": self.sector, "field": "azimuth_deg", "value": azimuth_deg(step)},
            {"change": "set_mount_height", "premises": self.house, "mount_height_agl_m": height_m(step)},
        ]})
    }
}

/// More steps than any machine can take before it is killed.
const STEPS: usize = 360 * 64;

/// Exact in binary, so that its text is short.
fn azimuth_deg(step: usize) -> f64 {
    step as f64 / 64.0
}

/// As exact; every height stands for many steps, the azimuth tells which.
fn height_m(step: usize) -> f64 {
    1.0 + (step % 64) as f64 / 4.0
}

/// Steps sent and acknowledged.
#[derive(Default)]
struct Tally {
    sent: AtomicUsize,
    acknowledged: AtomicUsize,
}

/// Sends changes one after the other until the connection ends.
fn send_changes(
    (host, token): (String, String),
    (target, first): (Target, usize),
    tally: &Tally,
) -> Option<()> {
    let headers = format!(
        "Host: {host}\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json\r\n"
    );
    let (_, body) = ask(&host, "GET /api/project", &headers, "")?;
    let project: Value = serde_json::from_str(&body).ok()?;
    let mut revision = project["revision"].as_str()?.to_owned();
    for step in first..STEPS {
        tally.sent.store(step, Ordering::SeqCst);
        let headers = format!("{headers}If-Match: {revision}\r\n");
        let list = target.change(step).to_string();
        let (status, body) = ask(&host, "POST /api/edits", &headers, &list)?;
        assert_eq!(status, 200, "{body}");
        let accepted: Value = serde_json::from_str(&body).ok()?;
        revision = accepted["revision"].as_str()?.to_owned();
        tally.acknowledged.store(step, Ordering::SeqCst);
    }
    Some(())
}

/// Changes are sent without pause and the program is killed; whenever that
/// is, the design is whole and holds what was acknowledged last, or the one
/// change that was under way.
#[test]
fn exact_killed_among_changes_nothing_is_lost() {
    const ROUNDS: u64 = 10;
    let project = Project::example();
    let lines = |file: &str| project.text(file).lines().count();
    let before = (lines("mastwright.toml"), lines("premises.csv"));
    let target = Target::of(&project);
    let (mut step, mut acknowledged_in_all) = (0, 0);
    for round in 0..ROUNDS {
        let served = Served::new(&project);
        let tally = Arc::new(Tally::default());
        let way_in = (served.host.clone(), served.token.clone());
        let (own, next) = (Arc::clone(&tally), (target.clone(), step + 1));
        let sender = std::thread::spawn(move || send_changes(way_in, next, &own));
        std::thread::sleep(Duration::from_millis(700 + 137 * round));
        drop(served);
        assert!(
            sender.join().unwrap().is_none(),
            "all {STEPS} steps went by"
        );
        let acknowledged = tally.acknowledged.load(Ordering::SeqCst);
        let sent = tally.sent.load(Ordering::SeqCst);
        acknowledged_in_all += usize::from(acknowledged > 0);
        let kept = if acknowledged > 0 { acknowledged } else { step };
        // Opened again, a change that was cut in two is whole.
        let served = Served::new(&project);
        let (status, body) = served.with_token("GET /api/network", "", "").unwrap();
        assert_eq!(status, 200, "{body}");
        drop(served);
        let network: Value = serde_json::from_str(&body).unwrap();
        let sectors = network["sectors"].as_array().unwrap();
        let found = sectors.iter().find(|s| s["id"] == target.sector.as_str());
        let aim = found.unwrap()["azimuth_deg"].as_f64().unwrap();
        let text = project.text("premises.csv");
        let mut rows = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
        let row = rows.find(|row| row[0] == target.house).unwrap();
        assert_eq!(before, (lines("mastwright.toml"), lines("premises.csv")));
        if kept == 0 && aim != azimuth_deg(sent) {
            continue;
        }
        let found = [kept, sent].into_iter().find(|&s| azimuth_deg(s) == aim);
        step = found.unwrap_or_else(|| panic!("aim {aim}, acknowledged {kept}, sent {sent}"));
        let mut heights = row.iter().filter_map(|cell| cell.parse::<f64>().ok());
        let is_whole = heights.any(|height| height == height_m(step));
        assert!(is_whole, "{row:?} has no {}", height_m(step));
    }
    assert!(
        acknowledged_in_all > 2,
        "only {acknowledged_in_all} rounds got as far as a change"
    );
}

#[test]
fn exact_two_folders_are_compared_by_consequence() {
    let (before, after) = (Project::example(), Project::example());
    let text = after.text("mastwright.toml");
    let line = text
        .lines()
        .find(|line| line.starts_with("azimuth_deg"))
        .unwrap();
    after.write("mastwright.toml", text.replacen(line, "azimuth_deg = 1", 1));
    let same = command()
        .args(["compare", before.dir(), before.dir()])
        .output()
        .unwrap();
    assert!(same.status.success());
    assert!(String::from_utf8_lossy(&same.stdout).contains("nothing changes"));
    let page = after.path("compared.html");
    let output = command()
        .args(["compare", before.dir(), after.dir(), "--json", "--html"])
        .arg(&page)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    let consequence = &told["consequence"];
    let count = |side: &str, what: &str| consequence[side][what].as_i64().unwrap();
    let length = |list: &str| consequence[list].as_array().unwrap().len() as i64;
    let linked = |side: &str| count(side, "served") + count(side, "doubtful");
    assert_eq!(
        linked("after") - linked("before"),
        length("gained") - length("lost")
    );
    assert!(length("sectors") > 0);
    assert!(
        std::fs::read_to_string(page)
            .unwrap()
            .contains("Consequence of a change")
    );
}

#[test]
fn exact_a_revision_is_compared_with_the_folder() {
    let project = Project::example();
    let git = |arguments: &[&str]| {
        let mut git = std::process::Command::new("git");
        git.args([
            "-C",
            project.dir(),
            "-c",
            "user.name=t",
            "-c",
            "user.email=t@example.org",
        ]);
        git.args(arguments).output()
    };
    if git(&["init", "-q"]).is_err() {
        println!("skipped: a revision against its folder, git is not here");
        return;
    }
    // Terrain stays out of git, as it often does.
    project.write(".gitignore", "terrain/\nresults/\n");
    git(&["add", "."]).unwrap();
    assert!(git(&["commit", "-qm", "first"]).unwrap().status.success());
    let text = project.text("mastwright.toml");
    let line = text
        .lines()
        .find(|line| line.starts_with("azimuth_deg"))
        .unwrap();
    project.write("mastwright.toml", text.replacen(line, "azimuth_deg = 1", 1));
    let revision = format!("{}@HEAD", project.dir());
    let output = command()
        .args(["compare", &revision, project.dir()])
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(String::from_utf8_lossy(&output.stdout).contains("sectors"));
    for bad in ["@HEAD~9", "@--output=x", "@nothing"] {
        let output = command()
            .args(["compare", &format!("{}{bad}", project.dir()), project.dir()])
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&output.stderr).contains("hint"));
    }
}
