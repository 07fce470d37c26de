//! Which cells belong to which radial.

use physics::path_loss::Zone;
use rayon::prelude::*;

use super::{Plan, RADIALS_PER_SECTOR, SweepError};
use crate::Watch;
use crate::fast::bearing_rad;
use crate::radial::last_inside;

/// A cell within the radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Geodesic distance from the mast. \[km\]
    pub(super) d_km: f64,
    /// Position in the layers.
    pub(super) cell: u32,
    pub(super) radial: u32,
    /// The cell's own ground, rounded to f32 as the rasters hold it.
    pub(super) ground_amsl_m: f32,
    pub(super) clutter_m: f32,
    pub(super) zone: Zone,
}

/// Rows handled together; fixed, so that the result knows no threads.
const ROWS_PER_BAND: usize = 32;

/// The cells of every band of rows, by sector.
pub(super) struct Bands(Vec<Vec<Vec<Entry>>>);

impl Bands {
    pub(super) fn assign(plan: &Plan<'_>, watch: &dyn Watch) -> Result<Self, SweepError> {
        let rows: Vec<usize> = plan.window[1].clone().collect();
        let bands = rows.par_chunks(ROWS_PER_BAND).map(|rows| {
            if watch.interrupted() {
                return Err(SweepError::Interrupted);
            }
            let mut sectors = vec![Vec::new(); plan.sectors];
            for row in rows {
                assign_row(plan, *row, &mut sectors);
            }
            Ok(sectors)
        });
        bands.collect::<Result<_, _>>().map(Self)
    }

    /// The cells of a sector, whatever their order.
    pub(super) fn sector(&self, sector: usize, entries: &mut Vec<Entry>) {
        entries.clear();
        for band in &self.0 {
            entries.extend_from_slice(&band[sector]);
        }
    }
}

fn assign_row(plan: &Plan<'_>, row: usize, sectors: &mut [Vec<Entry>]) {
    let azimuthal = plan.to_azimuthal.row(row);
    let standing = plan.at_cells.row(row);
    let per_radian = plan.radials as f64 / std::f64::consts::TAU;
    let width = plan.request.target.width;
    for col in plan.window[0].clone() {
        let [east, north] = azimuthal.at(col);
        let square = east * east + north * north;
        if square > plan.radius_km * plan.radius_km {
            continue;
        }
        // A whole turn is added so that the whole part is the nearest radial.
        let turns = bearing_rad(east, north) * per_radian + 0.5 + plan.radials as f64;
        let radial = turns as u32;
        let once_round = plan.radials as u32;
        let radial = if radial >= once_round {
            radial - once_round
        } else {
            radial
        } as usize;
        let cover = standing.cover(col);
        sectors[radial / RADIALS_PER_SECTOR].push(Entry {
            d_km: square.sqrt(),
            cell: (row * width + col) as u32,
            radial: radial as u32,
            ground_amsl_m: standing.ground_amsl_m(col) as f32,
            clutter_m: cover.height_m as f32,
            zone: cover.zone,
        });
    }
}

/// Sorts cells by radial and, within it, by the last sample before them: two
/// passes that count.
pub(super) fn sort(entries: &mut Vec<Entry>, sorted: &mut Vec<Entry>, plan: &Plan<'_>) {
    let last = |e: &Entry| last_inside(e.d_km, plan.step_km);
    scatter(entries, sorted, plan.samples + 1, last);
    let first = sorted.iter().map(|e| e.radial).min().unwrap_or(0);
    scatter(sorted, entries, RADIALS_PER_SECTOR, |e| {
        (e.radial - first) as usize
    });
    std::mem::swap(entries, sorted);
}

/// Sorts by a small number, keeping the order of equals.
fn scatter(from: &[Entry], to: &mut Vec<Entry>, keys: usize, key: impl Fn(&Entry) -> usize) {
    let Some(any) = from.first() else {
        to.clear();
        return;
    };
    let mut starts = vec![0_u32; keys + 1];
    for entry in from {
        starts[key(entry).min(keys - 1) + 1] += 1;
    }
    for k in 0..keys {
        starts[k + 1] += starts[k];
    }
    to.clear();
    to.resize(from.len(), *any);
    for entry in from {
        let start = &mut starts[key(entry).min(keys - 1)];
        to[*start as usize] = *entry;
        *start += 1;
    }
}
