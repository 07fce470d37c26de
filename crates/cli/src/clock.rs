//! The date on a result.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// Now, as `2026-05-01T12:00:00Z`.
///
/// `SOURCE_DATE_EPOCH` takes its place where it is set, so that the same
/// input gives the same bytes; source: the reproducible-builds.org
/// specification of that variable.
#[expect(
    clippy::disallowed_methods,
    reason = "the command line knows the time and the environment"
)]
pub(crate) fn written_at() -> String {
    let stated = std::env::var("SOURCE_DATE_EPOCH").ok();
    let time = stated
        .and_then(|seconds| seconds.parse().ok())
        // The year 9999 is the last that the format can write.
        .filter(|seconds| *seconds < 253_402_300_800)
        .map_or_else(SystemTime::now, |s| UNIX_EPOCH + Duration::from_secs(s));
    humantime::format_rfc3339_seconds(time).to_string()
}
