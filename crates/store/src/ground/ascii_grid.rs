//! ASCII grids (`.asc`): a few header words, then numbers row by row.
//!
//! Line ends and the wrapping of rows mean nothing. Source: Esri, "Esri ASCII
//! raster format"; `dx` and `dy` are a widespread extension of it.

use std::io::{BufRead, BufReader, Seek, SeekFrom};
use std::path::Path;

use geodesy::{Crs, MapXy};
use raster::{Affine, CellWindow};

use super::error::{GroundError, GroundWarning};
use super::info::{self, Draft};
use super::values::Conversion;
use super::{Input, OpenOptions, PixelType, RasterFormat, RasterInfo, ReadSeek};

const WORDS: [&str; 10] = [
    "ncols",
    "nrows",
    "xllcorner",
    "yllcorner",
    "xllcenter",
    "yllcenter",
    "cellsize",
    "dx",
    "dy",
    "nodata_value",
];

/// What void cells hold where no line says so, by the format's rule.
const DEFAULT_NODATA: f64 = -9999.0;

/// No number is longer; a longer word is no number.
const MAX_WORD_BYTES: usize = 400;

pub(super) struct AsciiSource {
    bytes: Box<dyn ReadSeek>,
    width: usize,
    height: usize,
    /// Where the numbers start.
    data_offset: u64,
    data_line: usize,
}

/// Whether a word opens a header.
pub(super) fn is_header_word(word: &[u8]) -> bool {
    WORDS
        .iter()
        .any(|w| word.eq_ignore_ascii_case(w.as_bytes()))
}

pub(super) fn open(
    mut input: Input,
    options: &OpenOptions,
) -> Result<(RasterInfo, AsciiSource, Vec<GroundWarning>), GroundError> {
    let header = Header::read(&mut input)?;
    let path = input.path.clone();
    let missing = |what: &str| GroundError::corrupt(&path, format!("its header has no `{what}`"));
    let count = |number: Option<f64>, what: &str| {
        let number = number.ok_or_else(|| missing(what))?;
        let whole = number.fract() == 0.0 && (1.0..=1e7).contains(&number);
        whole
            .then_some(number as usize)
            .ok_or_else(|| GroundError::corrupt(&path, format!("`{what}` is {number}")))
    };
    let width = count(header.get("ncols"), "ncols")?;
    let height = count(header.get("nrows"), "nrows")?;
    // Every number takes a digit and a separator.
    if (width as u64) * (height as u64) > input.length.div_ceil(2) {
        let what = format!(
            "{} bytes cannot hold {width} x {height} numbers",
            input.length
        );
        return Err(GroundError::truncated(&path, what));
    }
    let affine = header
        .affine(height)
        .ok_or_else(|| missing("xllcorner, yllcorner or cellsize"))?;
    let stated = input.prj.as_deref().map(Crs::from_wkt).transpose();
    let (crs, warning) = info::choose_crs(&input, options, stated)?;
    let mut warnings: Vec<GroundWarning> = warning.into_iter().collect();
    let nodata = header.get("nodata_value").unwrap_or_else(|| {
        warnings.push(GroundWarning::DefaultNodata { path: path.clone() });
        DEFAULT_NODATA
    });
    let georeference = info::georeference(&input, crs, affine, (width, height))?;
    let draft = Draft {
        format: RasterFormat::AsciiGrid,
        width,
        height,
        pixel: PixelType::Text,
        nodata: Some(nodata),
    };
    let source = AsciiSource {
        bytes: input.bytes,
        width,
        height,
        data_offset: header.data_offset,
        data_line: header.data_line,
    };
    Ok((RasterInfo::new(draft, georeference), source, warnings))
}

/// The header's words and where the numbers start.
struct Header {
    values: Vec<(&'static str, f64)>,
    data_offset: u64,
    data_line: usize,
}

impl Header {
    fn read(input: &mut Input) -> Result<Self, GroundError> {
        let mut words = Words::new(&mut input.bytes, &input.path);
        let mut values = Vec::new();
        loop {
            let (offset, line) = (words.offset, words.line);
            let Some(word) = words.next()? else {
                return Err(GroundError::truncated(&input.path, "it ends in its header"));
            };
            let Some(key) = WORDS.iter().find(|w| w.eq_ignore_ascii_case(word)) else {
                if word.starts_with(|c: char| c.is_ascii_alphabetic())
                    && word.parse::<f64>().is_err()
                {
                    return Err(text_error(
                        &input.path,
                        line,
                        word,
                        "is no header word",
                        HEADER_HINT,
                    ));
                }
                return Ok(Self {
                    values,
                    data_offset: offset,
                    data_line: line,
                });
            };
            let line = words.line;
            let Some(word) = words.next()? else {
                return Err(GroundError::truncated(&input.path, "it ends in its header"));
            };
            let value = parse(&input.path, line, word)?;
            if values.iter().any(|(k, _)| k == key) {
                return Err(text_error(
                    &input.path,
                    line,
                    key,
                    "stands twice",
                    HEADER_HINT,
                ));
            }
            values.push((*key, value));
        }
    }

