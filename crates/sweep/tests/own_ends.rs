//! Paths that share a radial but for their own last samples, over real terrain.

#![expect(clippy::unwrap_used, reason = "a test fails where its data are broken")]

mod terrain;

use geodesy::{Crs, LonLat, direct};
use physics::path_loss::Zone;
use raster::{CellXy, Mosaic, Profile, ProfileTracer, Steps};
use sweep::{
    Bearings, CentreLatitude, Clearance, Conditions, Cover, CoverClasses, Coverage, CoverageGrid,
    Ground, OWN_SAMPLES, OwnEnd, Radial, Receiver, Target, Unwatched,
};

/// Radius of the sweeps. \[m\]
const RADIUS_M: f64 = 12_000.0;

/// A sweep with own ends from a mast on a ridge.
fn request(target: &Target, bearings: Bearings, clearance: Clearance) -> CoverageGrid<'_> {
    CoverageGrid {
        mast: terrain::place(664.0, 895.0),
        mast_ground_amsl_m: None,
        conditions: Conditions::median(3_600.0, 30.0, 6.0),
        target,
        radius_m: RADIUS_M,
        step_m: Some(30.0),
        bearings,
        clearance,
        threads: 2,
    }
}

const OWN_ENDS: Bearings = Bearings::OwnEnds { per_rim_cell: 1.0 };

fn target(cell_m: f64) -> Target {
    let mast = terrain::place(664.0, 895.0);
    Target::around(mast, &Crs::from_epsg(32_611).unwrap(), cell_m, RADIUS_M).unwrap()
}

/// Rasters of a test.
struct Rasters {
    elevation: Mosaic,
    cover: Mosaic,
    classes: CoverClasses,
}

impl Rasters {
    fn ground(&self) -> Ground<'_> {
        Ground {
            elevation: &self.elevation,
            cover: Some((&self.cover, &self.classes)),
            canopy: None,
        }
    }

    /// What the general profile tracer finds at equal steps, both ends included.
    fn traced(&self, from: LonLat, to: LonLat, steps: usize) -> (Vec<f64>, Vec<Cover>) {
        let mut profile = Profile::default();
        ProfileTracer::new(&self.elevation)
            .with_classes(&self.cover)
            .trace(from, to, Steps::Samples(steps + 1), &mut profile);
        let class = |i: usize| profile.class.get(i).copied().flatten();
        let cover = |i: usize| match class(i) {
            Some(code) => self.classes.of(code as f32),
            None => Cover {
                height_m: 0.0,
                zone: Zone::Inland,
            },
        };
        let covers = (0..=steps).map(cover).collect();
        (profile.elevation_amsl_m, covers)
    }

    /// The loss to a cell by the scalar model, on a path put together here.
    fn reference_db(&self, request: &CoverageGrid<'_>, radials: usize, place: LonLat) -> f64 {
        let whole = geodesy::inverse(request.mast, place);
        let steps = (whole.distance_m / 30.0 - 1e-9).ceil() as usize;
        let d_km = whole.distance_m / 1e3;
        let (own_m, own_cover) = self.traced(request.mast, place, steps);
        let from = steps - OWN_SAMPLES;
        let own = OwnEnd {
            step_km: d_km / steps as f64,
            ground_amsl_m: std::array::from_fn(|i| own_m[from + i]),
            clutter_m: std::array::from_fn(|i| own_cover[from + i].height_m),
            zone: std::array::from_fn(|i| own_cover[from + i].zone),
        };
        let apart_deg = 360.0 / radials as f64;
        let azimuth_deg = (whole.azimuth_deg / apart_deg).round() * apart_deg;
        let end = direct(request.mast, azimuth_deg, 30.0 * steps as f64);
        let (ground_amsl_m, covers) = self.traced(request.mast, end, steps);
        let radial = Radial {
            step_km: 0.03,
            ground_amsl_m,
            clutter_m: covers.iter().map(|c| c.height_m).collect(),
            zone: covers.iter().map(|c| c.zone).collect(),
            centre: CentreLatitude::new(request.mast.lat_deg(), azimuth_deg),
        };
        let receiver = Receiver {
            d_km,
            ground_amsl_m: own_m[steps],
            clutter_m: own_cover[steps].height_m,
            zone: own_cover[steps].zone,
        };
        let terms = radial.reference(&receiver, Some(&own), &request.conditions);
        terms.unwrap().combination.lb_db
    }
}

