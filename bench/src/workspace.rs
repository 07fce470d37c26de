//! What a person waits for in the workspace: the time from a question to its
//! answer, read whole over a loopback connection.

mod projects;
mod served;

use std::path::Path;
use std::time::Instant;

use anyhow::{Context, ensure};
use serde_json::{Value, json};

use crate::Figure;
use served::Served;

/// Times that each question is put, each time a little different.
const TIMES: usize = 21;
/// A pointer moves on without waiting.
const DRAG_GOAL_MS: f64 = 100.0;

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let folder = tempfile::tempdir()?;
    let mut figures = Vec::new();
    let demo = folder.path().join("demo");
    projects::write_demo(&demo)?;
    figures.extend(project("demo", &demo, None)?);
    let wide = folder.path().join("wide");
    projects::write_around_a_mast(&wide, 400)?;
    figures.extend(project("1_4m_cells", &wide, Some(30.0))?);
    let many = folder.path().join("many");
    projects::write_around_a_mast(&many, 50_000)?;
    figures.extend(fifty_thousand(&many)?);
    Ok(figures)
}

/// Everything that is measured of one project.
fn project(name: &str, folder: &Path, cell_m: Option<f64>) -> anyhow::Result<Vec<Figure>> {
    let mut taken = first_previews(folder, cell_m)?;
    let served = Served::open(folder)?;
    served.wait_until_studied()?;
    let sector = Sector::first(&served)?;
    let drag = Drag::new(&sector, cell_m);
    drag.preview(&served, 0)?;
    let drags = drags(&served, &sector, &drag)?;
    taken.extend(questions(&served, &sector, &drag)?);
    let (acknowledged, studied) = edits(&served, &drag, &sector)?;
    taken.push(("edit_acknowledged".to_owned(), acknowledged));
    taken.push(("edit_studied".to_owned(), studied));
    let name = |what: String| format!("workspace_{name}_{what}_ms");
    let drags = drags
        .into_iter()
        .map(|(what, ms)| Figure::at_most(&name(what), ms, "ms", DRAG_GOAL_MS));
    let plain = taken
        .into_iter()
        .map(|(what, ms)| Figure::plain(&name(what), ms, "ms"));
    Ok(plain.chain(drags).collect())
}

/// What was measured, and milliseconds.
type Taken = Vec<(String, f64)>;

/// The first drag after a project is opened.
fn first_previews(folder: &Path, cell_m: Option<f64>) -> anyhow::Result<Taken> {
    let mut taken = Vec::new();
    for what in ["first_preview", "first_preview_when_kept"] {
        let served = Served::open(folder)?;
        served.wait_until_studied()?;
        let drag = Drag::new(&Sector::first(&served)?, cell_m);
        taken.push((what.to_owned(), drag.preview(&served, 0)?));
        served.rest();
    }
    // As the page does it: it reads what there is to show, and a person looks around first.
    let served = Served::open(folder)?;
    served.wait_until_studied()?;
    served.get("/api/coverage")?;
    served.rest();
    let drag = Drag::new(&Sector::first(&served)?, None);
    let what = "first_preview_when_prepared".to_owned();
    taken.push((what, drag.preview(&served, 0)?));
    Ok(taken)
}

fn drags(served: &Served, sector: &Sector, drag: &Drag) -> anyhow::Result<Taken> {
    let mut taken = Vec::new();
    for (what, field, value, step) in [
        ("aim", "azimuth_deg", sector.azimuth_deg, 1.0),
        ("tilt", "mechanical_downtilt_deg", sector.tilt_deg, 0.1),
        ("power", "tx_power_per_chain_dbm", sector.power_dbm, -0.1),
    ] {
        for (shown, quantity) in [("", drag_default()), ("_level", "downlink_rsl_dbm")] {
            let drag = Drag {
                quantity,
                ..drag.clone()
            };
            let change = |i: usize| drag.change(field, value + step * (i % 7 + 1) as f64);
            let ms = middle_ms(|i| drag.ask(served, change(i)))?;
            taken.push((format!("{what}{shown}"), ms));
        }
    }
    Ok(taken)
}

