//! The texts that a program may write into, and whether somebody else has
//! written into them meanwhile.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::SystemTime;

use crate::atomic::write_atomically_when;
use crate::project::{self, DESIGN_FILE, PREMISES_FILES};

/// The texts of a project that edits go into, byte by byte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DesignTexts {
    /// `mastwright.toml`; `None` where there is none.
    pub design: Option<Vec<u8>>,
    /// The premises; `None` where there are none.
    pub premises: Option<Vec<u8>>,
    /// The file that they come from: the first of [`PREMISES_FILES`] that is there.
    pub premises_file: &'static str,
    /// [`CARDS_FILE`]; `None` where there is none.
    pub cards: Option<Vec<u8>>,
}

/// The cards of what was brought in.
pub const CARDS_FILE: &str = "equipment/brought-in.toml";

impl Default for DesignTexts {
    fn default() -> Self {
        Self {
            design: None,
            premises: None,
            premises_file: PREMISES_FILES[0],
            cards: None,
        }
    }
}

/// Largest text that edits are written into.
const LARGEST_BYTES: u64 = 1 << 30;

impl DesignTexts {
    /// Reads the texts of a folder.
    ///
    /// # Errors
    /// A file that is there and cannot be read.
    pub fn read(folder: &Path) -> io::Result<Self> {
        let mut files = PREMISES_FILES.into_iter();
        let there = files.find(|file| folder.join(file).exists());
        let premises_file = there.unwrap_or(PREMISES_FILES[0]);
        Ok(Self {
            design: read_if_there(&folder.join(DESIGN_FILE))?,
            premises: read_if_there(&folder.join(premises_file))?,
            premises_file,
            cards: read_if_there(&folder.join(CARDS_FILE))?,
        })
    }

    /// The files, whether they are there or not.
    pub fn files(&self) -> [&'static str; 3] {
        [DESIGN_FILE, self.premises_file, CARDS_FILE]
    }

    /// The bytes of one of the files.
    pub fn file(&self, name: &str) -> Option<&[u8]> {
        let bytes = match name {
            DESIGN_FILE => &self.design,
            CARDS_FILE => &self.cards,
            name if name == self.premises_file => &self.premises,
            _ => &None,
        };
        bytes.as_deref()
    }

    /// The same with other bytes in one of the files; `None` where it is none of them.
    #[must_use]
    pub fn with_file(mut self, name: &str, bytes: Vec<u8>) -> Option<Self> {
        let own = match name {
            DESIGN_FILE => &mut self.design,
            CARDS_FILE => &mut self.cards,
            name if name == self.premises_file => &mut self.premises,
            _ => return None,
        };
        *own = Some(bytes);
        Some(self)
    }
}

/// The bytes of a file; `None` where there is none.
///
/// # Errors
/// A file that is there and cannot be read.
pub fn read_if_there(path: &Path) -> io::Result<Option<Vec<u8>>> {
    match project::read_bytes(path, LARGEST_BYTES) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}

/// Why a text was not replaced. It is as it was then.
#[derive(Debug, thiserror::Error)]
pub enum ReplaceError {
    /// Somebody else has written into it.
    #[error("`{0}` was changed meanwhile")]
    Changed(String),
    /// It cannot be written.
    #[error("`{file}` cannot be written: {error}")]
    Unwritable {
        /// The file.
        file: String,
        /// Why.
        #[source]
        error: io::Error,
    },
}

/// Replaces a text where it still holds what it did; `None` is a file that is not there.
///
/// The new text lies on the disk under another name before the old one is
/// looked at for the last time, so that what is left between look and rename
/// is a moment.
///
/// # Errors
/// [`ReplaceError`].
pub fn replace(
    folder: &Path,
    file: &str,
    (expected, new): (Option<&[u8]>, &[u8]),
) -> Result<(), ReplaceError> {
    let path = folder.join(file);
    let mut is_changed = false;
    let written = write_atomically_when(&path, new, || {
        is_changed = read_if_there(&path)?.as_deref() != expected;
        Ok(!is_changed)
    });
    match written {
        Ok(()) if is_changed => Err(ReplaceError::Changed(file.to_owned())),
        Ok(()) => Ok(()),
        Err(error) => Err(ReplaceError::Unwritable {
            file: file.to_owned(),
            error,
        }),
    }
}

/// Removes a text where it still holds what it did.
///
/// # Errors
/// [`ReplaceError`].
pub fn remove(folder: &Path, file: &str, expected: Option<&[u8]>) -> Result<(), ReplaceError> {
    let path = folder.join(file);
    let unwritable = |error| ReplaceError::Unwritable {
        file: file.to_owned(),
        error,
    };
    if read_if_there(&path).map_err(unwritable)?.as_deref() != expected {
        return Err(ReplaceError::Changed(file.to_owned()));
    }
    std::fs::remove_file(&path).map_err(unwritable)
}

/// A file as a look from outside shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// Path relative to the project folder.
    pub file: Arc<str>,
    /// Size.
    pub size_bytes: u64,
    /// When it was last written; `None` where the system does not tell.
    pub modified: Option<SystemTime>,
}

/// The files of a project but for results, as a look from outside shows them.
///
/// # Errors
/// A folder that cannot be listed.
pub fn stamps(folder: &Path) -> io::Result<Vec<Stamp>> {
    let files = project::list_files(folder)?;
    let stamp = |file: Arc<str>| {
        // A file that is gone by now shows at the next look.
        let data = folder.join(&*file).metadata().ok();
        Stamp {
            size_bytes: data.as_ref().map_or(0, std::fs::Metadata::len),
            modified: data.and_then(|data| data.modified().ok()),
            file,
        }
    };
    Ok(files.into_iter().map(stamp).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_text_that_somebody_else_changed_is_not_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(DESIGN_FILE);
        let read = || DesignTexts::read(folder.path()).expect("readable").design;
        assert_eq!(read(), None);
        replace(folder.path(), DESIGN_FILE, (None, b"one")).expect("it is written");
        assert!(matches!(
            replace(folder.path(), DESIGN_FILE, (None, b"two")),
            Err(ReplaceError::Changed(_))
        ));
        crate::write_atomically(&path, b"theirs").expect("it is written");
        assert!(matches!(
            replace(folder.path(), DESIGN_FILE, (Some(b"one"), b"two")),
            Err(ReplaceError::Changed(_))
        ));
        assert_eq!(read().as_deref(), Some(&b"theirs"[..]));
        replace(folder.path(), DESIGN_FILE, (Some(b"theirs"), b"two")).expect("it is written");
        assert_eq!(read().as_deref(), Some(&b"two"[..]));
        // Nothing temporary stays behind.
        let names = std::fs::read_dir(folder.path()).expect("a folder").count();
        assert_eq!(names, 1);
        assert_eq!(stamps(folder.path()).expect("listed")[0].size_bytes, 3);
    }
}
