//! One path: geometry, clearance and loss between two antennas.

use geodesy::LonLat;
use model::settings::{ModelChoice, PropagationSettings};
use physics::gas::PathGas;
use physics::path_loss::{
    self, PathEnds, PathInput, PathLoss, PathProfile, Polarization, path_centre_lat_deg,
};
use physics::{clutter, fresnel, refractivity};
use serde::Serialize;

use crate::near_end::NEAR_STRETCH_M;
use crate::surroundings::CrossSection;
use crate::woodland::Woodland;

/// One end of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathEnd {
    /// Where it stands.
    pub position: LonLat,
    /// Height of the antenna above ground.
    pub agl_m: f64,
    /// Surveyed ground height that replaces the terrain's.
    pub ground_amsl_m: Option<f64>,
}

/// What is the same for every path of a study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathConditions {
    /// Share of an average year for which the loss is not exceeded.
    pub time_pct: f64,
    /// Median lapse rate of refractivity in the lowest kilometre, positive.
    pub refractivity_lapse_n_per_km: f64,
    /// Surface refractivity at sea level.
    pub surface_refractivity_n: f64,
    /// Side of the square over which location variability is asked.
    pub location_area_m: f64,
    /// Orientation of the electric field.
    pub polarization: Polarization,
    /// Whether clutter stands on the ground, or the ground is bare.
    pub clutter: ClutterUse,
    /// Path-loss model.
    pub model: ModelChoice,
    /// Gaseous attenuation of the carrier, prepared once for all paths; a model that needs it sums its lines for each path where it is absent.
    pub gas: Option<PathGas>,
}

/// Whether a path is evaluated with its clutter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClutterUse {
    /// Clutter stands on the ground.
    Standing,
    /// Bare ground, to tell what the clutter costs.
    Removed,
    /// Standing, but for the last stretch before the terminal, where another term stands for it.
    ClearedNearTerminal,
}

impl PathConditions {
    /// Conditions of a wanted signal.
    pub fn wanted(settings: &PropagationSettings) -> Self {
        Self {
            time_pct: settings.time_pct,
            refractivity_lapse_n_per_km: settings.refractivity_lapse_n_per_km,
            surface_refractivity_n: settings.surface_refractivity_n,
            location_area_m: settings.location_area_m,
            polarization: Polarization::Vertical,
            clutter: ClutterUse::Standing,
            model: settings.service_model,
            gas: None,
        }
    }

    /// The same conditions with the gases of a carrier prepared, where the model asks for them.
    #[must_use]
    pub fn prepared(self, frequency_mhz: f64) -> Self {
        let needs_gas = path_model(self.model, frequency_mhz) == path_loss::Model::P452;
        Self {
            gas: needs_gas
                .then(|| PathGas::of(frequency_mhz / 1e3, DRY_PRESSURE_HPA, TEMPERATURE_K)),
            ..self
        }
    }

    /// The same conditions with another orientation of the electric field.
    #[must_use]
    pub fn polarized(self, polarization: Polarization) -> Self {
        Self {
            polarization,
            ..self
        }
    }

    /// Conditions of an unwanted signal: the share of time is the interferer's.
    pub fn unwanted(settings: &PropagationSettings) -> Self {
        Self {
            time_pct: settings.interference_time_pct,
            model: settings.interference_model,
            ..Self::wanted(settings)
        }
    }
}

/// The model that a choice stands for at a frequency.
pub fn path_model(choice: ModelChoice, frequency_mhz: f64) -> path_loss::Model {
    match choice {
        ModelChoice::P1812 => path_loss::Model::P1812,
        ModelChoice::P452 => path_loss::Model::P452,
        ModelChoice::Itm => path_loss::Model::Itm(path_loss::itm::Settings::FIXED_LINK),
        // P.1812 is stated up to 6 GHz, P.452 from 0.1 to 50 GHz.
        ModelChoice::ByFrequency if frequency_mhz <= 6_000.0 => path_loss::Model::P1812,
        ModelChoice::ByFrequency => path_loss::Model::P452,
    }
}

