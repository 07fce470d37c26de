//! Paths per second on one core: profile from real rasters, then P.1812 with
//! every term, the way a study evaluates a premises.

use std::hint::black_box;
use std::time::Instant;

use anyhow::Context;
use engine::mapped_ground::{LandCover, MappedGround};
use engine::path::{PathConditions, PathEnd, PathEvaluator};
use engine::{CrossSection, Surroundings};
use geodesy::LonLat;
use model::settings::{ModelChoice, PropagationSettings};
use store::ground::{OpenOptions, RasterFile};

use crate::Figure;

/// Middle of the terrain: paths leave it in every direction.
const CENTRE: (f64, f64) = (-117.5, 33.8);

/// Least time spent on one figure, so that it is steady.
const LEAST_S: f64 = 1.0;

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let Some(shared) = tests::shared_dir() else {
        println!("path: left out, the shared reference data is not here");
        return Ok(Vec::new());
    };
    let geodata = shared.join("geodata/santa-ana");
    let read = |file: &str, options: &OpenOptions| {
        let mut raster = RasterFile::open(&geodata.join(file), options)?;
        anyhow::Ok(raster::Mosaic::new(vec![raster.read_all()?.grid]))
    };
    let clutter = pipeline::design::catalogue::built_in()
        .legends
        .get("fbfm40")
        .context("the legend ships with the program")?;
    let ground = MappedGround::new(
        read("dem.tif", &OpenOptions::elevation())?,
        Some(LandCover {
            classes: read("fbfm40.tif", &OpenOptions::classes())?,
            clutter: clutter.as_ref().clone(),
        }),
    );
    let mut figures = Vec::new();
    for (length_km, target) in [(1.0, None), (5.0, Some(30_000.0)), (20.0, None)] {
        let name = format!("path_{length_km}km_per_s_core");
        let rate = rate_per_s(&ground, length_km);
        figures.push(match target {
            Some(target) => Figure::at_least(&name, rate, "paths/s", target),
            None => Figure::plain(&name, rate, "paths/s"),
        });
        figures.push(Figure::plain(
            &format!("path_{length_km}km_profile_us"),
            trace_us(&ground, length_km),
            "µs",
        ));
    }
    Ok(figures)
}

fn settings() -> PropagationSettings {
    PropagationSettings {
        service_model: ModelChoice::P1812,
        interference_model: ModelChoice::P1812,
        time_pct: 50.0,
        interference_time_pct: 50.0,
        refractivity_lapse_n_per_km: 45.0,
        surface_refractivity_n: 325.0,
        location_area_m: 100.0,
        model_error_db: 0.0,
        profile_step_m: None,
        reach_km: 50.0,
        interference_reach_km: 50.0,
    }
}

fn far_end(length_km: f64, turn: usize) -> LonLat {
    // The golden angle spreads the directions evenly whatever their number.
    let azimuth_deg = (turn as f64 * 137.507_764).rem_euclid(360.0);
    geodesy::direct(centre(), azimuth_deg, length_km * 1e3)
}

fn centre() -> LonLat {
    LonLat::new(CENTRE.0, CENTRE.1).expect("a place on Earth")
}

/// Calls `work` with a rising number until the time is up; calls per second.
fn per_s(mut work: impl FnMut(usize)) -> f64 {
    (0..256).for_each(&mut work);
    let start = Instant::now();
    let mut done = 0;
    loop {
        (done..done + 256).for_each(&mut work);
        done += 256;
        let elapsed_s = start.elapsed().as_secs_f64();
        if elapsed_s > LEAST_S {
            return done as f64 / elapsed_s;
        }
    }
}

fn trace_us(ground: &MappedGround, length_km: f64) -> f64 {
    let mut section = CrossSection::default();
    1e6 / per_s(|turn| {
        ground.trace(centre(), far_end(length_km, turn), Some(30.0), &mut section);
        black_box(&section);
    })
}

fn rate_per_s(ground: &MappedGround, length_km: f64) -> f64 {
    let conditions = PathConditions::wanted(&settings());
    let mut section = CrossSection::default();
    let mut evaluator = PathEvaluator::default();
    let end = |position, agl_m| PathEnd {
        position,
        agl_m,
        ground_amsl_m: None,
    };
    let from = end(centre(), 30.0);
    per_s(|turn| {
        let to = end(far_end(length_km, turn), 6.0);
        ground.trace(from.position, to.position, Some(30.0), &mut section);
        let path = evaluator.evaluate(&section, (&from, &to), 3620.0, &conditions);
        black_box(&path)
            .as_ref()
            .expect("the terrain has no voids here");
    })
}
