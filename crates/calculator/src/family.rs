//! Models that go by one plain name: a Recommendation with several tables.

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::columns::Kind;
use crate::model::Model;
use crate::models::{FAMILIES, model};
use crate::problem::{Fault, Problem, Problems};

/// The models a plain name stands for: all tables of a Recommendation, or the
/// one model of that name; empty where there is none.
#[must_use]
pub fn family(name: &str) -> Vec<&'static Model> {
    match FAMILIES.iter().find(|(plain, _)| *plain == name) {
        Some((_, members)) => members.to_vec(),
        None => model(name).into_iter().collect(),
    }
}

/// The model of a family that a table of cases is meant for.
///
/// A model fits where every column it reads is in the header and every word
/// in these is one it knows. Of several that fit, the one that reads the most
/// columns is taken. A family of one is taken whatever the table: [`crate::run`]
/// then tells what the table lacks.
///
/// # Errors
/// [`Fault::NoTableFits`] or [`Fault::SeveralTablesFit`], with the columns of each.
pub fn choose(members: &[&'static Model], table: &str) -> Result<&'static Model, Problems> {
    if let [only] = members {
        return Ok(only);
    }
    let mut reader = ReaderBuilder::new()
        .flexible(true)
        .trim(Trim::All)
        .from_reader(table.as_bytes());
    let header = reader.headers().cloned().unwrap_or_default();
    let mut fitting: Vec<&'static Model> = members
        .iter()
        .copied()
        .filter(|model| reads_from(model, &header))
        .collect();
    if fitting.len() > 1 {
        for record in reader.records().flatten() {
            fitting.retain(|model| knows_words(model, &header, &record));
        }
    }
    let most = fitting.iter().map(|m| m.inputs.len()).max().unwrap_or(0);
    fitting.retain(|model| model.inputs.len() == most);
    match fitting.as_slice() {
        [one] => Ok(one),
        [] => Err(refused(members, Fault::NoTableFits)),
        several => Err(refused(several, Fault::SeveralTablesFit)),
    }
}

fn reads_from(model: &Model, header: &StringRecord) -> bool {
    let is_there = |name: &str| header.iter().any(|c| c == name);
    model.inputs.iter().all(|input| is_there(input.column.name))
}

fn knows_words(model: &Model, header: &StringRecord, record: &StringRecord) -> bool {
    model.inputs.iter().all(|input| match input.kind {
        Kind::Word(words) => header
            .iter()
            .position(|c| c == input.column.name)
            .and_then(|i| record.get(i))
            .is_some_and(|cell| words.contains(&cell)),
        _ => true,
    })
}

fn refused(models: &[&'static Model], fault: fn(Vec<String>) -> Fault) -> Problems {
    let columns = |model: &&'static Model| {
        let names = model.inputs.iter().map(|input| input.column.name);
        format!(
            "`{}` reads {}",
            model.name,
            names.collect::<Vec<_>>().join(", ")
        )
    };
    let tables = models.iter().map(columns).collect();
    let problem = Problem {
        line: 1,
        ..Problem::of_table(fault(tables), "")
    };
    problem.into()
}
