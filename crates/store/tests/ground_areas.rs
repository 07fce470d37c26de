//! Real terrain and land cover against GDAL: spots and profiles.
//!
//! Source of all expected values: GDAL 3.6.2, PROJ 9.5 and pyproj (README of
//! the shared geodata).
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "helpers of tests fail the test and print what was compared"
)]

mod ground_data;

use std::path::PathBuf;

use geodesy::{LonLat, LonLatBox, MapXy};
use ground_data::{Row, shared, table};
use raster::{Grid, Mosaic, Profile, ProfileTracer, Steps};
use store::ground::{OpenOptions, RasterFile, open_mosaic};

const TOLERANCE_M: f64 = 0.01;

fn whole(file: &str, options: &OpenOptions) -> Option<Grid> {
    let path = shared(&format!("geodata/{file}"))?;
    Some(
        RasterFile::open(&path, options)
            .unwrap()
            .read_all()
            .unwrap()
            .grid,
    )
}

fn place(row: &Row) -> LonLat {
    LonLat::new(row.number("lon").unwrap(), row.number("lat").unwrap()).unwrap()
}

/// Spots by longitude and latitude.
fn check_spots(raster: &str, spots: &str) {
    let Some(grid) = whole(raster, &OpenOptions::elevation()) else {
        return;
    };
    let Some(path) = shared(&format!("geodata/{spots}")) else {
        return;
    };
    let (mut compared, mut worst) = (0, 0.0_f64);
    for row in table(&path) {
        let (bilinear, nearest) = (grid.bilinear(place(&row)), grid.nearest(place(&row)));
        let context = format!("{spots} {}", row.text("id"));
        match row.number("nearest") {
            Some(value) => assert!(
                (f64::from(nearest) - value).abs() < 0.001,
                "{context} {nearest} {value}"
            ),
            None => assert!(nearest.is_nan(), "{context} {nearest}"),
        }
        match (row.number("bilinear"), row.text("valid4")) {
            (Some(value), "4") => {
                worst = worst.max((bilinear - value).abs());
                compared += 1;
            }
            // One of the four cells is void: GDAL makes do with the others,
            // we say unknown, except where the void ones weigh nothing.
            (Some(value), _) => assert!(
                bilinear.is_nan() || (bilinear - value).abs() < TOLERANCE_M,
                "{context} {bilinear} {value}"
            ),
            // The centre of a cell at the border: the three that are missing
            // weigh nothing.
            (None, _) => assert!(
                bilinear.is_nan() || (bilinear - f64::from(nearest)).abs() < TOLERANCE_M,
                "{context} {bilinear}"
            ),
        }
    }
    println!("{spots}: {compared} spots, worst {worst:.6} m");
    assert!(
        compared > 10 && worst < TOLERANCE_M,
        "{spots}: {compared}, {worst}"
    );
}

#[test]
fn ref_spots() {
    check_spots("black-forest/N48E008.hgt", "black-forest/spots.csv");
    check_spots("jacksboro/jacksboro.tif", "jacksboro/spots.csv");
    check_spots("liechtenstein/N47E009.hgt", "liechtenstein/spots.csv");
    check_spots("lolo-landscape/example_lcp.tif", "lolo-landscape/spots.csv");
    check_spots("mackay/mackay.tif", "mackay/spots.csv");
    check_spots("santa-ana/dem.tif", "santa-ana/spots.csv");
    check_spots("sao-miguel/eu_dem_v11.tif", "sao-miguel/spots.csv");
}

/// In the Austrian grid by map coordinates: the datum shift has its own test.
#[test]
fn ref_spots_in_the_austrian_grid() {
    for (raster, spots) in [
        ("avaKot.asc", "spots.csv"),
        ("avaAlr.tif", "spots_avaAlr.csv"),
    ] {
        let Some(grid) = whole(&format!("tirol-lcc/{raster}"), &OpenOptions::elevation()) else {
            return;
        };
        let Some(path) = shared(&format!("geodata/tirol-lcc/{spots}")) else {
            return;
        };
        let mut compared = 0;
        for row in table(&path) {
            let map = MapXy {
                x: row.number("x").unwrap(),
                y: row.number("y").unwrap(),
            };
            let bilinear = grid.bilinear_at(grid.georeference().map_to_cell(map));
            if let (Some(value), "4") = (row.number("bilinear"), row.text("valid4")) {
                assert!(
                    (bilinear - value).abs() < TOLERANCE_M,
                    "{spots} {} {bilinear} {value}",
                    row.text("id")
                );
                compared += 1;
            }
        }
        println!("tirol-lcc/{spots}: {compared} spots");
        assert!(compared > 8);
    }
}

