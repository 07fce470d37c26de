//! The rasters of a sweep, and what they show along a radial and at a cell.

use geodesy::LonLat;
use physics::path_loss::Zone;
use raster::{CellXy, Georeference, Grid, Mosaic};

use crate::azimuthal::{CellRow, FromCells, OutOfMap, Ray, ToCells};
use crate::radial::Radial;

/// What a class of land cover stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cover {
    /// Representative clutter height above the ground.
    pub height_m: f64,
    /// Radio-climatic zone.
    pub zone: Zone,
}

/// Classes of a land cover raster: codes not named are bare and inland.
#[derive(Debug, Clone, Default)]
pub struct CoverClasses {
    /// Least code of the table, and one row per code from there.
    first: i32,
    rows: Vec<Cover>,
}

const BARE: Cover = Cover {
    height_m: 0.0,
    zone: Zone::Inland,
};

/// Widest span of class codes kept as a table; wider ones are cut off and bare.
const MOST_CODES: usize = 1 << 16;

impl CoverClasses {
    /// From codes and what they stand for.
    pub fn new(classes: impl IntoIterator<Item = (i32, Cover)>) -> Self {
        let mut classes: Vec<(i32, Cover)> = classes.into_iter().collect();
        classes.sort_by_key(|(code, _)| *code);
        let first = classes.first().map_or(0, |(code, _)| *code);
        let mut rows = Vec::new();
        for (code, cover) in classes {
            let row = code.abs_diff(first) as usize;
            if row < MOST_CODES {
                rows.resize(rows.len().max(row + 1), BARE);
                rows[row] = cover;
            }
        }
        Self { first, rows }
    }

    /// What the cell value of a class raster stands for; NaN is bare.
    #[inline]
    fn of(&self, cell: f32) -> Cover {
        // NaN and codes below the first saturate to rows that do not exist.
        let row = cell - self.first as f32;
        let known = row >= 0.0;
        let row = if known { row as usize } else { usize::MAX };
        self.rows.get(row).copied().unwrap_or(BARE)
    }
}

/// Elevation and what stands on it.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// Bare ground above sea level, metres.
    pub elevation: &'a Mosaic,
    /// Land cover and its classes.
    pub cover: Option<(&'a Mosaic, &'a CoverClasses)>,
    /// Canopy heights and the metres that one unit stands for; where there are
    /// trees, their height replaces the clutter of the class.
    pub canopy: Option<(&'a Mosaic, f64)>,
}

/// The grids of a mosaic as seen from a mast.
struct Seen<'a> {
    grids: Vec<(&'a Grid, ToCells)>,
}

impl<'a> Seen<'a> {
    fn new(mosaic: &'a Mosaic, mast: LonLat, radius_km: f64) -> Result<Self, OutOfMap> {
        let grids = mosaic.grids().iter();
        let grids = grids.map(|g| Ok((g, ToCells::new(mast, radius_km, g.georeference())?)));
        Ok(Self {
            grids: grids.collect::<Result<_, _>>()?,
        })
    }

    /// Fills `values` along a radial, the first grid that knows a place first.
    fn along(
        &self,
        azimuth_rad: f64,
        step_km: f64,
        values: &mut [f64],
        sample: impl Fn(&Grid, CellXy) -> f64,
    ) {
        for (number, (grid, to_cells)) in self.grids.iter().enumerate() {
            let ray: Ray = to_cells.ray(azimuth_rad);
            if number == 0 {
                for (i, value) in values.iter_mut().enumerate() {
                    *value = sample(grid, ray.at(i as f64 * step_km));
                }
            } else {
                for (i, value) in values.iter_mut().enumerate().filter(|(_, v)| v.is_nan()) {
                    *value = sample(grid, ray.at(i as f64 * step_km));
                }
            }
        }
    }
}

/// A [`Ground`] seen from a mast.
pub(crate) struct Surroundings<'a> {
    ground: Ground<'a>,
    elevation: Seen<'a>,
    cover: Option<Seen<'a>>,
    canopy: Option<Seen<'a>>,
}

impl<'a> Surroundings<'a> {
    pub(crate) fn new(
        ground: Ground<'a>,
        mast: LonLat,
        radius_km: f64,
    ) -> Result<Self, OutOfMap> {
        let seen = |mosaic| Seen::new(mosaic, mast, radius_km);
        Ok(Self {
            elevation: seen(ground.elevation)?,
            cover: ground.cover.map(|(m, _)| seen(m)).transpose()?,
            canopy: ground.canopy.map(|(m, _)| seen(m)).transpose()?,
            ground,
        })
    }

