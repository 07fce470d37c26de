//! A grid of the working plane in equal steps of Web Mercator.

use geodesy::{LonLat, LonLatBox};
use raster::{CellXy, Georeference};

use super::{down, lat_deg};
use crate::coverage::CoverageError;

/// Where each value of a Mercator grid lies in the grid beneath. Made once for
/// a raster and used for every quantity of it.
#[derive(Debug, Clone, PartialEq)]
pub struct MercatorLattice {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Left edge.
    pub west_deg: f64,
    /// Lower edge.
    pub south_deg: f64,
    /// Right edge; beyond 180 where the grid spans that meridian.
    pub east_deg: f64,
    /// Upper edge.
    pub north_deg: f64,
    /// Index into the cells beneath; [`OUTSIDE`] where there is none.
    source: Vec<u32>,
}

/// No cell.
const OUTSIDE: u32 = u32::MAX;
/// More columns or rows than this are no help on a screen.
const MOST_PIXELS: usize = 4096;
/// Between nodes of so many pixels the projection is linear: over 16 cells of
/// 30 m it bends by less than a hundredth of one.
const NODE_PIXELS: usize = 16;

impl MercatorLattice {
    /// The lattice over a raster of the working plane, about as fine as its cells.
    ///
    /// # Errors
    /// A corner that has no place on Earth.
    pub fn over(
        georeference: &Georeference,
        (width, height): (usize, usize),
    ) -> Result<Self, CoverageError> {
        let around = around(georeference, (width, height))?;
        let top = down(around.north_deg());
        let bottom = down(around.south_deg());
        let across = around.width_deg() / 360.0;
        // As many steps along the longer side as the raster has, in squares.
        let step = (across / width as f64).min((bottom - top) / height as f64);
        let count = |length: f64| ((length / step).ceil() as usize).clamp(1, MOST_PIXELS);
        let mut lattice = Self {
            width: count(across),
            height: count(bottom - top),
            west_deg: around.west_deg(),
            south_deg: around.south_deg(),
            east_deg: around.west_deg() + around.width_deg(),
            north_deg: around.north_deg(),
            source: Vec::new(),
        };
        lattice.source = lattice.sources(georeference, (width, height));
        Ok(lattice)
    }

    fn place(&self, x: f64, y: f64) -> Option<LonLat> {
        let across = (x + 0.5) / self.width as f64;
        let lon_deg = self.west_deg + (self.east_deg - self.west_deg) * across;
        let (top, bottom) = (down(self.north_deg), down(self.south_deg));
        let lat = lat_deg(top + (bottom - top) * (y + 0.5) / self.height as f64);
        LonLat::new(geodesy::wrap_lon_deg(lon_deg, 0.0), lat).ok()
    }

    fn sources(&self, georeference: &Georeference, (width, height): (usize, usize)) -> Vec<u32> {
        let columns = self.width / NODE_PIXELS + 2;
        let rows = self.height / NODE_PIXELS + 2;
        let nodes: Vec<Option<CellXy>> = (0..rows * columns)
            .map(|i| {
                let at = |n: usize| (n * NODE_PIXELS) as f64;
                let place = self.place(at(i % columns), at(i / columns))?;
                georeference.to_cell(place).ok()
            })
            .collect();
        let index = |at: CellXy| {
            let inside = |value: f64, count: usize| {
                (value >= 0.0 && value < count as f64).then_some(value as usize)
            };
            let cell = inside(at.row, height)? * width + inside(at.col, width)?;
            u32::try_from(cell).ok()
        };
        let mut source = Vec::with_capacity(self.width * self.height);
        for y in 0..self.height {
            for x in 0..self.width {
                let (left, upper) = (x / NODE_PIXELS, y / NODE_PIXELS);
                let node = |c: usize, r: usize| nodes[r * columns + c];
                let share = |i: usize| (i % NODE_PIXELS) as f64 / NODE_PIXELS as f64;
                let along = |r: usize| Some(between(node(left, r)?, node(left + 1, r)?, share(x)));
                let at = || Some(between(along(upper)?, along(upper + 1)?, share(y)));
                source.push(at().and_then(index).unwrap_or(OUTSIDE));
            }
        }
        source
    }

    /// The cells of the raster that the lattice was made for, row by row from
    /// the north-west; NaN outside of it.
    pub fn values(&self, cells: &[f32]) -> Vec<f32> {
        let value = |index: &u32| cells.get(*index as usize).copied().unwrap_or(f32::NAN);
        self.source.iter().map(value).collect()
    }
}

fn between(a: CellXy, b: CellXy, share: f64) -> CellXy {
    CellXy {
        col: a.col + (b.col - a.col) * share,
        row: a.row + (b.row - a.row) * share,
    }
}

/// The box around a raster: parallels and meridians bend in a projection, so
/// that its corners are not enough.
fn around(
    georeference: &Georeference,
    (width, height): (usize, usize),
) -> Result<LonLatBox, CoverageError> {
    const PARTS: usize = 32;
    let mut places = Vec::with_capacity(4 * (PARTS + 1));
    let (width, height) = (width as f64, height as f64);
    for part in 0..=PARTS {
        let share = part as f64 / PARTS as f64;
        let (col, row) = (share * width, share * height);
        for (col, row) in [(col, 0.0), (col, height), (0.0, row), (width, row)] {
            places.push(georeference.to_lonlat(CellXy { col, row })?);
        }
    }
    let corner = georeference.to_lonlat(CellXy { col: 0.0, row: 0.0 })?;
    Ok(LonLatBox::around(places).unwrap_or(LonLatBox::new(corner, corner)))
}
