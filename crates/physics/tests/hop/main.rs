//! ITU-R P.530-18 against values of its reference program, worked by hand, and
//! what must hold for every hop.

#![expect(
    clippy::print_stdout,
    reason = "a run prints the worst difference per column"
)]

#[path = "../path_loss/data.rs"]
#[expect(dead_code, reason = "profiles and fixtures are for the path models")]
mod data;
mod properties;
mod reference;
