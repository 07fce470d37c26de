//! Which cells belong to which radial.
//!
//! The circle is cut into sectors of some radials. A sector finds its own cells: those of the
//! raster between its two borders, row by row. A cell is on the clockwise side of a border or
//! not, by one and the same comparison for the two sectors that share it, so it belongs to
//! exactly one.

mod wedge;

use physics::path_loss::Zone;

use super::Plan;
use crate::at_cells::Standing;
use crate::fast::bearing_rad;
use crate::wide::wide;
use wedge::Wedge;

/// A cell within the radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Geodesic distance from the mast. \[km\]
    pub(super) d_km: f64,
    /// Position in the layers.
    pub(super) cell: u32,
    /// The cell's own ground, rounded to f32 as the rasters hold it.
    pub(super) ground_amsl_m: f32,
    pub(super) clutter_m: f32,
    pub(super) zone: Zone,
    /// Its radial, counted from the sector's first.
    pub(super) radial_in_sector: u8,
}

/// Columns looked at together.
const LANES: usize = 16;

/// Cells worked out together, at least.
const BLOCK: usize = 512;

/// Finds the cells of sectors; keeps the buffers between them.
#[derive(Default)]
pub(super) struct SectorCells {
    wedge: Wedge,
    found: Found,
    unsorted: Vec<Entry>,
    /// Last sample of the radial before each cell.
    last: Vec<u32>,
    order: Vec<u32>,
    starts: Vec<u32>,
}

/// Cells in a wedge, of which more is to be known.
#[derive(Default)]
struct Found {
    col: Vec<u32>,
    row: Vec<u32>,
    east: Vec<f64>,
    north: Vec<f64>,
    standing: Standing,
}

impl Found {
    fn clear(&mut self) {
        self.col.clear();
        self.row.clear();
        self.east.clear();
        self.north.clear();
        self.standing.clear();
    }
}

impl SectorCells {
    /// The cells of a sector by radial, those of a radial in rising order of the last sample
    /// before them.
    pub(super) fn sector(&mut self, plan: &Plan<'_>, sector: usize, entries: &mut Vec<Entry>) {
        self.unsorted.clear();
        self.last.clear();
        self.wedge.outline(plan, sector);
        self.found.clear();
        let rows = self.wedge.rows.clone();
        for row in rows {
            self.row(plan, row);
            if self.found.col.len() >= BLOCK {
                self.take_found(plan, sector);
            }
        }
        self.take_found(plan, sector);
        self.sort(plan, entries);
    }

    /// Finds the cells of one row.
    fn row(&mut self, plan: &Plan<'_>, row: usize) {
        let (across, wedge) = (&plan.rows[row - plan.window[1].start], &self.wedge);
        let mut cols = wedge.cols(row);
        while !cols.is_empty() {
            let [mut east, mut north] = [[0.0; LANES]; 2];
            let mut is_inside = [false; LANES];
            wide(
                #[inline(always)]
                || {
                    across.azimuthal.fill(cols.start, [&mut east, &mut north]);
                    for i in 0..LANES {
                        is_inside[i] = wedge.contains([east[i], north[i]]);
                    }
                },
            );
            for i in 0..cols.len().min(LANES) {
                if is_inside[i] {
                    let found = &mut self.found;
                    found.col.push((cols.start + i) as u32);
                    found.row.push(row as u32);
                    found.east.push(east[i]);
                    found.north.push(north[i]);
                    across.standing.place(cols.start + i, &mut found.standing);
                }
            }
            cols.start = (cols.start + LANES).min(cols.end);
        }
    }

    /// Works out what has been found.
    fn take_found(&mut self, plan: &Plan<'_>, sector: usize) {
        let found = &mut self.found;
        let count = found.col.len();
        plan.at_cells.look(&mut found.standing, |i| {
            let across = &plan.rows[found.row[i] as usize - plan.window[1].start];
            let col = found.col[i] as usize;
            (
                across.standing.ground_amsl_m(col),
                across.standing.cover(col),
            )
        });
        let in_sector = plan.radials_per_sector.min(plan.radials) as f64;
        let middle_rad =
            plan.border_rad(sector) + 0.5 * in_sector * std::f64::consts::TAU / plan.radials as f64;
        let (sin, cos) = middle_rad.sin_cos();
        let per_radian = plan.radials as f64 / std::f64::consts::TAU;
        let width = plan.request.target.width as u32;
        // Both become: the distance, and the number of the radial.
        let (east, north) = (&mut found.east[..], &mut found.north[..]);
        wide(
            #[inline(always)]
            || {
                for (east, north) in east.iter_mut().zip(north) {
                    let (x, y) = (*east * cos - *north * sin, *east * sin + *north * cos);
                    *east = (x * x + y * y).sqrt();
                    *north = bearing_rad(x, y) * per_radian + 0.5 * in_sector;
                }
            },
        );
        let most = plan.radials_per_sector - 1;
        for i in 0..count {
            let (col, row, d_km) = (found.col[i], found.row[i], found.east[i]);
            let cover = found.standing.covers[i];
            self.unsorted.push(Entry {
                d_km,
                cell: row * width + col,
                ground_amsl_m: found.standing.ground_amsl_m[i] as f32,
                clutter_m: cover.height_m as f32,
                zone: cover.zone,
                radial_in_sector: (found.north[i] as i32).clamp(0, most as i32) as u8,
            });
            self.last.push(plan.last_shared(d_km) as u32);
        }
        found.clear();
    }

    /// Counts cells by last sample, then by radial.
    fn sort(&mut self, plan: &Plan<'_>, entries: &mut Vec<Entry>) {
        entries.clear();
        let Some(any) = self.unsorted.first() else {
            return;
        };
        let last = |i: usize| self.last[i] as usize;
        let order = &mut self.order;
        order.resize(self.unsorted.len(), 0);
        let most = self.last.iter().max().map_or(0, |last| *last as usize);
        starts(&mut self.starts, most, (0..order.len()).map(last));
        for i in 0..order.len() {
            let start = &mut self.starts[last(i)];
            order[*start as usize] = i as u32;
            *start += 1;
        }
        entries.resize(order.len(), *any);
        let radial = |entry: &Entry| usize::from(entry.radial_in_sector);
        let most = plan.radials_per_sector;
        starts(&mut self.starts, most, self.unsorted.iter().map(radial));
        for i in order {
            let entry = &self.unsorted[*i as usize];
            let start = &mut self.starts[radial(entry)];
            entries[*start as usize] = *entry;
            *start += 1;
        }
    }
}

/// Where each key from 0 to `most` starts when all are in order.
fn starts(starts: &mut Vec<u32>, most: usize, keys: impl Iterator<Item = usize>) {
    starts.clear();
    starts.resize(most + 2, 0);
    for key in keys {
        starts[key + 1] += 1;
    }
    for i in 0..=most {
        starts[i + 1] += starts[i];
    }
}