/// Why, and what if.
fn questions(served: &Served, sector: &Sector, drag: &Drag) -> anyhow::Result<Taken> {
    let premises = served.premises_ids()?;
    let some = |i: usize| &premises[i * 7 % premises.len()];
    let why = |i: usize| served.post_ms("/api/why", &json!({"premises": some(i)}));
    let spot = |i: usize| {
        let [lon_deg, lat_deg] = sector.beside(i);
        let place = json!({"lon_deg": lon_deg, "lat_deg": lat_deg});
        served.post_ms("/api/why", &json!({"place": place}))
    };
    let mount = |i: usize| {
        let height_m = 9.0 + 0.25 * (i % 8) as f64;
        let change = json!({"change": "set_mount_height", "premises": some(i), "mount_height_agl_m": height_m});
        let question = json!({"changes": [change], "premises": some(i)});
        served.post_ms("/api/what-if", &question)
    };
    let turned = |i: usize| {
        let change = drag.change("azimuth_deg", sector.azimuth_deg + 0.5 * (i + 1) as f64);
        served.post_ms("/api/what-if", &json!({"changes": [change]}))
    };
    Ok(vec![
        ("why_premises".to_owned(), middle_ms(why)?),
        ("why_spot".to_owned(), middle_ms(spot)?),
        ("what_if_mount_height".to_owned(), middle_ms(mount)?),
        ("what_if_aim".to_owned(), middle_ms(turned)?),
    ])
}

const fn drag_default() -> &'static str {
    "downlink_ethernet_rate_mbps"
}

/// Milliseconds until an edit is acknowledged, and until its study is there.
fn edits(served: &Served, drag: &Drag, sector: &Sector) -> anyhow::Result<(f64, f64)> {
    let (mut acknowledged, mut studied) = (Vec::new(), Vec::new());
    for i in 0..9 {
        let value = (sector.azimuth_deg + 1.0 + i as f64) % 360.0;
        let list = json!({"changes": [drag.change("azimuth_deg", value)], "label": "aim"});
        let revision = served.revision()?;
        let began = Instant::now();
        served.edit(&revision, &list)?;
        acknowledged.push(began.elapsed().as_secs_f64() * 1e3);
        served.wait_until_studied()?;
        studied.push(began.elapsed().as_secs_f64() * 1e3);
    }
    Ok((middle(acknowledged), middle(studied)))
}

/// The list of 50,000 premises, and a change of one of them.
fn fifty_thousand(folder: &Path) -> anyhow::Result<Vec<Figure>> {
    let served = Served::open(folder)?;
    served.wait_until_studied()?;
    let sector = Sector::first(&served)?;
    let ledger = middle_of(5, |_| served.get_ms("/api/ledger"))?;
    let marks = middle_of(5, |_| served.get_ms("/api/network"))?;
    let drag = Drag::new(&sector, None);
    let (acknowledged, studied) = edits(&served, &drag, &sector)?;
    let premises = served.premises_ids()?;
    ensure!(premises.len() == 50_000, "{} premises", premises.len());
    let (mut of_premises, mut whys) = (Vec::new(), Vec::new());
    for i in 0..5 {
        let id = &premises[i * 997];
        let change = json!({"change": "set_mount_height", "premises": id, "mount_height_agl_m": 7.0 + i as f64});
        let list = json!({"changes": [change], "label": "mount"});
        let revision = served.revision()?;
        let began = Instant::now();
        served.edit(&revision, &list)?;
        of_premises.push(began.elapsed().as_secs_f64() * 1e3);
        served.wait_until_studied()?;
        whys.push(served.post_ms("/api/why", &json!({"premises": id}))?);
    }
    Ok(vec![
        Figure::plain("workspace_50000_premises_list_ms", ledger, "ms"),
        Figure::plain("workspace_50000_premises_marks_ms", marks, "ms"),
        Figure::plain("workspace_50000_premises_why_ms", middle(whys), "ms"),
        Figure::plain(
            "workspace_50000_premises_edit_acknowledged_ms",
            acknowledged,
            "ms",
        ),
        Figure::plain("workspace_50000_premises_edit_studied_ms", studied, "ms"),
        Figure::plain(
            "workspace_50000_premises_mount_acknowledged_ms",
            middle(of_premises),
            "ms",
        ),
    ])
}

