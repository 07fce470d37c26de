//! How the pixels of one image are laid out in the file.

use std::path::Path;

use tiff::tags::Tag;

use super::directory::Directories;
use crate::ground::PixelType;
use crate::ground::error::GroundError;

/// How a block is compressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Compression {
    None,
    Lzw,
    Deflate,
    PackBits,
    Zstd,
}

/// What was subtracted before compression.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Predictor {
    None,
    /// Differences between neighbouring samples of a row.
    Horizontal,
    /// Differences between the bytes of a row of floats, sorted by weight.
    Float,
}

/// One image of the file.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub(super) directory: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Samples of a pixel: bands.
    pub(super) samples: usize,
    pub(super) pixel: PixelType,
    pub(super) bits: usize,
    pub(super) compression: Compression,
    pub(super) predictor: Predictor,
    /// Bands one after the other, not pixel by pixel.
    pub(super) planar: bool,
    pub(super) block_width: usize,
    pub(super) block_height: usize,
    pub(super) tiled: bool,
}

impl Layout {
    pub(super) fn read(
        tags: &mut Directories,
        directory: usize,
        path: &Path,
    ) -> Result<Self, GroundError> {
        let mut number = |tag, default: Option<u64>| {
            let value = tags.number(directory, tag, path)?.or(default);
            value
                .ok_or_else(|| GroundError::corrupt(path, format!("it lacks tag {}", tag.to_u16())))
        };
        let width = dimension(number(Tag::ImageWidth, None)?, path)?;
        let height = dimension(number(Tag::ImageLength, None)?, path)?;
        let samples = dimension(number(Tag::SamplesPerPixel, Some(1))?, path)?;
        let compression = compression(number(Tag::Compression, Some(1))?, path)?;
        let predictor = match number(Tag::Predictor, Some(1))? {
            1 => Predictor::None,
            2 => Predictor::Horizontal,
            3 => Predictor::Float,
            other => return Err(unsupported(path, format!("predictor {other}"))),
        };
        let planar = match number(Tag::PlanarConfiguration, Some(1))? {
            1 => false,
            2 => true,
            other => return Err(unsupported(path, format!("planar configuration {other}"))),
        };
        if number(Tag::FillOrder, Some(1))? != 1 {
            return Err(unsupported(path, "reversed bit order".into()));
        }
        let tiled = number(Tag::TileWidth, Some(0))? != 0;
        let (block_width, block_height) = if tiled {
            let tile_height = number(Tag::TileLength, None)?;
            (
                dimension(number(Tag::TileWidth, None)?, path)?,
                dimension(tile_height, path)?,
            )
        } else {
            let rows = number(Tag::RowsPerStrip, Some(height as u64))?;
            (width, dimension(rows.min(height as u64), path)?)
        };
        let (pixel, bits) = pixel_type(tags, directory, samples, path)?;
        let layout = Self {
            directory,
            width,
            height,
            samples,
            pixel,
            bits,
            compression,
            // Without compression there is nothing to predict for.
            predictor: if compression == Compression::None {
                Predictor::None
            } else {
                predictor
            },
            planar,
            block_width,
            block_height,
            tiled,
        };
        layout.check(tags, path)?;
        Ok(layout)
    }

    /// Refuses what the decoder of blocks could not hold or make sense of.
    fn check(&self, tags: &Directories, path: &Path) -> Result<(), GroundError> {
        let float = matches!(self.pixel, PixelType::Float(_));
        match self.predictor {
            Predictor::Horizontal if self.bits < 8 => {
                return Err(unsupported(path, "predictor 2 on less than 8 bits".into()));
            }
            Predictor::Float if !float => {
                return Err(GroundError::corrupt(path, "predictor 3 on integers"));
            }
            _ => {}
        }
        if self.row_bytes() > MAX_ROW_BYTES {
            let what = format!("a row of a block has {} bytes", self.row_bytes());
            return Err(GroundError::corrupt(path, what));
        }
        let planes = if self.planar { self.samples as u64 } else { 1 };
        let needed = (self.blocks_across() as u64)
            .checked_mul(self.blocks_down() as u64)
            .and_then(|n| n.checked_mul(planes));
        let (offsets, counts) = self.tables();
        for tag in [offsets, counts] {
            let there = tags.count(self.directory, tag);
            if needed.is_none_or(|needed| there < needed) {
                let what = format!("tag {} lists {there} blocks, too few", tag.to_u16());
                return Err(GroundError::corrupt(path, what));
            }
        }
        Ok(())
    }