/// Dry pressure and temperature of the gases along a path: the Recommendation's
/// mid-latitude values (P.452-18, section 4).
const DRY_PRESSURE_HPA: f64 = 1013.0;
const TEMPERATURE_K: f64 = 288.15;

/// A path that could not be evaluated.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PathError {
    /// Part of the ground is unknown.
    #[error("the ground is unknown at {unknown_points} of {points} points of the path")]
    UnknownGround {
        /// Points without a height.
        unknown_points: usize,
        /// Points in all.
        points: usize,
    },
    /// The two ends are the same place.
    #[error("the two ends of the path are the same place")]
    SamePlace,
}

/// Geometry of a path, the `from` end first (the mast, in a study).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PathGeometry {
    /// Length along the ground.
    pub distance_m: f64,
    /// Azimuth at the `from` end, clockwise from true north.
    pub azimuth_deg: f64,
    /// Azimuth at the `to` end back to the `from` end.
    pub back_azimuth_deg: f64,
    /// Antenna at the `from` end above ground.
    pub from_agl_m: f64,
    /// Antenna at the `to` end above ground.
    pub to_agl_m: f64,
    /// Antenna at the `from` end above sea level.
    pub from_amsl_m: f64,
    /// Antenna at the `to` end above sea level.
    pub to_amsl_m: f64,
    /// Direction in which the ray leaves the `from` end: towards the other end, or over the horizon.
    pub from_elevation_deg: f64,
    /// Direction in which the ray leaves the `to` end.
    pub to_elevation_deg: f64,
    /// Least clearance over ground and clutter as a share of the first Fresnel zone, median refraction; negative when blocked.
    pub clearance_ratio: f64,
    /// Where the clearance is least.
    pub obstacle: Obstacle,
    /// Clutter height at the `to` end.
    pub to_clutter_m: f64,
}

impl PathGeometry {
    /// Whether the straight ray clears ground and clutter.
    pub fn line_of_sight(&self) -> bool {
        self.clearance_ratio >= 0.0
    }

    /// Whether the ray clears six tenths of the first Fresnel zone: free-space propagation.
    pub fn fresnel_clear(&self) -> bool {
        self.clearance_ratio >= 0.6
    }
}

/// The place along a path where the ray comes closest to what stands below it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Obstacle {
    /// Distance from the `from` end.
    pub distance_m: f64,
    /// Height of the ray above ground and clutter there; negative when blocked.
    pub clearance_m: f64,
    /// Radius of the first Fresnel zone there.
    pub fresnel_radius_m: f64,
    /// Share of the obstacle that is clutter rather than ground.
    pub clutter_m: f64,
}

/// An evaluated path.
#[derive(Debug, Clone, PartialEq)]
pub struct RadioPath {
    /// Geometry and clearance.
    pub geometry: PathGeometry,
    /// Loss with every term.
    pub loss: PathLoss,
    /// Standard deviation of the loss over locations like the `to` end's.
    pub location_sigma_db: f64,
    /// Trees around the terminal; `None` where its antenna stands clear of them.
    pub woodland: Option<Woodland>,
}

impl RadioPath {
    /// Loss of the whole path: over the trees, or through them where that is less.
    pub fn loss_db(&self) -> f64 {
        self.woodland
            .map_or(self.loss.loss_db, |w| w.combined_loss_db)
    }
}

/// Where a path's inputs leave the range that the model is stated for.
pub use physics::path_loss::Warning as RangeWarning;

/// Evaluates paths over a cross-section; keeps the buffers between calls.
#[derive(Debug, Default)]
pub struct PathEvaluator {
    d_km: Vec<f64>,
    bare_m: Vec<f64>,
    surveyed_m: Vec<f64>,
    cleared_m: Vec<f64>,
}

