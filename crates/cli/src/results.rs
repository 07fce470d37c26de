//! The results of a study as files of the project.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context as _;
use outputs::{Handout, geopackage, json, kml, ledger_csv, report, vector_geojson};
use store::project::RESULTS_FOLDER;

use crate::progress::stop_if_interrupted;

/// A result: its file name and its bytes.
pub(crate) type ResultFile = (&'static str, Vec<u8>);

/// Every file that a study makes.
pub(crate) fn files(handout: &Handout<'_>) -> anyhow::Result<Vec<ResultFile>> {
    Ok(vec![
        ("ledger.csv", ledger_csv::premises(handout)?),
        ("sectors.csv", ledger_csv::sectors(handout)?),
        (
            "premises.geojson",
            vector_geojson::premises(handout)?.into(),
        ),
        ("sectors.geojson", vector_geojson::sectors(handout)?.into()),
        ("links.geojson", vector_geojson::links(handout)?.into()),
        ("network.gpkg", geopackage::geopackage(handout)?),
        ("network.kml", kml::kml(handout)?),
        ("study.json", json::study(handout)?.into()),
        ("report.html", report::report(handout)?.into()),
    ])
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
pub(crate) fn write_into<N: AsRef<Path>>(
    folder: &Path,
    files: &[(N, Vec<u8>)],
) -> anyhow::Result<()> {
    fs::create_dir_all(folder).with_context(|| unwritable(folder))?;
    let partial = Partial::new(folder)?;
    for (name, bytes) in files {
        stop_if_interrupted()?;
        let path = partial.0.join(name);
        store::write_atomically(&path, bytes).with_context(|| unwritable(&path))?;
    }
    stop_if_interrupted()?;
    for (name, _) in files {
        let path = folder.join(name);
        fs::rename(partial.0.join(name), &path).with_context(|| unwritable(&path))?;
    }
    Ok(())
}

/// A folder that is gone when the writing is over, however it ended.
struct Partial(PathBuf);

impl Partial {
    fn new(folder: &Path) -> anyhow::Result<Self> {
        let path = folder.join(format!(".partial-{}", std::process::id()));
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
