//! Time of one ITU-R P.1812 or P.452 path by number of profile points, on one core.
//!
//! `cargo run --release -p mastwright-physics --example path_loss_speed`

#![expect(
    clippy::print_stdout,
    reason = "the table is the purpose of this program"
)]
#![expect(clippy::disallowed_methods, reason = "it measures time")]

use std::hint::black_box;
use std::time::Instant;

use physics::path_loss::{Model, PathInput, PathProfile, Zone};

/// Runs per measurement, and measurements of which the best counts.
const RUNS: u32 = 20_000;
const REPEATS: u32 = 7;

fn main() {
    println!(
        "{:>7} {:>14} {:>9} {:>9} {:>9} {:>16}",
        "points", "path", "check µs", "P.1812 µs", "P.452 µs", "with gas sum µs"
    );
    for points in [101u32, 301, 1001] {
        for (name, antenna_m, hill_m) in [("line of sight", 60.0, 0.0), ("hilly", 30.0, 60.0)] {
            let step_km = 10.0 / f64::from(points - 1);
            let d_km: Vec<f64> = (0..points).map(|i| f64::from(i) * step_km).collect();
            let h_m: Vec<f64> = d_km
                .iter()
                .map(|d| 100.0 + hill_m * (2.0 * d).sin() + 3.0 * (17.0 * d).cos())
                .collect();
            let clutter_m: Vec<f64> = (0..points).map(|i| f64::from(i % 7)).collect();
            let zone = vec![Zone::Inland; d_km.len()];
            let check = || PathProfile::new(black_box(&d_km), &h_m, &clutter_m, &zone);
            let Ok(profile) = check() else { return };
            let mut input = PathInput {
                tx_agl_m: antenna_m,
                rx_agl_m: antenna_m / 3.0,
                ..PathInput::median(profile, 5.8)
            };
            let check_us = microseconds(|| u8::from(check().is_ok()));
            let time_of = |model: Model, input: &PathInput<'_>| {
                microseconds(|| model.predict(black_box(input)).loss_db)
            };
            let p1812_us = time_of(Model::P1812, &input);
            let summed_us = time_of(Model::P452, &input);
            let gas = input.path_gas();
            input.gas = Some(&gas);
            let p452_us = time_of(Model::P452, &input);
            println!(
                "{points:>7} {name:>14} {check_us:>9.3} {p1812_us:>9.3} {p452_us:>9.3} {summed_us:>16.3}"
            );
        }
    }
}

/// Best mean time of a call. \[µs\]
fn microseconds<T>(mut f: impl FnMut() -> T) -> f64 {
    let once = |_| {
        let start = Instant::now();
        for _ in 0..RUNS {
            black_box(f());
        }
        start.elapsed().as_secs_f64() * 1e6 / f64::from(RUNS)
    };
    (0..REPEATS).map(once).fold(f64::INFINITY, f64::min)
}
