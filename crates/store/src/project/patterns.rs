//! Pattern files that the project's cards name.

use std::collections::BTreeMap;

use model::equipment::CutPoint;
use model::{Finding, Severity, TextPlace};
use pipeline::design::{PatternTable, SourceText, pattern_files};
use pipeline::engine::levels;

use super::{Reader, file_place, files, message_and_hint};
use crate::pattern_file::{self, CutPlane, PatternFile};

/// Reads every pattern file that a card names and the folder has.
pub(super) fn read(
    equipment: &[SourceText],
    reader: &mut Reader<'_>,
) -> BTreeMap<String, PatternTable> {
    let mut patterns = BTreeMap::new();
    for path in pattern_files(equipment) {
        if !reader.has(&path) {
            continue;
        }
        let Some(bytes) = reader.bytes(&path, files::LARGEST_TEXT_BYTES) else {
            continue;
        };
        let (text, finding) = files::decode(&path, bytes);
        reader.findings.extend(finding);
        if let Some(table) = table(&path, &text.text, &mut reader.findings) {
            patterns.insert(path, table);
        }
    }
    patterns
}

/// A message without the line that it names, which the finding's place has.
fn without_line(message: &str) -> &str {
    match message.split_once(": ") {
        Some((line, rest)) if line.starts_with("line ") => rest,
        _ => message,
    }
}

fn table(path: &str, text: &str, findings: &mut Vec<Finding>) -> Option<PatternTable> {
    let place = |line, text: &str| TextPlace {
        line,
        text: text.to_owned(),
        ..file_place(path)
    };
    let (pattern, warnings) = match pattern_file::parse(text) {
        Ok(read) => read,
        Err(error) => {
            let said = error.to_string();
            let (message, hint) = message_and_hint(&said);
            let message = without_line(message);
            findings.push(
                Finding::new(Severity::Error, "pattern-file", message)
                    .at(place(error.line, &error.text))
                    .hint(hint),
            );
            return None;
        }
    };
    for warning in &warnings {
        let said = warning.to_string();
        let (message, hint) = message_and_hint(&said);
        let message = without_line(message);
        findings.push(
            Finding::new(Severity::Warning, "pattern-file", message)
                .at(place(warning.line, &warning.text))
                .hint(hint),
        );
    }
    let f_mhz = match (pattern.low_mhz, pattern.high_mhz) {
        (Some(low), Some(high)) => (low + high) / 2.0,
        _ => 0.0,
    };
    Some(PatternTable {
        horizontal: cut(&pattern, CutPlane::Horizontal, f_mhz),
        vertical: cut(&pattern, CutPlane::Vertical, f_mhz),
    })
}

/// Losses of a plane's cut; empty where the file has none.
fn cut(pattern: &PatternFile, plane: CutPlane, f_mhz: f64) -> Vec<CutPoint> {
    let Some(cut) = pattern.co_polar_cut(plane, f_mhz) else {
        return Vec::new();
    };
    cut.losses_db(levels::amplitude_to_db)
        .into_iter()
        .map(|(angle_deg, loss_db)| CutPoint {
            angle_deg,
            // A point a hair above the stated peak is the peak.
            loss_db: loss_db.max(0.0),
        })
        .collect()
}
