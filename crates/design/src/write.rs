//! Edits back into the text.
//!
//! Only the bytes of the edited value change: comments, layout, line ends
//! and the spelling of every other number stay as their author left them.
//! [`apply_edits`] writes what belongs into `mastwright.toml`,
//! [`apply_premises_edits`] what belongs into `premises.csv`,
//! [`apply_geojson_edits`] into `premises.geojson`; each leaves the
//! others' edits alone, so a caller hands the whole list to both.

mod blocks;
mod geojson;
mod ground;
mod premises;
mod sectors;

pub use geojson::apply_geojson_edits;
pub use ground::{PatternCard, RasterRole, add_pattern_card, name_raster};
pub use premises::apply_premises_edits;
pub use sectors::apply_edits;

use std::fmt;
use std::ops::Range;

use model::{MastId, PremisesId, SectorId};

/// Why edits could not be written. No text has been changed then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WriteError {
    /// The text cannot be read, so nothing is written into it.
    Syntax {
        /// Line, counted from 1.
        line: usize,
        /// What is wrong there.
        message: String,
    },
    /// The text has no such sector.
    UnknownSector(SectorId),
    /// The text has no such mast.
    UnknownMast(MastId),
    /// The tables stand in one line of braces, where none can be added or taken out.
    InlineTable(&'static str),
    /// The text has no such premises.
    UnknownPremises(PremisesId),
    /// The premises is an area or a line, not a point.
    NoPoint(PremisesId),
    /// The table of premises has no such column.
    MissingColumn(&'static str),
    /// The new value is not a number that text can hold.
    NotFinite {
        /// The key it was meant for.
        key: &'static str,
    },
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            WriteError::Syntax { line, message } => write!(
                f,
                "line {line} cannot be read: {message}\nhint: correct the file before it is changed"
            ),
            WriteError::UnknownSector(id) => write!(
                f,
                "the file has no sector `{id}`\nhint: read the project again, the file has changed"
            ),
            WriteError::UnknownMast(id) => write!(
                f,
                "the file has no mast `{id}`\nhint: read the project again, the file has changed"
            ),
            WriteError::InlineTable(array) => write!(
                f,
                "the {array}s stand in braces, where none can be added or taken out\nhint: write each as a table of its own below `[[{array}]]`"
            ),
            WriteError::UnknownPremises(id) => write!(
                f,
                "the file has no premises `{id}`\nhint: read the project again, the file has changed"
            ),
            WriteError::NoPoint(id) => write!(
                f,
                "premises `{id}` is no point and cannot be moved here\nhint: move it with the program that drew it"
            ),
            WriteError::MissingColumn(column) => write!(
                f,
                "the table has no column `{column}`\nhint: add it to the header line"
            ),
            WriteError::NotFinite { key } => {
                write!(f, "`{key}` cannot be set to a value that is not finite")
            }
        }
    }
}

impl std::error::Error for WriteError {}

/// A piece of text and what replaces it.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Splice {
    range: Range<usize>,
    text: String,
}

/// Applies splices that do not overlap.
fn spliced(text: &str, mut splices: Vec<Splice>) -> String {
    // Stable: insertions at one place keep their order.
    splices.sort_by_key(|splice| splice.range.start);
    let mut out = String::with_capacity(text.len() + 16 * splices.len());
    let mut copied = 0;
    for splice in &splices {
        out.push_str(&text[copied..splice.range.start]);
        out.push_str(&splice.text);
        copied = splice.range.end;
    }
    out.push_str(&text[copied..]);
    out
}

/// A number as a person would write it in place of another.
fn number_text(value: f64, before: &str) -> String {
    // Adding zero turns a negative zero into a plain one.
    let text = format!("{}", value + 0.0);
    if before.contains('.') && !text.contains('.') {
        format!("{text}.0")
    } else {
        text
    }
}
