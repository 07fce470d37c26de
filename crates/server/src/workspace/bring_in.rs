//! Bringing in terrain, land cover and antenna patterns: looked at, put into
//! the folder, and named in the design as a change that can be taken back.

use std::sync::Arc;

use axum::http::StatusCode;
use pipeline::design::write::{PatternCard, RasterRole, add_pattern_card, name_raster};
use pipeline::model;
use store::on_disk::{CARDS_FILE, DesignTexts};

use super::accept::Written;
use super::import::{pattern, plain_name};
use super::raster_facts::raster;
use super::scene::{Scene, utf8};
use super::{Workspace, held};
use crate::api::finding::Finding;
use crate::api::import::{FileChoice, FileKind, FilePreview, ImportedFile};
use crate::api::problem::Problem;

/// A file, looked at.
struct Looked {
    /// Path relative to the project folder that it would have.
    file: String,
    preview: FilePreview,
}

/// Looks at a file and says what it covers.
fn look(choice: &FileChoice, bytes: &[u8], scene: &Scene) -> Result<Looked, Problem> {
    let name = plain_name(&choice.file_name)?;
    let mut preview = if is_raster(&name) {
        raster(&name, bytes.to_vec(), choice.kind)?
    } else {
        pattern(&name, bytes)?
    };
    if let Some(kind) = choice.kind {
        if (kind == FileKind::AntennaPattern) == is_raster(&name) {
            return Err(Problem::unusable(format!(
                "`{name}` cannot be of that kind\nhint: terrain, land cover and canopy are rasters; a pattern is a text"
            )));
        }
        preview.kind = kind;
    }
    let folder = match preview.kind {
        FileKind::Terrain => "terrain",
        FileKind::LandCover => "landcover",
        FileKind::Canopy => "canopy",
        FileKind::AntennaPattern => "equipment/patterns",
    };
    let file = format!("{folder}/{name}");
    preview.file.clone_from(&file);
    preview.is_there = scene.stamps.iter().any(|stamp| *stamp.file == *file);
    Ok(Looked { file, preview })
}

fn is_raster(name: &str) -> bool {
    let lower = name.to_ascii_lowercase();
    let mut endings = [".tif", ".tiff", ".hgt", ".asc", ".zip"].iter();
    endings.any(|ending| lower.ends_with(ending))
}

impl Workspace {
    /// What a file is and covers; nothing is changed.
    pub(crate) fn look_at_file(
        &self,
        choice: &FileChoice,
        bytes: &[u8],
    ) -> Result<FilePreview, Problem> {
        Ok(look(choice, bytes, &self.scene())?.preview)
    }

    /// Puts a file into the project and names it in the design.
    pub(crate) fn bring_in(
        self: &Arc<Self>,
        choice: &FileChoice,
        bytes: &[u8],
    ) -> Result<ImportedFile, Problem> {
        let Looked { file, preview } = look(choice, bytes, &self.scene())?;
        self.put_file(&file, bytes)?;
        let scene = self.scene();
        let label = format!("{file} brought in");
        let mut next = String::new();
        if scene.texts.design.is_none() {
            next = "it is used as soon as there is a design".to_owned();
        } else if !is_named(&scene, preview.kind, &file) {
            let entered = self.enter_file(&label, choice, (&file, &preview));
            if let Err(problem) = entered {
                next = format!("{}: {}", problem.message, by_hand(preview.kind, &file));
            }
        }
        let scene = self.scene();
        let own = |f: &&model::Finding| f.place.as_ref().is_some_and(|p| *p.file == *file);
        let findings: Vec<_> = scene.findings.iter().filter(own).cloned().collect();
        Ok(ImportedFile {
            description: preview.description.clone(),
            findings: Finding::list(&findings, scene.network.as_deref()),
            is_in_design: next.is_empty(),
            next,
            revision: scene.revision.clone(),
            history: held(&self.pen).show(),
            file,
            preview,
        })
    }

