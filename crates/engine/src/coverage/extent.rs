//! The cells of a coverage: the territory as far as the sectors reach.

use std::ops::Range;

use geodesy::{Crs, LonLat, LonLatBox, MapXy};
use model::Network;
use raster::{Affine, CellXy, Georeference};

use super::CoverageError;
use super::shelf::Digest;

/// Cells of a coverage, in the working plane, on whole multiples of their side.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverageRaster {
    /// Where the cells lie.
    pub georeference: Georeference,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Side of a cell in the plane.
    pub cell_m: f64,
    /// Column and row of the first cell on the lattice of the plane, whose
    /// cells are counted from its origin east and south. Places follow from these whole
    /// numbers, so that a cell has the same middle in whatever part it is looked at.
    first: [i64; 2],
    /// Columns and rows of the lattice that the whole territory has.
    bounds: [Range<i64>; 2],
    territory: LonLatBox,
}

/// A layer of more cells than this fills the memory of a small desk alone.
const MOST_CELLS: usize = 400_000_000;

/// As many in all that are held at a time, with every layer.
const MOST_CELLS_IN_MEMORY: usize = 60_000_000;

/// Steps along each side of the territory: it is no rectangle in the plane.
const STEPS_ALONG_A_SIDE: usize = 16;

impl CoverageRaster {
    /// The cells of a network's territory within reach of some mast with a sector.
    ///
    /// # Errors
    /// [`CoverageError`] where there are none, or too many.
    pub fn of(network: &Network, cell_m: f64) -> Result<Self, CoverageError> {
        let size = CoverageError::Cells {
            cell_m,
            most_cells: MOST_CELLS,
        };
        if !(cell_m.is_finite() && cell_m > 0.0) {
            return Err(size);
        }
        let crs = Crs::from_epsg(network.territory.working_plane_epsg)?;
        let territory = LonLatBox::new(network.territory.south_west, network.territory.north_east);
        let border = territory.border(STEPS_ALONG_A_SIDE);
        let inside = Sides::around(&crs, border, 0.0)?.ok_or(CoverageError::NoSector)?;
        let used = |id: &_| network.sectors.iter().any(|s| s.mast == *id);
        let masts = network.masts.iter().filter(|m| used(&m.id));
        // A plane's metres differ from the ground's by a thousandth at most.
        let reach_m = network.propagation.reach_km * 1e3 * 1.002;
        let reached = Sides::around(&crs, masts.map(|m| m.position), reach_m)?;
        let sides = reached.and_then(|reached| inside.shared(&reached));
        let sides = sides.ok_or(CoverageError::NoSector)?;
        let cells = sides.lattice(cell_m).ok_or_else(|| size.clone())?;
        let [width, height] = cells.each_ref().map(|range| range.end - range.start);
        if !(width >= 1 && height >= 1 && width.saturating_mul(height) <= MOST_CELLS as i64) {
            return Err(size);
        }
        let bounds = inside.lattice(cell_m).ok_or(size)?;
        Self::on_lattice(&crs, cell_m, &cells, (bounds, territory))
    }

    fn on_lattice(
        crs: &Crs,
        cell_m: f64,
        cells: &[Range<i64>; 2],
        (bounds, territory): ([Range<i64>; 2], LonLatBox),
    ) -> Result<Self, CoverageError> {
        let [width, height] = cells.each_ref().map(|c| (c.end - c.start).max(0) as usize);
        Ok(Self {
            georeference: on_lattice(crs, cell_m, cells)?,
            width,
            height,
            cell_m,
            first: [cells[0].start, cells[1].start],
            bounds,
            territory,
        })
    }

    /// Refuses what is not meant to be held in memory as a whole.
    pub(super) fn fits_memory(&self) -> Result<(), CoverageError> {
        if self.width * self.height <= MOST_CELLS_IN_MEMORY {
            return Ok(());
        }
        Err(CoverageError::Cells {
            cell_m: self.cell_m,
            most_cells: MOST_CELLS_IN_MEMORY,
        })
    }

