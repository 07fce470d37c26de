//! Tables of one array of the design (`[[mast]]`, `[[sector]]`) as blocks of
//! text that can be put in and taken out.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::sectors::syntax;
use super::{Splice, WriteError, spliced};

/// The blocks of one array.
pub(super) struct Blocks<'t> {
    text: &'t str,
    ids: Vec<String>,
    /// From the line of the header to where the next block's own comments begin.
    ranges: Vec<Range<usize>>,
}

impl<'t> Blocks<'t> {
    /// Finds the blocks of an array.
    pub(super) fn read(text: &'t str, array: &'static str) -> Result<Self, WriteError> {
        let document = DeTable::parse(text).map_err(|error| syntax(&error, text))?;
        let mut blocks = Self {
            text,
            ids: Vec::new(),
            ranges: Vec::new(),
        };
        let Some(written) = document.get_ref().get(array) else {
            return Ok(blocks);
        };
        for table in written.get_ref().as_array().into_iter().flatten() {
            let at = table.span().start;
            let Some(keys) = table.get_ref().as_table() else {
                continue;
            };
            if text[at..].starts_with('{') {
                return Err(WriteError::InlineTable(array));
            }
            let id = keys.get("id").and_then(|id| id.get_ref().as_str());
            blocks.ids.push(id.unwrap_or_default().to_owned());
            let last = keys.values().map(|value| value.span().end).max();
            let start = line_start(text, at);
            let end = block_end(text, last.unwrap_or(at).max(at), at);
            blocks.ranges.push(start..end);
        }
        let is_array = matches!(written.get_ref(), DeValue::Array(_));
        if is_array && text[written.span().start..].starts_with('[') && blocks.ids.is_empty() {
            // `sector = []`: a header of that name could not stand beside it.
            return Err(WriteError::InlineTable(array));
        }
        Ok(blocks)
    }

    /// Place of the block of an id.
    pub(super) fn find(&self, id: &str) -> Option<usize> {
        self.ids.iter().position(|own| own == id)
    }

    /// The text without a block. Comments above its header stay: they may be
    /// about more than this block.
    pub(super) fn remove(&self, index: usize) -> Result<String, WriteError> {
        let range = self.ranges[index].clone();
        Ok(spliced(
            self.text,
            vec![Splice {
                range,
                text: String::new(),
            }],
        ))
    }

    /// The text with a block at a place among the others; behind the last it
    /// goes to the end of them, without any to the end of the text.
    pub(super) fn insert(&self, index: usize, block: &str) -> Result<String, WriteError> {
        let newline = newline_of(self.text);
        let (at, text) = match self.ranges.get(index) {
            Some(next) => {
                let at = comments_start(self.text, next.start);
                (at, format!("{block}{newline}"))
            }
            None => {
                let end = self.ranges.last().map_or(self.text.len(), |last| last.end);
                let before = &self.text[..end];
                let gap = if before.trim().is_empty() {
                    String::new()
                } else if !before.ends_with('\n') {
                    format!("{newline}{newline}")
                } else if blank_before(before) {
                    String::new()
                } else {
                    newline.to_owned()
                };
                let after = if end < self.text.len() { newline } else { "" };
                (end, format!("{gap}{block}{after}"))
            }
        };
        Ok(spliced(
            self.text,
            vec![Splice {
                range: at..at,
                text,
            }],
        ))
    }
}

/// Whether a text that ends in a line end has a blank line before it.
fn blank_before(text: &str) -> bool {
    let mut lines = text.lines().rev();
    lines.next().is_some_and(|line| line.trim().is_empty())
}

fn line_start(text: &str, at: usize) -> usize {
    text[..at].rfind('\n').map_or(0, |newline| newline + 1)
}

/// Where the next header's own comments begin, or the end of the text.
///
/// * `last`: end of the block's last value. `header`: a place in its header.
fn block_end(text: &str, last: usize, header: usize) -> usize {
    let mut at = last;
    let mut first = true;
    for line in text[last..].split_inclusive('\n') {
        // The rest of the last value's line, or of the header's where the block has no value.
        let is_header = line.trim_start().starts_with('[') && !(first && last == header);
        if is_header && !first {
            return comments_start(text, at);
        }
        first = false;
        at += line.len();
    }
    text.len()
}

/// Where the lines of comment directly above a line begin.
fn comments_start(text: &str, line: usize) -> usize {
    let mut start = line;
    while start > 0 {
        let above = line_start(text, start - 1);
        if !text[above..start].trim_start().starts_with('#') {
            break;
        }
        start = above;
    }
    start
}

/// The line end that a text uses.
pub(super) fn newline_of(text: &str) -> &'static str {
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

/// A text as TOML writes it.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
