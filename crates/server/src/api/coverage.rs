//! Coverage over the map.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Bounds;
use super::change::Change;
use super::consequence::Counts;

/// The quantities that coverage has.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CoverageList {
    /// Revision of the design.
    pub revision: String,
    /// Side of a cell that is asked for where none is named.
    pub cell_m: f64,
    /// The quantities.
    pub quantities: Vec<Quantity>,
}

/// A quantity and its classes.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Quantity {
    /// Name with its unit, as in the addresses below `/api/coverage/`.
    pub name: String,
    /// What a person reads.
    pub title: String,
    /// Unit of the values; empty where there is none.
    pub unit: String,
    /// Unit of the labels: `%` where values are shares from 0 to 1.
    pub shown_unit: String,
    /// Whether values are codes that stand for the classes' names.
    pub is_named: bool,
    /// Classes in ascending order.
    pub classes: Vec<QuantityClass>,
    /// Indices of the classes, the best first: the order of a legend.
    pub best_first: Vec<usize>,
}

/// One class of a quantity.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct QuantityClass {
    /// Least value that belongs to it; `null` is unbounded.
    pub from: Option<f64>,
    /// Least value that no longer belongs to it; `null` is unbounded.
    pub to: Option<f64>,
    /// What a person reads, without the unit.
    pub label: String,
    /// Colour, `#rrggbb`.
    pub colour: String,
}

/// Head of a grid. A grid's bytes are: the four letters `MWG1`; the length of
/// the head in bytes, 32 bits, little-endian; the head, JSON in UTF-8, padded
/// with spaces to a multiple of four; then `width · height` values, row by row
/// from the north-west, equally spaced in Web Mercator: 32-bit floating point,
/// little-endian, NaN for no data.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GridHead {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Outer edges.
    pub bounds: Bounds,
    /// What the values are.
    pub quantity: Quantity,
    /// The only sector that may serve; `null` where all may.
    pub sector: Option<String>,
    /// Side of a cell of the coverage beneath.
    pub cell_m: f64,
    /// Revision of the design that it is of, changes of a preview left out.
    pub revision: String,
    /// Counts with a preview's changes; `null` where it was not asked for them.
    pub counts: Option<Counts>,
    /// Number of the request, as the page gave it.
    pub ticket: u64,
    /// How long the answer took to work out.
    pub took_ms: f64,
}

/// A look at changes while a pointer moves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PreviewQuestion {
    /// The changes.
    pub changes: Vec<Change>,
    /// Number of the request: a later one of the same window ends an earlier one.
    pub ticket: u64,
    /// Which window asks; any text that it keeps.
    pub window: String,
    /// Quantity of the grid, by name; `null` asks for the counts alone.
    #[serde(default)]
    pub quantity: Option<String>,
    /// The only sector that may serve in the grid.
    #[serde(default)]
    pub sector: Option<String>,
    /// Side of a cell; `null` is the usual one.
    #[serde(default)]
    pub cell_m: Option<f64>,
    /// Whether the network's counts are wanted too.
    #[serde(default)]
    pub with_counts: bool,
}
