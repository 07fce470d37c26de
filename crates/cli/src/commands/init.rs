//! `init`: a design to fill in.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use anyhow::{Context as _, bail};
use serde_json::json;

use crate::args::Init;
use crate::console::Console;
use crate::exit::Exit;
use crate::results::unwritable;

pub(super) fn run(args: &Init, console: &Console) -> anyhow::Result<Exit> {
    let folder = &args.dir;
    if !is_empty(folder)? {
        bail!(
            "`{}` is not empty\nhint: name a new folder; nothing was written",
            folder.display()
        );
    }
    let name = folder
        .file_name()
        .map_or_else(|| "unnamed project".into(), |name| name.to_string_lossy());
    let mut written = Vec::new();
    for (file, text) in pipeline::design::minimal_design(&name) {
        let path = folder.join(&file);
        let parent = path.parent().unwrap_or(folder);
        fs::create_dir_all(parent).with_context(|| unwritable(parent))?;
        store::write_atomically(&path, text.as_bytes()).with_context(|| unwritable(&path))?;
        written.push(file);
    }
    let shown = folder.display();
    console.remark(&format!(
        "wrote {} into {shown}\nnext: put terrain into {shown}/terrain, fill in mastwright.toml, then: mastwright check {shown}\n",
        written.join(", ")
    ));
    console.document(&json!({ "folder": folder, "files": written }))?;
    Ok(Exit::Done)
}

/// Whether a folder is empty or not there yet.
pub(super) fn is_empty(folder: &Path) -> anyhow::Result<bool> {
    match fs::read_dir(folder) {
        Ok(mut entries) => Ok(entries.next().is_none()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(true),
        Err(error) if error.kind() == ErrorKind::NotADirectory => bail!(
            "`{}` is a file, not a folder\nhint: name a new folder",
            folder.display()
        ),
        Err(error) => Err(error).with_context(|| format!("`{}`", folder.display())),
    }
}
