//! The older layout of NSMA WG16.89.003: ten header lines, then blocks.
//!
//! Header: maker, model, comment, regulator's id, reverse-pattern id, date,
//! manufacturer id, frequency range (`6525.0 - 6875.0`), mid-band gain, beamwidth;
//! empty entries hold `NONE`. A block is `POL count` and then `angle level`
//! lines, POL one of HH HV VV VH (azimuth) or ELHH ELHV ELVV ELVH (elevation;
//! these four from memory).

use super::PatternFile;
use super::cut::{CutPlane, LevelUnit, PatternCut, finish, number, point};
use super::problem::{ErrorKind, PatternError, Warning, WarningKind};

const HEADER_LINES: usize = 10;

pub(super) fn parse(text: &str) -> Result<(PatternFile, Vec<Warning>), PatternError> {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let mut file = header(&lines)?;
    let mut warnings = Vec::new();
    let mut stated = None;
    for (index, record) in lines.iter().enumerate().skip(HEADER_LINES) {
        let line = index + 1;
        let mut columns = record
            .split(|c: char| c == ',' || c.is_whitespace())
            .filter(|s| !s.is_empty());
        let Some(first) = columns.next() else {
            continue;
        };
        let second = columns.next();
        if let Some(cut) = block(line, first) {
            check_count(&file, stated, &mut warnings);
            stated = second.and_then(|count| count.parse().ok());
            file.cuts.push(cut);
            continue;
        }
        let cut = file.cuts.last_mut();
        let cut = cut.ok_or_else(|| PatternError::at(line, record, ErrorKind::PointOutsideCut))?;
        let level = second.ok_or_else(|| PatternError::at(line, record, ErrorKind::NotANumber))?;
        cut.points.push(point(line, first, level)?);
    }
    check_count(&file, stated, &mut warnings);
    let file = finish(file, &mut warnings)?;
    Ok((file, warnings))
}

/// The ten fixed lines; the gain in the ninth tells the layout.
fn header(lines: &[&str]) -> Result<PatternFile, PatternError> {
    let short = |line: usize| {
        let text = lines
            .get(line.saturating_sub(1))
            .copied()
            .unwrap_or_default();
        PatternError::at(line, text, ErrorKind::ShortHeader)
    };
    let [maker, model, _, _, _, _, _, range, gain, beamwidth] = *lines
        .first_chunk::<HEADER_LINES>()
        .ok_or_else(|| short(lines.len().max(1)))?;
    let said = |text: &str| {
        (!text.is_empty() && !text.eq_ignore_ascii_case("none")).then(|| text.to_owned())
    };
    let optional = |text: &str, line: usize| match said(text) {
        None => Ok(None),
        Some(text) => {
            let first = text.split_whitespace().next().and_then(number);
            first.map(Some).ok_or_else(|| short(line))
        }
    };
    let mut ends = range.split('-').map(number);
    Ok(PatternFile {
        maker: said(maker),
        model: said(model),
        gain_dbi: optional(gain, 9)?,
        low_mhz: ends.next().flatten(),
        high_mhz: ends.next().flatten(),
        beamwidth_h_deg: optional(beamwidth, 10)?,
        ..PatternFile::default()
    })
}

/// A cut opened by a polarization code; none if the text is no such code.
fn block(line: usize, code: &str) -> Option<PatternCut> {
    let code = code.to_ascii_uppercase();
    let (plane, pair) = match code.strip_prefix("EL") {
        Some(pair) => (CutPlane::Vertical, pair),
        None => (CutPlane::Horizontal, code.as_str()),
    };
    let (antenna, source) = match pair {
        "HH" => ("H", "H"),
        "HV" => ("H", "V"),
        "VV" => ("V", "V"),
        "VH" => ("V", "H"),
        _ => return None,
    };
    Some(PatternCut {
        plane,
        f_mhz: None,
        co_polar: antenna == source,
        polarization: format!("{antenna}/{source}"),
        unit: LevelUnit::Decibels,
        points: Vec::new(),
        line,
    })
}

fn check_count(file: &PatternFile, stated: Option<usize>, warnings: &mut Vec<Warning>) {
    let last = file.cuts.last().map(|cut| (cut.points.len(), cut.line));
    if let (Some(stated), Some((found, line))) = (stated, last)
        && stated != found
    {
        warnings.push(Warning::at(
            line,
            "",
            WarningKind::PointCount { stated, found },
        ));
    }
}
