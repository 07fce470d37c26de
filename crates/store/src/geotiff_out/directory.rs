//! Image file directories as bytes: the general library writes a directory
//! after its data, which is the other way round from what is wanted here.
//!
//! Source: TIFF 6.0, section 2; BigTIFF: the same with 64 bit counts and offsets.

/// Values of a tag.
pub(super) enum Values {
    Short(Vec<u16>),
    Long(Vec<u32>),
    Long8(Vec<u64>),
    Double(Vec<f64>),
    Ascii(String),
}

impl Values {
    fn type_code(&self) -> u16 {
        match self {
            Self::Ascii(_) => 2,
            Self::Short(_) => 3,
            Self::Long(_) => 4,
            Self::Double(_) => 12,
            Self::Long8(_) => 16,
        }
    }

    fn count(&self) -> usize {
        match self {
            // A NUL ends a text.
            Self::Ascii(text) => text.len() + 1,
            Self::Short(values) => values.len(),
            Self::Long(values) => values.len(),
            Self::Double(values) => values.len(),
            Self::Long8(values) => values.len(),
        }
    }

    fn bytes(&self) -> Vec<u8> {
        match self {
            Self::Ascii(text) => text.bytes().chain([0]).collect(),
            Self::Short(values) => values.iter().flat_map(|v| v.to_le_bytes()).collect(),
            Self::Long(values) => values.iter().flat_map(|v| v.to_le_bytes()).collect(),
            Self::Double(values) => values.iter().flat_map(|v| v.to_le_bytes()).collect(),
            Self::Long8(values) => values.iter().flat_map(|v| v.to_le_bytes()).collect(),
        }
    }
}

/// How wide counts and offsets are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Width {
    Classic,
    Big,
}

impl Width {
    /// Bytes of an offset, which are also those that a value may take inside
    /// its entry.
    fn offset_bytes(self) -> usize {
        match self {
            Self::Classic => 4,
            Self::Big => 8,
        }
    }

    /// A number as wide as an offset.
    fn offset(self, value: u64) -> Vec<u8> {
        value.to_le_bytes()[..self.offset_bytes()].to_vec()
    }

    fn entry_count(self, count: usize) -> Vec<u8> {
        let bytes = if self == Self::Classic { 2 } else { 8 };
        (count as u64).to_le_bytes()[..bytes].to_vec()
    }

    /// Byte order, version and the place of the first directory.
    pub(super) fn header(self, first_directory: u64) -> Vec<u8> {
        let mut bytes = match self {
            Self::Classic => vec![b'I', b'I', 42, 0],
            Self::Big => vec![b'I', b'I', 43, 0, 8, 0, 0, 0],
        };
        bytes.extend(self.offset(first_directory));
        bytes
    }

    /// Offsets as the values of a tag.
    pub(super) fn offsets(self, offsets: impl Iterator<Item = u64>) -> Values {
        match self {
            // Chosen only where the whole file stays below 4 GiB.
            Self::Classic => Values::Long(offsets.map(|o| o as u32).collect()),
            Self::Big => Values::Long8(offsets.collect()),
        }
    }
}

/// A directory: tags in ascending order.
pub(super) type Directory = Vec<(u16, Values)>;

/// Bytes of a directory that lies at `at` (a multiple of eight), its values
/// right behind it; `is_last` ends the chain, else the next one follows at
/// once. The length does not depend on the values of offsets.
pub(super) fn serialise(directory: &Directory, at: u64, width: Width, is_last: bool) -> Vec<u8> {
    let inline = width.offset_bytes();
    let entries = width.entry_count(directory.len());
    let fixed = entries.len() + directory.len() * (4 + 2 * inline) + inline;
    let (mut head, mut tail) = (entries, Vec::new());
    let tail_at = (at + fixed as u64).next_multiple_of(8);
    for (tag, values) in directory {
        head.extend(tag.to_le_bytes());
        head.extend(values.type_code().to_le_bytes());
        head.extend(width.offset(values.count() as u64));
        let mut bytes = values.bytes();
        if bytes.len() <= inline {
            bytes.resize(inline, 0);
            head.extend(bytes);
        } else {
            head.extend(width.offset(tail_at + tail.len() as u64));
            tail.extend(bytes);
            tail.resize(tail.len().next_multiple_of(8), 0);
        }
    }
    let end = tail_at + tail.len() as u64;
    head.extend(width.offset(if is_last { 0 } else { end }));
    head.resize((tail_at - at) as usize, 0);
    head.extend(tail);
    head
}
