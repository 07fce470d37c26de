//! Rasters asked at points and along profiles, without a project.

use std::path::PathBuf;
use std::sync::Arc;

use geodesy::{LonLatBox, inverse};
use model::{Finding, Severity, TextPlace};
use raster::{Profile, ProfileTracer, Steps};

pub use geodesy::{Crs, CrsError, LonLat};

use crate::ground::{GroundError, MosaicReading, OpenOptions, ReadMode, open_mosaic};

/// A table of points.
#[derive(Debug, Clone, PartialEq)]
pub struct Points {
    /// Column names, as they stand.
    pub columns: Vec<String>,
    /// One per point, in the order of the table.
    pub rows: Vec<Point>,
}

/// One row of a table of points.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Every cell of the row, as it stands.
    pub cells: Vec<String>,
    /// Where the point lies.
    pub position: LonLat,
}

/// One sample along a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Distance from the start.
    pub distance_m: f64,
    /// Where it lies.
    pub position: LonLat,
    /// Height or class; NaN where unknown.
    pub value: f64,
}

impl Points {
    /// Reads CSV text with the columns `lon` and `lat` in WGS 84 degrees;
    /// every other column is kept.
    ///
    /// # Errors
    /// Every problem of the table, each at its line.
    pub fn from_csv(file: &str, text: &str) -> Result<Self, Vec<Finding>> {
        let text = text.trim_start_matches('\u{feff}');
        let reader = Reader {
            file: Arc::from(file),
        };
        let mut table = csv::ReaderBuilder::new()
            .flexible(true)
            .from_reader(text.as_bytes());
        let columns: Vec<String> = match table.headers() {
            Ok(header) => header.iter().map(|c| c.trim().to_owned()).collect(),
            Err(error) => return Err(vec![reader.not_csv(&error)]),
        };
        let [lon, lat] = reader.columns(&columns)?;
        let mut rows = Vec::new();
        let mut findings = Vec::new();
        for record in table.records() {
            match record
                .map_err(|e| Box::new(reader.not_csv(&e)))
                .and_then(|record| reader.point(&record, (lon, lat), columns.len()))
            {
                Ok(point) => rows.push(point),
                Err(finding) => findings.push(*finding),
            }
        }
        if rows.is_empty() && findings.is_empty() {
            findings.push(
                reader
                    .finding(0, "", "the table has no points".to_owned())
                    .hint("add at least one line below the header"),
            );
        }
        if findings.is_empty() {
            Ok(Self { columns, rows })
        } else {
            Err(findings)
        }
    }

    /// The table as CSV text with one column more.
    pub fn to_csv(&self, column: &str, values: &[String]) -> Vec<u8> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let header = self.columns.iter().map(String::as_str).chain([column]);
        let mut outcome = writer.write_record(header);
        for (row, value) in self.rows.iter().zip(values) {
            let cells = row.cells.iter().map(String::as_str).chain([value.as_str()]);
            outcome = outcome.and_then(|()| writer.write_record(cells));
        }
        outcome.expect("rows are made as long as the header, and memory takes them");
        writer
            .into_inner()
            .expect("memory takes every byte it is given")
    }
}

struct Reader {
    file: Arc<str>,
}

impl Reader {
    fn finding(&self, line: u64, text: &str, message: String) -> Finding {
        Finding::new(Severity::Error, "points", message).at(TextPlace {
            file: Arc::clone(&self.file),
            line: usize::try_from(line).unwrap_or(usize::MAX),
            column: 0,
            text: text.chars().take(60).collect(),
        })
    }

    fn not_csv(&self, error: &csv::Error) -> Finding {
        let line = error.position().map_or(0, csv::Position::line);
        self.finding(line, "", format!("cannot be read as a table: {error}"))
            .hint("write one header line and comma-separated cells")
    }

