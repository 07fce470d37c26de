//! What grows and stands on the island, in the codes of the `worldcover` legend.

use raster::Grid;

use crate::dice::{at_place, fractal};
use crate::island::{CELL_M, CELLS, MapKm, georeference};
use crate::premises::Home;

const TREES: u8 = 10;
const SHRUBS: u8 = 20;
const GRASS: u8 = 30;
const CROPS: u8 = 40;
const BUILT: u8 = 50;
const BARE: u8 = 60;
const WATER: u8 = 80;

/// Classes of the whole map, on the cells of the terrain.
pub(crate) fn classes(terrain: &Grid, homes: &[Home]) -> Grid {
    let lived_in = lived_in(homes);
    let cells = terrain
        .cells()
        .iter()
        .enumerate()
        .map(|(index, height_m)| {
            let (col, row) = (index % CELLS, index / CELLS);
            f32::from(class(*height_m, (col, row), lived_in[index]))
        })
        .collect();
    Grid::new(georeference(), CELLS, CELLS, cells).expect("one value for every cell")
}

fn class(height_m: f32, (col, row): (usize, usize), lived_in: bool) -> u8 {
    if height_m <= 0.0 {
        return WATER;
    }
    let (x, y) = (col as f64 * CELL_M / 1e3, row as f64 * CELL_M / 1e3);
    let wood = fractal(x / 1.3, y / 1.3, 4, 71);
    if lived_in {
        // Houses stand apart, with gardens and fields between them.
        return if at_place(col as i64, row as i64, 97) < 0.3 {
            BUILT
        } else {
            CROPS
        };
    }
    match height_m {
        h if h > 360.0 => BARE,
        h if h > 25.0 && h < 280.0 && wood > 0.6 => TREES,
        _ if wood > 0.54 => SHRUBS,
        h if h < 120.0 && wood < 0.4 => CROPS,
        _ => GRASS,
    }
}

/// Whether somebody lives in a cell or next to it.
fn lived_in(homes: &[Home]) -> Vec<bool> {
    let mut cells = vec![false; CELLS * CELLS];
    for home in homes {
        let MapKm { x_km, y_km } = home.at;
        let col = (x_km * 1e3 / CELL_M) as usize;
        let row = (CELLS - 1).saturating_sub((y_km * 1e3 / CELL_M) as usize);
        for r in row.saturating_sub(1)..=(row + 1).min(CELLS - 1) {
            for c in col.saturating_sub(1)..=(col + 1).min(CELLS - 1) {
                cells[r * CELLS + c] = true;
            }
        }
    }
    cells
}
