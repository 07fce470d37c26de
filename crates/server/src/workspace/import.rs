//! Bringing in premises from a table.

use std::collections::BTreeSet;
use std::sync::Arc;

use geodesy::LonLat;
use pipeline::design::{PremisesTable, SourceText, premises_from_csv};
use pipeline::model::{self, Network, PlanId, PremisesId, Severity, TextPlace};
use store::project::{premises_from_geojson, premises_from_geopackage};

use super::scene::Scene;
use crate::api::Place;
use crate::api::change::{Change, NewPremises};
use crate::api::finding::Finding;
use crate::api::import::{ColumnChoice, FileKind, FilePreview, ImportPreview, ImportRow};
use crate::api::problem::Problem;

/// Mistakes that are listed.
const MOST_MISTAKES: usize = 1000;
/// Rows that a preview shows.
const SAMPLE_ROWS: usize = 20;

/// Names under which tables hold what we look for.
const NAMES: [(&str, &[&str]); 8] = [
    (
        "id",
        &[
            "id",
            "uid",
            "fid",
            "premises",
            "premises_id",
            "address_id",
            "ref",
            "uprn",
        ],
    ),
    ("lon", &["lon", "lon_deg", "longitude", "long", "lng", "x"]),
    ("lat", &["lat", "lat_deg", "latitude", "y"]),
    ("name", &["name", "title", "label", "address"]),
    ("plan", &["plan", "service", "service_plan", "product"]),
    (
        "mount_height_agl_m",
        &[
            "mount_height_agl_m",
            "mount_height_m",
            "mount_height",
            "height_m",
            "height",
        ],
    ),
    ("terminal", &["terminal", "cpe", "radio"]),
    ("priority", &["priority"]),
];

/// A file of premises, read with a choice of columns.
pub(crate) struct ReadPremises {
    pub(crate) preview: ImportPreview,
    /// What would be added.
    pub(crate) changes: Vec<Change>,
}

/// Reads a file of premises against a design.
pub(crate) fn read_premises(
    scene: &Scene,
    bytes: &[u8],
    choice: &ColumnChoice,
) -> Result<ReadPremises, Problem> {
    let network = scene.network()?;
    let (table, mut mistakes) = table(&choice.file_name, bytes)?;
    let choice = filled(choice, &table);
    let rows = Rows {
        network,
        scene,
        table: &table,
        columns: Columns::new(&choice, &table)?,
    };
    let mut seen = BTreeSet::new();
    let mut changes = Vec::new();
    let mut sample = Vec::new();
    let mut already_there = 0;
    for index in 0..table.rows.len() {
        match rows.read(index, &mut mistakes) {
            None => {}
            Some(new)
                if network
                    .premises(&PremisesId::new(new.id.as_str()))
                    .is_some() =>
            {
                already_there += 1;
            }
            Some(new) if !seen.insert(new.id.clone()) => {
                mistakes.push(rows.mistake(
                    index,
                    "duplicate-id",
                    format!("`{}` stands in the file twice", new.id),
                    "the first row is taken",
                ));
            }
            Some(new) => {
                if sample.len() < SAMPLE_ROWS {
                    sample.push(rows.shown(index, &new));
                }
                changes.push(Change::AddPremises { premises: new });
            }
        }
    }
    mistakes.truncate(MOST_MISTAKES);
    Ok(ReadPremises {
        preview: ImportPreview {
            columns: table.columns.clone(),
            choice,
            rows: table.rows.len(),
            usable: changes.len(),
            already_there,
            sample,
            mistakes: Finding::list(&mistakes, None),
        },
        changes,
    })
}

