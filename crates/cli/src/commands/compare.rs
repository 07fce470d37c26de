//! `compare`: two designs by consequence.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context as _, bail};
use outputs::{consequence_html, consequence_text};
use pipeline::engine::RunControl;
use pipeline::{Completeness, Evaluation};
use serde_json::json;
use tempfile::TempDir;

use super::open;
use crate::args::Compare;
use crate::console::Console;
use crate::exit::Exit;
use crate::progress::{Watch, stop_if_interrupted};
use crate::results::unwritable;

pub(super) fn run(args: &Compare, console: &Console) -> anyhow::Result<Exit> {
    let (before, after) = (Side::of(&args.before)?, Side::of(&args.after)?);
    let (earlier, later) = (evaluated(&before, console)?, evaluated(&after, console)?);
    let consequence = pipeline::compare(&earlier.study, &later.study);
    if let Some(path) = &args.html {
        let page = consequence_html(&consequence, (&args.before, &args.after));
        store::write_atomically(path, page.as_bytes()).with_context(|| unwritable(path))?;
        console.remark(&format!("page: {}\n", path.display()));
    }
    console.text(&consequence_text(&consequence));
    console.document(&json!({
        "version": pipeline::VERSION,
        "before": args.before,
        "after": args.after,
        "consequence": consequence,
    }))?;
    Ok(Exit::Done)
}

fn evaluated(side: &Side, console: &Console) -> anyhow::Result<Evaluation> {
    let world = open(&side.folder)?;
    let watch = Watch::new(console);
    let run = RunControl {
        progress: &watch,
        threads: console.threads,
    };
    let evaluation = pipeline::evaluate(&world, Completeness::WhatStands, &run)?;
    stop_if_interrupted()?;
    Ok(evaluation)
}

/// One of the two designs.
struct Side {
    folder: PathBuf,
    /// Holds the files of a revision for as long as they are needed.
    _revision: Option<TempDir>,
}

impl Side {
    /// A folder, or `FOLDER@REVISION`.
    fn of(text: &str) -> anyhow::Result<Self> {
        let folder = PathBuf::from(text);
        if folder.is_dir() {
            return Ok(Self {
                folder,
                _revision: None,
            });
        }
        let Some((folder, revision)) = text.rsplit_once('@') else {
            bail!(
                "there is no folder `{text}`\nhint: name a project folder, or a git revision of one as `FOLDER@REVISION`"
            );
        };
        let folder = Path::new(if folder.is_empty() { "." } else { folder });
        let written = revision_of(folder, revision)?;
        Ok(Self {
            folder: written.path().to_owned(),
            _revision: Some(written),
        })
    }
}

/// The files of a revision of a folder, and links to those that git does not keep.
fn revision_of(folder: &Path, revision: &str) -> anyhow::Result<TempDir> {
    if revision.is_empty() || revision.starts_with('-') {
        bail!("`{revision}` is no revision\nhint: a branch, a tag or a commit");
    }
    let written = tempfile::tempdir().context("there is no room for the files of a revision")?;
    let names = git(folder, &["ls-tree", "-r", "-z", "--name-only", revision])?;
    for name in paths(&names)? {
        let bytes = git(folder, &["show", &format!("{revision}:./{name}")])?;
        let path = written.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap_or(&path))?;
        store::write_atomically(&path, &bytes).with_context(|| unwritable(&path))?;
    }
    // Terrain is often too large for git: what it does not keep is taken as it is now.
    let others = git(folder, &["ls-files", "-z", "--others"])?;
    for name in paths(&others)?.filter(|name| !name.starts_with("results/")) {
        let path = written.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap_or(&path))?;
        let original = folder.join(name).canonicalize()?;
        #[cfg(unix)]
        std::os::unix::fs::symlink(original, &path)?;
        #[cfg(not(unix))]
        std::fs::copy(original, &path).map(|_| ())?;
    }
    Ok(written)
}

/// Names between zero bytes; none leads out of the folder.
fn paths(bytes: &[u8]) -> anyhow::Result<impl Iterator<Item = &str>> {
    let text = std::str::from_utf8(bytes).context("a file's name is not UTF-8")?;
    let is_inside = |name: &&str| {
        let mut parts = Path::new(name).components();
        !name.is_empty() && parts.all(|part| matches!(part, std::path::Component::Normal(_)))
    };
    Ok(text.split('\0').filter(is_inside))
}

fn git(folder: &Path, arguments: &[&str]) -> anyhow::Result<Vec<u8>> {
    let output = Command::new("git")
        .arg("-C")
        .arg(folder)
        .args(arguments)
        .output();
    let output =
        output.context("`git` cannot be started\nhint: install it, or name two folders")?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr);
        bail!(
            "git cannot read the revision: {}\nhint: name a revision of the repository that the folder lies in",
            said.trim()
        );
    }
    Ok(output.stdout)
}
