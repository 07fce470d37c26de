//! Taking out: the files of a study, written and listed.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use outputs::{Handout, study_file_meaning, study_files, worst_links};
use pipeline::engine::explain::{Company, explain_again};
use serde::{Deserialize, Serialize};
use store::project::RESULTS_FOLDER;

use super::jobs::JobState;
use super::study::{Study, stopped};
use super::{Workspace, aside};
use crate::api::event::Event;
use crate::api::import::{OutputFile, OutputList};
use crate::api::problem::Problem;

/// Links that the report shows in cross-section.
const CROSS_SECTIONS: usize = 6;
/// Files that are listed.
const MOST_FILES: usize = 2000;
/// Folders within the results that are looked into.
const DEEPEST: usize = 3;

/// Which revision the files in the results are of.
#[derive(Debug, Default, Serialize, Deserialize)]
struct WrittenNote {
    revision: String,
}

impl Workspace {
    pub(crate) fn results(&self) -> PathBuf {
        self.folder.join(RESULTS_FOLDER)
    }

    fn note_path(&self) -> PathBuf {
        self.results().join("workspace").join("written.json")
    }

    fn coverage_note_path(&self) -> PathBuf {
        self.results().join("workspace").join("coverage.json")
    }

    /// Notes down which revision the coverage files are of.
    pub(crate) fn note_coverage(&self, revision: &str) -> std::io::Result<()> {
        std::fs::create_dir_all(self.results().join("workspace"))?;
        let note = WrittenNote {
            revision: revision.to_owned(),
        };
        store::write_atomically(&self.coverage_note_path(), &serde_json::to_vec(&note)?)
    }

    /// Begins to write every file of the study.
    pub(crate) fn start_outputs(self: &Arc<Self>) -> u64 {
        let running = self.jobs.begin("outputs", &self.events);
        let id = running.job.id;
        let workspace = Arc::clone(self);
        tokio::spawn(async move {
            let written = match workspace.current_study().await {
                Ok(study) => {
                    let (own, job) = (Arc::clone(&workspace), Arc::clone(&running.job));
                    aside(move || own.write_outputs(&study, &job)).await
                }
                Err(problem) => Err(problem),
            };
            drop(running);
            workspace.send(match written {
                Ok(()) => Event::OutputsWritten { job: id },
                Err(problem) => Event::Stopped {
                    job: id,
                    reason: problem.message,
                },
            });
        });
        id
    }

    fn write_outputs(&self, study: &Study, job: &JobState) -> Result<(), Problem> {
        let run = self.run(job);
        let ground = study.ground.surroundings.as_ref();
        let links = worst_links(&study.result, CROSS_SECTIONS);
        let sections = links.iter().filter_map(|(sector, premises)| {
            let link = (sector.as_str(), premises.as_str());
            let kept = (link, &study.kept);
            explain_again(&study.network, ground, kept, (Company::WholeNetwork, &run)).ok()
        });
        let cross_sections: Vec<_> = sections.collect();
        let written_at = written_at();
        let files = study_files(&Handout {
            version: pipeline::VERSION,
            written_at: &written_at,
            network: &study.network,
            study: &study.result,
            findings: &study.findings,
            data_sources: &study.ground.data_sources,
            surroundings: Some(ground),
            cross_sections: &cross_sections,
        });
        let files = files.map_err(|error| Problem::fault(error.to_string()))?;
        if pipeline::engine::Progress::interrupted(job) {
            return Err(stopped());
        }
        let unwritable = |error: std::io::Error| {
            Problem::unusable(format!("the results cannot be written: {error}"))
        };
        std::fs::create_dir_all(self.results().join("workspace")).map_err(unwritable)?;
        for (name, bytes) in files {
            store::write_atomically(&self.results().join(name), &bytes).map_err(unwritable)?;
        }
        let note = WrittenNote {
            revision: study.revision.clone(),
        };
        let note = serde_json::to_vec(&note).map_err(|error| Problem::fault(error.to_string()))?;
        store::write_atomically(&self.note_path(), &note).map_err(unwritable)
    }

    /// The files that can be taken out.
    pub(crate) fn outputs(&self) -> OutputList {
        let scene = self.scene();
        let is_of_now = |path: &Path| {
            let note = store::on_disk::read_if_there(path).ok().flatten();
            let note = note.and_then(|bytes| serde_json::from_slice::<WrittenNote>(&bytes).ok());
            note.is_some_and(|note| note.revision == scene.revision)
        };
        let is_current = is_of_now(&self.note_path());
        let is_covered = is_of_now(&self.coverage_note_path());
        let mut files = Vec::new();
        list(&self.results(), String::new(), DEEPEST, &mut files);
        files.sort_by(|a, b| a.name.cmp(&b.name));
        for file in &mut files {
            let coverage = coverage_file_meaning(&file.name);
            let study = study_file_meaning(&file.name);
            file.is_current = is_current && !study.is_empty() || is_covered && !coverage.is_empty();
            let meaning = if study.is_empty() { coverage } else { study };
            meaning.clone_into(&mut file.meaning);
        }
        OutputList { files }
    }

    /// A file of the list; the name is looked up in it and never becomes a path itself.
    pub(crate) fn output(&self, name: &str) -> Result<(String, Vec<u8>), Problem> {
        let listed = self.outputs().files;
        let found = listed.into_iter().find(|file| file.name == name);
        let gone = || Problem::not_found("there is no such output\nhint: write the outputs first");
        let file = found.ok_or_else(gone)?;
        let bytes = store::on_disk::read_if_there(&self.results().join(&file.name));
        let bytes = bytes.map_err(|error| Problem::unusable(error.to_string()))?;
        Ok((file.name, bytes.ok_or_else(gone)?))
    }
}

/// Within the results: coverage.
pub(crate) const COVERAGE_FOLDER: &str = "coverage";

/// What a coverage file is; empty for others.
fn coverage_file_meaning(name: &str) -> &'static str {
    let own = name.strip_prefix(COVERAGE_FOLDER).unwrap_or_default();
    match own.rsplit_once('.') {
        Some((_, "tif")) => "coverage as a raster",
        Some((_, "png")) => "coverage as a sheet to print",
        Some((_, "csv")) => "area, premises and people by class of coverage, as a table",
        Some((_, "json")) => "area, premises and people by class of coverage, for programs",
        _ => "",
    }
}

/// The date that results carry.
pub(crate) fn written_at() -> String {
    humantime::format_rfc3339_seconds(now()).to_string()
}

#[expect(
    clippy::disallowed_methods,
    reason = "results carry the date at which they were made"
)]
fn now() -> SystemTime {
    SystemTime::now()
}

/// Files of a folder; links, hidden files and the workspace's own notes left out.
fn list(folder: &Path, within: String, deeper: usize, files: &mut Vec<OutputFile>) {
    let Ok(entries) = std::fs::read_dir(folder.join(&within)) else {
        return;
    };
    for entry in entries.flatten() {
        let own = entry.file_name();
        let Some(own) = own.to_str().filter(|name| !name.starts_with('.')) else {
            continue;
        };
        let name = if within.is_empty() {
            own.to_owned()
        } else {
            format!("{within}/{own}")
        };
        let Ok(kind) = entry.file_type() else {
            continue;
        };
        if kind.is_dir() && deeper > 0 && name != "workspace" && name != "cache" {
            list(folder, name, deeper - 1, files);
        } else if kind.is_file() && files.len() < MOST_FILES {
            files.push(OutputFile {
                size_bytes: entry.metadata().map_or(0, |data| data.len()),
                name,
                meaning: String::new(),
                is_current: false,
            });
        }
    }
}
