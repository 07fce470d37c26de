//! Own-bearing coverage on a graphics processor: the loss of the path drawn to
//! each cell's own centre, the whole of ITU-R P.1812-8.
//!
//! `Gpu` is a [`sweep::GridSweeper`] beside the processor: it takes the same
//! requests, and hands those that it is not made for (shared bearings, terrain
//! of several grids, canopy heights) on to the processor, saying why.
//!
//! With the feature `device` alone; without it the crate is empty.
//!
//! # How
//!
//! One invocation walks one path, once; between its horizons a second time
//! where ducting may count. Nothing of a profile is stored: terrain is a texture
//! of which four cells are gathered for each sample. The derivations are those
//! of `sweep`, turned so that single precision is enough: heights stand over the straight
//! line between the antennas, in which every slope, clearance and surface can be written
//! without a difference of large numbers. Where a sample lies is told
//! by two numbers of which the first is exact; they come from the polynomials of
//! [`sweep::tables`], worked out once for each path in double precision, so that
//! a sample falls into the same cell of the land cover as it does for the processor.
//!
//! # How near
//!
//! Bare ground: within 0.002 dB of the processor. With land cover: within 0.05 dB, but
//! for some cells in a hundred thousand where a sample falls on the border of two
//! classes, or two tie for a horizon, and rounding says which counts; these may be as far
//! apart as the two classes are. `tests/agreement.rs` holds it to that.

#[cfg(feature = "device")]
mod adapter;
#[cfg(feature = "device")]
mod constants;
#[cfg(feature = "device")]
mod layers;
#[cfg(feature = "device")]
mod memory;
#[cfg(feature = "device")]
mod pieces;
#[cfg(feature = "device")]
mod run;

#[cfg(feature = "device")]
pub use adapter::{Adapters, Gpu, NoGpu};
#[cfg(feature = "device")]
pub use run::GpuError;
