//! Premises as a table of text, whatever format they came from.

use std::sync::Arc;

use model::{Finding, Severity, TextPlace};

use crate::text::{SourceText, file_place, shorten, suggestion};

/// Columns that the design reads; any other column is left alone.
pub const PREMISES_COLUMNS: &[&str] = &[
    "id",
    "lon",
    "lat",
    "name",
    "plan",
    "mount_height_agl_m",
    "priority",
    "terminal",
    "sector",
    "mounting",
    "people",
];

/// A table of premises.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PremisesTable {
    /// Path relative to the project folder.
    pub file: Arc<str>,
    /// Column names.
    pub columns: Vec<String>,
    /// One row per premises; a row may be shorter than the columns. There may be
    /// many, and copies of a project share them.
    pub rows: Arc<Vec<PremisesRow>>,
}

/// One premises of a table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PremisesRow {
    /// Line in the file, counted from 1; 0 where the format has no lines.
    pub line: usize,
    /// What the row is called where it has no line, such as `feature 17`; else empty.
    pub label: String,
    /// Cells in the order of the columns; empty where absent.
    pub cells: Vec<String>,
}

impl PremisesTable {
    /// Index of a column.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column == name)
    }

    /// The place of a row, with a piece of its text.
    pub(crate) fn place(&self, row: &PremisesRow, text: &str) -> TextPlace {
        let text = match (row.label.is_empty(), text.is_empty()) {
            (true, _) => shorten(text),
            (false, true) => row.label.clone(),
            (false, false) => format!("{}: {}", row.label, shorten(text)),
        };
        TextPlace {
            file: Arc::clone(&self.file),
            line: row.line,
            column: 0,
            text,
        }
    }
}

/// The character between the cells of a CSV text: the commonest of comma,
/// semicolon and tab in its first line.
pub(crate) fn delimiter(text: &str) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty());
    let header = header.unwrap_or("");
    let count = |c: char| header.matches(c).count();
    if count(';') > count(',') {
        b';'
    } else if count('\t') > count(',') {
        b'\t'
    } else {
        b','
    }
}

/// Reads premises from CSV text with a header line.
pub fn premises_from_csv(source: &SourceText) -> (Option<PremisesTable>, Vec<Finding>) {
    let mut findings = Vec::new();
    let text = source.text.trim_start_matches('\u{feff}');
    if text.trim().is_empty() {
        findings.push(
            Finding::new(
                Severity::Error,
                "empty-file",
                format!("`{}` is empty", source.file),
            )
            .at(file_place(&source.file))
            .hint(format!(
                "start it with the line `{}`",
                PREMISES_COLUMNS.join(",")
            )),
        );
        return (None, findings);
    }
    let delimiter = delimiter(text);
    if delimiter != b',' {
        findings.push(
            Finding::new(
                Severity::Note,
                "delimiter",
                format!(
                    "`{}` separates its cells with {}",
                    source.file,
                    if delimiter == b';' {
                        "semicolons"
                    } else {
                        "tabs"
                    }
                ),
            )
            .at(file_place(&source.file))
            .hint("it is read all the same; a table saved as comma-separated CSV reads everywhere"),
        );
    }
    let table = csv_table(&source.file, text, delimiter, &mut findings);
    (table, findings)
}

fn csv_table(
    file: &Arc<str>,
    text: &str,
    delimiter: u8,
    findings: &mut Vec<Finding>,
) -> Option<PremisesTable> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut table = PremisesTable {
        file: Arc::clone(file),
        ..PremisesTable::default()
    };
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                findings.push(csv_finding(&error, file));
                continue;
            }
        };
        let line = record.position().map_or(0, |at| at.line() as usize);
        let cells: Vec<String> = record.iter().map(|cell| cell.trim().to_owned()).collect();
        if cells.iter().all(String::is_empty) {
            continue;
        }
        if table.columns.is_empty() {
            check_header(file, line, &cells, findings);
            table.columns = cells;
            continue;
        }
        if cells.len() > table.columns.len() {
            // Whatever moved the cells apart, they no longer stand in their columns.
            findings.push(too_many_cells(&table, line, &cells));
            continue;
        }
        rows.push(PremisesRow {
            line,
            label: String::new(),
            cells,
        });
    }
    table.rows = Arc::new(rows);
    Some(table)
}

fn csv_finding(error: &csv::Error, file: &Arc<str>) -> Finding {
    let line = error.position().map_or(0, |at| at.line() as usize);
    Finding::new(Severity::Error, "syntax", format!("not valid CSV: {error}"))
        .at(TextPlace {
            line,
            ..file_place(file)
        })
        .hint("open the table in a text editor and look at this line's quotes")
}

fn too_many_cells(table: &PremisesTable, line: usize, cells: &[String]) -> Finding {
    let place = TextPlace {
        line,
        text: shorten(&cells.join(",")),
        ..file_place(&table.file)
    };
    let message = format!(
        "the row has `{}` cells, the header `{}`",
        cells.len(),
        table.columns.len()
    );
    Finding::new(Severity::Error, "row-length", message)
        .at(place)
        .hint("put text with a comma in quotes, and write the decimal point as `.`, not `,`")
}

/// Says which columns a header lacks, repeats or misspells.
pub fn check_header(file: &Arc<str>, line: usize, columns: &[String], findings: &mut Vec<Finding>) {
    let place = |text: &str| TextPlace {
        line,
        text: shorten(text),
        ..file_place(file)
    };
    for (index, column) in columns.iter().enumerate() {
        if columns[..index].contains(column) && PREMISES_COLUMNS.contains(&column.as_str()) {
            findings.push(
                Finding::new(
                    Severity::Error,
                    "duplicate-column",
                    format!("column `{column}` stands twice"),
                )
                .at(place(column))
                .hint("remove one of them; the first is read"),
            );
        }
        if PREMISES_COLUMNS.contains(&column.as_str()) {
            continue;
        }
        let missing = PREMISES_COLUMNS
            .iter()
            .copied()
            .filter(|known| !columns.iter().any(|c| c == known));
        if let Some(meant) = crate::text::nearest(column, missing) {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    "unknown-column",
                    format!("column `{}` is not read", shorten(column)),
                )
                .at(place(column))
                .hint(format!("did you mean `{meant}`?")),
            );
        }
    }
    for needed in ["id", "lon", "lat"] {
        if !columns.iter().any(|column| column == needed) {
            let hint = suggestion(needed, columns.iter().map(String::as_str));
            findings.push(
                Finding::new(
                    Severity::Error,
                    "missing-column",
                    format!("column `{needed}` is missing"),
                )
                .at(place(&columns.join(",")))
                .hint(format!("name a column `{needed}`; {hint}")),
            );
        }
    }
}