    /// Some columns and rows of the raster.
    pub(super) fn part(
        &self,
        columns: &Range<usize>,
        rows: &Range<usize>,
    ) -> Result<Self, CoverageError> {
        let [col, row] = self.first;
        let range = |first: i64, r: &Range<usize>| first + r.start as i64..first + r.end as i64;
        let cells = [range(col, columns), range(row, rows)];
        let around = (self.bounds.clone(), self.territory);
        Self::on_lattice(self.georeference.crs(), self.cell_m, &cells, around)
    }

    /// A cell on the lattice of the plane.
    pub(super) fn on_plane(&self, (col, row): (usize, usize)) -> [i64; 2] {
        [self.first[0] + col as i64, self.first[1] + row as i64]
    }

    /// Columns and rows of the plane's lattice that the raster has.
    pub(super) fn lattice(&self) -> [Range<i64>; 2] {
        let [col, row] = self.first;
        [col..col + self.width as i64, row..row + self.height as i64]
    }

    /// The same of the whole territory, whatever the masts reach.
    pub(super) fn territory_lattice(&self) -> &[Range<i64>; 2] {
        &self.bounds
    }

    /// Columns and rows of tiles whose sides are whole multiples of a side on the plane's lattice.
    pub(super) fn tiles(&self, side: usize) -> Vec<[Range<usize>; 2]> {
        let cuts = |first: i64, count: usize| {
            let offset = first.rem_euclid(side as i64) as usize;
            let starts = (0..count + offset).step_by(side);
            starts
                .map(move |start| {
                    let end = (start + side).saturating_sub(offset).min(count);
                    start.saturating_sub(offset)..end
                })
                .collect::<Vec<_>>()
        };
        let columns = cuts(self.first[0], self.width);
        let rows = cuts(self.first[1], self.height);
        let row = |row: Range<usize>| columns.iter().map(move |c| [c.clone(), row.clone()]);
        rows.into_iter().flat_map(row).collect()
    }

    /// What the cells are, for a name.
    pub(super) fn put_into(&self, digest: &mut Digest) {
        digest.place(&self.georeference);
        digest.whole(self.width as i64);
        digest.whole(self.height as i64);
        let t = &self.territory;
        let sides = [t.west_deg(), t.south_deg(), t.east_deg(), t.north_deg()];
        sides.into_iter().for_each(|side| digest.number(side));
    }

    /// The box that holds the cells.
    ///
    /// # Errors
    /// A corner that has no place on Earth.
    pub fn extent(&self) -> Result<LonLatBox, CoverageError> {
        let steps = 0..=STEPS_ALONG_A_SIDE;
        let shares = steps.map(|i| i as f64 / STEPS_ALONG_A_SIDE as f64);
        let (width, height) = (self.width as f64, self.height as f64);
        let border = shares.flat_map(|t| {
            let (along, down) = (t * width, t * height);
            [(along, 0.0), (along, height), (0.0, down), (width, down)]
        });
        let places = border.map(|(col, row)| self.georeference.to_lonlat(CellXy { col, row }));
        let places: Vec<LonLat> = places.collect::<Result<_, _>>()?;
        LonLatBox::around(places).ok_or(CoverageError::NoSector)
    }

    /// Area of the whole territory, on the sphere of the Earth's area: within
    /// half a percent of that on the ellipsoid.
    pub fn territory_km2(&self) -> f64 {
        const AUTHALIC_RADIUS_KM: f64 = 6371.0072;
        let sine = |lat_deg: f64| lat_deg.to_radians().sin();
        let zone = sine(self.territory.north_deg()) - sine(self.territory.south_deg());
        AUTHALIC_RADIUS_KM.powi(2) * self.territory.width_deg().to_radians() * zone
    }

