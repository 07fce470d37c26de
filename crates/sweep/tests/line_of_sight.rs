//! Line of sight against visibility data made by others.
//!
//! Source: the points are an exact sampling every 5 m over bilinear terrain,
//! the rasters those of GDAL 3.6.2's viewshed, which propagates a horizon plane
//! from cell to cell and draws no rays; both with the same two curvatures.

mod terrain;

use std::path::Path;

use raster::Mosaic;
use sweep::{Bearings, Clearance, Conditions, CoverageGrid, Ground, Target, Unwatched};

/// Equatorial radius that the visibility data use. \[km\]
const RADIUS_KM: f64 = 6378.137;

fn radius_km(cc: f64) -> f64 {
    if cc > 0.0 {
        RADIUS_KM / cc
    } else {
        f64::INFINITY
    }
}

struct Look<'a> {
    elevation: &'a Mosaic,
    mast: (f64, f64),
    cc: f64,
}

impl Look<'_> {
    /// Least clearance to the cells of a target. \[m\]
    fn clearance_m(&self, target: &Target, step_m: f64, bearings: Bearings) -> Vec<f32> {
        let request = CoverageGrid {
            mast: terrain::place(self.mast.0, self.mast.1),
            mast_ground_amsl_m: None,
            conditions: Conditions::median(3_600.0, 30.0, 6.0),
            target,
            radius_m: 15_100.0,
            step_m: Some(step_m),
            bearings,
            clearance: Clearance::SightOnly,
            threads: 2,
        };
        let ground = Ground {
            elevation: self.elevation,
            cover: None,
            canopy: None,
        };
        let sight = request.sight(ground, radius_km(self.cc), &Unwatched);
        sight
            .expect("the target lies on the terrain")
            .least_clearance_m
    }
}

#[test]
fn ref_points_of_the_visibility_data() {
    let Some(geodata) = terrain::geodata("line of sight to listed points") else {
        return;
    };
    let elevation = terrain::santa_ana(&geodata, "dem.tif");
    let text = read(&geodata.join("viewshed/los_points.csv"));
    let (mut worst_m, mut points, mut decided) = (0.0_f64, 0, 0);
    for line in text.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |i: usize| fields[i].parse::<f64>().unwrap();
        let (_, col, row) = *terrain::MASTS.iter().find(|m| m.0 == fields[0]).unwrap();
        let look = Look {
            elevation: &elevation,
            mast: (col, row),
            cc: number(1),
        };
        let target = Target {
            georeference: terrain::santa_ana_at(number(2), number(3), 1, 1),
            width: 1,
            height: 1,
        };
        // The data divide the length in the map into steps of at most 5 m; the
        // same number of steps on the ground meets the same places.
        let steps = (30.0 * (number(2) - col).hypot(number(3) - row) / 5.0 - 1e-9).ceil();
        let (from, to) = (
            terrain::place(col, row),
            terrain::place(number(2), number(3)),
        );
        let step_m = geodesy::inverse(from, to).distance_m / steps;
        let clearance_m = f64::from(look.clearance_m(&target, step_m, Bearings::Own)[0]);
        let expected_m = number(10);
        worst_m = worst_m.max((clearance_m - expected_m).abs());
        points += 1;
        if expected_m.abs() > 1.0 {
            decided += 1;
            assert_eq!(
                clearance_m >= 0.0,
                fields[9] == "1",
                "{line}: {clearance_m}"
            );
        }
    }
    println!(
        "{points} points, {decided} of them not grazing, clearance at most {worst_m:.2} m apart"
    );
    assert!(points > 3_000 && worst_m <= 0.3);
}

#[test]
fn ref_rasters_of_the_visibility_data() {
    let Some(geodata) = terrain::geodata("line of sight against rasters") else {
        return;
    };
    let elevation = terrain::santa_ana(&geodata, "dem.tif");
    for (name, col, row) in terrain::MASTS {
        for (cc, ending) in [(0.0, "cc0"), (0.75, "k43")] {
            let cells = terrain::cells(&geodata.join(format!("viewshed/{name}-{ending}.tif")));
            // The rasters have the mast in their middle.
            let target = Target {
                georeference: terrain::santa_ana_at(col - 500.0, row - 500.0, 1001, 1001),
                width: 1001,
                height: 1001,
            };
            let look = Look {
                elevation: &elevation,
                mast: (col, row),
                cc,
            };
            let clearance_m = look.clearance_m(&target, 30.0, Bearings::DEFAULT);
            let (mut same, mut compared) = (0, 0);
            for (visible, clearance_m) in cells.iter().zip(clearance_m) {
                if *visible != 255.0 && !clearance_m.is_nan() {
                    compared += 1;
                    same += usize::from((*visible == 1.0) == (clearance_m >= 0.0));
                }
            }
            let share = f64::from(u32::try_from(same).unwrap()) / f64::from(compared);
            println!(
                "{name} {ending}: {:.2} % of {compared} cells agree",
                100.0 * share
            );
            assert!(compared > 780_000 && share >= 0.98);
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    reason = "tests read the shared reference data"
)]
fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}
