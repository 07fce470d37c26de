//! Profiles given by formulas, so that a check needs no file.

use physics::path_loss::{PathInput, Zone};

use crate::data::Profile;

/// Antenna heights above ground and distances to the coast come with it.
pub(crate) fn profile(case: &str) -> (Profile, f64, f64, (f64, f64)) {
    let inland = (PathInput::NO_COAST_KM, PathInput::NO_COAST_KM);
    match case {
        "A" => (spaced(100, 0.1, |_| 0.0), 30.0, 6.0, inland),
        "B" => (
            spaced(120, 0.1, |d| 100.0 * (-((d - 6.0) / 1.5f64).powi(2)).exp()),
            30.0,
            10.0,
            inland,
        ),
        "C" => {
            let mut flat = spaced(120, 0.1, |_| 0.0);
            flat.clutter_m[80..120].fill(15.0);
            (flat, 25.0, 4.0, inland)
        }
        "D" => (coastal(), 40.0, 15.0, (20.0, 10.0)),
        "E" => (
            spaced(100, 1.0, |d| {
                100.0 * (std::f64::consts::PI * d / 100.0).sin().powi(2)
            }),
            40.0,
            40.0,
            inland,
        ),
        other => panic!("no synthetic profile `{other}`"),
    }
}

/// Equal steps over inland ground without clutter.
pub(crate) fn spaced(steps: u32, step_km: f64, height_m: impl Fn(f64) -> f64) -> Profile {
    let d_km: Vec<f64> = (0..=steps).map(|i| f64::from(i) * step_km).collect();
    Profile {
        h_m: d_km.iter().map(|d| height_m(*d)).collect(),
        clutter_m: vec![0.0; d_km.len()],
        zone: vec![Zone::Inland; d_km.len()],
        d_km,
    }
}

fn coastal() -> Profile {
    let mut path = spaced(240, 0.25, |d| {
        40.0 + 30.0 * (d / 3.0).sin() + 20.0 * (d / 0.7).cos()
    });
    for i in 0..path.d_km.len() {
        path.zone[i] = match path.d_km[i] {
            d if d < 10.0 => Zone::Inland,
            d if !(20.0..50.0).contains(&d) => Zone::CoastalLand,
            _ => Zone::Sea,
        };
        if path.zone[i] == Zone::Sea {
            path.h_m[i] = 0.0;
        }
    }
    path
}
