//! Many files as one raster.

use std::path::PathBuf;

use geodesy::LonLatBox;
use raster::Mosaic;

use super::{GroundError, GroundWarning, OpenOptions, RasterFile, RasterInfo};

/// A mosaic that was read, and what was noticed on the way.
#[derive(Debug, Clone)]
pub struct MosaicReading {
    /// The rasters, those on one lattice joined; the first that has data
    /// wins.
    pub mosaic: Mosaic,
    /// Path and description of every file that contributed.
    pub files: Vec<(PathBuf, RasterInfo)>,
    /// What was noticed.
    pub warnings: Vec<GroundWarning>,
}

/// Reads the part of the files that lies in a box, in order of precedence.
///
/// A file beside the box is left out with a warning; a file that cannot be
/// read is an error, and so is a box that no file touches.
pub fn open_mosaic(
    paths: &[PathBuf],
    bounds: &LonLatBox,
    options: &OpenOptions,
) -> Result<MosaicReading, GroundError> {
    let mut grids = Vec::new();
    let mut files = Vec::new();
    let mut warnings = Vec::new();
    for path in paths {
        let mut file = RasterFile::open(path, options)?;
        match file.read_box(bounds)? {
            Some(reading) => {
                grids.push(reading.grid);
                warnings.extend(reading.warnings);
                files.push((path.clone(), file.info().clone()));
            }
            None => warnings.push(GroundWarning::NotNeeded { path: path.clone() }),
        }
    }
    if grids.is_empty() {
        return Err(GroundError::NothingCovers {
            files: paths.len(),
            position: bounds.centre().to_string(),
        });
    }
    Ok(MosaicReading {
        mosaic: Mosaic::new(grids),
        files,
        warnings,
    })
}
