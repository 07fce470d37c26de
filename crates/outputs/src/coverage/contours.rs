//! Contour lines of a quantity at its class limits.

use contour::ContourBuilder;
use raster::{Cell as GridCell, CellXy, Grid};

use super::CoverageError;
use super::quantity::{Kind, Quantity};
use super::vectors::{Geometry, VectorLayer, columns_of_lines, lonlat};
use crate::layers::Cell;

/// Lines of equal value at the limits of the classes, interpolated between
/// cell centres; none along the border of what is known. Names have no lines.
pub fn contour_lines(grid: &Grid, quantity: &Quantity) -> Result<VectorLayer, CoverageError> {
    let limits: Vec<f64> = match quantity.kind {
        Kind::Classes => Vec::new(),
        _ => quantity.classes.iter().filter_map(|c| c.from).collect(),
    };
    let filled = filled(grid, &limits);
    let builder = ContourBuilder::new(grid.width(), grid.height(), true);
    let lines = builder.lines(&filled, &limits)?;
    let mut rows = Vec::new();
    for line in lines {
        let (rings, limit) = line.into_inner();
        let parts: Vec<Vec<CellXy>> = rings
            .iter()
            .flat_map(|ring| {
                let at = ring.coords().map(|at| CellXy {
                    col: at.x,
                    row: at.y,
                });
                known_parts(grid, &at.collect::<Vec<_>>())
            })
            .collect();
        if parts.is_empty() {
            continue;
        }
        let placed = |part: &Vec<CellXy>| part.iter().map(|at| lonlat(grid, *at)).collect();
        let placed = parts.iter().map(placed).collect::<Result<_, _>>()?;
        let cells = vec![
            Cell::from(quantity.name),
            Cell::from(limit),
            Cell::from(quantity.unit),
        ];
        rows.push((cells, Geometry::Lines(placed)));
    }
    Ok(VectorLayer {
        name: format!("{}_contours", quantity.name),
        title: format!("{}: lines of equal value", quantity.title),
        columns: columns_of_lines(),
        rows,
    })
}

/// The cells with a number where there is none, a little below every limit:
/// the library compares and divides, and knows no NaN.
fn filled(grid: &Grid, limits: &[f64]) -> Vec<f64> {
    let below = limits.iter().copied().fold(0.0, f64::min) - 1.0;
    let value = |v: &f32| match f64::from(*v) {
        v if v.is_finite() => v,
        v if v == f64::INFINITY => f64::from(f32::MAX),
        _ => below,
    };
    grid.cells().iter().map(value).collect()
}

/// The parts of a ring that lie between known cells. The library's positions
/// are ours: cell centres lie at halves.
fn known_parts(grid: &Grid, ring: &[CellXy]) -> Vec<Vec<CellXy>> {
    let mut parts = vec![Vec::new()];
    for at in ring.iter().copied() {
        if is_known(grid, at) {
            if let Some(part) = parts.last_mut() {
                part.push(at);
            }
        } else {
            parts.push(Vec::new());
        }
    }
    // A ring that was cut elsewhere goes on where it began.
    if parts.len() > 1 && ring.first() == ring.last() {
        let first = parts.swap_remove(0);
        if let Some(last) = parts.last_mut().filter(|last| !last.is_empty()) {
            last.extend(first.into_iter().skip(1));
        } else {
            parts.push(first);
        }
    }
    parts.retain(|part| part.len() > 1);
    parts
}

/// Whether the cells whose centres surround a position all have a value.
fn is_known(grid: &Grid, at: CellXy) -> bool {
    let around = |v: f64| [(v - 0.5).floor(), (v - 0.5).ceil()];
    let cell = |col: f64, row: f64| GridCell {
        col: col as usize,
        row: row as usize,
    };
    around(at.row).into_iter().all(|row| {
        around(at.col)
            .into_iter()
            .all(|col| col >= 0.0 && row >= 0.0 && !grid.value(cell(col, row)).is_nan())
    })
}
