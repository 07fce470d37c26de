//! Choices that a design makes once for the whole network.

use std::sync::Arc;

use serde::Serialize;

/// Where the ground comes from. Paths are relative to the project folder.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundSources {
    /// Elevation rasters, in order of preference.
    pub terrain: Vec<RasterSource>,
    /// Land cover rasters, in order of preference.
    pub land_cover: Vec<RasterSource>,
    /// Rasters of canopy height, in order of preference.
    pub canopy: Vec<RasterSource>,
    /// Metres that one unit of the canopy rasters stands for.
    pub canopy_unit_m: f64,
    /// Classes of the land cover and the clutter they stand for.
    pub clutter: ClutterTable,
    /// Footprints of buildings.
    pub buildings: BuildingSources,
}

/// Where buildings come from.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct BuildingSources {
    /// Files of footprints.
    pub files: Vec<Arc<str>>,
    /// Name of the property that holds a building's height above ground in metres.
    pub height_field: String,
    /// Height of a building that tells none; `None` leaves it out.
    pub default_height_m: Option<f64>,
}

/// One raster file, and what its own tags leave open.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RasterSource {
    /// Path relative to the project folder.
    pub path: Arc<str>,
    /// Band, counted from 1.
    pub band: u32,
    /// CRS to assume where the file declares none, such as `EPSG:32611`.
    pub assumed_crs: Option<Arc<str>>,
}

/// Land cover classes and the representative clutter they stand for.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct ClutterTable {
    /// Name of the legend, such as `worldcover`; empty where there is no land cover.
    pub legend: String,
    /// One row per class, in rising order of code.
    pub classes: Vec<ClutterClass>,
}

impl ClutterTable {
    /// The row of a class code.
    pub fn class(&self, code: i32) -> Option<&ClutterClass> {
        self.classes
            .binary_search_by_key(&code, |c| c.code)
            .ok()
            .map(|i| &self.classes[i])
    }
}

/// One land cover class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClutterClass {
    /// Value in the raster.
    pub code: i32,
    /// What a person calls it.
    pub name: String,
    /// Representative clutter height above ground.
    pub height_m: f64,
    /// Kind of surface for path-loss models that tell land from sea.
    pub surface: Surface,
    /// Where the height comes from.
    pub source: String,
}

/// Kind of surface, in the sense of Recommendation ITU-R P.1812.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Surface {
    /// Land away from the sea.
    #[default]
    Inland,
    /// Low land near the sea.
    Coastal,
    /// Sea or a very large lake.
    Sea,
}

/// Which path-loss model is used for a purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum ModelChoice {
    /// ITU-R P.1812 up to 6 GHz, P.452 above.
    #[default]
    ByFrequency,
    /// ITU-R P.1812.
    P1812,
    /// ITU-R P.452.
    P452,
    /// Irregular Terrain Model.
    Itm,
}

/// Settings of the path-loss models.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PropagationSettings {
    /// Model of wanted signals.
    pub service_model: ModelChoice,
    /// Model of unwanted signals.
    pub interference_model: ModelChoice,
    /// Share of an average year for which the loss is not exceeded, wanted signals.
    pub time_pct: f64,
    /// Share of an average year used for interference.
    pub interference_time_pct: f64,
    /// Median lapse rate of refractivity in the lowest kilometre, positive.
    pub refractivity_lapse_n_per_km: f64,
    /// Surface refractivity at sea level.
    pub surface_refractivity_n: f64,
    /// Side of the square over which location variability is asked.
    pub location_area_m: f64,
    /// Standard deviation of the model's own error, before measurements have calibrated it.
    pub model_error_db: f64,
    /// Spacing of the points of a cross-section; `None` takes the terrain's own.
    pub profile_step_m: Option<f64>,
    /// Distance beyond which a sector is not considered for a premises.
    pub reach_km: f64,
    /// Distance beyond which a signal is not counted as interference.
    pub interference_reach_km: f64,
}

/// How best-effort customers share what the guaranteed services leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum BestEffortSharing {
    /// Everybody active gets the same time: a fast link gets more.
    #[default]
    EqualAirtime,
    /// Everybody active gets the same rate: a slow link takes more time.
    EqualRate,
    /// Time in proportion to the plans' weights.
    Weighted,
}

/// Settings of the study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StudySettings {
    /// Mount height above ground of a premises that names none.
    pub mount_height_agl_m: f64,
    /// Highest airtime a sector may carry at the busy hour.
    pub max_airtime_frac: f64,
    /// Margin kept above every threshold before a modulation is relied on.
    pub fade_margin_db: f64,
    /// Share of the time an interfering sector is taken to transmit.
    pub interferer_activity_frac: f64,
    /// How best-effort customers share what the guaranteed services leave.
    pub best_effort_sharing: BestEffortSharing,
    /// Share of calls that may find no grant in the busy hour.
    pub call_blocking_frac: f64,
    /// Years for which the load is looked ahead.
    pub growth_years: u32,
    /// Largest error of a frame's beginning against the common time.
    pub phase_limit_us: f64,
}
