//! Bringing in and taking out.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::Bounds;
use super::change::History;
use super::finding::Finding;

/// Which column of a file is read as what; what is `null` is not read.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ColumnChoice {
    /// Name of the file, whose ending says what it is: `.csv`, `.geojson`, `.json`, `.gpkg`.
    pub file_name: String,
    /// Column of the ids; without it rows are numbered.
    #[serde(default)]
    pub id: Option<String>,
    /// Column of the longitudes.
    #[serde(default)]
    pub lon: Option<String>,
    /// Column of the latitudes.
    #[serde(default)]
    pub lat: Option<String>,
    /// Column of the names.
    #[serde(default)]
    pub name: Option<String>,
    /// Column of the plans.
    #[serde(default)]
    pub plan: Option<String>,
    /// Column of the mount heights.
    #[serde(default)]
    pub mount_height_agl_m: Option<String>,
    /// Column of the terminals.
    #[serde(default)]
    pub terminal: Option<String>,
    /// Column of the priorities.
    #[serde(default)]
    pub priority: Option<String>,
    /// Whether a guess fills what is not named. Absent: yes where no column is named.
    #[serde(default)]
    pub guess: Option<bool>,
}

/// What a file of premises would bring.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ImportPreview {
    /// The file's columns.
    pub columns: Vec<String>,
    /// The choice that the rows below were read with: the person's, or a guess.
    pub choice: ColumnChoice,
    /// Rows in all.
    pub rows: usize,
    /// Rows that can be brought in.
    pub usable: usize,
    /// Ids that the design has already: those rows are left out.
    pub already_there: usize,
    /// The first rows as they would come in.
    pub sample: Vec<ImportRow>,
    /// What is wrong, row by row; at most 1000.
    pub mistakes: Vec<Finding>,
}

/// One row as it would come in.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ImportRow {
    /// Line of the file, counted from 1; 0 where it has none.
    pub line: usize,
    /// Id.
    pub id: String,
    /// Longitude.
    pub lon_deg: f64,
    /// Latitude.
    pub lat_deg: f64,
    /// What a person calls it.
    pub name: String,
    /// Plan.
    pub plan: String,
    /// Height of the terminal's antenna above ground.
    pub mount_height_agl_m: f64,
}

/// A file that now stands in the project.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ImportedFile {
    /// Path relative to the project folder.
    pub file: String,
    /// What was read in it.
    pub description: String,
    /// What has to be told.
    pub findings: Vec<Finding>,
    /// What the design needs before it is used; empty where it is used already.
    pub next: String,
    /// Whether the design names it: it is a step of the history then, unless
    /// the design names all files of its folder.
    pub is_in_design: bool,
    /// What it is and covers.
    pub preview: FilePreview,
    /// Revision that the design has now.
    pub revision: String,
    /// What can be taken back and done again.
    pub history: History,
}

/// What a file is brought in as.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct FileChoice {
    /// Its name; the ending says what it is.
    pub file_name: String,
    /// What it holds; a guess where it is not given.
    pub kind: Option<FileKind>,
    /// Peak gain of an antenna whose pattern file does not tell it.
    #[param(minimum = -20, maximum = 60)]
    pub gain_dbi: Option<f64>,
}

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FileKind {
    /// Elevation of the ground.
    Terrain,
    /// Classes of land cover.
    LandCover,
    /// Height of trees.
    Canopy,
    /// Gain of an antenna by direction.
    AntennaPattern,
}

/// What a file is and covers.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FilePreview {
    /// Path that it has in the project, or would have.
    pub file: String,
    /// What it holds.
    pub kind: FileKind,
    /// In a few words.
    pub description: String,
    /// Whether a file of that path is there already.
    pub is_there: bool,
    /// Of a raster.
    pub raster: Option<RasterFacts>,
    /// Cuts of an antenna pattern.
    pub cuts: usize,
    /// Peak gain, where a pattern file tells it.
    pub gain_dbi: Option<f64>,
    /// What is doubtful about it.
    pub warnings: Vec<String>,
}

/// What a raster covers.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RasterFacts {
    /// Columns.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Around all cells; `null` where its projection cannot show its corners.
    pub bounds: Option<Bounds>,
    /// Name of its reference system.
    pub reference_system: String,
    /// Width and height of a cell, of a raster in metres.
    pub spacing_m: Option<[f64; 2]>,
    /// Width and height of a cell, of a raster in degrees.
    pub spacing_deg: Option<[f64; 2]>,
    /// Share of cells without data; `null` where there are too many to count.
    pub void_frac: Option<f64>,
    /// Least value: metres above sea level of terrain, a code of land cover.
    pub least: Option<f64>,
    /// Greatest value.
    pub greatest: Option<f64>,
}

/// A file to take out.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OutputFile {
    /// Name, as in the address below `/api/outputs/`.
    pub name: String,
    /// Size.
    pub size_bytes: u64,
    /// What it is.
    pub meaning: String,
    /// Whether it is of the design as it stands.
    pub is_current: bool,
}

/// Coverage to be written: each quantity as raster, sheet and figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CoverageOutputs {
    /// Names of quantities, as in `/api/coverage`.
    #[schema(min_items = 1)]
    pub quantities: Vec<String>,
    /// Whether the network as a whole is wanted, every sector serving.
    #[serde(default = "wanted")]
    #[schema(default = true)]
    pub network: bool,
    /// Sectors that are wanted each by itself.
    #[serde(default)]
    pub sectors: Vec<String>,
    /// Side of a cell; `null` is the usual one.
    #[serde(default)]
    #[schema(minimum = 5, maximum = 5000)]
    pub cell_m: Option<f64>,
}

fn wanted() -> bool {
    true
}

/// Files to take out.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OutputList {
    /// The files.
    pub files: Vec<OutputFile>,
}
