//! Coverage by radials.
mod azimuthal;
mod conditions;
pub mod coverage;
mod fast;
mod ground;
mod hull;
pub mod kernel;
mod radial;
mod watch;

pub use azimuthal::OutOfMap;
pub use conditions::Conditions;
pub use coverage::{Bearings, Clearance, Coverage, CoverageGrid, Sight, SweepError, Target};
pub use ground::{Cover, CoverClasses, Ground};
pub use kernel::{Follow, Kernel, Reception};
pub use radial::{CentreLatitude, Radial, Receiver};
pub use watch::{Unwatched, Watch};
