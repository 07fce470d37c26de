//! Grids to GeoTIFF files: deflate-compressed strips, the place on Earth in
//! geo keys, void cells as the file's own no-data value.

use std::io::Cursor;

use raster::{Affine, Grid};
use tiff::TiffError;
use tiff::encoder::colortype::{ColorType, Gray8, Gray32Float, GrayI16};
use tiff::encoder::{
    Compression, DeflateLevel, DirectoryEncoder, TiffEncoder, TiffKindStandard, TiffValue,
};
use tiff::tags::{Predictor, Tag};

/// How cells are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellType {
    /// 32 bit floating point; void is NaN.
    Float32,
    /// 16 bit whole numbers; void is -32768. Values are rounded.
    Signed16,
    /// 8 bit whole numbers from 0 to 254; void is 255. Values are rounded.
    Unsigned8,
}

impl CellType {
    /// The number that stands for "no data" in the file.
    pub fn nodata(self) -> &'static str {
        match self {
            Self::Float32 => "nan",
            Self::Signed16 => "-32768",
            Self::Unsigned8 => "255",
        }
    }
}

/// Why a grid cannot be written.
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
    /// More cells than a plain TIFF can hold.
    #[error(
        "a grid of {width} x {height} cells does not fit into one GeoTIFF\nhint: make it coarser or smaller"
    )]
    TooLarge {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
    },
    /// What the TIFF library says.
    #[error("the grid cannot be encoded as TIFF: {0}")]
    Encoding(#[from] TiffError),
}

/// A grid as the bytes of a GeoTIFF file, pixel-is-area. The same grid gives
/// the same bytes.
pub fn encode(grid: &Grid, cells: CellType) -> Result<Vec<u8>, GeoTiffError> {
    let keys = geo_keys(grid)?;
    match cells {
        CellType::Float32 => write::<Gray32Float>(grid, &keys, cells, grid.cells()),
        CellType::Signed16 => {
            let whole = whole_numbers(grid, cells, (-32_767.0, 32_767.0), i16::MIN, |v| v as i16)?;
            write::<GrayI16>(grid, &keys, cells, &whole)
        }
        CellType::Unsigned8 => {
            let whole = whole_numbers(grid, cells, (0.0, 254.0), u8::MAX, |v| v as u8)?;
            write::<Gray8>(grid, &keys, cells, &whole)
        }
    }
}

fn whole_numbers<T>(
    grid: &Grid,
    cells: CellType,
    (least, greatest): (f32, f32),
    void: T,
    cast: impl Fn(f32) -> T,
) -> Result<Vec<T>, GeoTiffError>
where
    T: Copy,
{
    grid.cells()
        .iter()
        .map(|value| match value.round() {
            v if v.is_nan() => Ok(void),
            v if (least..=greatest).contains(&v) => Ok(cast(v)),
            _ => Err(GeoTiffError::OutOfRange {
                value: *value,
                cells,
            }),
        })
        .collect()
}

fn write<C>(
    grid: &Grid,
    keys: &[u16],
    cells: CellType,
    values: &[C::Inner],
) -> Result<Vec<u8>, GeoTiffError>
where
    C: ColorType,
    [C::Inner]: TiffValue,
{
    // The predictor suits whole numbers only; the library has none for floats.
    let predictor = match cells {
        CellType::Float32 => Predictor::None,
        CellType::Signed16 | CellType::Unsigned8 => Predictor::Horizontal,
    };
    let too_large = || GeoTiffError::TooLarge {
        width: grid.width(),
        height: grid.height(),
    };
    // A plain TIFF counts its bytes in 32 bits.
    let most_cells = u32::MAX as usize / 8;
    if grid.cells().len() > most_cells {
        return Err(too_large());
    }
    let width = u32::try_from(grid.width()).map_err(|_| too_large())?;
    let height = u32::try_from(grid.height()).map_err(|_| too_large())?;
    let mut bytes = Cursor::new(Vec::new());
    let mut tiff = TiffEncoder::new(&mut bytes)?
        .with_compression(Compression::Deflate(DeflateLevel::Balanced))
        .with_predictor(predictor);
    let mut image = tiff.new_image::<C>(width, height)?;
    describe(image.encoder(), grid.georeference().affine(), keys, cells)?;
    image.write_data(values)?;
    Ok(bytes.into_inner())
}

// Tag numbers of the OGC GeoTIFF standard 1.1 (19-008r4), clause 7, and of
// GDAL's no-data tag.
const MODEL_PIXEL_SCALE: u16 = 33_550;
const MODEL_TIEPOINT: u16 = 33_922;
const MODEL_TRANSFORMATION: u16 = 34_264;
const GEO_KEY_DIRECTORY: u16 = 34_735;
const NODATA: u16 = 42_113;

fn describe(
    directory: &mut DirectoryEncoder<'_, &mut Cursor<Vec<u8>>, TiffKindStandard>,
    affine: &Affine,
    keys: &[u16],
    cells: CellType,
) -> Result<(), TiffError> {
    let origin = affine.origin();
    let [x_col, x_row, y_col, y_row] = affine.steps();
    if x_row == 0.0 && y_col == 0.0 && x_col > 0.0 && y_row < 0.0 {
        let scale = [x_col, -y_row, 0.0];
        directory.write_tag(Tag::Unknown(MODEL_PIXEL_SCALE), &scale[..])?;
        let tie = [0.0, 0.0, 0.0, origin.x, origin.y, 0.0];
        directory.write_tag(Tag::Unknown(MODEL_TIEPOINT), &tie[..])?;
    } else {
        let matrix = [
            [x_col, x_row, 0.0, origin.x],
            [y_col, y_row, 0.0, origin.y],
            [0.0; 4],
            [0.0, 0.0, 0.0, 1.0],
        ];
        directory.write_tag(Tag::Unknown(MODEL_TRANSFORMATION), &matrix.concat()[..])?;
    }
    directory.write_tag(Tag::Unknown(GEO_KEY_DIRECTORY), keys)?;
    directory.write_tag(Tag::Unknown(NODATA), cells.nodata())
}

/// The geo key directory: version, then four numbers a key.
fn geo_keys(grid: &Grid) -> Result<Vec<u16>, GeoTiffError> {
    const MODEL_TYPE: u16 = 1024;
    const RASTER_TYPE: u16 = 1025;
    const GEODETIC_CRS: u16 = 2048;
    const PROJECTED_CRS: u16 = 3072;
    const PIXEL_IS_AREA: u16 = 1;
    let crs = grid.georeference().crs();
    let code = crs.epsg().and_then(|code| u16::try_from(code).ok());
    let code = code.ok_or_else(|| GeoTiffError::NoEpsgCode {
        crs: crs.to_string(),
    })?;
    let (model_type, crs_key) = if crs.is_geographic() {
        (2, GEODETIC_CRS)
    } else {
        (1, PROJECTED_CRS)
    };
    Ok([
        [1, 1, 0, 3],
        [MODEL_TYPE, 0, 1, model_type],
        [RASTER_TYPE, 0, 1, PIXEL_IS_AREA],
        [crs_key, 0, 1, code],
    ]
    .concat())
}
