//! The ledger as a table for spreadsheets and scripts (RFC 4180, UTF-8).

use crate::format::decimals_of_field;
use crate::handout::{Handout, OutputError};
use crate::layers::{self, Cell, Layer};

/// All premises, one row each.
pub fn premises(handout: &Handout<'_>) -> Result<Vec<u8>, OutputError> {
    table(&layers::premises(handout))
}

/// All sectors, one row each.
pub fn sectors(handout: &Handout<'_>) -> Result<Vec<u8>, OutputError> {
    table(&layers::sectors(handout))
}

fn table(layer: &Layer) -> Result<Vec<u8>, OutputError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(layer.columns.iter().map(|c| c.name))?;
    for row in &layer.rows {
        let cells = layer.columns.iter().zip(&row.cells);
        writer.write_record(cells.map(|(column, cell)| text(column.name, cell)))?;
    }
    writer
        .into_inner()
        .map_err(|e| OutputError::Table(e.into_error().into()))
}

fn text(column: &str, cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.clone(),
        Cell::Number(value) => {
            let decimals = decimals_of_field(column);
            let value = crate::format::round_field(column, *value);
            format!("{value:.decimals$}")
        }
        Cell::Count(value) => value.to_string(),
        Cell::Flag(value) => value.to_string(),
        Cell::Empty => String::new(),
    }
}
