//! Long work watched: a bar on the terminal, and Ctrl-C.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use pipeline::engine::{Interrupted, Progress};

use crate::console::Console;
use crate::exit::Exit;

static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Lets Ctrl-C end the work in good order; a second one ends it at once.
pub(crate) fn catch_interrupts() {
    let caught = ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::Relaxed) {
            // Files are written whole or not at all, so nothing is lost.
            std::process::exit(i32::from(Exit::Interrupted.code()));
        }
    });
    // Without a handler Ctrl-C ends the program at once, which also loses nothing.
    drop(caught);
}

/// An error where the person has asked to stop.
pub(crate) fn stop_if_interrupted() -> Result<(), Interrupted> {
    if INTERRUPTED.load(Ordering::Relaxed) {
        Err(Interrupted)
    } else {
        Ok(())
    }
}

/// A bar with an estimate, where there is a terminal to show it.
pub(crate) struct Watch {
    bar: Mutex<ProgressBar>,
    is_shown: bool,
}

impl Watch {
    pub(crate) fn new(console: &Console) -> Self {
        Self {
            bar: Mutex::new(ProgressBar::hidden()),
            is_shown: console.is_lively(),
        }
    }

    fn with_bar(&self, act: impl FnOnce(&mut ProgressBar)) {
        if let Ok(mut bar) = self.bar.lock() {
            act(&mut bar);
        }
    }
}

impl Progress for Watch {
    fn begin(&self, stage: &'static str, total: usize) {
        if !self.is_shown {
            return;
        }
        let style = ProgressStyle::with_template(
            "{msg:8} {bar:40} {pos}/{len}  {elapsed} gone, {eta} to go",
        );
        let target = ProgressDrawTarget::stderr();
        let new = ProgressBar::with_draw_target(Some(total as u64), target)
            .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
            .with_message(stage);
        self.with_bar(|bar| {
            bar.finish_and_clear();
            *bar = new;
        });
    }

    fn advance(&self, items: usize) {
        self.with_bar(|bar| bar.inc(items as u64));
    }

    fn interrupted(&self) -> bool {
        INTERRUPTED.load(Ordering::Relaxed)
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.with_bar(|bar| bar.finish_and_clear());
    }
}
