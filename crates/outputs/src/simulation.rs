//! Sectors simulated frame by frame, as a table on the screen, for spreadsheets, and as a chart.

mod chart;
mod tables;
mod text;

pub use chart::delays_svg;
pub use tables::{simulated_classes_csv, simulated_premises_csv};
pub use text::simulation_text;
