//! Results for programs: the result structs as they are, field names and all.
//! Of the network, each card stands once, and whoever uses it names its id.

mod network;

use engine::explain::PathReport;
use engine::hop::BackhaulResult;
use engine::load::sector::SectorCapacity;
use engine::second_opinion::SecondOpinion;
use engine::study::{PremisesResult, SectorResult, Summary};
use engine::timing::TimingResult;
use engine::{DataSource, StudyResult};
use model::finding::Finding;
use serde::Serialize;

use crate::handout::{CAUTION, Handout, OutputError};
use network::NetworkView;

#[derive(Serialize)]
struct Study<'a> {
    version: &'a str,
    written_at: &'a str,
    caution: &'static str,
    summary: &'a Summary,
    sectors: &'a [SectorResult],
    premises: &'a [PremisesResult],
    capacity: &'a [SectorCapacity],
    timing: &'a TimingResult,
    backhaul: &'a BackhaulResult,
    findings: &'a [Finding],
    data_sources: &'a [DataSource],
    network: NetworkView<'a>,
}

/// The whole study with the network it was made for.
pub fn study(handout: &Handout<'_>) -> Result<String, OutputError> {
    let StudyResult {
        summary,
        premises,
        sectors,
        capacity,
        timing,
        backhaul,
        ..
    } = handout.study;
    with_newline(&Study {
        version: handout.version,
        written_at: handout.written_at,
        caution: CAUTION,
        summary,
        sectors,
        premises,
        capacity,
        timing,
        backhaul,
        findings: handout.findings,
        data_sources: handout.data_sources,
        network: handout.network.into(),
    })
}

#[derive(Serialize)]
struct Path<'a> {
    #[serde(flatten)]
    report: &'a PathReport,
    #[serde(skip_serializing_if = "Option::is_none")]
    second_opinion: Option<&'a SecondOpinion>,
    findings: &'a [Finding],
}

/// One link taken apart, with another model's opinion where there is one.
pub fn path(
    report: &PathReport,
    second_opinion: Option<&SecondOpinion>,
    findings: &[Finding],
) -> Result<String, OutputError> {
    with_newline(&Path {
        report,
        second_opinion,
        findings,
    })
}

fn with_newline(value: &impl Serialize) -> Result<String, OutputError> {
    let mut text = serde_json::to_string_pretty(value)?;
    text.push('\n');
    Ok(text)
}
