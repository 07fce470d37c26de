//! Columns of tables: what a model reads and what it writes.

/// A column of a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Name with unit suffix.
    pub name: &'static str,
    /// Unit, empty for a pure number or a word.
    pub unit: &'static str,
    /// What it holds.
    pub meaning: &'static str,
}

/// A column a model reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Input {
    /// The column.
    pub column: Column,
    /// What its cells may hold.
    pub kind: Kind,
    /// Where set, the cell is only needed, and only read, in cases that hold
    /// this word in this other column.
    pub only_for: Option<Choice>,
}

/// A word in a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Name of the column.
    pub column: &'static str,
    /// The word.
    pub word: &'static str,
}

/// What the cells of an input column hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// A number the model can be computed for; its *stated* range may be smaller.
    Number {
        /// Least value.
        min: f64,
        /// Greatest value.
        max: f64,
    },
    /// One of several words.
    Word(&'static [&'static str]),
    /// The name of a terrain profile.
    Profile,
    /// The name of a terrain profile whose heights stand at equal steps; the
    /// step is a column of the case.
    Heights,
}

/// A column that holds a result.
pub(crate) const fn column(
    name: &'static str,
    unit: &'static str,
    meaning: &'static str,
) -> Column {
    Column {
        name,
        unit,
        meaning,
    }
}

/// The parts of a list of columns, or of inputs, as one list; `N` is their number together.
pub(crate) const fn joined<T: Copy, const N: usize>(parts: &[&[T]]) -> [T; N] {
    let mut all = [parts[0][0]; N];
    let (mut part, mut at) = (0, 0);
    while part < parts.len() {
        let mut i = 0;
        while i < parts[part].len() {
            all[at] = parts[part][i];
            (i, at) = (i + 1, at + 1);
        }
        part += 1;
    }
    assert!(at == N);
    all
}

/// A column of numbers from `min` to `max`.
pub(crate) const fn number(column: Column, min: f64, max: f64) -> Input {
    Input {
        column,
        kind: Kind::Number { min, max },
        only_for: None,
    }
}

/// An input that is needed only where `column` holds `word`.
pub(crate) const fn only_for(input: Input, column: &'static str, word: &'static str) -> Input {
    Input {
        only_for: Some(Choice { column, word }),
        ..input
    }
}

/// A column of words.
pub(crate) const fn word(column: Column, words: &'static [&'static str]) -> Input {
    Input {
        column,
        kind: Kind::Word(words),
        only_for: None,
    }
}

/// The column that names a profile.
pub(crate) const PROFILE: Input = Input {
    column: column("profile", "", "name of a terrain profile"),
    kind: Kind::Profile,
    only_for: None,
};

/// The column that names a profile of heights at equal steps.
pub(crate) const HEIGHTS: Input = Input {
    column: column(
        "profile",
        "",
        "name of a terrain profile with heights at equal steps",
    ),
    kind: Kind::Heights,
    only_for: None,
};

/// The column of the polarization.
pub(crate) const POLARIZATION: Input =
    word(column("pol", "", "polarization, `h` or `v`"), &["h", "v"]);

/// The column of the frequency.
pub(crate) const FREQUENCY: Input = number(column("f_ghz", "GHz", "frequency"), 0.001, 1000.0);
