//! `path`: one link taken apart.

use anyhow::{Context as _, bail};
use outputs::{TextStyle, budget_text, cross_section_svg, cross_section_text, opinion_text};
use pipeline::engine::RunControl;
use pipeline::engine::explain::{Company, ExplainError};
use pipeline::model::ModelChoice;
use pipeline::{PipelineError, Target, World};

use super::{numbers, open, place};
use crate::args::{OtherModel, Path};
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::findings_text;
use crate::progress::Watch;
use crate::results::unwritable;

pub(super) fn run(args: &Path, console: &Console) -> anyhow::Result<Exit> {
    let world = open(&args.dir)?;
    let target = target(&args.to)?;
    let company = if args.alone {
        Company::Alone
    } else {
        Company::WholeNetwork
    };
    let watch = Watch::new(console);
    let run = RunControl {
        progress: &watch,
        threads: console.threads,
    };
    let told = pipeline::explain(&world, (&args.from, &target), (company, &run))
        .map_err(|error| with_names(error, &world))?;
    drop(watch);
    let (report, findings) = (told.answer, told.findings);
    console.remark(&findings_text(&findings));
    if let Some(path) = &args.svg {
        let drawing = cross_section_svg(&report);
        store::write_atomically(path, drawing.as_bytes()).with_context(|| unwritable(path))?;
        console.remark(&format!("drawing: {}\n", path.display()));
    }
    let style = TextStyle {
        width: Console::width(),
        ascii: false,
        colour: true,
    };
    console.text(&cross_section_text(&report, &style));
    console.text("\n");
    console.text(&budget_text(&report, &style));
    let opinion = args
        .also
        .map(|other| pipeline::second_opinion(&world, (&args.from, &target), choice(other)))
        .transpose()?;
    if let Some(opinion) = &opinion {
        console.text("\n");
        console.text(&opinion_text(opinion, &style));
    }
    if console.json {
        console.bytes(outputs::json::path(&report, opinion.as_ref(), &findings)?.as_bytes());
    }
    Ok(Exit::of_evaluation(&findings))
}

fn choice(other: OtherModel) -> ModelChoice {
    match other {
        OtherModel::P1812 => ModelChoice::P1812,
        OtherModel::P452 => ModelChoice::P452,
        OtherModel::Itm => ModelChoice::Itm,
    }
}

/// A place where the text is two numbers, else a premises.
fn target(text: &str) -> anyhow::Result<Target> {
    if numbers(text).is_some() {
        return Ok(Target::Place(place(text)?));
    }
    if text.trim().is_empty() {
        bail!("`--to` is empty\nhint: name a premises, or a place as `LON,LAT`");
    }
    Ok(Target::Premises(text.to_owned()))
}

/// The same error with the names that would have been right.
fn with_names(error: PipelineError, world: &dyn World) -> anyhow::Error {
    let wanted = match &error {
        PipelineError::Explain(ExplainError::UnknownSector(id)) => (id.clone(), true),
        PipelineError::Explain(ExplainError::UnknownPremises(id)) => (id.clone(), false),
        _ => return error.into(),
    };
    let Some(network) = pipeline::read(world).network else {
        return error.into();
    };
    let (written, of_sectors) = wanted;
    let known: Vec<&str> = if of_sectors {
        network.sectors.iter().map(|s| s.id.as_str()).collect()
    } else {
        network.premises.iter().map(|p| p.id.as_str()).collect()
    };
    anyhow::anyhow!("{error}\nhint: {}", hint(&written, &known))
}

/// Names that start alike, or the first few.
fn hint(written: &str, known: &[&str]) -> String {
    const SHOWN: usize = 12;
    let start: String = written.chars().take(2).collect::<String>().to_lowercase();
    let alike = |name: &&&str| name.to_lowercase().starts_with(&start);
    let mut names: Vec<&str> = known.iter().filter(alike).copied().collect();
    if names.is_empty() {
        names = known.to_vec();
    }
    let shown: Vec<String> = names.iter().take(SHOWN).map(|n| format!("`{n}`")).collect();
    let more = if names.len() > SHOWN { ", …" } else { "" };
    format!("there are {}{more}", shown.join(", "))
}
