//! Loops over lanes, compiled for the widest vector instructions that the
//! machine has; the results are the same bits whatever they are.

/// Runs work that is one or more loops over plain arrays. What it calls must be
/// in line to be compiled for the same instructions.
#[inline(always)]
pub(super) fn wide<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}
