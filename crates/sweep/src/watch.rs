//! How a sweep is watched and stopped from outside.

/// Watches a sweep and may stop it.
pub trait Watch: Sync {
    /// This many more cells are done.
    fn advance(&self, cells: usize);
    /// Whether the work should stop soon.
    fn interrupted(&self) -> bool;
}

/// Nobody watches.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn advance(&self, _cells: usize) {}
    fn interrupted(&self) -> bool {
        false
    }
}
