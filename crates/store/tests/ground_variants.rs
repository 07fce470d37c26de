//! One terrain crop in 102 encodings: read right, or refused with a reason.
//!
//! Source of all expected values: GDAL 3.6.2, read again with GDAL 3.10 and
//! with a decoder that is not GDAL (format-variants/README.md of the shared
//! reference data).
#![expect(clippy::unwrap_used, reason = "helpers of tests fail the test")]

mod ground_data;

use std::path::Path;

use geodesy::{Crs, LonLat};
use ground_data::{Row, shared, table};
use raster::{CellWindow, CellXy, Grid};
use store::ground::{GroundError, OpenOptions, RasterFile};

/// The table's values carry the file's own precision; our cells are 32-bit
/// floats, which resolve terrain to 0.0003 m.
const TOLERANCE_M: f64 = 0.001;

const WRONGLY_WRITTEN: &str = "be-float32-deflate-pred3.tif";

/// Whether an error is the expected one.
type Reason = fn(&GroundError) -> bool;

/// Files that may be refused and are, with the reason.
const REFUSED_ON_PURPOSE: [(&str, Reason); 6] = [
    ("compress-lzma.tif", |e| names(e, "LZMA")),
    ("compress-lerc.tif", |e| names(e, "LERC")),
    ("compress-lerc_deflate.tif", |e| names(e, "LERC")),
    ("crs-geographic-3d.tif", |e| {
        matches!(e, GroundError::EllipsoidalHeights { .. })
    }),
    ("asc-decimal-comma.asc", |e| {
        matches!(e, GroundError::Text { .. })
    }),
    // More cells than may be held; a window of it is read below.
    ("bad-giant-sparse.tif", |e| {
        matches!(e, GroundError::WindowTooLarge { .. })
    }),
];

fn names(error: &GroundError, compression: &str) -> bool {
    matches!(error, GroundError::Unsupported { what, .. } if what.contains(compression))
}

fn read(path: &Path, options: &OpenOptions) -> Result<Grid, GroundError> {
    RasterFile::open(path, options)?.read_all().map(|r| r.grid)
}

fn values_of<'a>(values: &'a [Row], file: &str) -> Vec<&'a Row> {
    values.iter().filter(|r| r.text("file") == file).collect()
}

/// Compares a grid with the rows of the value table; returns how many.
fn check_values(file: &str, rows: &[&Row], grid: &Grid, is_mgi: bool) -> usize {
    // The vertical unit of this file is the US survey foot; we give metres.
    let unit = if file == "crs-compound-navd88-ft.tif" {
        1200.0 / 3937.0
    } else {
        1.0
    };
    for row in rows {
        let number = |column: &str| row.number(column).unwrap();
        let at = CellXy {
            col: number("col"),
            row: number("row"),
        };
        let context = format!("{file} {} at {at:?}", row.text("kind"));
        let by_cell = match row.text("kind") {
            "pixel-centre" => f64::from(grid.value(grid.containing(at).unwrap())),
            _ => grid.bilinear_at(at),
        };
        match row.number("value") {
            Some(value) => assert!(
                (by_cell - value * unit).abs() < TOLERANCE_M,
                "{context}: {by_cell}, {value}"
            ),
            None => assert!(by_cell.is_nan(), "{context}: {by_cell}, void"),
        }
        // The georeference, by map coordinates of 4 decimals and by degrees.
        let (cell_x, cell_y) = cell_size(grid);
        let map = geodesy::MapXy {
            x: number("x"),
            y: number("y"),
        };
        let by_map = grid.georeference().map_to_cell(map);
        assert!(
            (by_map.col - at.col).abs() * cell_x < 2e-4,
            "{context}: {by_map:?}"
        );
        assert!(
            (by_map.row - at.row).abs() * cell_y < 2e-4,
            "{context}: {by_map:?}"
        );
        let (Some(lon_deg), Some(lat_deg)) = (row.number("lon"), row.number("lat")) else {
            continue;
        };
        let by_place = grid
            .georeference()
            .to_cell(LonLat::new(lon_deg, lat_deg).unwrap())
            .unwrap();
        // Nine decimals of a degree are 0.1 mm; two published shifts of MGI
        // differ by 1.1 m; cells of 5 to 46 m.
        let cells = if is_mgi { 0.4 } else { 2e-3 };
        assert!(
            (by_place.col - at.col).abs() < cells,
            "{context}: {by_place:?}"
        );
        assert!(
            (by_place.row - at.row).abs() < cells,
            "{context}: {by_place:?}"
        );
    }
    rows.len()
}

