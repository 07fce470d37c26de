//! The loss of one path of equal steps, whose only receiver is its end.
//!
//! No hull is kept: the samples between the ends are walked in chunks. A first walk
//! sums what the smooth surface needs and notes how high each chunk stands; whatever
//! is sought after that (the steepest slopes from either end, the least clearance)
//! is sought only in the chunks that stand high enough to hold it.

mod chunk;
mod smooth;
#[cfg(test)]
mod tests;
mod walks;

use std::sync::Arc;

use physics::diffraction::SphericalEarth;
use physics::inverse_normal::inverse_normal;
use physics::path_loss::Zone;
use pulp::Arch;

use super::bare::{Between, is_over};
use super::climate::Zones;
use super::ducting::DuctPath;
use super::end::End;
use super::fold::{edge_nu, nu_of_key, single_edge_db};
use super::{Fixed, Kernel, Reception, interpolation, joint_db, spread_db, with_duct_db};
use crate::fast::{atan, decades, ten_to};
use crate::radial::Receiver;
pub(crate) use smooth::SmoothSteps;
use walks::{Walk, Walks};

/// Samples walked together.
pub(crate) const CHUNK: usize = 64;

/// What stands between the ends of a path, at equal steps.
#[derive(Debug, Clone, Default)]
pub(crate) struct Inside {
    /// Length of a step. \[km\]
    pub(crate) step_km: f64,
    /// Steps, at least 2.
    pub(crate) steps: usize,
    /// Bare ground from sample 1 on, above sea level; behind the last anything. \[m\]
    pub(crate) ground_amsl_m: Vec<[f64; CHUNK]>,
    /// Clutter above it; its sign is set where the sample is not inland. \[m\]
    pub(crate) clutter_m: Vec<[f32; CHUNK]>,
}

impl Inside {
    /// Makes room for a path.
    pub(crate) fn begin(&mut self, step_km: f64, steps: usize) {
        (self.step_km, self.steps) = (step_km, steps);
        let chunks = self.chunks();
        if self.ground_amsl_m.len() < chunks {
            self.ground_amsl_m.resize(chunks, [0.0; CHUNK]);
            self.clutter_m.resize(chunks, [0.0; CHUNK]);
        }
    }

    /// Samples between the ends.
    pub(crate) fn samples(&self) -> usize {
        self.steps - 1
    }

    /// Chunks that hold them.
    pub(crate) fn chunks(&self) -> usize {
        self.samples().div_ceil(CHUNK)
    }
}

/// The two ends of a path.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ends<'a> {
    /// Bare ground at the mast above sea level. \[m\]
    pub(crate) mast_ground_amsl_m: f64,
    pub(crate) receiver: &'a Receiver,
    /// Latitude of the middle of the path.
    pub(crate) centre_lat_deg: f64,
}

/// Evaluates paths one by one, at the median of time and inland.
#[derive(Debug, Clone)]
pub(crate) struct Lone {
    fixed: Arc<Fixed>,
    inland: Zones,
    walks: Walks,
    arch: Arch,
}

/// A path while it is worked out.
#[derive(Clone, Copy)]
struct Line {
    dt: f64,
    hts: f64,
    hrs: f64,
    /// Slope of the straight line between the antennas. \[m/km\]
    slope: f64,
}

/// Horizons over bare ground with the median Earth radius.
#[derive(Clone, Copy)]
struct Horizons {
    theta_t_mrad: f64,
    theta_r_mrad: f64,
    /// Samples of the horizons of mast and receiver, beyond them only.
    beyond: Option<[usize; 2]>,
}

impl Lone {
    /// For paths of at most `steps` steps under the conditions of a kernel.
    pub(crate) fn new(kernel: &Kernel, steps: usize) -> Self {
        let mut inland = Zones::default();
        inland.begin(&vec![Zone::Inland; steps]);
        Self {
            fixed: kernel.fixed.clone(),
            inland,
            walks: Walks::new(steps),
            arch: Arch::new(),
        }
    }

