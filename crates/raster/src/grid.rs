//! One grid of cells, and how a value is taken from it.

use geodesy::{LonLat, MapXy, inverse};

use crate::{CellXy, Georeference};

/// Column and row of one cell, from 0 at the upper left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Cell {
    /// Column, 0 at the left.
    pub col: usize,
    /// Row, 0 at the top.
    pub row: usize,
}

/// A rectangle of cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CellWindow {
    /// First column.
    pub col: usize,
    /// First row.
    pub row: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

impl CellWindow {
    /// The common part of two windows, if any.
    pub fn intersect(self, other: Self) -> Option<Self> {
        let col = self.col.max(other.col);
        let row = self.row.max(other.row);
        let right = self
            .col
            .saturating_add(self.width)
            .min(other.col.saturating_add(other.width));
        let bottom = self
            .row
            .saturating_add(self.height)
            .min(other.row.saturating_add(other.height));
        (right > col && bottom > row).then(|| Self {
            col,
            row,
            width: right - col,
            height: bottom - row,
        })
    }
}

/// Numbers that make no grid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RasterError {
    /// The cells have no extent, or the numbers are not finite.
    #[error(
        "georeference with origin `{origin:?}` and steps `{steps:?}` has no extent\nhint: cell sizes must be finite and not zero"
    )]
    Affine {
        /// Outer corner of the first cell.
        origin: MapXy,
        /// x per column, x per row, y per column, y per row.
        steps: [f64; 4],
    },
    /// The number of cells is not width times height, or is zero.
    #[error(
        "grid of {width} x {height} cells given `{cells}` values\nhint: width and height are at least 1 and every cell has one value"
    )]
    Shape {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
        /// Values given.
        cells: usize,
    },
}

/// A raster in memory: `height` rows of `width` f32 cells, first row first.
/// NaN is "no data".
#[derive(Debug, Clone)]
pub struct Grid {
    georeference: Georeference,
    width: usize,
    height: usize,
    cells: Vec<f32>,
}

/// A position this close to a cell centre, in cells, takes that cell alone
/// where a neighbour is void: degrees with eight decimals are no finer.
const ON_CENTRE: f64 = 1e-4;

impl Grid {
    /// A grid from its cells, row by row.
    pub fn new(
        georeference: Georeference,
        width: usize,
        height: usize,
        cells: Vec<f32>,
    ) -> Result<Self, RasterError> {
        if width == 0 || height == 0 || width.checked_mul(height) != Some(cells.len()) {
            let cells = cells.len();
            return Err(RasterError::Shape {
                width,
                height,
                cells,
            });
        }
        Ok(Self {
            georeference,
            width,
            height,
            cells,
        })
    }

