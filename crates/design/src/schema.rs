//! The files of a project folder as they are written.
//!
//! Each table mirrors what stands in the text: names are not looked up yet
//! and most keys may be absent. [`crate::read`] gives them their meaning.
//! The declarations here are also the JSON Schema, so a key cannot be read
//! without being documented.

mod backhaul;
mod cards;
mod climate;
mod design;
mod plans;

pub use backhaul::*;
pub use cards::*;
pub use climate::*;
pub use design::*;
pub use plans::*;
