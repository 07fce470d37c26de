//! What can be taken back: each change as pieces of text that gave way to others.
//!
//! The steps lie in `results/workspace/history.json`. What a step is about to
//! write is noted there first, so that one that was cut short between two
//! files is finished when the project is opened again. Where the folder of
//! results is deleted only the history goes.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use similar::TextDiff;
use store::on_disk::{self, DesignTexts};
use store::project::RESULTS_FOLDER;

use super::hex;
use super::scene::utf8;
use crate::api::change::{History, HistoryEntry};

/// The steps, the latest last.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(crate) struct Book {
    #[serde(skip)]
    path: PathBuf,
    /// Can be taken back.
    done: Vec<Step>,
    /// Were taken back.
    undone: Vec<Step>,
    /// Noted down, and perhaps not written as a whole.
    begun: Option<Step>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Step {
    label: String,
    changes: usize,
    files: Vec<Patch>,
}

/// What a step changes in one file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Patch {
    file: String,
    /// Hash of the text before and after.
    before: String,
    after: String,
    pieces: Vec<Piece>,
}

/// Lines that gave way to others, with lines around them that stayed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Piece {
    /// Lines before it, in the text before and in the text after.
    lines: [usize; 2],
    removed: String,
    inserted: String,
}

/// Which way a step is gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    /// Taken back.
    Back,
    /// Done again.
    Forth,
}

/// Steps kept.
const MOST_STEPS: usize = 200;
/// Text kept in all steps.
const MOST_BYTES: usize = 32 << 20;
/// Lines around a piece by which it is found again in a text that has changed.
const CONTEXT_LINES: usize = 2;
/// A difference that takes longer is told in larger pieces.
const LONGEST_LOOK: std::time::Duration = std::time::Duration::from_millis(300);
/// Steps that a list shows.
const MOST_SHOWN: usize = 50;

fn hash(text: &[u8]) -> String {
    hex(&Sha256::digest(text)[..16])
}

/// A file of the texts.
fn text_of<'t>(texts: &'t DesignTexts, file: &str) -> &'t [u8] {
    texts.file(file).unwrap_or_default()
}

impl Book {
    /// The book of a folder; empty where there is none, or none that can be read.
    pub(crate) fn open(folder: &Path) -> Self {
        let path = folder
            .join(RESULTS_FOLDER)
            .join("workspace")
            .join("history.json");
        let read = store::on_disk::read_if_there(&path).ok().flatten();
        let book = read.and_then(|bytes| serde_json::from_slice::<Self>(&bytes).ok());
        Self {
            path,
            ..book.unwrap_or_default()
        }
    }

    /// Finishes a step that was cut short between two files. A text that
    /// somebody has changed since is left as it is.
    pub(crate) fn finish_what_was_begun(&mut self, folder: &Path) {
        let Some(step) = self.begun.take() else {
            return;
        };
        let Ok(texts) = DesignTexts::read(folder) else {
            self.begun = Some(step);
            return;
        };
        let is_after = |patch: &Patch| hash(text_of(&texts, &patch.file)) == patch.after;
        let is_before = |patch: &Patch| hash(text_of(&texts, &patch.file)) == patch.before;
        let is_begun = step.files.iter().any(is_after);
        if is_begun && step.files.iter().all(|p| is_after(p) || is_before(p)) {
            for patch in step.files.iter().filter(|patch| !is_after(patch)) {
                let text = text_of(&texts, &patch.file);
                let new = utf8(text).and_then(|text| patch.apply(text, Way::Forth));
                let is_there = folder.join(&patch.file).exists();
                let old = is_there.then_some(text);
                if let Some(new) = new {
                    // What cannot be written now stays as it was, told by the design itself.
                    let _ = on_disk::replace(folder, &patch.file, (old, new.as_bytes()));
                }
            }
        }
        if is_begun {
            self.push(step);
        }
        let _ = self.save();
    }

    /// Notes down what is about to be written.
    pub(crate) fn begin(&mut self, step: &Step) -> std::io::Result<()> {
        self.begun = Some(step.clone());
        self.save()
    }

    /// Nothing was written after all.
    pub(crate) fn abandon(&mut self) {
        self.begun = None;
        let _ = self.save();
    }

    /// A new step has been written.
    pub(crate) fn finish(&mut self, step: Step) {
        self.begun = None;
        self.undone.clear();
        self.push(step);
        // The change itself is on disk; without its note it can only not be taken back later.
        let _ = self.save();
    }

    /// A step has been gone.
    pub(crate) fn gone(&mut self, way: Way) {
        self.begun = None;
        match way {
            Way::Back => self.undone.extend(self.done.pop()),
            Way::Forth => self.done.extend(self.undone.pop()),
        }
        let _ = self.save();
    }

