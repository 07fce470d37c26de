//! `check`: everything that is wrong with a design.

use outputs::format::count_of;
use pipeline::Reading;
use serde_json::json;

use super::open;
use crate::args::Check;
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::{counted, findings_text};

pub(super) fn run(args: &Check, console: &Console) -> anyhow::Result<Exit> {
    let world = open(&args.dir)?;
    let reading = pipeline::check(&world);
    console.text(&findings_text(&reading.findings));
    console.text(&format!(
        "{}{}\n",
        understood(&reading),
        counted(&reading.findings)
    ));
    console.document(&json!({
        "version": pipeline::VERSION,
        "network": reading.network,
        "findings": reading.findings,
    }))?;
    Ok(Exit::of_check(&reading.findings, reading.network.is_some()))
}

fn understood(reading: &Reading) -> String {
    match &reading.network {
        Some(network) => format!(
            "{}, {}, {} premises; ",
            count_of(network.masts.len(), "mast", "masts"),
            count_of(network.sectors.len(), "sector", "sectors"),
            outputs::format::count(network.premises.len()),
        ),
        None => String::new(),
    }
}
