//! What a raster file says about itself.

use geodesy::{LonLat, LonLatBox, MapXy};
use raster::{Affine, CellWindow, CellXy, Georeference};

use super::error::GroundError;
use super::{Input, OpenOptions};

/// The formats that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RasterFormat {
    /// TIFF with georeference, also cloud optimised and BigTIFF.
    GeoTiff,
    /// SRTM tile of posts, big-endian 16 bit.
    HgtTile,
    /// Such a tile in a zip archive.
    ZippedHgtTile,
    /// ASCII grid (`.asc`).
    AsciiGrid,
}

/// How a cell is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PixelType {
    /// Unsigned integer of this many bits.
    Unsigned(u8),
    /// Signed integer of this many bits.
    Signed(u8),
    /// Floating point of this many bits.
    Float(u8),
    /// Decimal text.
    Text,
}

impl PixelType {
    /// Whether a value can be stored in such a cell.
    pub(super) fn can_hold(self, value: f64) -> bool {
        let whole = value.fract() == 0.0;
        match self {
            Self::Unsigned(bits) => whole && value >= 0.0 && value < 2_f64.powi(bits.into()),
            Self::Signed(bits) => {
                let half = 2_f64.powi(i32::from(bits) - 1);
                whole && value >= -half && value < half
            }
            Self::Float(_) | Self::Text => true,
        }
    }
}

/// The description of a raster file.
#[derive(Debug, Clone)]
pub struct RasterInfo {
    /// The file format.
    pub format: RasterFormat,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Bands in the file.
    pub bands: usize,
    /// How a cell is stored.
    pub pixel: PixelType,
    /// Where the cells lie, in terms of outer corners.
    pub georeference: Georeference,
    /// The raster's extent; `None` where its corners are beyond what its
    /// projection can show.
    pub bounds: Option<LonLatBox>,
    /// The no-data value of the band, as stored.
    pub nodata: Option<f64>,
    /// What a stored number is multiplied by, and then what is added.
    pub scale_offset: (f64, f64),
    /// Metres per unit of the elevations, after scale and offset.
    pub metres_per_height_unit: f64,
}

/// The description of a raster before its extent is known.
pub(super) struct Draft {
    pub(super) format: RasterFormat,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) pixel: PixelType,
    pub(super) nodata: Option<f64>,
}

impl RasterInfo {
    /// A description with one band and plain metres.
    pub(super) fn new(draft: Draft, georeference: Georeference) -> Self {
        let bounds = extent(&georeference, draft.width, draft.height);
        Self {
            format: draft.format,
            width: draft.width,
            height: draft.height,
            bands: 1,
            pixel: draft.pixel,
            georeference,
            bounds,
            nodata: draft.nodata,
            scale_offset: (1.0, 0.0),
            metres_per_height_unit: 1.0,
        }
    }

    /// The window of the whole raster.
    pub fn whole(&self) -> CellWindow {
        CellWindow {
            col: 0,
            row: 0,
            width: self.width,
            height: self.height,
        }
    }

    /// Cell width and height in map units of the raster's own system.
    pub fn cell_size(&self) -> (f64, f64) {
        let [x_col, x_row, y_col, y_row] = self.georeference.affine().steps();
        (x_col.hypot(y_col), x_row.hypot(y_row))
    }

    /// The georeference of a window.
    pub(super) fn georeference_of(&self, window: CellWindow) -> Georeference {
        let affine = self.georeference.affine();
        let affine = affine.shifted(window.col as f64, window.row as f64);
        let crs = self.georeference.crs().clone();
        Georeference::new(crs, affine, window.width, window.height)
    }

