//! What is written as GeoTIFF comes back as it was, here and in a general-purpose raster program.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "tests write files, and fail where something is not there"
)]

use std::path::Path;
use std::process::Command;

use geodesy::{Crs, MapXy};
use raster::{Affine, Georeference, Grid};
use store::geotiff_out::{CellType, GeoTiffError, encode};
use store::ground::{OpenOptions, RasterFile};

fn grid(epsg: u32, origin: (f64, f64), cell: f64, cells: Vec<f32>) -> Grid {
    let (width, height) = (4, cells.len() / 4);
    let crs = Crs::from_epsg(epsg).unwrap();
    let origin = MapXy {
        x: origin.0,
        y: origin.1,
    };
    let affine = Affine::north_up(origin, cell, cell).unwrap();
    let georeference = Georeference::new(crs, affine, width, height);
    Grid::new(georeference, width, height, cells).unwrap()
}

fn heights() -> Vec<f32> {
    vec![
        12.5,
        f32::NAN,
        -3.0,
        870.2,
        0.0,
        1.0,
        2.0,
        3.0,
        f32::NAN,
        8.1,
        9.0,
        10.0,
    ]
}

fn utm() -> Grid {
    grid(32_626, (408_000.0, 4_884_000.0), 30.0, heights())
}

fn read_back(bytes: Vec<u8>, options: &OpenOptions) -> Grid {
    let mut file = RasterFile::from_bytes(Path::new("x.tif"), bytes, None, options).unwrap();
    assert!(file.warnings().is_empty(), "{:?}", file.warnings());
    file.read_all().unwrap().grid
}

fn assert_same(written: &Grid, read: &Grid) {
    assert_eq!(written.georeference(), read.georeference());
    assert_eq!(
        (written.width(), written.height()),
        (read.width(), read.height())
    );
    for (a, b) in written.cells().iter().zip(read.cells()) {
        assert!(a == b || (a.is_nan() && b.is_nan()), "{a} became {b}");
    }
}

#[test]
fn exact_float_cells_come_back() {
    let grid = utm();
    let bytes = encode(&grid, CellType::Float32).unwrap();
    assert_same(&grid, &read_back(bytes, &OpenOptions::elevation()));
}

#[test]
fn exact_whole_cells_come_back_rounded() {
    let grid = utm();
    let bytes = encode(&grid, CellType::Signed16).unwrap();
    let read = read_back(bytes, &OpenOptions::elevation());
    let rounded: Vec<f32> = heights().iter().map(|h| h.round()).collect();
    for (a, b) in rounded.iter().zip(read.cells()) {
        assert!(a == b || (a.is_nan() && b.is_nan()), "{a} became {b}");
    }
}

#[test]
fn exact_classes_come_back() {
    let mut cells = vec![10.0; 12];
    cells[3] = f32::NAN;
    cells[7] = 254.0;
    let grid = grid(4326, (-28.1, 44.1), 0.001, cells);
    let bytes = encode(&grid, CellType::Unsigned8).unwrap();
    assert_same(&grid, &read_back(bytes, &OpenOptions::classes()));
}

#[test]
fn exact_same_grid_gives_same_bytes() {
    let one = encode(&utm(), CellType::Float32).unwrap();
    assert_eq!(one, encode(&utm(), CellType::Float32).unwrap());
}

#[test]
fn exact_value_too_large_for_its_cells_is_refused() {
    let grid = grid(4326, (-28.1, 44.1), 0.001, vec![255.0; 8]);
    let error = encode(&grid, CellType::Unsigned8).unwrap_err();
    assert!(matches!(error, GeoTiffError::OutOfRange { .. }), "{error}");
}

#[test]
fn exact_system_without_code_is_refused() {
    let plain = utm();
    let crs = Crs::from_proj("+proj=tmerc +lat_0=44 +lon_0=-28 +datum=WGS84 +units=m").unwrap();
    let affine = *plain.georeference().affine();
    let georeference = Georeference::new(crs, affine, 4, 3);
    let grid = Grid::new(georeference, 4, 3, heights()).unwrap();
    let error = encode(&grid, CellType::Float32).unwrap_err();
    assert!(matches!(error, GeoTiffError::NoEpsgCode { .. }), "{error}");
}

/// Source: `gdalinfo` of whatever GDAL version is installed reads the file.
#[test]
fn ref_gdal_reads_place_and_no_data() {
    let folder = std::env::temp_dir().join(format!("geotiff-out-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("heights.tif");
    std::fs::write(&file, encode(&utm(), CellType::Signed16).unwrap()).unwrap();
    let output = Command::new("gdalinfo").arg("-stats").arg(&file).output();
    std::fs::remove_dir_all(&folder).unwrap();
    let Ok(output) = output else {
        println!("skipped: reading a written GeoTIFF with GDAL, gdalinfo is not installed");
        return;
    };
    let text = String::from_utf8_lossy(&output.stdout);
    for part in [
        "Size is 4, 3",
        "ID[\"EPSG\",32626]",
        "Origin = (408000.000000000000000,4884000.000000000000000)",
        "Pixel Size = (30.000000000000000,-30.000000000000000)",
        "AREA_OR_POINT=Area",
        "COMPRESSION=DEFLATE",
        "NoData Value=-32768",
        "STATISTICS_MAXIMUM=870",
        "STATISTICS_MINIMUM=-3",
    ] {
        assert!(text.contains(part), "no `{part}` in:\n{text}");
    }
}
