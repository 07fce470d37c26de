//! `study`: everything evaluated, results written.

use std::path::{Path, PathBuf};

use outputs::{CAUTION, Handout, worst_links};
use pipeline::engine::RunControl;
use pipeline::engine::explain::{Company, ExplainError, PathReport};
use pipeline::engine::verdict::LimitingCause;
use pipeline::model::{Finding, Severity};
use pipeline::{Completeness, Evaluation, Ground};
use serde_json::json;

use super::open;
use crate::args::Study;
use crate::clock;
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::{counted, findings_text};
use crate::progress::{Watch, stop_if_interrupted};
use crate::results;
use crate::summary_text::summary_text;

/// Links that the report shows in cross-section.
const CROSS_SECTIONS: usize = 6;
/// A link is explained with the whole network's interference up to this many
/// paths; beyond, that would take as long as the study again.
const PATHS_TO_EXPLAIN_AGAIN: usize = 20_000;

pub(super) fn run(args: &Study, console: &Console) -> anyhow::Result<Exit> {
    let completeness = if args.partial {
        Completeness::WhatStands
    } else {
        Completeness::Whole
    };
    let done = evaluate_and_write(&args.dir, completeness, console)?;
    show(&done, console)?;
    Ok(Exit::of_evaluation(&done.evaluation.findings))
}

/// A study whose results are on disk.
pub(super) struct Done {
    pub(super) evaluation: Evaluation,
    /// The folder of results.
    pub(super) folder: PathBuf,
    files: Vec<&'static str>,
}

pub(super) fn evaluate_and_write(
    folder: &Path,
    completeness: Completeness,
    console: &Console,
) -> anyhow::Result<Done> {
    let world = open(folder)?;
    let watch = Watch::new(console);
    let run = RunControl {
        progress: &watch,
        threads: console.threads,
    };
    let (mut evaluation, ground) = pipeline::evaluate_on_ground(&world, completeness, &run)?;
    stop_if_interrupted()?;
    let explained = cross_sections(&ground, &evaluation, console);
    stop_if_interrupted()?;
    let cross_sections = explained.unwrap_or_else(|error| {
        evaluation.findings.push(no_cross_sections(&error));
        Vec::new()
    });
    let files = results_of(&evaluation, &ground, &cross_sections)?;
    let folder = results::write(world.folder(), &files)?;
    Ok(Done {
        evaluation,
        folder,
        files: files.into_iter().map(|(name, _)| name).collect(),
    })
}

fn results_of(
    evaluation: &Evaluation,
    ground: &Ground,
    cross_sections: &[PathReport],
) -> anyhow::Result<Vec<results::ResultFile>> {
    let written_at = clock::written_at();
    results::files(&Handout {
        version: evaluation.version,
        written_at: &written_at,
        network: &evaluation.network,
        study: &evaluation.study,
        findings: &evaluation.findings,
        data_sources: &evaluation.data_sources,
        surroundings: Some(ground.surroundings.as_ref()),
        cross_sections,
    })
}

/// The report stands without cross-sections: the study has judged every link.
fn no_cross_sections(error: &ExplainError) -> Finding {
    Finding::new(
        Severity::Note,
        "no-cross-sections",
        format!("the report shows no cross-sections: {error}"),
    )
    .hint("the verdicts do not depend on them; `mastwright path` takes one link apart")
}

/// The links most worth looking at, taken apart.
fn cross_sections(
    ground: &Ground,
    evaluation: &Evaluation,
    console: &Console,
) -> Result<Vec<PathReport>, ExplainError> {
    let quiet = Watch::new(&Console {
        quiet: true,
        ..*console
    });
    let run = RunControl {
        progress: &quiet,
        threads: console.threads,
    };
    let company = if evaluation.study.summary.evaluated_paths <= PATHS_TO_EXPLAIN_AGAIN {
        Company::WholeNetwork
    } else {
        Company::Alone
    };
    let worst = worst_links(&evaluation.study, CROSS_SECTIONS);
    let links: Vec<(&str, &str)> = worst
        .iter()
        .map(|(sector, premises)| (sector.as_str(), premises.as_str()))
        .collect();
    pipeline::engine::explain::explain_links(
        &evaluation.network,
        ground.surroundings.as_ref(),
        &links,
        (company, &run),
    )
}

/// Prints what came of a study.
pub(super) fn show(done: &Done, console: &Console) -> anyhow::Result<()> {
    let evaluation = &done.evaluation;
    console.remark(&findings_text(&evaluation.findings));
    if !evaluation.findings.is_empty() {
        console.remark("\n");
    }
    console.text(&summary_text(evaluation));
    console.text(&where_to_look(done));
    console.document(&json!({
        "version": evaluation.version,
        "caution": CAUTION,
        "summary": evaluation.study.summary,
        "sectors": evaluation.study.sectors,
        "findings": evaluation.findings,
        "data_sources": evaluation.data_sources,
        "results_folder": done.folder,
        "files": done.files,
    }))
}

fn where_to_look(done: &Done) -> String {
    let study = &done.evaluation.study;
    let held_back = study.premises.iter().find(|p| {
        let cause = p.limit.as_ref().map(|l| l.cause);
        cause.is_some_and(|c| c != LimitingCause::OutOfReach)
    });
    let project = done.folder.parent().unwrap_or(&done.folder);
    let why = held_back
        .and_then(|p| Some((p.limit.as_ref()?.sector.as_ref()?, &p.id)))
        .map_or(String::new(), |(sector, premises)| {
            format!(
                "one link, term by term: mastwright path {} --from {sector} --to {premises}\n",
                project.display()
            )
        });
    format!(
        "\n{}\nresults: {}\nreport:  {}\n{why}\n{CAUTION}\n",
        counted(&done.evaluation.findings),
        done.folder.display(),
        done.folder.join("report.html").display()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_report_without_cross_sections_says_why() {
        let finding = no_cross_sections(&ExplainError::UnknownSector("s9".into()));
        assert_eq!(finding.severity, Severity::Note);
        assert_eq!(
            finding.message,
            "the report shows no cross-sections: no sector `s9` in the design"
        );
        assert_eq!(Exit::of_evaluation(&[finding]), Exit::Done);
    }
}