    /// Loss and sight of the receiver at the end of a path, and the least
    /// clearance in Fresnel zones if it is asked for.
    ///
    /// `None` where ground is unknown, or any of it is not inland.
    pub(crate) fn receive(
        &mut self,
        inside: &mut Inside,
        ends: Ends<'_>,
        tells_clearance: bool,
    ) -> Option<(Reception, Option<f64>)> {
        let fixed = &*self.fixed;
        let dt = ends.receiver.d_km;
        let hts = ends.mast_ground_amsl_m + fixed.conditions.mast_agl_m;
        let hrs = ends.receiver.ground_amsl_m + fixed.conditions.receiver_agl_m;
        let slope = (hrs - hts) / dt;
        let line = Line {
            dt,
            hts,
            hrs,
            slope,
        };
        let c = 500.0 / fixed.ae_km;
        let mut walk = self.walks.begin(self.arch, inside, [hts, hrs], c);
        let is_known = slope.is_finite() && walk.summary.sums[0].is_finite();
        let is_inland = walk.summary.is_inland && ends.receiver.zone == Zone::Inland;
        if !(is_known && is_inland) {
            return None;
        }
        let stim = walk.steepest_from_mast() + c * dt; // (13)
        let line_of_sight = stim < slope;
        let nu = if line_of_sight {
            let least = -0.78 * 0.78 * fixed.lambda_m / (0.002 * dt);
            let key = walk.greatest_key_in_sight(slope - c * dt, least);
            key.map(|key| nu_of_key(key, dt, fixed.lambda_m)) // (15)
        } else {
            let srim = walk.steepest_from_receiver() + c * dt; // (17)
            Some(edge_nu([hts, hrs], [stim, srim], dt, fixed.lambda_m))
        };
        let actual_db = nu.map_or(0.0, |nu| single_edge_db(nu, dt));
        let path = Path {
            fixed,
            inland: &self.inland,
            horizons: horizons(&walk, &line, fixed.ae_km),
            surface: Surface::of(&walk, &line, ends),
            walk,
            line,
            ends,
        };
        let reception = Reception {
            loss_db: path.loss_db(actual_db),
            line_of_sight,
            mast_elevation_deg: path.horizons.theta_t_mrad * super::DEG_PER_MRAD,
        };
        let ratio = tells_clearance.then(|| {
            let key = path.walk.greatest_key();
            let lambda_m = physics::free_space::wavelength_m(fixed.f_ghz);
            -(key.abs() * dt / (1e3 * lambda_m)).sqrt().copysign(key)
        });
        Some((reception, ratio))
    }
}

/// Horizons, equations (76) to (83).
#[inline]
fn horizons(walk: &Walk<'_>, line: &Line, ae_km: f64) -> Horizons {
    let bend = line.dt / (2.0 * ae_km);
    let direct = line.slope / 1e3 - bend; // (78)
    let in_angles = |slope_t: f64, slope_r: f64, beyond| Horizons {
        theta_t_mrad: 1e3 * atan(slope_t),
        theta_r_mrad: 1e3 * atan(slope_r),
        beyond,
    };
    match walk.mast_horizon(direct) {
        Some(lt) if is_over(lt.slope, direct) => {
            let lr = walk.receiver_horizon();
            in_angles(lt.slope, lr.slope, Some([lt.sample, lr.sample])) // (79), (82)
        }
        _ => in_angles(direct, -line.slope / 1e3 - bend, None), // (81)
    }
}

/// The smooth surface at the two ends, above sea level. \[m\]
#[derive(Clone, Copy)]
struct Surface {
    fitted: [f64; 2],
    ground: [f64; 2],
}

