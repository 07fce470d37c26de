//! The report: one page that stands alone, on a screen or printed on A4. It
//! holds no script and asks nothing of the network.

mod answer;
mod hops;
mod ledger;
mod links;
mod load;
mod method;
mod sectors;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::format;
use crate::handout::{Handout, OutputError};
use crate::map;

const STYLE: &str = include_str!("report/style.css");

/// The whole page.
pub fn report(handout: &Handout<'_>) -> Result<String, OutputError> {
    let map = map::draw(handout)?;
    let load = load::load(handout)?;
    let name = format::xml_text(&handout.network.name);
    let page = html! {
        (DOCTYPE)
        html lang="en" xmlns="http://www.w3.org/1999/xhtml" {
            head {
                // Closed like XML, so that strict readers accept the page too.
                (PreEscaped("<meta charset=\"utf-8\"/><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>"))
                title { (name) " · network study" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (header(handout, &name))
                main {
                    (answer::answer(handout))
                    (answer::map(handout, &map))
                    (sectors::sectors(handout))
                    (load)
                    (hops::hops(handout))
                    (ledger::causes(handout))
                    (links::cross_sections(handout))
                    (ledger::ledger(handout))
                    (method::findings(handout))
                    (method::method(handout))
                    (method::sources(handout))
                    (method::cautions(handout))
                }
                footer { "Mastwright " (handout.version) " · " (handout.written_at) }
            }
        }
    };
    Ok(page.into_string())
}

fn header(handout: &Handout<'_>, name: &str) -> Markup {
    let date = handout.written_at.get(..10).unwrap_or(handout.written_at);
    html! {
        header {
            p.kicker { "Network study" }
            h1 { (name) }
            p.quiet {
                (format::count_of(handout.network.masts.len(), "mast", "masts")) " · "
                (format::count_of(handout.network.sectors.len(), "sector", "sectors")) " · "
                (format::count_of(handout.network.premises.len(), "premises", "premises")) " · "
                "rule set " (format::xml_text(&handout.network.rule_set.title)) " · " (date)
            }
        }
    }
}

/// Text in which `backticks` mark values.
fn ticked(text: &str) -> Markup {
    let text = format::xml_text(text);
    html! {
        @for (i, part) in text.split('`').enumerate() {
            @if i % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

/// A share as a bar with its figure.
fn share_bar(share_frac: f64, limit_frac: Option<f64>) -> Markup {
    let width_pct = 100.0 * share_frac.clamp(0.0, 1.0);
    let full = limit_frac.is_some_and(|l| share_frac > 0.95 * l);
    html! {
        span.bar {
            span.fill.full[full] style=(format!("width:{width_pct:.1}%")) {}
            @if let Some(limit_frac) = limit_frac {
                span.limit style=(format!("left:{:.1}%", 100.0 * limit_frac.clamp(0.0, 1.0))) {}
            }
        }
        span.figure { (format::percent(share_frac)) }
    }
}
