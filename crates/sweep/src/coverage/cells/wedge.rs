//! The outline of a sector on the raster.

use std::ops::Range;

use super::Plan;
use crate::sampling::Positions;

/// Columns taken on either side of the outline, and rows above and below. \[cells\]
const MARGIN: f64 = 0.7;

/// A sector of the circle.
#[derive(Default)]
pub(super) struct Wedge {
    /// Sine and cosine of the two borders' azimuths.
    borders: [[f64; 2]; 2],
    square_km2: f64,
    /// Rows of the target it may reach.
    pub(super) rows: Range<usize>,
    /// First column and the one after the last, of every row.
    spans: Vec<[u32; 2]>,
    positions: Positions,
}

impl Wedge {
    /// Whether a place in azimuthal coordinates is in the sector: on the
    /// clockwise side of its first border, not on that of its second.
    #[inline(always)]
    pub(super) fn contains(&self, [east, north]: [f64; 2]) -> bool {
        let [[sin0, cos0], [sin1, cos1]] = self.borders;
        let first = east * cos0 - north * sin0;
        let second = east * cos1 - north * sin1;
        let square = east * east + north * north;
        (first >= 0.0) & (second < 0.0) & (square <= self.square_km2)
    }

    /// The columns of a row.
    pub(super) fn cols(&self, row: usize) -> Range<usize> {
        let [start, end] = self.spans[row - self.rows.start];
        start as usize..end as usize
    }

    /// Draws borders and rim on the target and notes which columns they enclose.
    pub(super) fn outline(&mut self, plan: &Plan<'_>, sector: usize) {
        let azimuths_rad = [plan.border_rad(sector), plan.border_rad(sector + 1)];
        self.borders = azimuths_rad.map(|a| a.sin_cos().into());
        self.square_km2 = plan.radius_km * plan.radius_km;
        let [cols, rows] = &plan.window;
        self.rows = rows.clone();
        self.spans.clear();
        self.spans.resize(rows.len(), [u32::MAX, 0]);
        // Half a cell from point to point.
        let points = 2.0 * plan.radius_km / plan.cell_km;
        let step_km = 0.5 * plan.cell_km;
        for azimuth_rad in azimuths_rad {
            let ray = plan.to_target.ray(azimuth_rad);
            ray.fill(step_km, 0..points.ceil() as usize + 1, &mut self.positions);
            self.enclose(cols);
        }
        let [from, mut to] = azimuths_rad;
        if to < from {
            to += std::f64::consts::TAU;
        }
        let arc = ((to - from) * points).ceil().max(1.0) as usize;
        for i in 0..=arc {
            let azimuth_rad = from + (to - from) * i as f64 / arc as f64;
            let ray = plan.to_target.ray(azimuth_rad);
            ray.fill(plan.radius_km, 1..2, &mut self.positions);
            self.enclose(cols);
        }
        let is_empty = |span: &[u32; 2]| span[0] >= span[1];
        let empty = self.spans.iter().take_while(|s| is_empty(s)).count();
        self.spans.drain(..empty);
        let used = self.spans.iter().rposition(|s| !is_empty(s));
        self.spans.truncate(used.map_or(0, |last| last + 1));
        let first = self.rows.start + empty;
        self.rows = first..first + self.spans.len();
    }

    fn enclose(&mut self, cols: &Range<usize>) {
        let most = cols.end as f64;
        for (col, row) in self.positions.col.iter().zip(&self.positions.row) {
            // The centre of a cell is half a cell on from its number.
            let start = (col - 0.5 - MARGIN).clamp(cols.start as f64, most) as u32;
            let end = (col + 0.5 + MARGIN).clamp(cols.start as f64, most) as u32;
            let row = row - self.rows.start as f64;
            for row in [row - MARGIN, row, row + MARGIN] {
                if row >= 0.0
                    && let Some(span) = self.spans.get_mut(row as usize)
                {
                    span[0] = span[0].min(start);
                    span[1] = span[1].max(end);
                }
            }
        }
    }
}
