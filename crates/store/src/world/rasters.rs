//! Rasters of one kind, read one after the other; the one that fails does not
//! keep the others from being read.

use std::path::Path;

use geodesy::{Crs, LonLatBox};
use model::settings::RasterSource;
use model::{Finding, Severity, TextPlace};
use pipeline::engine::DataSource;
use raster::{Affine, CellWindow, Georeference, Grid, Mosaic};

use crate::ground::{GroundError, GroundWarning, OpenOptions, RasterFile, RasterInfo, Reading};

pub(super) struct Rasters {
    kind: &'static str,
    options: OpenOptions,
    grids: Vec<Grid>,
    data_sources: Vec<DataSource>,
    findings: Vec<Finding>,
}

impl Rasters {
    pub(super) fn new(kind: &'static str, options: OpenOptions) -> Self {
        Self {
            kind,
            options,
            grids: Vec::new(),
            data_sources: Vec::new(),
            findings: Vec::new(),
        }
    }

    pub(super) fn read(&mut self, folder: &Path, source: &RasterSource, bounds: &LonLatBox) {
        let options = match self.options_for(source) {
            Ok(options) => options,
            Err(finding) => return self.findings.push(*finding),
        };
        match read(&folder.join(&*source.path), &options, bounds) {
            Ok((info, reading)) => {
                let size = reading.as_ref().map(|r| (r.grid.width(), r.grid.height()));
                self.take((source, &info), reading, size);
            }
            Err(error) => self.findings.push(unreadable(self.kind, source, &error)),
        }
    }

    /// Cells of a raster in a box; 0 where it cannot be opened.
    pub(super) fn cells(&self, folder: &Path, source: &RasterSource, bounds: &LonLatBox) -> usize {
        let options = self.options_for(source).ok();
        let file = options.and_then(|o| RasterFile::open(&folder.join(&*source.path), &o).ok());
        let window = file.and_then(|file| file.window_of(bounds));
        window.map_or(0, |w| w.width * w.height)
    }

    /// Looks at every cell of a raster in a box, some rows at a time, and
    /// keeps one of `every` by `every`.
    pub(super) fn look_through(
        &mut self,
        (folder, source): (&Path, &RasterSource),
        (bounds, every): (&LonLatBox, usize),
        look: &mut dyn FnMut(&Grid),
    ) {
        let options = match self.options_for(source) {
            Ok(options) => options,
            Err(finding) => return self.findings.push(*finding),
        };
        let path = folder.join(&*source.path);
        match Strips::new(&path, &options, bounds).and_then(|s| s.coarse(every, look)) {
            Ok((info, reading, size)) => self.take((source, &info), reading, size),
            Err(error) => self.findings.push(unreadable(self.kind, source, &error)),
        }
    }

    fn options_for(&self, source: &RasterSource) -> Result<OpenOptions, Box<Finding>> {
        let assumed_crs = match source.assumed_crs.as_deref().map(Crs::parse) {
            None => None,
            Some(Ok(crs)) => Some(crs),
            Some(Err(error)) => {
                let (message, hint) = split_hint(&error.to_string());
                let finding = Finding::new(Severity::Error, "bad-crs", message);
                return Err(Box::new(finding.at(file_place(source)).hint(hint)));
            }
        };
        Ok(OpenOptions {
            assumed_crs,
            band: (source.band as usize).saturating_sub(1),
            ..self.options.clone()
        })
    }

    /// Takes what was read: perhaps fewer cells than were looked at.
    fn take(
        &mut self,
        (source, info): (&RasterSource, &RasterInfo),
        reading: Option<Reading>,
        size: Option<(usize, usize)>,
    ) {
        let Some((reading, size)) = reading.zip(size) else {
            let path = Path::new(&*source.path).to_owned();
            let warning = GroundWarning::NotNeeded { path };
            self.findings.push(noticed(source, &warning));
            return;
        };
        self.data_sources.push(DataSource {
            kind: self.kind,
            file: source.path.to_string(),
            description: description(info, size),
        });
        let warnings = reading.warnings.iter();
        self.findings.extend(warnings.map(|w| noticed(source, w)));
        self.grids.push(reading.grid);
    }

    pub(super) fn finish(self) -> (Mosaic, Vec<DataSource>, Vec<Finding>) {
        (Mosaic::new(self.grids), self.data_sources, self.findings)
    }
}

fn read(
    path: &Path,
    options: &OpenOptions,
    bounds: &LonLatBox,
) -> Result<(RasterInfo, Option<Reading>), GroundError> {
    let mut file = RasterFile::open(path, options)?;
    let reading = file.read_box(bounds)?;
    Ok((file.info().clone(), reading))
}

/// A raster looked at some rows at a time.
struct Strips {
    file: RasterFile,
    window: Option<CellWindow>,
}