    fn put_file(self: &Arc<Self>, file: &str, bytes: &[u8]) -> Result<(), Problem> {
        let path = self.folder.join(file);
        let unwritable = |error: std::io::Error| {
            let message = format!("`{file}` cannot be written: {error}");
            Problem::new(StatusCode::INTERNAL_SERVER_ERROR, "unwritable", message)
        };
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(unwritable)?;
        }
        // Taken back and brought in once more, it is there already.
        let there = store::on_disk::read_if_there(&path).map_err(unwritable)?;
        if there.as_deref().is_some_and(|there| there != bytes) {
            return Err(Problem::new(
                StatusCode::CONFLICT,
                "already-there",
                format!("another `{file}` is there already\nhint: give the file another name"),
            ));
        }
        if there.is_none() {
            store::write_atomically(&path, bytes).map_err(unwritable)?;
        }
        self.look()
            .map_err(|error| Problem::unusable(error.to_string()))?;
        Ok(())
    }

    /// Names a file in the texts, as a step of the history.
    fn enter_file(
        self: &Arc<Self>,
        label: &str,
        choice: &FileChoice,
        (file, preview): (&str, &FilePreview),
    ) -> Result<Written, Problem> {
        let role = match preview.kind {
            FileKind::Terrain => RasterRole::Terrain,
            FileKind::LandCover => RasterRole::LandCover,
            FileKind::Canopy => RasterRole::Canopy,
            FileKind::AntennaPattern => {
                let gain_dbi = choice.gain_dbi.or(preview.gain_dbi).ok_or_else(|| {
                    Problem::unusable("the file does not tell the antenna's gain")
                })?;
                if !(-20.0..=60.0).contains(&gain_dbi) {
                    return Err(Problem::unusable(format!(
                        "`gain_dbi` is `{gain_dbi}`, outside -20 to 60"
                    )));
                }
                return self.accept_texts(label, |scene| with_card(scene, gain_dbi, file));
            }
        };
        self.accept_texts(label, |scene| {
            let text = utf8(scene.texts.design.as_deref().unwrap_or_default());
            let text = text.ok_or_else(|| Problem::unusable("the design is not UTF-8"))?;
            let text = name_raster(text, role, file);
            let text = text.map_err(|error| Problem::unusable(error.to_string()))?;
            Ok(DesignTexts {
                design: Some(text.into_bytes()),
                ..scene.texts.clone()
            })
        })
    }
}

/// The texts with a card of a pattern file, under an id that is new.
fn with_card(scene: &Scene, gain_dbi: f64, file: &str) -> Result<DesignTexts, Problem> {
    let name = file.rsplit('/').next().unwrap_or(file);
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    let known = &scene.catalogue.antennas;
    let numbered = (2..).map(|number| format!("{stem}-{number}"));
    let mut ids = std::iter::once(stem.to_owned()).chain(numbered);
    let id = ids.find(|id| !known.contains_key(id)).unwrap_or_default();
    let text = utf8(scene.texts.cards.as_deref().unwrap_or_default());
    let text = text.ok_or_else(|| Problem::unusable(format!("`{CARDS_FILE}` is not UTF-8")))?;
    let card = PatternCard {
        id: &id,
        name: stem,
        gain_dbi,
        pattern_file: file,
        source: &format!("brought in from {name}"),
    };
    Ok(DesignTexts {
        cards: Some(add_pattern_card(text, &card).into_bytes()),
        ..scene.texts.clone()
    })
}

/// Whether the design names a file already, or a pattern of names that it fits.
fn is_named(scene: &Scene, kind: FileKind, file: &str) -> bool {
    let ground = scene.network.as_deref().map(|network| &network.ground);
    let rasters = match kind {
        FileKind::Terrain => ground.map(|ground| &ground.terrain),
        FileKind::LandCover => ground.map(|ground| &ground.land_cover),
        FileKind::Canopy => ground.map(|ground| &ground.canopy),
        FileKind::AntennaPattern => return scene.sources.patterns.contains_key(file),
    };
    rasters.is_some_and(|rasters| rasters.iter().any(|raster| *raster.path == *file))
}

fn by_hand(kind: FileKind, file: &str) -> String {
    let key = match kind {
        FileKind::Terrain => "terrain",
        FileKind::LandCover => "land_cover",
        FileKind::Canopy => "canopy",
        FileKind::AntennaPattern => {
            return format!("name it in an antenna card: `pattern_file = \"{file}\"`");
        }
    };
    format!("name it in `{key}` under `[ground]`: `{key} = [\"{file}\"]`")
}
