//! Changes onto the disk: written whole, acknowledged afterwards, merged with
//! what others have written meanwhile or refused with both values.

use std::sync::Arc;

use axum::http::StatusCode;
use pipeline::design::write::{apply_edits, apply_geojson_edits, apply_premises_edits};
use pipeline::model::{Edit, Network};
use store::on_disk::{self, CARDS_FILE, DesignTexts, ReplaceError};
use store::project::{DESIGN_FILE, PREMISES_FILES};

use super::history::{Book, Step, Way};
use super::scene::{Scene, utf8};
use super::{Workspace, held, resolve};
use crate::api::change::{Change, History};
use crate::api::finding::Finding;
use crate::api::problem::{Conflict, Problem};

/// A change that stands on disk.
#[derive(Debug)]
pub(crate) struct Written {
    pub(crate) before: Arc<Scene>,
    pub(crate) scene: Arc<Scene>,
    pub(crate) history: History,
    pub(crate) kept_from_outside: bool,
}

/// How often writing is tried anew when somebody else writes at the same moment.
const MOST_TRIES: usize = 4;

impl Workspace {
    /// The scene with changes, as if they had been written.
    pub(crate) fn changed(&self, scene: &Scene, changes: &[Change]) -> Result<Scene, Problem> {
        let edits = resolve::edits(scene, changes)?;
        let next = scene.with_texts(written_into(&scene.texts, &edits)?);
        refuse_new_errors(scene, &next)?;
        Ok(next)
    }

    /// Writes changes that were made from a revision.
    pub(crate) fn accept(
        self: &Arc<Self>,
        (changes, label): (&[Change], &str),
        base: &str,
    ) -> Result<Written, Problem> {
        let mut book = held(&self.pen);
        for _ in 0..MOST_TRIES {
            let current = self.current(&book)?;
            let base = self
                .scene_of(base)
                .ok_or_else(|| unknown_revision(&current))?;
            let kept_from_outside = base.revision != current.revision;
            if kept_from_outside {
                refuse_conflicts(&base, &current, changes)?;
            }
            let next = self.changed(&current, changes)?;
            let step = Step::between(&current.texts, &next.texts, (label, changes.len()));
            note(&mut book, &step)?;
            if let Some(scene) = self.put(&mut book, (&current, next), &step)? {
                book.finish(step);
                return Ok(Written {
                    before: current,
                    scene,
                    history: book.show(),
                    kept_from_outside,
                });
            }
        }
        Err(busy())
    }

    /// Writes other texts into the design as it stands.
    pub(crate) fn accept_texts(
        self: &Arc<Self>,
        label: &str,
        make: impl Fn(&Scene) -> Result<DesignTexts, Problem>,
    ) -> Result<Written, Problem> {
        let mut book = held(&self.pen);
        for _ in 0..MOST_TRIES {
            let current = self.current(&book)?;
            let next = current.with_texts(make(&current)?);
            refuse_new_errors(&current, &next)?;
            let step = Step::between(&current.texts, &next.texts, (label, 1));
            note(&mut book, &step)?;
            if let Some(scene) = self.put(&mut book, (&current, next), &step)? {
                book.finish(step);
                return Ok(Written {
                    before: current,
                    scene,
                    history: book.show(),
                    kept_from_outside: false,
                });
            }
        }
        Err(busy())
    }

    /// Goes a step of the history.
    pub(crate) fn go(self: &Arc<Self>, way: Way, base: Option<&str>) -> Result<Written, Problem> {
        let mut book = held(&self.pen);
        for _ in 0..MOST_TRIES {
            let current = self.current(&book)?;
            let step = book.next(way).cloned().ok_or_else(|| nothing_to(way))?;
            let kept_from_outside = base.is_some_and(|base| base != current.revision);
            let texts = step.apply(&current.texts, way);
            let texts = texts.ok_or_else(|| changed_since(&step, &current))?;
            let next = current.with_texts(texts);
            refuse_new_errors(&current, &next)?;
            note(&mut book, &step.turned(way))?;
            if let Some(scene) = self.put(&mut book, (&current, next), &step)? {
                book.gone(way);
                return Ok(Written {
                    before: current,
                    scene,
                    history: book.show(),
                    kept_from_outside,
                });
            }
        }
        Err(busy())
    }

    /// The design as it stands on disk at this moment.
    fn current(self: &Arc<Self>, _pen: &Book) -> Result<Arc<Scene>, Problem> {
        self.look_with_pen()
            .map_err(|error| Problem::unusable(error.to_string()))?;
        let scene = self.scene();
        // A file of the same size and time may differ all the same.
        let texts = DesignTexts::read(&self.folder);
        let texts = texts.map_err(|error| Problem::unusable(error.to_string()))?;
        if texts != scene.texts {
            return Ok(self.enter(scene.with_texts(texts), true));
        }
        Ok(scene)
    }