    /// The tags of block offsets and block sizes.
    pub(super) fn tables(&self) -> (Tag, Tag) {
        if self.tiled {
            (Tag::TileOffsets, Tag::TileByteCounts)
        } else {
            (Tag::StripOffsets, Tag::StripByteCounts)
        }
    }

    pub(super) fn blocks_across(&self) -> usize {
        self.width.div_ceil(self.block_width)
    }

    pub(super) fn blocks_down(&self) -> usize {
        self.height.div_ceil(self.block_height)
    }

    /// Samples that stand side by side in a block.
    pub(super) fn interleaved(&self) -> usize {
        if self.planar { 1 } else { self.samples }
    }

    /// Bytes of one row of a block.
    pub(super) fn row_bytes(&self) -> usize {
        let samples = self.block_width.saturating_mul(self.interleaved());
        samples.saturating_mul(self.bits).div_ceil(8)
    }

    /// Rows that a block really has: the last strip may be short, tiles are
    /// padded.
    pub(super) fn block_rows(&self, block_row: usize) -> usize {
        if self.tiled {
            self.block_height
        } else {
            self.block_height
                .min(self.height - block_row * self.block_height)
        }
    }
}

/// More than any real row of any real block.
const MAX_ROW_BYTES: usize = 1 << 28;

fn dimension(value: u64, path: &Path) -> Result<usize, GroundError> {
    match usize::try_from(value) {
        Ok(value) if value > 0 && value < 1 << 31 => Ok(value),
        _ => Err(GroundError::corrupt(
            path,
            format!("a dimension is {value}"),
        )),
    }
}

fn unsupported(path: &Path, what: String) -> GroundError {
    let hint = "export it again as a plain GeoTIFF with deflate compression";
    GroundError::unsupported(path, what, hint)
}

fn compression(code: u64, path: &Path) -> Result<Compression, GroundError> {
    let name = match code {
        1 => return Ok(Compression::None),
        5 => return Ok(Compression::Lzw),
        8 | 32_946 => return Ok(Compression::Deflate),
        32_773 => return Ok(Compression::PackBits),
        50_000 => return Ok(Compression::Zstd),
        6 | 7 => "JPEG",
        34_887 => "LERC",
        34_925 => "LZMA",
        50_001 => "WebP",
        50_002 => "JPEG XL",
        _ => "unknown",
    };
    Err(unsupported(
        path,
        format!("compression {name} (tag value {code})"),
    ))
}

fn pixel_type(
    tags: &mut Directories,
    directory: usize,
    samples: usize,
    path: &Path,
) -> Result<(PixelType, usize), GroundError> {
    let same = |values: Vec<u64>, default: u64| match values.split_first() {
        None => Some(default),
        Some((first, rest)) => {
            let all_same = rest.iter().take(samples).all(|v| v == first);
            all_same.then_some(*first)
        }
    };
    let bits = same(tags.numbers(directory, Tag::BitsPerSample, path)?, 1);
    let format = same(tags.numbers(directory, Tag::SampleFormat, path)?, 1);
    let pixel = match (format, bits) {
        (Some(1 | 4), Some(bits @ (1 | 2 | 4 | 8 | 16 | 32 | 64))) => {
            PixelType::Unsigned(bits as u8)
        }
        (Some(2), Some(bits @ (8 | 16 | 32 | 64))) => PixelType::Signed(bits as u8),
        (Some(3), Some(bits @ (32 | 64))) => PixelType::Float(bits as u8),
        (Some(format), Some(bits)) => {
            return Err(unsupported(
                path,
                format!("{bits} bits of sample format {format}"),
            ));
        }
        _ => return Err(unsupported(path, "bands of different types".into())),
    };
    Ok((pixel, bits.unwrap_or(1) as usize))
}
