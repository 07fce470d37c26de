//! The example project as a world: its texts read, its ground mapped.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "tests write files, and fail where something is not there"
)]

use std::path::{Path, PathBuf};

use demo::DemoContent;
use pipeline::design::{ProjectSources, SourceText, premises_from_csv};
use pipeline::engine::RunControl;
use pipeline::engine::verdict::LimitingCause;
use pipeline::model::Severity;
use pipeline::{Completeness, Evaluation, World as _};
use store::geotiff_out::{CellType, encode};
use store::world::FolderWorld;

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("world-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Writes the example's rasters and gives its texts, changed by `edit`.
fn example(folder: &Path, edit: impl Fn(&str, String) -> String) -> ProjectSources {
    let mut sources = ProjectSources::default();
    for file in demo::files() {
        sources.files.push(file.path.into());
        let bytes = match file.content {
            DemoContent::Text(text) => {
                let source = SourceText::new(file.path, edit(file.path, text));
                match file.path {
                    "mastwright.toml" => sources.design = Some(source),
                    "plans.toml" => sources.plans = Some(source),
                    "premises.csv" => sources.premises = premises_from_csv(&source).0,
                    _ => sources.equipment.push(source),
                }
                continue;
            }
            DemoContent::Elevation(grid) => encode(&grid, CellType::Float32).unwrap(),
            DemoContent::Classes(grid) => encode(&grid, CellType::Unsigned8).unwrap(),
        };
        let path = folder.join(file.path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
    sources
}

fn evaluate(world: &FolderWorld) -> Evaluation {
    pipeline::evaluate(world, Completeness::Whole, &RunControl::unwatched()).unwrap()
}

/// Reviewed by eye: most premises are served, and every kind of trouble that
/// the story tells is there.
#[test]
fn gold_example_is_believable() {
    let folder = Folder::new("believable");
    let world = FolderWorld::new(&folder.0, example(&folder.0, |_, text| text));
    let evaluation = evaluate(&world);
    assert!(
        !pipeline::has_errors(&evaluation.findings),
        "{:#?}",
        evaluation.findings
    );
    let summary = &evaluation.study.summary;
    println!("{summary:#?}");
    assert!(evaluation.network.masts.len() >= 3 && evaluation.network.sectors.len() >= 10);
    assert!(summary.premises >= 400);
    let served = summary.served as f64 / summary.premises as f64;
    assert!((0.70..=0.85).contains(&served), "{served} served");
    let held_back = |cause| {
        let counts = &summary.unserved_by_cause;
        counts
            .iter()
            .find(|c| c.cause == cause)
            .map_or(0, |c| c.premises)
    };
    assert!(held_back(LimitingCause::Terrain) >= 10);
    assert!(held_back(LimitingCause::Interference) >= 10);
    assert!(held_back(LimitingCause::OutOfReach) >= 7);
    let over_limit: Vec<_> = evaluation
        .findings
        .iter()
        .filter(|f| f.code == "rule-limit")
        .collect();
    assert_eq!(over_limit.len(), 1, "{over_limit:#?}");
}

/// The facing sectors' channels apart, Tarvane is served.
#[test]
fn exact_mending_the_shared_channel_cures_the_interference() {
    let folder = Folder::new("mended");
    let before = evaluate(&FolderWorld::new(
        &folder.0,
        example(&folder.0, |_, text| text),
    ));
    let mended = |path: &str, text: String| match path {
        "mastwright.toml" => {
            let (start, rest) = text.split_once("id = \"saddle-w\"").unwrap();
            let rest = rest.replacen("channel_mhz = 3620", "channel_mhz = 3740", 1);
            format!("{start}id = \"saddle-w\"{rest}")
        }
        _ => text,
    };
    let after = evaluate(&FolderWorld::new(&folder.0, example(&folder.0, mended)));
    let drowned = |e: &Evaluation| {
        let premises = e.study.premises.iter();
        premises
            .filter(|p| {
                p.limit
                    .as_ref()
                    .is_some_and(|l| l.cause == LimitingCause::Interference)
            })
            .count()
    };
    assert!(drowned(&before) >= 10 && drowned(&after) == 0);
    assert!(after.study.summary.served > before.study.summary.served + 20);
}

#[test]
fn exact_rasters_that_cannot_be_read_are_told_and_the_rest_is_read() {
    let folder = Folder::new("unreadable");
    let sources = example(&folder.0, |_, text| text);
    std::fs::write(folder.0.join("landcover/ossorel.tif"), b"").unwrap();
    let world = FolderWorld::new(&folder.0, sources);
    let checked = pipeline::check(&world);
    let finding = checked
        .findings
        .iter()
        .find(|f| f.code == "unreadable-raster")
        .unwrap();
    assert_eq!(finding.severity, Severity::Error);
    assert!(!finding.hint.is_empty(), "{finding:?}");
    assert_eq!(
        &*finding.place.as_ref().unwrap().file,
        "landcover/ossorel.tif"
    );
    let network = checked.network.unwrap();
    let ground = world.ground(&network);
    let at = network.masts[0].position;
    assert!(ground.surroundings.ground_amsl_m(at).is_some());
    assert_eq!(ground.data_sources.len(), 1);
}

#[test]
fn exact_masts_and_premises_on_unknown_ground_are_told() {
    let folder = Folder::new("unknown");
    let moved = |path: &str, text: String| match path {
        "mastwright.toml" => text.replace("lat = 43.95441", "lat = 43.80000").replace(
            "south_west = [-28.144, 43.889]",
            "south_west = [-28.144, 43.7]",
        ),
        "premises.csv" => text + "AWAY-1,-28.2,43.9,Away,home,,0,,\n",
        _ => text,
    };
    let world = FolderWorld::new(&folder.0, example(&folder.0, moved));
    let found: Vec<_> = pipeline::check(&world)
        .findings
        .into_iter()
        .filter(|f| f.code == "unknown-ground")
        .collect();
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(found[0].severity == Severity::Error && found[0].message.contains("`kettle`"));
    assert!(found[1].severity == Severity::Warning && found[1].message.contains("`AWAY-1`"));
}

#[test]
fn exact_classes_without_a_row_are_told() {
    let folder = Folder::new("classes");
    let other_legend = |path: &str, text: String| match path {
        "mastwright.toml" => text
            .replace("legend = \"worldcover\"", "legend = \"nlcd\"")
            .replace("50 = 5\n10 = 9\n", ""),
        _ => text,
    };
    let world = FolderWorld::new(&folder.0, example(&folder.0, other_legend));
    let findings = pipeline::check(&world).findings;
    let finding = findings.iter().find(|f| f.code == "unknown-class").unwrap();
    assert!(finding.message.contains("`10`"), "{finding:?}");
}

#[test]
fn exact_answer_does_not_depend_on_threads() {
    let folder = Folder::new("threads");
    let world = FolderWorld::new(&folder.0, example(&folder.0, |_, text| text));
    let with = |threads| {
        let run = RunControl {
            threads,
            ..RunControl::unwatched()
        };
        pipeline::evaluate(&world, Completeness::Whole, &run).unwrap()
    };
    assert!(with(1) == with(3));
}