    /// Columns.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.height
    }

    /// Where the cells lie.
    pub fn georeference(&self) -> &Georeference {
        &self.georeference
    }

    /// All cells, row by row.
    pub fn cells(&self) -> &[f32] {
        &self.cells
    }

    /// All cells, row by row, for filling.
    pub fn cells_mut(&mut self) -> &mut [f32] {
        &mut self.cells
    }

    /// The value of a cell; NaN where void or outside.
    pub fn value(&self, cell: Cell) -> f32 {
        if cell.col < self.width && cell.row < self.height {
            self.cells[cell.row * self.width + cell.col]
        } else {
            f32::NAN
        }
    }

    /// The cell that contains a place, if it lies in the grid.
    pub fn cell_at(&self, place: LonLat) -> Option<Cell> {
        self.containing(self.georeference.to_cell(place).ok()?)
    }

    /// The centre of a cell.
    pub fn centre(&self, cell: Cell) -> Result<LonLat, geodesy::CrsError> {
        self.georeference.to_lonlat(CellXy {
            col: cell.col as f64 + 0.5,
            row: cell.row as f64 + 0.5,
        })
    }

    /// Bilinear value at a place, between the four nearest cell centres; NaN
    /// where one that carries weight is void, or outside.
    pub fn bilinear(&self, place: LonLat) -> f64 {
        match self.georeference.to_cell(place) {
            Ok(at) => self.bilinear_at(at),
            Err(_) => f64::NAN,
        }
    }

    /// The value of the cell that contains the place; NaN where void or
    /// outside.
    pub fn nearest(&self, place: LonLat) -> f32 {
        self.cell_at(place)
            .map_or(f32::NAN, |cell| self.value(cell))
    }

    /// [`Grid::bilinear`] at a position in the grid.
    ///
    /// On a cell centre only that cell counts, on the line between two
    /// centres only these two. Within half a cell of the grid's border two
    /// of the four cells are missing and the value is NaN.
    #[inline]
    pub fn bilinear_at(&self, at: CellXy) -> f64 {
        let (u, v) = (at.col - 0.5, at.row - 0.5);
        let (left, top) = (u.floor(), v.floor());
        // NaN fails every comparison and falls through to the careful way.
        let inside = left >= 0.0
            && top >= 0.0
            && left + 1.0 < self.width as f64
            && top + 1.0 < self.height as f64;
        if inside {
            let (fu, fv) = (u - left, v - top);
            let i = top as usize * self.width + left as usize;
            let upper = mix(self.cells[i].into(), self.cells[i + 1].into(), fu);
            let i = i + self.width;
            let lower = mix(self.cells[i].into(), self.cells[i + 1].into(), fu);
            let value = mix(upper, lower, fv);
            if !value.is_nan() {
                return value;
            }
        }
        self.bilinear_at_edge(u, v)
    }

    /// The careful way, next to voids and borders: a cell without weight is
    /// not looked at.
    #[cold]
    fn bilinear_at_edge(&self, u: f64, v: f64) -> f64 {
        let Some((left, fu)) = split(u, self.width) else {
            return f64::NAN;
        };
        let Some((top, fv)) = split(v, self.height) else {
            return f64::NAN;
        };
        let along = |row: usize| {
            let first = f64::from(self.value(Cell { col: left, row }));
            if fu == 0.0 {
                return first;
            }
            let second = self.value(Cell { col: left + 1, row });
            mix(first, second.into(), fu)
        };
        if fv == 0.0 {
            return along(top);
        }
        mix(along(top), along(top + 1), fv)
    }

    /// The cell that contains a position in the grid.
    #[inline]
    pub fn containing(&self, at: CellXy) -> Option<Cell> {
        let col = index(at.col, self.width)?;
        let row = index(at.row, self.height)?;
        Some(Cell { col, row })
    }

    /// The part of the grid in a window, cut at the grid's borders.
    pub fn window(&self, window: CellWindow) -> Option<Self> {
        let whole = CellWindow {
            col: 0,
            row: 0,
            width: self.width,
            height: self.height,
        };
        let w = whole.intersect(window)?;
        let mut cells = Vec::with_capacity(w.width * w.height);
        for row in w.row..w.row + w.height {
            let start = row * self.width + w.col;
            cells.extend_from_slice(&self.cells[start..start + w.width]);
        }
        let affine = self
            .georeference
            .affine()
            .shifted(w.col as f64, w.row as f64);
        let crs = self.georeference.crs().clone();
        let georeference = Georeference::new(crs, affine, w.width, w.height);
        Self::new(georeference, w.width, w.height, cells).ok()
    }

    /// The spacing of cell centres on the ground in the middle of the grid,
    /// the smaller of along a row and along a column. \[m\]
    pub fn spacing_m(&self) -> Option<f64> {
        let (col, row) = (self.width as f64 / 2.0, self.height as f64 / 2.0);
        let at = |dc, dr| {
            let (col, row) = (col + dc, row + dr);
            self.georeference.to_lonlat(CellXy { col, row }).ok()
        };
        let along_row_m = inverse(at(-0.5, 0.0)?, at(0.5, 0.0)?).distance_m;
        let along_col_m = inverse(at(0.0, -0.5)?, at(0.0, 0.5)?).distance_m;
        Some(along_row_m.min(along_col_m))
    }
}

#[inline]
fn mix(a: f64, b: f64, fraction: f64) -> f64 {
    a + (b - a) * fraction
}

/// The cell centre at or before a position and the weight of the next one.
fn split(u: f64, count: usize) -> Option<(usize, f64)> {
    // Also catches NaN.
    if !(u > -1.0 && u < count as f64) {
        return None;
    }
    let (mut first, mut fraction) = (u.floor(), u - u.floor());
    if fraction > 1.0 - ON_CENTRE {
        (first, fraction) = (first + 1.0, 0.0);
    } else if fraction < ON_CENTRE {
        fraction = 0.0;
    }
    let last = count as f64 - 1.0;
    (first >= 0.0 && first <= last).then_some((first as usize, fraction))
}

/// The cell that contains a coordinate; the far border belongs to the last.
#[inline]
fn index(at: f64, count: usize) -> Option<usize> {
    let inside = at >= -ON_CENTRE && at <= count as f64 + ON_CENTRE;
    inside.then(|| (at.max(0.0) as usize).min(count - 1))
}
