//! What stands between two places: the one door through which the engine
//! learns about the ground.

use std::sync::Arc;

use geodesy::LonLat;
use physics::path_loss::Zone;
use serde::Serialize;

use crate::mapped_ground::MappedGround;

/// The ground as the engine asks for it. `store` makes one from rasters;
/// tests make one from a formula.
pub trait Surroundings: Send + Sync {
    /// Fills `section` along the geodesic between two places, both ends
    /// included, at equal steps of at most `step_m` (`None`: the terrain's own
    /// spacing), never fewer than [`CrossSection::MIN_POINTS`] points.
    ///
    /// Unknown ground is NaN in `ground_amsl_m`; unknown land cover counts as
    /// bare and is told in `unknown_cover_points`.
    fn trace(&self, from: LonLat, to: LonLat, step_m: Option<f64>, section: &mut CrossSection);

    /// Ground height at a place; `None` where it is unknown.
    fn ground_amsl_m(&self, at: LonLat) -> Option<f64>;

    /// The rasters behind it, where there are any: whole areas are swept over them.
    fn mapped(&self) -> Option<&MappedGround> {
        None
    }
}

/// Ground and clutter along a path. Five vectors of equal length, point 0 at
/// the `from` end; kept by the caller and filled again for every path, so that
/// a study allocates none.
#[derive(Debug, Clone, Default)]
pub struct CrossSection {
    /// Distance from the `from` end along the geodesic, equal steps from 0.
    pub distance_m: Vec<f64>,
    /// Bare ground above sea level; NaN where it is unknown.
    pub ground_amsl_m: Vec<f64>,
    /// Representative clutter height above the ground; 0 where there is none.
    pub clutter_m: Vec<f64>,
    /// Canopy height above the ground where trees are mapped; 0 elsewhere. Part of `clutter_m` already.
    pub canopy_m: Vec<f64>,
    /// Name of the building that the clutter is; empty or `None` where there is none.
    pub building: Vec<Option<Arc<str>>>,
    /// Radio-climatic zone.
    pub zone: Vec<Zone>,
    /// Land cover class code; `None` without land cover.
    pub class_code: Vec<Option<i32>>,
    /// Length of the geodesic.
    pub length_m: f64,
    /// Azimuth at the `from` end, clockwise from true north.
    pub azimuth_deg: f64,
    /// Azimuth at the `to` end back to the `from` end.
    pub back_azimuth_deg: f64,
    /// Points for which land cover was expected but is not known.
    pub unknown_cover_points: usize,
    /// Work space of whoever traces.
    pub(crate) profile: raster::Profile,
    /// Work space for the canopy.
    pub(crate) canopy: raster::Profile,
}

impl CrossSection {
    /// Fewest points of a section: a path-loss profile needs an inside.
    pub const MIN_POINTS: usize = 5;

    /// Number of points, both ends included.
    pub fn points(&self) -> usize {
        self.distance_m.len()
    }

    /// Points whose ground height is unknown.
    pub fn unknown_points(&self) -> usize {
        self.ground_amsl_m.iter().filter(|h| h.is_nan()).count()
    }

    /// Mean height of the ground, without what stands on it.
    pub fn mean_ground_amsl_m(&self) -> f64 {
        self.ground_amsl_m.iter().sum::<f64>() / self.points() as f64
    }
}

/// A data set that a result rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DataSource {
    /// `terrain` or `land cover`.
    pub kind: &'static str,
    /// File, relative to the project folder.
    pub file: String,
    /// What was read of it, in words: CRS, cell size, window.
    pub description: String,
}
