//! The full-resolution image and its overviews, filled in one pass from top
//! to bottom. Each level keeps one row of tiles; when that is full it is
//! compressed and handed down at half the size.

use std::io::{self, Read, Seek, SeekFrom, Write};

use tempfile::SpooledTempFile;

use super::metadata::Statistics;
use super::tile::{self, Strip, TileShape};
use super::{GeoTiffError, Overviews, RasterDescription};

/// Compressed bytes of one level that stay in memory.
const IN_MEMORY_BYTES: usize = 64 << 20;

/// One image of the file, compressed.
pub(super) struct Level {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Bytes of each tile, row by row.
    pub(super) tile_bytes: Vec<u32>,
    spool: SpooledTempFile,
    /// The rows that wait, one vector a band.
    strip: Vec<Vec<f32>>,
    waiting: usize,
    /// Rows compressed.
    done: usize,
}

impl Level {
    fn new(width: usize, height: usize, bands: usize) -> Self {
        Self {
            width,
            height,
            tile_bytes: Vec::new(),
            spool: SpooledTempFile::new(IN_MEMORY_BYTES),
            strip: vec![Vec::new(); bands],
            waiting: 0,
            done: 0,
        }
    }

    /// Hands every tile's bytes to `each`, in order.
    pub(super) fn for_each_tile(
        &mut self,
        mut each: impl FnMut(&[u8]) -> io::Result<()>,
    ) -> io::Result<()> {
        self.spool.seek(SeekFrom::Start(0))?;
        let mut bytes = Vec::new();
        for count in &self.tile_bytes {
            bytes.resize(*count as usize, 0);
            self.spool.read_exact(&mut bytes)?;
            each(&bytes)?;
        }
        Ok(())
    }
}

/// What came out of a pass over the cells.
pub(super) struct Compressed {
    /// Full resolution first, each next one half the size.
    pub(super) levels: Vec<Level>,
    /// One a band.
    pub(super) statistics: Vec<Statistics>,
}

pub(super) struct Pyramid<'a> {
    description: &'a RasterDescription,
    levels: Vec<Level>,
    statistics: Vec<Statistics>,
}

impl<'a> Pyramid<'a> {
    pub(super) fn new(description: &'a RasterDescription) -> Self {
        let bands = description.bands.len();
        let side = description.tile.cells();
        let (mut width, mut height) = (description.width, description.height);
        let mut levels = vec![Level::new(width, height, bands)];
        while width > side || height > side {
            (width, height) = (width.div_ceil(2), height.div_ceil(2));
            levels.push(Level::new(width, height, bands));
        }
        Self {
            description,
            levels,
            statistics: vec![Statistics::NONE; bands],
        }
    }

    /// Adds a whole row of tiles, or what is left of the raster.
    pub(super) fn add_rows(
        &mut self,
        count: usize,
        mut fill: impl FnMut(usize, &mut [f32]) -> io::Result<()>,
    ) -> Result<(), GeoTiffError> {
        let level = &mut self.levels[0];
        for (band, strip) in level.strip.iter_mut().enumerate() {
            strip.resize(count * level.width, f32::NAN);
            fill(band, strip)?;
            let statistics = &mut self.statistics[band];
            for value in strip.iter() {
                let kept = &self.description.bands[band];
                statistics.add(self.description.cells.stored(*value, kept)?);
            }
        }
        level.waiting = count;
        flush(self.description, &mut self.levels)
    }

    pub(super) fn finish(self) -> Result<Compressed, GeoTiffError> {
        Ok(Compressed {
            levels: self.levels,
            statistics: self.statistics,
        })
    }
}

/// Compresses the rows that wait in the first level and hands them down.
fn flush(description: &RasterDescription, levels: &mut [Level]) -> Result<(), GeoTiffError> {
    let Some((level, smaller)) = levels.split_first_mut() else {
        return Ok(());
    };
    let shape = TileShape {
        cells: description.cells,
        bands: &description.bands,
        side: description.tile.cells(),
    };
    let strip = Strip {
        bands: &level.strip,
        width: level.width,
        rows: level.waiting,
    };
    for left in (0..level.width).step_by(shape.side) {
        let bytes = tile::compressed(&shape, &strip, left)?;
        level.spool.write_all(&bytes)?;
        // A tile has at most 512 · 512 · 4 · 1000 bytes.
        level.tile_bytes.push(bytes.len() as u32);
    }
    level.done += level.waiting;
    if let Some(next) = smaller.first_mut() {
        for (from, to) in strip.bands.iter().zip(&mut next.strip) {
            halve(from, level.width, description.overviews, to);
        }
        next.waiting += level.waiting.div_ceil(2);
        if next.waiting == shape.side || next.done + next.waiting == next.height {
            flush(description, smaller)?;
        }
    }
    level.waiting = 0;
    level.strip.iter_mut().for_each(Vec::clear);
    Ok(())
}

/// Appends the rows of `from` at half the size.
fn halve(from: &[f32], width: usize, overviews: Overviews, to: &mut Vec<f32>) {
    for pair in from.chunks(2 * width) {
        let (upper, lower) = pair.split_at(width);
        for left in (0..width).step_by(2) {
            let past = width.min(left + 2);
            to.push(match overviews {
                Overviews::Nearest => upper[left],
                // The last row of an odd count stands alone.
                Overviews::Average if lower.is_empty() => mean(&upper[left..past], &[]),
                Overviews::Average => mean(&upper[left..past], &lower[left..past]),
            });
        }
    }
}

/// The mean of the values that are not void; NaN if there is none.
fn mean(upper: &[f32], lower: &[f32]) -> f32 {
    let valid = upper.iter().chain(lower).filter(|v| !v.is_nan());
    let (sum, count) = valid.fold((0.0, 0), |(s, n), v| (s + f64::from(*v), n + 1));
    (sum / f64::from(count)) as f32
}
