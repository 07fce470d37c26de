//! Measures the speed of the main jobs, writes `bench/results.json` and
//! `docs/PERFORMANCE.md`.
//!
//! `cargo run --release -p mastwright-bench -- [path] [study] [model]`; without names
//! every area runs. Areas that need the shared reference data say so and are
//! left out where it is absent.

#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a benchmark measures time, prints its table and writes one file"
)]

mod composite;
mod coverage;
mod models;
mod page;
mod paths;
mod peers;
mod simulator;
mod study;
mod territory;
mod workspace;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::Context;
use serde::{Deserialize, Serialize};

/// One measured figure.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Figure {
    /// Starts with the area.
    name: String,
    value: f64,
    unit: String,
    /// What the figure should reach; `None` where there is no goal.
    target: Option<f64>,
    /// Whether it does.
    met: Option<bool>,
}

impl Figure {
    fn plain(name: &str, value: f64, unit: &str) -> Self {
        Self {
            name: name.into(),
            value,
            unit: unit.into(),
            target: None,
            met: None,
        }
    }

    fn at_least(name: &str, value: f64, unit: &str, target: f64) -> Self {
        Self {
            target: Some(target),
            met: Some(value >= target),
            ..Self::plain(name, value, unit)
        }
    }

    fn at_most(name: &str, value: f64, unit: &str, target: f64) -> Self {
        Self {
            target: Some(target),
            met: Some(value <= target),
            ..Self::plain(name, value, unit)
        }
    }
}

type Area = fn() -> anyhow::Result<Vec<Figure>>;

const AREAS: &[(&str, Area)] = &[
    ("path", paths::measure),
    ("study", study::measure),
    ("territory", territory::measure),
    ("model", models::measure),
    ("coverage", coverage::measure),
    ("composite", composite::measure),
    ("peers", peers::measure),
    ("simulator", simulator::measure),
    ("workspace", workspace::measure),
];

fn main() -> anyhow::Result<()> {
    let wanted: Vec<String> = std::env::args().skip(1).collect();
    for name in &wanted {
        anyhow::ensure!(
            AREAS.iter().any(|(area, _)| area == name),
            "no area `{name}`; there are {}",
            AREAS
                .iter()
                .map(|(area, _)| *area)
                .collect::<Vec<_>>()
                .join(", ")
        );
    }
    let mut results = Results::read()?;
    for (area, measure) in AREAS {
        if wanted.is_empty() || wanted.iter().any(|w| w == area) {
            let figures = measure().with_context(|| format!("area `{area}`"))?;
            print(&figures);
            // What could not be measured here keeps its last figures.
            if !figures.is_empty() {
                results.replace(area, figures);
            }
        }
    }
    results.write()
}

fn print(figures: &[Figure]) {
    for f in figures {
        let goal = match (f.target, f.met) {
            (Some(target), Some(true)) => format!("goal {target} {}: met", f.unit),
            (Some(target), _) => format!("goal {target} {}: MISSED", f.unit),
            _ => String::new(),
        };
        println!("{:<56} {:>14.3} {:<12} {goal}", f.name, f.value, f.unit);
    }
}

/// Figures of every area, kept between runs so that one area can be measured alone.
struct Results {
    path: PathBuf,
    by_name: BTreeMap<String, Figure>,
}

impl Results {
    fn read() -> anyhow::Result<Self> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("results.json");
        let figures: Vec<Figure> = match std::fs::read_to_string(&path) {
            Ok(text) => serde_json::from_str(&text).context("bench/results.json")?,
            Err(_) => Vec::new(),
        };
        let by_name = figures.into_iter().map(|f| (f.name.clone(), f)).collect();
        Ok(Self { path, by_name })
    }

    fn page_path() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/PERFORMANCE.md")
    }

    fn replace(&mut self, area: &str, figures: Vec<Figure>) {
        self.by_name.retain(|name, _| !name.starts_with(area));
        self.by_name
            .extend(figures.into_iter().map(|f| (f.name.clone(), f)));
    }

    fn write(&self) -> anyhow::Result<()> {
        let figures: Vec<&Figure> = self.by_name.values().collect();
        let mut text = serde_json::to_string_pretty(&figures)?;
        text.push('\n');
        std::fs::write(&self.path, text).context("bench/results.json")?;
        // The figures as a file has them, so that the page is that of the file.
        let page = page::page(&Self::read()?.by_name);
        std::fs::write(Self::page_path(), page).context("docs/PERFORMANCE.md")
    }
}
