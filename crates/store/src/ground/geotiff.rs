//! GeoTIFF: one band of the first full-resolution image, window by window.
//!
//! The directory is read with the `tiff` crate, blocks are decoded one at a
//! time with the general codecs. The block tables of large files are looked
//! up entry by entry, so that memory follows the window.

mod blocks;
mod directory;
mod georef;
mod layout;

use std::path::Path;

use raster::CellWindow;

use super::error::{GroundError, GroundWarning};
use super::info::Draft;
use super::values::Conversion;
use super::{Input, OpenOptions, RasterFormat, RasterInfo, ReadMode};
use blocks::Samples;
use directory::Directories;
use layout::Layout;

pub(super) struct TiffSource {
    directories: Directories,
    image: Layout,
    mask: Option<Layout>,
    band: usize,
}

pub(super) fn open(
    input: Input,
    options: &OpenOptions,
) -> Result<(RasterInfo, TiffSource, Vec<GroundWarning>), GroundError> {
    let Input {
        path,
        bytes,
        length,
        prj,
        world,
    } = input;
    let mut directories = Directories::open(&path, bytes, length)?;
    let mut warnings = Vec::new();
    if directories.looped {
        warnings.push(GroundWarning::DirectoryLoop { path: path.clone() });
    }
    let main = directories.main_image(&path)?;
    let image = Layout::read(&mut directories, main, &path)?;
    if options.band >= image.samples {
        return Err(GroundError::NoSuchBand {
            path,
            band: options.band,
            bands: image.samples,
        });
    }
    let mask = directories.mask_of(&image);
    let mask = mask
        .map(|i| Layout::read(&mut directories, i, &path))
        .transpose()?;
    let tags = georef::Tags::read(&mut directories, main, options.band, &path)?;
    // The rest of the input, for the choices that all formats share.
    let input = Input {
        path,
        bytes: Box::new(std::io::empty()),
        length,
        prj,
        world,
    };
    let (georeference, warning) = tags.georeference(&input, options, &image)?;
    warnings.extend(warning);
    let nodata = tags.nodata_value(&image, &input.path, &mut warnings);
    let draft = Draft {
        format: RasterFormat::GeoTiff,
        width: image.width,
        height: image.height,
        pixel: image.pixel,
        nodata,
    };
    let mut info = RasterInfo::new(draft, georeference);
    info.bands = image.samples;
    info.scale_offset = tags.scale_offset();
    if options.mode == ReadMode::Elevation {
        let unit = tags.height_unit(&input.path)?;
        info.metres_per_height_unit = unit.metres;
        if unit.metres != 1.0 {
            warnings.push(GroundWarning::HeightsConverted {
                path: input.path.clone(),
                unit: unit.name.to_owned(),
            });
        }
    }
    let source = TiffSource {
        directories,
        image,
        mask,
        band: options.band,
    };
    Ok((info, source, warnings))
}

impl TiffSource {
    pub(super) fn read(
        &mut self,
        path: &Path,
        window: CellWindow,
        conversion: &mut Conversion,
    ) -> Result<Vec<f32>, GroundError> {
        let mut cells = vec![f32::NAN; window.width * window.height];
        let request = blocks::Request {
            layout: &self.image,
            band: self.band,
            window,
        };
        let mut absent = 0;
        blocks::visit(&mut self.directories, request, path, |at, samples| {
            let Samples::Row(row) = samples else {
                absent += 1;
                return;
            };
            let start = at.row * window.width + at.col;
            let cells = cells[start..].iter_mut();
            for (cell, sample) in cells.zip(row.iter()) {
                *cell = match sample {
                    blocks::Sample::F32(v) => conversion.cell_f32(v),
                    blocks::Sample::F64(v) => conversion.cell(v),
                };
            }
        })?;
        for _ in 0..absent {
            conversion.absent_block();
        }
        if let Some(mask) = &self.mask {
            let request = blocks::Request {
                layout: mask,
                band: 0,
                window,
            };
            blocks::visit(&mut self.directories, request, path, |at, samples| {
                let Samples::Row(row) = samples else { return };
                let start = at.row * window.width + at.col;
                for (cell, sample) in cells[start..].iter_mut().zip(row.iter()) {
                    if sample.is_zero() {
                        *cell = f32::NAN;
                    }
                }
            })?;
        }
        Ok(cells)
    }
}
