//! Loops compiled for the widest vector instructions that the machine has.
//!
//! The compiler never joins a product and a sum into one rounding, nor does it
//! reorder a sum: results are the same bits whatever the instructions.

/// Runs work that is one or more loops over plain arrays. What it calls must be
/// in line to be compiled for the same instructions.
#[inline(always)]
pub(crate) fn wide<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}
