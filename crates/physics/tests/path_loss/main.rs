//! Path loss, diffraction and the small formulas against the standards' own
//! data, closed forms and properties.

#![expect(
    clippy::print_stdout,
    reason = "a run prints the worst difference per column"
)]

mod closed_form;
mod data;
mod gas_and_rain;
mod p1812;
mod p452;
mod p452_properties;
mod p526;
mod properties;
mod synthetic;
