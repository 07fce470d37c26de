//! Cells by the row: what is handed out need not be in memory whole.

use engine::coverage::{Layer, Shelf, TiledCoverage};
use raster::{Cell, Georeference, Grid};

use super::CoverageError;

/// Cells that are asked for by whole rows.
pub trait CellRows {
    /// Where they lie.
    fn georeference(&self) -> &Georeference;

    /// Columns.
    fn width(&self) -> usize;

    /// Rows.
    fn height(&self) -> usize;

    /// Fills as many whole rows as `cells` has room for, from `first` on; NaN
    /// is no data.
    ///
    /// # Errors
    /// The rows are not there any more.
    fn rows(&self, first: usize, cells: &mut [f32]) -> Result<(), CoverageError>;
}

impl CellRows for Grid {
    fn georeference(&self) -> &Georeference {
        Self::georeference(self)
    }

    fn width(&self) -> usize {
        Self::width(self)
    }

    fn height(&self) -> usize {
        Self::height(self)
    }

    fn rows(&self, first: usize, cells: &mut [f32]) -> Result<(), CoverageError> {
        cells.fill(f32::NAN);
        let from = self.cells().get(first * Self::width(self)..);
        for (cell, value) in cells.iter_mut().zip(from.unwrap_or_default()) {
            *cell = *value;
        }
        Ok(())
    }
}

/// A quantity of a coverage whose tiles lie on a shelf.
#[derive(Clone, Copy)]
pub struct ShelvedLayer<'a> {
    /// The coverage.
    pub coverage: &'a TiledCoverage,
    /// The shelf on which its tiles were put.
    pub shelf: &'a dyn Shelf,
    /// The quantity.
    pub layer: Layer,
}

impl CellRows for ShelvedLayer<'_> {
    fn georeference(&self) -> &Georeference {
        &self.coverage.raster.georeference
    }

    fn width(&self) -> usize {
        self.coverage.raster.width
    }

    fn height(&self) -> usize {
        self.coverage.raster.height
    }

    fn rows(&self, first: usize, cells: &mut [f32]) -> Result<(), CoverageError> {
        Ok(self.coverage.rows(self.layer, (self.shelf, first), cells)?)
    }
}

/// Goes down the rows, some of them in memory.
pub(super) struct Downward<'a> {
    from: &'a dyn CellRows,
    first: usize,
    cells: Vec<f32>,
}

impl<'a> Downward<'a> {
    /// Rows that are read together: what a shelf keeps in one piece.
    const ROWS: usize = 256;

    pub(super) fn new(from: &'a dyn CellRows) -> Self {
        Self {
            from,
            first: 0,
            cells: Vec::new(),
        }
    }

    /// A row; those asked for one after the other should not go up again.
    pub(super) fn row(&mut self, row: usize) -> Result<&[f32], CoverageError> {
        let width = self.from.width();
        let held = self.first..self.first + self.cells.len() / width.max(1);
        if !held.contains(&row) {
            self.first = row / Self::ROWS * Self::ROWS;
            let rows = Self::ROWS.min(self.from.height().saturating_sub(self.first));
            self.cells.resize(rows * width, f32::NAN);
            self.from.rows(self.first, &mut self.cells)?;
        }
        let start = (row - self.first) * width;
        Ok(&self.cells[start..start + width])
    }
}

/// The cell that holds a position in the raster; `None` outside.
pub(super) fn containing(cells: &dyn CellRows, at: raster::CellXy) -> Option<Cell> {
    let is_inside = at.col >= 0.0
        && at.row >= 0.0
        && at.col < cells.width() as f64
        && at.row < cells.height() as f64;
    is_inside.then_some(Cell {
        col: at.col as usize,
        row: at.row as usize,
    })
}
