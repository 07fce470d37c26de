//! Seconds for a whole study: 1,000 premises and 16 sectors on real terrain,
//! rasters read included.

use std::time::Instant;

use engine::RunControl;
use pipeline::{Completeness, evaluate};
use store::world::FolderWorld;

use crate::Figure;

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let Some(shared) = tests::shared_dir() else {
        println!("study: left out, the shared reference data is not here");
        return Ok(Vec::new());
    };
    let dir = tempfile::tempdir()?;
    tests::santa_ana::write_project(dir.path(), &shared)?;
    let mut best_s = f64::INFINITY;
    let mut summary = None;
    for _ in 0..3 {
        let start = Instant::now();
        let project = store::project::open(dir.path())?;
        let world = FolderWorld::new(dir.path(), project.sources);
        let evaluation = evaluate(&world, Completeness::Whole, &RunControl::unwatched())?;
        best_s = best_s.min(start.elapsed().as_secs_f64());
        summary = Some(evaluation.study.summary);
    }
    let paths = summary.map_or(0, |s| s.evaluated_paths);
    Ok(vec![
        Figure::at_most("study_1000x16_s", best_s, "s", 5.0),
        Figure::plain("study_1000x16_paths", paths as f64, "paths"),
    ])
}
