//! The results of a study as files of the project.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context as _;
use outputs::Handout;
use store::project::RESULTS_FOLDER;

use crate::progress::stop_if_interrupted;

/// A result: its file name and its bytes.
pub(crate) type ResultFile = (&'static str, Vec<u8>);

/// Every file that a study makes.
pub(crate) fn files(handout: &Handout<'_>) -> anyhow::Result<Vec<ResultFile>> {
    Ok(outputs::study_files(handout)?)
}

/// Writes the files into the project's results folder and gives its path.
///
/// All of them are written under another name first and only then renamed:
/// a full disk or an interruption leaves the earlier results as they were.
pub(crate) fn write(project: &Path, files: &[ResultFile]) -> anyhow::Result<PathBuf> {
    let folder = project.join(RESULTS_FOLDER);
    write_into(&folder, files)?;
    Ok(folder)
}

/// The same into any folder, which is made where it does not exist.
pub(crate) fn write_into<N: AsRef<str>>(
    folder: &Path,
    files: &[(N, Vec<u8>)],
) -> anyhow::Result<()> {
    let mut staging = Staging::new(folder)?;
    for (name, bytes) in files {
        stop_if_interrupted()?;
        staging.add(name.as_ref(), |path| {
            store::write_atomically(path, bytes).with_context(|| unwritable(path))
        })?;
    }
    staging.finish().map(drop)
}

/// Files that take their places in a folder together, when all are written.
pub(crate) struct Staging {
    folder: PathBuf,
    partial: Partial,
    names: Vec<String>,
}

impl Staging {
    /// The folder is made where it does not exist.
    pub(crate) fn new(folder: &Path) -> anyhow::Result<Self> {
        fs::create_dir_all(folder).with_context(|| unwritable(folder))?;
        remove_abandoned(folder);
        Ok(Self {
            folder: folder.to_owned(),
            partial: Partial::new(folder)?,
            names: Vec::new(),
        })
    }

    /// Has a file written to the path it is given.
    pub(crate) fn add(
        &mut self,
        name: &str,
        write: impl FnOnce(&Path) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        write(&self.partial.0.join(name))?;
        self.names.push(name.to_owned());
        Ok(())
    }

    /// Puts every file in its place; gives their names.
    pub(crate) fn finish(self) -> anyhow::Result<Vec<String>> {
        stop_if_interrupted()?;
        for name in &self.names {
            let path = self.folder.join(name);
            let from = self.partial.0.join(name);
            fs::rename(from, &path).with_context(|| unwritable(&path))?;
        }
        Ok(self.names)
    }
}

const PARTIAL: &str = ".partial-";

/// Removes what a program that is no more has left half written. Where one
/// cannot see who is running, it stays.
fn remove_abandoned(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let processes = Path::new("/proc");
    if !processes.join("self").exists() {
        return;
    }
    for entry in entries.flatten() {
        let name = entry.file_name();
        let writer = name.to_str().and_then(|name| name.strip_prefix(PARTIAL));
        let is_number = |id: &&str| id.parse::<u32>().is_ok();
        if let Some(id) = writer.filter(is_number)
            && !processes.join(id).exists()
        {
            // What cannot be removed is hidden and harmless.
            drop(fs::remove_dir_all(entry.path()));
        }
    }
}

/// A folder that is gone when the writing is over, however it ended.
struct Partial(PathBuf);

impl Partial {
    fn new(folder: &Path) -> anyhow::Result<Self> {
        let path = folder.join(format!("{PARTIAL}{}", std::process::id()));
        fs::create_dir_all(&path).with_context(|| unwritable(&path))?;
        Ok(Self(path))
    }
}

impl Drop for Partial {
    fn drop(&mut self) {
        // What cannot be removed is hidden and harmless.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// What is said of a path that cannot be written to.
pub(crate) fn unwritable(path: &Path) -> String {
    format!("`{}` cannot be written", path.display())
}
