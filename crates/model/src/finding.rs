//! What the program has to tell a person about a design: where, what is wrong
//! and what to do about it.

use std::fmt;
use std::sync::Arc;

use serde::Serialize;

use crate::ids::{EquipmentId, HopId, MastId, PlanId, PremisesId, SectorId};

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing has to change.
    Note,
    /// The result stands, but part of it rests on something doubtful.
    Warning,
    /// The design, or this part of it, cannot be used as it is.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        })
    }
}

/// A place in one of the project's text files.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct TextPlace {
    /// Path relative to the project folder.
    pub file: Arc<str>,
    /// Line, counted from 1; 0 where the file as a whole is meant.
    pub line: usize,
    /// Column in characters, counted from 1; 0 where the line as a whole is meant.
    pub column: usize,
    /// The offending text as it stands in the file; may be empty.
    pub text: String,
}

impl fmt::Display for TextPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, self.column) {
            (0, _) => write!(f, "{}", self.file),
            (line, 0) => write!(f, "{}:{line}", self.file),
            (line, column) => write!(f, "{}:{line}:{column}", self.file),
        }
    }
}

/// The thing in the network that a finding is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind", content = "id")]
pub enum Subject {
    /// The design as a whole.
    Design,
    /// A mast.
    Mast(MastId),
    /// A sector.
    Sector(SectorId),
    /// A backhaul hop.
    Hop(HopId),
    /// A premises.
    Premises(PremisesId),
    /// A service plan.
    Plan(PlanId),
    /// An equipment card.
    Equipment(EquipmentId),
}

/// One thing to tell the person whose design it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// Short stable name of the kind of finding, such as `unknown-key`.
    pub code: &'static str,
    /// What is wrong, in lower case, without a full stop, values in backticks.
    pub message: String,
    /// Where it stands in the text, if it comes from text.
    pub place: Option<TextPlace>,
    /// What it is about.
    pub subject: Subject,
    /// What to do about it; may be empty.
    pub hint: String,
}

impl Finding {
    /// A finding about the design as a whole, without a place or hint yet.
    pub fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Self {
        Self {
            severity,
            code,
            message: message.into(),
            place: None,
            subject: Subject::Design,
            hint: String::new(),
        }
    }

    /// The same finding, said of `subject`.
    #[must_use]
    pub fn about(mut self, subject: Subject) -> Self {
        self.subject = subject;
        self
    }

    /// The same finding, pinned to a place in the text.
    #[must_use]
    pub fn at(mut self, place: TextPlace) -> Self {
        self.place = Some(place);
        self
    }

    /// The same finding with advice.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }
}
