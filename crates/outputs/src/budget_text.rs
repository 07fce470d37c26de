//! A link budget as aligned text, for a terminal.

use engine::availability::NoAvailability;
use engine::explain::{BudgetTerm, InterfererLine, PathReport};
use engine::link::Link;

use crate::format;
use crate::handout::TextStyle;
use crate::section_text::ascii;

/// Both directions' budgets, the terms of the path loss and what to watch
/// out for, in columns: label, value, unit, source.
pub fn budget_text(report: &PathReport, style: &TextStyle) -> String {
    let mut text = String::new();
    let directions = [
        ("Downlink, base station to terminal", &report.downlink),
        ("Uplink, terminal to base station", &report.uplink),
    ];
    if let Some(caption) = report.company.caption() {
        text.push_str(&format!("Budgets of {caption}\n\n"));
    }
    for (title, terms) in directions {
        heading(&mut text, title, style);
        let label_width = widest(terms.iter().map(|t| t.label.as_str()));
        for term in terms {
            text.push_str(&line(term, label_width, style));
        }
        text.push('\n');
    }
    interferers(
        &mut text,
        "Unwanted at the terminal",
        &report.downlink_interferers,
        style,
    );
    interferers(
        &mut text,
        "Unwanted at the base station",
        &report.uplink_interferers,
        style,
    );
    loss_terms(&mut text, report, style);
    trees(&mut text, report, style);
    for warning in &report.loss_warnings {
        text.push_str(&format!("warning: {warning}\n"));
    }
    text.push_str(&closing(report));
    if style.ascii { ascii(&text) } else { text }
}

fn heading(text: &mut String, title: &str, style: &TextStyle) {
    text.push_str(&bold(title, style.colour));
    text.push('\n');
}

fn bold(text: &str, colour: bool) -> String {
    if colour {
        format!("\u{1b}[1m{text}\u{1b}[0m")
    } else {
        text.to_owned()
    }
}

fn widest<'a>(labels: impl Iterator<Item = &'a str>) -> usize {
    labels.map(|l| l.chars().count()).max().unwrap_or(0)
}

/// Columns of value and unit with the space around them.
const VALUE_WIDTH: usize = 8;
const UNIT_WIDTH: usize = 5;

fn line(term: &BudgetTerm, label_width: usize, style: &TextStyle) -> String {
    let mark = if term.subtotal { "=" } else { " " };
    let value = format::number(term.value, 1);
    let row = format!(
        "{mark} {:<label_width$} {value:>VALUE_WIDTH$} {:<UNIT_WIDTH$}",
        term.label, term.unit
    );
    if term.subtotal {
        return format!("{}\n", bold(row.trim_end(), style.colour));
    }
    let indent = row.chars().count() + 2;
    let mut lines = wrapped(&term.source, style.width.max(60), indent).into_iter();
    let mut text = format!("{row}  {}\n", lines.next().unwrap_or_default());
    for more in lines {
        text.push_str(&format!("{:indent$}{more}\n", ""));
    }
    text
}

/// Text broken at spaces into what fits beside `indent` columns.
fn wrapped(text: &str, width: usize, indent: usize) -> Vec<String> {
    let room = width.saturating_sub(indent).max(20);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.last().map_or(0, |l| l.chars().count());
        if line > 0 && line + 1 + word.chars().count() > room {
            lines.push(String::new());
        }
        if let Some(last) = lines.last_mut() {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines
}

fn interferers(text: &mut String, title: &str, list: &[InterfererLine], style: &TextStyle) {
    if list.is_empty() {
        return;
    }
    heading(text, title, style);
    let label_width = widest(list.iter().map(|i| i.sector.as_str()));
    for interferer in list {
        text.push_str(&format!(
            "  {:<label_width$} {:>VALUE_WIDTH$} dBm\n",
            interferer.sector,
            format::number(interferer.level_dbm, 1)
        ));
    }
    text.push('\n');
}

fn loss_terms(text: &mut String, report: &PathReport, style: &TextStyle) {
    heading(text, "Terms of the path loss", style);
    text.push_str(&format!("  {}\n", report.model));
    let label_width = widest(report.loss_terms.iter().map(|t| t.meaning));
    for term in &report.loss_terms {
        let row = format!(
            "  {:<label_width$} {:>10} {:<UNIT_WIDTH$}",
            term.meaning,
            format::number(term.value, decimals(term.value)),
            term.unit
        );
        text.push_str(&format!("{row} {}\n", term.name));
    }
    text.push('\n');
}

/// The two ways of a signal whose terminal stands below the trees.
fn trees(text: &mut String, report: &PathReport, style: &TextStyle) {
    let Some(w) = &report.woodland else { return };
    heading(text, "Trees around the terminal", style);
    let rows = [
        ("loss over the trees", w.over_loss_db, "dB"),
        ("stretch of the ray inside the canopy", w.depth_m, "m"),
        ("what that stretch costs, ITU-R P.833", w.through_db, "dB"),
        ("loss through the trees", w.through_loss_db, "dB"),
        (
            "loss of the path, both ways together",
            w.combined_loss_db,
            "dB",
        ),
    ];
    let label_width = widest(rows.iter().map(|r| r.0));
    for (label, value, unit) in rows {
        let value = format::number(value, decimals(value));
        text.push_str(&format!("  {label:<label_width$} {value:>10} {unit}\n"));
    }
    text.push('\n');
}

/// Small quantities of a model need their decimals.
pub(crate) fn decimals(value: f64) -> usize {
    match value.abs() {
        v if v >= 1000.0 => 0,
        v if v >= 10.0 => 1,
        v if !(5e-5..0.1).contains(&v) => 2,
        _ => 4,
    }
}

fn closing(report: &PathReport) -> String {
    let link = &report.link;
    let margin = link
        .margin_db()
        .map_or("no step gives the plan's rate".to_owned(), |m| {
            format!("margin {}", format::signed_db(m))
        });
    format!(
        "{margin}, spread of the prediction {}: the plan is met with a probability of {}\n{}\n",
        format::db(link.prediction_sigma_db),
        format::percent(link.probability_frac),
        availability(link)
    )
}

/// How often fading lets the plan be met, in a sentence.
pub(crate) fn availability(link: &Link) -> String {
    match (&link.availability, link.no_availability) {
        (Some(a), _) if a.outage.worst_month_pct == 0.0 => format!(
            "Bears a fade of {}; none is counted on a path shorter than 5 km and below 5 GHz",
            format::db(a.fade_depth_db)
        ),
        (Some(a), _) => format!(
            "Bears a fade of {}: available {} % of the year and {} % of the worst month; a deeper one by multipath {} %, by rain {} % of the year",
            format::db(a.fade_depth_db),
            format::number(a.availability_year_pct, 4),
            format::number(a.availability_worst_month_pct, 3),
            format::number(a.outage.multipath_year_pct, 4),
            format::number(a.outage.rain_year_pct, 4),
        ),
        (None, reason) => format!(
            "No availability is given: {}",
            reason.map_or("", NoAvailability::meaning)
        ),
    }
}
