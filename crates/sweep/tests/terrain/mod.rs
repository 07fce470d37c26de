//! Real terrain of the shared reference data, where it is here.

#![expect(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "tests read the shared reference data, fail where it is broken, and say where it is absent"
)]
#![allow(dead_code, reason = "each test uses a part of it")]

use std::fs::File;
use std::path::{Path, PathBuf};

use geodesy::{Crs, LonLat, MapXy};
use physics::path_loss::Zone;
use raster::{Affine, Georeference, Grid, Mosaic};
use sweep::{Cover, CoverClasses};
use tiff::decoder::{Decoder, DecodingResult};

/// The folder of shared geodata; says so where it is not here.
pub(crate) fn geodata(what: &str) -> Option<PathBuf> {
    let named = std::env::var_os("MASTWRIGHT_SHARED").map(PathBuf::from);
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared");
    let found = named
        .into_iter()
        .chain([beside])
        .map(|shared| shared.join("geodata"))
        .find(|geodata| geodata.is_dir());
    if found.is_none() {
        println!("skipped: {what}, the shared reference data is not here");
    }
    found
}

/// Cells of a raster of whole numbers.
pub(crate) fn cells(path: &Path) -> Vec<f32> {
    let mut decoder = Decoder::new(File::open(path).unwrap()).unwrap();
    match decoder.read_image().unwrap() {
        DecodingResult::I16(cells) => cells.into_iter().map(f32::from).collect(),
        DecodingResult::U8(cells) => cells.into_iter().map(f32::from).collect(),
        _ => panic!("{} is of another type", path.display()),
    }
}

/// Outer corner of the rasters of santa-ana, from its README.
const SANTA_ANA: MapXy = MapXy {
    x: 429_717.925_899_235,
    y: 3_764_093.077_020_85,
};

/// Where a cell of santa-ana lies.
pub(crate) fn santa_ana_at(col: f64, row: f64, width: usize, height: usize) -> Georeference {
    let origin = MapXy {
        x: SANTA_ANA.x + 30.0 * col,
        y: SANTA_ANA.y - 30.0 * row,
    };
    let affine = Affine::north_up(origin, 30.0, 30.0).unwrap();
    Georeference::new(Crs::from_epsg(32_611).unwrap(), affine, width, height)
}

/// 48 by 48 km of 30 m terrain, or its land cover.
pub(crate) fn santa_ana(geodata: &Path, file: &str) -> Mosaic {
    let cells = cells(&geodata.join("santa-ana").join(file));
    let known = cells
        .into_iter()
        .map(|c| if c == -9999.0 { f32::NAN } else { c });
    let georeference = santa_ana_at(0.0, 0.0, 1600, 1600);
    Mosaic::new(vec![
        Grid::new(georeference, 1600, 1600, known.collect()).unwrap(),
    ])
}

/// A tile of three seconds of arc, posts on the degree lines.
pub(crate) fn black_forest(geodata: &Path) -> Mosaic {
    let bytes = std::fs::read(geodata.join("black-forest/N48E008.hgt")).unwrap();
    let heights = bytes
        .chunks_exact(2)
        .map(|b| i16::from_be_bytes([b[0], b[1]]));
    let known = heights.map(|h| if h == -32_768 { f32::NAN } else { f32::from(h) });
    let post_deg = 1.0 / 1200.0;
    let origin = MapXy {
        x: 8.0 - 0.5 * post_deg,
        y: 49.0 + 0.5 * post_deg,
    };
    let affine = Affine::north_up(origin, post_deg, post_deg).unwrap();
    let georeference = Georeference::new(Crs::from_epsg(4326).unwrap(), affine, 1201, 1201);
    Mosaic::new(vec![
        Grid::new(georeference, 1201, 1201, known.collect()).unwrap(),
    ])
}

/// Clutter of the classes of santa-ana; one of them, taken as sea to have one.
pub(crate) fn classes() -> CoverClasses {
    let cover = |code: i32| Cover {
        height_m: match code {
            91 => 10.0,
            121..=124 => 1.0,
            141..=149 => 2.0,
            161..=189 => 15.0,
            _ => 0.0,
        },
        zone: if code == 98 { Zone::Sea } else { Zone::Inland },
    };
    CoverClasses::new((90..210).map(|code| (code, cover(code))))
}

/// The two masts of the visibility data: column and row in santa-ana.
pub(crate) const MASTS: [(&str, f64, f64); 2] = [("mastA", 664.0, 895.0), ("mastB", 953.0, 665.0)];

/// The middle of a cell of santa-ana.
pub(crate) fn place(col: f64, row: f64) -> LonLat {
    let georeference = santa_ana_at(0.0, 0.0, 1600, 1600);
    let at = raster::CellXy {
        col: col + 0.5,
        row: row + 0.5,
    };
    georeference.to_lonlat(at).unwrap()
}

/// Level ground where santa-ana lies, a corner of it.
pub(crate) fn flat(height_m: f32) -> Mosaic {
    let georeference = santa_ana_at(0.0, 0.0, 200, 200);
    Mosaic::new(vec![
        Grid::new(georeference, 200, 200, vec![height_m; 40_000]).unwrap(),
    ])
}
