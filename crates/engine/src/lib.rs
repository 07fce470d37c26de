//! What happens: pure evaluation of a network.
//!
//! The way through: [`surroundings`] gives the ground between two places
//! ([`mapped_ground`] from rasters),
//! [`path`] its loss and clearance, [`matrix`] does so for every mast and
//! premises, [`radio`] makes sectors and terminals ready ([`compliance`] first),
//! [`link`] adds up a budget, [`availability`] says how often fading lets it hold, [`interference`] what disturbs it,
//! [`adaptation`] what it can carry, [`service`] who serves whom,
//! [`load`] how full a sector is, [`timing`] who transmits while another listens, [`mod@simulation`] what a load means frame by frame, [`verdict`] what holds a premises back,
//! [`hop`] what carries the masts' load to the core,
//! and [`mod@study`] puts it together; [`coverage`] asks the same of every cell of the territory; [`explain`] takes one link apart, [`mod@compare`] puts two studies side by side. Nothing here opens a file, prints or asks
//! the time.

pub mod adaptation;
pub mod availability;
pub mod buildings;
pub mod compare;
pub mod compliance;
pub mod coupling;
pub mod coverage;
pub mod explain;
pub mod frame;
pub mod hop;
pub mod interference;
pub mod link;
pub mod load;
pub mod mapped_ground;
pub mod matrix;
pub mod near_end;
pub mod path;
pub mod polarization;
pub mod radio;
pub mod run;
pub mod second_opinion;
pub mod service;
pub mod simulation;
pub mod study;
pub mod surroundings;
pub mod timing;
pub mod verdict;
pub mod woodland;

pub use physics::levels;
pub use run::{Interrupted, Progress, RunControl};
pub use study::{StudyResult, study};
pub use surroundings::{CrossSection, DataSource, Surroundings};