    /// The cells that a box touches, and two more on every side for
    /// interpolation.
    pub(super) fn window_of(&self, bounds: &LonLatBox) -> Option<CellWindow> {
        /// Steps along each side; the sides are curves in the raster.
        const STEPS: usize = 32;
        const MARGIN_CELLS: f64 = 2.0;
        let mut places = bounds.border(STEPS);
        places.push(bounds.centre());
        let mut sides = [
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ];
        for at in places
            .into_iter()
            .filter_map(|p| self.georeference.to_cell(p).ok())
        {
            sides[0] = sides[0].min(at.col);
            sides[1] = sides[1].min(at.row);
            sides[2] = sides[2].max(at.col);
            sides[3] = sides[3].max(at.row);
        }
        let clamp = |v: f64, count: usize| v.clamp(0.0, count as f64) as usize;
        let [left, top, right, bottom] = sides;
        let beside =
            right < 0.0 || bottom < 0.0 || left > self.width as f64 || top > self.height as f64;
        let nothing = left > right;
        if nothing || beside {
            return None;
        }
        let col = clamp((left - MARGIN_CELLS).floor(), self.width);
        let row = clamp((top - MARGIN_CELLS).floor(), self.height);
        let width = clamp((right + MARGIN_CELLS).ceil(), self.width) - col;
        let height = clamp((bottom + MARGIN_CELLS).ceil(), self.height) - row;
        let window = CellWindow {
            col,
            row,
            width,
            height,
        };
        (width > 0 && height > 0).then_some(window)
    }
}

/// The extent of a raster from places along its border.
fn extent(georeference: &Georeference, width: usize, height: usize) -> Option<LonLatBox> {
    const STEPS: usize = 16;
    let mut places: Vec<LonLat> = Vec::with_capacity(4 * STEPS + 5);
    // The middle first: longitudes are then taken around it.
    let (w, h) = (width as f64, height as f64);
    places.push(
        georeference
            .to_lonlat(CellXy {
                col: w / 2.0,
                row: h / 2.0,
            })
            .ok()?,
    );
    for i in 0..=STEPS {
        let part = i as f64 / STEPS as f64;
        for (col, row) in [
            (part * w, 0.0),
            (part * w, h),
            (0.0, part * h),
            (w, part * h),
        ] {
            places.push(georeference.to_lonlat(CellXy { col, row }).ok()?);
        }
    }
    LonLatBox::around(places)
}

/// A georeference, refused where the middle of the raster is no place on
/// Earth: then the reference system is not the file's.
pub(super) fn georeference(
    input: &Input,
    crs: geodesy::Crs,
    affine: Affine,
    size: (usize, usize),
) -> Result<Georeference, GroundError> {
    let georeference = Georeference::new(crs, affine, size.0, size.1);
    let origin = CellXy { col: 0.0, row: 0.0 };
    georeference
        .to_lonlat(origin)
        .map_err(|e| GroundError::crs(&input.path, e))?;
    Ok(georeference)
}

/// The six numbers of a world file: the last two place the centre of the
/// first cell.
pub(super) fn world_file_affine(text: &str) -> Option<Affine> {
    let numbers: Vec<f64> = text
        .split_whitespace()
        .map_while(|w| w.parse().ok())
        .collect();
    let [x_col, y_col, x_row, y_row, x, y] = numbers[..] else {
        return None;
    };
    let centre = MapXy { x, y };
    let affine = Affine::new(centre, [x_col, x_row, y_col, y_row]).ok()?;
    Some(affine.shifted(-0.5, -0.5))
}

/// The reference system of a file that names one, names none, or names one
/// that cannot be used, beside the one that the user named.
pub(super) fn choose_crs(
    input: &Input,
    options: &OpenOptions,
    stated: Result<Option<geodesy::Crs>, geodesy::CrsError>,
) -> Result<(geodesy::Crs, Option<super::GroundWarning>), GroundError> {
    use super::GroundWarning::{CrsAssumed, CrsStatedOtherwise};
    let path = || input.path.clone();
    match (stated, &options.assumed_crs) {
        (Ok(Some(crs)), Some(assumed)) if crs != *assumed => {
            let warning = CrsStatedOtherwise {
                path: path(),
                stated: crs.to_string(),
                assumed: assumed.to_string(),
            };
            Ok((crs, Some(warning)))
        }
        (Ok(Some(crs)), _) => Ok((crs, None)),
        (_, Some(assumed)) => {
            let crs = assumed.to_string();
            Ok((assumed.clone(), Some(CrsAssumed { path: path(), crs })))
        }
        (Err(source), None) => Err(GroundError::crs(&input.path, source)),
        (Ok(None), None) => Err(GroundError::MissingCrs { path: path() }),
    }
}
