//! Findings, method, sources and cautions: what the answer rests on.

use std::collections::BTreeMap;

use maud::{Markup, html};
use model::finding::{Finding, Severity};
use model::network::Network;

use super::ticked;
use crate::format;
use crate::handout::Handout;

/// Beyond this many findings the rest is counted.
const MOST_FINDINGS: usize = 150;

pub(super) fn findings(handout: &Handout<'_>) -> Markup {
    let all = handout.findings;
    html! {
        section {
            h2 { "Findings" }
            @if all.is_empty() {
                p { "None." }
            } @else {
                ul.findings { @for finding in all.iter().take(MOST_FINDINGS) { (item(finding)) } }
                @if all.len() > MOST_FINDINGS {
                    p.quiet { (format::count(all.len() - MOST_FINDINGS)) " more stand in " code { "study.json" } "." }
                }
            }
        }
    }
}

fn item(finding: &Finding) -> Markup {
    let glyph = match finding.severity {
        Severity::Error => "■",
        Severity::Warning => "▲",
        Severity::Note => "○",
    };
    let severity = finding.severity.to_string();
    html! {
        li class=(severity) {
            span.severity { (glyph) " " (severity) } " " (ticked(&finding.message))
            @if let Some(place) = &finding.place {
                span.quiet { " · " (format::xml_text(&place.to_string())) }
            }
            @if !finding.hint.is_empty() { div.quiet { "hint: " (ticked(&finding.hint)) } }
        }
    }
}

pub(super) fn method(handout: &Handout<'_>) -> Markup {
    let network = handout.network;
    let p = &network.propagation;
    let s = &network.study;
    html! {
        section {
            h2 { "How it was worked out" }
            p {
                "Every premises is looked at from every sector within " (format::distance(1000.0 * p.reach_km))
                ": " (format::count(handout.study.summary.evaluated_paths)) " paths over the geodesic, ground and clutter at the terrain's own spacing"
                @if let Some(step_m) = p.profile_step_m { " (or " (format::metres(step_m)) ", as the design asks)" }
                ". A link is the sum of its terms in both directions; the smaller margin decides. The probability is that of the margin surviving the spread of the prediction: the loss over locations, and the model's own error."
            }
            dl {
                @for title in model_titles(network) { dt { "Path loss" } dd { (title) } }
                dt { "Time" } dd { "loss not exceeded for " (format::number(p.time_pct, 1)) " % of an average year; unwanted signals " (format::number(p.interference_time_pct, 1)) " %" }
                dt { "Climate" } dd { "refractivity lapse " (format::number(p.refractivity_lapse_n_per_km, 1)) " N-units per km, sea-level refractivity " (format::number(p.surface_refractivity_n, 0)) " N-units; " (fading(network)) }
                dt { "Spread" } dd { "over a square of " (format::metres(p.location_area_m)) ", and " (format::db(p.model_error_db)) " for the model's own error" }
                dt { "Margins" } dd { "fade margin " (format::db(s.fade_margin_db)) " above every threshold, implementation margin as each air interface card says" }
                dt { "Load" } dd { "at most " (format::percent(s.max_airtime_frac)) " of the airtime at the busy hour; interfering sectors transmit " (format::percent(s.interferer_activity_frac)) " of the time" }
                @for (kind, text) in cards(network) { dt { (kind) } dd { (format::xml_text(&text)) } }
            }
            (clutter(network))
        }
    }
}

/// What the availability of links rests on.
fn fading(network: &Network) -> String {
    let c = &network.climate;
    let multipath = match c.multipath_map {
        Some(map) => format!(
            "log K {} and gradient {} N-units per km",
            format::number(map.log_k, 2),
            format::number(map.gradient_75_n_per_km, 0)
        ),
        None => format!(
            "gradient {} N-units per km for 1 % of the year",
            format::number(c.gradient_1pct_n_per_km, 0)
        ),
    };
    format!(
        "fading by ITU-R P.530: rain of {} mm/h for 0.01 % of the year (from 5 GHz on), {multipath}",
        format::number(c.rain_001_mm_per_h, 0)
    )
}

/// Path-loss models in use, each once.
fn model_titles(network: &Network) -> Vec<&'static str> {
    let p = &network.propagation;
    let mut titles = Vec::new();
    for s in &network.sectors {
        for choice in [p.service_model, p.interference_model] {
            let title = engine::path::path_model(choice, s.channel.centre_mhz).title();
            if !titles.contains(&title) {
                titles.push(title);
            }
        }
    }
    titles
}

