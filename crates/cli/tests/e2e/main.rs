//! The built program from outside: what it prints, writes and says with its exit code.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "tests fail where something is not there, read what was written and say what they skip"
)]

mod answers;
mod bad_input;
mod buildings;
mod cache;
mod coverage;
mod graphics;
mod interruption;
mod program;
mod reference;
mod territory;
mod workspace;