impl PathEvaluator {
    /// Evaluates the path from `from` to `to` over `section`.
    ///
    /// * `frequency_mhz`: carrier, > 0.
    pub fn evaluate(
        &mut self,
        section: &CrossSection,
        ends: (&PathEnd, &PathEnd),
        frequency_mhz: f64,
        conditions: &PathConditions,
    ) -> Result<RadioPath, PathError> {
        let (input, location_sigma_db) = self.input(section, ends, frequency_mhz, conditions)?;
        let model = path_model(conditions.model, frequency_mhz);
        let loss = model.predict(&input);
        let geometry = geometry(section, &input, &loss);
        let woodland = match conditions.clutter {
            ClutterUse::Standing => Woodland::at_terminal(section, &input, model, &loss),
            // Bare ground has no trees, and a term of its own stands for those
            // around a terminal below the roofs.
            ClutterUse::Removed | ClutterUse::ClearedNearTerminal => None,
        };
        Ok(RadioPath {
            geometry,
            loss,
            location_sigma_db,
            woodland,
        })
    }

    /// Where the path leaves the range that the model is stated for; empty when inside.
    pub fn range_warnings(
        &mut self,
        section: &CrossSection,
        ends: (&PathEnd, &PathEnd),
        frequency_mhz: f64,
        conditions: &PathConditions,
    ) -> Result<Vec<RangeWarning>, PathError> {
        let (input, _) = self.input(section, ends, frequency_mhz, conditions)?;
        Ok(path_model(conditions.model, frequency_mhz).warnings(&input))
    }

    fn input<'a>(
        &'a mut self,
        section: &'a CrossSection,
        ends: (&PathEnd, &PathEnd),
        frequency_mhz: f64,
        conditions: &'a PathConditions,
    ) -> Result<(PathInput<'a>, f64), PathError> {
        self.check(section)?;
        let (from, to) = ends;
        self.fill(section, from, to);
        let ground_m: &[f64] = if from.ground_amsl_m.is_some() || to.ground_amsl_m.is_some() {
            &self.surveyed_m
        } else {
            &section.ground_amsl_m
        };
        let clutter_m = match conditions.clutter {
            ClutterUse::Standing => &section.clutter_m,
            ClutterUse::Removed => &self.bare_m,
            ClutterUse::ClearedNearTerminal => &self.cleared_m,
        };
        let profile = PathProfile::new(&self.d_km, ground_m, clutter_m, &section.zone)
            .map_err(|_| PathError::SamePlace)?;

        let f_ghz = frequency_mhz / 1e3;
        let sigma_l_db = clutter::location_sigma_db(f_ghz, conditions.location_area_m);
        let to_clutter_m = clutter_m[clutter_m.len() - 1];
        let location_sigma_db =
            sigma_l_db * clutter::location_height_factor(to.agl_m, to_clutter_m);
        let length_km = profile.length_km();
        let input = PathInput {
            time_pct: conditions.time_pct,
            sigma_loc_db: location_sigma_db,
            polarization: conditions.polarization,
            tx_agl_m: from.agl_m,
            rx_agl_m: to.agl_m,
            path_centre_lat_deg: path_centre_lat_deg(
                &PathEnds {
                    tx_lat_deg: from.position.lat_deg(),
                    tx_lon_deg: from.position.lon_deg(),
                    rx_lat_deg: to.position.lat_deg(),
                    rx_lon_deg: to.position.lon_deg(),
                },
                length_km,
            ),
            delta_n_per_km: conditions.refractivity_lapse_n_per_km,
            n0: conditions.surface_refractivity_n,
            gas: conditions.gas.as_ref(),
            ..PathInput::median(profile, f_ghz)
        };
        Ok((input, location_sigma_db))
    }

    fn check(&self, section: &CrossSection) -> Result<(), PathError> {
        let unknown_points = section.unknown_points();
        if unknown_points > 0 {
            return Err(PathError::UnknownGround {
                unknown_points,
                points: section.points(),
            });
        }
        // A tenth of a metre cannot be told from the same mast; the models
        // need a length above zero.
        if section.length_m < 0.1 {
            return Err(PathError::SamePlace);
        }
        Ok(())
    }

    fn fill(&mut self, section: &CrossSection, from: &PathEnd, to: &PathEnd) {
        self.d_km.clear();
        self.d_km
            .extend(section.distance_m.iter().map(|d_m| d_m / 1e3));
        self.bare_m.clear();
        self.bare_m.resize(section.points(), 0.0);
        self.cleared_m.clear();
        let cleared_from_m = section.length_m - NEAR_STRETCH_M;
        self.cleared_m
            .extend(
                section
                    .clutter_m
                    .iter()
                    .zip(&section.distance_m)
                    .map(|(clutter_m, d_m)| {
                        if *d_m < cleared_from_m {
                            *clutter_m
                        } else {
                            0.0
                        }
                    }),
            );
        self.surveyed_m.clear();
        self.surveyed_m.extend_from_slice(&section.ground_amsl_m);
        if let (Some(first), Some(h)) = (self.surveyed_m.first_mut(), from.ground_amsl_m) {
            *first = h;
        }
        if let (Some(last), Some(h)) = (self.surveyed_m.last_mut(), to.ground_amsl_m) {
            *last = h;
        }
    }
}

