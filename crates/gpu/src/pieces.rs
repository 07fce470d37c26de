//! The part of a raster that the paths can reach.

use std::ops::Range;

use raster::Grid;
use sweep::CoverClasses;
use sweep::tables::{Fit, OwnBearingTables, RasterTables};

use crate::constants::zone_code;

/// A part of a raster, with a border of one cell beyond it where it ends there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Piece {
    /// First column and row, in cells of the raster.
    pub(crate) first: [i64; 2],
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Where the mast is, in cells of the piece.
    pub(crate) mast: [f64; 2],
    /// Cells that a kilometre of path passes along one axis, at most about.
    pub(crate) cells_per_km: f64,
    /// Its cells are not those of the elevation.
    pub(crate) is_own_lattice: bool,
}

impl Piece {
    /// A single cell, where there is no raster.
    pub(crate) fn nothing() -> Self {
        Self {
            first: [0, 0],
            width: 1,
            height: 1,
            mast: [0.0; 2],
            cells_per_km: 0.0,
            is_own_lattice: false,
        }
    }

    /// `None` where the raster does not reach the paths.
    fn new(raster: &RasterTables<'_>, radius_km: f64, is_own_lattice: bool) -> Option<Self> {
        const DIRECTIONS: u32 = 72;
        let fit = &raster.from_azimuthal;
        let mast = at(fit, [0.0, 0.0]);
        let (mut low, mut high) = (mast, mast);
        for k in 0..DIRECTIONS {
            let (sin, cos) =
                (f64::from(k) * std::f64::consts::TAU / f64::from(DIRECTIONS)).sin_cos();
            let rim = at(fit, [radius_km * sin, radius_km * cos]);
            for axis in 0..2 {
                low[axis] = low[axis].min(rim[axis]);
                high[axis] = high[axis].max(rim[axis]);
            }
        }
        let sizes = [raster.grid.width(), raster.grid.height()];
        let reach = |axis: usize| -> Option<Range<i64>> {
            // Between the directions the rim bulges by a thousandth of its radius.
            let beyond = 3.0 + 2e-3 * (high[axis] - low[axis]);
            let start = ((low[axis] - beyond).floor() as i64).max(-1);
            let end = ((high[axis] + beyond).ceil() as i64).min(sizes[axis] as i64 + 1);
            (end - start > 2).then_some(start..end)
        };
        let [columns, rows] = [reach(0)?, reach(1)?];
        let across = (high[0] - low[0]).max(high[1] - low[1]);
        Some(Self {
            first: [columns.start, rows.start],
            width: (columns.end - columns.start) as usize,
            height: (rows.end - rows.start) as usize,
            mast: [mast[0] - columns.start as f64, mast[1] - rows.start as f64],
            cells_per_km: 0.5 * across / radius_km,
            is_own_lattice,
        })
    }

    /// The pieces of elevation and land cover.
    pub(crate) fn of(tables: &OwnBearingTables<'_>) -> Option<[Self; 2]> {
        let elevation = Self::new(&tables.elevation, tables.radius_km, false)?;
        let cover = match &tables.cover {
            None => Self::nothing(),
            Some((cover, _)) => {
                let lattice = tables.elevation.grid.georeference();
                if cover.grid.georeference() == lattice {
                    elevation.clone()
                } else {
                    Self::new(cover, tables.radius_km, true)?
                }
            }
        };
        Some([elevation, cover])
    }

    /// Bytes of a row in a buffer: copies to textures ask for multiples of 256.
    pub(crate) fn pitch(&self) -> usize {
        (self.width * 4).next_multiple_of(256)
    }

    /// A row of the elevation, as it is written; beyond the grid it is NaN.
    pub(crate) fn elevation_row(&self, grid: &Grid, row: usize, cells: &mut Vec<u32>) {
        self.row(grid, row, cells, f32::to_bits);
    }

    /// What a row is covered with: the height with the zone in its last two
    /// bits; beyond the grid nothing stands.
    pub(crate) fn cover_row(
        &self,
        (grid, classes): (&Grid, &CoverClasses),
        row: usize,
        cells: &mut Vec<u32>,
    ) {
        self.row(grid, row, cells, |cell| {
            let cover = classes.of(cell);
            ((cover.height_m as f32).to_bits() & !3) | zone_code(cover.zone)
        });
    }

    fn row(&self, grid: &Grid, row: usize, cells: &mut Vec<u32>, code: impl Fn(f32) -> u32) {
        let beyond = code(f32::NAN);
        cells.clear();
        if let Some((before, known)) = self.known(grid, row) {
            cells.resize(before, beyond);
            cells.extend(known.iter().map(|c| code(*c)));
        }
        cells.resize(self.width, beyond);
    }

    /// The cells of a row that the grid has, and how many are missing before them.
    fn known<'a>(&self, grid: &'a Grid, row: usize) -> Option<(usize, &'a [f32])> {
        let row = usize::try_from(self.first[1] + row as i64).ok()?;
        let start = self.first[0].max(0) as usize;
        let end = (self.first[0] + self.width as i64).min(grid.width() as i64) as usize;
        if row >= grid.height() || start >= end {
            return None;
        }
        let before = (start as i64 - self.first[0]) as usize;
        let row = row * grid.width();
        Some((before, &grid.cells()[row + start..row + end]))
    }
}

/// Two functions at a place.
fn at(fit: &Fit, [first, second]: [f64; 2]) -> [f64; 2] {
    let u = (first - fit.centre[0]) * fit.per_unit[0];
    fit.along_first(second)
        .map(|terms| terms.iter().rev().fold(0.0, |sum, t| sum * u + t))
}
