//! Rasters to cloud-optimised GeoTIFF: tiles under deflate, overviews, the
//! place on Earth in geo keys, names and units of the bands, void cells as
//! the file's own no-data value.
//!
//! Cells are asked for a row of tiles at a time, from top to bottom, each
//! once; what is compressed waits in memory or, beyond 64 MiB a level, in a
//! temporary file without a name. A territory larger than memory can be
//! written.
//!
//! * [`encode`]: a grid as it is, the bytes of a file.
//! * [`write()`], [`write_file`]: several bands with their descriptions, cells
//!   from wherever the caller has them.
//!
//! Sources: TIFF 6.0 (Adobe, 1992); BigTIFF (its published design note);
//! OGC 19-008r4, GeoTIFF 1.1; OGC 21-026, Cloud Optimized GeoTIFF 1.0. The
//! metadata and no-data tags 42112 and 42113 and the structural header are
//! GDAL's published conventions.

mod directory;
mod file;
mod metadata;
mod pyramid;
mod tile;

use std::io::{self, Write};
use std::path::Path;

use raster::{Georeference, Grid};

use metadata::geo_keys;
use pyramid::Pyramid;

/// How cells are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellType {
    /// 32 bit floating point; void is NaN.
    Float32,
    /// 16 bit whole numbers; void is -32768. Values are rounded.
    Signed16,
    /// 16 bit whole numbers from 0 to 65534; void is 65535. Values are rounded.
    Unsigned16,
    /// 8 bit whole numbers from 0 to 254; void is 255. Values are rounded.
    Unsigned8,
}

impl CellType {
    /// The number that stands for "no data" in the file.
    pub fn nodata(self) -> &'static str {
        match self {
            Self::Float32 => "nan",
            Self::Signed16 => "-32768",
            Self::Unsigned16 => "65535",
            Self::Unsigned8 => "255",
        }
    }
}

/// What one band holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// What a person reads; may be empty.
    pub description: String,
    /// Unit of the values, `dB`; may be empty.
    pub unit: String,
    /// A value is the stored number times this, plus the offset. Finite, not zero.
    pub scale: f64,
    /// Value of the stored number zero. Finite.
    pub offset: f64,
}

impl Band {
    /// A band whose values are stored as they are.
    pub fn new(description: &str, unit: &str) -> Self {
        Self {
            description: description.to_owned(),
            unit: unit.to_owned(),
            scale: 1.0,
            offset: 0.0,
        }
    }

    /// Whether stored numbers differ from values.
    fn is_scaled(&self) -> bool {
        self.scale != 1.0 || self.offset != 0.0
    }
}

/// How an overview's cell follows from the two by two cells below it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overviews {
    /// The upper left one: for classes.
    Nearest,
    /// The mean of those that are not void: for quantities.
    Average,
}

/// Cells a side of a tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TileSide {
    /// 256.
    Cells256,
    /// 512.
    #[default]
    Cells512,
}

impl TileSide {
    fn cells(self) -> usize {
        match self {
            Self::Cells256 => 256,
            Self::Cells512 => 512,
        }
    }
}

/// A raster as a file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct RasterDescription {
    /// Where the cells lie; the system needs an EPSG code.
    pub georeference: Georeference,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// How cells are stored, the same in every band.
    pub cells: CellType,
    /// The bands, at least one.
    pub bands: Vec<Band>,
    /// How overviews are made.
    pub overviews: Overviews,
    /// Colours of the stored numbers from 0, of a file with a single band of
    /// [`CellType::Unsigned8`]; others are left out.
    pub palette: Option<Vec<[u8; 3]>>,
    /// Names and texts about the whole file.
    pub notes: Vec<(String, String)>,
    /// Side of the tiles.
    pub tile: TileSide,
    /// 64 bit offsets even where 32 bits would do; beyond 4 GiB they are
    /// taken anyway.
    pub big_tiff: bool,
}

impl RasterDescription {
    /// The description of a grid as a file of one band.
    pub fn of(grid: &Grid, cells: CellType, band: Band, overviews: Overviews) -> Self {
        let extent = (grid.georeference(), grid.width(), grid.height());
        Self::over(extent, (cells, band, overviews))
    }

    /// The same for cells that are no grid in memory: where they lie, columns
    /// and rows.
    pub fn over(
        (georeference, width, height): (&Georeference, usize, usize),
        (cells, band, overviews): (CellType, Band, Overviews),
    ) -> Self {
        Self {
            georeference: georeference.clone(),
            width,
            height,
            cells,
            bands: vec![band],
            overviews,
            palette: None,
            notes: Vec::new(),
            tile: TileSide::default(),
            big_tiff: false,
        }
    }
}

/// Whole rows of a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rows {
    /// Band, from 0.
    pub band: usize,
    /// First row.
    pub first: usize,
    /// How many rows.
    pub count: usize,
}

