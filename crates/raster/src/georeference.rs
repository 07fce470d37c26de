//! Where the cells of a grid lie on Earth.

use geodesy::{Crs, CrsError, LonLat, MapXy, wrap_lon_deg};

use crate::RasterError;

/// A fractional position in a grid, counted from the outer corner of the
/// first cell: `0.5, 0.5` is the centre of the first cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellXy {
    /// Columns from the left edge.
    pub col: f64,
    /// Rows from the upper edge.
    pub row: f64,
}

/// The six numbers between cells and map coordinates, in terms of outer
/// corners:
///
/// `x = origin_x + col · x_per_col + row · x_per_row`,
/// `y = origin_y + col · y_per_col + row · y_per_row`.
///
/// Rotated and south-up grids are as good as any other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    origin: MapXy,
    x_per_col: f64,
    x_per_row: f64,
    y_per_col: f64,
    y_per_row: f64,
    /// One over the determinant, so that the way back needs no division.
    inverse_det: f64,
}

impl Affine {
    /// From the origin (outer corner of the first cell) and
    /// `[x_per_col, x_per_row, y_per_col, y_per_row]`.
    pub fn new(origin: MapXy, steps: [f64; 4]) -> Result<Self, RasterError> {
        let [x_per_col, x_per_row, y_per_col, y_per_row] = steps;
        let inverse_det = 1.0 / (x_per_col * y_per_row - x_per_row * y_per_col);
        let finite = [origin.x, origin.y, inverse_det].into_iter().chain(steps);
        if !finite.into_iter().all(f64::is_finite) || inverse_det == 0.0 {
            return Err(RasterError::Affine { origin, steps });
        }
        Ok(Self {
            origin,
            x_per_col,
            x_per_row,
            y_per_col,
            y_per_row,
            inverse_det,
        })
    }

    /// North-up cells of `cell_x` by `cell_y` map units, both positive, from
    /// the upper left outer corner.
    pub fn north_up(origin: MapXy, cell_x: f64, cell_y: f64) -> Result<Self, RasterError> {
        Self::new(origin, [cell_x, 0.0, 0.0, -cell_y])
    }

    /// The outer corner of the first cell.
    pub fn origin(&self) -> MapXy {
        self.origin
    }

    /// `[x_per_col, x_per_row, y_per_col, y_per_row]`.
    pub fn steps(&self) -> [f64; 4] {
        [
            self.x_per_col,
            self.x_per_row,
            self.y_per_col,
            self.y_per_row,
        ]
    }

    /// The map position of a position in the grid.
    pub fn to_map(&self, at: CellXy) -> MapXy {
        MapXy {
            x: self.origin.x + at.col * self.x_per_col + at.row * self.x_per_row,
            y: self.origin.y + at.col * self.y_per_col + at.row * self.y_per_row,
        }
    }

    /// The position in the grid of a map position.
    #[inline]
    pub fn to_cell(&self, at: MapXy) -> CellXy {
        let (dx, dy) = (at.x - self.origin.x, at.y - self.origin.y);
        if self.x_per_row == 0.0 && self.y_per_col == 0.0 {
            // Division keeps the cell centres of an aligned grid exact.
            return CellXy {
                col: dx / self.x_per_col,
                row: dy / self.y_per_row,
            };
        }
        CellXy {
            col: (dx * self.y_per_row - dy * self.x_per_row) * self.inverse_det,
            row: (dy * self.x_per_col - dx * self.y_per_col) * self.inverse_det,
        }
    }

    /// The same lattice counted from another of its corners.
    pub fn shifted(&self, col: f64, row: f64) -> Self {
        Self {
            origin: self.to_map(CellXy { col, row }),
            ..*self
        }
    }
}

/// The place of a grid on Earth: a reference system and an [`Affine`].
#[derive(Debug, Clone, PartialEq)]
pub struct Georeference {
    crs: Crs,
    affine: Affine,
    /// Middle longitude of a geographic grid: longitudes are taken within
    /// half a turn of it, so that a grid may span the 180 degree meridian.
    centre_lon_deg: Option<f64>,
}

impl Georeference {
    /// For a grid of `width` by `height` cells.
    pub fn new(crs: Crs, affine: Affine, width: usize, height: usize) -> Self {
        let middle = affine.to_map(CellXy {
            col: width as f64 / 2.0,
            row: height as f64 / 2.0,
        });
        let centre_lon_deg = crs.is_geographic().then_some(middle.x);
        Self {
            crs,
            affine,
            centre_lon_deg,
        }
    }

    /// The reference system.
    pub fn crs(&self) -> &Crs {
        &self.crs
    }

    /// Cells to map coordinates.
    pub fn affine(&self) -> &Affine {
        &self.affine
    }

    /// The position in the grid of a map position in the grid's own system.
    #[inline]
    pub fn map_to_cell(&self, mut at: MapXy) -> CellXy {
        if let Some(centre_deg) = self.centre_lon_deg {
            at.x = wrap_lon_deg(at.x, centre_deg);
        }
        self.affine.to_cell(at)
    }

    /// The position in the grid of a place, which may lie outside the grid.
    pub fn to_cell(&self, place: LonLat) -> Result<CellXy, CrsError> {
        self.crs.to_map(place).map(|at| self.map_to_cell(at))
    }

    /// The place at a position in the grid.
    pub fn to_lonlat(&self, at: CellXy) -> Result<LonLat, CrsError> {
        self.crs.to_lonlat(self.affine.to_map(at))
    }
}
