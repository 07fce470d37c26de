//! What the evaluation of the backhaul has to tell.

use model::backhaul::Hop;
use model::finding::{Finding, Severity, Subject};
use model::ids::MastId;
use physics::path_loss::Warning;

use crate::hop::load::{CarriedLoad, HopFailure};
use crate::hop::path::{HopClearance, HopPath};
use crate::hop::routes::{MOST_EXACT_HOPS, MastRoute, RouteMethod};
use crate::hop::steps::StepResult;
use crate::path::PathError;

fn about(hop: &Hop, severity: Severity, code: &'static str, message: String) -> Finding {
    Finding::new(severity, code, message).about(Subject::Hop(hop.id.clone()))
}

/// A hop whose path could not be traced.
pub(super) fn no_path(hop: &Hop, error: &PathError) -> Finding {
    let code = match error {
        PathError::UnknownGround { .. } => "unknown-ground",
        PathError::SamePlace => "same-position",
    };
    about(
        hop,
        Severity::Warning,
        code,
        format!("hop `{}` cannot be evaluated: {error}", hop.id),
    )
    .hint("add terrain that covers both masts; until then no route to the core counts on this hop")
}

/// Obstacles that come too close.
pub(super) fn clearance(hop: &Hop, path: &HopPath) -> Vec<Finding> {
    path.clearances
        .iter()
        .filter(|c| c.judged && c.clearance_ratio < c.wanted_ratio)
        .map(|c| too_low(hop, c))
        .collect()
}

fn too_low(hop: &Hop, c: &HopClearance) -> Finding {
    let severity = if c.clearance_ratio < c.least_ratio {
        Severity::Warning
    } else {
        Severity::Note
    };
    let what = if c.clutter_m > 0.0 {
        "what stands on the ground"
    } else {
        "the ground"
    };
    about(
        hop,
        severity,
        "hop-clearance",
        format!(
            "hop `{}` clears `{:.2}` of the first Fresnel zone at k = {:.2}, over {what} at `{:.0} m` from mast `{}`; good practice is `{}`",
            hop.id, c.clearance_ratio, c.k, c.obstacle_m, hop.from.mast, c.wanted_ratio
        ),
    )
    .hint(format!(
        "the ray would have to run `{:.1} m` higher there: raise an antenna, or move the hop; survey the path before it is built",
        c.shortfall_m()
    ))
}

/// Steps that do not hold, and availability short of the target.
pub(super) fn outage(hop: &Hop, steps: &[StepResult], year_pct: f64) -> Option<Finding> {
    let target_pct = hop.availability_target_pct;
    let lowest = steps.first()?;
    if steps.iter().all(|s| s.fade_margin_db <= 0.0) {
        return Some(
            about(
                hop,
                Severity::Error,
                "hop-down",
                format!(
                    "hop `{}` does not work in clear air: its level of `{:.1} dBm` is `{:.1} dB` short of step `{}`",
                    hop.id, lowest.rsl_dbm, -lowest.fade_margin_db, lowest.name
                ),
            )
            .hint("larger antennas, more power within the rules, a clear path or a narrower channel"),
        );
    }
    let known_pct = steps
        .iter()
        .map(StepResult::known_outage_year_pct)
        .fold(100.0, f64::min);
    if 100.0 - known_pct >= target_pct {
        return (100.0 - year_pct < target_pct).then(|| beyond_the_method(hop, year_pct));
    }
    let available_pct = below(100.0 - known_pct);
    let at_most = if lowest.rain_is_bound { "at most " } else { "" };
    Some(
        about(
            hop,
            Severity::Warning,
            "hop-availability",
            format!(
                "hop `{}` has an availability of {at_most}`{available_pct:.4} %` in the average year; the design asks for `{target_pct} %`",
                hop.id
            ),
        )
        .hint(format!(
            "its fade margin is `{:.1} dB`: larger antennas, a lower band, a shorter hop or a second route",
            lowest.fade_margin_db
        )),
    )
}

