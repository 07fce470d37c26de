//! `load`: how full the sectors are, with which customers, and for how long.

use std::path::Path;

use outputs::{CAUTION, load as tables};
use pipeline::engine::RunControl;
use pipeline::{Completeness, Evaluation};
use serde_json::json;
use store::project::RESULTS_FOLDER;

use super::open;
use crate::args::Load;
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::findings_text;
use crate::progress::{Watch, stop_if_interrupted};
use crate::results;

pub(super) fn run(args: &Load, console: &Console) -> anyhow::Result<Exit> {
    let world = open(&args.dir)?;
    let completeness = if args.partial {
        Completeness::WhatStands
    } else {
        Completeness::Whole
    };
    let watch = Watch::new(console);
    let run = RunControl {
        progress: &watch,
        threads: console.threads,
    };
    let evaluation = pipeline::load(&world, completeness, (args.sector.as_deref(), &run))?;
    stop_if_interrupted()?;
    drop(watch);
    let folder = match &args.out {
        Some(out) => out.clone(),
        None => world.folder().join(RESULTS_FOLDER).join("load"),
    };
    let files = files(&evaluation)?;
    results::write_into(&folder, &files)?;
    show(&evaluation, (&folder, &files), console)?;
    Ok(Exit::of_evaluation(&evaluation.findings))
}

fn files(evaluation: &Evaluation) -> anyhow::Result<Vec<results::ResultFile>> {
    let sectors = &evaluation.study.capacity;
    let most_frac = evaluation.network.study.max_airtime_frac;
    let mut document = serde_json::to_vec_pretty(&json!({
        "version": evaluation.version,
        "caution": CAUTION,
        "sectors": sectors,
    }))?;
    document.push(b'\n');
    Ok(vec![
        ("sectors.csv", tables::sectors_csv(sectors)?),
        ("customers.csv", tables::customers_csv(sectors)?),
        ("room.csv", tables::room_csv(sectors)?),
        ("growth.csv", tables::growth_csv(sectors)?),
        ("load.json", document),
        ("airtime.svg", tables::airtime_svg(sectors)?.into()),
        ("rates.svg", tables::rates_svg(sectors)?.into()),
        ("growth.svg", tables::growth_svg(sectors, most_frac)?.into()),
    ])
}

fn show(
    evaluation: &Evaluation,
    (folder, files): (&Path, &[results::ResultFile]),
    console: &Console,
) -> anyhow::Result<()> {
    console.remark(&findings_text(&evaluation.findings));
    if !evaluation.findings.is_empty() {
        console.remark("\n");
    }
    console.text(&format!(
        "{}\n\n{}\nresults: {}\n\n{CAUTION}\n",
        evaluation.network.name,
        tables::load_text(&evaluation.study.capacity),
        folder.display(),
    ));
    let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    console.document(&json!({
        "version": evaluation.version,
        "caution": CAUTION,
        "sectors": evaluation.study.capacity,
        "findings": evaluation.findings,
        "results_folder": folder,
        "files": names,
    }))
}
