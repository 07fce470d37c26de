//! Design text to model and back.
//!
//! * [`schema`]: the files as they are written, and their JSON Schema.
//! * [`read`]: all files of a project folder to a [`model::Network`] and
//!   everything that is wrong with them. This crate opens no file: it gets
//!   texts and tables in a [`ProjectSources`].
//! * [`catalogue`]: the equipment cards, air interfaces, rule sets and
//!   legends that ship inside the program.
//! * [`check`]: rules over the whole network.
//! * [`mod@write`]: edits back into the text, comments and layout untouched.
//! * [`minimal_design`]: the files that a new project starts from.

pub mod catalogue;
pub mod check;
pub mod climate_grid;
mod minimal;
mod premises_table;
mod resolve;
pub mod schema;
mod schema_json;
mod sources;
mod text;
mod unit;
pub mod write;
mod written;

pub use climate_grid::{ClimateGrid, ClimateQuantity};
pub use minimal::minimal_design;
pub use premises_table::{
    PREMISES_COLUMNS, PremisesRow, PremisesTable, check_header, premises_from_csv,
};
pub use resolve::read;
pub use schema_json::schema_json;
pub use sources::{PatternTable, ProjectSources, climate_map_files, pattern_files};
pub use text::SourceText;
pub use written::{At, Names, Pair, Ratio};
