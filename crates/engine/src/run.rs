//! How long work is watched and stopped from outside.

/// Watches long work and may stop it.
pub trait Progress: Sync {
    /// A stage of `total` items begins.
    fn begin(&self, stage: &'static str, total: usize);
    /// `items` more are done.
    fn advance(&self, items: usize);
    /// Whether the work should stop soon.
    fn interrupted(&self) -> bool;
}

/// No watcher: runs to the end.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Progress for Unwatched {
    fn begin(&self, _stage: &'static str, _total: usize) {}
    fn advance(&self, _items: usize) {}
    fn interrupted(&self) -> bool {
        false
    }
}

/// How a piece of work is run. The result never depends on it.
#[derive(Clone, Copy)]
pub struct RunControl<'a> {
    /// Who watches.
    pub progress: &'a dyn Progress,
    /// Threads; 0 takes as many as the machine has.
    pub threads: usize,
}

impl std::fmt::Debug for RunControl<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("RunControl")
            .field("threads", &self.threads)
            .finish_non_exhaustive()
    }
}

impl RunControl<'_> {
    /// Every core, nobody watching.
    pub fn unwatched() -> Self {
        Self {
            progress: &Unwatched,
            threads: 0,
        }
    }

    pub(crate) fn begin(&self, stage: &'static str, total: usize) {
        self.progress.begin(stage, total);
    }

    pub(crate) fn advance(&self, items: usize) {
        self.progress.advance(items);
    }

    pub(crate) fn interrupted(&self) -> bool {
        self.progress.interrupted()
    }

    /// Runs `work` on this control's threads.
    pub(crate) fn install<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        // A pool that cannot be built (no threads to be had) falls back to the
        // process-wide one, which changes the time only.
        match rayon::ThreadPoolBuilder::new()
            .num_threads(self.threads)
            .build()
        {
            Ok(pool) => pool.install(work),
            Err(_) => work(),
        }
    }
}

/// The work was stopped from outside before it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before the end; nothing was written")]
pub struct Interrupted;
