//! What holds premises back, and the ledger of all of them.

use engine::study::PremisesResult;
use engine::verdict::{LimitingCause, Verdict};
use maud::{Markup, html};

use crate::format;
use crate::handout::Handout;
use crate::mark;

/// Beyond this many premises the page shows only those that need a look.
const MOST_ROWS: usize = 2000;

/// What a cause means to somebody who has to do something about it.
fn meaning(cause: LimitingCause) -> &'static str {
    match cause {
        LimitingCause::OutOfReach => "too far from every sector, even over clear ground",
        LimitingCause::Terrain => "the ground stands in the way",
        LimitingCause::Clutter => "trees or buildings stand in the way; the bare ground would do",
        LimitingCause::RuleLimit => "the power that the rules take away would have been enough",
        LimitingCause::Interference => "other sectors, or their terminals, drown the signal",
        LimitingCause::Airtime => "the signal would do, but the sector has no airtime left",
        LimitingCause::SectorFull => "the signal would do, but the radio holds no more",
        LimitingCause::PlanRate => "no step of the air interface gives the plan's rate",
        LimitingCause::Mounting => "below the roofs or indoors; on the roof it would do",
        LimitingCause::AtTheMast => "it stands at the mast itself",
        LimitingCause::UnknownGround => "the ground along every path is unknown",
    }
}

pub(super) fn causes(handout: &Handout<'_>) -> Markup {
    let s = &handout.study.summary;
    let most = s.unserved_by_cause.iter().map(|c| c.premises).max();
    html! {
        section {
            h2 { "What holds premises back" }
            @if s.unserved_by_cause.is_empty() {
                p { "Nothing: no premises is unserved." }
            } @else {
                p.quiet { "For each unserved premises, the one thing whose absence would let it be served by the sector that comes closest." }
                table.causes { tbody {
                    @for c in &s.unserved_by_cause {
                        @let share = c.premises as f64 / most.unwrap_or(1).max(1) as f64;
                        tr {
                            th scope="row" { (c.cause.name()) }
                            td.barcell { span.plainbar style=(format!("width:{:.1}%", 100.0 * share)) {} }
                            td.n { (format::count(c.premises)) }
                            td { (meaning(c.cause)) }
                        }
                    }
                } }
            }
        }
    }
}

pub(super) fn ledger(handout: &Handout<'_>) -> Markup {
    let all = &handout.study.premises;
    let whole = all.len() <= MOST_ROWS;
    html! {
        section {
            h2 { "Premises ledger" }
            p.quiet { "Each premises with the sector that serves it or comes closest. The column of clearance is the least clearance over F1, the radius of the first Fresnel zone: below zero the path is blocked, from 0.6 on it is clear. The margin is the smaller of the two directions." }
            @if !whole {
                p { "Unserved and doubtful premises only; all " (format::count(all.len())) " stand in " code { "ledger.csv" } "." }
            }
            @for cause in LimitingCause::ALL {
                (group(Verdict::Unserved, Some(cause), all))
            }
            (group(Verdict::Doubtful, None, all))
            @if whole { (group(Verdict::Served, None, all)) }
        }
    }
}

fn group(verdict: Verdict, cause: Option<LimitingCause>, all: &[PremisesResult]) -> Markup {
    let rows: Vec<&PremisesResult> = all
        .iter()
        .filter(|p| p.verdict == verdict && p.limit.as_ref().map(|l| l.cause) == cause)
        .collect();
    if rows.is_empty() {
        return html! {};
    }
    // Clearance is told as a share of the first Fresnel zone's radius, F1.
    let shown = &rows[..rows.len().min(MOST_ROWS)];
    html! {
        h3 {
            (mark::inline(verdict)) " " (verdict.name())
            @if let Some(cause) = cause { ": " (cause.name()) }
            span.quiet { " · " (format::count(rows.len())) }
        }
        div.wide { table.ledger {
            thead { tr {
                th { "Premises" } th { "Plan" } th { "Sector" } th.n { "Distance" } th.n { "Clearance, F1" }
                th.n { "Level down / up, dBm" } th { "Downlink" } th { "Uplink" } th.n { "Margin" } th.n { "Probability" }
            } }
            tbody { @for p in shown { (row(p)) } }
        } }
        @if shown.len() < rows.len() {
            p.quiet { (format::count(rows.len() - shown.len())) " more stand in " code { "ledger.csv" } "." }
        }
    }
}

fn row(p: &PremisesResult) -> Markup {
    let name = format::xml_text(&p.name);
    html! {
        tr {
            th scope="row" {
                (format::xml_text(p.id.as_str()))
                @if !name.is_empty() { div.quiet { (name) } }
            }
            (id_cell(p.plan.as_str()))
            @if let Some(link) = &p.link {
                (id_cell(link.sector.as_str()))
                td.n { (format::distance(link.distance_m)) }
                td.n title="least clearance over the radius of the first Fresnel zone" { (format::number(link.clearance_ratio, 2)) }
                td.n { (format::number(link.downlink.rsl_dbm, 0)) " / " (format::number(link.uplink.rsl_dbm, 0)) }
                td.whole { (link.downlink.mcs_name.as_deref().unwrap_or("–")) }
                td.whole { (link.uplink.mcs_name.as_deref().unwrap_or("–")) }
                td.n { (link.margin_db().map_or("–".to_owned(), format::signed_db)) }
                td.n { (format::percent(link.probability_frac)) }
            } @else {
                td { "–" } td {} td {} td {} td {} td {} td {} td {}
            }
        }
    }
}

/// Ids that fit stay on one line, longer ones may break at their hyphens.
fn id_cell(id: &str) -> Markup {
    let short = id.chars().count() <= 14;
    html! { td.whole[short] { (format::xml_text(id)) } }
}
