//! What stands at the cells of the target raster.

use raster::{CellXy, Georeference, Grid, Mosaic};

use crate::azimuthal::{CellRow, Fit, FromCells};
use crate::ground::{BARE, Cover, Ground, class_at};
use crate::sampling::{Positions, bilinear_all, containing_all};

/// What stands at the cells of the target raster.
pub(crate) struct AtCells<'a> {
    ground: Ground<'a>,
    elevation: Vec<(&'a Grid, FromCells)>,
    cover: Vec<(&'a Grid, FromCells)>,
    canopy: Vec<(&'a Grid, FromCells)>,
    cover_shares_cells: bool,
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
        let elevation = seen(Some(ground.elevation))?;
        let cover = seen(ground.cover.map(|(m, _)| m))?;
        let cover_shares_cells = match (&elevation[..], &cover[..]) {
            ([(one, _)], [(other, _)]) => one.georeference() == other.georeference(),
            _ => false,
        };
        Ok(Self {
            cover_shares_cells,
            elevation,
            cover,
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
            cover_shares_cells: self.cover_shares_cells,
        }
    }

    /// Works out what stands at places that [`AtRow::place`] has noted.
    ///
    /// * `careful`: [`AtRow::ground_amsl_m`] and [`AtRow::cover`] of the place
    ///   of a number, where more than one grid has to be asked.
    pub(crate) fn look(&self, standing: &mut Standing, careful: impl Fn(usize) -> (f64, Cover)) {
        let Standing {
            count,
            elevation,
            cover,
            codes,
            ground_amsl_m,
            covers,
        } = standing;
        let all = 0..*count;
        ground_amsl_m.clear();
        if let [(grid, _)] = &self.elevation[..] {
            ground_amsl_m.resize(*count, f64::NAN);
            bilinear_all(grid, elevation, ground_amsl_m);
        } else {
            ground_amsl_m.extend(all.clone().map(|i| careful(i).0));
        }
        covers.clear();
        match (&self.cover[..], self.ground.cover, self.ground.canopy) {
            (_, None, None) => covers.resize(*count, BARE),
            ([(grid, _)], Some((_, classes)), None) => {
                codes.resize(*count, f32::NAN);
                let at = if self.cover_shares_cells {
                    elevation
                } else {
                    cover
                };
                containing_all(grid, at, codes);
                covers.extend(codes.iter().map(|code| classes.of(*code)));
            }
            _ => covers.extend(all.map(|i| careful(i).1)),
        }
    }
}

/// Places that are noted first and looked up together.
#[derive(Default)]
pub(crate) struct Standing {
    count: usize,
    elevation: Positions,
    cover: Positions,
    codes: Vec<f32>,
    /// Ground above sea level at each place, as [`AtCells::look`] found it.
    pub(crate) ground_amsl_m: Vec<f64>,
    /// What covers each place.
    pub(crate) covers: Vec<Cover>,
}

impl Standing {
    pub(crate) fn clear(&mut self) {
        self.count = 0;
        self.elevation.clear();
        self.cover.clear();
    }
}

/// What stands at the cells of one row.
pub(crate) struct AtRow<'a> {
    ground: Ground<'a>,
    elevation: Vec<(&'a Grid, CellRow)>,
    cover: Vec<(&'a Grid, CellRow)>,
    canopy: Vec<(&'a Grid, CellRow)>,
    cover_shares_cells: bool,
}

impl AtRow<'_> {
    /// Notes the centre of a column for [`AtCells::look`].
    #[inline]
    pub(crate) fn place(&self, col: usize, standing: &mut Standing) {
        standing.count += 1;
        if let [(_, row)] = &self.elevation[..] {
            standing.elevation.push(row.at(col));
        }
        if !self.cover_shares_cells
            && let [(_, row)] = &self.cover[..]
        {
            standing.cover.push(row.at(col));
        }
    }

    /// Ground above sea level at the centre of a column; NaN is unknown. \[m\]
    #[inline]
    pub(crate) fn ground_amsl_m(&self, col: usize) -> f64 {
        first_known(&self.elevation, col, Grid::bilinear_at)
    }

    /// What covers the centre of a column.
    #[inline]
    pub(crate) fn cover(&self, col: usize) -> Cover {
        let mut cover = match self.ground.cover {
            Some((_, classes)) => {
                classes.of(first_known(&self.cover, col, |g, at| class_at(g, at).into()) as f32)
            }
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
