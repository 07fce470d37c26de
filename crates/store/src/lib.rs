//! The edge: project folders and foreign file formats.
