//! Edits of sectors, into `mastwright.toml`.

use std::collections::BTreeMap;

use model::edit::SectorField;
use model::{Edit, SectorId};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{Splice, WriteError, number_text, spliced};

/// The design's text with the edits of sectors written into it; edits of
/// premises are left alone. Of several edits of one number the last counts.
///
/// A key that a sector took from its defaults is added below its `id`.
pub fn apply_edits(text: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mut wanted: BTreeMap<(&SectorId, SectorField), f64> = BTreeMap::new();
    for edit in edits {
        if let Edit::Sector {
            sector,
            field,
            value,
        } = edit
        {
            if !value.is_finite() {
                return Err(WriteError::NotFinite { key: field.key() });
            }
            wanted.insert((sector, *field), *value);
        }
    }
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let body = &text[mark..];
    let document = DeTable::parse(body).map_err(|error| syntax(&error, body))?;
    let tables = document.get_ref().get("sector");
    let tables = tables.and_then(|sectors| sectors.get_ref().as_array());
    let mut splices = Vec::new();
    for ((sector, field), value) in wanted {
        let table = tables
            .into_iter()
            .flat_map(|tables| tables.iter())
            .find_map(|table| SectorTable::of(table, sector))
            .ok_or_else(|| WriteError::UnknownSector(sector.clone()))?;
        splices.push(table.set(body, field.key(), value));
    }
    Ok(text[..mark].to_owned() + &spliced(body, splices))
}

fn syntax(error: &toml::de::Error, text: &str) -> WriteError {
    let start = error.span().map_or(0, |span| span.start.min(text.len()));
    WriteError::Syntax {
        line: text.as_bytes()[..start]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
            + 1,
        message: error.message().replace('\n', ", "),
    }
}

/// The table of one sector in the text.
struct SectorTable<'t> {
    keys: &'t DeTable<'t>,
    id_end: usize,
    start: usize,
}

impl<'t> SectorTable<'t> {
    fn of(table: &'t Spanned<DeValue<'t>>, sector: &SectorId) -> Option<Self> {
        let keys = table.get_ref().as_table()?;
        let id = keys.get("id")?;
        (id.get_ref().as_str() == Some(sector.as_str())).then(|| Self {
            keys,
            id_end: id.span().end,
            start: table.span().start,
        })
    }

    fn set(&self, text: &str, key: &str, value: f64) -> Splice {
        match self.keys.get(key) {
            Some(old) => Splice {
                text: number_text(value, &text[old.span()]),
                range: old.span(),
            },
            None => self.add(text, key, &number_text(value, "")),
        }
    }

    fn add(&self, text: &str, key: &str, value: &str) -> Splice {
        if text[self.start..].starts_with('{') {
            return Splice {
                range: self.id_end..self.id_end,
                text: format!(", {key} = {value}"),
            };
        }
        let rest = &text[self.id_end..];
        let line_end = rest.find('\n').unwrap_or(rest.len());
        let (line_end, newline) = match rest[..line_end].strip_suffix('\r') {
            Some(line) => (line.len(), "\r\n"),
            None => (line_end, "\n"),
        };
        let line_start = text[..self.id_end].rfind('\n').map_or(0, |at| at + 1);
        let line = &text[line_start..];
        let indent = &line[..line.len() - line.trim_start_matches([' ', '\t']).len()];
        let at = self.id_end + line_end;
        Splice {
            range: at..at,
            text: format!("{newline}{indent}{key} = {value}"),
        }
    }
}
