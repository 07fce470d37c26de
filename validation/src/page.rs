//! The page.

use std::fmt::Write as _;

use crate::compare::{Measured, TableMeasured};
use crate::suites::{Origin, ResultColumn, Suite, Suites, Table, Unit};

const INTRODUCTION: &str = "\
# Validation

What Mastwright's propagation models were compared with, how far they differ, and what is not proven.

`make validate` writes this page. Every figure in it comes from running the same calculator that \
`mastwright model NAME --cases FILE.csv` runs over the reference tables, and a test fails when the page \
is not what a run would write. Nothing on it is typed in but the descriptions, the tolerances and their reasons.

How to read it:

- **Published** cases carry expected values that the publisher of the standard, or of its reference \
implementation, published. **Generated** cases have inputs chosen for this project and expected values from a \
run of that reference implementation; so have most intermediate terms in published tables, and the results that stand \
there beside the publisher's own. **Equation** means that the expected values are an independent evaluation \
of the equation alone.
- *Worst* is the greatest difference of any case, *RMS* the root mean square over all cases; no case is left \
out of either. For models held to a relative tolerance both are shares of the expected value, written without a unit.
- *Further columns* are the intermediate terms of the model that the table also gives: their number, and the \
greatest difference of any, as a share of 1 or of the value, whichever is larger. Words must be equal.
- The tables have 12 significant digits. Differences below 1e-9 are of their rounding and are written `< 1e-9`; those \
below 1e-6 are rounded up to the next power of ten, because the last digits of a processor's arithmetic may move \
them; larger ones have two digits.
- *Outside* counts the cases outside the range that the standard states. They are compared like the others; \
the program computes such cases with a warning.
";

/// The page, from what was measured.
#[must_use]
pub fn page(suites: &Suites, measured: &[Measured]) -> String {
    let mut text = INTRODUCTION.to_owned();
    text += &summary(suites, measured);
    for (suite, measured) in suites.suite.iter().zip(measured) {
        text += &section(suite, measured);
    }
    text += "\n## Checks that rest on no published table\n\n\
             These parts are tested too, but against closed forms, hand computation or the text of the standard as \
             remembered. They deserve less trust than the tables above.\n\n";
    text += &list(&suites.unpublished);
    text += "\n## Sources and terms\n\n";
    text += &list(&suites.sources);
    text
}

fn list(lines: &[String]) -> String {
    lines.iter().map(|line| format!("- {line}\n")).collect()
}

fn summary(suites: &Suites, measured: &[Measured]) -> String {
    let mut text = "\n## Summary\n\n\
        | model | standard | published cases | other cases | worst, of tolerance | verdict |\n\
        |---|---|---:|---:|---:|---|\n"
        .to_owned();
    let mut totals = (0, 0);
    for (suite, measured) in suites.suite.iter().zip(measured) {
        let rows = |published| -> usize {
            let of_kind = measured
                .tables
                .iter()
                .filter(|t| t.is_published == published);
            of_kind.map(|t| t.rows).sum()
        };
        totals = (totals.0 + rows(true), totals.1 + rows(false));
        let share = measured
            .tables
            .iter()
            .flat_map(|t| &t.results)
            .map(|r| r.worst / r.tolerance)
            .fold(0.0, f64::max);
        let _ = writeln!(
            text,
            "| [`{name}`](#{anchor}) | {} | {} | {} | {} | {} |",
            suite.heading,
            rows(true),
            rows(false),
            percent(share),
            verdict(measured.tables.iter().all(TableMeasured::passes)),
            name = suite.name,
            anchor = suite.name,
        );
    }
    let _ = writeln!(text, "| | all | {} | {} | | |", totals.0, totals.1);
    text
}

fn section(suite: &Suite, measured: &Measured) -> String {
    let mut text = format!("\n## {}\n\n{}\n\n", suite.name, suite.heading);
    let mut models: Vec<_> = measured.tables.iter().map(|t| t.model).collect();
    models.dedup_by_key(|m| m.name);
    for (i, model) in models.iter().enumerate() {
        if models[..i].iter().all(|earlier| earlier.name != model.name) {
            let _ = writeln!(
                text,
                "- `{}`: {}. Range: {}.",
                model.name, model.title, model.range
            );
        }
    }
    let _ = writeln!(text, "\n**Cases.** {}\n", suite.source);
    text += "| table | origin | cases | outside | result | worst | RMS | tolerance | verdict | further columns |\n\
             |---|---|---:|---:|---|---:|---:|---:|---|---|\n";
    for (table, measured) in suite.table.iter().zip(&measured.tables) {
        text += &table_rows(table, measured);
    }
    text += &reasons(suite, measured);
    let _ = writeln!(text, "\n**Properties.** {}", suite.properties);
    text + "\n**Not covered.**\n\n" + &list(&suite.not_covered)
}

