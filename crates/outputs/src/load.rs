//! The sectors' load as tables and charts.

mod charts;
mod tables;
mod text;

pub(crate) use charts::{DIRECTIONS, airtime_strips, growth_panels, legend};
pub use charts::{airtime_svg, growth_svg, rates_svg};
pub(crate) use charts::{class_colour, font};
pub(crate) use tables::table;
pub use tables::{customers_csv, growth_csv, room_csv, sectors_csv};
pub use text::load_text;
