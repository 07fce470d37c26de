//! Tables of text cells, before anybody asks what they mean.

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::problem::{Fault, Place, Problem, Problems, shortened};

/// A table of text cells.
pub(crate) struct Table {
    place: Place,
    header: StringRecord,
    pub(crate) rows: Vec<Row>,
}

/// One line of a table.
pub(crate) struct Row {
    pub(crate) line: u64,
    pub(crate) cells: StringRecord,
}

impl Table {
    /// Reads a CSV text. Short lines are kept; a missing cell is told where it is needed.
    pub(crate) fn read(place: &Place, text: &str) -> Result<Self, Problems> {
        let mut reader = ReaderBuilder::new()
            .flexible(true)
            .trim(Trim::All)
            .from_reader(text.as_bytes());
        let failed = |error: csv::Error| Problem {
            place: place.clone(),
            line: error.position().map_or(0, csv::Position::line),
            column: String::new(),
            text: String::new(),
            fault: Fault::NotCsv(error.to_string()),
        };
        let header = reader.headers().map_err(failed)?.clone();
        let mut rows = Vec::new();
        for record in reader.records() {
            let cells = record.map_err(failed)?;
            let line = cells.position().map_or(0, csv::Position::line);
            rows.push(Row { line, cells });
        }
        Ok(Self {
            place: place.clone(),
            header,
            rows,
        })
    }

    /// Index of a column, the first of that name.
    pub(crate) fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|c| c == name)
    }

    /// How many columns have this name.
    pub(crate) fn columns_named(&self, name: &str) -> usize {
        self.header.iter().filter(|c| *c == name).count()
    }

    /// A problem of one cell.
    pub(crate) fn problem(&self, row: &Row, index: usize, fault: Fault, text: &str) -> Problem {
        Problem {
            place: self.place.clone(),
            line: row.line,
            column: self.header.get(index).unwrap_or("").to_owned(),
            text: shortened(text),
            fault,
        }
    }
}

/// The number in a cell.
pub(crate) fn number(table: &Table, row: &Row, index: usize) -> Result<f64, Problem> {
    let text = row.cells.get(index).unwrap_or("");
    if text.is_empty() {
        return Err(table.problem(row, index, Fault::MissingValue, ""));
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(table.problem(row, index, Fault::NotANumber, text)),
    }
}
