//! What comes in, taken apart; what cannot be is told as every other problem.

use axum::extract::rejection::{BytesRejection, JsonRejection, PathRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::header::IF_MATCH;
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};

use crate::api::problem::Problem;

/// A body in JSON.
#[derive(axum::extract::FromRequest)]
#[from_request(via(axum::Json), rejection(Problem))]
pub(super) struct Json<T>(pub(super) T);

/// What stands behind the `?`.
#[derive(axum::extract::FromRequestParts)]
#[from_request(via(axum::extract::Query), rejection(Problem))]
pub(super) struct Query<T>(pub(super) T);

/// Parts of the address.
#[derive(axum::extract::FromRequestParts)]
#[from_request(via(axum::extract::Path), rejection(Problem))]
pub(super) struct Path<T>(pub(super) T);

/// A body as it is.
pub(super) struct Bytes(pub(super) axum::body::Bytes);

impl<S: Send + Sync> FromRequest<S> for Bytes {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        Ok(Self(axum::body::Bytes::from_request(request, state).await?))
    }
}

fn refused(status: StatusCode, text: String) -> Problem {
    let code = if status == StatusCode::PAYLOAD_TOO_LARGE {
        "too-large"
    } else {
        "bad-request"
    };
    // The words are a library's; they name the place in the body.
    Problem::new(status, code, format!("the request cannot be read: {text}"))
}

macro_rules! refusals {
    ($($rejection:ty),*) => {
        $(impl From<$rejection> for Problem {
            fn from(rejection: $rejection) -> Self {
                refused(rejection.status(), rejection.body_text())
            }
        })*
    };
}

refusals!(JsonRejection, QueryRejection, PathRejection, BytesRejection);

/// The revision that a change was made from.
pub(super) struct Base(pub(super) String);

impl<S: Sync> FromRequestParts<S> for Base {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        base(&parts.headers).map(Self)
    }
}

fn base(headers: &HeaderMap) -> Result<String, Problem> {
    let value = headers.get(IF_MATCH).and_then(|value| value.to_str().ok());
    let value = value
        .map(|value| value.trim().trim_matches('"'))
        .filter(|value| !value.is_empty());
    value.map(str::to_owned).ok_or_else(|| {
        Problem::new(
            StatusCode::PRECONDITION_REQUIRED,
            "no-revision",
            "the change does not say what it was made from\nhint: send the revision as `If-Match`",
        )
    })
}
