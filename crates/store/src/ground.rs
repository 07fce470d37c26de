//! Terrain and class rasters: files to grids.
//!
//! [`RasterFile::open`] looks at a file's content (GeoTIFF, `.hgt` tile, zipped
//! `.hgt`, ASCII grid) and reads only what describes it; [`RasterInfo`]
//! says what that is. A window of it is then read into a [`raster::Grid`] with
//! memory in proportion to the window, not to the file. [`open_mosaic`] does
//! both for many files.
//!
//! What is read is never guessed: a file that does not name its reference
//! system, or whose heights are not above sea level, is refused with a hint;
//! cells that cannot be elevations become void with a [`GroundWarning`].

mod ascii_grid;
mod error;
mod geotiff;
mod hgt;
mod info;
mod mosaic;
mod values;

use std::fs::File;
use std::io::{BufReader, Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use geodesy::{Crs, LonLatBox};
use raster::{CellWindow, Grid};

pub use error::{GroundError, GroundWarning};
pub use info::{PixelType, RasterFormat, RasterInfo};
pub use mosaic::{MosaicReading, open_mosaic};

/// What the cells of a raster mean, which decides how strictly they are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ReadMode {
    /// Metres above sea level. Units are converted; cells below -500 m or
    /// above 9000 m are void.
    #[default]
    Elevation,
    /// Classes or other numbers, taken as they are.
    Classes,
}

/// How to read a file.
#[derive(Debug, Clone, Default)]
pub struct OpenOptions {
    /// What the cells mean.
    pub mode: ReadMode,
    /// The reference system to take where the file names none, as the user
    /// stated it. A system that the file names itself wins.
    pub assumed_crs: Option<Crs>,
    /// The band to read, from 0.
    pub band: usize,
}

impl OpenOptions {
    /// Elevation from the first band.
    pub fn elevation() -> Self {
        Self::default()
    }

    /// Classes from the first band.
    pub fn classes() -> Self {
        Self {
            mode: ReadMode::Classes,
            ..Self::default()
        }
    }
}

/// A window that was read, and what was noticed on the way.
#[derive(Debug, Clone)]
pub struct Reading {
    /// The cells; NaN is void.
    pub grid: Grid,
    /// What was noticed.
    pub warnings: Vec<GroundWarning>,
}

/// The most cells that one window may have: 1 GiB of them.
pub const MAX_WINDOW_CELLS: usize = 1 << 28;

/// A raster file, opened but not read.
pub struct RasterFile {
    path: PathBuf,
    info: RasterInfo,
    source: Source,
    mode: ReadMode,
    warnings: Vec<GroundWarning>,
}

enum Source {
    Tiff(Box<geotiff::TiffSource>),
    Hgt(hgt::HgtSource),
    Ascii(ascii_grid::AsciiSource),
}

/// Bytes that can be read at any place.
trait ReadSeek: Read + Seek + Send {}

impl<T: Read + Seek + Send> ReadSeek for T {}

/// The bytes of a file, its length and its name.
struct Input {
    path: PathBuf,
    bytes: Box<dyn ReadSeek>,
    length: u64,
    /// Text of the `.prj` file beside it.
    prj: Option<String>,
    /// Text of the world file beside it.
    world: Option<String>,
}

impl RasterFile {
    /// Opens a file by its content; nothing but its description is read.
    pub fn open(path: &Path, options: &OpenOptions) -> Result<Self, GroundError> {
        let file = open_file(path).map_err(|e| GroundError::io(path, &e))?;
        let length = file
            .metadata()
            .map_err(|e| GroundError::io(path, &e))?
            .len();
        let input = Input {
            path: path.to_owned(),
            bytes: Box::new(BufReader::with_capacity(1 << 16, file)),
            length,
            prj: sidecar(path, &["prj", "PRJ"]),
            world: sidecar(path, &["tfw", "TFW", "tifw", "wld"]),
        };
        Self::from_input(input, options)
    }

    /// The same for bytes in memory, under the name that a file would have
    /// (the name of an `.hgt` tile is its georeference); `prj` is the text
    /// that a `.prj` file beside it would hold.
    pub fn from_bytes(
        name: &Path,
        bytes: Vec<u8>,
        prj: Option<String>,
        options: &OpenOptions,
    ) -> Result<Self, GroundError> {
        let input = Input {
            path: name.to_owned(),
            length: bytes.len() as u64,
            bytes: Box::new(Cursor::new(bytes)),
            prj,
            world: None,
        };
        Self::from_input(input, options)
    }

    fn from_input(mut input: Input, options: &OpenOptions) -> Result<Self, GroundError> {
        let path = input.path.clone();
        let (info, source, warnings) = match sniff(&mut input)? {
            RasterFormat::GeoTiff => {
                let (info, source, warnings) = geotiff::open(input, options)?;
                (info, Source::Tiff(Box::new(source)), warnings)
            }
            RasterFormat::HgtTile => {
                let (info, source) = hgt::open(input, options)?;
                (info, Source::Hgt(source), Vec::new())
            }
            RasterFormat::ZippedHgtTile => {
                let (info, source) = hgt::open_zip(input, options)?;
                (info, Source::Hgt(source), Vec::new())
            }
            RasterFormat::AsciiGrid => {
                let (info, source, warnings) = ascii_grid::open(input, options)?;
                (info, Source::Ascii(source), warnings)
            }
        };
        Ok(Self {
            path,
            info,
            source,
            mode: options.mode,
            warnings,
        })
    }

