//! Edits of premises, into `premises.csv`.

use std::collections::BTreeMap;

use csv::StringRecord;
use model::{Edit, PremisesId};

use super::{Splice, WriteError, number_text, spliced};
use crate::premises_table::delimiter;

/// The text of `premises.csv` with the edits of premises written into it;
/// edits of sectors are left alone. Only the lines of edited premises change.
pub fn apply_premises_edits(text: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mut wanted: BTreeMap<&PremisesId, Vec<(&'static str, Cell<'_>)>> = BTreeMap::new();
    for edit in edits {
        let (premises, column, cell) = match edit {
            Edit::Sector { .. } => continue,
            Edit::PremisesMountHeight {
                premises,
                mount_height_agl_m,
            } => (
                premises,
                "mount_height_agl_m",
                Cell::Number(*mount_height_agl_m),
            ),
            Edit::PremisesPlan { premises, plan } => (premises, "plan", Cell::Text(plan.as_str())),
        };
        if matches!(cell, Cell::Number(value) if !value.is_finite()) {
            return Err(WriteError::NotFinite { key: column });
        }
        wanted.entry(premises).or_default().push((column, cell));
    }
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let body = &text[mark..];
    let mut splices = Vec::new();
    let mut columns = None;
    for line in records(body)? {
        let Some(columns) = &columns else {
            columns = Some(line.cells);
            continue;
        };
        let id = column(columns, "id")?;
        let id = PremisesId::new(line.cells.get(id).unwrap_or("").trim());
        if let Some(changes) = wanted.remove(&id) {
            splices.push(line.with(&changes, columns, delimiter(body))?);
        }
    }
    match wanted.keys().next() {
        Some(id) => Err(WriteError::UnknownPremises((*id).clone())),
        None => Ok(text[..mark].to_owned() + &spliced(body, splices)),
    }
}

#[derive(Debug, Clone, Copy)]
enum Cell<'e> {
    Number(f64),
    Text(&'e str),
}

/// One record and the bytes that it takes, line end not included.
struct Line {
    cells: StringRecord,
    range: std::ops::Range<usize>,
    raw: String,
}

fn records(text: &str) -> Result<Vec<Line>, WriteError> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut lines = Vec::new();
    loop {
        let start = reader.position().byte() as usize;
        let mut cells = StringRecord::new();
        match reader.read_record(&mut cells) {
            Ok(true) => {}
            Ok(false) => return Ok(lines),
            Err(error) => {
                return Err(WriteError::Syntax {
                    line: error.position().map_or(0, |at| at.line() as usize),
                    message: error.to_string(),
                });
            }
        }
        let end = reader.position().byte() as usize;
        // The reader may count the line ends before and after to the record.
        let is_line_end = |c| c == '\n' || c == '\r';
        let raw = &text[start..end];
        let start = start + (raw.len() - raw.trim_start_matches(is_line_end).len());
        let raw = raw.trim_matches(is_line_end);
        if cells.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        lines.push(Line {
            cells,
            range: start..start + raw.len(),
            raw: raw.to_owned(),
        });
    }
}

fn column(columns: &StringRecord, name: &'static str) -> Result<usize, WriteError> {
    columns
        .iter()
        .position(|column| column.trim() == name)
        .ok_or(WriteError::MissingColumn(name))
}

impl Line {
    fn with(
        &self,
        changes: &[(&'static str, Cell<'_>)],
        columns: &StringRecord,
        delimiter: u8,
    ) -> Result<Splice, WriteError> {
        let mut cells: Vec<String> = self.cells.iter().map(str::to_owned).collect();
        for (name, cell) in changes {
            let index = column(columns, name)?;
            if cells.len() <= index {
                cells.resize(index + 1, String::new());
            }
            cells[index] = match cell {
                Cell::Number(value) => number_text(*value, &cells[index]),
                Cell::Text(text) => (*text).to_owned(),
            };
        }
        Ok(Splice {
            range: self.range.clone(),
            text: self.text(&cells, delimiter),
        })
    }

    /// The record's text; as it was apart from the changed cells where it has no quotes.
    fn text(&self, cells: &[String], delimiter: u8) -> String {
        let separator = char::from(delimiter);
        let is_plain = |text: &str| !text.contains(['"', '\n', '\r']);
        if is_plain(&self.raw)
            && cells
                .iter()
                .all(|cell| is_plain(cell) && !cell.contains(separator))
        {
            return cells.join(&separator.to_string());
        }
        let mut writer = csv::WriterBuilder::new()
            .delimiter(delimiter)
            .from_writer(Vec::new());
        writer
            .write_record(cells)
            .expect("writing into memory does not fail");
        let bytes = writer
            .into_inner()
            .expect("writing into memory does not fail");
        let text = String::from_utf8(bytes).expect("text in, text out");
        text.trim_end_matches(['\n', '\r']).to_owned()
    }
}
