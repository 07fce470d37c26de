//! How a simulation is watched and stopped from outside.

/// Watches a simulation and may stop it.
pub trait Watch: Sync {
    /// This many more frames are done.
    fn advance(&self, frames: u64);
    /// Whether the work should stop soon.
    fn interrupted(&self) -> bool;
}

/// Nobody watches.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn advance(&self, _frames: u64) {}
    fn interrupted(&self) -> bool {
        false
    }
}
