//! The bytes of an entry: a header with a table of blocks, then the blocks.
//!
//! Little-endian: 8 bytes of magic; width, height, layers as 32 bits each; the
//! entry's name; for every layer and block its length in 32 bits and the first
//! 16 bytes of its BLAKE3 digest; the digest of all that, 32 bytes. A
//! block holds 256 × 256 cells: differences of neighbours' bit patterns, their
//! bytes sorted by weight, under Zstandard.

use std::io::{self, Read};

use pipeline::engine::coverage::{CellWindow, ShelfName};

const MAGIC: &[u8; 8] = b"MWLAYER1";
const SIDE: usize = 256;
const DIGEST: usize = 16;
/// Beyond these a header is no header.
const MOST_ACROSS: usize = 1 << 20;
const MOST_LAYERS: usize = 256;
/// The quickest: what is kept is read more often than it is carried around.
const LEVEL: i32 = 1;

/// What an entry holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Header {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) layers: usize,
}

/// Where a block lies in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Block {
    pub(super) offset: u64,
    pub(super) length: usize,
    digest: [u8; DIGEST],
}

impl Block {
    /// Whether bytes are those that were written.
    pub(super) fn is_of(&self, bytes: &[u8]) -> bool {
        digest(bytes) == self.digest
    }
}

/// A block ready to be written.
#[derive(Debug)]
pub(super) struct Packed {
    pub(super) bytes: Vec<u8>,
    digest: [u8; DIGEST],
}

fn digest(bytes: &[u8]) -> [u8; DIGEST] {
    let whole = blake3::hash(bytes);
    std::array::from_fn(|i| whole.as_bytes()[i])
}

/// The blocks of a layer, row by row.
pub(super) fn blocks_of(width: usize, height: usize) -> Vec<CellWindow> {
    let cut = |count: usize| {
        let starts = (0..count).step_by(SIDE);
        starts.map(move |start| (start, SIDE.min(count - start)))
    };
    let row = |(row, height)| {
        cut(width).map(move |(col, width)| CellWindow {
            col,
            row,
            width,
            height,
        })
    };
    cut(height).flat_map(row).collect()
}

impl Header {
    /// Reads a header; `None` where it is not one of this name in order.
    pub(super) fn read(
        from: &mut impl Read,
        file_length: u64,
        name: &ShelfName,
    ) -> Option<(Self, Vec<Block>)> {
        const FIXED: usize = 8 + 3 * 4 + 32;
        let mut bytes = vec![0; FIXED];
        from.read_exact(&mut bytes).ok()?;
        let number = |at: usize| {
            let bytes = bytes.get(at..at + 4)?.try_into().ok()?;
            Some(u32::from_le_bytes(bytes) as usize)
        };
        let header = Self {
            width: number(8)?,
            height: number(12)?,
            layers: number(16)?,
        };
        let is_size = header.width <= MOST_ACROSS
            && header.height <= MOST_ACROSS
            && header.layers <= MOST_LAYERS;
        if !(bytes.starts_with(MAGIC) && is_size && bytes[20..] == name.bytes()[..]) {
            return None;
        }
        let blocks = header.width.div_ceil(SIDE) * header.height.div_ceil(SIDE);
        let table_length = blocks * header.layers * (4 + DIGEST);
        if (FIXED + table_length + 32) as u64 > file_length {
            return None;
        }
        bytes.resize(FIXED + table_length, 0);
        from.read_exact(&mut bytes[FIXED..]).ok()?;
        let mut told = [0; 32];
        from.read_exact(&mut told).ok()?;
        if blake3::hash(&bytes) != blake3::Hash::from_bytes(told) {
            return None;
        }
        let mut offset = (bytes.len() + told.len()) as u64;
        let rows = bytes[FIXED..].chunks_exact(4 + DIGEST);
        let table = rows.map(|row| {
            let (length, digest) = row.split_at(4);
            let length = u32::from_le_bytes(length.try_into().ok()?) as usize;
            let block = Block {
                offset,
                length,
                digest: digest.try_into().ok()?,
            };
            offset += length as u64;
            Some(block)
        });
        let table = table.collect::<Option<Vec<_>>>()?;
        (offset == file_length).then_some((header, table))
    }
}

/// The bytes before the blocks.
pub(super) fn assembled(header: &Header, name: &ShelfName, blocks: &[Packed]) -> Vec<u8> {
    let mut bytes = MAGIC.to_vec();
    for number in [header.width, header.height, header.layers] {
        bytes.extend((number as u32).to_le_bytes());
    }
    bytes.extend(name.bytes());
    for block in blocks {
        bytes.extend((block.bytes.len() as u32).to_le_bytes());
        bytes.extend(block.digest);
    }
    let digest = blake3::hash(&bytes);
    bytes.extend(digest.as_bytes());
    bytes
}

/// Packs the cells of a layer that a block has.
pub(super) fn packed(layer: &[f32], width: usize, block: &CellWindow) -> io::Result<Packed> {
    let count = block.width * block.height;
    let mut planes = vec![0; 4 * count];
    let mut last = 0_u32;
    let rows = (block.row..block.row + block.height).map(|row| row * width + block.col);
    let cells = rows.flat_map(|start| &layer[start..start + block.width]);
    for (i, cell) in cells.enumerate() {
        let bits = cell.to_bits();
        let step = bits.wrapping_sub(last).to_le_bytes();
        last = bits;
        for (plane, byte) in step.into_iter().enumerate() {
            planes[plane * count + i] = byte;
        }
    }
    let bytes = zstd::bulk::compress(&planes, LEVEL)?;
    Ok(Packed {
        digest: digest(&bytes),
        bytes,
    })
}

/// The cells of a block, row by row.
pub(super) fn unpacked(bytes: &[u8], block: &CellWindow) -> Option<Vec<f32>> {
    let count = block.width * block.height;
    let planes = zstd::bulk::decompress(bytes, 4 * count).ok()?;
    if planes.len() != 4 * count {
        return None;
    }
    let mut last = 0_u32;
    let cells = (0..count).map(|i| {
        let step = std::array::from_fn(|plane| planes[plane * count + i]);
        last = last.wrapping_add(u32::from_le_bytes(step));
        f32::from_bits(last)
    });
    Some(cells.collect())
}
