//! The edge: project folders and foreign file formats.

pub mod ground;
pub mod pattern_file;
