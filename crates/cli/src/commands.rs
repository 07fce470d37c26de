//! What the commands mean, one module each.

mod check;
mod compare;
mod cover;
mod demo;
mod ground;
mod init;
mod load;
mod model;
mod open;
mod path;
mod shell;
mod study;

use std::path::Path;

use anyhow::{Context as _, bail};
use store::sampling::LonLat;
use store::world::FolderWorld;

use crate::args::Command;
use crate::console::Console;
use crate::exit::Exit;
use crate::progress;

/// Carries out what was typed.
pub(crate) fn run(command: &Command, console: &Console) -> anyhow::Result<Exit> {
    progress::catch_interrupts();
    match command {
        Command::Demo(args) => demo::run(args, console),
        Command::Init(args) => init::run(args, console),
        Command::Check(args) => check::run(args, console),
        Command::Open(args) => open::run(args, console),
        Command::Compare(args) => compare::run(args, console),
        Command::Study(args) => study::run(args, console),
        Command::Cover(args) => cover::run(args, console),
        Command::Load(args) => load::run(args, console),
        Command::Path(args) => path::run(args, console),
        Command::Ground(args) => ground::run(args, console),
        Command::Model(args) => model::run(args, console),
        Command::Schema => shell::schema(console),
        Command::Completions { shell } => shell::completions(*shell, console),
        Command::Man => shell::man(console),
    }
}

/// A project folder, read.
fn open(folder: &Path) -> anyhow::Result<FolderWorld> {
    let project = store::project::open(folder)?;
    Ok(FolderWorld::new(project.folder, project.sources))
}

/// `LON,LAT` in degrees.
fn place(text: &str) -> anyhow::Result<LonLat> {
    let Some((lon, lat)) = numbers(text) else {
        bail!(
            "`{text}` is not a place\nhint: write longitude and latitude in degrees, as in `-28.06,43.95`"
        );
    };
    Ok(LonLat::new(lon, lat)?)
}

/// Two numbers with a comma between them.
fn numbers(text: &str) -> Option<(f64, f64)> {
    let (first, second) = text.split_once(',')?;
    Some((first.trim().parse().ok()?, second.trim().parse().ok()?))
}

/// The text of a file that was named on the command line.
#[expect(
    clippy::disallowed_methods,
    reason = "the command line reads the files that it is given"
)]
fn read_text(path: &Path) -> anyhow::Result<String> {
    let bytes = std::fs::read(path).with_context(|| format!("`{}`", path.display()))?;
    String::from_utf8(bytes).map_err(|_| {
        anyhow::anyhow!(
            "`{}` is not text in UTF-8\nhint: save it again as CSV in UTF-8",
            path.display()
        )
    })
}

/// Writes a table to the file that was named, or to the screen.
fn deliver(out: Option<&Path>, bytes: &[u8], console: &Console) -> anyhow::Result<()> {
    match out {
        Some(path) => {
            store::write_atomically(path, bytes).with_context(|| crate::results::unwritable(path))
        }
        None if console.json => Ok(()),
        None => {
            console.bytes(bytes);
            Ok(())
        }
    }
}