/// Profiles by the tracer, from the end points alone.
fn check_profiles(area: &str, raster: &str) {
    let Some(grid) = whole(&format!("{area}/{raster}"), &OpenOptions::elevation()) else {
        return;
    };
    let Some(folder) = shared(&format!("geodata/{area}")) else {
        return;
    };
    let mosaic = Mosaic::new(vec![grid]);
    let samples = table(&folder.join("profiles.csv"));
    let mut profile = Profile::default();
    let (mut compared, mut worst) = (0, 0.0_f64);
    for ends in table(&folder.join("profile_endpoints.csv")) {
        let end = |lon: &str, lat: &str| {
            LonLat::new(ends.number(lon).unwrap(), ends.number(lat).unwrap()).unwrap()
        };
        let rows: Vec<&Row> = samples
            .iter()
            .filter(|r| r.text("profile") == ends.text("profile"))
            .collect();
        let tracer = ProfileTracer::new(&mosaic);
        tracer.trace(
            end("lon1", "lat1"),
            end("lon2", "lat2"),
            Steps::Samples(rows.len()),
            &mut profile,
        );
        assert!((profile.length_m - ends.number("length_m").unwrap()).abs() < 0.02);
        assert!((profile.azimuth_deg - ends.number("azimuth1_deg").unwrap()).abs() < 2e-4);
        assert!((profile.spacing_m - ends.number("spacing_m").unwrap()).abs() < 0.001);
        for (i, row) in rows.iter().enumerate() {
            assert!((profile.distance_m(i) - row.number("dist_m").unwrap()).abs() < 0.02);
            let elevation_m = profile.elevation_amsl_m[i];
            let context = format!("{area} {} {i}", ends.text("profile"));
            match (row.number("elev_bilinear"), row.text("valid4")) {
                (Some(value), "4") => {
                    worst = worst.max((elevation_m - value).abs());
                    compared += 1;
                    assert!(
                        (elevation_m - value).abs() < TOLERANCE_M,
                        "{context}: {elevation_m} {value}"
                    );
                }
                (Some(value), _) => assert!(
                    elevation_m.is_nan() || (elevation_m - value).abs() < TOLERANCE_M,
                    "{context}: {elevation_m} {value}"
                ),
                (None, _) => assert!(elevation_m.is_nan(), "{context}: {elevation_m}"),
            }
        }
    }
    println!("{area}: {compared} profile samples, worst {worst:.6} m");
    assert!(compared > 100);
}

#[test]
fn ref_profiles() {
    check_profiles("black-forest", "N48E008.hgt");
    check_profiles("jacksboro", "jacksboro.tif");
    check_profiles("liechtenstein", "N47E009.hgt");
    check_profiles("lolo-landscape", "example_lcp.tif");
    check_profiles("mackay", "mackay.tif");
    check_profiles("santa-ana", "dem.tif");
    check_profiles("sao-miguel", "eu_dem_v11.tif");
}

/// Austrian profiles by their map coordinates.
#[test]
fn ref_profiles_in_the_austrian_grid() {
    let Some(grid) = whole("tirol-lcc/avaKot.asc", &OpenOptions::elevation()) else {
        return;
    };
    let Some(path) = shared("geodata/tirol-lcc/profiles.csv") else {
        return;
    };
    let mut compared = 0;
    for row in table(&path) {
        let map = MapXy {
            x: row.number("x").unwrap(),
            y: row.number("y").unwrap(),
        };
        let bilinear = grid.bilinear_at(grid.georeference().map_to_cell(map));
        if let (Some(value), "4") = (row.number("elev_bilinear"), row.text("valid4")) {
            // The x and y columns have 4 decimals; the ground is steep.
            assert!((bilinear - value).abs() < TOLERANCE_M, "{bilinear} {value}");
            compared += 1;
        }
    }
    println!("tirol-lcc: {compared} profile samples");
    assert!(compared > 100);
}

/// Classes of the cell at each spot; `void` is the class that the file itself
/// declares as no data.
fn check_classes(raster: &str, spots: &str, column: &str, band: usize, void: Option<f64>) {
    let options = OpenOptions {
        band,
        ..OpenOptions::classes()
    };
    let Some(grid) = whole(raster, &options) else {
        return;
    };
    let Some(path) = shared(&format!("geodata/{spots}")) else {
        return;
    };
    let mosaic = Mosaic::new(vec![grid]);
    let mut compared = 0;
    for row in table(&path) {
        let Some(expected) = row.number(column) else {
            continue;
        };
        let class = mosaic.class(place(&row));
        let expected = (Some(expected) != void).then_some(expected as i32);
        assert_eq!(class, expected, "{raster} {}", row.text("id"));
        compared += 1;
    }
    println!("{raster}: {compared} classes");
    assert!(compared > 10);
}

