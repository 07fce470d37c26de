//! The directories of a TIFF and the values of their tags.

use std::collections::BTreeSet;
use std::io::{self, Cursor, Read, Seek, SeekFrom};
use std::path::Path;

use tiff::Directory;
use tiff::decoder::Decoder;
use tiff::tags::{IfdPointer, Tag, Type};

use super::layout::Layout;
use crate::ground::ReadSeek;
use crate::ground::error::GroundError;

/// No georeferenced raster needs more directories: overviews and masks are
/// some dozens at most.
const MAX_DIRECTORIES: usize = 256;

/// Values of a tag that describes the image; block tables are not read whole.
const MAX_VALUES: u64 = 1 << 16;

/// Text of a tag, at most.
const MAX_TEXT_BYTES: u64 = 1 << 22;

pub(super) struct Directories {
    decoder: Decoder<SwitchedReader>,
    list: Vec<Directory>,
    pub(super) big_endian: bool,
    pub(super) length: u64,
    pub(super) looped: bool,
}

impl Directories {
    pub(super) fn open(
        path: &Path,
        mut bytes: Box<dyn ReadSeek>,
        length: u64,
    ) -> Result<Self, GroundError> {
        let head = FileHead::read(&mut bytes).map_err(|e| match e.kind() {
            io::ErrorKind::UnexpectedEof => GroundError::truncated(path, "it ends in its header"),
            _ => GroundError::io(path, &e),
        })?;
        let stand_in = head.stand_in();
        let reader = SwitchedReader {
            stand_in: Some(Cursor::new(stand_in)),
            file: bytes,
        };
        let mut decoder =
            Decoder::new(reader).map_err(|e| GroundError::corrupt(path, e.to_string()))?;
        decoder.inner().stand_in = None;
        let mut directories = Self {
            decoder,
            list: Vec::new(),
            big_endian: head.big_endian,
            length,
            looped: false,
        };
        directories.follow(head.first_directory, path)?;
        Ok(directories)
    }

    /// Reads the chain of directories.
    fn follow(&mut self, first: u64, path: &Path) -> Result<(), GroundError> {
        let mut seen = BTreeSet::new();
        let mut next = Some(IfdPointer(first));
        while let Some(pointer) = next {
            if !seen.insert(pointer.0) || seen.len() > MAX_DIRECTORIES {
                self.looped = true;
                return Ok(());
            }
            if pointer.0 >= self.length {
                let what = format!("a directory is said to be at byte {}", pointer.0);
                return Err(GroundError::truncated(path, what));
            }
            let directory = self
                .decoder
                .read_directory(pointer)
                .map_err(|e| GroundError::truncated(path, format!("a directory: {e}")))?;
            next = directory.next();
            self.list.push(directory);
        }
        Ok(())
    }

    /// The first directory that is neither overview nor mask.
    pub(super) fn main_image(&mut self, path: &Path) -> Result<usize, GroundError> {
        for i in 0..self.list.len() {
            if self.number(i, Tag::NewSubfileType, path)?.unwrap_or(0) & 0b101 == 0 {
                return Ok(i);
            }
        }
        Err(GroundError::corrupt(
            path,
            "it has no full-resolution image",
        ))
    }

    /// The directory of the mask that goes with the image.
    pub(super) fn mask_of(&mut self, image: &Layout) -> Option<usize> {
        let nowhere = Path::new("");
        (0..self.list.len()).find(|i| {
            let mut number = |tag| self.number(*i, tag, nowhere).ok().flatten();
            number(Tag::NewSubfileType).unwrap_or(0) & 0b101 == 0b100
                && number(Tag::ImageWidth) == Some(image.width as u64)
                && number(Tag::ImageLength) == Some(image.height as u64)
        })
    }

    /// The only or first number of a tag.
    pub(super) fn number(
        &mut self,
        directory: usize,
        tag: Tag,
        path: &Path,
    ) -> Result<Option<u64>, GroundError> {
        if self.count(directory, tag) == 0 {
            return Ok(None);
        }
        self.number_at(directory, tag, 0, path).map(Some)
    }

