//! `load`: how full the sectors are, with which customers, and for how long.

use std::path::Path;

use outputs::{CAUTION, load as tables, simulation};
use pipeline::engine::RunControl;
use pipeline::engine::simulation::{Run, SectorSimulation};
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
    let simulations = if args.simulate {
        let busy_hour = Run {
            measured_s: args.busy_s,
            ..Run::busy_hour(args.seed)
        };
        pipeline::simulate(&evaluation, (&busy_hour, &run))?
    } else {
        Vec::new()
    };
    stop_if_interrupted()?;
    drop(watch);
    let folder = match &args.out {
        Some(out) => out.clone(),
        None => world.folder().join(RESULTS_FOLDER).join("load"),
    };
    let mut files = files(&evaluation)?;
    files.extend(simulated_files(&simulations)?);
    results::write_into(&folder, &files)?;
    show((&evaluation, &simulations), (&folder, &files), console)?;
    Ok(Exit::of_evaluation(&evaluation.findings))
}

/// A result: its name, which holds a sector's id for some, and its bytes.
type LoadFile = (String, Vec<u8>);

fn simulated_files(simulations: &[SectorSimulation]) -> anyhow::Result<Vec<LoadFile>> {
    if simulations.is_empty() {
        return Ok(Vec::new());
    }
    let mut document = serde_json::to_vec_pretty(&json!({
        "version": pipeline::VERSION,
        "caution": CAUTION,
        "simulations": simulations,
    }))?;
    document.push(b'\n');
    let mut files: Vec<LoadFile> = vec![
        (
            "simulated-classes.csv".into(),
            simulation::simulated_classes_csv(simulations)?,
        ),
        (
            "simulated-premises.csv".into(),
            simulation::simulated_premises_csv(simulations)?,
        ),
        ("simulated.json".into(), document),
    ];
    for (number, one) in simulations.iter().enumerate() {
        // Ids may hold what file names may not.
        let name = format!("delays-{}.svg", number + 1);
        files.push((name, simulation::delays_svg(one)?.into()));
    }
    Ok(files)
}

fn files(evaluation: &Evaluation) -> anyhow::Result<Vec<LoadFile>> {
    let sectors = &evaluation.study.capacity;
    let most_frac = evaluation.network.study.max_airtime_frac;
    let mut document = serde_json::to_vec_pretty(&json!({
        "version": evaluation.version,
        "caution": CAUTION,
        "sectors": sectors,
    }))?;
    document.push(b'\n');
    let files = [
        ("sectors.csv", tables::sectors_csv(sectors)?),
        ("customers.csv", tables::customers_csv(sectors)?),
        ("room.csv", tables::room_csv(sectors)?),
        ("growth.csv", tables::growth_csv(sectors)?),
        ("load.json", document),
        ("airtime.svg", tables::airtime_svg(sectors)?.into()),
        ("rates.svg", tables::rates_svg(sectors)?.into()),
        ("growth.svg", tables::growth_svg(sectors, most_frac)?.into()),
    ];
    Ok(files.map(|(name, bytes)| (name.to_owned(), bytes)).into())
}

fn show(
    (evaluation, simulations): (&Evaluation, &[SectorSimulation]),
    (folder, files): (&Path, &[LoadFile]),
    console: &Console,
) -> anyhow::Result<()> {
    console.remark(&findings_text(&evaluation.findings));
    if !evaluation.findings.is_empty() {
        console.remark("\n");
    }
    let simulated: Vec<String> = simulations
        .iter()
        .map(|s| simulation::simulation_text(s) + "\n")
        .collect();
    console.text(&format!(
        "{}\n\n{}\n{}results: {}\n\n{CAUTION}\n",
        evaluation.network.name,
        tables::load_text(&evaluation.study.capacity),
        simulated.concat(),
        folder.display(),
    ));
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    console.document(&json!({
        "version": evaluation.version,
        "caution": CAUTION,
        "sectors": evaluation.study.capacity,
        "simulations": simulations,
        "findings": evaluation.findings,
        "results_folder": folder,
        "files": names,
    }))
}