    fn push(&mut self, step: Step) {
        self.done.push(step);
        let bytes = |steps: &[Step]| -> usize { steps.iter().map(Step::bytes).sum() };
        while self.done.len() > MOST_STEPS
            || (self.done.len() > 1 && bytes(&self.done) > MOST_BYTES)
        {
            self.done.remove(0);
        }
    }

    /// The next step of a way.
    pub(crate) fn next(&self, way: Way) -> Option<&Step> {
        match way {
            Way::Back => self.done.last(),
            Way::Forth => self.undone.last(),
        }
    }

    fn save(&self) -> std::io::Result<()> {
        if let Some(folder) = self.path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        store::write_atomically(&self.path, &serde_json::to_vec(self)?)
    }

    /// For the page.
    pub(crate) fn show(&self) -> History {
        let entries = |steps: &[Step]| {
            let latest = steps.iter().rev().take(MOST_SHOWN);
            let entry = |step: &Step| HistoryEntry {
                label: step.label.clone(),
                changes: step.changes,
            };
            latest.map(entry).collect()
        };
        History {
            undo: entries(&self.done),
            redo: entries(&self.undone),
        }
    }
}

impl Step {
    /// The step from some texts to others.
    pub(crate) fn between(
        before: &DesignTexts,
        after: &DesignTexts,
        (label, changes): (&str, usize),
    ) -> Self {
        let files = before.files().into_iter();
        let files = files.filter(|file| text_of(before, file) != text_of(after, file));
        let files = files.filter_map(|file| {
            Patch::between(
                file,
                utf8(text_of(before, file))?,
                utf8(text_of(after, file))?,
            )
        });
        Self {
            label: label.to_owned(),
            changes,
            files: files.collect(),
        }
    }

    /// What a person called it.
    pub(crate) fn label(&self) -> &str {
        &self.label
    }

    /// The files that it changes.
    pub(crate) fn files(&self) -> impl Iterator<Item = &str> {
        self.files.iter().map(|patch| patch.file.as_str())
    }

    fn bytes(&self) -> usize {
        let pieces = self.files.iter().flat_map(|patch| &patch.pieces);
        pieces.map(|p| p.removed.len() + p.inserted.len()).sum()
    }

    /// The texts after the step is gone one way; `None` where the lines that
    /// it is about no longer stand there as it left them.
    pub(crate) fn apply(&self, texts: &DesignTexts, way: Way) -> Option<DesignTexts> {
        let mut texts = texts.clone();
        for patch in &self.files {
            let text = utf8(text_of(&texts, &patch.file))?;
            let new = patch.apply(text, way)?.into_bytes();
            texts = texts.with_file(&patch.file, new)?;
        }
        Some(texts)
    }

    /// The same step the other way, to note down before it is gone.
    pub(crate) fn turned(&self, way: Way) -> Self {
        if way == Way::Forth {
            return self.clone();
        }
        let turned = |patch: &Patch| Patch {
            file: patch.file.clone(),
            before: patch.after.clone(),
            after: patch.before.clone(),
            pieces: patch
                .pieces
                .iter()
                .map(|piece| Piece {
                    lines: [piece.lines[1], piece.lines[0]],
                    removed: piece.inserted.clone(),
                    inserted: piece.removed.clone(),
                })
                .collect(),
        };
        Self {
            files: self.files.iter().map(turned).collect(),
            ..self.clone()
        }
    }
}

impl Patch {
    fn between(file: &str, before: &str, after: &str) -> Option<Self> {
        let old: Vec<&str> = before.split_inclusive('\n').collect();
        let new: Vec<&str> = after.split_inclusive('\n').collect();
        let diff = TextDiff::configure()
            .timeout(LONGEST_LOOK)
            .diff_slices(&old, &new);
        let mut pieces = Vec::new();
        for group in diff.grouped_ops(CONTEXT_LINES) {
            let (first, last) = (group.first()?, group.last()?);
            let old_lines = first.old_range().start..last.old_range().end;
            let new_lines = first.new_range().start..last.new_range().end;
            pieces.push(Piece {
                lines: [old_lines.start, new_lines.start],
                removed: old[old_lines].concat(),
                inserted: new[new_lines].concat(),
            });
        }
        Some(Self {
            file: file.to_owned(),
            before: hash(before.as_bytes()),
            after: hash(after.as_bytes()),
            pieces,
        })
    }

