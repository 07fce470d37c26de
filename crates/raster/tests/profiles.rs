//! Profiles against the exact way, and the rules of sampling.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail the test")]

use geodesy::{Crs, LonLat, MapXy, direct, inverse};
use proptest::prelude::*;
use raster::{Affine, Cell, CellXy, Georeference, Grid, Mosaic, Profile, ProfileTracer, Steps};

fn place(lon_deg: f64, lat_deg: f64) -> LonLat {
    LonLat::new(lon_deg, lat_deg).unwrap()
}

/// A grid whose value is its own column (or row), so that a profile gives
/// back the position it was read at.
fn ramp(crs: &Crs, centre: LonLat, cell: f64, by_col: bool) -> Grid {
    const SIDE: usize = 3000;
    let half = cell * SIDE as f64 / 2.0;
    let MapXy { x, y } = crs.to_map(centre).unwrap();
    let origin = MapXy {
        x: x - half,
        y: y + half,
    };
    let affine = Affine::north_up(origin, cell, cell).unwrap();
    let cells = (0..SIDE * SIDE)
        .map(|i| if by_col { i % SIDE } else { i / SIDE } as f32)
        .collect();
    Grid::new(
        Georeference::new(crs.clone(), affine, SIDE, SIDE),
        SIDE,
        SIDE,
        cells,
    )
    .unwrap()
}

/// Largest distance, in cells, between where the tracer reads and where the
/// geodesic exactly is.
fn worst_position_cells(crs: &Crs, start: LonLat, end: LonLat, cell: f64) -> f64 {
    let path = inverse(start, end);
    let middle = path.point_at(path.distance_m / 2.0);
    let mut profile = Profile::default();
    let mut worst: f64 = 0.0;
    for by_col in [true, false] {
        let mosaic = Mosaic::new(vec![ramp(crs, middle, cell, by_col)]);
        ProfileTracer::new(&mosaic).trace(start, end, Steps::Samples(401), &mut profile);
        assert_eq!(profile.void_samples, 0);
        for (i, value) in profile.elevation_amsl_m.iter().enumerate() {
            let at = path.point_at(profile.distance_m(i));
            let exact = mosaic.grids()[0].georeference().to_cell(at).unwrap();
            // A ramp's bilinear value is its coordinate less half a cell.
            let exact = if by_col { exact.col } else { exact.row } - 0.5;
            worst = worst.max((value - exact).abs());
        }
    }
    worst
}

/// A hundredth of a cell would already be 0.3 m; a thousandth is asked for.
const TOLERANCE_CELLS: f64 = 1e-3;