impl Surface {
    /// Equations (85) to (88): with equal steps the sums of the trapezoids are
    /// the sum of the heights and that of their products with the sample's number.
    #[inline]
    fn of(walk: &Walk<'_>, line: &Line, ends: Ends<'_>) -> Self {
        let ground = [ends.mast_ground_amsl_m, ends.receiver.ground_amsl_m];
        let (steps, [plain, weighted]) = (walk.steps(), walk.summary.sums);
        let step_km = line.dt / steps;
        let v1 = step_km * (2.0 * plain + ground[0] + ground[1]);
        let v2 = step_km * step_km * (6.0 * weighted + ground[0] + (3.0 * steps - 1.0) * ground[1]);
        let per_square = 1.0 / (line.dt * line.dt);
        Self {
            fitted: [
                (2.0 * v1 * line.dt - v2) * per_square, // (87)
                (v2 - v1 * line.dt) * per_square,       // (88)
            ],
            ground,
        }
    }

    /// Equations (92). For diffraction it is no higher.
    fn for_ducting(&self) -> [f64; 2] {
        [0, 1].map(|end| self.fitted[end].min(self.ground[end]))
    }

    /// Equations (89) to (91).
    fn for_diffraction(&self, walk: &Walk<'_>, line: &Line) -> [f64; 2] {
        let over = walk.obstruction();
        let (from_t, from_r) = (over.slopes[0] - line.slope, over.slopes[1] + line.slope);
        let mut fitted = self.fitted;
        if over.most_m > 0.0 {
            fitted[0] -= over.most_m * from_t / (from_t + from_r); // (90c)
            fitted[1] -= over.most_m * from_r / (from_t + from_r); // (90d)
        }
        [0, 1].map(|end| fitted[end].min(self.ground[end])) // (91)
    }
}

/// A path of which the geometry is known.
struct Path<'a> {
    fixed: &'a Fixed,
    inland: &'a Zones,
    walk: Walk<'a>,
    line: Line,
    ends: Ends<'a>,
    horizons: Horizons,
    surface: Surface,
}

