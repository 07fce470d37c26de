//! `ground`: rasters asked at points or along a profile.

use anyhow::bail;
use serde_json::{Value, json};
use store::ground::{GroundWarning, MosaicReading, OpenOptions, ReadMode};
use store::sampling::{Crs, Points, along, open_around, places_along, value_at};

use super::{deliver, place, read_text};
use crate::args::Ground;
use crate::console::Console;
use crate::exit::Exit;
use crate::failure::Unusable;

/// Places whose box holds all of a profile, bend and all.
const BEND_PLACES: usize = 64;

pub(super) fn run(args: &Ground, console: &Console) -> anyhow::Result<Exit> {
    let wanted = Wanted::new(args)?;
    match (&args.at, &args.profile) {
        (Some(path), _) => {
            let name = path.display().to_string();
            let points =
                Points::from_csv(&name, &read_text(path)?).map_err(|findings| Unusable {
                    message: format!("`{name}` cannot be used as a table of points"),
                    findings,
                })?;
            at_points(args, &wanted, &points, console)
        }
        (None, Some(ends)) => profile(args, &wanted, ends, console),
        (None, None) => bail!("nothing is asked for\nhint: add `--at` or `--profile`"),
    }
}

/// What the arguments mean.
struct Wanted {
    options: OpenOptions,
    /// Name of the column that is added.
    column: &'static str,
}

impl Wanted {
    fn new(args: &Ground) -> anyhow::Result<Self> {
        let (mode, column) = if args.classes {
            (ReadMode::Classes, "class")
        } else {
            (ReadMode::Elevation, "height_m")
        };
        let assumed_crs = args.assumed_crs.as_deref().map(Crs::parse).transpose()?;
        Ok(Self {
            options: OpenOptions {
                mode,
                assumed_crs,
                band: usize::from(args.band) - 1,
            },
            column,
        })
    }

    /// A value for a table: heights to the millimetre, unknown is empty.
    fn text(&self, value: f64) -> String {
        match self.options.mode {
            _ if value.is_nan() => String::new(),
            ReadMode::Elevation => format!("{value:.3}"),
            ReadMode::Classes => format!("{value}"),
        }
    }
}

fn at_points(
    args: &Ground,
    wanted: &Wanted,
    points: &Points,
    console: &Console,
) -> anyhow::Result<Exit> {
    let places: Vec<_> = points.rows.iter().map(|row| row.position).collect();
    let reading = open_around(&args.rasters, &wanted.options, &places)?;
    warn(&reading, console);
    let values: Vec<f64> = places
        .iter()
        .map(|at| value_at(&reading, wanted.options.mode, *at))
        .collect();
    let texts: Vec<String> = values.iter().map(|v| wanted.text(*v)).collect();
    deliver(
        args.out.as_deref(),
        &points.to_csv(wanted.column, &texts),
        console,
    )?;
    let rows: Vec<Value> = points
        .rows
        .iter()
        .zip(&values)
        .map(|(row, value)| {
            let cells = points
                .columns
                .iter()
                .cloned()
                .zip(row.cells.iter().map(|c| json!(c)));
            let mut row: serde_json::Map<String, Value> = cells.collect();
            row.insert("lon".to_owned(), json!(row_lon(row.get("lon"))));
            row.insert("lat".to_owned(), json!(row_lon(row.get("lat"))));
            row.insert(wanted.column.to_owned(), json!(finite(*value)));
            Value::Object(row)
        })
        .collect();
    console.document(&json!({ "points": rows, "warnings": warnings(&reading) }))?;
    Ok(Exit::Done)
}

/// A coordinate as a number instead of the text of its cell.
fn row_lon(cell: Option<&Value>) -> Option<f64> {
    cell?.as_str()?.trim().parse().ok()
}

fn profile(
    args: &Ground,
    wanted: &Wanted,
    ends: &[String],
    console: &Console,
) -> anyhow::Result<Exit> {
    let [from, to] = ends else {
        bail!("a profile has two ends\nhint: write `--profile LON,LAT LON,LAT`");
    };
    if !(args.step_m > 0.0 && args.step_m.is_finite()) {
        bail!(
            "`--step-m` is `{}`\nhint: write the greatest step in metres, above 0",
            args.step_m
        );
    }
    let ends = (place(from)?, place(to)?);
    let reading = open_around(
        &args.rasters,
        &wanted.options,
        &places_along(ends, BEND_PLACES),
    )?;
    warn(&reading, console);
    let samples = along(&reading, wanted.options.mode, ends, args.step_m);
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["distance_m", "lon", "lat", wanted.column])?;
    for s in &samples {
        table.write_record([
            format!("{:.3}", s.distance_m),
            format!("{:.9}", s.position.lon_deg()),
            format!("{:.9}", s.position.lat_deg()),
            wanted.text(s.value),
        ])?;
    }
    deliver(args.out.as_deref(), &table.into_inner()?, console)?;
    let rows: Vec<Value> = samples
        .iter()
        .map(|s| {
            json!({
                "distance_m": s.distance_m,
                "lon": s.position.lon_deg(),
                "lat": s.position.lat_deg(),
                (wanted.column): finite(s.value),
            })
        })
        .collect();
    console.document(&json!({ "profile": rows, "warnings": warnings(&reading) }))?;
    Ok(Exit::Done)
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn warnings(reading: &MosaicReading) -> Vec<String> {
    reading
        .warnings
        .iter()
        .map(GroundWarning::to_string)
        .collect()
}

fn warn(reading: &MosaicReading, console: &Console) {
    if console.is_lively() {
        for warning in &reading.warnings {
            let text = warning.to_string().replace("\nhint: ", "\n  hint: ");
            Console::error(&format!("warning: {text}\n"));
        }
    }
}
