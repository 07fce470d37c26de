//! Running the calculator over a table and comparing columns.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::{Context, bail, ensure};
use calculator::{Model, Unavailable};

use crate::suites::{Note, Origin, ResultColumn, Suite, Table, Unit};

/// What came of a suite.
#[derive(Debug)]
pub struct Measured {
    /// Name of the suite.
    pub name: String,
    /// Its tables, in order.
    pub tables: Vec<TableMeasured>,
}

/// What came of a table.
#[derive(Debug)]
pub struct TableMeasured {
    /// Model of the calculator that the columns chose.
    pub model: &'static Model,
    /// Rows compared.
    pub rows: usize,
    pub(crate) is_published: bool,
    /// Rows outside the range the model states, computed all the same.
    pub(crate) outside_range: usize,
    /// Rows of each note.
    pub(crate) noted: Vec<usize>,
    /// One per result.
    pub results: Vec<Comparison>,
    /// All further columns, differences of 1 or the value.
    pub further: Option<Comparison>,
    pub(crate) further_columns: usize,
}

/// Differences of one column, or of several together.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The column; of several, the one with the greatest difference.
    pub column: String,
    /// Greatest difference.
    pub worst: f64,
    /// Root mean square of the differences.
    pub rms: f64,
    /// Greatest difference that passes.
    pub tolerance: f64,
}

impl Comparison {
    /// Whether every difference passes; one that is no number does not.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.worst <= self.tolerance
    }
}

impl TableMeasured {
    /// Whether every compared column passes.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.results
            .iter()
            .chain(&self.further)
            .all(Comparison::passes)
    }
}

type Row = BTreeMap<String, String>;

pub(crate) fn measure(suite: &Suite, folder: &Path) -> anyhow::Result<Measured> {
    let tables = suite.table.iter().map(|table| {
        measure_table(suite, table, folder).with_context(|| format!("table `{}`", table.file))
    });
    Ok(Measured {
        name: suite.name.clone(),
        tables: tables.collect::<anyhow::Result<_>>()?,
    })
}

fn measure_table(suite: &Suite, table: &Table, folder: &Path) -> anyhow::Result<TableMeasured> {
    let text = std::fs::read_to_string(folder.join(&table.file))?;
    let mut profiles = |name: &str| {
        std::fs::read_to_string(folder.join("profiles").join(format!("{name}.csv")))
            .map_err(|_| Unavailable::Unknown)
    };
    let model = calculator::choose(&calculator::family(&suite.name), &text)?;
    let results = calculator::run(model, &text, &mut profiles)?;
    let wanted = |row: &Row| match &table.only {
        Some((column, word)) => row.get(column) == Some(word),
        None => true,
    };
    let (expected, got) = (rows(&text)?, rows(&results.csv)?);
    ensure!(expected.len() == got.len(), "{} rows of results", got.len());
    let warned: BTreeSet<u64> = results.warnings.iter().map(|w| w.line).collect();
    let mut outside_range = 0;
    let mut pairs = Vec::new();
    // The first case stands in line 2, below the header.
    for (line, pair) in (2..).zip(got.into_iter().zip(expected)) {
        if wanted(&pair.1) {
            outside_range += usize::from(warned.contains(&line));
            pairs.push(pair);
        }
    }
    ensure!(!pairs.is_empty(), "no row is wanted");
    let compared = table.result.iter().map(|r| compare(&pairs, r));
    let (further, further_columns) = compare_further(&pairs, model, table)?;
    Ok(TableMeasured {
        model,
        rows: pairs.len(),
        is_published: table.origin == Origin::Published,
        outside_range,
        noted: table.note.iter().map(|note| count(&pairs, note)).collect(),
        results: compared.collect::<anyhow::Result<_>>()?,
        further,
        further_columns,
    })
}

fn rows(text: &str) -> anyhow::Result<Vec<Row>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    Ok(reader.deserialize().collect::<Result<_, _>>()?)
}

fn number(row: &Row, column: &str) -> anyhow::Result<f64> {
    let text = row
        .get(column)
        .with_context(|| format!("no column `{column}`"))?;
    text.parse()
        .with_context(|| format!("column `{column}`: `{text}`"))
}

fn compare(pairs: &[(Row, Row)], result: &ResultColumn) -> anyhow::Result<Comparison> {
    let differences = pairs.iter().map(|(got, expected)| {
        let (a, b) = (
            number(got, &result.ours)?,
            number(expected, result.theirs())?,
        );
        anyhow::Ok(match result.unit {
            Unit::Decibels => a - b,
            Unit::Share if a == b => 0.0,
            Unit::Share => (a - b) / b,
        })
    });
    let differences: Vec<f64> = differences.collect::<anyhow::Result<_>>()?;
    Ok(Comparison {
        column: result.ours.clone(),
        worst: greatest(&differences),
        rms: root_mean_square(&differences),
        tolerance: result.tolerance,
    })
}

/// Columns that model and table share beyond the results, together.
fn compare_further(
    pairs: &[(Row, Row)],
    model: &Model,
    table: &Table,
) -> anyhow::Result<(Option<Comparison>, usize)> {
    let is_result = |name: &str| {
        table
            .result
            .iter()
            .any(|r| r.theirs() == name || r.ours == name)
    };
    let shared = |name: &str| pairs[0].1.contains_key(name) && !is_result(name);
    let columns: Vec<&str> = model
        .outputs
        .iter()
        .map(|c| c.name)
        .filter(|n| shared(n))
        .collect();
    let mut all = Vec::new();
    let mut worst = ("", 0.0);
    for column in &columns {
        for (got, expected) in pairs {
            let difference = difference_of_cells(&got[*column], &expected[*column], column)?;
            if difference > worst.1 || difference.is_nan() {
                worst = (*column, difference);
            }
            all.push(difference);
        }
    }
    let comparison = (!columns.is_empty()).then(|| Comparison {
        column: worst.0.to_owned(),
        worst: greatest(&all),
        rms: root_mean_square(&all),
        tolerance: table.further,
    });
    Ok((comparison, columns.len()))
}

/// Of 1 or the value; words must be the same.
fn difference_of_cells(got: &str, expected: &str, column: &str) -> anyhow::Result<f64> {
    match (got.parse::<f64>(), expected.parse::<f64>()) {
        (Ok(a), Ok(b)) => Ok((a - b).abs() / b.abs().max(1.0)),
        _ if got == expected => Ok(0.0),
        _ => bail!("column `{column}`: `{got}` where `{expected}` is expected"),
    }
}

/// Infinite where a difference is no number.
fn greatest(differences: &[f64]) -> f64 {
    differences
        .iter()
        .map(|d| if d.is_nan() { f64::INFINITY } else { d.abs() })
        .fold(0.0, f64::max)
}

fn root_mean_square(differences: &[f64]) -> f64 {
    let sum: f64 = differences.iter().map(|d| d * d).sum();
    (sum / differences.len() as f64).sqrt()
}

fn count(pairs: &[(Row, Row)], note: &Note) -> usize {
    let is_noted = |(_, expected): &&(Row, Row)| {
        number(expected, &note.column).is_ok_and(|value| value > note.above)
    };
    pairs.iter().filter(is_noted).count()
}