impl Path<'_> {
    /// Every term at the median of time, as [`super::Follow`] joins them.
    fn loss_db(&self, actual_db: f64) -> f64 {
        let (fixed, line) = (self.fixed, &self.line);
        let ld_db = actual_db + self.over_smooth_earth_db();
        let rise_km = (line.hts - line.hrs) / 1e3;
        let lb0p_db = fixed.free_space_db + 10.0 * decades(line.dt * line.dt + rise_km * rise_km); // (8)
        let lbd_db = lb0p_db + ld_db; // (43)
        let theta =
            1e3 * line.dt / fixed.ae_km + self.horizons.theta_t_mrad + self.horizons.theta_r_mrad; // (84)
        let lbda_db = self.with_ducting_db([lb0p_db, lbd_db]);
        let mut lbam_db = lbda_db;
        // From here on the hyperbolic tangent is 1 to the last digit.
        if theta < 2.7 {
            let lminb0p_db = lbd_db + self.median_rest_db();
            lbam_db = lbda_db + (lminb0p_db - lbda_db) * interpolation(theta); // (62)
        }
        let lbs_db = fixed.scatter_db + 20.0 * decades(line.dt) + 0.573 * theta; // (44)
        fixed.over_locations_db(self.ends.receiver, lb0p_db, joint_db(lbs_db, lbam_db))
    }

    /// What the smooth Earth adds to the loss of the profile, equation (39). \[dB\]
    fn over_smooth_earth_db(&self) -> f64 {
        if self.stands_clear(self.surface.for_ducting()) {
            return 0.0;
        }
        let surface = self.surface.for_diffraction(&self.walk, &self.line);
        if self.stands_clear(surface) {
            return 0.0;
        }
        let (fixed, line) = (self.fixed, &self.line);
        let sphere = SphericalEarth {
            d_km: line.dt,
            hte_m: line.hts - surface[0], // (37)
            hre_m: line.hrs - surface[1], // (38)
            f_ghz: fixed.f_ghz,
            radius_km: fixed.ae_km,
        };
        let ldsph_db = sphere.loss_db(0.0, fixed.conditions.polarization, fixed.lambda_m);
        // The smooth profile never costs less than nothing.
        if ldsph_db <= 0.0 {
            return 0.0;
        }
        let steps = SmoothSteps {
            step_km: self.walk.step_km(),
            last: self.walk.steps() as usize - 1,
            own_step_km: None,
            lambda_m: fixed.lambda_m,
        };
        (ldsph_db - steps.bullington_db(&sphere)).max(0.0)
    }

    /// True where the clearance over the smooth Earth is certain to exceed
    /// that of equation (25), as [`super::Follow`] judges it.
    fn stands_clear(&self, surface: [f64; 2]) -> bool {
        let line = &self.line;
        let lower_m = (line.hts - surface[0]).min(line.hrs - surface[1]);
        let least_m = lower_m - 125.0 * line.dt * line.dt / self.fixed.ae_km;
        least_m > 0.0 && least_m * least_m > 76.2 * line.dt * self.fixed.lambda_m
    }

    /// Equation (61), with ducting worked out only where it can matter. \[dB\]
    fn with_ducting_db(&self, [lb0p_db, lbd_db]: [f64; 2]) -> f64 {
        let (line, ducting) = (&self.line, &self.fixed.ducting);
        let [hst, hsr] = self.surface.for_ducting();
        let duct = DuctPath {
            dt_km: line.dt,
            theta_t_mrad: self.horizons.theta_t_mrad,
            theta_r_mrad: self.horizons.theta_r_mrad,
            hts: line.hts,
            hrs: line.hrs,
            hte: line.hts - hst, // (94a)
            hre: line.hrs - hsr, // (94b)
        };
        let floor_db = match self.horizons_km() {
            Some(horizons) => {
                let floor_db = ducting.floor_beyond_db(&duct, horizons);
                if floor_db < lbd_db {
                    floor_db + ducting.shielding_db(&duct, horizons)
                } else {
                    floor_db
                }
            }
            None => ducting.floor_in_sight_db(&duct),
        };
        if floor_db > lbd_db {
            return lbd_db;
        }
        let end = End {
            dt: line.dt,
            hrs: line.hrs,
            line: line.slope,
            last: 0,
            own: None,
        };
        let (receiver, lat_deg) = (self.ends.receiver, self.ends.centre_lat_deg);
        let climate = self.inland.climate(&[0.0], &end, receiver, lat_deg);
        let lba_db = ducting.loss_db(&duct, &climate, &self.between([hst, hsr]));
        with_duct_db([lba_db, lb0p_db, lbd_db], line.dt)
    }

    /// Distances of the two horizons beyond them. \[km\]
    fn horizons_km(&self) -> Option<[f64; 2]> {
        let [lt, lr] = self.horizons.beyond?;
        Some([self.walk.d_km(lt), self.line.dt - self.walk.d_km(lr)])
    }

    /// Where the horizons stand, and the roughness between them (95).
    fn between(&self, [hst, hsr]: [f64; 2]) -> Between {
        let [lt, lr] = self.horizons.beyond.unwrap_or_else(|| {
            let m = self.walk.least_clearance();
            [m, m]
        });
        let m = (hsr - hst) / self.line.dt; // (93)
        Between {
            dlt_km: self.walk.d_km(lt),
            dlr_km: self.line.dt - self.walk.d_km(lr),
            hm_m: self.walk.most_over([lt.min(lr), lt.max(lr)], [hst, m]),
        }
    }

    /// Equation (59) less the loss with diffraction: some 1e-9 dB, because
    /// I(50 %) is that far from 0. \[dB\]
    fn median_rest_db(&self) -> f64 {
        let (fixed, dt) = (self.fixed, self.line.dt);
        let log_b0 = fixed.inland.log_b0(dt, self.ends.centre_lat_deg);
        let fi = fixed.median_deviation / inverse_normal(ten_to(log_b0) / 100.0); // (40)
        // In sight the two horizons are one point.
        let horizons_km = self.horizons_km().map_or(dt, |[dlt, dlr]| dlt + dlr);
        spread_db(horizons_km) * (log_b0 - decades(50.0)) * fi // (9b)
    }
}
