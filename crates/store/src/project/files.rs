//! Files of a folder: which there are, and their bytes.

use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use model::{Finding, Severity, TextPlace};
use pipeline::design::SourceText;

use super::{RESULTS_FOLDER, file_place};

/// Largest text that a person writes.
pub(super) const LARGEST_TEXT_BYTES: u64 = 16 << 20;
/// Largest table of premises.
pub(super) const LARGEST_TABLE_BYTES: u64 = 1 << 30;
/// Folders within folders that are looked into.
const DEEPEST: usize = 8;
/// Files that are listed.
const MOST_FILES: usize = 100_000;

/// Paths of the folder's files, relative to it, with `/`, in rising order.
/// Results, hidden files and what lies too deep are left out.
pub(super) fn list(folder: &Path, findings: &mut Vec<Finding>) -> io::Result<Vec<Arc<str>>> {
    let mut files = Vec::new();
    let mut folders = vec![(String::new(), 0)];
    while let Some((within, depth)) = folders.pop() {
        let entries = match std::fs::read_dir(folder.join(&within)) {
            Ok(entries) => entries,
            Err(error) if within.is_empty() => return Err(error),
            Err(error) => {
                findings.push(
                    Finding::new(
                        Severity::Warning,
                        "unreadable-file",
                        format!("folder `{within}` cannot be read: {error}"),
                    )
                    .at(file_place(&within)),
                );
                continue;
            }
        };
        for entry in entries.flatten() {
            let name = entry.file_name();
            let Some(name) = name.to_str().filter(|name| !name.starts_with('.')) else {
                continue;
            };
            let path = if within.is_empty() {
                name.to_owned()
            } else {
                format!("{within}/{name}")
            };
            // A link to a folder or file counts as what it leads to; depth bounds a circle.
            match entry.path().metadata() {
                Ok(data) if data.is_dir() && path != RESULTS_FOLDER && depth < DEEPEST => {
                    folders.push((path, depth + 1));
                }
                Ok(data) if data.is_file() => files.push(Arc::from(path)),
                _ => {}
            }
        }
        if files.len() > MOST_FILES {
            findings.push(
                Finding::new(
                    Severity::Warning,
                    "too-many-files",
                    format!(
                        "the folder holds more than `{MOST_FILES}` files; the rest is not seen"
                    ),
                )
                .hint("give the project a folder of its own"),
            );
            break;
        }
    }
    files.sort();
    Ok(files)
}

/// The bytes of a file that is not larger than a bound.
#[expect(
    clippy::disallowed_methods,
    reason = "`store` is where files are opened"
)]
pub(super) fn read(path: &Path, largest_bytes: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)?
        .take(largest_bytes + 1)
        .read_to_end(&mut bytes)?;
    if bytes.len() as u64 > largest_bytes {
        let message = format!("it is larger than {} MiB", largest_bytes >> 20);
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, message));
    }
    Ok(bytes)
}

/// The text of a file; where it is not UTF-8, as far as it can be read, with a finding.
pub(super) fn decode(file: &str, bytes: Vec<u8>) -> (SourceText, Option<Finding>) {
    let error = match String::from_utf8(bytes) {
        Ok(text) => return (SourceText::new(file, text), None),
        Err(error) => error,
    };
    let valid = error.utf8_error().valid_up_to();
    let bytes = error.as_bytes();
    let (what, hint) = match bytes {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => ("is UTF-16", "save it as UTF-8"),
        _ => (
            "is not UTF-8",
            "save it as UTF-8, in a spreadsheet as `CSV UTF-8`; until then letters beyond ASCII are lost",
        ),
    };
    let finding = Finding::new(Severity::Error, "encoding", format!("`{file}` {what}"))
        .at(TextPlace {
            line: bytes[..valid].iter().filter(|b| **b == b'\n').count() + 1,
            ..file_place(file)
        })
        .hint(hint);
    let text = String::from_utf8_lossy(bytes).into_owned();
    (SourceText::new(file, text), Some(finding))
}