/// Why a raster cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum GeoTiffError {
    /// The file names its reference system by its code.
    #[error(
        "reference system `{crs}` has no EPSG code that a GeoTIFF could name\nhint: make the grid in a UTM zone"
    )]
    NoEpsgCode {
        /// The system in words.
        crs: String,
    },
    /// A value does not fit into the cells.
    #[error(
        "value `{value}` does not fit into {cells:?} cells\nhint: choose wider cells for this grid"
    )]
    OutOfRange {
        /// The first value that does not fit.
        value: f32,
        /// The cells asked for.
        cells: CellType,
    },
    /// A description that no file can have.
    #[error(
        "a raster of {width} x {height} cells in {bands} bands does not fit into a GeoTIFF\nhint: each side has 1 to 4294967295 cells, a file has 1 to 1000 bands with finite scales that are not zero"
    )]
    Shape {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
        /// Bands.
        bands: usize,
    },
    /// The cells could not be had, or the file not be written.
    #[error("the GeoTIFF cannot be written: {0}")]
    Io(#[from] io::Error),
}

/// A grid as the bytes of a file, its overviews averaged, or nearest for
/// bytes. The same grid gives the same bytes.
pub fn encode(grid: &Grid, cells: CellType) -> Result<Vec<u8>, GeoTiffError> {
    let overviews = match cells {
        CellType::Unsigned8 => Overviews::Nearest,
        CellType::Float32 | CellType::Signed16 | CellType::Unsigned16 => Overviews::Average,
    };
    let description = RasterDescription::of(grid, cells, Band::new("", ""), overviews);
    encode_bands(&description, &[grid])
}

/// Grids of one shape as the bands of a file, its bytes. Cells that a grid
/// lacks are void.
pub fn encode_bands(
    description: &RasterDescription,
    bands: &[&Grid],
) -> Result<Vec<u8>, GeoTiffError> {
    let mut bytes = Vec::new();
    write(description, rows_of(bands), &mut bytes)?;
    Ok(bytes)
}

/// Rows of grids in memory, for [`write()`] and [`write_file`].
pub fn rows_of(bands: &[&Grid]) -> impl FnMut(Rows, &mut [f32]) -> io::Result<()> {
    move |rows, cells| {
        cells.fill(f32::NAN);
        let Some(grid) = bands.get(rows.band) else {
            return Ok(());
        };
        let width = cells.len() / rows.count.max(1);
        let from = grid.cells().chunks_exact(grid.width()).skip(rows.first);
        for (to, from) in cells.chunks_exact_mut(width.max(1)).zip(from) {
            let common = to.len().min(from.len());
            to[..common].copy_from_slice(&from[..common]);
        }
        Ok(())
    }
}

/// Writes a raster, its cells asked from `rows`: whole rows from top to
/// bottom, each band's rows once, as many at a time as a tile has; NaN is
/// void. `rows` may end the work with an error, which is handed back.
///
/// Memory: about `8 · width · tile side · bands` bytes, and up to 64 MiB a
/// level of what is compressed.
pub fn write(
    description: &RasterDescription,
    mut rows: impl FnMut(Rows, &mut [f32]) -> io::Result<()>,
    to: &mut impl Write,
) -> Result<(), GeoTiffError> {
    check(description)?;
    let keys = geo_keys(&description.georeference)?;
    let mut pyramid = Pyramid::new(description);
    let side = description.tile.cells();
    for first in (0..description.height).step_by(side) {
        let count = side.min(description.height - first);
        pyramid.add_rows(count, |band, cells| {
            rows(Rows { band, first, count }, cells)
        })?;
    }
    file::assemble(description, &keys, pyramid.finish()?, to)
}

/// [`write()`] to a file that is whole or, on an error, as it was before.
pub fn write_file(
    description: &RasterDescription,
    rows: impl FnMut(Rows, &mut [f32]) -> io::Result<()>,
    path: &Path,
) -> Result<(), GeoTiffError> {
    let mut outcome = Ok(());
    let written = crate::atomic::write_atomically_with(path, |file| {
        let mut buffer = io::BufWriter::with_capacity(1 << 20, file);
        outcome = write(description, rows, &mut buffer);
        if outcome.is_err() {
            return Err(io::Error::other("the raster could not be written"));
        }
        buffer.flush()
    });
    outcome.and(written.map_err(GeoTiffError::Io))
}

/// A pixel's samples lie side by side, so that their count is bounded.
const MOST_BANDS: usize = 1000;

fn check(description: &RasterDescription) -> Result<(), GeoTiffError> {
    let RasterDescription {
        width,
        height,
        ref bands,
        ..
    } = *description;
    let is_side = |cells: usize| cells > 0 && u32::try_from(cells).is_ok();
    let is_band = |b: &Band| b.scale.is_finite() && b.scale != 0.0 && b.offset.is_finite();
    let are_bands = (1..=MOST_BANDS).contains(&bands.len()) && bands.iter().all(is_band);
    if is_side(width) && is_side(height) && are_bands {
        return Ok(());
    }
    let bands = bands.len();
    Err(GeoTiffError::Shape {
        width,
        height,
        bands,
    })
}
