//! The shape of the island of Ossorel: a coast, a main ridge with a saddle, a
//! second ridge, a spur that hides a valley, a lone hill and a far islet.
//! Kilometres east and north of the map's south-west corner.

use geodesy::{Crs, LonLat, MapXy};
use raster::{Affine, Georeference, Grid};

use crate::dice::{fractal, smooth};

/// The map's reference system: UTM zone 26 north, in the middle of the ocean.
pub const EPSG: u32 = 32_626;
/// South-west corner of the map.
pub const CORNER: MapXy = MapXy {
    x: 408_000.0,
    y: 4_860_000.0,
};
/// Cells along each side.
pub const CELLS: usize = 800;
/// Size of a cell.
pub const CELL_M: f64 = 30.0;

/// A place on the map, in kilometres from its south-west corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapKm {
    /// Towards the east.
    pub x_km: f64,
    /// Towards the north.
    pub y_km: f64,
}

impl MapKm {
    /// A place from its two coordinates.
    pub const fn new(x_km: f64, y_km: f64) -> Self {
        Self { x_km, y_km }
    }

    pub(crate) fn distance_km(self, other: Self) -> f64 {
        let (dx, dy) = (self.x_km - other.x_km, self.y_km - other.y_km);
        (dx * dx + dy * dy).sqrt()
    }

    /// The place on Earth.
    pub fn lonlat(self) -> LonLat {
        let at = MapXy {
            x: CORNER.x + 1e3 * self.x_km,
            y: CORNER.y + 1e3 * self.y_km,
        };
        crs()
            .to_lonlat(at)
            .expect("the map lies well inside its UTM zone")
    }
}

/// A crest or a valley floor: a line, how high and how wide.
struct Crest {
    from: MapKm,
    to: MapKm,
    height_m: f64,
    half_width_km: f64,
    /// Share of the height that is missing at the middle: a saddle.
    saddle_frac: f64,
}

const CRESTS: [Crest; 5] = [
    // The main ridge, from the north-west cape to the south-east.
    Crest {
        from: MapKm::new(5.0, 16.6),
        to: MapKm::new(17.5, 8.2),
        height_m: 390.0,
        half_width_km: 1.7,
        saddle_frac: 0.28,
    },
    // The eastern downs.
    Crest {
        from: MapKm::new(15.2, 19.2),
        to: MapKm::new(20.2, 14.2),
        height_m: 190.0,
        half_width_km: 1.2,
        saddle_frac: 0.1,
    },
    // The spur that hides the valley of Hathrend.
    Crest {
        from: MapKm::new(8.0, 17.2),
        to: MapKm::new(12.2, 18.4),
        height_m: 290.0,
        half_width_km: 0.8,
        saddle_frac: 0.0,
    },
    // The lone hill above the south-western plain.
    Crest {
        from: MapKm::new(6.0, 6.3),
        to: MapKm::new(6.5, 6.8),
        height_m: 190.0,
        half_width_km: 1.1,
        saddle_frac: 0.0,
    },
    // A low rise between the south coast and the main ridge.
    Crest {
        from: MapKm::new(10.5, 7.2),
        to: MapKm::new(13.0, 5.2),
        height_m: 110.0,
        half_width_km: 0.8,
        saddle_frac: 0.0,
    },
];

/// The islet of Outer Skarle, far from every mast.
const ISLET: (MapKm, f64) = (MapKm::new(1.7, 22.3), 1.0);

/// Elevation of the whole map. [m above sea level; 0 is the sea]
pub fn terrain() -> Grid {
    let mut cells = Vec::with_capacity(CELLS * CELLS);
    let cell_km = CELL_M / 1e3;
    for row in 0..CELLS {
        for col in 0..CELLS {
            let at = MapKm {
                x_km: (col as f64 + 0.5) * cell_km,
                y_km: ((CELLS - row) as f64 - 0.5) * cell_km,
            };
            let height_dm = (10.0 * height_m(at)).round();
            cells.push((height_dm / 10.0) as f32);
        }
    }
    Grid::new(georeference(), CELLS, CELLS, cells).expect("one value for every cell")
}

