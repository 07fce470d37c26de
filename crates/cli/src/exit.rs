//! What the exit code says.

use std::process::ExitCode;

use pipeline::model::{Finding, Severity};

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done.
    Done,
    /// Done, and some findings say that the design cannot be built as it stands.
    FailingFindings,
    /// The input cannot be used.
    UnusableInput,
    /// A fault of the program.
    OwnFailure,
    /// Stopped by the person.
    Interrupted,
}

impl Exit {
    pub(crate) fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::FailingFindings => 1,
            Self::UnusableInput => 2,
            Self::OwnFailure => 3,
            // 128 and the number of the signal, as shells have it.
            Self::Interrupted => 130,
        }
    }

    /// The end of an evaluation that went through.
    pub(crate) fn of_evaluation(findings: &[Finding]) -> Self {
        if findings.iter().any(is_failing) {
            Self::FailingFindings
        } else {
            Self::Done
        }
    }

    /// The end of a look at a design.
    pub(crate) fn of_check(findings: &[Finding], readable: bool) -> Self {
        if !readable || pipeline::has_errors(findings) {
            Self::UnusableInput
        } else {
            Self::of_evaluation(findings)
        }
    }
}

/// An error, or more power than the rules allow.
fn is_failing(finding: &Finding) -> bool {
    finding.severity == Severity::Error || finding.code.starts_with("rule-")
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
