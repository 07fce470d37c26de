//! Findings for a person to read.

use anstyle::{AnsiColor, Style};
use pipeline::model::{Finding, Severity};

/// Every finding: severity, message, place, the offending text, the hint.
pub(crate) fn findings_text(findings: &[Finding]) -> String {
    findings.iter().map(finding_text).collect()
}

fn finding_text(finding: &Finding) -> String {
    let style = style_of(finding.severity);
    let dim = Style::new().dimmed();
    let mut text = format!(
        "{style}{}{style:#}: {}\n",
        finding.severity, finding.message
    );
    if let Some(place) = &finding.place {
        text.push_str(&format!("  {dim}at{dim:#}   {place}\n"));
        if !place.text.is_empty() {
            text.push_str(&format!("  {dim}text{dim:#} {}\n", printable(&place.text)));
        }
    }
    if !finding.hint.is_empty() {
        text.push_str(&format!("  {dim}hint:{dim:#} {}\n", finding.hint));
    }
    text
}

/// How many of each severity.
pub(crate) fn counted(findings: &[Finding]) -> String {
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let parts: Vec<String> = [
        (count(Severity::Error), "error", "errors"),
        (count(Severity::Warning), "warning", "warnings"),
        (count(Severity::Note), "note", "notes"),
    ]
    .into_iter()
    .filter(|(count, _, _)| *count > 0)
    .map(|(count, one, many)| outputs::format::count_of(count, one, many))
    .collect();
    if parts.is_empty() {
        "no findings".to_owned()
    } else {
        parts.join(", ")
    }
}

fn style_of(severity: Severity) -> Style {
    match severity {
        Severity::Error => AnsiColor::Red.on_default().bold(),
        Severity::Warning => AnsiColor::Yellow.on_default().bold(),
        Severity::Note => AnsiColor::Cyan.on_default().bold(),
    }
}

/// Text from a file without what a terminal could take for a command.
fn printable(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect()
}