/// The reference system of both rasters.
pub(crate) fn crs() -> Crs {
    Crs::from_epsg(EPSG).expect("UTM zones are among the definitions")
}

/// The place of both rasters.
pub(crate) fn georeference() -> Georeference {
    let upper_left = MapXy {
        x: CORNER.x,
        y: CORNER.y + CELLS as f64 * CELL_M,
    };
    let affine = Affine::north_up(upper_left, CELL_M, CELL_M).expect("cells have a size");
    Georeference::new(crs(), affine, CELLS, CELLS)
}

/// Height above the sea; 0 where there is sea.
fn height_m(at: MapKm) -> f64 {
    let inland = inland_frac(at);
    if inland <= 0.0 {
        return islet_m(at);
    }
    let (x, y) = (at.x_km, at.y_km);
    // Crests as squares in a sum: where two meet they pass into each other without a crease.
    let bent = bent(at);
    let squares = CRESTS.iter().map(|c| c.height_m(bent));
    let crests_m = squares.map(|h| h * h).sum::<f64>().sqrt();
    // Gullies and spurs run down from the crests.
    let carved = 0.66 + 0.5 * creased(x / 1.7, y / 1.7, 41) + 0.16 * creased(x / 0.6, y / 0.6, 53);
    let broad = fractal(x / 3.1, y / 3.1, 3, 11) - 0.5;
    let fine = fractal(x / 0.9, y / 0.9, 5, 23) - 0.5;
    let rough_m = 120.0 * broad + (26.0 + 0.12 * crests_m) * fine;
    let land_m = 30.0 + 46.0 * smooth(1.6 * inland) + carved * crests_m + rough_m;
    (smooth(inland / 0.12) * land_m).max(0.6)
}

/// The place pushed aside by up to some hundred metres, so that no line on the map is straight.
fn bent(at: MapKm) -> MapKm {
    let push_km = |seed| 3.4 * (fractal(at.x_km / 3.3, at.y_km / 3.3, 3, seed) - 0.5);
    MapKm {
        x_km: at.x_km + push_km(61),
        y_km: at.y_km + push_km(67),
    }
}

/// Noise from 0 to 1 with sharp crests and round hollows.
fn creased(x: f64, y: f64, seed: u64) -> f64 {
    1.0 - (2.0 * fractal(x, y, 3, seed) - 1.0).abs()
}

/// 0 at the coast, rising to 1 in the middle of the island; negative at sea.
fn inland_frac(at: MapKm) -> f64 {
    let (dx, dy) = ((at.x_km - 12.3) / 9.9, (at.y_km - 11.6) / 9.2);
    let ragged = fractal(at.x_km / 2.6, at.y_km / 2.6, 4, 5) - 0.5;
    1.0 - (dx * dx + dy * dy).sqrt() + 0.34 * ragged
}

fn islet_m(at: MapKm) -> f64 {
    let (centre, radius_km) = ISLET;
    let ragged = fractal(at.x_km / 0.7, at.y_km / 0.7, 4, 31) - 0.5;
    let inland = 1.0 - at.distance_km(centre) / radius_km + 0.5 * ragged;
    if inland <= 0.0 {
        return 0.0;
    }
    (58.0 * smooth(inland)).max(0.6)
}

impl Crest {
    fn height_m(&self, at: MapKm) -> f64 {
        let (dx, dy) = (self.to.x_km - self.from.x_km, self.to.y_km - self.from.y_km);
        let along = ((at.x_km - self.from.x_km) * dx + (at.y_km - self.from.y_km) * dy)
            / (dx * dx + dy * dy);
        let along = along.clamp(0.0, 1.0);
        let nearest = MapKm {
            x_km: self.from.x_km + along * dx,
            y_km: self.from.y_km + along * dy,
        };
        let off = at.distance_km(nearest) / self.half_width_km;
        let from_middle = 2.0 * along - 1.0;
        let saddle = 1.0 - self.saddle_frac * (1.0 - smooth(from_middle * from_middle * 4.0));
        let bell = 1.0 + off * off;
        self.height_m * saddle / (bell * bell)
    }
}
