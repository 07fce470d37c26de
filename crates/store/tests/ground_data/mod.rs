//! Where the shared reference data is, and its tables.
#![allow(dead_code, reason = "every test target takes the parts it needs")]
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests fail the test, and say what was skipped"
)]

use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A file or folder of the shared reference data, if it is here.
pub(crate) fn shared(what: &str) -> Option<PathBuf> {
    #[expect(
        clippy::disallowed_methods,
        reason = "tests may be told where the shared data is"
    )]
    let root = std::env::var("MASTWRIGHT_SHARED").map_or_else(
        |_| PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared")),
        PathBuf::from,
    );
    let path = root.join(what);
    if !path.exists() {
        println!("skipped: {what}, the shared reference data is not here");
        return None;
    }
    Some(path)
}

/// A row of a table by column name.
pub(crate) struct Row(HashMap<String, String>);

impl Row {
    /// The text of a column; empty where it is absent.
    pub(crate) fn text(&self, column: &str) -> &str {
        self.0.get(column).map_or("", String::as_str)
    }

    /// The number of a column; `None` where it is empty.
    pub(crate) fn number(&self, column: &str) -> Option<f64> {
        self.text(column).parse().ok()
    }
}

/// The rows of a comma-separated table with a header line.
pub(crate) fn table(path: &Path) -> Vec<Row> {
    let text = read_text(path);
    let mut lines = text.lines();
    let header = cells(lines.next().unwrap());
    let row = |line: &str| Row(header.iter().cloned().zip(cells(line)).collect());
    lines.filter(|l| !l.is_empty()).map(row).collect()
}

/// The cells of a line; quotes protect commas.
fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().unwrap().push(c),
        }
    }
    cells
}

#[expect(clippy::disallowed_methods, reason = "tests read their reference data")]
fn read_text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[expect(clippy::disallowed_methods, reason = "tests read their reference data")]
pub(crate) fn read_bytes(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap()
}
