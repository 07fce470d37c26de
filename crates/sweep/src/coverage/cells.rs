//! Which cells belong to which radial.

use physics::path_loss::Zone;
use rayon::prelude::*;

use super::{Plan, RADIALS_PER_SECTOR, SweepError};
use crate::Watch;
use crate::fast::bearing_rad;

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

/// Rows handled together; fixed, so that the result knows no threads.
const ROWS_PER_BAND: usize = 32;

/// Cells for which a sector has room in a band that touches it.
const FIRST_ROOM: usize = 256;

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

    /// The cells of a sector by radial, those of a radial from the mast outwards.
    pub(super) fn sector(&self, sector: usize, entries: &mut Vec<Entry>) {
        let cells = || self.0.iter().flat_map(|band| &band[sector]);
        let mut starts = [0_usize; RADIALS_PER_SECTOR + 1];
        let mut count = 0;
        for entry in cells() {
            starts[usize::from(entry.radial_in_sector) + 1] += 1;
            count += 1;
        }
        entries.clear();
        let Some(any) = cells().next() else {
            return;
        };
        entries.resize(count, *any);
        for radial in 0..RADIALS_PER_SECTOR {
            starts[radial + 1] += starts[radial];
        }
        for entry in cells() {
            let start = &mut starts[usize::from(entry.radial_in_sector)];
            entries[*start] = *entry;
            *start += 1;
        }
        for radial in entries.chunk_by_mut(|a, b| a.radial_in_sector == b.radial_in_sector) {
            // Positive numbers are ordered as their bits.
            radial.sort_unstable_by_key(|e| e.d_km.to_bits());
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
        let sector = &mut sectors[radial / RADIALS_PER_SECTOR];
        if sector.capacity() == 0 {
            sector.reserve(FIRST_ROOM);
        }
        sector.push(Entry {
            d_km: square.sqrt(),
            cell: (row * width + col) as u32,
            ground_amsl_m: standing.ground_amsl_m(col) as f32,
            clutter_m: cover.height_m as f32,
            zone: cover.zone,
            radial_in_sector: (radial % RADIALS_PER_SECTOR) as u8,
        });
    }
}