    /// How many values a tag has; 0 where it is absent.
    pub(super) fn count(&self, directory: usize, tag: Tag) -> u64 {
        self.list[directory]
            .get(tag)
            .map_or(0, tiff::decoder::ifd::Entry::count)
    }

    /// One unsigned number of a tag, without reading the others.
    pub(super) fn number_at(
        &mut self,
        directory: usize,
        tag: Tag,
        index: u64,
        path: &Path,
    ) -> Result<u64, GroundError> {
        let bad = || GroundError::corrupt(path, format!("tag {} is unreadable", tag.to_u16()));
        let entry = self.list[directory].get(tag).ok_or_else(bad)?;
        let size = match entry.field_type() {
            Type::BYTE | Type::UNDEFINED => 1,
            Type::SHORT => 2,
            Type::LONG | Type::IFD => 4,
            Type::LONG8 | Type::IFD8 => 8,
            _ => return Err(bad()),
        };
        if index >= entry.count() {
            return Err(bad());
        }
        let mut raw = [0; 8];
        self.raw(
            (directory, tag),
            &mut raw[..size],
            index * size as u64,
            path,
        )?;
        Ok(unsigned(&raw[..size], self.big_endian))
    }

    /// All numbers of a short tag.
    pub(super) fn numbers(
        &mut self,
        directory: usize,
        tag: Tag,
        path: &Path,
    ) -> Result<Vec<u64>, GroundError> {
        let count = self.limited_count(directory, tag, MAX_VALUES, path)?;
        (0..count)
            .map(|i| self.number_at(directory, tag, i, path))
            .collect()
    }

    /// All doubles of a tag.
    pub(super) fn doubles(
        &mut self,
        directory: usize,
        tag: Tag,
        path: &Path,
    ) -> Result<Vec<f64>, GroundError> {
        let count = self.limited_count(directory, tag, MAX_VALUES, path)?;
        let is_double = |e: &tiff::decoder::ifd::Entry| e.field_type() == Type::DOUBLE;
        if count > 0 && !self.list[directory].get(tag).is_some_and(is_double) {
            return Err(GroundError::corrupt(
                path,
                format!("tag {} holds no doubles", tag.to_u16()),
            ));
        }
        let mut raw = vec![0; count as usize * 8];
        self.raw((directory, tag), &mut raw, 0, path)?;
        let doubles = raw
            .chunks_exact(8)
            .map(|b| f64::from_bits(unsigned(b, self.big_endian)));
        Ok(doubles.collect())
    }

    /// The text of a tag, up to its closing zero if it has one.
    pub(super) fn text(
        &mut self,
        directory: usize,
        tag: Tag,
        path: &Path,
    ) -> Result<Option<String>, GroundError> {
        let count = self.limited_count(directory, tag, MAX_TEXT_BYTES, path)?;
        if count == 0 {
            return Ok(None);
        }
        let mut raw = vec![0; count as usize];
        self.raw((directory, tag), &mut raw, 0, path)?;
        let end = raw.iter().position(|b| *b == 0).unwrap_or(raw.len());
        Ok(Some(String::from_utf8_lossy(&raw[..end]).into_owned()))
    }

    fn limited_count(
        &self,
        directory: usize,
        tag: Tag,
        most: u64,
        path: &Path,
    ) -> Result<u64, GroundError> {
        let count = self.count(directory, tag);
        if count > most.min(self.length) {
            let what = format!("tag {} claims {count} values", tag.to_u16());
            return Err(GroundError::corrupt(path, what));
        }
        Ok(count)
    }