fn table_rows(table: &Table, measured: &TableMeasured) -> String {
    let mut text = String::new();
    for (i, (result, comparison)) in table.result.iter().zip(&measured.results).enumerate() {
        let first = i == 0;
        let once = |cell: String| if first { cell } else { String::new() };
        let rows = match &table.only {
            Some((_, word)) => format!("`{}`, {word}", table.file),
            None => format!("`{}`", table.file),
        };
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            once(rows),
            once(origin(table.origin).to_owned()),
            once(measured.rows.to_string()),
            once(measured.outside_range.to_string()),
            compared(result),
            shown(comparison.worst, result.unit),
            shown(comparison.rms, result.unit),
            tolerance(result),
            verdict(comparison.passes()),
            once(further(measured)),
        );
    }
    text
}

fn compared(result: &ResultColumn) -> String {
    match &result.theirs {
        Some(theirs) => format!("`{}` with `{theirs}`", result.ours),
        None => format!("`{}`", result.ours),
    }
}

fn further(measured: &TableMeasured) -> String {
    let Some(all) = &measured.further else {
        return "none".to_owned();
    };
    let failed = if all.passes() { "" } else { ", **fails**" };
    // Which of several columns holds the worst rounding is chance.
    let at = if all.worst >= LEAST_SHOWN {
        format!(" (`{}`)", all.column)
    } else {
        String::new()
    };
    format!(
        "{}: {}{at}{failed}",
        measured.further_columns,
        shown(all.worst, Unit::Share)
    )
}

/// Why the tolerances are what they are, and the rows that need a word.
fn reasons(suite: &Suite, measured: &Measured) -> String {
    let mut lines: Vec<String> = Vec::new();
    for table in &suite.table {
        for result in &table.result {
            let line = format!("{}: {}.", tolerance(result), result.why);
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
    }
    for (table, measured) in suite.table.iter().zip(&measured.tables) {
        if let Some(why) = &table.further_why {
            lines.push(format!(
                "Further columns of `{}` to {:.0e} of 1 or the value: {why}.",
                table.file, table.further
            ));
        }
        for (note, rows) in table.note.iter().zip(&measured.noted) {
            lines.push(format!(
                "`{}`: {rows} of {} cases {}.",
                table.file, measured.rows, note.says
            ));
        }
    }
    format!("\n**Tolerances and exceptions.**\n\n{}", list(&lines))
}

fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Published => "published",
        Origin::Generated => "generated",
        Origin::Equation => "equation",
    }
}

fn verdict(passes: bool) -> &'static str {
    if passes { "passes" } else { "**fails**" }
}

fn tolerance(result: &ResultColumn) -> String {
    if result.tolerance < 1e-3 {
        format!("{:.0e}{}", result.tolerance, result.unit.text())
    } else {
        format!("{}{}", result.tolerance, result.unit.text())
    }
}

/// Below this a difference is of the rounding of the tables.
const LEAST_SHOWN: f64 = 1e-9;

fn shown(difference: f64, unit: Unit) -> String {
    let number = if difference < LEAST_SHOWN {
        "< 1e-9".to_owned()
    } else if difference < 1e-6 {
        let bounds = [1e-8, 1e-7, 1e-6];
        let bound = bounds.into_iter().find(|b| difference < *b).unwrap_or(1e-6);
        format!("< {bound:.0e}")
    } else {
        two_digits(difference)
    };
    number + unit.text()
}

fn two_digits(x: f64) -> String {
    let scientific = format!("{x:.1e}");
    let rounded: f64 = scientific.parse().unwrap_or(x);
    match rounded {
        r if r < 1e-3 => scientific,
        r if r < 0.01 => format!("{r:.4}"),
        r if r < 0.1 => format!("{r:.3}"),
        r if r < 1.0 => format!("{r:.2}"),
        r => format!("{r:.1}"),
    }
}

fn percent(share: f64) -> String {
    if share < 0.01 {
        "< 1 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * share)
    }
}

#[cfg(test)]
mod tests {
    use super::{percent, shown};
    use crate::compare::Comparison;
    use crate::suites::Unit;

    #[test]
    fn exact_noise_is_not_written() {
        for (difference, text) in [
            (0.0, "< 1e-9"),
            (4.9e-10, "< 1e-9"),
            (3e-9, "< 1e-8"),
            (9.9e-7, "< 1e-6"),
            (7.04e-6, "7.0e-6"),
            (0.004_99, "0.0050"),
            (0.051_2, "0.051"),
            (1.26, "1.3"),
        ] {
            assert_eq!(shown(difference, Unit::Share), text);
        }
        assert_eq!(shown(0.5, Unit::Decibels), "0.50 dB");
        assert_eq!(
            (percent(0.003), percent(0.85)),
            ("< 1 %".into(), "85 %".into())
        );
    }

    #[test]
    fn exact_what_is_no_number_does_not_pass() {
        let not_a_number = Comparison {
            column: String::new(),
            worst: f64::NAN,
            rms: 0.0,
            tolerance: 1.0,
        };
        assert!(!not_a_number.passes());
    }
}
