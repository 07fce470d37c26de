//! Blocks of pixels: strips and tiles, decoded row by row.
//!
//! Source: Adobe, "TIFF revision 6.0" (strips, tiles, LZW, PackBits,
//! differencing) and "TIFF Technical Note 3" (floating-point predictor).

use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;

use raster::CellWindow;
use weezl::{BitOrder, LzwStatus};

use super::directory::Directories;
use super::layout::{Compression, Layout, Predictor};
use crate::ground::error::GroundError;
use crate::ground::{PixelType, ReadSeek};

/// What a block has for the window.
pub(super) enum Samples<'a> {
    /// Part of a row.
    Row(RowSamples<'a>),
    /// The whole block is absent from the file.
    Absent,
}

/// Where in the window the samples go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Target {
    pub(super) col: usize,
    pub(super) row: usize,
}

/// One stored number.
#[derive(Debug, Clone, Copy)]
pub(super) enum Sample {
    F32(f32),
    F64(f64),
}

impl Sample {
    pub(super) fn is_zero(self) -> bool {
        match self {
            Self::F32(v) => v == 0.0,
            Self::F64(v) => v == 0.0,
        }
    }
}

/// What is wanted of an image.
#[derive(Clone, Copy)]
pub(super) struct Request<'a> {
    pub(super) layout: &'a Layout,
    pub(super) band: usize,
    pub(super) window: CellWindow,
}

/// Calls `use_row` with every row of every block that the window touches.
pub(super) fn visit(
    tags: &mut Directories,
    request: Request<'_>,
    path: &Path,
    mut use_row: impl FnMut(Target, Samples<'_>),
) -> Result<(), GroundError> {
    let Request {
        layout,
        band,
        window,
    } = request;
    let (bw, bh) = (layout.block_width, layout.block_height);
    let last_col = (window.col + window.width - 1) / bw;
    let last_row = (window.row + window.height - 1) / bh;
    for block_row in window.row / bh..=last_row {
        for block_col in window.col / bw..=last_col {
            let block = CellWindow {
                col: block_col * bw,
                row: block_row * bh,
                width: bw,
                height: bh,
            };
            // The loops stay within the window, so the parts overlap.
            let Some(part) = block.intersect(window) else {
                continue;
            };
            let reach = Reach {
                layout,
                band,
                block,
                part,
                window,
            };
            reach.read(tags, path, &mut use_row)?;
        }
    }
    Ok(())
}

/// The part of one block that one window wants.
struct Reach<'a> {
    layout: &'a Layout,
    band: usize,
    block: CellWindow,
    part: CellWindow,
    window: CellWindow,
}

impl Reach<'_> {
    fn read(
        &self,
        tags: &mut Directories,
        path: &Path,
        use_row: &mut impl FnMut(Target, Samples<'_>),
    ) -> Result<(), GroundError> {
        let layout = self.layout;
        let (index, block_row) = self.index();
        let (offsets, counts) = layout.tables();
        let count = tags.number_at(layout.directory, counts, index, path)?;
        if count == 0 {
            use_row(self.target(self.part.row), Samples::Absent);
            return Ok(());
        }
        let offset = tags.number_at(layout.directory, offsets, index, path)?;
        if offset
            .checked_add(count)
            .is_none_or(|end| end > tags.length)
        {
            let what = format!("block {index} is said to end behind the end of the file");
            return Err(GroundError::truncated(path, what));
        }
        let rows = layout.block_rows(block_row);
        let mut row = vec![0; layout.row_bytes()];
        let damaged = |e: io::Error| GroundError::corrupt(path, format!("block {index}: {e}"));
        let big_endian = tags.big_endian;
        let (first, past) = (
            self.part.row - self.block.row,
            self.part.row + self.part.height - self.block.row,
        );
        // Uncompressed rows are fetched alone; anything else is decoded to
        // its end, which also checks it.
        let (skip, stop) = match layout.compression {
            Compression::None => (first, past.min(rows)),
            _ => (0, rows),
        };
        let skip_bytes = (skip * row.len()) as u64;
        let bytes = tags.bytes_at(offset + skip_bytes).map_err(damaged)?;
        let mut decoder = decoder(layout.compression, bytes, count.saturating_sub(skip_bytes))
            .map_err(damaged)?;
        let mut work = vec![
            0;
            if layout.predictor == Predictor::Float {
                row.len()
            } else {
                0
            }
        ];
        for i in skip..stop {
            decoder.read_exact(&mut row).map_err(damaged)?;
            if !(first..past).contains(&i) {
                continue;
            }
            let native_big = undo_prediction(layout, &mut row, &mut work, big_endian);
            let samples = RowSamples {
                bytes: &row,
                pixel: layout.pixel,
                big_endian: native_big,
                first: (self.part.col - self.block.col) * layout.interleaved()
                    + self.first_sample(),
                step: layout.interleaved(),
                count: self.part.width,
            };
            use_row(self.target(self.block.row + i), Samples::Row(samples));
        }
        // The checksum of a deflate stream stands behind the last row.
        if layout.compression != Compression::None {
            decoder.read(&mut [0]).map_err(damaged)?;
        }
        Ok(())
    }

    /// The block's number in the tables, and its row among the blocks.
    fn index(&self) -> (u64, usize) {
        let layout = self.layout;
        let block_row = self.block.row / layout.block_height;
        let block_col = self.block.col / layout.block_width;
        let in_plane = block_row as u64 * layout.blocks_across() as u64 + block_col as u64;
        let plane = layout.blocks_across() as u64 * layout.blocks_down() as u64;
        let index = if layout.planar {
            self.band as u64 * plane + in_plane
        } else {
            in_plane
        };
        (index, block_row)
    }

    fn first_sample(&self) -> usize {
        if self.layout.planar { 0 } else { self.band }
    }

    fn target(&self, row: usize) -> Target {
        Target {
            col: self.part.col - self.window.col,
            row: row - self.window.row,
        }
    }
}

