//! The hops between masts, and the masts' routes to the core.

use engine::hop::routes::{MastRoute, RouteMethod};
use engine::hop::steps::StepResult;
use engine::hop::{HopEvaluation, HopResult};
use maud::{Markup, html};
use model::Backhaul;

use crate::format;
use crate::handout::Handout;

/// Nothing where the design has no hops.
pub(super) fn hops(handout: &Handout<'_>) -> Markup {
    let backhaul = &handout.study.backhaul;
    html! {
        @if !backhaul.hops.is_empty() {
            section {
                h2 { "Backhaul" }
                p.quiet {
                    "Availability is that of propagation: multipath and rain by ITU-R P.530-18, the worst month of rain by ITU-R P.841. Equipment, power and interference come on top. The column of clearance is the least clearance above ground and clutter over F1, the radius of the first Fresnel zone. A hop works at the fastest step that the level of the moment bears; rates are those of one direction."
                }
                div.wide { table {
                    thead { tr {
                        th { "Hop" } th { "Channel" } th.n { "Length" } th.n { "Clearance" } th.n { "Fade margin" }
                        th.n { "Availability, year" } th.n { "Availability, worst month" } th.n { "Rate" } th { "Time in each step" } th.n { "Busy hour" }
                    } }
                    tbody { @for h in &backhaul.hops { (row(h)) } }
                } }
                (routes(&backhaul.routes, backhaul.assumption))
                (rests_on(&handout.network.backhaul))
            }
        }
    }
}

fn row(h: &HopResult) -> Markup {
    html! {
        tr {
            th.whole scope="row" { (format::xml_text(h.id.as_str())) div.quiet { (format::xml_text(h.from.as_str())) " – " (format::xml_text(h.to.as_str())) } }
            td.whole { (format::frequency(h.channel.centre_mhz)) div.quiet { (format::frequency(h.channel.width_mhz)) " wide, " (h.polarization.name()) } }
            @match &h.evaluation {
                Some(e) => (evaluated(e)),
                None => { td colspan="7" { "unknown ground" } }
            }
            td.n { (format::rate(h.load.downlink_mbps)) div.quiet { (format::rate(h.load.uplink_mbps)) " back" } @if let Some(share) = h.busy_frac.filter(|s| s.is_finite()) { div.quiet { (format::percent(share)) " of the rate" } } }
        }
    }
}

fn evaluated(e: &HopEvaluation) -> Markup {
    let [median, low, least] = &e.path.clearances;
    let at_least = if e.availability_is_bound {
        "at least "
    } else {
        ""
    };
    html! {
        td.n { (format::distance(e.path.distance_m)) }
        td.n { (format::number(median.clearance_ratio, 2)) div.quiet { (format::number(low.clearance_ratio, 2)) " at k = 2/3, " (format::number(least.clearance_ratio, 2)) " at k = " (format::number(least.k, 2)) } }
        td.n { @if let Some(s) = e.steps.first() { (format::db(s.fade_margin_db)) div.quiet { (format::dbm(s.rsl_dbm)) } } }
        td.n { (at_least) (share(e.availability_year_pct)) div.quiet { "asked for " (share(e.availability_target_pct)) } }
        td.n { (at_least) (share(e.availability_worst_month_pct)) }
        td.n { (format::rate(e.guaranteed_mbps)) div.quiet { "mean " (format::rate(e.mean_mbps)) } }
        td { @for s in e.steps.iter().rev().filter(|s| is_used(s)) { div.whole { (format::xml_text(&s.name)) " " (share(s.time_year_pct)) } } }
    }
}

/// Steps that are passed through for less than a minute in a year are left out.
fn is_used(step: &StepResult) -> bool {
    step.time_year_pct > 100.0 / 525_960.0
}

/// A share with the digits that availabilities are told apart by.
fn share(share_pct: f64) -> String {
    format!("{} %", format::number(share_pct, 4))
}

fn routes(routes: &[MastRoute], assumption: &str) -> Markup {
    html! {
        @if !routes.is_empty() {
            h3 { "Routes to the core" }
            p.quiet { "Assumption: " (assumption) "." }
            div.wide { table {
                thead { tr { th { "Mast" } th { "Best route" } th.n { "Availability, year" } th.n { "Availability, worst month" } } }
                tbody { @for route in routes { (route_row(route)) } }
            } }
        }
    }
}

/// Cards and rule sets of the hops, each once.
fn rests_on(backhaul: &Backhaul) -> Markup {
    let mut lines: Vec<(&str, String)> = Vec::new();
    for hop in &backhaul.hops {
        let (radio, rules) = (&hop.radio, &hop.rule_set);
        let antennas = [&hop.from.antenna, &hop.to.antenna];
        let cards = antennas.map(|a| ("Hop antenna", format!("{}: {}", a.name, a.source)));
        let rule_set = format!("{}. {}", rules.title, rules.caution);
        let own = [
            ("Hop radio", format!("{}: {}", radio.name, radio.source)),
            ("Rule set of hops", rule_set),
        ];
        for line in own.into_iter().chain(cards) {
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
    }
    html! {
        dl { @for (kind, text) in &lines { dt { (kind) } dd { (format::xml_text(text)) } } }
    }
}

fn route_row(route: &MastRoute) -> Markup {
    let hops: Vec<_> = route
        .hops
        .iter()
        .map(|h| format::xml_text(h.as_str()))
        .collect();
    let shown = |pct: Option<f64>| pct.map_or_else(|| "–".to_owned(), share);
    html! {
        tr {
            th.whole scope="row" { (format::xml_text(route.mast.as_str())) }
            td {
                @match (route.method, hops.is_empty()) {
                    (RouteMethod::NoRoute, _) => { "none" }
                    (_, true) => { "at the core" }
                    (_, false) => { (hops.join(" → ")) }
                }
                @if route.method == RouteMethod::BestRoute { div.quiet { "counted alone: too many hops to go through every state" } }
            }
            td.n { (shown(route.availability_year_pct)) }
            td.n { (shown(route.availability_worst_month_pct)) }
        }
    }
}