    /// One file in place of another; cards that are all gone take their file along.
    fn put_text(
        &self,
        file: &str,
        (old, new): (Option<&[u8]>, Option<&[u8]>),
    ) -> Result<(), ReplaceError> {
        let new = new.unwrap_or_default();
        if file == CARDS_FILE && new.is_empty() {
            return on_disk::remove(&self.folder, file, old);
        }
        if let Some(folder) = self.folder.join(file).parent() {
            // Where it cannot be made, writing says so.
            let _ = std::fs::create_dir_all(folder);
        }
        on_disk::replace(&self.folder, file, (old, new))
    }

    /// Writes what differs; `None` where somebody else has written meanwhile,
    /// everything as it was then.
    fn put(
        self: &Arc<Self>,
        book: &mut Book,
        (current, next): (&Scene, Scene),
        step: &Step,
    ) -> Result<Option<Arc<Scene>>, Problem> {
        let mut written: Vec<&str> = Vec::new();
        for file in step.files() {
            let (old, new) = (current.texts.file(file), next.texts.file(file));
            match self.put_text(file, (old, new)) {
                Ok(()) => written.push(file),
                Err(error) => {
                    for file in written {
                        let (old, new) = (next.texts.file(file), current.texts.file(file));
                        // Where even that fails the note says how to finish it.
                        let _ = self.put_text(file, (old, new));
                    }
                    book.abandon();
                    return match error {
                        ReplaceError::Changed(_) => Ok(None),
                        unwritable => Err(Problem::new(
                            StatusCode::INTERNAL_SERVER_ERROR,
                            "unwritable",
                            unwritable.to_string(),
                        )
                        .hint("nothing was changed; make room or check who may write there")),
                    };
                }
            }
        }
        let stamps = on_disk::stamps(&self.folder).unwrap_or_else(|_| next.stamps.clone());
        let next = next.without_empty_cards();
        let scene = Scene { stamps, ..next };
        Ok(Some(self.enter(scene.rehashed(), false)))
    }
}

fn note(book: &mut Book, step: &Step) -> Result<(), Problem> {
    book.begin(step).map_err(|error| {
        Problem::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "unwritable",
            format!("the history cannot be written: {error}"),
        )
        .hint("nothing was changed; make room or check who may write into `results`")
    })
}

/// The texts with edits in them.
fn written_into(texts: &DesignTexts, edits: &[Edit]) -> Result<DesignTexts, Problem> {
    let refused =
        |file: &str, error: &dyn std::fmt::Display| Problem::unusable(format!("`{file}`: {error}"));
    let text = |file: &'static str, bytes: &Option<Vec<u8>>| {
        let text = utf8(bytes.as_deref().unwrap_or_default()).map(str::to_owned);
        text.ok_or_else(|| {
            Problem::unusable(format!(
                "`{file}` is not UTF-8\nhint: save it as UTF-8 first"
            ))
        })
    };
    let mut next = texts.clone();
    let is_premises = |edit: &&Edit| is_of_premises(edit);
    if edits.iter().any(|edit| !is_premises(&edit)) {
        let old = text(DESIGN_FILE, &texts.design)?;
        let new = apply_edits(&old, edits).map_err(|error| refused(DESIGN_FILE, &error))?;
        next.design = Some(new.into_bytes());
    }
    if edits.iter().any(|edit| is_premises(&edit)) {
        let file = texts.premises_file;
        if file.ends_with(".gpkg") {
            return Err(Problem::unusable(format!(
                "premises in `{file}` cannot be changed here\nhint: change them with the program that made the file, or save them as `{}` or `{}` in its place",
                PREMISES_FILES[0], PREMISES_FILES[1]
            )));
        }
        let old = text(file, &texts.premises)?;
        let new = if file == PREMISES_FILES[0] {
            apply_premises_edits(&old, edits)
        } else {
            apply_geojson_edits(&old, edits)
        };
        let new = new.map_err(|error| refused(file, &error))?;
        next.premises = Some(new.into_bytes());
    }
    Ok(next)
}

/// Whether an edit goes into the table of premises.
pub(crate) fn is_of_premises(edit: &Edit) -> bool {
    matches!(
        edit,
        Edit::PremisesMountHeight { .. }
            | Edit::PremisesPlan { .. }
            | Edit::PremisesTerminal { .. }
            | Edit::PremisesSector { .. }
            | Edit::MovePremises { .. }
            | Edit::AddPremises { .. }
            | Edit::RemovePremises { .. }
    )
}

/// A change that breaks the design is not made.
fn refuse_new_errors(current: &Scene, next: &Scene) -> Result<(), Problem> {
    let errors = next.errors_beyond(current);
    let Some(first) = errors.first() else {
        return Ok(());
    };
    let network = current.network.as_deref();
    Err(
        Problem::unusable(format!("{}\nhint: {}", first.message, first.hint))
            .with_findings(Finding::list(&errors, network)),
    )
}

fn unknown_revision(current: &Scene) -> Problem {
    let problem = Problem::new(
        StatusCode::CONFLICT,
        "unknown-revision",
        "the revision that the change was made from is no longer known\nhint: read the project again and make the change anew",
    );
    Problem {
        revision: current.revision.as_str().into(),
        ..problem
    }
}