/// One raster of each, or each twice over, which nothing but the general sampler reads.
fn rasters(what: &str, times: usize) -> Option<Rasters> {
    let geodata = terrain::geodata(what)?;
    let overlapping = |file: &str| {
        let one = terrain::santa_ana(&geodata, file);
        Mosaic::new(vec![one.grids()[0].clone(); times])
    };
    Some(Rasters {
        elevation: overlapping("dem.tif"),
        cover: overlapping("fbfm40.tif"),
        classes: terrain::classes(),
    })
}

/// Worst of the differences of two layers, which know the same cells.
fn worst_apart(one: &[f32], other: &[f32]) -> f64 {
    let both = one.iter().zip(other);
    let apart = both.map(|(a, b)| {
        assert_eq!(a.is_nan(), b.is_nan());
        f64::from((a - b).abs())
    });
    apart.filter(|d| !d.is_nan()).fold(0.0, f64::max)
}

#[test]
fn exact_own_ends_are_the_path_of_the_profile_tracer() {
    let Some(rasters) = rasters("own ends over real terrain", 1) else {
        return;
    };
    let target = target(300.0);
    let request = request(&target, OWN_ENDS, Clearance::SightOnly);
    let swept = request.sweep(rasters.ground(), &Unwatched).unwrap();
    let (mut worst_db, mut paths) = (0.0_f64, 0);
    for (cell, loss_db) in swept.loss_db.iter().enumerate() {
        let (col, row) = (cell % swept.width, cell / swept.width);
        let at = CellXy {
            col: col as f64 + 0.5,
            row: row as f64 + 0.5,
        };
        let place = target.georeference.to_lonlat(at).unwrap();
        // Nearer cells have a path of their own all along.
        let d_m = geodesy::inverse(request.mast, place).distance_m;
        if loss_db.is_nan() || d_m < 1_000.0 {
            continue;
        }
        let reference_db = rasters.reference_db(&request, swept.radials, place);
        worst_db = worst_db.max((reference_db - f64::from(*loss_db)).abs());
        paths += 1;
    }
    println!("{paths} paths, at most {worst_db:.1e} dB apart");
    assert!(paths > 4_500);
    // A tenth of a millimetre of place, where the loss turns steepest 20 dB a metre.
    assert!(worst_db < 1e-3, "{worst_db}");
}

#[test]
fn exact_own_ends_of_overlapping_rasters_and_asked_one_by_one() {
    let (Some(one), Some(two)) = (rasters("own ends", 1), rasters("own ends", 2)) else {
        return;
    };
    let target = target(120.0);
    let sweep = |rasters: &Rasters, clearance| -> Coverage {
        let request = request(&target, OWN_ENDS, clearance);
        request.sweep(rasters.ground(), &Unwatched).unwrap()
    };
    let together = sweep(&one, Clearance::SightOnly);
    let alone = sweep(&one, Clearance::Told);
    // Single precision of layers of some 200 dB.
    assert!(worst_apart(&together.loss_db, &alone.loss_db) < 2e-5);
    for (sight, ratio) in together.clearance_ratio.iter().zip(&alone.clearance_ratio) {
        assert_eq!(*sight > 0.0, *ratio > 0.0);
    }
    let careful = sweep(&two, Clearance::SightOnly);
    assert!(worst_apart(&together.loss_db, &careful.loss_db) < 1e-3);
}

/// The bound is what was measured 12 km around this mast, with clutter and what stands for
/// the sea (0.53 dB), with a fifth more.
#[test]
fn exact_own_ends_bring_shared_radials_near_to_own_bearings() {
    let Some(rasters) = rasters("own ends against own bearings", 1) else {
        return;
    };
    let target = target(60.0);
    let sweep = |bearings| {
        let request = request(&target, bearings, Clearance::SightOnly);
        request.sweep(rasters.ground(), &Unwatched).unwrap()
    };
    let own = sweep(Bearings::Own);
    let rms_db = [0.5, 1.0, 2.0].map(|cells| {
        let ends = sweep(Bearings::OwnEnds {
            // Of cells of 30 m.
            per_rim_cell: 2.0 * cells,
        });
        assert_eq!(ends.answered_cells, own.answered_cells);
        let both = own.loss_db.iter().zip(&ends.loss_db);
        let squares = both.map(|(a, b)| f64::from(a - b).powi(2));
        let sum: f64 = squares.filter(|s| !s.is_nan()).sum();
        (sum / own.answered_cells as f64).sqrt()
    });
    println!("1/2, 1, 2 radials a rim cell: {rms_db:.2?} dB rms from own bearings");
    assert!(rms_db[1] < 0.64, "{rms_db:?}");
    assert!(rms_db[0] > rms_db[1] && rms_db[1] > rms_db[2], "{rms_db:?}");
}
