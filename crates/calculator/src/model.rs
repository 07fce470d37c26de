//! What the calculator knows of a model: its columns and how to compute a case.

use physics::path_loss::{Term, Warning};

use crate::cases::Case;
use crate::columns::{Column, Input};

/// A published model as an entry of the list.
#[derive(Debug)]
pub struct Model {
    /// Name to call it by: `p1812`.
    pub name: &'static str,
    /// Title with edition.
    pub title: &'static str,
    /// Range the source states, and what is left out.
    pub range: &'static str,
    /// Columns it reads; the column `case` may be added to any table.
    pub inputs: &'static [Input],
    /// Columns it writes, after `case`.
    pub outputs: &'static [Column],
    pub(crate) run: fn(&Case<'_>) -> Outcome,
}

impl Model {
    pub(crate) fn compute(&self, case: &Case<'_>) -> Outcome {
        (self.run)(case)
    }
}

/// Results of one case.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// One per output column.
    pub values: Vec<Value>,
    /// Every term, for a person to read.
    pub terms: Vec<Term>,
    /// Where the case leaves the model's stated range.
    pub warnings: Vec<Warning>,
}

/// A cell of the result table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A word.
    Word(&'static str),
}

impl Outcome {
    /// Numbers for each output column, each of them a term.
    pub(crate) fn of_numbers(outputs: &[Column], numbers: &[f64]) -> Self {
        let terms = outputs.iter().zip(numbers).map(|(column, value)| Term {
            name: column.name,
            meaning: column.meaning,
            value: *value,
            unit: column.unit,
        });
        Self {
            terms: terms.collect(),
            values: numbers.iter().copied().map(Value::Number).collect(),
            warnings: Vec::new(),
        }
    }
}
