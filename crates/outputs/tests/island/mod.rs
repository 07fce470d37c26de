//! A loss like one over the example island: free space and the highest
//! obstacle on the straight line. Not a model of anything.

#![expect(unreachable_pub, reason = "shared between tests")]

use demo::island::{CELL_M, CELLS, MapKm, terrain};
use engine::{CrossSection, Surroundings};
use geodesy::LonLat;
use outputs::coverage::{Mark, Occupied};
use raster::{Cell, Grid};

/// The island as ground.
pub struct Ground(Grid);

impl Ground {
    pub fn new() -> Self {
        Self(terrain())
    }
}

impl Surroundings for Ground {
    fn trace(&self, _: LonLat, _: LonLat, _: Option<f64>, _: &mut CrossSection) {
        unreachable!("a relief follows no path");
    }

    fn ground_amsl_m(&self, at: LonLat) -> Option<f64> {
        Some(self.0.bilinear(at)).filter(|h| !h.is_nan())
    }
}

/// Kilometres east and north, metres above ground, name.
const MASTS: [(f64, f64, &str); 3] = [
    (8.0, 15.0, "Harn Fell"),
    (14.5, 9.0, "Brae Top"),
    (17.0, 17.5, "Näsby"),
];

pub fn masts() -> Vec<Mark> {
    let mark = |(x, y, label): &(f64, f64, &str)| Mark {
        position: MapKm::new(*x, *y).lonlat(),
        label: (*label).to_owned(),
    };
    MASTS.iter().map(mark).collect()
}

/// Homes of the example; every third with a count of people.
pub fn homes() -> Vec<Occupied> {
    let homes = demo::premises::settle(&terrain());
    let occupied = homes.iter().enumerate().map(|(i, home)| Occupied {
        position: home.at.lonlat(),
        people: i.is_multiple_of(3).then_some(2.4),
    });
    occupied.collect()
}

pub fn loss() -> Grid {
    loss_and_server().0
}

/// The least loss of all masts, and whose it is; void beyond 11 km of each.
pub fn loss_and_server() -> (Grid, Grid) {
    let ground = terrain();
    let mut loss = ground.clone();
    let mut server = ground.clone();
    for row in 0..CELLS {
        for col in 0..CELLS {
            let all = MASTS.iter().enumerate();
            let each = all.filter_map(|(i, mast)| Some((i, from_mast(&ground, mast, (col, row))?)));
            let best = each.min_by(|a, b| a.1.total_cmp(&b.1));
            let at = row * CELLS + col;
            loss.cells_mut()[at] = best.map_or(f32::NAN, |b| b.1 as f32);
            server.cells_mut()[at] = best.map_or(f32::NAN, |b| b.0 as f32);
        }
    }
    (loss, server)
}

fn from_mast(ground: &Grid, (x_km, y_km, _): &(f64, f64, &str), at: (usize, usize)) -> Option<f64> {
    let cell_km = CELL_M / 1e3;
    let (from_col, from_row) = (x_km / cell_km, CELLS as f64 - y_km / cell_km);
    let (d_col, d_row) = (at.0 as f64 - from_col, at.1 as f64 - from_row);
    let length_km = (d_col.hypot(d_row) * cell_km).max(0.03);
    if length_km > 11.0 {
        return None;
    }
    let height = |share: f64| {
        let col = (from_col + share * d_col).round() as usize;
        let row = (from_row + share * d_row).round() as usize;
        f64::from(ground.value(Cell { col, row }))
    };
    let (near_m, far_m) = (height(0.0) + 25.0, height(1.0) + 5.0);
    let obstacle = (1..24).map(|i| {
        let share = f64::from(i) / 24.0;
        let line_m = near_m + (far_m - near_m) * share;
        (height(share) - line_m) / (length_km * share * (1.0 - share)).sqrt()
    });
    let obstacle = obstacle.fold(f64::NEG_INFINITY, f64::max);
    let excess_db = (6.0 + 1.2 * obstacle).clamp(0.0, 45.0);
    Some(32.45 + 20.0 * (5815.0 * length_km).log10() + excess_db)
}