/// Rows of a strip: a few blocks of a tiled file.
const STRIP_ROWS: usize = 512;

/// What is kept of a raster, and the columns and rows that were looked at.
type Coarse = (RasterInfo, Option<Reading>, Option<(usize, usize)>);

impl Strips {
    fn new(path: &Path, options: &OpenOptions, bounds: &LonLatBox) -> Result<Self, GroundError> {
        let file = RasterFile::open(path, options)?;
        let window = file.window_of(bounds);
        Ok(Self { file, window })
    }

    /// Shows every strip and keeps the cell in the middle of each `every` by `every`.
    fn coarse(mut self, every: usize, look: &mut dyn FnMut(&Grid)) -> Result<Coarse, GroundError> {
        let info = self.file.info().clone();
        let Some(window) = self.window else {
            return Ok((info, None, None));
        };
        let mut cells = Vec::new();
        let mut warnings: Vec<GroundWarning> = Vec::new();
        for first in (0..window.height).step_by(STRIP_ROWS) {
            let count = STRIP_ROWS.min(window.height - first);
            let strip = CellWindow {
                row: window.row + first,
                // A row of the next one, so that no place falls between two.
                height: (count + 1).min(window.height - first),
                ..window
            };
            let Reading {
                grid,
                warnings: new,
            } = self.file.read_window(strip)?;
            look(&grid);
            let rows = (first..first + count).filter(|row| row % every == every / 2);
            for row in rows {
                let row = &grid.cells()[(row - first) * window.width..][..window.width];
                cells.extend(row.iter().skip(every / 2).step_by(every));
            }
            // Those of one kind tell the same of every strip.
            for warning in new {
                let kind = std::mem::discriminant(&warning);
                if warnings.iter().all(|w| std::mem::discriminant(w) != kind) {
                    warnings.push(warning);
                }
            }
        }
        let count = |cells: usize| cells.saturating_sub(every / 2).div_ceil(every);
        let (width, height) = (count(window.width), count(window.height));
        let size = Some((window.width, window.height));
        let own = info.georeference.affine();
        let own = own.shifted(window.col as f64, window.row as f64);
        let steps = own.steps().map(|step| step * every as f64);
        let grid = Affine::new(own.origin(), steps).and_then(|affine| {
            let crs = info.georeference.crs().clone();
            let georeference = Georeference::new(crs, affine, width, height);
            Grid::new(georeference, width, height, cells)
        });
        // A raster with fewer cells than are passed over has nothing to keep.
        let reading = grid.ok().map(|grid| Reading { grid, warnings });
        Ok((info, reading, size))
    }
}

fn description(info: &RasterInfo, (columns, rows): (usize, usize)) -> String {
    let (width, height) = info.cell_size();
    let crs = info.georeference.crs();
    let unit = match crs.metres_per_unit() {
        Some(1.0) => "m",
        _ if crs.is_geographic() => "deg",
        _ => "units",
    };
    let size = if width == height {
        format!("{} {unit}", short(width))
    } else {
        format!("{} x {} {unit}", short(width), short(height))
    };
    format!(
        "{crs}, cells of {size}, {columns} x {rows} read of {} x {}",
        info.width, info.height
    )
}

/// A cell size without the noise of its last digits.
fn short(size: f64) -> String {
    let text = format!("{size:.8}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn unreadable(kind: &str, source: &RasterSource, error: &GroundError) -> Finding {
    let (message, hint) = split_hint(&error.to_string());
    Finding::new(
        Severity::Error,
        "unreadable-raster",
        format!("{kind} cannot be used: {message}"),
    )
    .at(file_place(source))
    .hint(hint)
}

fn noticed(source: &RasterSource, warning: &GroundWarning) -> Finding {
    let severity = match warning {
        GroundWarning::NotNeeded { .. }
        | GroundWarning::CrsAssumed { .. }
        | GroundWarning::DefaultNodata { .. }
        | GroundWarning::AbsentBlocks { .. }
        | GroundWarning::HeightsConverted { .. } => Severity::Note,
        _ => Severity::Warning,
    };
    let (message, hint) = split_hint(&warning.to_string());
    Finding::new(severity, "raster", message)
        .at(file_place(source))
        .hint(hint)
}

fn file_place(source: &RasterSource) -> TextPlace {
    TextPlace {
        file: source.path.clone(),
        line: 0,
        column: 0,
        text: String::new(),
    }
}

/// A message of the raster readers: what is wrong, and the hint after it.
fn split_hint(text: &str) -> (String, String) {
    match text.split_once("\nhint: ") {
        Some((message, hint)) => (message.to_owned(), hint.to_owned()),
        None => (text.to_owned(), String::new()),
    }
}
