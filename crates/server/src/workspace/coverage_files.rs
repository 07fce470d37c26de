//! Taking out coverage: rasters, sheets and figures of the design as it
//! stands, by the tile and from the losses that lie in the results.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use axum::http::StatusCode;
use outputs::coverage::{
    Around, Backdrop, Caption, CellRows as _, Kind, Mark, Occupied, Quantity, ShelvedLayer,
    sheet_png, statistics,
};
use outputs::{CAUTION, format};
use pipeline::engine::Progress as _;
use pipeline::engine::coverage::{CoverageRequest, Layer, Shelf};
use pipeline::{Completeness, Covering, PipelineError};
use store::geotiff_out::{self, Band, CellType, Overviews, RasterDescription, Rows};
use store::shelf::DiskShelf;
use store::world::FolderWorld;

use super::cover::{layer_of, quantity, usual_cell_m};
use super::jobs::JobState;
use super::outputs::{COVERAGE_FOLDER, written_at};
use super::scene::Scene;
use super::study::stopped;
use super::{Workspace, aside};
use crate::api::event::Event;
use crate::api::import::CoverageOutputs;
use crate::api::problem::Problem;

/// Sectors in one request.
const MOST_SECTORS: usize = 200;

/// What is to be written.
struct Asked {
    scene: Arc<Scene>,
    layers: Vec<Layer>,
    /// The only sector that may serve; `None` is the network.
    sectors: Vec<Option<String>>,
    cell_m: f64,
}

impl Asked {
    fn new(scene: Arc<Scene>, wanted: &CoverageOutputs) -> Result<Self, Problem> {
        let network = scene.network()?;
        let mut layers = Vec::new();
        for name in &wanted.quantities {
            let layer = layer_of(name)?;
            if !layers.contains(&layer) {
                layers.push(layer);
            }
        }
        let mut sectors: Vec<Option<String>> = Vec::new();
        if wanted.network {
            sectors.push(None);
        }
        for id in &wanted.sectors {
            if network.sectors.iter().all(|s| s.id.as_str() != id) {
                return Err(Problem::not_found(format!(
                    "no sector `{id}` in the design"
                )));
            }
            if !sectors.contains(&Some(id.clone())) {
                sectors.push(Some(id.clone()));
            }
        }
        if layers.is_empty() || sectors.is_empty() || sectors.len() > MOST_SECTORS {
            return Err(Problem::unusable(format!(
                "nothing to write\nhint: name at least one quantity, and the network or 1 to {MOST_SECTORS} sectors"
            )));
        }
        let cell_m = wanted.cell_m.unwrap_or_else(|| usual_cell_m(network));
        if !(5.0..=5000.0).contains(&cell_m) {
            return Err(Problem::unusable(format!(
                "`cell_m` is `{cell_m}`, outside 5 to 5000\nhint: choose a value between the two"
            )));
        }
        Ok(Self {
            scene,
            layers,
            sectors,
            cell_m,
        })
    }
}

impl Workspace {
    /// Begins to write coverage files.
    pub(crate) fn start_coverage_outputs(
        self: &Arc<Self>,
        wanted: &CoverageOutputs,
    ) -> Result<u64, Problem> {
        let asked = Asked::new(self.scene(), wanted)?;
        let running = self.jobs.begin("coverage-outputs", &self.events);
        let id = running.job.id;
        let workspace = Arc::clone(self);
        tokio::spawn(async move {
            let own = Arc::clone(&workspace);
            let job = Arc::clone(&running.job);
            let written = aside(move || own.write_coverage(&asked, &job)).await;
            drop(running);
            workspace.send(match written {
                Ok(()) => Event::OutputsWritten { job: id },
                Err(problem) => Event::Stopped {
                    job: id,
                    reason: problem.message,
                },
            });
        });
        Ok(id)
    }

    fn write_coverage(&self, asked: &Asked, job: &JobState) -> Result<(), Problem> {
        let world = FolderWorld::new(&self.folder, asked.scene.sources.clone());
        let temporary;
        let shelf = match self.shelf() {
            Some(shelf) => shelf,
            None => {
                temporary = DiskShelf::temporary().map_err(|error| unwritable(&error))?;
                &temporary
            }
        };
        for sector in &asked.sectors {
            let request = CoverageRequest {
                cell_m: asked.cell_m,
                sector: sector.clone(),
                ..CoverageRequest::default()
            };
            let covering = pipeline::cover(
                &world,
                Completeness::WhatStands,
                (&request, shelf),
                &self.run(job),
            );
            let covering = covering.map_err(|error| match error {
                PipelineError::Interrupted(_) => stopped(),
                other => Problem::unusable(other.to_string()),
            })?;
            let folder = self.coverage_folder(sector.as_deref());
            std::fs::create_dir_all(&folder).map_err(|error| unwritable(&error))?;
            let mut sheet = Sheet::new(&covering, (sector.as_deref(), asked.cell_m));
            sheet.relief = relief(&covering, shelf)?;
            for layer in &asked.layers {
                if job.interrupted() {
                    return Err(stopped());
                }
                sheet.write((&covering, shelf), *layer, &folder)?;
            }
        }
        self.note_coverage(&asked.scene.revision)
            .map_err(|error| unwritable(&error))
    }

    /// Where the files go; a sector's beside the network's.
    fn coverage_folder(&self, sector: Option<&str>) -> PathBuf {
        let base = self.results().join(COVERAGE_FOLDER);
        // An id may hold what a folder's name may not.
        let plain = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
        let name = |id: &str| id.chars().map(|c| if plain(c) { c } else { '_' }).collect();
        sector.map_or(base.clone(), |id| base.join::<String>(name(id)))
    }
}

