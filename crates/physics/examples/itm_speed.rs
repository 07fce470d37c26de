//! Time of one path of the Irregular Terrain Model by number of profile
//! points, on one core.
//!
//! `cargo run --release -p mastwright-physics --example itm_speed`

#![expect(
    clippy::print_stdout,
    reason = "the table is the purpose of this program"
)]
#![expect(clippy::disallowed_methods, reason = "it measures time")]

use std::hint::black_box;
use std::time::Instant;

use physics::path_loss::Polarization;
use physics::path_loss::itm::{Link, Settings, Terrain, point_to_point};

/// Runs per measurement, and measurements of which the best counts.
const RUNS: u32 = 20_000;
const REPEATS: u32 = 7;

fn main() {
    println!(
        "{:>7} {:>14} {:>8} {:>13}",
        "points", "path", "loss µs", "mode"
    );
    for points in [101u32, 301, 1001] {
        for (name, length_m, hill_m) in [
            ("line of sight", 10e3, 0.0),
            ("hilly", 10e3, 60.0),
            ("long", 100e3, 60.0),
        ] {
            let spacing_m = length_m / f64::from(points - 1);
            let h_m: Vec<f64> = (0..points)
                .map(|i| f64::from(i) * spacing_m / 1e3)
                .map(|d_km| 100.0 + hill_m * (2.0 * d_km).sin() + 3.0 * (17.0 * d_km).cos())
                .collect();
            let link = Link {
                tx_agl_m: 30.0,
                rx_agl_m: 10.0,
                f_mhz: 5800.0,
                polarization: Polarization::Vertical,
                n0: 301.0,
                time_pct: 90.0,
                location_pct: 50.0,
            };
            let terrain = Terrain {
                h_m: &h_m,
                spacing_m,
            };
            let settings = Settings::default();
            let terms = point_to_point(&terrain, &link, &settings);
            let us =
                microseconds(|| point_to_point(black_box(&terrain), black_box(&link), &settings));
            println!(
                "{points:>7} {name:>14} {us:>8.3} {:>13}",
                terms.prop_mode.word()
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