    fn get(&self, key: &str) -> Option<f64> {
        self.values.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
    }

    fn affine(&self, height: usize) -> Option<Affine> {
        let cell = self.get("cellsize");
        let (dx, dy) = (self.get("dx").or(cell)?, self.get("dy").or(cell)?);
        if !(dx > 0.0 && dy > 0.0) {
            return None;
        }
        let left = self
            .get("xllcorner")
            .or_else(|| self.get("xllcenter").map(|x| x - dx / 2.0))?;
        let bottom = self
            .get("yllcorner")
            .or_else(|| self.get("yllcenter").map(|y| y - dy / 2.0))?;
        let corner = MapXy {
            x: left,
            y: bottom + dy * height as f64,
        };
        Affine::north_up(corner, dx, dy).ok()
    }
}

const HEADER_HINT: &str =
    "an ASCII grid starts with ncols, nrows, xllcorner, yllcorner and cellsize";

impl AsciiSource {
    /// Reads the whole text, for it has no index, but keeps the window alone.
    pub(super) fn read(
        &mut self,
        path: &Path,
        window: CellWindow,
        conversion: &mut Conversion,
    ) -> Result<Vec<f32>, GroundError> {
        let mut cells = Vec::with_capacity(window.width * window.height);
        self.bytes
            .seek(SeekFrom::Start(self.data_offset))
            .map_err(|e| GroundError::io(path, &e))?;
        let mut words = Words::new(&mut self.bytes, path);
        words.line = self.data_line;
        for row in 0..self.height {
            let wanted_row = (window.row..window.row + window.height).contains(&row);
            for col in 0..self.width {
                let line = words.line;
                let Some(word) = words.next()? else {
                    let missing = (self.height - row) * self.width - col;
                    return Err(GroundError::truncated(
                        path,
                        format!("{missing} numbers are missing"),
                    ));
                };
                let value = parse(path, line, word)?;
                if wanted_row && (window.col..window.col + window.width).contains(&col) {
                    cells.push(conversion.cell(value));
                }
            }
        }
        let line = words.line;
        if let Some(word) = words.next()? {
            let problem = "stands after the last number of the grid";
            let hint = "check ncols and nrows against the numbers";
            return Err(text_error(path, line, word, problem, hint));
        }
        Ok(cells)
    }
}

fn parse(path: &Path, line: usize, word: &str) -> Result<f64, GroundError> {
    if let Ok(value) = word.parse::<f64>() {
        return Ok(value);
    }
    if word.contains(',') {
        let hint = "export the grid with a decimal point and without thousands separators";
        return Err(text_error(path, line, word, "has a comma", hint));
    }
    let hint = "only numbers may follow the header";
    Err(text_error(path, line, word, "is no number", hint))
}

fn text_error(path: &Path, line: usize, text: &str, problem: &str, hint: &str) -> GroundError {
    GroundError::Text {
        path: path.to_owned(),
        line,
        text: text.chars().take(40).collect(),
        problem: problem.to_owned(),
        hint: hint.to_owned(),
    }
}

/// The words of a text, with their place in it.
struct Words<'a, R> {
    reader: BufReader<R>,
    path: &'a Path,
    word: Vec<u8>,
    line: usize,
    offset: u64,
}

impl<'a, R: std::io::Read> Words<'a, R> {
    fn new(reader: R, path: &'a Path) -> Self {
        Self {
            reader: BufReader::with_capacity(1 << 16, reader),
            path,
            word: Vec::new(),
            line: 1,
            offset: 0,
        }
    }

    /// The next word; `None` at the end. Afterwards `line` is the line after
    /// the word and `offset` counts the bytes up to there.
    fn next(&mut self) -> Result<Option<&str>, GroundError> {
        self.word.clear();
        loop {
            let buffer = self
                .reader
                .fill_buf()
                .map_err(|e| GroundError::io(self.path, &e))?;
            if buffer.is_empty() {
                break;
            }
            let mut used = 0;
            let mut ended = false;
            for byte in buffer {
                if byte.is_ascii_whitespace() {
                    if !self.word.is_empty() {
                        ended = true;
                        break;
                    }
                    self.line += usize::from(*byte == b'\n');
                } else {
                    self.word.push(*byte);
                }
                used += 1;
                if self.word.len() > MAX_WORD_BYTES {
                    break;
                }
            }
            self.offset += used as u64;
            self.reader.consume(used);
            if ended || self.word.len() > MAX_WORD_BYTES {
                break;
            }
        }
        if self.word.is_empty() {
            return Ok(None);
        }
        match std::str::from_utf8(&self.word) {
            Ok(word) if self.word.len() <= MAX_WORD_BYTES => Ok(Some(word)),
            _ => {
                let start = String::from_utf8_lossy(&self.word);
                let hint = "an ASCII grid holds plain numbers";
                Err(text_error(
                    self.path,
                    self.line,
                    &start,
                    "is no number",
                    hint,
                ))
            }
        }
    }
}