#[test]
fn ref_classes() {
    check_classes(
        "santa-ana/fbfm40.tif",
        "santa-ana/spots.csv",
        "fbfm40",
        0,
        None,
    );
    check_classes("santa-ana/ch.tif", "santa-ana/spots.csv", "ch", 0, None);
    check_classes("santa-ana/cc.tif", "santa-ana/spots.csv", "cc", 0, None);
    check_classes(
        "liechtenstein/landcover_osm.tif",
        "liechtenstein/spots_landcover.csv",
        "class",
        0,
        Some(0.0),
    );
    check_classes(
        "sao-miguel/clc2018_v2020_20u1.tif",
        "sao-miguel/spots_clc.csv",
        "class",
        0,
        None,
    );
    check_classes(
        "sao-miguel/clc2018_v2020_20u1.tif",
        "sao-miguel/spots.csv",
        "clc2018",
        0,
        None,
    );
    check_classes(
        "zion-nlcd/nlcd.tif",
        "zion-nlcd/spots_nlcd.csv",
        "class",
        0,
        None,
    );
    check_classes(
        "zion-nlcd/nlcd2011.tif",
        "zion-nlcd/spots_nlcd2011.csv",
        "class",
        0,
        None,
    );
}

/// Fuel models and canopy are further bands of one file: their values lie in
/// the documented ranges and are not elevations.
#[test]
fn exact_bands_of_the_landscape_file() {
    for (band, range) in [
        (1, 0.0..=90.0),
        (3, 91.0..=204.0),
        (4, 0.0..=100.0),
        (5, 0.0..=510.0),
    ] {
        let options = OpenOptions {
            band,
            ..OpenOptions::classes()
        };
        let Some(grid) = whole("lolo-landscape/example_lcp.tif", &options) else {
            return;
        };
        let in_range = grid
            .cells()
            .iter()
            .filter(|v| !v.is_nan())
            .all(|v| range.contains(v));
        assert!(in_range, "band {band}");
    }
    let path = shared("geodata/lolo-landscape/example_lcp.tif").unwrap();
    let options = OpenOptions {
        band: 8,
        ..OpenOptions::classes()
    };
    assert!(RasterFile::open(&path, &options).is_err());
}

/// Two tiles that share an edge row are one raster: no seam, and the void
/// posts of one stay void.
#[test]
fn exact_mosaic_of_pieces_equals_the_whole() {
    let Some(path) = shared("geodata/santa-ana/dem.tif") else {
        return;
    };
    let mut file = RasterFile::open(&path, &OpenOptions::elevation()).unwrap();
    let whole = file.read_all().unwrap().grid;
    let piece = |col, row, width, height| {
        whole
            .window(raster::CellWindow {
                col,
                row,
                width,
                height,
            })
            .unwrap()
    };
    let tiles = vec![
        piece(0, 0, 801, 700),
        piece(800, 0, 800, 700),
        piece(0, 700, 800, 900),
        piece(800, 700, 800, 900),
    ];
    let mosaic = Mosaic::new(tiles);
    assert_eq!(mosaic.grids().len(), 1);
    assert_eq!(mosaic.grids()[0].cells(), whole.cells());
    let bounds = LonLatBox::from_degrees([-117.6, 33.7, -117.5, 33.8]).unwrap();
    let town = open_mosaic(&[path], &bounds, &OpenOptions::elevation()).unwrap();
    let spot = LonLat::new(-117.55, 33.75).unwrap();
    assert_eq!(town.mosaic.bilinear(spot), whole.bilinear(spot));
    assert!(town.mosaic.grids()[0].cells().len() < whole.cells().len() / 10);
}

#[test]
fn exact_mosaic_without_cover_is_an_error() {
    let Some(path) = shared("geodata/santa-ana/dem.tif") else {
        return;
    };
    let bounds = LonLatBox::from_degrees([8.0, 47.0, 9.0, 48.0]).unwrap();
    let error = open_mosaic(&[path], &bounds, &OpenOptions::elevation()).unwrap_err();
    assert!(error.to_string().contains("hint:"), "{error}");
    let nowhere = PathBuf::from("no-such-file.tif");
    assert!(open_mosaic(&[nowhere], &bounds, &OpenOptions::elevation()).is_err());
}
