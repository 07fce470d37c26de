//! The whole file in its order: header, structural header, directories from
//! the full resolution down, tiles from the smallest overview up.

use std::io::{self, Write};

use tiff::tags::Tag;

use super::directory::{Directory, Values, Width, serialise};
use super::metadata::{self, Placement, Statistics};
use super::pyramid::{Compressed, Level};
use super::{CellType, GeoTiffError, RasterDescription};

/// What a reader over a network may rely on. Each tile is led by its length
/// and followed by its last four bytes once more.
const STRUCTURE: &str = "LAYOUT=IFDS_BEFORE_DATA\nBLOCK_ORDER=ROW_MAJOR\nBLOCK_LEADER=SIZE_AS_UINT4\nBLOCK_TRAILER=LAST_4_BYTES_REPEATED\nKNOWN_INCOMPATIBLE_EDITION=NO\n ";

const LEADER_BYTES: u64 = 4;
const TRAILER_BYTES: u64 = 4;

/// A plain TIFF counts its bytes in 32 bits.
const MOST_CLASSIC_BYTES: u64 = u32::MAX as u64;

/// Writes the file.
pub(super) fn assemble(
    description: &RasterDescription,
    keys: &[u16],
    mut compressed: Compressed,
    to: &mut impl Write,
) -> Result<(), GeoTiffError> {
    let head = Head {
        description,
        keys,
        statistics: &compressed.statistics,
    };
    let mut width = if description.big_tiff {
        Width::Big
    } else {
        Width::Classic
    };
    let (mut bytes, mut end) = head.bytes(&compressed.levels, width);
    if width == Width::Classic && end > MOST_CLASSIC_BYTES {
        width = Width::Big;
        (bytes, end) = head.bytes(&compressed.levels, width);
    }
    to.write_all(&bytes)?;
    let mut written = bytes.len() as u64;
    for level in compressed.levels.iter_mut().rev() {
        level.for_each_tile(|tile| {
            written += LEADER_BYTES + tile.len() as u64 + TRAILER_BYTES;
            write_tile(tile, to)
        })?;
    }
    debug_assert_eq!(written, end, "the offsets are those of what was written");
    Ok(())
}

fn write_tile(tile: &[u8], to: &mut impl Write) -> io::Result<()> {
    to.write_all(&(tile.len() as u32).to_le_bytes())?;
    to.write_all(tile)?;
    // No deflate stream is shorter than its checksum.
    to.write_all(&tile[tile.len() - TRAILER_BYTES as usize..])
}

/// All that comes before the tiles.
struct Head<'a> {
    description: &'a RasterDescription,
    keys: &'a [u16],
    statistics: &'a [Statistics],
}

