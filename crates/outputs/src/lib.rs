//! Out of the door: results become bytes in open formats. No file is touched
//! here; whoever calls writes what it is given.
//!
//! * [`Handout`]: what every exporter is given.
//! * [`layers`]: the tables behind all of them, one list of columns each; a
//!   field has the same name in every format.
//! * [`geopackage`], [`vector_geojson`], [`kml`], [`ledger_csv`], [`json`]: for
//!   the engineer's other programs.
//! * [`report`]: one page for people, with the map ([`relief`]) and the
//!   cross-sections ([`section_svg`]) drawn into it.
//! * [`coverage`]: a finished grid as pictures, outlines, an overlay for a globe, figures.
//! * [`section_text`], [`mod@budget_text`], [`mod@opinion_text`]: one path in a terminal.
//! * [`web_map`]: relief, land cover and grids for a map page.
//! * [`load`]: the sectors' load as tables and charts; [`simulation`]: the same frame by frame.
//! * [`mod@format`]: numbers to text.

pub mod budget_text;
mod consequence;
pub mod coverage;
pub mod format;
pub mod geopackage;
mod handout;
pub mod json;
pub mod kml;
pub mod layers;
pub mod ledger_csv;
pub mod load;
mod map;
mod mark;
pub mod opinion_text;
pub mod relief;
pub mod report;
mod section;
pub mod section_svg;
pub mod section_text;
pub mod simulation;
mod study_files;
pub mod vector_geojson;
pub mod web_map;
mod wedge;

pub use budget_text::budget_text;
pub use consequence::{consequence_html, consequence_text};
pub use handout::{CAUTION, Handout, OutputError, TextStyle, worst_links};
pub use opinion_text::opinion_text;
pub use section::obstacle as obstacle_text;
pub use section_svg::cross_section_svg;
pub use section_text::cross_section_text;
pub use study_files::{study_file_meaning, study_files};
pub use wedge::width_deg as sector_width_deg;
