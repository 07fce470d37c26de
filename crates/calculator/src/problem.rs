//! What can be wrong with a table, told so that a person can correct it.

use std::fmt;

use physics::path_loss::ProfileError;

/// Largest text of a table or a profile.
pub const MAX_TEXT_BYTES: usize = 256 << 20;

/// Most cases of a table.
pub const MAX_CASES: usize = 2_000_000;

/// Most points of a profile.
pub const MAX_PROFILE_POINTS: usize = 1_000_000;

/// Which text a problem stands in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// The table of cases.
    Table,
    /// The profile of this name.
    Profile(String),
}

/// One thing that is wrong, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// The text it stands in.
    pub place: Place,
    /// Line, from 1 with the header; 0 where the whole text is meant.
    pub line: u64,
    /// Column name, empty where the whole line is meant.
    pub column: String,
    /// The text in question, shortened.
    pub text: String,
    /// What is wrong.
    pub fault: Fault,
}

/// What is wrong.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// Not a table of comma-separated values; the reader's own words.
    NotCsv(String),
    /// The text is larger than [`MAX_TEXT_BYTES`].
    TooLarge,
    /// More cases than [`MAX_CASES`].
    TooManyCases,
    /// A table without a single case.
    NoCases,
    /// A profile of more than [`MAX_PROFILE_POINTS`] points.
    TooManyPoints,
    /// A column the model needs is not in the header.
    MissingColumn {
        /// What the column holds.
        meaning: &'static str,
    },
    /// A column the model needs stands in the header twice.
    DoubleColumn,
    /// A cell is empty or the line too short.
    MissingValue,
    /// The cell is not a number.
    NotANumber,
    /// The number is outside what the model can be computed for.
    OutOfRange {
        /// Least value.
        min: f64,
        /// Greatest value.
        max: f64,
    },
    /// The cell is none of the words the column knows.
    NotOneOf(&'static [&'static str]),
    /// A profile name that is more than a plain name.
    UnsafeName,
    /// The profile could not be had.
    NoProfile(Unavailable),
    /// The profile was read but cannot be used.
    BadProfile(ProfileError),
    /// No case of that name in the table.
    NoSuchCase,
    /// None of the tables of a Recommendation has these columns; the columns of each.
    NoTableFits(Vec<String>),
    /// Several tables of a Recommendation have these columns; the columns of each.
    SeveralTablesFit(Vec<String>),
    /// The model gave no number for this case.
    NotComputable,
}

/// Why a profile cannot be had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unavailable {
    /// There is none of that name.
    Unknown,
    /// It is there but cannot be read; the reason in the system's words.
    Unreadable(String),
}

impl fmt::Display for Unavailable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown => write!(f, "is not among the profiles"),
            Self::Unreadable(reason) => write!(f, "cannot be read: {reason}"),
        }
    }
}

impl Problem {
    pub(crate) fn of_table(fault: Fault, text: &str) -> Self {
        Self {
            place: Place::Table,
            line: 0,
            column: String::new(),
            text: shortened(text),
            fault,
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match &self.fault {
            Fault::NotCsv(_) => "write one header line and comma-separated cells, `.` as decimal mark".into(),
            Fault::TooLarge => format!("split the table; at most {} MiB at once", MAX_TEXT_BYTES >> 20),
            Fault::TooManyCases => format!("split the table; at most {MAX_CASES} cases at once"),
            Fault::NoCases => "add at least one line below the header".into(),
            Fault::TooManyPoints => format!("thin the profile to at most {MAX_PROFILE_POINTS} points"),
            Fault::MissingColumn { meaning } => format!("add the column `{}`: {meaning}", self.column),
            Fault::DoubleColumn => "keep one of the two columns".into(),
            Fault::MissingValue => "fill the cell".into(),
            Fault::NotANumber => "write a plain number such as `3.65`, without unit or thousands mark".into(),
            Fault::OutOfRange { min, max } => format!("write a number from {min} to {max}; the unit is the end of the column name"),
            Fault::NotOneOf(words) => format!("write one of: {}", words.join(", ")),
            Fault::UnsafeName => "use letters, digits, `_`, `-`, `.`; no folders".into(),
            Fault::NoProfile(Unavailable::Unknown) => "put a profile of that name with the others, or correct the name".into(),
            Fault::NoProfile(_) => "check that the profile can be read".into(),
            Fault::BadProfile(_) => "a profile runs from distance 0 at the transmitter to the receiver, each point farther".into(),
            Fault::NoSuchCase => "give a name from the column `case`".into(),
            Fault::NoTableFits(tables) => format!("{}; columns beyond these are passed over", tables.join("; ")),
            Fault::SeveralTablesFit(tables) => format!("give the model's whole name: {}", tables.join("; ")),
            Fault::NotComputable => "the inputs of this case contradict each other; check heights, distance and frequency".into(),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotCsv(words) => write!(f, "cannot be read as a table: {words}"),
            Self::TooLarge => write!(f, "is too large"),
            Self::TooManyCases => write!(f, "has too many cases"),
            Self::NoCases => write!(f, "has no cases"),
            Self::TooManyPoints => write!(f, "has too many points"),
            Self::MissingColumn { .. } => write!(f, "is not in the header"),
            Self::DoubleColumn => write!(f, "stands twice in the header"),
            Self::MissingValue => write!(f, "has no value"),
            Self::NotANumber => write!(f, "is not a number"),
            Self::OutOfRange { .. } => write!(f, "is outside what can be computed"),
            Self::NotOneOf(_) => write!(f, "is not a word this column knows"),
            Self::UnsafeName => write!(f, "is not a plain profile name"),
            Self::NoProfile(why) => write!(f, "{why}"),
            Self::BadProfile(why) => write!(f, "{why}"),
            Self::NoSuchCase => write!(f, "is not a case of this table"),
            Self::NoTableFits(_) => {
                write!(f, "has not all columns of any table of this model")
            }
            Self::SeveralTablesFit(_) => {
                write!(
                    f,
                    "has columns and words that fit several tables of this model"
                )
            }
            Self::NotComputable => write!(f, "has no finite value"),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.place {
            Place::Table => write!(f, "table")?,
            Place::Profile(name) => write!(f, "profile `{name}`")?,
        }
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if !self.column.is_empty() {
            write!(f, ", column `{}`", self.column)?;
        }
        write!(f, ":")?;
        if !self.text.is_empty() {
            write!(f, " `{}`", self.text)?;
        }
        write!(f, " {}\n  hint: {}", self.fault, self.hint())
    }
}

/// All problems of one run, at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct Problems(Vec<Problem>);

impl Problems {
    /// Most problems told one by one.
    const MOST_TOLD: usize = 50;

    /// The problems in the order of the text.
    #[must_use]
    pub fn list(&self) -> &[Problem] {
        &self.0
    }

    /// `Ok` where there are none.
    pub(crate) fn none_of(problems: Vec<Problem>) -> Result<(), Self> {
        if problems.is_empty() {
            Ok(())
        } else {
            Err(Self(problems))
        }
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problem) in self.0.iter().take(Self::MOST_TOLD).enumerate() {
            write!(f, "{}{problem}", if i > 0 { "\n" } else { "" })?;
        }
        match self.0.len().saturating_sub(Self::MOST_TOLD) {
            0 => Ok(()),
            more => write!(f, "\nand {more} more"),
        }
    }
}

impl std::error::Error for Problems {}

/// The start of a text, for a message.
pub(crate) fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    text.chars().take(MOST).chain(['…']).collect()
}
