//! The cells of a coverage: the territory as far as the sectors reach.

use geodesy::{Crs, LonLat, LonLatBox, MapXy};
use model::Network;
use raster::{Affine, CellXy, Georeference};

use super::CoverageError;

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
    territory: LonLatBox,
}

/// More cells than this need more memory than a desk has.
const MOST_CELLS: usize = 60_000_000;

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
        let sides = sides.ok_or(CoverageError::NoSector)?.snapped(cell_m);
        let [width, height] = [sides.east - sides.west, sides.north - sides.south]
            .map(|length| (length / cell_m).round());
        if !(width >= 1.0 && height >= 1.0 && width * height <= MOST_CELLS as f64) {
            return Err(size);
        }
        let (width, height) = (width as usize, height as usize);
        let origin = MapXy {
            x: sides.west,
            y: sides.north,
        };
        let affine = Affine::north_up(origin, cell_m, cell_m)?;
        Ok(Self {
            georeference: Georeference::new(crs, affine, width, height),
            width,
            height,
            cell_m,
            territory,
        })
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
        self.georeference.affine().to_map(CellXy {
            col: col as f64 + 0.5,
            row: row as f64 + 0.5,
        })
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

    /// Outwards to whole multiples of a cell, so that coverages of one
    /// territory lie on one lattice.
    fn snapped(&self, cell_m: f64) -> Self {
        Self {
            west: (self.west / cell_m).floor() * cell_m,
            south: (self.south / cell_m).floor() * cell_m,
            east: (self.east / cell_m).ceil() * cell_m,
            north: (self.north / cell_m).ceil() * cell_m,
        }
    }
}