/// A target between what the method proves and what it cannot tell.
fn beyond_the_method(hop: &Hop, year_pct: f64) -> Finding {
    about(
        hop,
        Severity::Note,
        "hop-availability-bound",
        format!(
            "hop `{}` has an availability of at least `{:.4} %` in the average year; rain leaves room for the `{} %` of the design, which the method neither proves nor denies",
            hop.id,
            below(100.0 - year_pct),
            hop.availability_target_pct
        ),
    )
    .hint("the rarest rain that ITU-R P.530-18 tells is that of 0.001 % of the year: about five minutes")
}

/// A share cut to four decimals, so that no rounding lifts it to a target that it misses.
fn below(share_pct: f64) -> f64 {
    // Shares are sums: the last digits may differ from the decimal they stand for.
    ((share_pct + 1e-9) * 1e4).floor() / 1e4
}

/// Inputs outside the range of the methods.
pub(super) fn range(hop: &Hop, warnings: &[Warning]) -> Vec<Finding> {
    warnings
        .iter()
        .map(|warning| {
            about(
                hop,
                Severity::Note,
                "outside-range",
                format!("hop `{}`, ITU-R P.530-18: {warning}", hop.id),
            )
            .hint("the figures of this hop are carried on beyond the range for which the method is stated")
        })
        .collect()
}

/// A load that the hop cannot carry for its share of the year.
pub(super) fn overload(hop: &Hop, load: &CarriedLoad, guaranteed_mbps: f64) -> Option<Finding> {
    let busier_mbps = load.busier_mbps();
    (busier_mbps > guaranteed_mbps).then(|| {
        about(
            hop,
            Severity::Warning,
            "hop-overloaded",
            format!(
                "the sectors behind hop `{}` ask for `{busier_mbps:.1} Mb/s` at the busy hour; it carries `{guaranteed_mbps:.1} Mb/s` for `{} %` of the year",
                hop.id, hop.availability_target_pct
            ),
        )
        .hint("a wider channel, a better link budget or a second hop")
    })
}

/// A failure that another hop cannot take over.
pub(super) fn failure(failure: &HopFailure) -> Option<Finding> {
    let over: Vec<String> = failure
        .busier
        .iter()
        .filter(|b| b.is_overloaded())
        .map(|b| format!("`{}` would carry `{:.1} Mb/s`", b.hop, b.load.busier_mbps()))
        .collect();
    (!over.is_empty()).then(|| {
        Finding::new(
            Severity::Warning,
            "failure-overloads",
            format!(
                "when hop `{}` fails at the busy hour, {}: more than guaranteed",
                failure.hop,
                over.join(" and ")
            ),
        )
        .about(Subject::Hop(failure.hop.clone()))
        .hint("a wider channel on the hop that takes over, or less load behind the two")
    })
}

/// Masts that have sectors and no route to the core.
pub(super) fn no_route(routes: &[MastRoute], with_sectors: &[MastId]) -> Vec<Finding> {
    routes
        .iter()
        .filter(|route| route.method == RouteMethod::NoRoute && with_sectors.contains(&route.mast))
        .map(|route| {
            Finding::new(
                Severity::Warning,
                "no-route-to-core",
                format!(
                    "mast `{}` has sectors, but no hop leads from it to the core",
                    route.mast
                ),
            )
            .about(Subject::Mast(route.mast.clone()))
            .hint("add a `[[hop]]`, or name the mast under `core` if it has a fibre of its own")
        })
        .collect()
}

/// Availabilities that count the best route alone.
pub(super) fn not_exact(routes: &[MastRoute]) -> Option<Finding> {
    let found = routes
        .iter()
        .any(|route| route.method == RouteMethod::BestRoute);
    found.then(|| {
        Finding::new(
            Severity::Note,
            "best-route-only",
            format!("more than `{MOST_EXACT_HOPS}` hops are joined in loops: their availability counts the best route alone"),
        )
        .hint("the true availability to the core is higher")
    })
}
