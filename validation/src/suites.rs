//! What is compared with what: the content of `suites.toml`.

use anyhow::Context;
use serde::Deserialize;

/// All suites, in the order of the page.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Suites {
    /// One per model.
    pub suite: Vec<Suite>,
    /// Whose the cases are, and on what terms.
    pub(crate) sources: Vec<String>,
    /// Checks that rest on no published or independent table.
    pub(crate) unpublished: Vec<String>,
}

/// One model, as the command line names it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Suite {
    /// Plain name: `p1812`.
    pub name: String,
    /// Heading of the section.
    pub(crate) heading: String,
    /// Folder of the tables, where it is not the name.
    folder: Option<String>,
    /// Where the cases come from: publisher, edition, terms.
    pub(crate) source: String,
    /// What the property tests prove, and why a property is missing where it is.
    pub(crate) properties: String,
    /// What is left out, or not proven.
    pub(crate) not_covered: Vec<String>,
    /// Tables compared.
    pub table: Vec<Table>,
}

impl Suite {
    pub(crate) fn folder(&self) -> &str {
        self.folder.as_deref().unwrap_or(&self.name)
    }
}

/// One table of cases, or the rows of it that share an origin.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Table {
    /// File in the suite's folder.
    pub file: String,
    /// Who says so.
    pub(crate) origin: Origin,
    /// Only the rows with this word in this column.
    pub(crate) only: Option<(String, String)>,
    /// Results compared with a tolerance each.
    pub(crate) result: Vec<ResultColumn>,
    /// Tolerance of all further columns that table and model share, of 1 or the value.
    #[serde(default = "usual_tolerance")]
    pub(crate) further: f64,
    /// Why `further` is more than usual.
    pub(crate) further_why: Option<String>,
    /// Rows that are worth a word.
    #[serde(default)]
    pub(crate) note: Vec<Note>,
}

/// Tables carry 12 significant digits.
fn usual_tolerance() -> f64 {
    1e-9
}

/// Who computed the expected values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Origin {
    /// The publisher of the standard or of its reference implementation.
    Published,
    /// A run of the reference implementation over inputs chosen for the project.
    Generated,
    /// The equation, evaluated independently.
    Equation,
}

/// One result and what it must agree with.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ResultColumn {
    /// Column of the model.
    pub(crate) ours: String,
    /// Column of the table, where named otherwise.
    pub(crate) theirs: Option<String>,
    /// Greatest difference that passes.
    pub(crate) tolerance: f64,
    /// `dB`, or `of the value`.
    pub(crate) unit: Unit,
    /// Reason for the tolerance.
    pub(crate) why: String,
}

impl ResultColumn {
    pub(crate) fn theirs(&self) -> &str {
        self.theirs.as_deref().unwrap_or(&self.ours)
    }
}

/// How a difference is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub(crate) enum Unit {
    /// As it is, in decibels.
    #[serde(rename = "dB")]
    Decibels,
    /// As a share of the expected value.
    #[serde(rename = "of the value")]
    Share,
}

impl Unit {
    /// As the page has it behind a number.
    pub(crate) fn text(self) -> &'static str {
        match self {
            Self::Decibels => " dB",
            Self::Share => "",
        }
    }
}

/// Rows counted for the page: those with more than `above` in a column.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Note {
    pub(crate) column: String,
    pub(crate) above: f64,
    /// Follows the number of rows.
    pub(crate) says: String,
}

impl Suites {
    /// The suites of this repository.
    ///
    /// # Errors
    /// Where the text is not what it should be.
    pub fn built_in() -> anyhow::Result<Self> {
        toml::from_str(include_str!("../suites.toml")).context("validation/suites.toml")
    }
}
