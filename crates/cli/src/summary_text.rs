//! A study in one screen.

use std::fmt::Write as _;

use anstyle::Style;
use outputs::format::{count, count_of, distance, frequency, installations, percent};
use pipeline::Evaluation;
use pipeline::engine::study::{SectorResult, Summary};

/// Counts by verdict and cause, and a line for every sector.
pub(crate) fn summary_text(evaluation: &Evaluation) -> String {
    let mut text = String::new();
    let bold = Style::new().bold();
    let name = &evaluation.network.name;
    write_line(&mut text, &format!("{bold}{name}{bold:#}"));
    verdicts(&mut text, &evaluation.study.summary);
    sectors(&mut text, &evaluation.study.sectors);
    text
}

fn verdicts(text: &mut String, summary: &Summary) {
    let share = |n: usize| percent(n as f64 / summary.premises.max(1) as f64);
    let mut line = |name: &str, n: usize| {
        write_line(
            text,
            &format!("  {name:<22}{:>7}  {:>7}", count(n), share(n)),
        );
    };
    line("premises", summary.premises);
    line("served", summary.served);
    line("doubtful", summary.doubtful);
    line("unserved", summary.unserved);
    for cause in &summary.unserved_by_cause {
        line(&format!("  {}", cause.cause.name()), cause.premises);
    }
    write_line(
        text,
        &format!(
            "  of {} served or doubtful premises, about {} expected to fail; {}",
            count(summary.served + summary.doubtful),
            installations(summary.expected_failed_installations),
            count_of(summary.evaluated_paths, "path", "paths")
        ),
    );
}

fn sectors(text: &mut String, sectors: &[SectorResult]) {
    let widest = sectors.iter().map(|s| s.id.as_str().chars().count()).max();
    let width = widest.unwrap_or(0).max("sector".len());
    let dim = Style::new().dimmed();
    write_line(
        text,
        &format!(
            "\n  {dim}{:<width$}  {:>10}  {:>6}  {:>8}  {:>9}  {:>9}{dim:#}",
            "", "", "", "", "downlink", "uplink"
        ),
    );
    write_line(
        text,
        &format!(
            "  {dim}{:<width$}  {:>10}  {:>6}  {:>8}  {:>9}  {:>9}  {:>9}{dim:#}",
            "sector", "channel", "served", "doubtful", "airtime", "airtime", "farthest"
        ),
    );
    for s in sectors {
        write_line(
            text,
            &format!(
                "  {:<width$}  {:>10}  {:>6}  {:>8}  {:>9}  {:>9}  {:>9}",
                s.id.as_str(),
                frequency(s.channel.centre_mhz),
                s.served,
                s.doubtful,
                percent(s.load.downlink_airtime_frac),
                percent(s.load.uplink_airtime_frac),
                distance(s.farthest_served_m),
            ),
        );
    }
}

fn write_line(text: &mut String, line: &str) {
    writeln!(text, "{line}").expect("text grows as long as there is memory");
}
