//! Why a raster is refused, and what is worth knowing about one that is not.

use std::path::{Path, PathBuf};

use geodesy::CrsError;

/// Why a raster file cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[expect(
    missing_docs,
    reason = "`path` is the file, the other fields are named in the messages"
)]
pub enum GroundError {
    /// The operating system says no.
    #[error("cannot read `{}`: {reason}\nhint: check that the file exists and may be read", path.display())]
    Io { path: PathBuf, reason: String },
    /// Neither of the formats.
    #[error("`{}` is no raster file: it starts with `{start}`\nhint: GeoTIFF, .hgt tiles (also zipped) and ASCII grids (.asc) are read", path.display())]
    Unrecognised { path: PathBuf, start: String },
    /// The file ends before its content does.
    #[error("`{}` is cut short: {what}\nhint: fetch or copy the file again", path.display())]
    Truncated { path: PathBuf, what: String },
    /// The content contradicts itself.
    #[error("`{}` is damaged: {what}\nhint: fetch or export the file again", path.display())]
    Corrupt { path: PathBuf, what: String },
    /// A legal file of a kind that is not read.
    #[error("`{}` is of a kind that is not read: {what}\nhint: {hint}", path.display())]
    Unsupported {
        path: PathBuf,
        what: String,
        hint: String,
    },
    /// The reference system is not stated.
    #[error("`{}` does not say which reference system its coordinates are in\nhint: name it in the design, `assumed_crs = \"EPSG:…\"` in the file's `[[ground.raster]]` (`--assumed-crs` for `mastwright ground`), or put a .prj file beside an ASCII grid", path.display())]
    MissingCrs { path: PathBuf },
    /// The cells have no place on Earth.
    #[error("`{}` has no georeference: it is a picture, not a map\nhint: export it again as GeoTIFF with coordinates", path.display())]
    NoGeoreference { path: PathBuf },
    /// The reference system is stated but cannot be used.
    #[error("`{}`: {source}", path.display())]
    Crs {
        path: PathBuf,
        #[source]
        source: CrsError,
    },
    /// Heights are not above sea level.
    #[error("heights in `{}` are above the ellipsoid, not above sea level ({stated})\nhint: convert them with a geoid model; they differ by up to 100 m", path.display())]
    EllipsoidalHeights { path: PathBuf, stated: String },
    /// Heights in a unit, or of a kind, that is not known.
    #[error("heights in `{}` are stated as `{stated}`, which is not understood\nhint: export the heights in metres above sea level", path.display())]
    Heights { path: PathBuf, stated: String },
    /// Too many different numbers that are no elevations.
    #[error("`{}` does not hold elevations in metres: {cells} of its cells are outside -500 m to 9000 m, such as {example}\nhint: check the unit, the band and the no-data value", path.display())]
    NotElevations {
        path: PathBuf,
        cells: usize,
        example: f64,
    },
    /// The band does not exist.
    #[error("`{}` has no band {}: it has {bands}\nhint: bands count from 1", path.display(), band + 1)]
    NoSuchBand {
        path: PathBuf,
        band: usize,
        bands: usize,
    },
    /// The name of an `.hgt` tile is its only georeference.
    #[error("the name of `{}` does not say which tile it is\nhint: name it after its south-west corner, such as N43W029.hgt", path.display())]
    HgtName { path: PathBuf },
    /// No tile has this many posts.
    #[error("`{}` has {bytes} bytes, which is no tile of 1201 x 1201 or 3601 x 3601 posts\nhint: fetch the tile again", path.display())]
    HgtSize { path: PathBuf, bytes: u64 },
    /// A word in a text raster that is not understood.
    #[error("`{}`, line {line}: `{text}` {problem}\nhint: {hint}", path.display())]
    Text {
        path: PathBuf,
        line: usize,
        text: String,
        problem: String,
        hint: String,
    },
    /// Nothing of the raster is asked for.
    #[error("the window lies outside `{}`\nhint: check the coordinates of the window", path.display())]
    EmptyWindow { path: PathBuf },
    /// More is asked for than can be held.
    #[error("a window of {width} x {height} cells of `{}` is too large to hold\nhint: read a smaller window", path.display())]
    WindowTooLarge {
        path: PathBuf,
        width: usize,
        height: usize,
    },
    /// No file of a mosaic has cells in the box.
    #[error(
        "no raster covers the territory: {files} files were looked at\nhint: add the tile that holds {position}"
    )]
    NothingCovers { files: usize, position: String },
}

impl GroundError {
    pub(super) fn io(path: &Path, error: &std::io::Error) -> Self {
        Self::Io {
            path: path.to_owned(),
            reason: error.to_string(),
        }
    }

    pub(super) fn corrupt(path: &Path, what: impl Into<String>) -> Self {
        Self::Corrupt {
            path: path.to_owned(),
            what: what.into(),
        }
    }

    pub(super) fn truncated(path: &Path, what: impl Into<String>) -> Self {
        Self::Truncated {
            path: path.to_owned(),
            what: what.into(),
        }
    }

    pub(super) fn unsupported(path: &Path, what: impl Into<String>, hint: &str) -> Self {
        Self::Unsupported {
            path: path.to_owned(),
            what: what.into(),
            hint: hint.to_owned(),
        }
    }

    pub(super) fn crs(path: &Path, source: CrsError) -> Self {
        Self::Crs {
            path: path.to_owned(),
            source,
        }
    }
}

/// Something about a raster that its user should know.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[expect(
    missing_docs,
    reason = "`path` is the file, the other fields are named in the messages"
)]
pub enum GroundWarning {
    /// Cells that cannot be elevations were made void.
    #[error("{cells} cells of `{}` cannot be elevations (such as {example}) and are void\nhint: the file may lack its no-data value, or hold something else than metres", path.display())]
    Implausible {
        path: PathBuf,
        cells: usize,
        example: f64,
    },
    /// The no-data value that the file states cannot occur in it.
    #[error("`{}` states the no-data value `{stated}`, which its cells cannot hold\nhint: check for void areas that are taken for data", path.display())]
    NodataCannotOccur { path: PathBuf, stated: String },
    /// Blocks without data in a file without a no-data value were made void.
    #[error("{blocks} blocks of `{}` are absent and are void", path.display())]
    AbsentBlocks { path: PathBuf, blocks: usize },
    /// The system that the user named was taken.
    #[error("`{}` states no usable reference system; `{crs}` is taken as told", path.display())]
    CrsAssumed { path: PathBuf, crs: String },
    /// The system that the user named was not taken.
    #[error("`{}` states `{stated}`; `{assumed}` is not taken", path.display())]
    CrsStatedOtherwise {
        path: PathBuf,
        stated: String,
        assumed: String,
    },
    /// A chain of directories that never ends was cut.
    #[error("the directories of `{}` form a loop; only the first image is read", path.display())]
    DirectoryLoop { path: PathBuf },
    /// An ASCII grid without a no-data line.
    #[error("`{}` states no no-data value; -9999 is taken, as the format has it", path.display())]
    DefaultNodata { path: PathBuf },
    /// Heights were converted to metres.
    #[error("heights in `{}` are in `{unit}` and are converted to metres", path.display())]
    HeightsConverted { path: PathBuf, unit: String },
    /// Two files of a mosaic have very different cell sizes, or the like.
    #[error("`{}` was left out of the mosaic: it does not cover the territory", path.display())]
    NotNeeded { path: PathBuf },
}
