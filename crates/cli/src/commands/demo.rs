//! `demo`: the example project, written and evaluated.

use std::fs;
use std::path::Path;

use ::demo::{DemoContent, DemoFile};
use anyhow::{Context as _, bail};
use pipeline::Completeness;
use store::geotiff_out::{CellType, encode};

use super::init::is_empty;
use super::study::{evaluate_and_write, show};
use crate::args::Demo;
use crate::console::Console;
use crate::exit::Exit;
use crate::results::unwritable;

/// The example has findings on purpose: they do not make the command fail.
pub(super) fn run(args: &Demo, console: &Console) -> anyhow::Result<Exit> {
    write_example(&args.dir, console)?;
    let done = evaluate_and_write(&args.dir, Completeness::Whole, console)?;
    show(&done, console)?;
    let report = done.folder.join("report.html");
    if !args.no_open && open::that_detached(&report).is_err() {
        console.remark("no program here opens the report; open it in a browser\n");
    }
    Ok(Exit::Done)
}

/// Writes the example; where it stands already, what a person has changed stays.
fn write_example(folder: &Path, console: &Console) -> anyhow::Result<()> {
    let files = ::demo::files();
    if !is_empty(folder)? {
        let is_example = files.iter().all(|file| folder.join(file.path).exists());
        if !is_example {
            bail!(
                "`{}` is not empty and not the example\nhint: name a new folder; nothing was written",
                folder.display()
            );
        }
        console.remark(&format!(
            "the example stands in {} already and is evaluated as it is\n",
            folder.display()
        ));
        return Ok(());
    }
    for file in files {
        let path = folder.join(file.path);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).with_context(|| unwritable(parent))?;
        }
        let bytes = bytes_of(file)?;
        store::write_atomically(&path, &bytes).with_context(|| unwritable(&path))?;
    }
    Ok(())
}

fn bytes_of(file: DemoFile) -> anyhow::Result<Vec<u8>> {
    Ok(match file.content {
        DemoContent::Text(text) => text.into_bytes(),
        DemoContent::Elevation(grid) => encode(&grid, CellType::Float32)?,
        DemoContent::Classes(grid) => encode(&grid, CellType::Unsigned8)?,
    })
}
