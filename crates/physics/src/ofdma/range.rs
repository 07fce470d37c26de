//! How far a terminal may be before its uplink no longer fits the gap.

use super::OfdmaNumerology;
use crate::tdd::{guard_range_km, light_path_km};

/// Terminal's receive-to-transmit turn in the system profile (memory). \[µs\]
pub const TERMINAL_TURN_US: f64 = 50.0;

/// Largest cell radius the downlink-to-uplink gap allows, `c·(TTG − SSRTG)/2`. \[km\]
///
/// * `idle_symbols`: symbols left empty at the end of the downlink (or the start
///   of the uplink) to lengthen the gap.
#[must_use]
pub fn max_range_km(numerology: &OfdmaNumerology, idle_symbols: u32) -> f64 {
    let gap_us = numerology.ttg_us() + f64::from(idle_symbols) * numerology.symbol_time_us();
    guard_range_km(gap_us, TERMINAL_TURN_US)
}

/// Path difference of an echo that the cyclic prefix still absorbs. \[km\]
#[must_use]
pub fn echo_range_km(numerology: &OfdmaNumerology) -> f64 {
    light_path_km(numerology.guard_time_us())
}

/// Distance from which a synchronised base's downlink tail falls into another's
/// uplink: a path as long as the gap. \[km\]
#[must_use]
pub fn base_to_base_range_km(numerology: &OfdmaNumerology) -> f64 {
    light_path_km(numerology.ttg_us())
}