fn unwritable(error: &std::io::Error) -> Problem {
    Problem::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        "unwritable",
        format!("the results cannot be written: {error}"),
    )
}

/// The relief below every quantity, shaded once.
fn relief(covering: &Covering, shelf: &dyn Shelf) -> Result<Option<Backdrop>, Problem> {
    let lattice = ShelvedLayer {
        coverage: &covering.coverage,
        shelf,
        layer: Layer::PathLoss,
    };
    let size = (lattice.width(), lattice.height());
    let ground = covering.ground.surroundings.as_ref();
    Backdrop::new(lattice.georeference(), size, ground)
        .map_err(|error| Problem::fault(error.to_string()))
}

/// What stands on every picture.
struct Sheet {
    subtitle: String,
    notes: Vec<String>,
    marks: Vec<Mark>,
    occupied: Vec<Occupied>,
    relief: Option<Backdrop>,
}

impl Sheet {
    fn new(covering: &Covering, (sector, cell_m): (Option<&str>, f64)) -> Self {
        let network = &covering.network;
        let server = sector.map_or("every sector".to_owned(), |id| format!("sector {id}"));
        let time_pct = format::number(network.propagation.time_pct, 0);
        let mut notes = vec![format!(
            "ITU-R P.1812, {time_pct} % of the time, median location; cells of {}",
            format::metres(cell_m)
        )];
        notes.extend(network.place_defaults.as_ref().map(|defaults| {
            let height = format::metres(network.study.mount_height_agl_m);
            let (terminal, plan) = (&defaults.terminal.id, &defaults.plan.id);
            format!("Terminal {terminal} at {height} above ground, plan {plan}")
        }));
        let written_at = written_at();
        let day = written_at.split('T').next().unwrap_or_default();
        notes.push(format!("Mastwright {}, {day}", pipeline::VERSION));
        let has_sector = |id: &_| network.sectors.iter().any(|s| s.mast == *id);
        let masts = network.masts.iter().filter(|m| has_sector(&m.id));
        let mark = |m: &pipeline::model::Mast| Mark {
            position: m.position,
            label: m.name.clone(),
        };
        let premises = network.premises.iter();
        Self {
            subtitle: format!("{}, {server}", network.name),
            notes,
            marks: masts.map(mark).collect(),
            occupied: premises
                .map(|p| Occupied {
                    position: p.position,
                    people: p.people,
                })
                .collect(),
            relief: None,
        }
    }

    /// Raster, sheet and figures of one quantity.
    fn write(
        &self,
        (covering, shelf): (&Covering, &dyn Shelf),
        layer: Layer,
        folder: &Path,
    ) -> Result<(), Problem> {
        let coverage = &covering.coverage;
        let names = (coverage.sectors.as_slice(), coverage.mcs_names.as_slice());
        let quantity = quantity(layer, names);
        let quantity = quantity.ok_or_else(|| Problem::fault("a layer without a quantity"))?;
        let cells = ShelvedLayer {
            coverage,
            shelf,
            layer,
        };
        let fault = |error: &dyn std::fmt::Display| Problem::fault(error.to_string());
        let figures = statistics(&cells, &quantity, &self.occupied).map_err(|e| fault(&e))?;
        let notes: Vec<&str> = self.notes.iter().map(String::as_str).collect();
        let caption = Caption {
            subtitle: &self.subtitle,
            notes: &notes,
        };
        let around = Around {
            relief: self.relief.as_ref(),
            marks: &self.marks,
            statistics: Some(&figures),
        };
        let name = quantity.name;
        let rows = |rows: Rows, to: &mut [f32]| {
            let read = cells.rows(rows.first, to);
            read.map_err(std::io::Error::other)
        };
        let raster = folder.join(format!("{name}.tif"));
        geotiff_out::write_file(&self.description(&cells, &quantity), rows, &raster)
            .map_err(|e| fault(&e))?;
        let sheet = sheet_png(&cells, &quantity, &caption, &around).map_err(|e| fault(&e))?;
        let csv = figures.csv().map_err(|e| fault(&e))?;
        let json = figures.json().map_err(|e| fault(&e))?;
        for (suffix, bytes) in [("png", sheet), ("csv", csv), ("json", json.into())] {
            store::write_atomically(&folder.join(format!("{name}.{suffix}")), &bytes)
                .map_err(|error| unwritable(&error))?;
        }
        Ok(())
    }

    /// How a quantity is stored: names as bytes with their colours, numbers as they are.
    fn description(&self, layer: &ShelvedLayer<'_>, quantity: &Quantity) -> RasterDescription {
        let is_named = quantity.kind == Kind::Classes;
        // 255 is the void of bytes.
        let (cells, overviews) = match (is_named, quantity.classes.len() <= 255) {
            (true, true) => (CellType::Unsigned8, Overviews::Nearest),
            (true, false) => (CellType::Unsigned16, Overviews::Nearest),
            (false, _) => (CellType::Float32, Overviews::Average),
        };
        let band = Band::new(&quantity.title, quantity.unit);
        let extent = (layer.georeference(), layer.width(), layer.height());
        let mut description = RasterDescription::over(extent, (cells, band, overviews));
        let title = format!("{}: {}", self.subtitle, quantity.title);
        description.notes = vec![
            ("DESCRIPTION".to_owned(), title),
            ("METHOD".to_owned(), self.notes.join("; ")),
            ("CAUTION".to_owned(), CAUTION.to_owned()),
        ];
        if is_named {
            let names = quantity.classes.iter().enumerate();
            let names: Vec<String> = names
                .map(|(code, c)| format!("{code} {}", c.label))
                .collect();
            let classes = ("CLASSES".to_owned(), names.join("; "));
            description.notes.push(classes);
            description.palette = Some(quantity.classes.iter().map(|c| c.colour).collect());
        }
        description
    }
}
