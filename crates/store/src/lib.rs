//! The edge: project folders and foreign file formats.

mod atomic;
pub mod geotiff_out;
pub mod ground;
pub mod on_disk;
pub mod pattern_file;
pub mod project;
pub mod sampling;
pub mod shelf;
pub mod world;

pub use atomic::{remove_leftovers, write_atomically};
