//! The batch calculator: a published model over a table of cases.
//!
//! [`MODELS`] lists the models with their columns. [`run`] reads a CSV table of
//! cases and writes a CSV table of results; [`explain`] lists every term of
//! one case. Column names are those of the reference tables the models are
//! tested against, so such a table is itself a valid input: columns a model
//! does not read, its expected results among them, are passed over. A plain
//! name such as `p2108` stands for a [`family`] of tables, of which [`choose`]
//! takes the one whose columns are there.
//!
//! Nothing here opens a file. Terrain profiles are asked for by name from a
//! [`ProfileSource`]. Whatever the text, the answer is a table or a list of
//! all the [`Problems`] in it, each with its line and what to do.

mod cases;
mod columns;
mod family;
mod model;
mod models;
mod number;
mod problem;
mod profile;
mod table;

pub use cases::Case;
pub use columns::{Choice, Column, Input, Kind};
pub use family::{choose, family};
pub use model::{Model, Outcome, Value};
pub use models::{FAMILIES, MODELS, model};
pub use number::twelve_digits;
pub use physics::path_loss::{Term, Warning};
pub use problem::{
    Fault, MAX_CASES, MAX_PROFILE_POINTS, MAX_TEXT_BYTES, Place, Problem, Problems, Unavailable,
};
pub use profile::{Profile, ProfileSource};

use cases::Cases;

/// Results of a table of cases.
#[derive(Clone, Debug, PartialEq)]
pub struct Results {
    /// CSV text: `case`, then the model's output columns; 12 significant digits.
    pub csv: String,
    /// Number of cases computed.
    pub cases: usize,
    /// Cases outside the model's stated range, in table order. They are computed all the same.
    pub warnings: Vec<CaseWarning>,
}

/// A case outside the stated range of its model.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseWarning {
    /// Line of the case in the table.
    pub line: u64,
    /// Name of the case.
    pub case: String,
    /// What lies outside.
    pub warning: Warning,
}

/// Every term of one case.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// Name of the case.
    pub case: String,
    /// Terms in the order of the computation.
    pub terms: Vec<Term>,
    /// Where the case leaves the model's stated range.
    pub warnings: Vec<Warning>,
}

/// Computes every case of a CSV table.
///
/// # Errors
/// Every problem of the table and of the profiles it names; then nothing is computed.
pub fn run(
    model: &Model,
    table: &str,
    profiles: &mut dyn ProfileSource,
) -> Result<Results, Problems> {
    let cases = Cases::read(model.inputs, table, profiles)?;
    let header = std::iter::once("case").chain(model.outputs.iter().map(|c| c.name));
    let mut csv = header.collect::<Vec<_>>().join(",");
    csv.push('\n');
    let mut problems = Vec::new();
    let mut warnings = Vec::new();
    for case in cases.iter() {
        let outcome = model.compute(&case);
        match row(model, &case, &outcome) {
            Ok(text) => csv.push_str(&text),
            Err(problem) => problems.push(problem),
        }
        let line = case.line();
        let name = case.name();
        warnings.extend(outcome.warnings.into_iter().map(|warning| CaseWarning {
            line,
            case: name.to_owned(),
            warning,
        }));
    }
    Problems::none_of(problems)?;
    Ok(Results {
        csv,
        cases: cases.len(),
        warnings,
    })
}

/// Computes one case of a CSV table and lists all its terms.
///
/// * `name`: value of the `case` column, or the number of the case from 1
///   where the table has no such column.
///
/// # Errors
/// Every problem of the table, or [`Fault::NoSuchCase`].
pub fn explain(
    model: &Model,
    table: &str,
    name: &str,
    profiles: &mut dyn ProfileSource,
) -> Result<Explanation, Problems> {
    let cases = Cases::read(model.inputs, table, profiles)?;
    let Some(case) = cases.iter().find(|case| case.name() == name) else {
        return Err(Problem::of_table(Fault::NoSuchCase, name).into());
    };
    let outcome = model.compute(&case);
    Ok(Explanation {
        case: name.to_owned(),
        terms: outcome.terms,
        warnings: outcome.warnings,
    })
}

/// One line of results.
fn row(model: &Model, case: &Case<'_>, outcome: &Outcome) -> Result<String, Problem> {
    let mut line = quoted(case.name());
    for (column, value) in model.outputs.iter().zip(&outcome.values) {
        line.push(',');
        match value {
            Value::Number(x) if x.is_finite() => line.push_str(&twelve_digits(*x)),
            Value::Number(_) => return Err(case.problem(Fault::NotComputable, column.name)),
            Value::Word(word) => line.push_str(word),
        }
    }
    line.push('\n');
    Ok(line)
}

/// A field as CSV wants it.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