/// Equipment and air interfaces in use, each once, with where its figures come from.
fn cards(network: &Network) -> Vec<(&'static str, String)> {
    let mut cards: BTreeMap<(&'static str, String), String> = BTreeMap::new();
    let mut add = |kind, name: &str, source: &str| {
        cards.insert((kind, name.to_owned()), source.to_owned());
    };
    for s in &network.sectors {
        let air = &s.air_interface;
        let title = format!("{} ({})", air.name, air.standard);
        add("Air interface", &title, &air.source);
        add("Base station", &s.base_station.name, &s.base_station.source);
        add("Sector antenna", &s.antenna.name, &s.antenna.source);
    }
    for p in &network.premises {
        add("Terminal", &p.terminal.name, &p.terminal.source);
    }
    cards
        .into_iter()
        .map(|((kind, name), source)| (kind, format!("{name}: {source}")))
        .collect()
}

fn clutter(network: &Network) -> Markup {
    let table = &network.ground.clutter;
    html! {
        @if !table.classes.is_empty() {
            h3 { "Clutter" span.quiet { " · legend " (format::xml_text(&table.legend)) } }
            div.wide { table {
                thead { tr { th.n { "Class" } th { "Land cover" } th.n { "Height" } th { "Source" } } }
                tbody {
                    @for class in &table.classes {
                        tr {
                            td.n { (class.code) } td { (format::xml_text(&class.name)) }
                            td.n { (format::metres(class.height_m)) } td { (format::xml_text(&class.source)) }
                        }
                    }
                }
            } }
        }
    }
}

pub(super) fn sources(handout: &Handout<'_>) -> Markup {
    let rules = &handout.network.rule_set;
    html! {
        section {
            h2 { "Data and rules" }
            dl {
                @for source in handout.data_sources {
                    dt { (source.kind) } dd { code { (format::xml_text(&source.file)) } " " (format::xml_text(&source.description)) }
                }
                @if handout.data_sources.is_empty() { dt { "Ground" } dd { "no data set was named" } }
                dt { "Rule set" }
                dd { (format::xml_text(&rules.title)) ", compared with its sources: " (format::xml_text(&rules.date_checked)) ". " (format::xml_text(&rules.caution)) }
                @for rule in bound_rules(handout) {
                    dt { "Rule " (format::xml_text(rule.id.as_str())) }
                    dd { (format::xml_text(&rule.source)) " (" (format::xml_text(&rule.certainty)) ")"
                        @for condition in &rule.conditions { "; " (format::xml_text(condition)) } }
                }
            }
        }
    }
}

/// Rules that took power away from a sector.
fn bound_rules<'a>(handout: &Handout<'a>) -> Vec<&'a model::rules::SpectrumRule> {
    let binding: Vec<_> = handout
        .study
        .sectors
        .iter()
        .filter_map(|s| s.power.bound_by.as_ref())
        .collect();
    let rules = &handout.network.rule_set.rules;
    rules.iter().filter(|r| binding.contains(&&r.id)).collect()
}

pub(super) fn cautions(handout: &Handout<'_>) -> Markup {
    html! {
        section.cautions {
            h2 { "Before anyone climbs or transmits" }
            p { "This is a prediction for planning. Local codes, the regulator, the owner of the structure and licensed practice decide; where they differ from this page, they are right." }
            ul {
                li { strong { "Spectrum. " } "The rule set " (format::xml_text(&handout.network.rule_set.title)) " is a dated planning aid and no legal advice. Confirm the licence, registration, certification and any coordination before transmitting." }
                li { strong { "Height. " } "Work on masts and roofs only with training, fall protection, a rescue plan and a second person, within the wind limits of the site." }
                li { strong { "Structures. " } "No load on any mast, wall or roof was checked here. An engineer licensed for the place must check wind, ice and fixings. A new or taller structure may need planning and aviation consent, and marking or lighting." }
                li { strong { "Mains and power lines. " } "Keep every tool, mast and cable out of reach of overhead lines. Mains work belongs to a licensed electrician." }
                li { strong { "Lightning. " } "Bond, earth and protect outdoor equipment as the local code asks; leave the work when thunder is heard." }
                li { strong { "Radio exposure. " } "Keep people outside the exposure distances of transmitting antennas, switch off before working in front of one, and follow the limits in force at the place." }
                li { strong { "The prediction itself. " } "Terrain and land cover are older and coarser than the place. Trees grow, houses are built. Measure before a promise that matters." }
            }
        }
    }
}