/// Geometry of an evaluated path.
fn geometry(section: &CrossSection, input: &PathInput<'_>, loss: &PathLoss) -> PathGeometry {
    let profile = &input.profile;
    let from_amsl_m = profile.tx_ground_amsl_m() + input.tx_agl_m;
    let to_amsl_m = profile.rx_ground_amsl_m() + input.rx_agl_m;
    let (obstacle, clearance_ratio) = least_clearance(input, from_amsl_m, to_amsl_m);
    let (from_elevation_deg, to_elevation_deg) = loss.departure_elevations_deg();
    PathGeometry {
        distance_m: section.length_m,
        azimuth_deg: section.azimuth_deg,
        back_azimuth_deg: section.back_azimuth_deg,
        from_agl_m: input.tx_agl_m,
        to_agl_m: input.rx_agl_m,
        from_amsl_m,
        to_amsl_m,
        from_elevation_deg,
        to_elevation_deg,
        clearance_ratio,
        obstacle,
        to_clutter_m: profile.clutter_m()[profile.points() - 1],
    }
}

/// The inside point where the ray clears least of its first Fresnel zone.
///
/// The clearance is compared squared, so that the square root of the zone's
/// radius is taken once, at the end.
fn least_clearance(input: &PathInput<'_>, from_amsl_m: f64, to_amsl_m: f64) -> (Obstacle, f64) {
    let profile = &input.profile;
    let (d_km, h_m, clutter_m) = (profile.d_km(), profile.h_m(), profile.clutter_m());
    let length_km = profile.length_km();
    let radius_km = refractivity::effective_radius_km(input.delta_n_per_km);
    let slope_m_per_km = (to_amsl_m - from_amsl_m) / length_km;
    let mut least = (f64::INFINITY, 1, 0.0);
    for i in 1..d_km.len() - 1 {
        let product_km2 = d_km[i] * (length_km - d_km[i]);
        let bulge_m = 500.0 * product_km2 / radius_km;
        let ray_m = from_amsl_m + slope_m_per_km * d_km[i];
        let clearance_m = ray_m - bulge_m - h_m[i] - clutter_m[i];
        let signed_square = clearance_m * clearance_m.abs() / product_km2;
        if signed_square < least.0 {
            least = (signed_square, i, clearance_m);
        }
    }
    let (_, i, clearance_m) = least;
    let fresnel_radius_m = fresnel::first_zone_radius_m(input.f_ghz, d_km[i], length_km - d_km[i]);
    let obstacle = Obstacle {
        distance_m: d_km[i] * 1e3,
        clearance_m,
        fresnel_radius_m,
        clutter_m: clutter_m[i],
    };
    (obstacle, clearance_m / fresnel_radius_m)
}
