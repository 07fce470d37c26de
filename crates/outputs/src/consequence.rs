//! The consequence of a change for people: in a terminal and as a page.

use engine::compare::{Consequence, PremisesChange, PremisesState, SectorChange, SectorState};
use engine::study::Summary;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::format;
use crate::handout::CAUTION;

/// Premises of each kind that a terminal shows.
const MOST_SHOWN: usize = 12;

const STYLE: &str = "body{font:15px/1.5 system-ui,sans-serif;color:#1d2a30;background:#fff;margin:2rem auto;max-width:64rem;padding:0 1rem}\
table{border-collapse:collapse;width:100%;margin:.5rem 0 1.5rem}th,td{text-align:left;padding:.25rem .6rem;border-bottom:1px solid #ccd5d9}\
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums}.quiet{color:#53646c}";

/// Titles of the four lists, what they mean, and the lists.
fn lists(consequence: &Consequence) -> [(&'static str, &'static str, &[PremisesChange]); 4] {
    [
        (
            "gained",
            "unserved or not there before, with a link now",
            &consequence.gained,
        ),
        (
            "lost",
            "with a link before, without one now",
            &consequence.lost,
        ),
        (
            "degraded",
            "still with a link, less surely",
            &consequence.degraded,
        ),
        (
            "improved",
            "with a link, more surely",
            &consequence.improved,
        ),
    ]
}

/// The rows of counts: what, before, after.
fn counts(before: &Summary, after: &Summary) -> [(&'static str, f64, f64, usize); 5] {
    let row = |name, b: usize, a: usize| (name, b as f64, a as f64, 0);
    [
        row("premises", before.premises, after.premises),
        row("served", before.served, after.served),
        row("doubtful", before.doubtful, after.doubtful),
        row("unserved", before.unserved, after.unserved),
        (
            "expected to fail",
            before.expected_failed_installations,
            after.expected_failed_installations,
            1,
        ),
    ]
}

fn signed(value: f64, decimals: usize) -> String {
    let text = format::number(value.abs(), decimals);
    match value {
        v if v > 0.0 => format!("+{text}"),
        v if v < 0.0 => format!("−{text}"),
        _ => "0".to_owned(),
    }
}

fn state(state: Option<&PremisesState>) -> String {
    let Some(state) = state else {
        return "not there".to_owned();
    };
    let mut text = state.verdict.name().to_owned();
    if let Some(cause) = state.cause {
        text.push_str(&format!(" ({})", cause.name()));
    }
    if let Some(margin_db) = state.margin_db {
        text.push_str(&format!(", {}", format::signed_db(margin_db)));
    }
    if let Some(sector) = &state.sector {
        text.push_str(&format!(", {sector}"));
    }
    text
}

fn load(state: Option<&SectorState>) -> String {
    state.map_or("not there".to_owned(), |s| {
        format!(
            "{} terminals, airtime {} down {} up, {}",
            s.terminals,
            format::percent(s.downlink_airtime_frac),
            format::percent(s.uplink_airtime_frac),
            format::dbm(s.power_eirp_dbm)
        )
    })
}

/// The consequence for a terminal.
pub fn consequence_text(consequence: &Consequence) -> String {
    let mut text = format!("{:<18}{:>9}{:>9}{:>9}\n", "", "before", "after", "change");
    for (name, before, after, decimals) in counts(&consequence.before, &consequence.after) {
        let number = |value| format::number(value, decimals);
        let (before_text, after_text) = (number(before), number(after));
        let change = signed(after - before, decimals);
        text.push_str(&format!(
            "{name:<18}{before_text:>9}{after_text:>9}{change:>9}\n"
        ));
    }
    for (title, meaning, list) in lists(consequence) {
        if list.is_empty() {
            continue;
        }
        text.push_str(&format!(
            "\n{title}: {} ({meaning})\n",
            format::count(list.len())
        ));
        for change in list.iter().take(MOST_SHOWN) {
            let (before, after) = (state(change.before.as_ref()), state(change.after.as_ref()));
            text.push_str(&format!("  {}: {before} → {after}\n", change.id));
        }
        if list.len() > MOST_SHOWN {
            let more = list.len() - MOST_SHOWN;
            text.push_str(&format!("  and {} more\n", format::count(more)));
        }
    }
    if !consequence.sectors.is_empty() {
        text.push_str("\nsectors\n");
    }
    for SectorChange { id, before, after } in &consequence.sectors {
        let (before, after) = (load(before.as_ref()), load(after.as_ref()));
        text.push_str(&format!(
            "  {id}: {before}\n  {:>1$}  {after}\n",
            "→",
            id.as_str().chars().count()
        ));
    }
    if consequence.is_nothing() {
        text.push_str("\nnothing changes for any premises or sector\n");
    }
    text
}

/// The consequence as a page of its own.
///
/// * `names`: what the two sides are called.
pub fn consequence_html(consequence: &Consequence, names: (&str, &str)) -> String {
    let (before, after) = names;
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                title { "Consequence of a change" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { "Consequence of a change" }
                p.quiet { "From " (before) " to " (after) "." }
                table {
                    tr { th { "" } th.n { "before" } th.n { "after" } th.n { "change" } }
                    @for (name, before, after, decimals) in counts(&consequence.before, &consequence.after) {
                        tr {
                            td { (name) }
                            td.n { (format::number(before, decimals)) }
                            td.n { (format::number(after, decimals)) }
                            td.n { (signed(after - before, decimals)) }
                        }
                    }
                }
                @for (title, meaning, list) in lists(consequence) { (section(title, meaning, list)) }
                @if !consequence.sectors.is_empty() {
                    h2 { "Sectors" }
                    table {
                        tr { th { "sector" } th { "before" } th { "after" } }
                        @for change in &consequence.sectors {
                            tr {
                                td { (change.id) }
                                td { (load(change.before.as_ref())) }
                                td { (load(change.after.as_ref())) }
                            }
                        }
                    }
                }
                p.quiet { (CAUTION) }
            }
        }
    }
    .into_string()
}

fn section(title: &str, meaning: &str, list: &[PremisesChange]) -> Markup {
    html! {
        h2 { "Premises " (title) ": " (format::count(list.len())) }
        p.quiet { (meaning) }
        @if !list.is_empty() {
            table {
                tr { th { "premises" } th { "name" } th { "before" } th { "after" } }
                @for change in list {
                    tr {
                        td { (change.id) }
                        td { (change.name) }
                        td { (state(change.before.as_ref())) }
                        td { (state(change.after.as_ref())) }
                    }
                }
            }
        }
    }
}