    fn apply(&self, text: &str, way: Way) -> Option<String> {
        let (known, side) = match way {
            Way::Forth => (&self.before, 0),
            Way::Back => (&self.after, 1),
        };
        let is_as_left = hash(text.as_bytes()) == *known;
        let starts: Vec<usize> = line_starts(text).collect();
        let mut out = String::with_capacity(text.len());
        let mut copied = 0;
        for piece in &self.pieces {
            let (from, to) = match way {
                Way::Forth => (&piece.removed, &piece.inserted),
                Way::Back => (&piece.inserted, &piece.removed),
            };
            let at = if is_as_left {
                starts.get(piece.lines[side]).copied().unwrap_or(text.len())
            } else {
                only_place(text, (copied, from), &starts)?
            };
            if at < copied || !text.get(at..)?.starts_with(from.as_str()) {
                return None;
            }
            out.push_str(&text[copied..at]);
            out.push_str(to);
            copied = at + from.len();
        }
        out.push_str(&text[copied..]);
        Some(out)
    }
}

fn line_starts(text: &str) -> impl Iterator<Item = usize> {
    let after = text.match_indices('\n').map(|(at, _)| at + 1);
    std::iter::once(0).chain(after)
}

/// Where lines stand in a text from a place on, if they do so once.
fn only_place(text: &str, (from, lines): (usize, &str), starts: &[usize]) -> Option<usize> {
    if lines.is_empty() {
        return None;
    }
    let is_start = |at: &usize| starts.binary_search(at).is_ok();
    let places = text.get(from..)?.match_indices(lines);
    let mut places = places.map(|(at, _)| at + from).filter(is_start);
    let first = places.next()?;
    places.next().is_none().then_some(first)
}

#[cfg(test)]
mod tests {
    use store::project::{DESIGN_FILE, PREMISES_FILES};

    use super::*;

    fn texts(design: &str) -> DesignTexts {
        DesignTexts {
            design: Some(design.as_bytes().to_vec()),
            ..DesignTexts::default()
        }
    }

    fn design(texts: &DesignTexts) -> &str {
        utf8(texts.design.as_deref().expect("a design")).expect("text")
    }

    const BEFORE: &str = "a = 1\nb = 2\nc = 3\nd = 4\ne = 5\nf = 6\ng = 7\nh = 8\n";

    #[test]
    fn exact_a_step_goes_back_and_forth_to_the_byte() {
        let (before, after) = (
            texts(BEFORE),
            texts(
                &BEFORE
                    .replace("b = 2", "b = 20")
                    .replace("h = 8\n", "h = 8"),
            ),
        );
        let step = Step::between(&before, &after, ("b", 1));
        assert_eq!(step.apply(&after, Way::Back).as_ref(), Some(&before));
        assert_eq!(step.apply(&before, Way::Forth).as_ref(), Some(&after));
        assert_eq!(
            step.turned(Way::Back).apply(&after, Way::Forth),
            Some(before)
        );
    }

    #[test]
    fn exact_a_step_goes_back_beside_what_others_changed() {
        let after = texts(&BEFORE.replace("b = 2", "b = 20"));
        let step = Step::between(&texts(BEFORE), &after, ("b", 1));
        let theirs = texts(&format!(
            "# theirs\n{}",
            design(&after).replace("g = 7", "g = 70")
        ));
        let back = step.apply(&theirs, Way::Back).expect("it goes back");
        assert_eq!(
            design(&back),
            format!("# theirs\n{}", BEFORE.replace("g = 7", "g = 70"))
        );
        let gone = texts(&design(&after).replace("b = 20", "b = 21"));
        assert_eq!(step.apply(&gone, Way::Back), None);
        let twice = texts(&format!("{}{}", design(&after), design(&after)));
        assert_eq!(step.apply(&twice, Way::Back), None);
    }

    #[test]
    fn exact_what_was_cut_short_between_two_files_is_finished() {
        let folder = tempfile::tempdir().expect("a folder");
        let write = |file: &str, text: &str| {
            store::write_atomically(&folder.path().join(file), text.as_bytes()).expect("written");
        };
        let read = || DesignTexts::read(folder.path()).expect("read");
        write(DESIGN_FILE, BEFORE);
        write(PREMISES_FILES[0], "id,lon,lat\np,1,2\n");
        let before = read();
        let after = DesignTexts {
            design: Some(BEFORE.replace("a = 1", "a = 2").into_bytes()),
            premises: Some(b"id,lon,lat\np,1,3\n".to_vec()),
            ..DesignTexts::default()
        };
        let mut book = Book::open(folder.path());
        book.begin(&Step::between(&before, &after, ("both", 2)))
            .expect("noted");
        write(DESIGN_FILE, &BEFORE.replace("a = 1", "a = 2"));
        drop(book);
        let mut book = Book::open(folder.path());
        book.finish_what_was_begun(folder.path());
        assert_eq!(read(), after);
        assert_eq!(book.show().undo.len(), 1);
        // Begun and nothing written: nothing has happened.
        book.begin(&Step::between(&after, &before, ("back", 2)))
            .expect("noted");
        let mut book = Book::open(folder.path());
        book.finish_what_was_begun(folder.path());
        assert_eq!(read(), after);
        assert_eq!(book.show().undo.len(), 1);
    }
}