#[test]
fn exact_curve_follows_the_geodesic() {
    for (name, crs, start, azimuth_deg, length_m, cell) in [
        (
            "UTM",
            "EPSG:32611",
            place(-117.5, 33.8),
            30.0,
            5_000.0,
            30.0,
        ),
        (
            "UTM, 1 m cells",
            "EPSG:32611",
            place(-117.5, 33.8),
            100.0,
            2_000.0,
            1.0,
        ),
        (
            "UTM far from its meridian",
            "EPSG:32611",
            place(-112.0, 47.0),
            77.0,
            60_000.0,
            30.0,
        ),
        (
            "degrees",
            "EPSG:4326",
            place(8.5, 48.0),
            123.0,
            70_000.0,
            1.0 / 1200.0,
        ),
        (
            "degrees at 79 north",
            "EPSG:4326",
            place(15.0, 79.0),
            85.0,
            19_990.0,
            1.0 / 1200.0,
        ),
        (
            "across the antimeridian",
            "EPSG:4326",
            place(179.9, -16.5),
            80.0,
            40_000.0,
            1.0 / 1200.0,
        ),
        (
            "Austrian Lambert",
            "EPSG:31287",
            place(11.4, 47.3),
            290.0,
            19_000.0,
            10.0,
        ),
        (
            "Albers",
            "EPSG:5070",
            place(-113.6, 43.9),
            10.0,
            40_000.0,
            30.0,
        ),
        (
            "state plane in feet",
            "EPSG:2242",
            place(-113.6, 43.9),
            200.0,
            15_000.0,
            30.0,
        ),
    ] {
        let end = direct(start, azimuth_deg, length_m);
        let worst = worst_position_cells(&Crs::parse(crs).unwrap(), start, end, cell);
        assert!(worst < TOLERANCE_CELLS, "{name}: {worst} cells");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn exact_curve_follows_any_geodesic(
        lon_deg in -180.0..180.0_f64,
        lat_deg in -70.0..70.0_f64,
        azimuth_deg in 0.0..360.0_f64,
        length_m in 10.0..40_000.0_f64,
    ) {
        let start = place(lon_deg, lat_deg);
        let plane = geodesy::WorkingPlane::for_place(start).unwrap();
        let end = direct(start, azimuth_deg, length_m);
        let worst = worst_position_cells(plane.crs(), start, end, 30.0);
        prop_assert!(worst < TOLERANCE_CELLS, "{worst} cells");
    }

    #[test]
    fn exact_samples_are_at_equal_steps_with_both_ends(length_m in 0.0..50_000.0_f64, step_m in 1.0..500.0_f64) {
        let (start, mosaic) = (place(8.0, 48.0), Mosaic::default());
        let end = direct(start, 45.0, length_m);
        let mut profile = Profile::default();
        ProfileTracer::new(&mosaic).trace(start, end, Steps::AtMostM(step_m), &mut profile);
        prop_assert!(profile.len() >= 2);
        prop_assert!(profile.spacing_m <= step_m * (1.0 + 1e-6));
        prop_assert!((profile.distance_m(profile.len() - 1) - profile.length_m).abs() < 1e-6);
        prop_assert_eq!(profile.void_samples, profile.len());
        // One step fewer would be too long.
        prop_assert!(profile.len() == 2 || profile.length_m / (profile.len() - 2) as f64 > step_m);
    }
}

fn small(cells: [f32; 9]) -> Grid {
    let affine = Affine::north_up(MapXy { x: 8.0, y: 48.0 }, 0.1, 0.1).unwrap();
    let georeference = Georeference::new(Crs::wgs84(), affine, 3, 3);
    Grid::new(georeference, 3, 3, cells.to_vec()).unwrap()
}

#[test]
fn exact_bilinear_rules() {
    let v = f32::NAN;
    let grid = small([1.0, 2.0, 3.0, 4.0, v, 6.0, 7.0, 8.0, 9.0]);
    let at = |col, row| grid.bilinear_at(CellXy { col, row });
    // On a centre the void neighbour weighs nothing.
    assert_eq!(at(0.5, 0.5), 1.0);
    assert_eq!(at(2.5, 2.5), 9.0);
    // Between two centres only these two count.
    assert_eq!(at(1.0, 0.5), 1.5);
    assert_eq!(at(0.5, 1.25), 3.25);
    // Next to the void, outside, and in the outer half cell: unknown.
    for (col, row) in [
        (1.0, 1.0),
        (1.5, 1.5),
        (0.2, 0.5),
        (2.9, 2.9),
        (-1.0, 0.5),
        (4.0, 1.0),
        (f64::NAN, 1.0),
    ] {
        assert!(at(col, row).is_nan(), "{col} {row}");
    }
    let whole = small([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]);
    assert_eq!(
        whole.bilinear_at(CellXy {
            col: 1.25,
            row: 0.75
        }),
        1.75 + 0.75
    );
}

#[test]
fn exact_nearest_cell() {
    let grid = small([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]);
    assert_eq!(
        grid.cell_at(place(8.05, 47.95)),
        Some(Cell { col: 0, row: 0 })
    );
    assert_eq!(grid.nearest(place(8.299, 47.701)), 9.0);
    assert!(grid.nearest(place(8.31, 47.9)).is_nan());
    assert!(grid.nearest(place(-170.0, 47.9)).is_nan());
}

#[test]
fn exact_first_grid_with_data_wins() {
    let v = f32::NAN;
    let first = small([1.0, 1.0, 1.0, 1.0, v, 1.0, 1.0, 1.0, 1.0]);
    let second = small([2.0; 9]);
    let mosaic = Mosaic::new(vec![first, second]);
    assert_eq!(mosaic.grids().len(), 1);
    assert_eq!(mosaic.class(place(8.15, 47.85)), Some(2));
    assert_eq!(mosaic.class(place(8.05, 47.85)), Some(1));
    assert_eq!(mosaic.class(place(9.05, 47.85)), None);
}

#[test]
fn exact_tiles_in_different_systems() {
    let here = place(8.15, 47.85);
    let utm = Crs::from_epsg(32_632).unwrap();
    let far = ramp(&utm, place(9.5, 47.0), 10.0, true);
    let mosaic = Mosaic::new(vec![small([5.0; 9]), far]);
    assert_eq!(mosaic.grids().len(), 2);
    assert_eq!(mosaic.bilinear(here), 5.0);
    assert!(mosaic.bilinear(place(9.5, 47.0)) > 1000.0);
    let mut profile = Profile::default();
    let tracer = ProfileTracer::new(&mosaic).with_classes(&mosaic);
    tracer.trace(here, place(9.5, 47.0), Steps::AtMostM(500.0), &mut profile);
    assert_eq!(profile.elevation_amsl_m[0], 5.0);
    assert_eq!(profile.class.len(), profile.len());
    assert!(profile.void_samples > 10 && profile.void_samples < profile.len() - 10);
}

/// A tile with its columns east of 180 degrees joins one west of -180.
#[test]
fn exact_tiles_join_across_the_antimeridian() {
    let tile = |west_deg: f64, value: f32| {
        let affine = Affine::north_up(
            MapXy {
                x: west_deg,
                y: -16.0,
            },
            0.1,
            0.1,
        )
        .unwrap();
        let georeference = Georeference::new(Crs::wgs84(), affine, 3, 3);
        Grid::new(georeference, 3, 3, vec![value; 9]).unwrap()
    };
    let mosaic = Mosaic::new(vec![tile(179.7, 10.0), tile(-180.0, 20.0)]);
    assert_eq!(mosaic.grids().len(), 1);
    let on_the_line = mosaic.bilinear(place(180.0, -16.15));
    assert!((on_the_line - 15.0).abs() < 1e-6, "{on_the_line}");
}

#[test]
fn exact_shapes_that_are_no_grid() {
    assert!(Affine::north_up(MapXy { x: 0.0, y: 0.0 }, 0.0, 1.0).is_err());
    assert!(
        Affine::north_up(
            MapXy {
                x: f64::NAN,
                y: 0.0
            },
            1.0,
            1.0
        )
        .is_err()
    );
    let affine = Affine::north_up(MapXy { x: 0.0, y: 0.0 }, 1.0, 1.0).unwrap();
    let georeference = || Georeference::new(Crs::wgs84(), affine, 2, 2);
    assert!(Grid::new(georeference(), 2, 2, vec![0.0; 3]).is_err());
    assert!(Grid::new(georeference(), 0, 2, vec![]).is_err());
    assert!(Grid::new(georeference(), usize::MAX, 2, vec![]).is_err());
}