fn cell_size(grid: &Grid) -> (f64, f64) {
    let [x_col, x_row, y_col, y_row] = grid.georeference().affine().steps();
    (x_col.hypot(y_col), x_row.hypot(y_row))
}

#[test]
fn ref_every_variant_behaves_as_expected() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let values = table(&folder.join("values.csv"));
    let (mut read_right, mut refused, mut compared) = (0, 0, 0);
    for variant in table(&folder.join("variants.csv")) {
        let file = variant.text("file");
        if file == WRONGLY_WRITTEN {
            continue;
        }
        let result = read(&folder.join(file), &OpenOptions::elevation());
        let on_purpose = REFUSED_ON_PURPOSE.iter().find(|(f, _)| *f == file);
        match (variant.text("expect"), result) {
            ("ok", Err(e)) => panic!("{file} must be read: {e}"),
            ("refuse", Ok(_)) => panic!("{file} must be refused"),
            ("ok-or-refuse", Err(e)) => {
                let (_, reason) = on_purpose.unwrap_or_else(|| panic!("{file}: {e}"));
                assert!(reason(&e), "{file}: {e}");
                refused += 1;
            }
            ("refuse", Err(e)) => {
                assert!(e.to_string().contains("hint:"), "{file}: {e}");
                refused += 1;
            }
            (_, Ok(grid)) => {
                assert!(on_purpose.is_none(), "{file} is read after all");
                let rows = values_of(&values, file);
                let first_band: Vec<&Row> =
                    rows.into_iter().filter(|r| r.text("band") == "1").collect();
                compared += check_values(file, &first_band, &grid, file.contains("31287"));
                read_right += 1;
            }
            (other, _) => panic!("{file}: no such expectation as `{other}`"),
        }
    }
    println!("{read_right} files read right, {refused} refused, {compared} values compared");
    assert_eq!(read_right + refused, 101);
}

/// The writer of this file stored the bytes of its floats in the wrong order:
/// every decoder agrees on numbers that are no elevations, as the value table
/// shows. They are read as they are, and refused as elevations.
#[test]
fn ref_wrongly_written_floats() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let rows = table(&folder.join("values.csv"));
    let grid = read(&folder.join(WRONGLY_WRITTEN), &OpenOptions::classes()).unwrap();
    let rows = values_of(&rows, WRONGLY_WRITTEN);
    let centres: Vec<&Row> = rows
        .into_iter()
        .filter(|r| r.text("kind") == "pixel-centre")
        .collect();
    for row in &centres {
        let at = CellXy {
            col: row.number("col").unwrap(),
            row: row.number("row").unwrap(),
        };
        let (cell, value) = (
            grid.value(grid.containing(at).unwrap()),
            row.number("value").unwrap(),
        );
        assert_eq!(cell, value as f32);
    }
    assert!(!centres.is_empty());
    let refused = read(&folder.join(WRONGLY_WRITTEN), &OpenOptions::elevation()).unwrap_err();
    assert!(
        matches!(refused, GroundError::NotElevations { .. }),
        "{refused}"
    );
}

/// The second band is the same in three layouts.
#[test]
fn exact_second_band_in_three_layouts() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let files = [
        "layout-2band-pixel.tif",
        "layout-2band-planar.tif",
        "pred2-2band-pixel-int16.tif",
    ];
    let band = |file: &str, band| {
        let options = OpenOptions {
            band,
            ..OpenOptions::classes()
        };
        read(&folder.join(file), &options).unwrap().cells().to_vec()
    };
    let first = band(files[0], 1);
    assert_ne!(first, band(files[0], 0));
    for file in &files[1..] {
        assert!(first == band(file, 1), "{file}");
    }
}

/// Ellipsoidal heights are refused as elevations, but the cells are right.
#[test]
fn ref_cells_of_ellipsoidal_heights() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let values = table(&folder.join("values.csv"));
    let file = "crs-geographic-3d.tif";
    let grid = read(&folder.join(file), &OpenOptions::classes()).unwrap();
    assert!(check_values(file, &values_of(&values, file), &grid, false) > 0);
}

