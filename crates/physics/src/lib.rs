//! Radio formulas as pure functions.

pub mod antenna;
pub mod levels;