/// The table of a file, by the ending of its name.
fn table(name: &str, bytes: &[u8]) -> Result<(PremisesTable, Vec<model::Finding>), Problem> {
    let name = plain_name(name)?;
    let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
    let (table, findings) = match ending.to_ascii_lowercase().as_str() {
        "csv" | "txt" | "tsv" => premises_from_csv(&text(&name, bytes)?),
        "geojson" | "json" => premises_from_geojson(&text(&name, bytes)?),
        "gpkg" => from_geopackage(&name, bytes)?,
        _ => {
            return Err(Problem::unusable(format!(
                "`{name}` is none of the formats that premises come in\nhint: CSV, GeoJSON or GeoPackage, with that ending"
            )));
        }
    };
    let table = table.ok_or_else(|| {
        let first = findings.first();
        let message = first.map_or("the file has no rows".to_owned(), |f| {
            format!("{}\nhint: {}", f.message, f.hint)
        });
        Problem::unusable(message).with_findings(Finding::list(&findings, None))
    })?;
    // Which columns there should be is for the person to choose.
    let of_header = ["missing-column", "unknown-column", "duplicate-column"];
    let findings = findings
        .into_iter()
        .filter(|f| f.severity > Severity::Note && !of_header.contains(&f.code));
    Ok((table, findings.collect()))
}

fn text(name: &str, bytes: &[u8]) -> Result<SourceText, Problem> {
    let text = std::str::from_utf8(bytes).map_err(|_| {
        Problem::unusable(format!(
            "`{name}` is not UTF-8\nhint: save it as UTF-8, in a spreadsheet as `CSV UTF-8`"
        ))
    })?;
    Ok(SourceText::new(name, text.trim_start_matches('\u{feff}')))
}

type TableRead = (Option<PremisesTable>, Vec<model::Finding>);

fn from_geopackage(name: &str, bytes: &[u8]) -> Result<TableRead, Problem> {
    let unwritable =
        |error: std::io::Error| Problem::fault(format!("no room to read a GeoPackage: {error}"));
    let file = tempfile::Builder::new()
        .suffix(".gpkg")
        .tempfile()
        .map_err(unwritable)?;
    store::write_atomically(file.path(), bytes).map_err(unwritable)?;
    Ok(premises_from_geopackage(name, file.path()))
}

/// The choice with guesses where it names nothing.
fn filled(choice: &ColumnChoice, table: &PremisesTable) -> ColumnChoice {
    let mut filled = choice.clone();
    let slots = [
        &mut filled.id,
        &mut filled.lon,
        &mut filled.lat,
        &mut filled.name,
        &mut filled.plan,
        &mut filled.mount_height_agl_m,
        &mut filled.terminal,
        &mut filled.priority,
    ];
    let names_none = slots.iter().all(|slot| slot.is_none());
    if !choice.guess.unwrap_or(names_none) {
        return filled;
    }
    for (slot, (_, names)) in slots.into_iter().zip(NAMES) {
        if slot.is_none() {
            let mut known = names.iter();
            *slot = known.find_map(|name| {
                let mut columns = table.columns.iter();
                columns
                    .find(|column| column.trim().eq_ignore_ascii_case(name))
                    .cloned()
            });
        }
    }
    filled
}

/// Places of the chosen columns.
struct Columns {
    id: Option<usize>,
    lon: usize,
    lat: usize,
    name: Option<usize>,
    plan: Option<usize>,
    mount_height_agl_m: Option<usize>,
    terminal: Option<usize>,
    priority: Option<usize>,
}

impl Columns {
    fn new(choice: &ColumnChoice, table: &PremisesTable) -> Result<Self, Problem> {
        let find = |name: &Option<String>| match name {
            None => Ok(None),
            Some(name) => table.column(name).map(Some).ok_or_else(|| {
                Problem::unusable(format!("the file has no column `{name}`"))
                    .hint(format!("it has {}", table.columns.join(", ")))
            }),
        };
        let needed = |name: &Option<String>, what: &str| {
            // Without it every row is a mistake: the person is asked to choose.
            find(name)
                .map(|place| place.unwrap_or_else(|| table.column(what).unwrap_or(usize::MAX)))
        };
        Ok(Self {
            id: find(&choice.id)?,
            lon: needed(&choice.lon, "lon")?,
            lat: needed(&choice.lat, "lat")?,
            name: find(&choice.name)?,
            plan: find(&choice.plan)?,
            mount_height_agl_m: find(&choice.mount_height_agl_m)?,
            terminal: find(&choice.terminal)?,
            priority: find(&choice.priority)?,
        })
    }
}

