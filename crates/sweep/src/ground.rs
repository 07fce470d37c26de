//! The rasters of a sweep, and what they show along a radial and at a cell.

use std::ops::Range;

use geodesy::LonLat;
use physics::path_loss::Zone;
use raster::{CellXy, Grid, Mosaic};

use crate::azimuthal::{Fit, OutOfMap, ToCells};
use crate::radial::Radial;
use crate::sampling::{Positions, bilinear_all, containing_all};

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
    /// Whether all of them are inland.
    is_inland: bool,
}

pub(crate) const BARE: Cover = Cover {
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
        Self {
            first,
            is_inland: rows.iter().all(|cover| cover.zone == Zone::Inland),
            rows,
        }
    }

    /// Everything that a class may stand for, some of it several times.
    pub fn all(&self) -> impl Iterator<Item = Cover> {
        self.rows.iter().copied().chain([BARE])
    }

    /// Clutter heights and zones of some cell values.
    fn all_of(&self, codes: &[f32], (clutter, zone): (&mut Vec<f64>, &mut Vec<Zone>)) {
        let first = self.first;
        let row = |code: f32| (code as i32).wrapping_sub(first) as u32 as usize;
        let heights = codes.iter().map(|code| {
            let known = self.rows.get(row(*code)).filter(|_| !code.is_nan());
            known.unwrap_or(&BARE).height_m
        });
        clutter.extend(heights);
        if self.is_inland {
            zone.resize(codes.len(), Zone::Inland);
        } else {
            zone.extend(codes.iter().map(|code| self.of(*code).zone));
        }
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

    /// The value at every sample: that of the first grid that has one, else NaN.
    ///
    /// * `all`: the values of one grid. `one`: its value at one position.
    fn along<T: Unknown>(
        &self,
        work: &mut Samples,
        (all, one): (
            impl Fn(&Grid, &Positions, &mut [T]),
            impl Fn(&Grid, CellXy) -> T,
        ),
        values: &mut Vec<T>,
    ) {
        values.clear();
        values.resize(work.samples.len(), T::UNKNOWN);
        for (number, (grid, to_cells)) in self.grids.iter().enumerate() {
            work.place(to_cells);
            if number == 0 {
                all(grid, &work.positions, values);
                continue;
            }
            let open = values.iter_mut().enumerate();
            for (i, value) in open.filter(|(_, v)| v.is_unknown()) {
                *value = one(grid, work.positions.at(i));
            }
        }
    }

    fn heights(&self, work: &mut Samples, values: &mut Vec<f64>) {
        self.along(
            work,
            (bilinear_all, |grid, at| grid.bilinear_at(at)),
            values,
        );
    }

    fn classes(&self, work: &mut Samples, values: &mut Vec<f32>) {
        self.along(work, (containing_all, class_at), values);
    }
}

/// A number that may be unknown.
trait Unknown: Copy {
    const UNKNOWN: Self;
    fn is_unknown(self) -> bool;
}

impl Unknown for f64 {
    const UNKNOWN: Self = Self::NAN;
    fn is_unknown(self) -> bool {
        self.is_nan()
    }
}

impl Unknown for f32 {
    const UNKNOWN: Self = Self::NAN;
    fn is_unknown(self) -> bool {
        self.is_nan()
    }
}

/// The samples of a radial, and where they fall in the grid at hand.
#[derive(Debug, Default)]
pub(crate) struct Samples {
    azimuth_rad: f64,
    step_km: f64,
    samples: Range<usize>,
    /// The positions are right already, for the one grid there is.
    are_placed: bool,
    positions: Positions,
    classes: Vec<f32>,
    canopy: Vec<f64>,
}

impl Samples {
    fn place(&mut self, to_cells: &ToCells) {
        if !self.are_placed {
            let ray = to_cells.ray(self.azimuth_rad);
            ray.fill(self.step_km, self.samples.clone(), &mut self.positions);
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

    /// Fills a radial with some samples at its step; the mast is number 0.
    pub(crate) fn trace(
        &self,
        azimuth_rad: f64,
        samples: Range<usize>,
        (radial, work): (&mut Radial, &mut Samples),
    ) {
        work.azimuth_rad = azimuth_rad;
        work.step_km = radial.step_km;
        let count = samples.len();
        work.samples = samples;
        work.are_placed = false;
        let Radial {
            ground_amsl_m: ground,
            clutter_m: clutter,
            zone,
            ..
        } = radial;
        self.elevation.heights(work, ground);
        clutter.clear();
        zone.clear();
        match (&self.cover, self.ground.cover) {
            (Some(seen), Some((_, classes))) => {
                work.are_placed = self.cover_shares_cells;
                let mut codes = std::mem::take(&mut work.classes);
                seen.classes(work, &mut codes);
                classes.all_of(&codes, (clutter, zone));
                work.classes = codes;
                work.are_placed = false;
            }
            _ => {
                clutter.resize(count, 0.0);
                zone.resize(count, Zone::Inland);
            }
        }
        if let (Some(seen), Some((_, unit_m))) = (&self.canopy, self.ground.canopy) {
            let mut canopy = std::mem::take(&mut work.canopy);
            seen.heights(work, &mut canopy);
            for (height_m, units) in clutter.iter_mut().zip(&canopy) {
                if units * unit_m > 0.0 {
                    *height_m = units * unit_m;
                }
            }
            work.canopy = canopy;
        }
    }
}

/// The value of the cell that contains a position, NaN outside.
pub(crate) fn class_at(grid: &Grid, at: CellXy) -> f32 {
    let cell = grid.containing(at);
    cell.map_or(f32::NAN, |cell| grid.value(cell))
}
