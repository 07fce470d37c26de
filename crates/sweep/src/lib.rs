//! Coverage by radials.
mod conditions;
mod hull;
pub mod kernel;
mod radial;

pub use conditions::Conditions;
pub use kernel::{Follow, Kernel, Reception};
pub use radial::{CentreLatitude, Radial, Receiver};