    /// The middle of a cell in the plane.
    pub fn centre(&self, col: usize, row: usize) -> MapXy {
        let [col, row] = self.on_plane((col, row));
        MapXy {
            x: (col as f64 + 0.5) * self.cell_m,
            y: (row as f64 + 0.5) * -self.cell_m,
        }
    }

    /// The columns of a row whose middles lie in the territory.
    pub(super) fn columns_inside(&self, row: usize) -> std::ops::Range<usize> {
        let is_inside = |col: usize| {
            let place = self.georeference.crs().to_lonlat(self.centre(col, row));
            place.is_ok_and(|place| self.territory.contains(place))
        };
        // A row crosses the territory, which is convex but for a sliver, once;
        // only its two ends are looked for.
        let Some(start) = (0..self.width).find(|col| is_inside(*col)) else {
            return 0..0;
        };
        let end = (start..self.width).rev().find(|col| is_inside(*col));
        start..end.map_or(start, |col| col + 1)
    }
}

/// Sides of a rectangle in the plane, metres.
#[derive(Debug, Clone, Copy)]
struct Sides {
    west: f64,
    south: f64,
    east: f64,
    north: f64,
}

impl Sides {
    /// Around places, and a margin around each; `None` without any.
    fn around(
        crs: &Crs,
        places: impl IntoIterator<Item = LonLat>,
        margin_m: f64,
    ) -> Result<Option<Self>, CoverageError> {
        let mut all: Option<Self> = None;
        for place in places {
            let MapXy { x, y } = crs.to_map(place)?;
            let one = Self {
                west: x - margin_m,
                south: y - margin_m,
                east: x + margin_m,
                north: y + margin_m,
            };
            all = Some(all.map_or(one, |all| Self {
                west: all.west.min(one.west),
                south: all.south.min(one.south),
                east: all.east.max(one.east),
                north: all.north.max(one.north),
            }));
        }
        Ok(all)
    }

    fn shared(&self, other: &Self) -> Option<Self> {
        let shared = Self {
            west: self.west.max(other.west),
            south: self.south.max(other.south),
            east: self.east.min(other.east),
            north: self.north.min(other.north),
        };
        (shared.west < shared.east && shared.south < shared.north).then_some(shared)
    }

    /// Columns and rows, outwards to whole cells, so that coverages of one
    /// territory lie on one lattice; `None` where there are too many to count.
    fn lattice(&self, cell_m: f64) -> Option<[Range<i64>; 2]> {
        let range = |from_m: f64, to_m: f64| {
            let (from, to) = ((from_m / cell_m).floor(), (to_m / cell_m).ceil());
            let is_countable = from.abs() < 1e12 && to.abs() < 1e12;
            is_countable.then_some(from as i64..to as i64)
        };
        Some([
            range(self.west, self.east)?,
            range(-self.north, -self.south)?,
        ])
    }
}

/// The box that holds every path from a mast as far as a radius, and a little
/// more: samples lie beyond the last cell.
pub(super) fn around(mast: LonLat, radius_m: f64) -> Option<LonLatBox> {
    let rim = (0..72).map(|k| geodesy::direct(mast, 5.0 * f64::from(k), radius_m * 1.01 + 500.0));
    LonLatBox::around([mast].into_iter().chain(rim))
}

/// Where cells of the plane's lattice lie.
pub(super) fn on_lattice(
    crs: &Crs,
    cell_m: f64,
    [columns, rows]: &[Range<i64>; 2],
) -> Result<Georeference, CoverageError> {
    let origin = MapXy {
        x: columns.start as f64 * cell_m,
        y: rows.start as f64 * -cell_m,
    };
    let affine = Affine::north_up(origin, cell_m, cell_m)?;
    let count = |range: &Range<i64>| (range.end - range.start).max(0) as usize;
    Ok(Georeference::new(
        crs.clone(),
        affine,
        count(columns),
        count(rows),
    ))
}