/// Files whose reference system is missing or unknown are right once the
/// user names it.
#[test]
fn ref_assumed_reference_system() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let values = table(&folder.join("values.csv"));
    for (file, crs) in [
        ("crs-missing.tif", "EPSG:32612"),
        ("crs-missing-lonlat-like.tif", "EPSG:4326"),
        ("crs-world-file.tif", "EPSG:32612"),
        ("asc-no-prj.asc", "EPSG:32612"),
    ] {
        let path = folder.join(file);
        let refused = RasterFile::open(&path, &OpenOptions::elevation()).unwrap_err();
        assert!(
            matches!(refused, GroundError::MissingCrs { .. }),
            "{file}: {refused}"
        );
        let options = OpenOptions {
            assumed_crs: Some(Crs::parse(crs).unwrap()),
            ..OpenOptions::elevation()
        };
        let rows = values_of(&values, file);
        assert!(!rows.is_empty());
        check_values(file, &rows, &read(&path, &options).unwrap(), false);
    }
    let options = OpenOptions {
        assumed_crs: Some(Crs::parse("EPSG:32612").unwrap()),
        ..OpenOptions::elevation()
    };
    // The code of this file is unknown, and the user's word is taken.
    assert!(read(&folder.join("crs-unknown-code.tif"), &options).is_ok());
    // A picture stays a picture.
    let refused = RasterFile::open(&folder.join("crs-no-georeference.tif"), &options).unwrap_err();
    assert!(
        matches!(refused, GroundError::NoGeoreference { .. }),
        "{refused}"
    );
    // What the file states itself is not overruled.
    let file = RasterFile::open(&folder.join("crs-epsg4326.tif"), &options).unwrap();
    assert_eq!(file.info().georeference.crs().name(), "EPSG:4326");
    assert_eq!(file.warnings().len(), 1);
}

/// Every file read in windows equals the same part of the whole.
#[test]
fn exact_windows_equal_the_whole() {
    let Some(folder) = shared("geodata/format-variants") else {
        return;
    };
    let windows = [
        (0, 0, 1, 1),
        (37, 61, 70, 5),
        (63, 63, 2, 66),
        (100, 0, 400, 400),
        (17, 99, 30, 1),
    ];
    let mut compared = 0;
    for variant in table(&folder.join("variants.csv")) {
        let path = folder.join(variant.text("file"));
        let Ok(mut file) = RasterFile::open(&path, &OpenOptions::classes()) else {
            continue;
        };
        let Ok(whole) = file.read_all() else { continue };
        for (col, row, width, height) in windows {
            if col >= whole.grid.width() || row >= whole.grid.height() {
                continue;
            }
            let window = CellWindow {
                col,
                row,
                width,
                height,
            };
            let part = file.read_window(window).unwrap().grid;
            let same = whole.grid.window(window).unwrap();
            assert_eq!(part.georeference().affine(), same.georeference().affine());
            let equal =
                |(a, b): (&f32, &f32)| a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan();
            assert!(
                part.cells().iter().zip(same.cells()).all(equal),
                "{} {window:?}",
                path.display()
            );
            compared += 1;
        }
    }
    println!("{compared} windows compared");
    assert!(compared > 300);
}

#[test]
fn exact_hgt_names_are_the_georeference() {
    let Some(path) = shared("geodata/format-variants/hgt3/N43W114.hgt") else {
        return;
    };
    let bytes = ground_data::read_bytes(&path);
    let open = |name: &str| {
        RasterFile::from_bytes(
            Path::new(name),
            bytes.clone(),
            None,
            &OpenOptions::elevation(),
        )
    };
    for (name, west_deg, south_deg) in [
        ("n43w114.hgt", -114.0, 43.0),
        ("S07W062.HGT", -62.0, -7.0),
        ("S34E151.hgt", 151.0, -34.0),
    ] {
        let file = open(name).unwrap();
        let post = file
            .info()
            .georeference
            .to_cell(LonLat::new(west_deg, south_deg).unwrap())
            .unwrap();
        assert!(
            (post.col - 0.5).abs() < 1e-6 && (post.row - 1200.5).abs() < 1e-6,
            "{name} {post:?}"
        );
    }
    assert!(matches!(
        open("terrain.hgt").unwrap_err(),
        GroundError::HgtName { .. }
    ));
    assert!(matches!(
        open("N43W114.tif").unwrap_err(),
        GroundError::Unrecognised { .. }
    ));
}