fn nothing_to(way: Way) -> Problem {
    let what = match way {
        Way::Back => "there is nothing to undo",
        Way::Forth => "there is nothing to do again",
    };
    Problem::new(StatusCode::CONFLICT, "no-step", what)
}

fn changed_since(step: &Step, current: &Scene) -> Problem {
    let problem = Problem::new(
        StatusCode::CONFLICT,
        "conflict",
        format!(
            "the lines that `{}` changed have been changed since\nhint: change them by hand, or undo that change first",
            step.label()
        ),
    );
    Problem {
        revision: current.revision.as_str().into(),
        ..problem
    }
}

fn busy() -> Problem {
    Problem::new(
        StatusCode::CONFLICT,
        "busy",
        "the files change too often to be written\nhint: try again when the other program is done",
    )
}

/// Refuses changes of what was changed since the revision that they were made from.
fn refuse_conflicts(base: &Scene, current: &Scene, changes: &[Change]) -> Result<(), Problem> {
    let conflict = |conflicts: Vec<Conflict>, message: String| {
        let problem = Problem::new(StatusCode::CONFLICT, "conflict", message);
        Err(Problem {
            conflicts: conflicts.into_boxed_slice(),
            revision: current.revision.as_str().into(),
            ..problem
        })
    };
    let (Ok(base), Ok(now)) = (
        undo_of(base, changes),
        undo_of(current, changes).map_err(|problem| problem.message),
    ) else {
        return conflict(
            Vec::new(),
            "what the change is about is no longer there\nhint: look at the design as it stands now".to_owned(),
        );
    };
    let wanted = resolve::edits(current, changes)?;
    let mut conflicts = Vec::new();
    // Undo lists run backwards.
    let pairs = base.iter().zip(&now).rev().zip(&wanted);
    for ((expected, on_disk), wanted) in pairs {
        let same = placeless(expected) == placeless(on_disk);
        if !same && on_disk != wanted {
            let (what, expected) = describe(expected);
            conflicts.push(Conflict {
                what,
                expected,
                on_disk: describe(on_disk).1,
                wanted: describe(wanted).1,
            });
        }
    }
    match conflicts.first() {
        None => Ok(()),
        Some(first) => {
            let message = format!(
                "{} was changed elsewhere: `{}` is now `{}`\nhint: choose which value is to stand",
                first.what, first.expected, first.on_disk
            );
            conflict(conflicts, message)
        }
    }
}

/// The values that changes would replace.
fn undo_of(scene: &Scene, changes: &[Change]) -> Result<Vec<Edit>, Problem> {
    let edits = resolve::edits(scene, changes)?;
    let mut network = Network::clone(scene.network()?);
    Edit::apply_all(&edits, &mut network).map_err(|error| Problem::unusable(error.to_string()))
}

/// Where in its list a thing stands is no conflict.
fn placeless(edit: &Edit) -> Edit {
    let mut edit = edit.clone();
    match &mut edit {
        Edit::AddSector { index, .. }
        | Edit::AddMast { index, .. }
        | Edit::AddPremises { index, .. } => *index = 0,
        _ => {}
    }
    edit
}

/// What an edit sets, and to what.
fn describe(edit: &Edit) -> (String, String) {
    let of = |key: &str, kind: &str, id: &dyn std::fmt::Display, value: String| {
        (format!("{key} of {kind} {id}"), value)
    };
    let there = |kind: &str, id: &dyn std::fmt::Display, is: bool| {
        let state = if is { "there" } else { "not there" };
        (format!("{kind} {id}"), state.to_owned())
    };
    match edit {
        Edit::Sector {
            sector,
            field,
            value,
        } => of(field.key(), "sector", sector, value.to_string()),
        Edit::AddSector { sector, .. } => there("sector", &sector.id, true),
        Edit::RemoveSector { sector } => there("sector", sector, false),
        Edit::AddMast { mast, .. } => there("mast", &mast.id, true),
        Edit::RemoveMast { mast } => there("mast", mast, false),
        Edit::MoveMast { mast, position } => of("position", "mast", mast, position.to_string()),
        Edit::MastHeight {
            mast, height_agl_m, ..
        } => of("height_agl_m", "mast", mast, height_agl_m.to_string()),
        Edit::PremisesMountHeight {
            premises,
            mount_height_agl_m,
        } => of(
            "mount_height_agl_m",
            "premises",
            premises,
            mount_height_agl_m.to_string(),
        ),
        Edit::PremisesPlan { premises, plan } => of("plan", "premises", premises, plan.to_string()),
        Edit::PremisesTerminal { premises, terminal } => {
            of("terminal", "premises", premises, terminal.id.to_string())
        }
        Edit::PremisesSector { premises, sector } => {
            let sector = sector
                .as_ref()
                .map_or("any".to_owned(), ToString::to_string);
            of("sector", "premises", premises, sector)
        }
        Edit::MovePremises { premises, position } => {
            of("position", "premises", premises, position.to_string())
        }
        Edit::AddPremises { premises, .. } => there("premises", &premises.id, true),
        Edit::RemovePremises { premises } => there("premises", premises, false),
    }
}
