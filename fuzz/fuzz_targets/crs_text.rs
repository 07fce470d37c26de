//! Any text as a reference system: an error or a system that answers.
#![no_main]

use geodesy::{Crs, LonLat};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let Ok(crs) = Crs::parse(text) else { return };
    let Ok(place) = LonLat::new(9.5, 47.2) else { return };
    if let Ok(at) = crs.to_map(place) {
        let _ = crs.to_lonlat(at);
    }
});