/// The samples of one band in part of a row.
pub(super) struct RowSamples<'a> {
    bytes: &'a [u8],
    pixel: PixelType,
    big_endian: bool,
    /// First sample and step from one to the next, in samples.
    first: usize,
    step: usize,
    count: usize,
}

impl<'a> RowSamples<'a> {
    /// The numbers as stored.
    pub(super) fn iter(&self) -> Box<dyn Iterator<Item = Sample> + 'a> {
        let big = self.big_endian;
        match self.pixel {
            PixelType::Unsigned(8) => self.map(|[b]: [u8; 1]| Sample::F64(b.into())),
            PixelType::Signed(8) => self.map(|[b]: [u8; 1]| Sample::F64((b as i8).into())),
            PixelType::Unsigned(16) => self.map(move |b| {
                Sample::F64(order(u16::from_be_bytes(b), u16::swap_bytes, big).into())
            }),
            PixelType::Signed(16) => self.map(move |b| {
                Sample::F64(order(i16::from_be_bytes(b), i16::swap_bytes, big).into())
            }),
            PixelType::Unsigned(32) => self.map(move |b| {
                Sample::F64(order(u32::from_be_bytes(b), u32::swap_bytes, big).into())
            }),
            PixelType::Signed(32) => self.map(move |b| {
                Sample::F64(order(i32::from_be_bytes(b), i32::swap_bytes, big).into())
            }),
            PixelType::Unsigned(64) => self.map(move |b| {
                Sample::F64(order(u64::from_be_bytes(b), u64::swap_bytes, big) as f64)
            }),
            PixelType::Signed(64) => self.map(move |b| {
                Sample::F64(order(i64::from_be_bytes(b), i64::swap_bytes, big) as f64)
            }),
            PixelType::Float(32) => self.map(move |b| {
                Sample::F32(f32::from_bits(order(
                    u32::from_be_bytes(b),
                    u32::swap_bytes,
                    big,
                )))
            }),
            PixelType::Float(_) => self.map(move |b| {
                Sample::F64(f64::from_bits(order(
                    u64::from_be_bytes(b),
                    u64::swap_bytes,
                    big,
                )))
            }),
            PixelType::Unsigned(bits) => self.packed(bits.into()),
            PixelType::Signed(_) | PixelType::Text => Box::new(std::iter::empty()),
        }
    }

    fn map<const N: usize>(
        &self,
        number: impl Fn([u8; N]) -> Sample + 'a,
    ) -> Box<dyn Iterator<Item = Sample> + 'a> {
        let (samples, _) = self.bytes.as_chunks::<N>();
        let wanted = samples.get(self.first..).unwrap_or(&[]);
        let wanted = wanted.iter().step_by(self.step).take(self.count);
        Box::new(wanted.map(move |bytes| number(*bytes)))
    }

    /// Samples of 1, 2 or 4 bits, the first in the highest bits.
    fn packed(&self, bits: usize) -> Box<dyn Iterator<Item = Sample> + 'a> {
        let (bytes, first, step) = (self.bytes, self.first, self.step);
        Box::new((0..self.count).map(move |i| {
            let bit = (first + i * step) * bits;
            let byte = bytes.get(bit / 8).copied().unwrap_or(0);
            let value = (byte >> (8 - bits - bit % 8)) & ((1 << bits) - 1);
            Sample::F64(value.into())
        }))
    }
}

fn order<T>(big: T, swap: impl Fn(T) -> T, is_big: bool) -> T {
    if is_big { big } else { swap(big) }
}

