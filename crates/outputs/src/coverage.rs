//! A finished grid of one quantity, handed out: every exporter takes the grid
//! and the description of what its cells hold.
//!
//! * [`Quantity`]: name, unit, classes and their colours; [`quantities`] are
//!   those that coverage has.
//! * [`map_png`], [`legend_png`], [`sheet_png`], [`world_file`]: pictures.
//! * [`class_areas`], [`contour_lines`]: outlines, to [`geojson()`] and
//!   [`geopackage()`].
//! * [`kmz`]: an overlay for a globe.
//! * [`CellRows`]: a grid that need not be in memory whole, for the sheet and the figures.
//! * [`CoverageStatistics`]: area, premises and people by class.
//!
//! NaN is "no data" throughout: transparent in pictures, absent from
//! outlines, a row of its own in the figures.

mod backdrop;
mod canvas;
mod colours;
mod contours;
mod legend;
mod outline;
mod overlay;
mod picture;
pub mod quantities;
mod quantity;
mod rows;
mod sheet;
mod statistics;
mod vectors;

pub use backdrop::Backdrop;
pub use contours::contour_lines;
pub use legend::legend_png;
pub use overlay::{Overlay, kmz};
pub use picture::{map_png, world_file};
pub use quantity::{Better, Class, Kind, Naming, Quantity};
pub use rows::{CellRows, ShelvedLayer};
pub use sheet::{Around, Caption, Mark, sheet_png};
pub use statistics::{ClassStatistics, CoverageStatistics, Occupied, statistics};
pub use vectors::{Geometry, VectorLayer, class_areas, geojson, geopackage};

use geodesy::CrsError;

use crate::handout::OutputError;

/// A grid that could not be turned into bytes.
#[derive(Debug, thiserror::Error)]
pub enum CoverageError {
    /// A cell has no place on Earth.
    #[error(
        "a cell of the grid has no longitude and latitude: {0}\nhint: make the grid in the UTM zone of the territory"
    )]
    Place(#[from] CrsError),
    /// A grid without cells.
    #[error(transparent)]
    Raster(#[from] raster::RasterError),
    /// The contour library refused.
    #[error("the contour lines could not be drawn: {0}")]
    Contour(#[from] contour::Error),
    /// The picture could not be encoded.
    #[error("the picture could not be encoded: {0}")]
    Picture(#[from] png::EncodingError),
    /// The archive could not be written.
    #[error("the overlay could not be packed: {0}")]
    Archive(#[from] zip::result::ZipError),
    /// Cells that were to be read could not be.
    #[error(transparent)]
    Rows(#[from] engine::coverage::CoverageError),
    /// Any other format.
    #[error(transparent)]
    Output(#[from] OutputError),
}
