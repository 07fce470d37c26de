//! Radio formulas as pure functions.