/// Code, message and hint of what is wrong in a row.
type Mistake = (&'static str, String, &'static str);

struct Rows<'a> {
    network: &'a Network,
    scene: &'a Scene,
    table: &'a PremisesTable,
    columns: Columns,
}

impl Rows<'_> {
    fn cell(&self, row: usize, column: Option<usize>) -> &str {
        let cells = &self.table.rows[row].cells;
        column
            .and_then(|column| cells.get(column))
            .map_or("", |cell| cell.trim())
    }

    fn mistake(
        &self,
        row: usize,
        code: &'static str,
        message: String,
        hint: &str,
    ) -> model::Finding {
        let row = &self.table.rows[row];
        let place = TextPlace {
            file: Arc::clone(&self.table.file),
            line: row.line,
            column: 0,
            text: row.cells.join(",").chars().take(60).collect(),
        };
        model::Finding::new(Severity::Error, code, message)
            .at(place)
            .hint(hint)
    }

    /// One row; `None` with a mistake.
    fn read(&self, row: usize, mistakes: &mut Vec<model::Finding>) -> Option<NewPremises> {
        let found = self.try_read(row);
        found
            .map_err(|(code, message, hint)| mistakes.push(self.mistake(row, code, message, hint)))
            .ok()
    }

    fn try_read(&self, row: usize) -> Result<NewPremises, Mistake> {
        let height_m = self.number(row, self.columns.mount_height_agl_m, "mount height")?;
        if let Some(height_m) = height_m.filter(|m| !(0.5..=100.0).contains(m)) {
            return Err((
                "out-of-range",
                format!("the mount height is `{height_m}`, outside 0.5 to 100 m"),
                "write metres above ground, or leave the cell empty",
            ));
        }
        let priority = self.some(row, self.columns.priority);
        let priority = priority.map(|text| {
            let message = format!("the priority is `{text}`");
            let parsed = text.parse::<i32>();
            parsed.map_err(|_| ("wrong-type", message, "write a whole number"))
        });
        let name = self.cell(row, self.columns.name).chars();
        Ok(NewPremises {
            position: self.position(row)?,
            id: self.id(row)?,
            name: name.filter(|c| !c.is_control()).take(200).collect(),
            plan: self.plan(row)?,
            mount_height_agl_m: height_m,
            terminal: self.terminal(row)?,
            mounting: None,
            priority: priority.transpose()?,
            sector: None,
            index: None,
        })
    }

    fn position(&self, row: usize) -> Result<Place, Mistake> {
        let lon_deg = self.number(row, Some(self.columns.lon), "longitude")?;
        let lat_deg = self.number(row, Some(self.columns.lat), "latitude")?;
        let (Some(lon_deg), Some(lat_deg)) = (lon_deg, lat_deg) else {
            return Err((
                "missing-cell",
                "the row has no position".to_owned(),
                "choose the columns of longitude and latitude, in degrees",
            ));
        };
        if LonLat::new(lon_deg, lat_deg).is_err() || lon_deg.abs() > 180.0 {
            return Err((
                "out-of-range",
                format!("`{lon_deg}, {lat_deg}` is no place in degrees"),
                "save the positions in degrees, WGS 84; exchange the columns where they are swapped",
            ));
        }
        Ok(Place { lon_deg, lat_deg })
    }

    fn id(&self, row: usize) -> Result<String, Mistake> {
        match self.cell(row, self.columns.id) {
            "" if self.columns.id.is_some() => Err((
                "missing-cell",
                "the row has no id".to_owned(),
                "give every row an id, or choose no column for it",
            )),
            "" => Ok(format!("row-{}", row + 1)),
            id if id.chars().count() > 200 || id.chars().any(char::is_control) => Err((
                "wrong-type",
                "the id is too long or has control characters".to_owned(),
                "at most 200 letters in one line",
            )),
            id => Ok(id.to_owned()),
        }
    }

    fn plan(&self, row: usize) -> Result<Option<String>, Mistake> {
        let plan = self.some(row, self.columns.plan);
        let is_known = |plan: &String| {
            let plans = &self.network.plans;
            plans.contains_key(&PlanId::new(plan.as_str()))
        };
        match plan {
            Some(plan) if !is_known(&plan) => Err((
                "unknown-reference",
                format!("there is no plan `{plan}`"),
                "write one of the plans of `plans.toml`, or choose no column for it",
            )),
            other => Ok(other),
        }
    }

    fn terminal(&self, row: usize) -> Result<Option<String>, Mistake> {
        let terminal = self.some(row, self.columns.terminal);
        match terminal {
            Some(terminal) if !self.scene.catalogue.terminals.contains_key(&terminal) => Err((
                "unknown-reference",
                format!("there is no terminal `{terminal}`"),
                "write the id of a terminal card, or choose no column for it",
            )),
            other => Ok(other),
        }
    }

    fn some(&self, row: usize, column: Option<usize>) -> Option<String> {
        Some(self.cell(row, column))
            .filter(|cell| !cell.is_empty())
            .map(str::to_owned)
    }

    fn number(
        &self,
        row: usize,
        column: Option<usize>,
        what: &str,
    ) -> Result<Option<f64>, Mistake> {
        let cell = self.cell(row, column);
        if cell.is_empty() {
            return Ok(None);
        }
        match cell.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ if cell.replace(',', ".").parse::<f64>().is_ok() => Err((
                "decimal-comma",
                format!("the {what} is `{cell}`"),
                "write the decimal point as `.`",
            )),
            _ => {
                let cell: String = cell.chars().take(40).collect();
                Err((
                    "wrong-type",
                    format!("the {what} is `{cell}`, not a number"),
                    "write a number, or choose another column",
                ))
            }
        }
    }

    fn shown(&self, row: usize, new: &NewPremises) -> ImportRow {
        let defaults = self.network.place_defaults.as_ref();
        let plan = new.plan.clone().or(defaults.map(|d| d.plan.id.to_string()));
        ImportRow {
            line: self.table.rows[row].line,
            id: new.id.clone(),
            lon_deg: new.position.lon_deg,
            lat_deg: new.position.lat_deg,
            name: new.name.clone(),
            plan: plan.unwrap_or_default(),
            mount_height_agl_m: new
                .mount_height_agl_m
                .unwrap_or(self.network.study.mount_height_agl_m),
        }
    }
}