impl Head<'_> {
    /// The bytes, and where the file will end.
    fn bytes(&self, levels: &[Level], width: Width) -> (Vec<u8>, u64) {
        let header_bytes = width.header(0).len();
        let structure = format!(
            "GDAL_STRUCTURAL_METADATA_SIZE={:06} bytes\n{STRUCTURE}",
            STRUCTURE.len()
        );
        let unpadded = header_bytes + structure.len();
        // Directories lie at even places; see also `serialise`.
        let first = unpadded.next_multiple_of(8) as u64;
        // Lengths first: they do not depend on where the tiles lie.
        let nowhere = vec![0; levels.len()];
        let length: usize = self.directories(levels, &nowhere, (first, width)).len();
        let mut starts = nowhere;
        let mut end = first + length as u64;
        for (start, level) in starts.iter_mut().zip(levels).rev() {
            *start = end;
            end += level.tile_bytes.iter().map(|b| placed(*b)).sum::<u64>();
        }
        let mut bytes = width.header(first);
        bytes.extend(structure.bytes());
        bytes.resize(first as usize, 0);
        bytes.extend(self.directories(levels, &starts, (first, width)));
        (bytes, end)
    }

    /// One directory a level, from `at` on; `starts` says where each level's
    /// tiles begin.
    fn directories(&self, levels: &[Level], starts: &[u64], (at, width): (u64, Width)) -> Vec<u8> {
        let mut bytes = Vec::new();
        for (i, (level, start)) in levels.iter().zip(starts).enumerate() {
            let directory = self.directory(i == 0, level, width.offsets(places(level, *start)));
            let is_last = i + 1 == levels.len();
            bytes.extend(serialise(
                &directory,
                at + bytes.len() as u64,
                width,
                is_last,
            ));
        }
        bytes
    }

    fn directory(&self, is_main: bool, level: &Level, offsets: Values) -> Directory {
        let d = self.description;
        let bands = d.bands.len();
        let palette = d
            .palette
            .as_ref()
            .filter(|_| bands == 1 && d.cells == CellType::Unsigned8);
        let short = |value: u16| Values::Short(vec![value]);
        let long = |value: usize| Values::Long(vec![value as u32]);
        let side = d.tile.cells();
        let mut tags: Vec<(Tag, Values)> = vec![
            (Tag::NewSubfileType, Values::Long(vec![u32::from(!is_main)])),
            (Tag::ImageWidth, long(level.width)),
            (Tag::ImageLength, long(level.height)),
            (
                Tag::BitsPerSample,
                Values::Short(vec![8 * d.cells.bytes() as u16; bands]),
            ),
            // Deflate, as in the specification's supplement.
            (Tag::Compression, short(8)),
            (
                Tag::PhotometricInterpretation,
                short(if palette.is_some() { 3 } else { 1 }),
            ),
            (Tag::SamplesPerPixel, short(bands as u16)),
            (Tag::PlanarConfiguration, short(1)),
            (Tag::Predictor, short(d.cells.predictor())),
            (Tag::TileWidth, long(side)),
            (Tag::TileLength, long(side)),
            (Tag::TileOffsets, offsets),
            (Tag::TileByteCounts, Values::Long(level.tile_bytes.clone())),
            (
                Tag::SampleFormat,
                Values::Short(vec![d.cells.sample_format(); bands]),
            ),
            (Tag::GdalNodata, Values::Ascii(d.cells.nodata().to_owned())),
        ];
        if bands > 1 {
            tags.push((Tag::ExtraSamples, Values::Short(vec![0; bands - 1])));
        }
        if let Some(palette) = palette {
            tags.push((Tag::ColorMap, colour_map(palette)));
        }
        if is_main {
            tags.extend(self.place());
            let text = metadata::document(d, self.statistics);
            tags.push((Tag::Unknown(METADATA), Values::Ascii(text)));
        }
        tags.sort_by_key(|(tag, _)| tag.to_u16());
        tags.into_iter().map(|(tag, v)| (tag.to_u16(), v)).collect()
    }

    /// Where the cells lie.
    fn place(&self) -> Vec<(Tag, Values)> {
        let keys = (Tag::GeoKeyDirectoryTag, Values::Short(self.keys.to_vec()));
        match metadata::placement(self.description.georeference.affine()) {
            Placement::NorthUp { scale, tie } => vec![
                (Tag::ModelPixelScaleTag, Values::Double(scale.to_vec())),
                (Tag::ModelTiepointTag, Values::Double(tie.to_vec())),
                keys,
            ],
            Placement::Matrix(matrix) => vec![
                (Tag::ModelTransformationTag, Values::Double(matrix.to_vec())),
                keys,
            ],
        }
    }
}

const METADATA: u16 = 42_112;

/// Bytes that a tile takes in the file.
fn placed(tile_bytes: u32) -> u64 {
    LEADER_BYTES + u64::from(tile_bytes) + TRAILER_BYTES
}

/// Where each tile of a level lies, its leader before it.
fn places(level: &Level, start: u64) -> impl Iterator<Item = u64> {
    level.tile_bytes.iter().scan(start, |next, bytes| {
        let at = *next + LEADER_BYTES;
        *next += placed(*bytes);
        Some(at)
    })
}

/// All reds, then all greens, then all blues, in 16 bits; black where there
/// is no colour.
fn colour_map(palette: &[[u8; 3]]) -> Values {
    let channel = |c: usize| (0..256).map(move |i| palette.get(i).map_or(0, |p| p[c]));
    let wide = (0..3).flat_map(channel).map(|v| u16::from(v) * 257);
    Values::Short(wide.collect())
}
