//! A terrestrial line-of-sight hop: how often it fades, and for what reason.
//!
//! [`Multipath`] (clear air), [`RainFade`], [`clearance`] over obstacles under
//! bad refraction, [`RainCrossPolar`] for two polarizations on one channel, and
//! their sum, [`Unavailability`]. A fade depth is counted from the clear-air
//! level, that is free space and gases; the margin of a radio is what remains
//! of it over the threshold.
//!
//! Left out: selective fading and clear-air cross-polarization, wet snow,
//! diversity. The ITU's digital maps are not part of this crate: their values
//! at the path are inputs.
//!
//! Availability found here is a planning estimate; links on which safety
//! depends need the licensed practice and the service margins of their field.
//!
//! Source: ITU-R P.530-18 (09/2021).

mod cross_polar;
mod multipath;
mod obstruction;
mod rain;
mod unavailability;

pub use cross_polar::{CrossPolarRadio, DEFAULT_XPD_U0_DB, RainCrossPolar};
pub use multipath::{Geoclimate, Hop, Multipath, year_offset_db};
pub use obstruction::{
    Clearance, GroundClimate, MEDIAN_K, MEDIAN_RATIO, Obstacle, Obstruction, Ray,
    average_terrain_fade, clearance, least_k_factor,
};
pub use rain::{C0Reading, RainFade, RainHop, scaled_attenuation_db};
pub use unavailability::{Margins, Unavailability};
