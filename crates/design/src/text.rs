//! A text file of the project and the places in it.

use std::ops::Range;
use std::sync::Arc;

use model::TextPlace;

/// A text file: its path relative to the project folder and its content.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SourceText {
    /// Path relative to the project folder, with `/`.
    pub file: Arc<str>,
    /// Content.
    pub text: String,
}

impl SourceText {
    /// A file of a name and a content.
    pub fn new(file: impl Into<Arc<str>>, text: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            text: text.into(),
        }
    }
}

/// Turns byte ranges of one text into places for people.
#[derive(Debug)]
pub(crate) struct Lines<'a> {
    file: Arc<str>,
    text: &'a str,
    starts: Vec<usize>,
}

/// Longest piece of offending text that a finding repeats.
const LONGEST_QUOTE_CHARS: usize = 60;

impl<'a> Lines<'a> {
    pub(crate) fn new(file: Arc<str>, text: &'a str) -> Self {
        let starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(at, _)| at + 1))
            .collect();
        Self { file, text, starts }
    }

    /// Line of a byte, counted from 1.
    pub(crate) fn line(&self, byte: usize) -> usize {
        self.starts.partition_point(|&start| start <= byte)
    }

    /// The place of a byte range, with its first line as the offending text.
    pub(crate) fn place(&self, span: Range<usize>) -> TextPlace {
        let start = self
            .text
            .floor_char_boundary(span.start.min(self.text.len()));
        let end = self.text.floor_char_boundary(span.end.min(self.text.len()));
        let line = self.line(start);
        let column = self.text[self.starts[line - 1]..start].chars().count() + 1;
        let quoted = self.text[start..end.max(start)]
            .lines()
            .next()
            .unwrap_or("");
        TextPlace {
            file: Arc::clone(&self.file),
            line,
            column,
            text: shorten(quoted.trim_end()),
        }
    }
}

/// A file as a whole.
pub(crate) fn file_place(file: &Arc<str>) -> TextPlace {
    TextPlace {
        file: Arc::clone(file),
        line: 0,
        column: 0,
        text: String::new(),
    }
}

/// The text, cut after a length that fits a message.
pub(crate) fn shorten(text: &str) -> String {
    match text.char_indices().nth(LONGEST_QUOTE_CHARS) {
        Some((cut, _)) => format!("{}…", &text[..cut]),
        None => text.to_owned(),
    }
}

/// The known name that is nearest to a written one, if any is near enough to be meant.
pub(crate) fn nearest<'n>(
    written: &str,
    known: impl IntoIterator<Item = &'n str>,
) -> Option<&'n str> {
    let lower = written.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::jaro_winkler(&lower, &name.to_lowercase()), name))
        .filter(|(likeness, _)| *likeness > 0.84)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// `did you mean …`, or the list of what is known.
pub(crate) fn suggestion<'n>(
    written: &str,
    known: impl IntoIterator<Item = &'n str> + Clone,
) -> String {
    if let Some(name) = nearest(written, known.clone()) {
        return format!("did you mean `{name}`?");
    }
    let names: Vec<_> = known.into_iter().map(|name| format!("`{name}`")).collect();
    if names.is_empty() {
        "there is none yet".to_owned()
    } else {
        format!("known here: {}", names.join(", "))
    }
}