    /// The file's path.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the file says about itself.
    pub fn info(&self) -> &RasterInfo {
        &self.info
    }

    /// What was noticed while opening.
    pub fn warnings(&self) -> &[GroundWarning] {
        &self.warnings
    }

    /// The cells that a box of longitude and latitude touches, with what
    /// interpolation at its border needs; `None` where it lies beside the
    /// raster.
    pub fn window_of(&self, bounds: &LonLatBox) -> Option<CellWindow> {
        self.info.window_of(bounds)
    }

    /// Reads the part of the raster that a box touches; `None` where it lies
    /// beside the raster.
    pub fn read_box(&mut self, bounds: &LonLatBox) -> Result<Option<Reading>, GroundError> {
        match self.window_of(bounds) {
            Some(window) => self.read_window(window).map(Some),
            None => Ok(None),
        }
    }

    /// Reads the whole raster.
    pub fn read_all(&mut self) -> Result<Reading, GroundError> {
        self.read_window(self.info.whole())
    }

    /// Reads a rectangle of cells, cut at the raster's border.
    pub fn read_window(&mut self, window: CellWindow) -> Result<Reading, GroundError> {
        let window = self.info.whole().intersect(window);
        let window = window.ok_or_else(|| GroundError::EmptyWindow {
            path: self.path.clone(),
        })?;
        let count = window.width.checked_mul(window.height);
        if count.is_none_or(|count| count > MAX_WINDOW_CELLS) {
            return Err(GroundError::WindowTooLarge {
                path: self.path.clone(),
                width: window.width,
                height: window.height,
            });
        }
        let mut conversion = values::Conversion::new(self.mode, &self.info);
        let cells = match &mut self.source {
            Source::Tiff(tiff) => tiff.read(&self.path, window, &mut conversion)?,
            Source::Hgt(hgt) => hgt.read(&self.path, window, &mut conversion)?,
            Source::Ascii(ascii) => ascii.read(&self.path, window, &mut conversion)?,
        };
        let mut warnings = self.warnings.clone();
        warnings.extend(conversion.finish(&self.path)?);
        let georeference = self.info.georeference_of(window);
        let grid = Grid::new(georeference, window.width, window.height, cells);
        let grid = grid.map_err(|e| GroundError::corrupt(&self.path, e.to_string()))?;
        Ok(Reading { grid, warnings })
    }
}

impl std::fmt::Debug for RasterFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("RasterFile")
            .field("path", &self.path)
            .field("info", &self.info)
            .finish_non_exhaustive()
    }
}

/// Says what a file is from its first bytes; only the bare `.hgt` tile, which
/// is nothing but numbers, is known by its name.
fn sniff(input: &mut Input) -> Result<RasterFormat, GroundError> {
    let mut head = Vec::with_capacity(64);
    let read = (&mut input.bytes).take(64).read_to_end(&mut head);
    let rewound = read.and_then(|_| input.bytes.seek(SeekFrom::Start(0)));
    rewound.map_err(|e| GroundError::io(&input.path, &e))?;
    if head.is_empty() {
        return Err(GroundError::Truncated {
            path: input.path.clone(),
            what: "the file is empty".into(),
        });
    }
    let extension = input
        .path
        .extension()
        .and_then(|e| e.to_str())
        .unwrap_or("");
    if head.starts_with(b"II*\0")
        || head.starts_with(b"MM\0*")
        || head.starts_with(b"II+\0")
        || head.starts_with(b"MM\0+")
    {
        return Ok(RasterFormat::GeoTiff);
    }
    if head.starts_with(b"PK\x03\x04") {
        return Ok(RasterFormat::ZippedHgtTile);
    }
    let text = head.trim_ascii_start();
    let word = text
        .split(|b| b.is_ascii_whitespace())
        .next()
        .unwrap_or(&[]);
    if ascii_grid::is_header_word(word) {
        return Ok(RasterFormat::AsciiGrid);
    }
    if extension.eq_ignore_ascii_case("hgt") {
        return Ok(RasterFormat::HgtTile);
    }
    let printable = head
        .iter()
        .take(24)
        .take_while(|b| b.is_ascii_graphic() || **b == b' ');
    Err(GroundError::Unrecognised {
        path: input.path.clone(),
        start: printable.map(|b| char::from(*b)).collect(),
    })
}

#[expect(
    clippy::disallowed_methods,
    reason = "`store` is where files are opened"
)]
fn open_file(path: &Path) -> std::io::Result<File> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(std::io::Error::from(std::io::ErrorKind::IsADirectory));
    }
    Ok(file)
}

/// The text of the first file of that name with one of these extensions.
fn sidecar(path: &Path, extensions: &[&str]) -> Option<String> {
    /// Longer than any projection or world file.
    const MAX_BYTES: u64 = 1 << 16;
    let open = |extension: &&str| open_file(&path.with_extension(extension)).ok();
    let file = extensions.iter().find_map(open)?;
    let mut bytes = Vec::new();
    file.take(MAX_BYTES).read_to_end(&mut bytes).ok()?;
    Some(String::from_utf8_lossy(&bytes).into_owned())
}
