//! Grids in memory: georeference, sampling and profiles; NaN is "no data".
//!
//! * [`Grid`]: f32 cells, row by row, with their place on Earth
//!   ([`Georeference`]). A cell value of an elevation grid is metres above
//!   sea level at the cell's centre; of a class grid, the class of the cell.
//! * [`Mosaic`]: several grids as one; tiles on one lattice are joined, so
//!   that there is no seam between them.
//! * [`ProfileTracer`]: elevation and class along the geodesic between two
//!   places, fast enough for whole-territory studies.
//!
//! Columns and rows count from the outer corner of the first cell, so that
//! `x.5` is a cell centre. How files become grids is the business of `store`.

mod georeference;
mod grid;
mod mosaic;
mod profile;

pub use georeference::{Affine, CellXy, Georeference};
pub use grid::{Cell, CellWindow, Grid, RasterError};
pub use mosaic::Mosaic;
pub use profile::{MAX_PROFILE_SAMPLES, Profile, ProfileTracer, Steps};
