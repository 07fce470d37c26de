//! A plain table: `cut,angle_deg,level_db`, one point a row.
//!
//! * `cut`: `H` (or `AZ`, `horizontal`) or `V` (or `EL`, `vertical`).
//! * `angle_deg`: −360 to 360; horizontal clockwise from boresight, vertical upwards.
//! * `level_db`: relative to the peak, 0 at the peak, negative below.
//!
//! Columns may come in any order, others are ignored with a warning; lines that
//! begin with `#` are comments. The peak gain is not in the table: it stands on
//! the antenna's card.

use super::PatternFile;
use super::cut::{CutPlane, LevelUnit, PatternCut, finish, point};
use super::problem::{ErrorKind, PatternError, Warning, WarningKind};

const COLUMNS: [&str; 3] = ["cut", "angle_deg", "level_db"];

pub(super) fn parse(text: &str) -> Result<(PatternFile, Vec<Warning>), PatternError> {
    let mut rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes())
        .into_records();
    let mut warnings = Vec::new();
    let header = rows
        .next()
        .ok_or_else(|| PatternError::at(0, "", ErrorKind::NoCuts))?;
    let header = header.map_err(|error| unreadable(text, &error))?;
    let places = columns(line_of(text, header.position()), &header, &mut warnings)?;
    let mut file = PatternFile::default();
    for row in rows {
        let row = row.map_err(|error| unreadable(text, &error))?;
        let line = || line_of(text, row.position());
        let [Some(cut), Some(angle), Some(level)] = places.map(|place| row.get(place)) else {
            let shown = row.iter().collect::<Vec<_>>().join(",");
            return Err(PatternError::at(line(), &shown, ErrorKind::BadRow));
        };
        let placed = |error: PatternError| PatternError {
            line: line(),
            ..error
        };
        let plane = plane(cut).map_err(placed)?;
        let point = point(0, angle, level).map_err(placed)?;
        match file.cuts.iter_mut().find(|known| known.plane == plane) {
            Some(known) => known.points.push(point),
            None => file.cuts.push(PatternCut {
                plane,
                f_mhz: None,
                co_polar: true,
                polarization: String::new(),
                unit: LevelUnit::Decibels,
                points: vec![point],
                line: line(),
            }),
        }
    }
    let file = finish(file, &mut warnings)?;
    // A table never states a gain, so its absence is nothing to tell.
    warnings.retain(|warning| warning.kind != WarningKind::GainMissing);
    Ok((file, warnings))
}

/// Where the three columns stand.
fn columns(
    line: usize,
    header: &csv::StringRecord,
    warnings: &mut Vec<Warning>,
) -> Result<[usize; 3], PatternError> {
    let mut places = [usize::MAX; 3];
    for (index, name) in header.iter().enumerate() {
        match COLUMNS
            .iter()
            .position(|column| name.eq_ignore_ascii_case(column))
        {
            Some(column) => places[column] = index,
            None => warnings.push(Warning::at(line, name, WarningKind::IgnoredColumn)),
        }
    }
    match places.iter().position(|&place| place == usize::MAX) {
        Some(missing) => Err(PatternError::at(
            line,
            COLUMNS[missing],
            ErrorKind::MissingColumn,
        )),
        None => Ok(places),
    }
}

fn plane(text: &str) -> Result<CutPlane, PatternError> {
    match text.to_ascii_lowercase().as_str() {
        "h" | "az" | "horizontal" => Ok(CutPlane::Horizontal),
        "v" | "el" | "vertical" => Ok(CutPlane::Vertical),
        _ => Err(PatternError::at(0, text, ErrorKind::UnknownPlane)),
    }
}

/// Line of a record, counted from 1.
///
/// The reader's position lies before any comments and blank lines it skipped.
fn line_of(text: &str, position: Option<&csv::Position>) -> usize {
    let Some(offset) = position.and_then(|at| usize::try_from(at.byte()).ok()) else {
        return 0;
    };
    let (before, after) = text.split_at_checked(offset).unwrap_or((text, ""));
    let skipped = |line: &&str| line.trim().is_empty() || line.starts_with('#');
    1 + before.matches('\n').count() + after.split('\n').take_while(skipped).count()
}

fn unreadable(text: &str, error: &csv::Error) -> PatternError {
    PatternError::at(line_of(text, error.position()), "", ErrorKind::BadRow)
}
