//! The only place that prints.

use std::io::{self, Write};

use serde::Serialize;

use crate::args::Global;

/// What the person wants to see.
#[derive(Debug)]
pub(crate) struct Console {
    /// One JSON document instead of text.
    pub(crate) json: bool,
    /// Nothing but what was asked for.
    pub(crate) quiet: bool,
    /// Threads to work with; 0 takes every core.
    pub(crate) threads: usize,
}

impl Console {
    pub(crate) fn new(global: &Global) -> Self {
        Self {
            json: global.json,
            quiet: global.quiet,
            threads: usize::from(global.threads),
        }
    }

    /// Whether anything may move on the screen while work goes on.
    pub(crate) fn is_lively(&self) -> bool {
        !self.json && !self.quiet
    }

    /// Text that was asked for.
    pub(crate) fn text(&self, text: &str) {
        if !self.json {
            out(text.as_bytes());
        }
    }

    /// Text beside what was asked for.
    pub(crate) fn remark(&self, text: &str) {
        if self.is_lively() {
            out(text.as_bytes());
        }
    }

    /// Bytes that were asked for, whatever the form.
    pub(crate) fn bytes(&self, bytes: &[u8]) {
        out(bytes);
    }

    /// The one document, where JSON was asked for.
    pub(crate) fn document(&self, document: &impl Serialize) -> anyhow::Result<()> {
        if self.json {
            let mut text = serde_json::to_string_pretty(document)?;
            text.push('\n');
            out(text.as_bytes());
        }
        Ok(())
    }

    /// A message that something went wrong.
    pub(crate) fn error(text: &str) {
        // Where not even this can be written there is nobody left to tell.
        let _ = anstream::stderr().write_all(text.as_bytes());
    }

    /// Columns of the terminal.
    pub(crate) fn width() -> usize {
        const WHERE_NOT_A_TERMINAL: usize = 100;
        terminal_size::terminal_size().map_or(WHERE_NOT_A_TERMINAL, |(width, _)| width.0.into())
    }
}

/// Writes to the standard output; colours are taken out where they would not show.
fn out(bytes: &[u8]) {
    let mut stdout = anstream::stdout().lock();
    let written = stdout.write_all(bytes).and_then(|()| stdout.flush());
    if let Err(error) = written
        && error.kind() != io::ErrorKind::BrokenPipe
    {
        Console::error(&format!("error: the output cannot be written: {error}\n"));
    }
}
