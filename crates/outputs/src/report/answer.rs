//! The answer first: how many premises can be promised their plan, and where.

use engine::verdict::Verdict;
use maud::{Markup, html};

use crate::format;
use crate::handout::Handout;
use crate::map::Map;
use crate::mark;
use crate::relief::TINT_COLOURS;

pub(super) fn answer(handout: &Handout<'_>) -> Markup {
    let s = &handout.study.summary;
    let offered = s.served + s.doubtful;
    html! {
        section.answer {
            p.headline {
                strong { (format::count(s.served)) " of " (format::count(s.premises)) " premises" }
                " can be promised their plan."
            }
            (stacked(handout))
            div.tiles {
                (tile(Verdict::Served, s.served, "The plan is met in both directions with the probability it asks for."))
                (tile(Verdict::Doubtful, s.doubtful, "The plan is met on the median, but less surely than it asks for. Measure before promising."))
                (tile(Verdict::Unserved, s.unserved, "The plan is not met. What holds each one back stands below."))
            }
            p {
                @if offered == 0 {
                    "Nothing can be offered, so no installation is expected to fail."
                } @else {
                    "Of " (format::count(offered)) " served or doubtful premises, about "
                    strong { (format::installations(s.expected_failed_installations)) }
                    " expected to fail."
                }
            }
        }
    }
}

fn count(handout: &Handout<'_>, verdict: Verdict) -> usize {
    let s = &handout.study.summary;
    match verdict {
        Verdict::Served => s.served,
        Verdict::Doubtful => s.doubtful,
        Verdict::Unserved => s.unserved,
    }
}

fn stacked(handout: &Handout<'_>) -> Markup {
    let all = handout.study.summary.premises.max(1) as f64;
    html! {
        div.stacked role="img" aria-label="Shares of served, doubtful and unserved premises" {
            @for verdict in mark::VERDICTS {
                @let share = count(handout, verdict) as f64 / all;
                @if share > 0.0 {
                    span class=(verdict.name()) style=(format!("flex-grow:{share:.5}")) {
                        @if share > 0.06 { (mark::glyph(verdict)) " " (format::percent(share)) }
                    }
                }
            }
        }
    }
}

fn tile(verdict: Verdict, count: usize, meaning: &str) -> Markup {
    html! {
        div class={ "tile " (verdict.name()) } {
            p.number { (mark::inline(verdict)) " " (format::count(count)) " " span { (verdict.name()) } }
            p.quiet { (meaning) }
        }
    }
}

pub(super) fn map(handout: &Handout<'_>, map: &Map) -> Markup {
    html! {
        section {
            h2 { "Map" }
            figure.sheet {
                (map.drawing)
                figcaption {
                    @for verdict in mark::VERDICTS {
                        span.key { (mark::inline(verdict)) " " (verdict.name()) }
                    }
                    span.key { span.wedge {} " sector, as wide as its half-power beam" }
                    @match &map.relief {
                        Some(relief) => {
                            span.key {
                                span.ramp { @for c in TINT_COLOURS { span style=(format!("background:rgb({},{},{})", c[0], c[1], c[2])) {} } }
                                " ground " (format::number(relief.low_amsl_m, 0)) " to "
                                (format::number(relief.high_amsl_m, 0)) " m above sea level"
                            }
                            @if relief.unknown_frac > 0.0 {
                                span.key { "plain grey: ground unknown" }
                            }
                            @if relief.exaggeration > 1.05 {
                                span.key { "relief exaggerated " (format::number(relief.exaggeration, 1)) " ×" }
                            }
                        }
                        None => { span.key { "no relief: the ground was not given or is unknown" } }
                    }
                    span.key { "plane EPSG:" (handout.network.territory.working_plane_epsg) }
                }
            }
        }
    }
}
