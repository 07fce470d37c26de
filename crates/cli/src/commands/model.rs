//! `model`: a published model over a table of cases.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::bail;
use calculator::{FAMILIES, Input, Kind, MODELS, Place, Problem, Unavailable, twelve_digits};
use pipeline::model::{Finding, Severity, TextPlace};
use serde_json::{Map, Value, json};

use super::{deliver, read_text};
use crate::args::Model;
use crate::console::Console;
use crate::exit::Exit;
use crate::failure::Unusable;

pub(super) fn run(args: &Model, console: &Console) -> anyhow::Result<Exit> {
    let Some(name) = &args.name else {
        return list(console);
    };
    let members = calculator::family(name);
    if members.is_empty() {
        let known: Vec<_> = MODELS.iter().map(|m| format!("`{}`", m.name)).collect();
        bail!(
            "there is no model `{name}`\nhint: there are {}",
            known.join(", ")
        );
    }
    if args.list {
        return columns(name, &members, console);
    }
    let Some(path) = &args.cases else {
        bail!("no cases are given\nhint: add `--cases FILE.csv`");
    };
    let table = read_text(path)?;
    let model = calculator::choose(&members, &table).map_err(|p| problems(&p, args))?;
    let folder = args.profiles.clone().or_else(|| profiles_beside(path));
    let is_profile = |input: &Input| matches!(input.kind, Kind::Profile | Kind::Heights);
    if model.inputs.iter().any(is_profile) && folder.is_none() {
        bail!(
            "model `{}` reads terrain profiles\nhint: name their folder: `--profiles DIR`",
            model.name
        );
    }
    let args = &Model {
        profiles: folder,
        ..args.clone()
    };
    match &args.explain {
        Some(case) => explain(model, &table, (case, args), console),
        None => cases(model, &table, args, console),
    }
}

fn list(console: &Console) -> anyhow::Result<Exit> {
    for model in MODELS {
        console.text(&format!(
            "{:<20} {}\n{:20} {}\n",
            model.name, model.title, "", model.range
        ));
    }
    let plain: Vec<&str> = FAMILIES.iter().map(|(name, _)| *name).collect();
    console.text(&format!(
        "\nThe plain names {} take whichever of their tables has the columns of the cases.\n",
        plain.join(", ")
    ));
    let models: Vec<Value> = MODELS
        .iter()
        .map(|m| json!({ "name": m.name, "title": m.title, "range": m.range }))
        .collect();
    console.document(&json!({ "models": models, "plain_names": plain }))?;
    Ok(Exit::Done)
}

/// The columns of a model, or of every table that goes by its name.
fn columns(name: &str, members: &[&calculator::Model], console: &Console) -> anyhow::Result<Exit> {
    for model in members {
        console.text(&table_of_columns(model));
    }
    if members.len() > 1 {
        console.text(&format!(
            "`{name}` takes the one of these tables whose columns are there\n"
        ));
    }
    match members {
        [model] => console.document(&described(model))?,
        several => {
            let tables: Vec<Value> = several.iter().map(|m| described(m)).collect();
            console.document(&json!({ "name": name, "tables": tables }))?;
        }
    }
    Ok(Exit::Done)
}

fn table_of_columns(model: &calculator::Model) -> String {
    let mut text = format!(
        "{}: {}\n{}\n\nreads\n",
        model.name, model.title, model.range
    );
    for input in model.inputs {
        let c = input.column;
        text += &format!("  {:<16} {} ({})\n", c.name, c.meaning, values(input));
    }
    text += "\nwrites\n";
    for c in model.outputs {
        text += &format!("  {:<16} {}\n", c.name, c.meaning);
    }
    text + "\n"
}

fn described(model: &calculator::Model) -> Value {
    let describe =
        |c: &calculator::Column| json!({ "name": c.name, "unit": c.unit, "meaning": c.meaning });
    let inputs: Vec<Value> = model.inputs.iter().map(|i| describe(&i.column)).collect();
    let outputs: Vec<Value> = model.outputs.iter().map(describe).collect();
    json!({
        "name": model.name, "title": model.title, "range": model.range,
        "inputs": inputs, "outputs": outputs,
    })
}

fn values(input: &Input) -> String {
    match input.kind {
        Kind::Number { min, max } => format!("{min} to {max} {}", input.column.unit)
            .trim_end()
            .to_owned(),
        Kind::Word(words) => words.join(" or "),
        Kind::Profile | Kind::Heights => "file of the profiles folder, without .csv".to_owned(),
    }
}

