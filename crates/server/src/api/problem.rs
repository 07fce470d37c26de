//! What an answer says that is none.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

use super::finding::Finding;

/// Why a request was not carried out. Nothing has been changed then.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// Short stable name of what went wrong.
    #[schema(value_type = String)]
    pub code: &'static str,
    /// What went wrong, for a person.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
    /// Findings that stand in the way.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    #[schema(required = false, value_type = Vec<Finding>)]
    pub findings: Box<[Finding]>,
    /// Values that were changed from two sides.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    #[schema(required = false, value_type = Vec<Conflict>)]
    pub conflicts: Box<[Conflict]>,
    /// Revision that the design has now; empty where that does not matter.
    #[serde(skip_serializing_if = "str::is_empty")]
    #[schema(required = false, value_type = String)]
    pub revision: Box<str>,
    #[serde(skip)]
    pub(crate) status: u16,
}

/// One value that was changed from two sides.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Conflict {
    /// What was changed, such as `azimuth_deg of sector hill-north`.
    pub what: String,
    /// The value that the change was made from.
    pub expected: String,
    /// The value that stands on disk.
    pub on_disk: String,
    /// The value that was asked for.
    pub wanted: String,
}

impl Problem {
    /// A problem of a status.
    pub fn new(status: StatusCode, code: &'static str, message: impl Into<String>) -> Self {
        let message: String = message.into();
        let (message, hint) = message
            .split_once("\nhint: ")
            .unwrap_or((message.as_str(), ""));
        Self {
            code,
            message: message.to_owned(),
            hint: hint.to_owned(),
            findings: Box::default(),
            conflicts: Box::default(),
            revision: Box::default(),
            status: status.as_u16(),
        }
    }

    /// What was asked for is not there.
    pub fn not_found(message: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, "not-found", message)
    }

    /// The request cannot be understood.
    pub fn bad_request(message: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "bad-request", message)
    }

    /// The request is understood and cannot be carried out.
    pub fn unusable(message: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, "unusable", message)
    }

    /// The design does not allow an answer yet.
    pub fn no_network() -> Self {
        Self::new(
            StatusCode::CONFLICT,
            "no-network",
            "the design cannot be used as it stands\nhint: see the findings",
        )
    }

    /// A fault of the program.
    pub fn fault(message: impl Into<String>) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, "fault", message)
    }

    /// The same with advice.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    /// The same with findings.
    #[must_use]
    pub fn with_findings(mut self, findings: Vec<Finding>) -> Self {
        self.findings = findings.into_boxed_slice();
        self
    }

    /// Status of the answer.
    pub fn status(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        (self.status(), Json(self)).into_response()
    }
}
