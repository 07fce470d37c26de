//! A project folder: its texts, its premises, its pattern files and climate
//! maps, read into what `design` works on.
//!
//! Nothing here judges the design. What cannot be read becomes a finding
//! beside the rest; only a folder that cannot be opened is an error.

mod centroid;
mod climate_maps;
mod files;
mod footprints;
mod geojson;
mod geopackage;
mod patterns;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use model::{Finding, Severity, TextPlace};
use pipeline::design::{self, PremisesTable, ProjectSources, SourceText};

pub use self::geojson::premises_from_geojson;
pub use footprints::{FootprintsRead, read_footprints};
pub use geopackage::premises_from_geopackage;

/// The design's file name.
pub const DESIGN_FILE: &str = "mastwright.toml";
/// The plans' file name.
pub const PLANS_FILE: &str = "plans.toml";
/// The folder that everything the program makes goes into.
pub const RESULTS_FOLDER: &str = "results";
/// Within that: losses and tiles that are kept from one run to the next.
pub const CACHE_FOLDER: &str = "cache";
/// File names that premises may come from, in the order in which they are preferred.
pub const PREMISES_FILES: [&str; 3] = ["premises.csv", "premises.geojson", "premises.gpkg"];

/// A project folder, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Project {
    /// The folder.
    pub folder: PathBuf,
    /// What it holds.
    pub sources: ProjectSources,
}

impl Project {
    /// Path of a file that the design names.
    pub fn path(&self, relative: &str) -> PathBuf {
        self.folder.join(relative)
    }
}

/// A project folder that cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum ProjectError {
    /// There is no such folder.
    #[error(
        "there is no folder `{}`\nhint: name the folder that holds `mastwright.toml`",
        .0.display()
    )]
    NoFolder(PathBuf),
    /// The path is a file.
    #[error(
        "`{}` is a file, not a project folder\nhint: name the folder that holds `mastwright.toml`",
        .0.display()
    )]
    NotAFolder(PathBuf),
    /// The folder exists and cannot be read.
    #[error("folder `{}` cannot be read: {error}", folder.display())]
    Unreadable {
        /// The folder.
        folder: PathBuf,
        /// Why.
        #[source]
        error: io::Error,
    },
}

/// Reads a project folder.
pub fn open(folder: &Path) -> Result<Project, ProjectError> {
    let unreadable = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound => ProjectError::NoFolder(folder.to_owned()),
        _ => ProjectError::Unreadable {
            folder: folder.to_owned(),
            error,
        },
    };
    if !folder.metadata().map_err(unreadable)?.is_dir() {
        return Err(ProjectError::NotAFolder(folder.to_owned()));
    }
    let mut findings = Vec::new();
    let listed = files::list(folder, &mut findings).map_err(unreadable)?;
    let mut reader = Reader {
        folder,
        files: &listed,
        findings,
    };
    let design = reader.text(DESIGN_FILE);
    let plans = reader.text(PLANS_FILE);
    let equipment = reader.equipment();
    let premises = reader.premises();
    let patterns = patterns::read(&equipment, &mut reader);
    let climate_maps = climate_maps::read(design.as_ref(), &mut reader);
    let findings = reader.findings;
    Ok(Project {
        folder: folder.to_owned(),
        sources: ProjectSources {
            design,
            plans,
            equipment,
            premises,
            patterns,
            climate_maps,
            files: listed,
            findings,
        },
    })
}

/// Reads the pattern files that a project's cards name and that it does not
/// have yet.
pub fn read_patterns(folder: &Path, sources: &mut ProjectSources) {
    let mut reader = Reader {
        folder,
        files: &sources.files,
        findings: Vec::new(),
    };
    let named = patterns::read(&sources.equipment, &mut reader);
    let findings = reader.findings;
    let known = &mut sources.patterns;
    let is_new = |f: &Finding| {
        f.place
            .as_ref()
            .is_some_and(|p| !known.contains_key(&*p.file))
    };
    sources.findings.extend(findings.into_iter().filter(is_new));
    for (path, table) in named {
        known.entry(path).or_insert(table);
    }
}

/// Paths of a folder's files, relative to it; results and hidden files left out.
pub(crate) fn list_files(folder: &Path) -> io::Result<Vec<Arc<str>>> {
    files::list(folder, &mut Vec::new())
}

/// The bytes of a file that is not larger than a bound.
pub(crate) fn read_bytes(path: &Path, largest_bytes: u64) -> io::Result<Vec<u8>> {
    files::read(path, largest_bytes)
}

/// Reads the files of one folder.
struct Reader<'a> {
    folder: &'a Path,
    files: &'a [Arc<str>],
    findings: Vec<Finding>,
}

impl Reader<'_> {
    fn has(&self, file: &str) -> bool {
        self.files.iter().any(|listed| &**listed == file)
    }

    /// A text of the folder; `None` where it has none, or with a finding.
    fn text(&mut self, file: &str) -> Option<SourceText> {
        if !self.has(file) {
            return None;
        }
        let bytes = self.bytes(file, files::LARGEST_TEXT_BYTES)?;
        let (text, finding) = files::decode(file, bytes);
        self.findings.extend(finding);
        Some(text)
    }

    fn bytes(&mut self, file: &str, largest_bytes: u64) -> Option<Vec<u8>> {
        files::read(&self.folder.join(file), largest_bytes)
            .map_err(|error| {
                self.findings.push(
                    Finding::new(
                        Severity::Error,
                        "unreadable-file",
                        format!("`{file}` cannot be read: {error}"),
                    )
                    .at(file_place(file))
                    .hint("check that the file may be read, and its size"),
                );
            })
            .ok()
    }

    fn equipment(&mut self) -> Vec<SourceText> {
        let cards: Vec<_> = self
            .files
            .iter()
            .filter(|file| {
                file.strip_prefix("equipment/")
                    .is_some_and(|name| name.ends_with(".toml") && !name.contains('/'))
            })
            .collect();
        cards
            .into_iter()
            .filter_map(|file| self.text(file))
            .collect()
    }

    fn premises(&mut self) -> Option<PremisesTable> {
        let present: Vec<_> = PREMISES_FILES
            .into_iter()
            .filter(|file| self.has(file))
            .collect();
        let file = *present.first()?;
        if let [_, others @ ..] = present.as_slice()
            && !others.is_empty()
        {
            let names: Vec<_> = others.iter().map(|other| format!("`{other}`")).collect();
            self.findings.push(
                Finding::new(
                    Severity::Error,
                    "two-premises-files",
                    format!("the folder has `{file}` and {}", names.join(" and ")),
                )
                .at(file_place(file))
                .hint(format!("keep one of them; `{file}` is read")),
            );
        }
        let (table, findings) = if file.ends_with(".gpkg") {
            premises_from_geopackage(file, &self.folder.join(file))
        } else {
            let bytes = self.bytes(file, files::LARGEST_TABLE_BYTES)?;
            let (text, finding) = files::decode(file, bytes);
            self.findings.extend(finding);
            if file.ends_with(".csv") {
                design::premises_from_csv(&text)
            } else {
                premises_from_geojson(&text)
            }
        };
        self.findings.extend(findings);
        table
    }
}

/// A file as a whole.
fn file_place(file: &str) -> TextPlace {
    TextPlace {
        file: Arc::from(file),
        line: 0,
        column: 0,
        text: String::new(),
    }
}

/// A message whose second line is a hint, taken apart.
fn message_and_hint(text: &str) -> (&str, &str) {
    text.split_once("\nhint: ").unwrap_or((text, ""))
}
