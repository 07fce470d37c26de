//! Cross-sections of chosen links with their budgets.

use engine::explain::{BudgetTerm, PathReport};
use maud::{Markup, html};

use crate::format;
use crate::handout::Handout;
use crate::{mark, section_svg};

pub(super) fn cross_sections(handout: &Handout<'_>) -> Markup {
    if handout.cross_sections.is_empty() {
        return html! {};
    }
    html! {
        section {
            h2 { "Cross-sections" }
            p.quiet { "The links that most deserve a look: near misses of each cause, and doubtful ones." }
            @for report in handout.cross_sections { (one(handout, report)) }
        }
    }
}

fn one(handout: &Handout<'_>, report: &PathReport) -> Markup {
    let premises = handout
        .study
        .premises
        .iter()
        .find(|p| p.id.as_str() == report.to);
    html! {
        div.one {
        figure.link {
            (section_svg::drawing(report))
            figcaption {
                @if let Some(p) = premises {
                    strong { (mark::inline(p.verdict)) " " (p.verdict.name()) }
                    @if let Some(limit) = &p.limit {
                        ": " (limit.cause.name())
                        @if limit.shortfall_db > 0.0 { ", " (format::db(limit.shortfall_db)) " short" }
                    }
                    ". "
                }
                "Path loss " (format::db(report.link.downlink.levels.path_loss_db)) ", of which "
                (format::db(report.link.excess_loss_db)) " more than free space. The plan is met with a probability of "
                (format::percent(report.link.probability_frac)) ". " (crate::budget_text::availability(&report.link)) "."
                @for warning in &report.loss_warnings { " Outside the model's range: " (format::xml_text(warning)) "." }
            }
        }
        @if let Some(caption) = report.company.caption() {
            p.quiet { "The budgets are those of " (caption) "; the verdict counts the interference of the whole network." }
        }
        div.budgets {
            (budget("Downlink, base station to terminal", &report.downlink))
            (budget("Uplink, terminal to base station", &report.uplink))
        }
        }
    }
}

fn budget(title: &str, terms: &[BudgetTerm]) -> Markup {
    html! {
        table.budget {
            caption { (title) }
            tbody {
                @for term in terms {
                    tr.sum[term.subtotal] {
                        th scope="row" {
                            (format::xml_text(&term.label))
                            @if !term.subtotal { div.quiet { (super::ticked(&term.source)) } }
                        }
                        td.n { (format::with_unit(term.value, term.unit)) }
                    }
                }
            }
        }
    }
}