/// A sector that is dragged.
#[derive(Debug, Clone)]
struct Drag {
    sector: String,
    quantity: &'static str,
    cell_m: Option<f64>,
    azimuth_deg: f64,
}

impl Drag {
    fn new(sector: &Sector, cell_m: Option<f64>) -> Self {
        Self {
            sector: sector.id.clone(),
            quantity: drag_default(),
            cell_m,
            azimuth_deg: sector.azimuth_deg,
        }
    }

    fn change(&self, field: &str, value: f64) -> Value {
        let value = if field == "azimuth_deg" {
            value.rem_euclid(360.0)
        } else {
            value
        };
        json!({"change": "set_sector_number", "sector": self.sector, "field": field, "value": value})
    }

    fn preview(&self, served: &Served, i: usize) -> anyhow::Result<f64> {
        self.ask(
            served,
            self.change("azimuth_deg", self.azimuth_deg + 1.0 + i as f64),
        )
    }

    /// As the page asks while the pointer moves: the picture and the counts.
    fn ask(&self, served: &Served, change: Value) -> anyhow::Result<f64> {
        let question = json!({
            "changes": [change], "ticket": served.ticket(), "window": "measured",
            "quantity": self.quantity, "cell_m": self.cell_m, "with_counts": true,
        });
        served.post_ms("/api/preview", &question)
    }
}

/// What is known of the sector that is worked on.
struct Sector {
    id: String,
    azimuth_deg: f64,
    tilt_deg: f64,
    power_dbm: f64,
    at_deg: [f64; 2],
}

impl Sector {
    fn first(served: &Served) -> anyhow::Result<Self> {
        let network = served.get("/api/network")?;
        let sector = &network["sectors"][0];
        let number = |value: &Value| value.as_f64().context("a number of a sector");
        Ok(Self {
            id: sector["id"].as_str().context("an id")?.to_owned(),
            azimuth_deg: number(&sector["azimuth_deg"])?,
            tilt_deg: number(&sector["mechanical_downtilt_deg"])?,
            power_dbm: number(&sector["tx_power_per_chain_dbm"])?,
            at_deg: [
                number(&sector["position"]["lon_deg"])?,
                number(&sector["position"]["lat_deg"])?,
            ],
        })
    }

    /// Places within some kilometres of the mast.
    fn beside(&self, i: usize) -> [f64; 2] {
        let turn = i as f64 * 0.7;
        let [lon_deg, lat_deg] = self.at_deg;
        [lon_deg + 0.03 * turn.sin(), lat_deg + 0.02 * turn.cos()]
    }
}

fn middle_ms(ask: impl Fn(usize) -> anyhow::Result<f64>) -> anyhow::Result<f64> {
    middle_of(TIMES, ask)
}

/// The middle of several; the first is not counted.
fn middle_of(times: usize, ask: impl Fn(usize) -> anyhow::Result<f64>) -> anyhow::Result<f64> {
    ask(times)?;
    let taken = (0..times).map(ask).collect::<anyhow::Result<Vec<_>>>()?;
    Ok(middle(taken))
}

fn middle(mut taken: Vec<f64>) -> f64 {
    taken.sort_by(f64::total_cmp);
    taken[taken.len() / 2]
}
