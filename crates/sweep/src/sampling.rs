//! The values of one grid at many positions.
//!
//! Indices and weights are worked out for some positions together, cells are fetched one
//! by one, and blended together again.

use raster::{CellXy, Grid};

use crate::wide::wide;

/// Positions in a grid.
#[derive(Debug, Clone, Default)]
pub(crate) struct Positions {
    /// Columns from the left edge, rows from the upper edge.
    pub(crate) col: Vec<f64>,
    pub(crate) row: Vec<f64>,
}

impl Positions {
    pub(crate) fn clear(&mut self) {
        self.col.clear();
        self.row.clear();
    }

    #[inline]
    pub(crate) fn push(&mut self, [col, row]: [f64; 2]) {
        self.col.push(col);
        self.row.push(row);
    }

    #[inline]
    pub(crate) fn at(&self, i: usize) -> CellXy {
        let (col, row) = (self.col[i], self.row[i]);
        CellXy { col, row }
    }
}

/// Positions worked on together.
const TOGETHER: usize = 32;

/// [`Grid::bilinear_at`] of every position. `values` has their number.
pub(crate) fn bilinear_all(grid: &Grid, at: &Positions, values: &mut [f64]) {
    in_chunks(at, values, |parts, values| {
        if !wide(
            #[inline(always)]
            || bilinear_inside(grid, parts, values),
        ) {
            one_by_one(parts, values, |at| grid.bilinear_at(at));
        }
    });
}

/// The cell that contains each position; NaN outside. `values` has their number.
pub(crate) fn containing_all(grid: &Grid, at: &Positions, values: &mut [f32]) {
    in_chunks(at, values, |parts, values| {
        if !wide(
            #[inline(always)]
            || containing_inside(grid, parts, values),
        ) {
            let cell = |at| grid.containing(at);
            one_by_one(parts, values, |at| {
                cell(at).map_or(f32::NAN, |c| grid.value(c))
            });
        }
    });
}

type Parts<'a> = (&'a [f64], &'a [f64]);

/// Cuts into chunks of [`TOGETHER`], the last of which reaches back over the one before.
#[inline(always)]
fn in_chunks<T>(at: &Positions, values: &mut [T], mut fill: impl FnMut(Parts<'_>, &mut [T])) {
    let count = values.len();
    let mut start = 0;
    while start < count {
        let from = start.min(count.saturating_sub(TOGETHER));
        let range = from..(from + TOGETHER).min(count);
        let parts = (&at.col[range.clone()], &at.row[range.clone()]);
        fill(parts, &mut values[range]);
        start += TOGETHER;
    }
}

/// The careful way, with borders and unknown cells.
fn one_by_one<T>((col, row): Parts<'_>, values: &mut [T], value: impl Fn(CellXy) -> T) {
    for ((col, row), out) in col.iter().zip(row).zip(values) {
        let (col, row) = (*col, *row);
        *out = value(CellXy { col, row });
    }
}

/// Positions that all have four known neighbours; false where that is not so.
#[inline(always)]
fn bilinear_inside(grid: &Grid, (col, row): Parts<'_>, values: &mut [f64]) -> bool {
    let (Some(col), Some(row), Some(values)) = (
        col.first_chunk::<TOGETHER>(),
        row.first_chunk::<TOGETHER>(),
        values.first_chunk_mut::<TOGETHER>(),
    ) else {
        return false;
    };
    let width = grid.width();
    let (most_u, most_v) = ((width - 1) as f64, (grid.height() - 1) as f64);
    let mut index = [0_u64; TOGETHER];
    let (mut fu, mut fv) = ([0.0; TOGETHER], [0.0; TOGETHER]);
    let mut outside = 0_u64;
    for i in 0..TOGETHER {
        let (u, v) = (col[i] - 0.5, row[i] - 0.5);
        outside |= u64::from(!((u >= 0.0) & (v >= 0.0) & (u < most_u) & (v < most_v)));
        let (left, top) = (u.floor(), v.floor());
        fu[i] = u - left;
        fv[i] = v - top;
        index[i] = whole(top * width as f64 + left);
    }
    if outside != 0 {
        return false;
    }
    let [mut a, mut b, mut c, mut d] = [[0.0_f32; TOGETHER]; 4];
    let cells = grid.cells();
    for i in 0..TOGETHER {
        let from = index[i] as usize;
        let (Some(upper), Some(lower)) = (
            cells.get(from..from + 2),
            cells.get(from + width..from + width + 2),
        ) else {
            return false;
        };
        (a[i], b[i]) = (upper[0], upper[1]);
        (c[i], d[i]) = (lower[0], lower[1]);
    }
    for i in 0..TOGETHER {
        let (a, b) = (f64::from(a[i]), f64::from(b[i]));
        let (c, d) = (f64::from(c[i]), f64::from(d[i]));
        let upper = a + (b - a) * fu[i];
        values[i] = upper + (c + (d - c) * fu[i] - upper) * fv[i];
    }
    let mut unknown = 0_u64;
    for value in values {
        unknown |= u64::from(value.is_nan());
    }
    unknown == 0
}

/// A whole number from 0 to 2^51 as an integer, in a form that is vectorised.
#[inline(always)]
fn whole(x: f64) -> u64 {
    const UNIT: f64 = 4_503_599_627_370_496.0;
    (x + UNIT).to_bits() & ((1 << 52) - 1)
}

/// Positions that all lie inside; false where that is not so.
#[inline(always)]
fn containing_inside(grid: &Grid, (col, row): Parts<'_>, values: &mut [f32]) -> bool {
    let (Some(col), Some(row), Some(values)) = (
        col.first_chunk::<TOGETHER>(),
        row.first_chunk::<TOGETHER>(),
        values.first_chunk_mut::<TOGETHER>(),
    ) else {
        return false;
    };
    let (width, height) = (grid.width(), grid.height());
    let (most_col, most_row) = (width as f64, height as f64);
    let mut index = [0_u64; TOGETHER];
    let mut outside = 0_u64;
    for i in 0..TOGETHER {
        let (u, v) = (col[i], row[i]);
        outside |= u64::from(!((u >= 0.0) & (v >= 0.0) & (u < most_col) & (v < most_row)));
        index[i] = whole(v.floor() * most_col + u.floor());
    }
    if outside != 0 {
        return false;
    }
    let cells = grid.cells();
    for i in 0..TOGETHER {
        match cells.get(index[i] as usize) {
            Some(cell) => values[i] = *cell,
            None => return false,
        }
    }
    true
}
