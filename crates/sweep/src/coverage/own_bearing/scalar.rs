//! An own-bearing path by the scalar model: whatever the rasters, the zones
//! and the share of time.

use physics::path_loss::{PathProfile, p1812};
use physics::refractivity::effective_radius_km;

use super::Own;
use crate::Reception;
use crate::coverage::layers::Layers;
use crate::coverage::{Clearance, Plan};
use crate::ground::Samples;
use crate::radial::Radial;

/// Keeps the buffers between paths.
#[derive(Debug, Default)]
pub(super) struct Scalar {
    radial: Radial,
    samples: Samples,
    d_km: Vec<f64>,
}

impl Scalar {
    /// Evaluates one cell.
    pub(super) fn cell(&mut self, plan: &Plan<'_>, path: &Own<'_>, layers: &Layers) {
        let Own { entry, steps, .. } = *path;
        let conditions = &plan.request.conditions;
        let last = steps - 1;
        self.radial.step_km = entry.d_km / steps as f64;
        let azimuth_rad = path.towards[0].atan2(path.towards[1]);
        let parts = (&mut self.radial, &mut self.samples);
        plan.surroundings.trace(azimuth_rad, 0..last + 1, parts);
        let radial = &mut self.radial;
        if let Some(h) = plan.request.mast_ground_amsl_m {
            radial.ground_amsl_m[0] = h;
        }
        self.d_km.clear();
        self.d_km.extend((0..=last).map(|i| radial.d_km(i)));
        self.d_km.push(entry.d_km);
        radial.ground_amsl_m.push(entry.ground_amsl_m.into());
        radial.clutter_m.push(entry.clutter_m.into());
        radial.zone.push(entry.zone);
        let parts = (&radial.ground_amsl_m, &radial.clutter_m, &radial.zone);
        let Ok(profile) = PathProfile::new(&self.d_km, parts.0, parts.1, parts.2) else {
            return; // Unknown ground.
        };
        let lat_deg = plan.centre_towards(path.towards).lat_deg(entry.d_km);
        let terms = p1812::predict(&conditions.path_input(profile, lat_deg));
        let ends_m = [
            radial.ground_amsl_m[0] + conditions.mast_agl_m,
            profile.rx_ground_amsl_m() + conditions.receiver_agl_m,
        ];
        let radius_km = effective_radius_km(conditions.refractivity_lapse_n_per_km);
        let key = greatest_key(&profile, ends_m, radius_km);
        let ratio = match plan.request.clearance {
            Clearance::SightOnly => None,
            Clearance::Told => {
                let lambda_m = physics::free_space::wavelength_m(conditions.f_ghz());
                let length_km = profile.length_km();
                Some(
                    -(key.abs() * length_km / (1e3 * lambda_m))
                        .sqrt()
                        .copysign(key),
                )
            }
        };
        let reception = Reception {
            loss_db: terms.combination.lb_db,
            line_of_sight: key < 0.0,
            mast_elevation_deg: (terms.path.horizons.theta_t_mrad / 1e3).to_degrees(),
        };
        layers.put(entry, &reception, ratio);
    }
}

/// Greatest signed square of the height of ground and clutter over the ray by d·(dt−d).
fn greatest_key(profile: &PathProfile<'_>, [from_m, to_m]: [f64; 2], radius_km: f64) -> f64 {
    let (d_km, h_m, clutter_m) = (profile.d_km(), profile.h_m(), profile.clutter_m());
    let dt = profile.length_km();
    let (c, line) = (500.0 / radius_km, (to_m - from_m) / dt);
    let inside = 1..d_km.len() - 1;
    let key = |i: usize| {
        let dd = d_km[i] * (dt - d_km[i]);
        let y = h_m[i] + clutter_m[i] + c * dd - (from_m + line * d_km[i]);
        y * y.abs() / dd
    };
    inside.map(key).fold(f64::NEG_INFINITY, f64::max)
}
