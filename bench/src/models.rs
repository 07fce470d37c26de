//! Microseconds of one path by each model and number of profile points, and
//! of one call of the short formulas, on one core.

use std::hint::black_box;
use std::time::Instant;

use anyhow::Context;
use physics::gas::{Air, specific_attenuation};
use physics::hop::{C0Reading, Geoclimate, Hop, Multipath, RainFade, RainHop};
use physics::path_loss::{Model, PathInput, PathProfile, Polarization, Zone};
use physics::rain::RainLaw;

use crate::Figure;

/// Time of one measurement; the best of many counts, so that a machine that
/// is busy with other things spoils a few of them and not the figure.
const ONE_S: f64 = 0.01;
const MEASUREMENTS: usize = 40;

/// Points of the profile, and what a path may take. \[µs\]
/// The Irregular Terrain Model: no more than its reference program on a
/// comparable core. P.1812 and P.452: a quarter of a reference program of P.452.
const GOALS: [(usize, f64, f64); 3] = [(101, 1.8, 3.0), (301, 3.8, 4.5), (1001, 7.4, 10.0)];

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let mut figures = Vec::new();
    for (points, itm_us, clear_air_us) in GOALS {
        for terrain in Terrain::ALL {
            let ground = terrain.profile(points);
            let profile = ground.borrow().context("the profile")?;
            let gas = terrain.input(profile).path_gas();
            let input = PathInput {
                // A study prepares the gases once for all its paths.
                gas: Some(&gas),
                ..terrain.input(profile)
            };
            for (name, model, goal_us) in [
                ("p1812", Model::P1812, clear_air_us),
                ("p452", Model::P452, clear_air_us),
                ("itm", Model::ALL[2], itm_us),
            ] {
                let us = microseconds(|| model.predict(black_box(&input)).loss_db);
                let figure = format!("model_{name}_{points}{}_us", terrain.suffix());
                figures.push(Figure::at_most(&figure, us, "µs", goal_us));
            }
        }
    }
    figures.extend(gases()?);
    figures.extend(short_formulas());
    Ok(figures)
}

/// Two kinds of path, 10 km each.
#[derive(Clone, Copy)]
enum Terrain {
    /// Hills between low antennas: diffraction has to be walked for.
    Hilly,
    /// Gentle ground below high antennas.
    InSight,
}

struct Ground {
    d_km: Vec<f64>,
    h_m: Vec<f64>,
    clutter_m: Vec<f64>,
    zone: Vec<Zone>,
}

impl Ground {
    fn borrow(&self) -> Result<PathProfile<'_>, physics::path_loss::ProfileError> {
        PathProfile::new(&self.d_km, &self.h_m, &self.clutter_m, &self.zone)
    }
}

impl Terrain {
    const ALL: [Self; 2] = [Self::Hilly, Self::InSight];

    fn suffix(self) -> &'static str {
        match self {
            Self::Hilly => "",
            Self::InSight => "_los",
        }
    }

    fn profile(self, points: usize) -> Ground {
        let hill_m = match self {
            Self::Hilly => 60.0,
            Self::InSight => 0.0,
        };
        let step_km = 10.0 / (points - 1) as f64;
        let d_km: Vec<f64> = (0..points).map(|i| i as f64 * step_km).collect();
        let height = |d: &f64| 100.0 + hill_m * (2.0 * d).sin() + 3.0 * (17.0 * d).cos();
        Ground {
            h_m: d_km.iter().map(height).collect(),
            clutter_m: (0..points).map(|i| (i % 7) as f64).collect(),
            zone: vec![Zone::Inland; points],
            d_km,
        }
    }

    fn input(self, profile: PathProfile<'_>) -> PathInput<'_> {
        let antenna_m = match self {
            Self::Hilly => 30.0,
            Self::InSight => 60.0,
        };
        PathInput {
            tx_agl_m: antenna_m,
            rx_agl_m: antenna_m / 3.0,
            ..PathInput::median(profile, 5.8)
        }
    }
}

/// What the gases cost P.452: to prepare them for all paths of a frequency, or
/// a single path whose lines are summed.
fn gases() -> anyhow::Result<Vec<Figure>> {
    let ground = Terrain::Hilly.profile(101);
    let input = Terrain::Hilly.input(ground.borrow().context("the profile")?);
    let prepared = || {
        let gas = black_box(&input).path_gas();
        gas.on_path(0.0).total_db_per_km()
    };
    let summed = || Model::P452.predict(black_box(&input)).loss_db;
    Ok(vec![
        Figure::plain("model_gas_prepared_us", microseconds(prepared), "µs"),
        Figure::plain("model_p452_101_gas_summed_us", microseconds(summed), "µs"),
    ])
}

fn short_formulas() -> Vec<Figure> {
    let air = Air {
        dry_pressure_hpa: 1013.25,
        temperature_k: 288.15,
        vapour_g_per_m3: 7.5,
    };
    let gas = || specific_attenuation(black_box(60.0), &air).total_db_per_km();
    let rain = || RainLaw::inclined(black_box(28.0), 10.0, 45.0).attenuation_db_per_km(42.0);
    let hop = Hop {
        d_km: 20.0,
        f_ghz: 18.0,
        tx_amsl_m: 120.0,
        rx_amsl_m: 90.0,
        mean_terrain_amsl_m: 40.0,
    };
    let geoclimate = Geoclimate::Maps {
        log_k: -4.2,
        dn75: 40.0,
    };
    let rain_hop = RainHop {
        d_km: 20.0,
        f_ghz: 18.0,
        polarization: Polarization::Vertical,
        rain001_mm_per_h: 42.0,
    };
    let hop_fade = || {
        let rain = RainFade::of(black_box(&rain_hop), C0Reading::default());
        Multipath::of(black_box(&hop), &geoclimate).fade_pct(30.0) + rain.exceeded_pct(30.0)
    };
    let clutter = || physics::terminal_clutter::terrestrial(black_box(28.0), 1.0, 50.0).l_ctt_db;
    vec![
        Figure::plain("model_p676_lines_us", microseconds(gas), "µs"),
        Figure::plain("model_p838_us", microseconds(rain), "µs"),
        Figure::plain("model_p530_us", microseconds(hop_fade), "µs"),
        Figure::plain("model_p2108_terrestrial_us", microseconds(clutter), "µs"),
    ]
}

/// Best mean time of a call. \[µs\]
fn microseconds(mut work: impl FnMut() -> f64) -> f64 {
    let mut run = |calls: usize| {
        let start = Instant::now();
        (0..calls).for_each(|_| {
            black_box(work());
        });
        start.elapsed().as_secs_f64() / calls as f64
    };
    let calls = (ONE_S / run(1000)).clamp(100.0, 1e7) as usize;
    let best_s = (0..MEASUREMENTS)
        .map(|_| run(calls))
        .fold(f64::INFINITY, f64::min);
    1e6 * best_s
}
