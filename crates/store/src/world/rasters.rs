//! Rasters of one kind, read one after the other; the one that fails does not
//! keep the others from being read.

use std::path::Path;

use geodesy::{Crs, LonLatBox};
use model::settings::RasterSource;
use model::{Finding, Severity, TextPlace};
use pipeline::engine::DataSource;
use raster::{Grid, Mosaic};

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
            Ok((info, reading)) => self.take(source, &info, reading),
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

    fn take(&mut self, source: &RasterSource, info: &RasterInfo, reading: Option<Reading>) {
        let Some(reading) = reading else {
            let path = Path::new(&*source.path).to_owned();
            let warning = GroundWarning::NotNeeded { path };
            self.findings.push(noticed(source, &warning));
            return;
        };
        self.data_sources.push(DataSource {
            kind: self.kind,
            file: source.path.to_string(),
            description: description(info, &reading.grid),
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

fn description(info: &RasterInfo, read: &Grid) -> String {
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
        "{crs}, cells of {size}, {} x {} read of {} x {}",
        read.width(),
        read.height(),
        info.width,
        info.height
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
