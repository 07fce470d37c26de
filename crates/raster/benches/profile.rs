//! Time to read one profile of 5 km at 30 m (168 samples) from a UTM grid and
//! from a grid in degrees, with and without classes.
//!
//! `cargo bench -p mastwright-raster`
#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a measurement takes the time and prints it"
)]

use std::hint::black_box;
use std::time::Instant;

use geodesy::{Crs, LonLat, MapXy, direct};
use raster::{Affine, Georeference, Grid, Mosaic, Profile, ProfileTracer, Steps};

const SIDE: usize = 1600;
const PATHS: usize = 20_000;

fn grid(crs: &str, origin: MapXy, cell: f64) -> Mosaic {
    let affine = Affine::north_up(origin, cell, cell).expect("an affine");
    let crs = Crs::parse(crs).expect("a system");
    let cells = (0..SIDE * SIDE).map(|i| (i % 977) as f32).collect();
    let georeference = Georeference::new(crs, affine, SIDE, SIDE);
    Mosaic::new(vec![
        Grid::new(georeference, SIDE, SIDE, cells).expect("a grid"),
    ])
}

fn measure(name: &str, tracer: ProfileTracer<'_>) {
    let mast = LonLat::new(-117.5, 33.8).expect("a place");
    let ends: Vec<LonLat> = (0..PATHS)
        .map(|i| direct(mast, i as f64 * 0.018, 5_000.0))
        .collect();
    let mut profile = Profile::default();
    let mut best_us = f64::INFINITY;
    for _ in 0..5 {
        let start = Instant::now();
        for end in &ends {
            tracer.trace(mast, *end, Steps::AtMostM(30.0), &mut profile);
            black_box(&profile);
        }
        best_us = best_us.min(start.elapsed().as_secs_f64() * 1e6 / PATHS as f64);
    }
    println!(
        "{name}: {best_us:.2} us per path of {} samples, {} void",
        profile.len(),
        profile.void_samples
    );
}

fn main() {
    let utm = grid(
        "EPSG:32611",
        MapXy {
            x: 429_717.9,
            y: 3_764_093.1,
        },
        30.0,
    );
    let degrees = grid(
        "EPSG:4326",
        MapXy {
            x: -117.75,
            y: 34.02,
        },
        1.0 / 3600.0,
    );
    let lambert = grid(
        "+proj=lcc +lat_1=33 +lat_2=35 +lat_0=33.8 +lon_0=-117.5 +ellps=bessel +towgs84=577.3,90.1,463.9,5.1,1.5,5.3,2.4",
        MapXy {
            x: -24_000.0,
            y: 24_000.0,
        },
        30.0,
    );
    measure("UTM", ProfileTracer::new(&utm));
    measure(
        "UTM with classes in UTM",
        ProfileTracer::new(&utm).with_classes(&utm),
    );
    measure("degrees", ProfileTracer::new(&degrees));
    measure(
        "UTM with classes in degrees",
        ProfileTracer::new(&utm).with_classes(&degrees),
    );
    measure("Lambert on another datum", ProfileTracer::new(&lambert));
}