    /// Bytes of a tag's values as the file has them.
    fn raw(
        &mut self,
        (directory, tag): (usize, Tag),
        buffer: &mut [u8],
        offset: u64,
        path: &Path,
    ) -> Result<(), GroundError> {
        if buffer.is_empty() {
            return Ok(());
        }
        let mut tags = self.decoder.read_directory_tags(&self.list[directory]);
        match tags.find_tag_bytes(tag, buffer, offset) {
            Ok(Some(read)) if read >= buffer.len() => Ok(()),
            Ok(_) => Err(GroundError::corrupt(
                path,
                format!("tag {} is too short", tag.to_u16()),
            )),
            Err(e) => Err(GroundError::truncated(
                path,
                format!("tag {}: {e}", tag.to_u16()),
            )),
        }
    }

    /// The bytes of the file from a place on.
    pub(super) fn bytes_at(&mut self, offset: u64) -> io::Result<&mut (dyn ReadSeek + 'static)> {
        let file = &mut self.decoder.inner().file;
        file.seek(SeekFrom::Start(offset))?;
        Ok(file.as_mut())
    }
}

/// An unsigned number of 1 to 8 bytes.
fn unsigned(bytes: &[u8], big_endian: bool) -> u64 {
    let fold = |acc: u64, b: &u8| acc << 8 | u64::from(*b);
    if big_endian {
        bytes.iter().fold(0, fold)
    } else {
        bytes.iter().rev().fold(0, fold)
    }
}

/// The first bytes of a TIFF: byte order, kind, place of the first directory.
struct FileHead {
    big_endian: bool,
    big_tiff: bool,
    first_directory: u64,
}

impl FileHead {
    fn read(bytes: &mut Box<dyn ReadSeek>) -> io::Result<Self> {
        let mut head = [0; 8];
        bytes.read_exact(&mut head)?;
        let big_endian = head[0] == b'M';
        let big_tiff = unsigned(&head[2..4], big_endian) == 43;
        let first_directory = if big_tiff {
            bytes.read_exact(&mut head)?;
            unsigned(&head, big_endian)
        } else {
            unsigned(&head[4..], big_endian)
        };
        Ok(Self {
            big_endian,
            big_tiff,
            first_directory,
        })
    }

    /// A whole TIFF of one pixel, of the same kind as the file.
    fn stand_in(&self) -> Vec<u8> {
        let number = |value: u64, size: usize| {
            let bytes = value.to_be_bytes();
            let mut bytes = bytes[8 - size..].to_vec();
            if !self.big_endian {
                bytes.reverse();
            }
            bytes
        };
        let (magic, word) = if self.big_tiff { (43, 8) } else { (42, 4) };
        let mut file = if self.big_endian {
            b"MM".to_vec()
        } else {
            b"II".to_vec()
        };
        file.extend(number(magic, 2));
        if self.big_tiff {
            file.extend(number(8, 2));
            file.extend(number(0, 2));
        }
        file.extend(number(if self.big_tiff { 16 } else { 8 }, word));
        // Width, length, photometric interpretation, strip offset and size.
        let tags = [(256, 1), (257, 1), (262, 1), (273, 8), (279, 1)];
        file.extend(number(tags.len() as u64, if self.big_tiff { 8 } else { 2 }));
        for (tag, value) in tags {
            // One LONG, left-justified in the value field.
            file.extend(number(tag, 2));
            file.extend(number(4, 2));
            file.extend(number(1, word));
            file.extend(number(value, 4));
            file.extend(number(0, word - 4));
        }
        file.extend(number(0, word));
        file
    }
}

/// The bytes that the TIFF decoder sees.
///
/// When it is made, the decoder reads the whole block table of the first
/// image, which may be larger than the window that is wanted and may be
/// nonsense. It is made over a stand-in and then switched to the file, where
/// it serves as reader of directories alone.
struct SwitchedReader {
    stand_in: Option<Cursor<Vec<u8>>>,
    file: Box<dyn ReadSeek>,
}

impl Read for SwitchedReader {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match &mut self.stand_in {
            Some(bytes) => bytes.read(buffer),
            None => self.file.read(buffer),
        }
    }
}

impl Seek for SwitchedReader {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        match &mut self.stand_in {
            Some(bytes) => bytes.seek(to),
            None => self.file.seek(to),
        }
    }
}