/// A name that a file may have in the project: its last part, in plain letters.
pub(crate) fn plain_name(name: &str) -> Result<String, Problem> {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let is_plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
    let plain: String = last
        .chars()
        .map(|c| if is_plain(c) { c } else { '_' })
        .collect();
    let plain = plain.trim_start_matches('.');
    if plain.is_empty() || plain.len() > 120 || !plain.contains('.') {
        return Err(Problem::unusable(
            "the file has no usable name\nhint: a short name with an ending, such as `hills.tif`",
        ));
    }
    Ok(plain.to_owned())
}

/// An antenna pattern, looked at.
pub(crate) fn pattern(name: &str, bytes: &[u8]) -> Result<FilePreview, Problem> {
    let text = text(name, bytes)?;
    let (pattern, warnings) = store::pattern_file::parse(&text.text).map_err(|error| {
        Problem::unusable(format!(
            "`{name}` is no terrain and no antenna pattern: {error}"
        ))
    })?;
    Ok(FilePreview {
        file: String::new(),
        kind: FileKind::AntennaPattern,
        description: format!("antenna pattern, {} cuts", pattern.cuts.len()),
        is_there: false,
        raster: None,
        cuts: pattern.cuts.len(),
        gain_dbi: pattern.gain_dbi,
        warnings: warnings.iter().map(ToString::to_string).collect(),
    })
}
