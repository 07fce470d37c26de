//! Ground to compare over: real terrain of the shared reference data where it
//! is here, and invented ground.

#![expect(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    reason = "reads the shared reference data, and fails where it is broken"
)]
#![allow(dead_code, reason = "each user takes a part of it")]

use std::fs::File;
use std::path::{Path, PathBuf};

use geodesy::{Crs, LonLat, MapXy};
use physics::path_loss::Zone;
use raster::{Affine, CellXy, Georeference, Grid, Mosaic};
use sweep::{
    Bearings, Clearance, Conditions, Cover, CoverClasses, Coverage, CoverageGrid, Ground, Target,
};
use tiff::decoder::{Decoder, DecodingResult};

/// Rasters and a mast on them.
pub(crate) struct Scene {
    pub(crate) name: &'static str,
    pub(crate) elevation: Mosaic,
    pub(crate) cover: Mosaic,
    pub(crate) classes: CoverClasses,
    pub(crate) mast: LonLat,
    /// Where cells lie, in metres.
    pub(crate) crs: Crs,
}

impl Scene {
    pub(crate) fn bare(&self) -> Ground<'_> {
        Ground {
            elevation: &self.elevation,
            cover: None,
            canopy: None,
        }
    }

    pub(crate) fn covered(&self) -> Ground<'_> {
        Ground {
            cover: Some((&self.cover, &self.classes)),
            ..self.bare()
        }
    }

    pub(crate) fn target(&self, radius_m: f64, cell_m: f64) -> Target {
        Target::around(self.mast, &self.crs, cell_m, radius_m).unwrap()
    }

    pub(crate) fn request<'a>(&self, target: &'a Target, radius_m: f64) -> CoverageGrid<'a> {
        CoverageGrid {
            mast: self.mast,
            mast_ground_amsl_m: None,
            conditions: Conditions::median(3_600.0, 30.0, 6.0),
            target,
            radius_m,
            step_m: Some(30.0),
            bearings: Bearings::Own,
            clearance: Clearance::SightOnly,
            threads: 0,
        }
    }
}

/// How far two layers are apart.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Apart {
    pub(crate) cells: usize,
    pub(crate) rms: f64,
    pub(crate) most: f64,
    /// Cells farther apart than the bound.
    pub(crate) beyond: usize,
    /// Cells that one of them knows and the other does not.
    pub(crate) unknown: usize,
}

pub(crate) fn apart(one: &[f32], other: &[f32], bound: f64) -> Apart {
    let mut found = Apart {
        cells: 0,
        rms: 0.0,
        most: 0.0,
        beyond: 0,
        unknown: 0,
    };
    for (a, b) in one.iter().zip(other) {
        if a.is_nan() != b.is_nan() {
            found.unknown += 1;
        } else if !a.is_nan() {
            let apart = f64::from((a - b).abs());
            found.cells += 1;
            found.rms += apart * apart;
            found.most = found.most.max(apart);
            found.beyond += usize::from(apart > bound);
        }
    }
    found.rms = (found.rms / found.cells.max(1) as f64).sqrt();
    found
}

/// Cells in line of sight for one of them alone.
pub(crate) fn sights_apart(one: &Coverage, other: &Coverage) -> usize {
    let both = one.clearance_ratio.iter().zip(&other.clearance_ratio);
    both.filter(|(a, b)| a.signum() != b.signum() && !a.is_nan())
        .count()
}

fn geodata() -> Option<PathBuf> {
    let named = std::env::var_os("MASTWRIGHT_SHARED").map(PathBuf::from);
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared");
    let mut all = named.into_iter().chain([beside]);
    all.find_map(|shared| Some(shared.join("geodata")).filter(|g| g.is_dir()))
}

fn cells(path: &Path) -> Vec<f32> {
    let mut decoder = Decoder::new(File::open(path).unwrap()).unwrap();
    match decoder.read_image().unwrap() {
        DecodingResult::I16(cells) => cells.into_iter().map(f32::from).collect(),
        _ => panic!("{} is of another type", path.display()),
    }
}

fn one_grid(georeference: Georeference, side: usize, cells: Vec<f32>) -> Mosaic {
    Mosaic::new(vec![Grid::new(georeference, side, side, cells).unwrap()])
}

