//! What a raster that is brought in covers.

use std::path::Path;

use pipeline::engine::coverage::CellWindow;
use store::ground::{OpenOptions, PixelType, RasterFile};

use crate::api::Bounds;
use crate::api::import::{FileKind, FilePreview, RasterFacts};
use crate::api::problem::Problem;

/// Rows that are read at a time.
const ROWS: usize = 256;
/// Rasters of more cells are not counted through.
const MOST_COUNTED: usize = 400_000_000;

/// Classes are whole numbers of a byte; heights of such are rare.
fn kind_of(pixel: PixelType) -> FileKind {
    match pixel {
        PixelType::Unsigned(8) => FileKind::LandCover,
        _ => FileKind::Terrain,
    }
}

/// A raster, looked at: every cell is read where there are not too many.
pub(crate) fn raster(
    name: &str,
    bytes: Vec<u8>,
    kind: Option<FileKind>,
) -> Result<FilePreview, Problem> {
    let open = |bytes, options: &OpenOptions| {
        let file = RasterFile::from_bytes(Path::new(name), bytes, None, options);
        file.map_err(|error| Problem::unusable(error.to_string()))
    };
    let elevation = open(bytes.clone(), &OpenOptions::elevation())?;
    let kind = kind.unwrap_or(kind_of(elevation.info().pixel));
    let mut file = match kind {
        FileKind::Terrain => elevation,
        _ => open(bytes, &OpenOptions::classes())?,
    };
    let (void_cells, least, greatest) = voids(&mut file)?;
    let info = file.info();
    let crs = info.georeference.crs();
    let (width, height) = (info.width, info.height);
    let (across, down) = info.cell_size();
    let is_degrees = crs.is_geographic();
    let cells = (width * height).max(1) as f64;
    let void_frac = void_cells.map(|count| count as f64 / cells);
    let facts = RasterFacts {
        columns: width,
        rows: height,
        bounds: info.bounds.as_ref().map(|bounds| Bounds {
            west_deg: bounds.west_deg(),
            south_deg: bounds.south_deg(),
            east_deg: bounds.west_deg() + bounds.width_deg(),
            north_deg: bounds.north_deg(),
        }),
        reference_system: crs.name().to_string(),
        spacing_m: (!is_degrees).then_some([across, down]),
        spacing_deg: is_degrees.then_some([across, down]),
        void_frac,
        least,
        greatest,
    };
    Ok(FilePreview {
        file: String::new(),
        kind,
        description: format!("{width} × {height} cells, {}", crs.name()),
        is_there: false,
        raster: Some(facts),
        cuts: 0,
        gain_dbi: None,
        warnings: file.warnings().iter().map(ToString::to_string).collect(),
    })
}

type Counted = (Option<usize>, Option<f64>, Option<f64>);

/// Cells without data, and the least and greatest value; nothing of very large rasters.
fn voids(file: &mut RasterFile) -> Result<Counted, Problem> {
    let (width, height) = (file.info().width, file.info().height);
    if width.saturating_mul(height) > MOST_COUNTED {
        return Ok((None, None, None));
    }
    let (mut void, mut least, mut greatest) = (0, f32::INFINITY, f32::NEG_INFINITY);
    for row in (0..height).step_by(ROWS) {
        let window = CellWindow {
            col: 0,
            row,
            width,
            height: ROWS.min(height - row),
        };
        let read = file.read_window(window);
        let read = read.map_err(|error| Problem::unusable(error.to_string()))?;
        for value in read.grid.cells() {
            if value.is_nan() {
                void += 1;
            } else {
                (least, greatest) = (least.min(*value), greatest.max(*value));
            }
        }
    }
    let known = |value: f32| value.is_finite().then(|| f64::from(value));
    Ok((Some(void), known(least), known(greatest)))
}
