//! Events that are sent as they happen.

use serde::Serialize;
use utoipa::ToSchema;

/// One event, sent as `event: NAME` and `data: JSON`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Event {
    /// The first event of every connection: where things stand.
    Hello {
        /// Revision of the design.
        revision: String,
    },
    /// The design has another revision: by a change here, or in a text editor.
    Changed {
        /// The new revision.
        revision: String,
        /// Whether it was changed from outside.
        from_outside: bool,
    },
    /// Work goes on.
    Progress {
        /// Its job.
        job: u64,
        /// What is being done: `paths`, `links`, `cells` …
        stage: String,
        /// Items done.
        done: usize,
        /// Items in all.
        total: usize,
    },
    /// A study has ended and its answers can be had.
    StudyFinished {
        /// Its job.
        job: u64,
        /// The revision that was studied.
        revision: String,
    },
    /// Work has ended without a result.
    Stopped {
        /// Its job.
        job: u64,
        /// Why.
        reason: String,
    },
    /// Results have been written.
    OutputsWritten {
        /// Its job.
        job: u64,
    },
    /// So many events came at once that some were left out: read everything again.
    Missed,
}

impl Event {
    /// Name under which it is sent.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Hello { .. } => "hello",
            Self::Changed { .. } => "changed",
            Self::Progress { .. } => "progress",
            Self::StudyFinished { .. } => "study_finished",
            Self::Stopped { .. } => "stopped",
            Self::OutputsWritten { .. } => "outputs_written",
            Self::Missed => "missed",
        }
    }
}

/// Work under way.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Job {
    /// Number.
    pub id: u64,
    /// What it does: `study`, `outputs`, `coverage`, `what-if`.
    pub kind: String,
    /// What is being done.
    pub stage: String,
    /// Items done.
    pub done: usize,
    /// Items in all.
    pub total: usize,
}

/// Work that was begun.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct JobStarted {
    /// Its number.
    pub job: u64,
}
