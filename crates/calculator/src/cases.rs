//! Reading a table of cases: cells to checked values.

use std::collections::BTreeMap;

use crate::columns::{Input, Kind};
use crate::problem::{Fault, MAX_CASES, MAX_TEXT_BYTES, Place, Problem, Problems};
use crate::profile::{Ground, Profile, ProfileSource, is_plain_name, read_heights};
use crate::table::{Row, Table, number};

/// A checked cell.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Cell {
    Number(f64),
    Word(&'static str),
    /// Index into the profiles of the run.
    Profile(usize),
    /// Not needed in this case, and not read.
    Absent,
}

/// All cases of a table, checked, with the profiles they name.
pub(crate) struct Cases {
    inputs: &'static [Input],
    cases: Vec<(u64, String, Vec<Cell>)>,
    profiles: Vec<Ground>,
}

impl Cases {
    /// Reads and checks everything, or tells everything that is wrong.
    pub(crate) fn read(
        inputs: &'static [Input],
        text: &str,
        source: &mut dyn ProfileSource,
    ) -> Result<Self, Problems> {
        if text.len() > MAX_TEXT_BYTES {
            return Err(Problem::of_table(Fault::TooLarge, "").into());
        }
        let table = Table::read(&Place::Table, text)?;
        let columns = columns(inputs, &table)?;
        match table.rows.len() {
            0 => return Err(Problem::of_table(Fault::NoCases, "").into()),
            n if n > MAX_CASES => return Err(Problem::of_table(Fault::TooManyCases, "").into()),
            _ => {}
        }
        let mut shelf = Shelf {
            source,
            known: BTreeMap::new(),
            profiles: Vec::new(),
        };
        let mut problems = Vec::new();
        let mut cases = Vec::with_capacity(table.rows.len());
        let named = table.column("case");
        for (i, row) in table.rows.iter().enumerate() {
            let mut cells = Vec::with_capacity(columns.len());
            for (input, index) in inputs.iter().zip(&columns) {
                if !is_needed(&table, row, input) {
                    cells.push(Cell::Absent);
                    continue;
                }
                match checked(&table, row, *index, input.kind, &mut shelf) {
                    Ok(cell) => cells.push(cell),
                    Err(found) => problems.extend(found),
                }
            }
            let name = named.and_then(|c| row.cells.get(c)).map(str::to_owned);
            cases.push((row.line, name.unwrap_or_else(|| (i + 1).to_string()), cells));
        }
        Problems::none_of(problems)?;
        Ok(Self {
            inputs,
            cases,
            profiles: shelf.profiles,
        })
    }

    pub(crate) fn len(&self) -> usize {
        self.cases.len()
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = Case<'_>> {
        self.cases.iter().map(|(line, name, cells)| Case {
            cases: self,
            line: *line,
            name,
            cells,
        })
    }
}

/// Where the model's inputs stand in the table.
fn columns(inputs: &[Input], table: &Table) -> Result<Vec<usize>, Problems> {
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    let mut tell = |column: &str, fault| {
        problems.push(Problem {
            line: 1,
            column: column.to_owned(),
            ..Problem::of_table(fault, "")
        });
    };
    for input in inputs {
        let name = input.column.name;
        match table.column(name) {
            None => tell(
                name,
                Fault::MissingColumn {
                    meaning: input.column.meaning,
                },
            ),
            Some(_) if table.columns_named(name) > 1 => {
                tell(name, Fault::DoubleColumn);
            }
            Some(index) => found.push(index),
        }
    }
    Problems::none_of(problems).map(|()| found)
}

/// False for an input that other choices of the case make idle.
fn is_needed(table: &Table, row: &Row, input: &Input) -> bool {
    input.only_for.is_none_or(|choice| {
        let index = table.column(choice.column);
        index.and_then(|i| row.cells.get(i)) == Some(choice.word)
    })
}

/// The profiles of a run, each read once.
struct Shelf<'s> {
    source: &'s mut dyn ProfileSource,
    /// Index of the profile; `None` where it was found unusable, and told.
    known: BTreeMap<String, Option<usize>>,
    profiles: Vec<Ground>,
}

