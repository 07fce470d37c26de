//! A terminal among trees: the signal comes over the canopy or through it.
//!
//! Over it, the canopy is an obstacle of the profile like any other. Through
//! it, the stretch of the ray inside the canopy costs the specific attenuation
//! of woodland (ITU-R P.833). The two ways are added as powers, and the trees of
//! that stretch stand in the profile of the first way only, so that they are
//! never counted twice.

use physics::levels;
use physics::path_loss::{Model, PathInput, PathLoss, PathProfile};
use physics::refractivity;
use physics::vegetation::{self, Woodland as Trees};
use serde::Serialize;

use crate::surroundings::CrossSection;

/// Trees around a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Woodland {
    /// Stretch of the ray inside the canopy, from the terminal outwards.
    pub depth_m: f64,
    /// What that stretch costs, ITU-R P.833.
    pub through_db: f64,
    /// Loss of the path with that stretch cleared, plus what it costs.
    pub through_loss_db: f64,
    /// Loss over the trees.
    pub over_loss_db: f64,
    /// Both ways together.
    pub combined_loss_db: f64,
}

impl Woodland {
    /// The trees around the `to` end; `None` where its antenna is not below
    /// them, or where the model does not know what stands on the ground.
    pub fn at_terminal(
        section: &CrossSection,
        input: &PathInput<'_>,
        model: Model,
        over: &PathLoss,
    ) -> Option<Self> {
        if matches!(model, Model::Itm(_)) {
            return None;
        }
        let from_point = first_point_inside(section, input)?;
        let last = section.points() - 1;
        let half_step_m = 0.5 * section.length_m / last as f64;
        // A canopy reaches half a step beyond the last point that has it.
        let depth_m = section.length_m - section.distance_m[from_point] + half_step_m;
        let through_db = excess_db(depth_m, input.f_ghz * 1e3);
        let over_loss_db = over.loss_db;
        if from_point == last {
            // Trees over the terminal's own point only: the profile does not
            // show them, so there is no way over them to compare with.
            return Some(Self {
                depth_m,
                through_db,
                through_loss_db: over_loss_db + through_db,
                over_loss_db,
                combined_loss_db: over_loss_db + through_db,
            });
        }
        let cleared_db = cleared_loss_db(input, model, from_point)?;
        let through_loss_db = cleared_db + through_db;
        // Two ways add up, but never to less than a path without trees.
        let both_db = levels::parallel_loss_db([over_loss_db, through_loss_db]);
        Some(Self {
            depth_m,
            through_db,
            through_loss_db,
            over_loss_db,
            combined_loss_db: both_db.max(cleared_db),
        })
    }
}

/// Loss of the path with the trees from a point to the terminal taken away.
fn cleared_loss_db(input: &PathInput<'_>, model: Model, from_point: usize) -> Option<f64> {
    let mut clutter_m = input.profile.clutter_m().to_vec();
    clutter_m[from_point..].fill(0.0);
    let profile = PathProfile::new(
        input.profile.d_km(),
        input.profile.h_m(),
        &clutter_m,
        input.profile.zone(),
    )
    .ok()?;
    Some(model.predict(&PathInput { profile, ..*input }).loss_db)
}

/// Excess loss of a stretch of temperate mixed forest, ITU-R P.833-9 section
/// 2.1; above 2.2 GHz its greatest value is extrapolated.
fn excess_db(depth_m: f64, f_mhz: f64) -> f64 {
    vegetation::woodland_excess_db(
        depth_m,
        vegetation::specific_attenuation_db_per_m(f_mhz),
        Trees::MixedForest.max_excess_db(f_mhz),
    )
}

/// The farthest point from the terminal up to which the straight ray runs inside the canopy.
fn first_point_inside(section: &CrossSection, input: &PathInput<'_>) -> Option<usize> {
    let profile = &input.profile;
    let (d_km, h_m) = (profile.d_km(), profile.h_m());
    if section.canopy_m.len() != d_km.len() {
        return None;
    }
    let length_km = profile.length_km();
    let radius_km = refractivity::effective_radius_km(input.delta_n_per_km);
    let from_amsl_m = profile.tx_ground_amsl_m() + input.tx_agl_m;
    let to_amsl_m = profile.rx_ground_amsl_m() + input.rx_agl_m;
    let inside = |i: &usize| {
        let share = d_km[*i] / length_km;
        let ray_m = from_amsl_m + (to_amsl_m - from_amsl_m) * share;
        let bulge_m = 500.0 * d_km[*i] * (length_km - d_km[*i]) / radius_km;
        section.canopy_m[*i] > 0.0 && ray_m < h_m[*i] + bulge_m + section.canopy_m[*i]
    };
    // From the terminal outwards, as long as it stays inside; the mast's own
    // point does not count.
    (1..d_km.len()).rev().take_while(inside).last()
}
