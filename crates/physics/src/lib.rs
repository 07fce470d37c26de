//! Radio formulas as pure functions.

pub mod antenna;
pub mod building_entry;
pub mod clutter;
pub mod diffraction;
pub mod free_space;
pub mod fresnel;
pub mod gas;
pub mod hop;
pub mod inverse_normal;
pub mod levels;
pub mod mimo;
pub mod noise;
pub mod normal;
pub mod ofdma;
pub mod path_loss;
pub mod radio_power;
pub mod rain;
pub mod refractivity;
pub mod tdd;
pub mod terminal_clutter;
pub mod vegetation;
pub mod worst_month;

mod lanes;
mod ranges;
mod terrain;