impl Shelf<'_> {
    /// Index of a profile. One that is unusable is told once.
    fn index(
        &mut self,
        name: &str,
        kind: Kind,
        here: impl Fn(Fault) -> Problem,
    ) -> Result<usize, Vec<Problem>> {
        if let Some(known) = self.known.get(name) {
            return known.ok_or_else(Vec::new);
        }
        let read = self.load(name, kind, here);
        let index = read.as_ref().ok().copied();
        self.known.insert(name.to_owned(), index);
        read
    }

    fn load(
        &mut self,
        name: &str,
        kind: Kind,
        here: impl Fn(Fault) -> Problem,
    ) -> Result<usize, Vec<Problem>> {
        if !is_plain_name(name) {
            return Err(vec![here(Fault::UnsafeName)]);
        }
        let text = self
            .source
            .profile(name)
            .map_err(|why| vec![here(Fault::NoProfile(why))])?;
        let ground = match kind {
            Kind::Heights => read_heights(name, &text).map(Ground::Heights),
            _ => Profile::read(name, &text).map(Ground::Profile),
        };
        self.profiles.push(ground.map_err(|p| p.list().to_vec())?);
        Ok(self.profiles.len() - 1)
    }
}

/// One cell, checked for its kind.
fn checked(
    table: &Table,
    row: &Row,
    index: usize,
    kind: Kind,
    shelf: &mut Shelf<'_>,
) -> Result<Cell, Vec<Problem>> {
    let text = row.cells.get(index).unwrap_or("");
    let here = |fault| table.problem(row, index, fault, text);
    match kind {
        _ if text.is_empty() => Err(vec![here(Fault::MissingValue)]),
        Kind::Number { min, max } => match number(table, row, index) {
            Ok(value) if (min..=max).contains(&value) => Ok(Cell::Number(value)),
            Ok(_) => Err(vec![here(Fault::OutOfRange { min, max })]),
            Err(problem) => Err(vec![problem]),
        },
        Kind::Word(words) => match words.iter().find(|w| **w == text) {
            Some(word) => Ok(Cell::Word(word)),
            None => Err(vec![here(Fault::NotOneOf(words))]),
        },
        Kind::Profile | Kind::Heights => shelf.index(text, kind, here).map(Cell::Profile),
    }
}

/// One checked case.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    cases: &'a Cases,
    line: u64,
    name: &'a str,
    cells: &'a [Cell],
}

impl<'a> Case<'a> {
    /// Line in the table, from 1 with the header.
    #[must_use]
    pub fn line(&self) -> u64 {
        self.line
    }

    /// Name from the column `case`, or the number of the case from 1.
    #[must_use]
    pub fn name(&self) -> &'a str {
        self.name
    }

    /// A problem of this case's results.
    pub(crate) fn problem(&self, fault: Fault, column: &str) -> Problem {
        let here = Problem::of_table(fault, self.name);
        Problem {
            line: self.line,
            column: column.to_owned(),
            ..here
        }
    }

    fn cell(&self, column: &str) -> Option<Cell> {
        let index = self
            .cases
            .inputs
            .iter()
            .position(|i| i.column.name == column)?;
        self.cells.get(index).copied()
    }

    /// The number in an input column; not a number where the model has no such column.
    pub(crate) fn number(&self, column: &str) -> f64 {
        match self.cell(column) {
            Some(Cell::Number(value)) => value,
            _ => f64::NAN,
        }
    }

    /// The word in an input column; empty where the model has no such column.
    pub(crate) fn word(&self, column: &str) -> &'static str {
        match self.cell(column) {
            Some(Cell::Word(word)) => word,
            _ => "",
        }
    }

    /// The profile of the case, where the model takes one.
    pub(crate) fn profile(&self) -> Option<&'a Profile> {
        match self.ground()? {
            Ground::Profile(profile) => Some(profile),
            Ground::Heights(_) => None,
        }
    }

    /// The heights of the case, where the model takes a profile at equal steps.
    pub(crate) fn heights_m(&self) -> Option<&'a [f64]> {
        match self.ground()? {
            Ground::Heights(heights) => Some(heights),
            Ground::Profile(_) => None,
        }
    }

    fn ground(&self) -> Option<&'a Ground> {
        match self.cell("profile") {
            Some(Cell::Profile(index)) => self.cases.profiles.get(index),
            _ => None,
        }
    }
}
