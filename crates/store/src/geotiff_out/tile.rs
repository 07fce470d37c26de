//! One tile: values to stored numbers, to differences, to compressed bytes.

use std::io::{self, Write};

use flate2::Compression;
use flate2::write::ZlibEncoder;

use super::{Band, CellType, GeoTiffError};

impl CellType {
    pub(super) fn bytes(self) -> usize {
        match self {
            Self::Float32 => 4,
            Self::Signed16 | Self::Unsigned16 => 2,
            Self::Unsigned8 => 1,
        }
    }

    /// TIFF 6.0, section 19: 1 unsigned, 2 signed, 3 floating point.
    pub(super) fn sample_format(self) -> u16 {
        match self {
            Self::Unsigned8 | Self::Unsigned16 => 1,
            Self::Signed16 => 2,
            Self::Float32 => 3,
        }
    }

    /// 2 takes differences of whole numbers, 3 of the bytes of floats.
    pub(super) fn predictor(self) -> u16 {
        match self {
            Self::Float32 => 3,
            Self::Signed16 | Self::Unsigned16 | Self::Unsigned8 => 2,
        }
    }

    /// Least and greatest whole number that is not void.
    fn whole_range(self) -> (f64, f64) {
        match self {
            Self::Signed16 => (-32_767.0, 32_767.0),
            Self::Unsigned16 => (0.0, 65_534.0),
            Self::Float32 | Self::Unsigned8 => (0.0, 254.0),
        }
    }

    /// The number a value is stored as; `None` is void.
    pub(super) fn stored(self, value: f32, band: &Band) -> Result<Option<f64>, GeoTiffError> {
        if value.is_nan() {
            return Ok(None);
        }
        let number = if band.is_scaled() {
            (f64::from(value) - band.offset) / band.scale
        } else {
            f64::from(value)
        };
        if self == Self::Float32 {
            return Ok(Some(number));
        }
        let whole = number.round();
        let (least, greatest) = self.whole_range();
        if (least..=greatest).contains(&whole) {
            return Ok(Some(whole));
        }
        Err(GeoTiffError::OutOfRange { value, cells: self })
    }

    /// The bytes of a stored number, as many as [`Self::bytes`] says.
    fn put(self, stored: Option<f64>, to: &mut Vec<u8>) {
        match self {
            Self::Float32 => {
                // One NaN of the many there are, so that bytes repeat.
                let value = stored.map_or(f32::NAN, |v| v as f32);
                to.extend(value.to_le_bytes());
            }
            Self::Signed16 => to.extend(stored.map_or(i16::MIN, |v| v as i16).to_le_bytes()),
            Self::Unsigned16 => to.extend(stored.map_or(u16::MAX, |v| v as u16).to_le_bytes()),
            Self::Unsigned8 => to.push(stored.map_or(u8::MAX, |v| v as u8)),
        }
    }
}

/// What a tile's cells are and how many.
pub(super) struct TileShape<'a> {
    pub(super) cells: CellType,
    pub(super) bands: &'a [Band],
    pub(super) side: usize,
}

/// A strip of whole rows, one vector of values a band.
pub(super) struct Strip<'a> {
    pub(super) bands: &'a [Vec<f32>],
    pub(super) width: usize,
    pub(super) rows: usize,
}

/// The compressed bytes of the tile whose first column is `left`; beyond the
/// raster's border it is void.
pub(super) fn compressed(
    shape: &TileShape<'_>,
    strip: &Strip<'_>,
    left: usize,
) -> Result<Vec<u8>, GeoTiffError> {
    let row_bytes = shape.side * shape.bands.len() * shape.cells.bytes();
    let mut bytes = Vec::with_capacity(row_bytes * shape.side);
    let mut line = Vec::with_capacity(row_bytes);
    for row in 0..shape.side {
        line.clear();
        for col in left..left + shape.side {
            let is_inside = row < strip.rows && col < strip.width;
            for (band, values) in shape.bands.iter().zip(strip.bands) {
                let value = if is_inside {
                    values[row * strip.width + col]
                } else {
                    f32::NAN
                };
                shape.cells.put(shape.cells.stored(value, band)?, &mut line);
            }
        }
        predict(shape.cells, shape.bands.len(), &mut line);
        bytes.extend_from_slice(&line);
    }
    Ok(deflate(&bytes)?)
}

fn deflate(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::new(6));
    encoder.write_all(bytes)?;
    encoder.finish()
}

/// Replaces a row's samples by differences from the pixel to the left.
///
/// Source: TIFF 6.0, section 14, for whole numbers; Adobe Photoshop TIFF
/// Technical Note 3 (2005) for floats: the bytes of a row are sorted by
/// weight, the heaviest first, and then differenced as bytes.
fn predict(cells: CellType, bands: usize, line: &mut Vec<u8>) {
    match cells {
        CellType::Unsigned8 => difference_bytes(line, bands),
        CellType::Signed16 | CellType::Unsigned16 => {
            for at in (bands..line.len() / 2).rev() {
                let sample = |i: usize| u16::from_le_bytes([line[2 * i], line[2 * i + 1]]);
                let difference = sample(at).wrapping_sub(sample(at - bands));
                line[2 * at..2 * at + 2].copy_from_slice(&difference.to_le_bytes());
            }
        }
        CellType::Float32 => {
            let (floats, _) = line.as_chunks::<4>();
            let sorted = (0..4)
                .rev()
                .flat_map(|byte| floats.iter().map(move |f| f[byte]));
            *line = sorted.collect();
            difference_bytes(line, bands);
        }
    }
}

fn difference_bytes(line: &mut [u8], stride: usize) {
    for at in (stride..line.len()).rev() {
        line[at] = line[at].wrapping_sub(line[at - stride]);
    }
}