    /// Fills a radial with `samples` samples at its step.
    pub(crate) fn trace(&self, azimuth_rad: f64, samples: usize, radial: &mut Radial) {
        let step_km = radial.step_km;
        let heights = &mut radial.ground_amsl_m;
        heights.clear();
        heights.resize(samples, f64::NAN);
        self.elevation
            .along(azimuth_rad, step_km, heights, Grid::bilinear_at);
        let clutter = &mut radial.clutter_m;
        clutter.clear();
        radial.zone.clear();
        radial.zone.resize(samples, Zone::Inland);
        match (&self.cover, self.ground.cover) {
            (Some(seen), Some((_, classes))) => {
                clutter.resize(samples, f64::NAN);
                seen.along(azimuth_rad, step_km, clutter, class_at);
                for (value, zone) in clutter.iter_mut().zip(&mut radial.zone) {
                    let cover = classes.of(*value as f32);
                    (*value, *zone) = (cover.height_m, cover.zone);
                }
            }
            _ => clutter.resize(samples, 0.0),
        }
        if let (Some(seen), Some((_, unit_m))) = (&self.canopy, self.ground.canopy) {
            let mut trees = vec![f64::NAN; samples];
            seen.along(azimuth_rad, step_km, &mut trees, Grid::bilinear_at);
            for (value, units) in clutter.iter_mut().zip(trees) {
                if units * unit_m > 0.0 {
                    *value = units * unit_m;
                }
            }
        }
    }
}

#[inline]
fn class_at(grid: &Grid, at: CellXy) -> f64 {
    let cell = grid.containing(at);
    cell.map_or(f64::NAN, |cell| grid.value(cell).into())
}

/// What stands at the cells of the target raster.
pub(crate) struct AtCells<'a> {
    ground: Ground<'a>,
    elevation: Vec<(&'a Grid, FromCells)>,
    cover: Vec<(&'a Grid, FromCells)>,
    canopy: Vec<(&'a Grid, FromCells)>,
}

impl<'a> AtCells<'a> {
    /// Over the cells `centre` ± `half` of the target.
    pub(crate) fn new(
        ground: Ground<'a>,
        target: &Georeference,
        window: (CellXy, CellXy),
    ) -> Result<Self, geodesy::CrsError> {
        let seen = |mosaic: Option<&'a Mosaic>| {
            let grids = mosaic.map_or(&[][..], Mosaic::grids).iter();
            let fits = grids.map(|g| {
                let fit = FromCells::to_cells(g.georeference(), target, window)?;
                Ok::<_, geodesy::CrsError>((g, fit))
            });
            fits.collect::<Result<Vec<_>, _>>()
        };
        Ok(Self {
            elevation: seen(Some(ground.elevation))?,
            cover: seen(ground.cover.map(|(m, _)| m))?,
            canopy: seen(ground.canopy.map(|(m, _)| m))?,
            ground,
        })
    }

    /// Along one row of the target.
    pub(crate) fn row(&self, row: usize) -> AtRow<'a> {
        let along = |grids: &[(&'a Grid, FromCells)]| {
            grids.iter().map(|(g, fit)| (*g, fit.row(row))).collect()
        };
        AtRow {
            ground: self.ground,
            elevation: along(&self.elevation),
            cover: along(&self.cover),
            canopy: along(&self.canopy),
        }
    }
}

/// What stands at the cells of one row.
pub(crate) struct AtRow<'a> {
    ground: Ground<'a>,
    elevation: Vec<(&'a Grid, CellRow)>,
    cover: Vec<(&'a Grid, CellRow)>,
    canopy: Vec<(&'a Grid, CellRow)>,
}

impl AtRow<'_> {
    /// Ground above sea level at the centre of a column; NaN is unknown. [m]
    #[inline]
    pub(crate) fn ground_amsl_m(&self, col: usize) -> f64 {
        first_known(&self.elevation, col, Grid::bilinear_at)
    }

    /// What covers the centre of a column.
    #[inline]
    pub(crate) fn cover(&self, col: usize) -> Cover {
        let mut cover = match self.ground.cover {
            Some((_, classes)) => classes.of(first_known(&self.cover, col, class_at) as f32),
            None => BARE,
        };
        if let Some((_, unit_m)) = self.ground.canopy {
            let height_m = unit_m * first_known(&self.canopy, col, Grid::bilinear_at);
            if height_m > 0.0 {
                cover.height_m = height_m;
            }
        }
        cover
    }
}

#[inline]
fn first_known(
    grids: &[(&Grid, CellRow)],
    col: usize,
    sample: impl Fn(&Grid, CellXy) -> f64,
) -> f64 {
    for (grid, row) in grids {
        let [col, row] = row.at(col);
        let value = sample(grid, CellXy { col, row });
        if !value.is_nan() {
            return value;
        }
    }
    f64::NAN
}