    fn columns(&self, columns: &[String]) -> Result<[usize; 2], Vec<Finding>> {
        let mut missing = Vec::new();
        let found = ["lon", "lat"].map(|name| {
            columns.iter().position(|c| c == name).unwrap_or_else(|| {
                let message = format!("there is no column `{name}`");
                let hint =
                    "name the columns of longitude and latitude `lon` and `lat`, WGS 84 degrees";
                missing.push(self.finding(1, &columns.join(","), message).hint(hint));
                0
            })
        });
        if missing.is_empty() {
            Ok(found)
        } else {
            Err(missing)
        }
    }

    fn point(
        &self,
        record: &csv::StringRecord,
        (lon, lat): (usize, usize),
        columns: usize,
    ) -> Result<Point, Box<Finding>> {
        let line = record.position().map_or(0, csv::Position::line);
        let cell = |index: usize| record.get(index).unwrap_or("").trim();
        let at_line = |text: &str, message: String, hint: &str| {
            Box::new(self.finding(line, text, message).hint(hint))
        };
        let number = |index: usize, name: &str| {
            let message = || format!("`{name}` is not a number");
            let hint = "write decimal degrees, with `.` as the decimal mark";
            let number = cell(index).parse::<f64>();
            number.map_err(|_| at_line(cell(index), message(), hint))
        };
        if record.len() > columns {
            let text = record.iter().collect::<Vec<_>>().join(",");
            let cells = record.len();
            let message = format!("the row has `{cells}` cells, the header `{columns}`");
            return Err(at_line(&text, message, "put text with a comma in quotes"));
        }
        let (lon_deg, lat_deg) = (number(lon, "lon")?, number(lat, "lat")?);
        let position = LonLat::new(lon_deg, lat_deg).map_err(|error| {
            let text = format!("{},{}", cell(lon), cell(lat));
            let error = error.to_string();
            let (message, hint) = error.split_once("\nhint: ").unwrap_or((&error, ""));
            at_line(&text, message.to_owned(), hint)
        })?;
        let mut cells: Vec<String> = record.iter().map(str::to_owned).collect();
        cells.resize(columns, String::new());
        Ok(Point { cells, position })
    }
}

/// Reads what is needed of rasters around places, in order of precedence.
///
/// # Errors
/// A file that cannot be read, or none that covers any of the places.
pub fn open_around(
    rasters: &[PathBuf],
    options: &OpenOptions,
    places: &[LonLat],
) -> Result<MosaicReading, GroundError> {
    let first = places.first().copied().into_iter();
    let bounds = LonLatBox::around(first.chain(places.iter().copied())).ok_or_else(|| {
        GroundError::NothingCovers {
            files: rasters.len(),
            position: String::new(),
        }
    })?;
    open_mosaic(rasters, &bounds, options)
}

/// Places at equal steps along the geodesic between two places, both ends
/// included: a box around the ends alone would miss its bend towards the pole.
///
/// * `count`: at least 2.
pub fn places_along((from, to): (LonLat, LonLat), count: usize) -> Vec<LonLat> {
    inverse(from, to).points(count.max(2))
}

/// Height (bilinear) or class (of the cell) at a place; NaN where unknown.
pub fn value_at(reading: &MosaicReading, mode: ReadMode, place: LonLat) -> f64 {
    match mode {
        ReadMode::Elevation => reading.mosaic.bilinear(place),
        ReadMode::Classes => f64::from(reading.mosaic.nearest(place)),
    }
}

/// Values along the geodesic between two places at equal steps, both ends included.
///
/// * `step_m`: greatest step.
pub fn along(
    reading: &MosaicReading,
    mode: ReadMode,
    (from, to): (LonLat, LonLat),
    step_m: f64,
) -> Vec<Sample> {
    let path = inverse(from, to);
    let mut profile = Profile::default();
    let tracer = ProfileTracer::new(&reading.mosaic);
    tracer.trace(from, to, Steps::AtMostM(step_m), &mut profile);
    (0..profile.len())
        .map(|i| {
            let distance_m = profile.distance_m(i);
            let position = path.point_at(distance_m);
            let value = match mode {
                ReadMode::Elevation => profile.elevation_amsl_m[i],
                ReadMode::Classes => value_at(reading, mode, position),
            };
            Sample {
                distance_m,
                position,
                value,
            }
        })
        .collect()
}
