//! A request for own bearings as numbers in tables, for machines that are
//! handed numbers and nothing else.
//!
//! A path is drawn from the mast to the centre of a cell at distance d from it
//! and divided into n equal steps, n the least whole number that makes them no
//! longer than [`OwnBearingTables::step_km`], but at least [`LEAST_STEPS`]. Sample i lies in
//! azimuthal coordinates at i/n of the cell's; where that is in a raster,
//! [`RasterTables::from_azimuthal`] tells.

use std::ops::Range;

use physics::path_loss::Zone;
use raster::Grid;

pub use super::own_bearing::{LEAST_STEPS, SAME_PLACE_KM};
use super::{CoverageGrid, Plan, SweepError};
pub use crate::azimuthal::{Fit, NODES, RAY_TERMS};
use crate::ground::{CoverClasses, Ground, Samples};
use crate::radial::Radial;

/// Own bearings in tables.
#[derive(Debug, Clone)]
pub struct OwnBearingTables<'a> {
    /// Columns of the target that the circle can reach.
    pub columns: Range<usize>,
    /// Rows of the target that the circle can reach.
    pub rows: Range<usize>,
    /// Cells farther than this are left out.
    pub radius_km: f64,
    /// Longest step of a path.
    pub step_km: f64,
    /// Radials that the processor would group the cells by.
    pub radials: usize,
    /// Ground at the mast above sea level; NaN is unknown. \[m\]
    pub mast_ground_amsl_m: f64,
    /// Zone at the mast.
    pub mast_zone: Zone,
    /// East and north of a cell's centre as seen from the mast, from its column and row. \[km\]
    pub to_azimuthal: Fit,
    /// Bare ground.
    pub elevation: RasterTables<'a>,
    /// Land cover.
    pub cover: Option<(RasterTables<'a>, &'a CoverClasses)>,
}

/// A raster and the ways to its cells.
#[derive(Debug, Clone)]
pub struct RasterTables<'a> {
    /// The raster.
    pub grid: &'a Grid,
    /// Column and row from east and north; terms of degree [`RAY_TERMS`] and more do not count. \[km\]
    pub from_azimuthal: Fit,
    /// Column and row from column and row of the target.
    pub from_target: Fit,
}

/// Why a request is not one for tables.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoTables {
    /// It asks for something that tables do not hold.
    #[error("{0}")]
    Unsuited(&'static str),
    /// It cannot be swept at all.
    #[error(transparent)]
    Sweep(#[from] SweepError),
}

impl<'a> OwnBearingTables<'a> {
    /// The tables of a request, whatever its bearings.
    ///
    /// # Errors
    /// [`NoTables`]: rasters of several grids, and canopy heights, have none.
    pub fn new(request: &'a CoverageGrid<'a>, ground: Ground<'a>) -> Result<Self, NoTables> {
        if ground.canopy.is_some() {
            return Err(NoTables::Unsuited("canopy heights"));
        }
        let plan = Plan::new(request, ground)?;
        let [elevation, cover] = plan.surroundings.only();
        let [at_elevation, at_cover] = plan.at_cells.fits();
        let tables = |seen: Option<(&'a Grid, &Fit)>, at: Option<&Fit>| {
            let (grid, from_azimuthal) = seen?;
            Some(RasterTables {
                grid,
                from_azimuthal: from_azimuthal.clone(),
                from_target: at?.clone(),
            })
        };
        let elevation = tables(elevation, at_elevation)
            .ok_or(NoTables::Unsuited("terrain of several grids"))?;
        let cover = match ground.cover {
            None => None,
            Some((_, classes)) => {
                let cover = tables(cover, at_cover);
                let several = NoTables::Unsuited("land cover of several grids");
                Some((cover.ok_or(several)?, classes))
            }
        };
        let mut mast = Radial::default();
        plan.surroundings
            .trace(0.0, 0..1, (&mut mast, &mut Samples::default()));
        let traced_m = mast.ground_amsl_m.first().copied().unwrap_or(f64::NAN);
        let [columns, rows] = plan.window.clone();
        Ok(Self {
            columns,
            rows,
            radius_km: plan.radius_km,
            step_km: plan.step_km,
            radials: plan.radials,
            mast_ground_amsl_m: request.mast_ground_amsl_m.unwrap_or(traced_m),
            mast_zone: mast.zone.first().copied().unwrap_or_default(),
            to_azimuthal: plan.to_azimuthal.0,
            elevation,
            cover,
        })
    }
}