fn cases(
    model: &calculator::Model,
    table: &str,
    args: &Model,
    console: &Console,
) -> anyhow::Result<Exit> {
    let mut profiles = profiles(args.profiles.as_deref());
    let results = calculator::run(model, table, &mut profiles).map_err(|p| problems(&p, args))?;
    deliver(args.out.as_deref(), results.csv.as_bytes(), console)?;
    if console.is_lively() {
        for warning in &results.warnings {
            Console::error(&format!(
                "warning: line {}, case `{}`: {}\n",
                warning.line, warning.case, warning.warning
            ));
        }
    }
    let warnings: Vec<Value> = results
        .warnings
        .iter()
        .map(|w| json!({ "line": w.line, "case": w.case, "warning": w.warning.to_string() }))
        .collect();
    console.document(&json!({
        "model": model.name, "cases": results.cases,
        "results": rows(&results.csv)?, "warnings": warnings,
    }))?;
    Ok(Exit::Done)
}

/// The result table as objects, numbers as numbers.
fn rows(table: &str) -> anyhow::Result<Vec<Value>> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let columns = reader.headers()?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record?;
        let cells = columns.iter().zip(record.iter()).map(|(name, cell)| {
            let number = cell.parse::<f64>().ok().filter(|_| name != "case");
            (
                name.to_owned(),
                number.map_or_else(|| json!(cell), |n| json!(n)),
            )
        });
        rows.push(Value::Object(cells.collect::<Map<_, _>>()));
    }
    Ok(rows)
}

fn explain(
    model: &calculator::Model,
    table: &str,
    (case, args): (&str, &Model),
    console: &Console,
) -> anyhow::Result<Exit> {
    let mut profiles = profiles(args.profiles.as_deref());
    let explanation =
        calculator::explain(model, table, case, &mut profiles).map_err(|p| problems(&p, args))?;
    let mut text = format!("{}, case `{}`\n", model.title, explanation.case);
    for term in &explanation.terms {
        let value = twelve_digits(term.value);
        text.push_str(&format!(
            "  {:<18} {value:>18} {:<5} {}\n",
            term.name, term.unit, term.meaning
        ));
    }
    for warning in &explanation.warnings {
        text.push_str(&format!("warning: {warning}\n"));
    }
    deliver(args.out.as_deref(), text.as_bytes(), console)?;
    let terms: Vec<Value> = explanation
        .terms
        .iter()
        .map(|t| json!({ "name": t.name, "value": t.value, "unit": t.unit, "meaning": t.meaning }))
        .collect();
    let warnings: Vec<String> = explanation
        .warnings
        .iter()
        .map(ToString::to_string)
        .collect();
    console.document(&json!({
        "model": model.name, "case": explanation.case, "terms": terms, "warnings": warnings,
    }))?;
    Ok(Exit::Done)
}

/// The calculator's problems, each at its place.
fn problems(problems: &calculator::Problems, args: &Model) -> Unusable {
    let name_of = |path: &Option<PathBuf>| path.as_deref().map_or(String::new(), shown);
    let finding = |problem: &Problem| {
        let file = match &problem.place {
            Place::Table => name_of(&args.cases),
            Place::Profile(name) => {
                let folder = args.profiles.clone().unwrap_or_default();
                shown(&folder.join(format!("{name}.csv")))
            }
        };
        let message = match problem.column.as_str() {
            "" => problem.fault.to_string(),
            column => format!("column `{column}` {}", problem.fault),
        };
        Finding::new(Severity::Error, "cases", message)
            .at(TextPlace {
                file: file.into(),
                line: usize::try_from(problem.line).unwrap_or(usize::MAX),
                column: 0,
                text: problem.text.clone(),
            })
            .hint(problem.hint())
    };
    Unusable {
        message: "the cases cannot be computed".to_owned(),
        findings: problems.list().iter().map(finding).collect(),
    }
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}

/// The folder `profiles` beside a table of cases, where there is one.
fn profiles_beside(cases: &Path) -> Option<PathBuf> {
    let folder = cases.parent()?.join("profiles");
    folder.is_dir().then_some(folder)
}

/// Profiles by name from a folder.
fn profiles(folder: Option<&Path>) -> impl FnMut(&str) -> Result<String, Unavailable> {
    move |name: &str| {
        let path = folder
            .ok_or(Unavailable::Unknown)?
            .join(format!("{name}.csv"));
        read_text(&path).map_err(|error| {
            let io = error.downcast_ref::<std::io::Error>();
            match io.map(std::io::Error::kind) {
                Some(ErrorKind::NotFound) => Unavailable::Unknown,
                _ => Unavailable::Unreadable(format!("{error:#}")),
            }
        })
    }
}