/// Brings a row back to plain samples; says whether they are big-endian then.
fn undo_prediction(layout: &Layout, row: &mut [u8], work: &mut [u8], big_endian: bool) -> bool {
    let stride = layout.interleaved();
    match (layout.predictor, layout.bits) {
        (Predictor::None, _) => big_endian,
        (Predictor::Horizontal, 16) => accumulate::<2>(row, stride, big_endian),
        (Predictor::Horizontal, 32) => accumulate::<4>(row, stride, big_endian),
        (Predictor::Horizontal, 64) => accumulate::<8>(row, stride, big_endian),
        (Predictor::Horizontal, _) => accumulate::<1>(row, stride, big_endian),
        (Predictor::Float, bits) => {
            accumulate::<1>(row, stride, big_endian);
            let (size, count) = (bits / 8, row.len() / (bits / 8));
            work.copy_from_slice(row);
            for (i, sample) in row.chunks_exact_mut(size).enumerate() {
                for (weight, byte) in sample.iter_mut().enumerate() {
                    *byte = work[weight * count + i];
                }
            }
            true
        }
    }
}

/// Adds to every sample of `N` bytes the one `stride` samples before it.
fn accumulate<const N: usize>(row: &mut [u8], stride: usize, big_endian: bool) -> bool {
    let (samples, _) = row.as_chunks_mut::<N>();
    let number = |bytes: [u8; N]| {
        let fold = |acc: u64, b: &u8| acc << 8 | u64::from(*b);
        if big_endian {
            bytes.iter().fold(0, fold)
        } else {
            bytes.iter().rev().fold(0, fold)
        }
    };
    for i in stride..samples.len() {
        let sum = number(samples[i - stride]).wrapping_add(number(samples[i]));
        for (weight, byte) in samples[i].iter_mut().enumerate() {
            let weight = if big_endian { N - 1 - weight } else { weight };
            *byte = (sum >> (8 * weight)) as u8;
        }
    }
    big_endian
}

/// The plain bytes of a block of `count` stored bytes.
fn decoder<'a>(
    compression: Compression,
    bytes: &'a mut (dyn ReadSeek + 'static),
    count: u64,
) -> io::Result<Box<dyn Read + 'a>> {
    let bytes = bytes.take(count);
    Ok(match compression {
        Compression::None => Box::new(bytes),
        Compression::Deflate => Box::new(flate2::read::ZlibDecoder::new(bytes)),
        Compression::Zstd => Box::new(zstd::stream::read::Decoder::new(bytes)?),
        Compression::Lzw => Box::new(LzwReader::new(bytes)),
        Compression::PackBits => Box::new(PackBitsReader::new(bytes)),
    })
}

/// LZW as TIFF writes it.
struct LzwReader<R> {
    input: BufReader<R>,
    decoder: weezl::decode::Decoder,
    ended: bool,
}

impl<R: Read> LzwReader<R> {
    fn new(input: R) -> Self {
        Self {
            input: BufReader::new(input),
            decoder: weezl::decode::Decoder::with_tiff_size_switch(BitOrder::Msb, 8),
            ended: false,
        }
    }
}

impl<R: Read> Read for LzwReader<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while !self.ended && !buffer.is_empty() {
            let input = self.input.fill_buf()?;
            let at_end = input.is_empty();
            let step = self.decoder.decode_bytes(input, buffer);
            self.input.consume(step.consumed_in);
            match step.status {
                Ok(LzwStatus::Ok) => {}
                Ok(LzwStatus::Done) => self.ended = true,
                Ok(LzwStatus::NoProgress) => self.ended = at_end || step.consumed_in == 0,
                Err(e) => return Err(io::Error::new(io::ErrorKind::InvalidData, e)),
            }
            if step.consumed_out > 0 {
                return Ok(step.consumed_out);
            }
            self.ended |= at_end;
        }
        Ok(0)
    }
}

/// Byte runs: a count, then that many bytes or one byte to repeat.
struct PackBitsReader<R> {
    input: BufReader<R>,
    left: usize,
    repeated: Option<u8>,
}

impl<R: Read> PackBitsReader<R> {
    fn new(input: R) -> Self {
        Self {
            input: BufReader::new(input),
            left: 0,
            repeated: None,
        }
    }

    fn byte(&mut self) -> io::Result<Option<u8>> {
        let byte = self.input.fill_buf()?.first().copied();
        self.input.consume(usize::from(byte.is_some()));
        Ok(byte)
    }

    /// Starts the next run; false at the end.
    fn start_run(&mut self) -> io::Result<bool> {
        while self.left == 0 {
            let Some(count) = self.byte()? else {
                return Ok(false);
            };
            let count = count as i8;
            if count >= 0 {
                (self.left, self.repeated) = (count as usize + 1, None);
            } else if count != i8::MIN {
                let Some(byte) = self.byte()? else {
                    return Ok(false);
                };
                (self.left, self.repeated) = (usize::from(count.unsigned_abs()) + 1, Some(byte));
            }
        }
        Ok(true)
    }
}

impl<R: Read> Read for PackBitsReader<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if buffer.is_empty() || !self.start_run()? {
            return Ok(0);
        }
        let most = self.left.min(buffer.len());
        let read = match self.repeated {
            Some(byte) => {
                buffer[..most].fill(byte);
                most
            }
            None => self.input.read(&mut buffer[..most])?,
        };
        self.left -= read;
        Ok(read)
    }
}