/// 48 by 48 km of 30 m mountains and suburbs; `None` where they are not here.
pub(crate) fn santa_ana() -> Option<Scene> {
    const SIDE: usize = 1600;
    let folder = geodata()?.join("santa-ana");
    // Outer corner, from its README.
    let origin = MapXy {
        x: 429_717.925_899_235,
        y: 3_764_093.077_020_85,
    };
    let crs = Crs::from_epsg(32_611).unwrap();
    let affine = Affine::north_up(origin, 30.0, 30.0).unwrap();
    let georeference = Georeference::new(crs.clone(), affine, SIDE, SIDE);
    let read = |file: &str| {
        let known = cells(&folder.join(file)).into_iter();
        let known = known.map(|c| if c == -9999.0 { f32::NAN } else { c });
        one_grid(georeference.clone(), SIDE, known.collect())
    };
    // One class is taken as sea to have one.
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
    Some(Scene {
        name: "real mountains",
        elevation: read("dem.tif"),
        cover: read("fbfm40.tif"),
        classes: CoverClasses::new((90..210).map(|code| (code, cover(code)))),
        // From a cell's centre samples of the nearest paths would lie on borders
        // of classes, where rounding says which counts.
        mast: georeference
            .to_lonlat(CellXy {
                col: 664.37,
                row: 895.81,
            })
            .unwrap(),
        crs,
    })
}

/// Noise between −1 and 1 at the corners of a lattice.
fn corner(col: i64, row: i64) -> f64 {
    let mut x = (col as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (row as u64).rotate_left(32);
    for _ in 0..2 {
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    }
    (x >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

/// The same between the corners.
fn noise(x: f64, y: f64) -> f64 {
    let (col, row) = (x.floor(), y.floor());
    let smooth = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (smooth(x - col), smooth(y - row));
    let at = |dc: i64, dr: i64| corner(col as i64 + dc, row as i64 + dr);
    let upper = at(0, 0) + (at(1, 0) - at(0, 0)) * u;
    let lower = at(0, 1) + (at(1, 1) - at(0, 1)) * u;
    upper + (lower - upper) * v
}

/// Rough hills by a sea, of any size; land cover on a lattice of its own.
///
/// * `amplitude_m`: of the hills; 0 is a plain just above the sea.
pub(crate) fn invented(side: usize, amplitude_m: f64) -> Scene {
    let crs = Crs::from_epsg(32_632).unwrap();
    let lattice = |cell_m: f64, shift_m: f64, side: usize| {
        let origin = MapXy {
            x: 420_000.0 + shift_m,
            y: 5_300_000.0 - shift_m,
        };
        let affine = Affine::north_up(origin, cell_m, cell_m).unwrap();
        Georeference::new(crs.clone(), affine, side, side)
    };
    let height = |col: f64, row: f64| {
        let octave =
            |n: i32| noise(col / 2_f64.powi(8 - n), row / 2_f64.powi(8 - n)) / 1.9_f64.powi(n);
        let hills: f64 = (0..8).map(octave).sum();
        (40.0 + amplitude_m * (0.3 + hills)).max(0.0)
    };
    let all = (0..side * side).map(|i| height((i % side) as f64, (i / side) as f64) as f32);
    let georeference = lattice(30.0, 0.0, side);
    // 25 m cells, some metres off those of the ground.
    let cover_side = side * 6 / 5;
    let class = |i: usize| {
        let (col, row) = ((i % cover_side) as f64, (i / cover_side) as f64);
        if height(col / 1.2, row / 1.2) <= 0.0 {
            return 3.0;
        }
        let kind = noise(col / 9.0, row / 9.0);
        f32::from(u8::from(kind > 0.2) + u8::from(kind > 0.5))
    };
    let cover = |height_m, zone| Cover { height_m, zone };
    let middle = CellXy {
        col: 0.5 * side as f64 + 0.3,
        row: 0.5 * side as f64 - 0.2,
    };
    Scene {
        name: "invented hills",
        mast: georeference.to_lonlat(middle).unwrap(),
        elevation: one_grid(georeference, side, all.collect()),
        cover: one_grid(
            lattice(25.0, 7.0, cover_side),
            cover_side,
            (0..cover_side * cover_side).map(class).collect(),
        ),
        classes: CoverClasses::new([
            (0, cover(0.0, Zone::Inland)),
            (1, cover(8.0, Zone::CoastalLand)),
            (2, cover(17.5, Zone::Inland)),
            (3, cover(0.0, Zone::Sea)),
        ]),
        crs,
    }
}
