//! The rasters of a sweep, and what they show along a radial and at a cell.

use geodesy::LonLat;
use physics::path_loss::Zone;
use raster::{CellXy, Georeference, Grid, Mosaic};

use crate::azimuthal::{CellRow, Fit, FromCells, OutOfMap, ToCells};
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
    pub fn of(&self, cell: f32) -> Cover {
        if cell.is_nan() {
            return BARE;
        }
        // A code below the first wraps round to a row that does not exist.
        let row = (cell as i32).wrapping_sub(self.first) as u32 as usize;
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

    /// The grid and the way to its cells, where there is but one.
    fn only(&self) -> Option<(&'a Grid, &Fit)> {
        match &self.grids[..] {
            [(grid, to_cells)] => Some((*grid, &to_cells.0)),
            _ => None,
        }
    }

    /// Whether both have one grid, on one lattice.
    fn shares_cells_with(&self, other: &Self) -> bool {
        match (&self.grids[..], &other.grids[..]) {
            ([(one, _)], [(other, _)]) => one.georeference() == other.georeference(),
            _ => false,
        }
    }

    /// Gives `take` the value at every sample in turn: that of the first grid
    /// that has one, else NaN.
    #[inline]
    fn along(
        &self,
        work: &mut Samples,
        sample: impl Fn(&Grid, CellXy) -> f64,
        mut take: impl FnMut(f64),
    ) {
        if let [(grid, to_cells)] = &self.grids[..] {
            work.place(to_cells);
            for at in &work.positions {
                take(sample(grid, *at));
            }
            return;
        }
        let mut values = vec![f64::NAN; work.samples];
        for (grid, to_cells) in &self.grids {
            work.place(to_cells);
            let open = values.iter_mut().zip(&work.positions);
            for (value, at) in open.filter(|(v, _)| v.is_nan()) {
                *value = sample(grid, *at);
            }
        }
        values.into_iter().for_each(take);
    }
}

/// The samples of a radial, and where they fall in the grid at hand.
#[derive(Debug, Default)]
pub(crate) struct Samples {
    azimuth_rad: f64,
    step_km: f64,
    samples: usize,
    /// The positions are right already, for the one grid there is.
    are_placed: bool,
    positions: Vec<CellXy>,
}

impl Samples {
    fn place(&mut self, to_cells: &ToCells) {
        if !self.are_placed {
            let ray = to_cells.ray(self.azimuth_rad);
            ray.fill(self.step_km, self.samples, &mut self.positions);
        }
    }
}

/// A [`Ground`] seen from a mast.
pub(crate) struct Surroundings<'a> {
    ground: Ground<'a>,
    elevation: Seen<'a>,
    cover: Option<Seen<'a>>,
    canopy: Option<Seen<'a>>,
    cover_shares_cells: bool,
}

impl<'a> Surroundings<'a> {
    pub(crate) fn new(ground: Ground<'a>, mast: LonLat, radius_km: f64) -> Result<Self, OutOfMap> {
        let seen = |mosaic| Seen::new(mosaic, mast, radius_km);
        let elevation = seen(ground.elevation)?;
        let cover = ground.cover.map(|(m, _)| seen(m)).transpose()?;
        Ok(Self {
            cover_shares_cells: cover
                .as_ref()
                .is_some_and(|c| c.shares_cells_with(&elevation)),
            canopy: ground.canopy.map(|(m, _)| seen(m)).transpose()?,
            elevation,
            cover,
            ground,
        })
    }

    /// The one grid of elevation, and that of land cover.
    pub(crate) fn only(&self) -> [Option<(&'a Grid, &Fit)>; 2] {
        let cover = self.cover.as_ref().and_then(Seen::only);
        [self.elevation.only(), cover]
    }

    /// Fills a radial with `samples` samples at its step.
    pub(crate) fn trace(
        &self,
        azimuth_rad: f64,
        samples: usize,
        (radial, work): (&mut Radial, &mut Samples),
    ) {
        *work = Samples {
            azimuth_rad,
            step_km: radial.step_km,
            samples,
            are_placed: false,
            positions: std::mem::take(&mut work.positions),
        };
        let Radial {
            ground_amsl_m: ground,
            clutter_m: clutter,
            zone,
            ..
        } = radial;
        ground.clear();
        self.elevation.along(work, bilinear, |h| ground.push(h));
        clutter.clear();
        zone.clear();
        match (&self.cover, self.ground.cover) {
            (Some(seen), Some((_, classes))) => {
                work.are_placed = self.cover_shares_cells;
                seen.along(work, class_at, |code| {
                    let cover = classes.of(code as f32);
                    clutter.push(cover.height_m);
                    zone.push(cover.zone);
                });
                work.are_placed = false;
            }
            _ => {
                clutter.resize(samples, 0.0);
                zone.resize(samples, Zone::Inland);
            }
        }
        if let (Some(seen), Some((_, unit_m))) = (&self.canopy, self.ground.canopy) {
            let mut heights = clutter.iter_mut();
            seen.along(work, bilinear, |units| {
                if let Some(height_m) = heights.next()
                    && units * unit_m > 0.0
                {
                    *height_m = units * unit_m;
                }
            });
        }
    }
}

/// [`Grid::bilinear_at`], with the common case in line.
#[inline]
fn bilinear(grid: &Grid, at: CellXy) -> f64 {
    let (u, v) = (at.col - 0.5, at.row - 0.5);
    let width = grid.width();
    let inside = u >= 0.0 && v >= 0.0 && u < (width - 1) as f64 && v < (grid.height() - 1) as f64;
    if inside {
        // Whole parts of positive numbers: no need to round down.
        let (left, top) = (u as i32, v as i32);
        let (fu, fv) = (u - f64::from(left), v - f64::from(top));
        let i = top as usize * width + left as usize;
        if let Some([a, b]) = grid.cells().get(i..i + 2)
            && let Some([c, d]) = grid.cells().get(i + width..i + width + 2)
        {
            let [a, b, c, d] = [*a, *b, *c, *d].map(f64::from);
            let upper = a + (b - a) * fu;
            let value = upper + (c + (d - c) * fu - upper) * fv;
            if !value.is_nan() {
                return value;
            }
        }
    }
    grid.bilinear_at(at)
}

/// The value of the cell that contains a position, NaN outside.
#[inline]
fn class_at(grid: &Grid, at: CellXy) -> f64 {
    let inside = at.col >= 0.0 && at.row >= 0.0 && at.col < grid.width() as f64;
    if inside && at.row < grid.height() as f64 {
        let i = at.row as i32 as usize * grid.width() + at.col as i32 as usize;
        return grid.cells().get(i).map_or(f64::NAN, |c| f64::from(*c));
    }
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

    /// The ways to the first grid of elevation, and to that of land cover.
    pub(crate) fn fits(&self) -> [Option<&Fit>; 2] {
        [&self.elevation, &self.cover].map(|grids| Some(&grids.first()?.1.0))
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
    /// Ground above sea level at the centre of a column; NaN is unknown. \[m\]
    #[inline]
    pub(crate) fn ground_amsl_m(&self, col: usize) -> f64 {
        first_known(&self.elevation, col, bilinear)
    }

    /// What covers the centre of a column.
    #[inline]
    pub(crate) fn cover(&self, col: usize) -> Cover {
        let mut cover = match self.ground.cover {
            Some((_, classes)) => classes.of(first_known(&self.cover, col, class_at) as f32),
            None => BARE,
        };
        if let Some((_, unit_m)) = self.ground.canopy {
            let height_m = unit_m * first_known(&self.canopy, col, bilinear);
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
