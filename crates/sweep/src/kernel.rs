//! The loss to every receiver of a radial, in nearly constant time each.
//!
//! [`Kernel`] holds what a sweep keeps between radials; [`Kernel::follow`]
//! starts one, [`Follow::receive`] answers receivers in rising order of
//! distance. The derivation stands in the crate's documentation.

mod bare;
mod batch;
mod climate;
mod ducting;
mod end;
mod fixed;
mod fold;
mod lone;
mod seen;

use std::sync::Arc;

use physics::diffraction::SphericalEarth;
use physics::inverse_normal::inverse_normal;

use crate::Conditions;
use crate::fast::{atan, decades, exp, ten_to};
use crate::radial::{OwnEnd, Radial, Receiver};
use bare::{Bare, Horizons, Surface};
use batch::Batch;
use climate::{Climate, Zones};
use ducting::DuctPath;
use end::{End, Own};
use fixed::Fixed;
use fold::{Along, Fold};
use lone::SmoothSteps;
pub(crate) use lone::{CHUNK, Ends, Inside, Lone};
use seen::{Look, Seen, View};

/// What a receiver of a sweep is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reception {
    /// Basic transmission loss not exceeded for the asked time, median of locations.
    pub loss_db: f64,
    /// Whether the straight ray clears ground and clutter, median refraction.
    pub line_of_sight: bool,
    /// Elevation in which the ray leaves the mast: to the receiver, or to the
    /// horizon of bare ground that hides it. \[deg\]
    pub mast_elevation_deg: f64,
}

/// Buffers and constants of a sweep under one set of conditions.
#[derive(Debug, Clone)]
pub struct Kernel {
    fixed: Arc<Fixed>,
    /// Distances of the samples, and what depends on them alone.
    d: Vec<f64>,
    per_distance: Vec<f64>,
    margin: Vec<f64>,
    top: Vec<f64>,
    median: Fold,
    /// The fold for the radius exceeded for β0 of the time; not at 50 %.
    beta: Option<Fold>,
    bare: Bare,
    zones: Zones,
    batch: Option<Box<Batch>>,
}

impl Kernel {
    /// Prepares radials of `samples` samples at steps of `step_km`.
    ///
    /// * `least_lat_deg`: least distance of a path's middle from the equator.
    pub fn new(conditions: &Conditions, step_km: f64, samples: usize, least_lat_deg: f64) -> Self {
        let length_km = step_km * (samples + 1) as f64;
        let fixed = Arc::new(Fixed::new(conditions, length_km, least_lat_deg));
        let d: Vec<f64> = (0..samples).map(|i| i as f64 * step_km).collect();
        let margin = |d: &f64| (0.78 * 0.78 * fixed.lambda_m / (0.002 * d)).sqrt();
        Self {
            per_distance: d.iter().map(|d| 1.0 / d).collect(),
            margin: d.iter().map(margin).collect(),
            d,
            top: Vec::with_capacity(samples),
            median: Fold::new(fixed.ae_km),
            beta: (conditions.time_pct != 50.0).then(|| Fold::new(fixed.abeta_km)),
            bare: Bare::new(fixed.ae_km),
            zones: Zones::default(),
            batch: None,
            fixed,
        }
    }

    /// Starts a radial. It has the step this kernel was made for and at most
    /// as many samples; what lies behind the first unknown ground is not used.
    pub fn follow<'a>(&'a mut self, radial: &'a Radial) -> Follow<'a> {
        let known = radial.known().min(self.d.len());
        let ground = &radial.ground_amsl_m[..known];
        self.top.clear();
        let tops = ground.iter().zip(&radial.clutter_m).map(|(h, r)| h + r);
        self.top.extend(tops);
        self.zones.begin(&radial.zone[..known]);
        let hts = ground.first().copied().unwrap_or(f64::NAN) + self.fixed.conditions.mast_agl_m;
        let along = Along {
            d: &self.d,
            per_distance: &self.per_distance,
            margin: &self.margin,
            hts,
            lambda_m: self.fixed.lambda_m,
        };
        self.median.begin(&along, &self.top);
        if let Some(beta) = &mut self.beta {
            beta.begin(&along, &self.top);
        }
        self.bare.begin(&along, ground);
        Follow {
            along,
            fixed: &self.fixed,
            ground,
            radial,
            median: &mut self.median,
            beta: self.beta.as_mut(),
            bare: &mut self.bare,
            zones: &self.zones,
            batch: &mut self.batch,
        }
    }
}

/// A radial whose receivers are asked in rising order of distance.
pub struct Follow<'a> {
    fixed: &'a Fixed,
    along: Along<'a>,
    ground: &'a [f64],
    radial: &'a Radial,
    median: &'a mut Fold,
    beta: Option<&'a mut Fold>,
    bare: &'a mut Bare,
    zones: &'a Zones,
    batch: &'a mut Option<Box<Batch>>,
}

impl Follow<'_> {
    /// Loss and sight of one receiver.
    ///
    /// * `own`: the last samples before the receiver, where they are its own.
    ///
    /// `None` where less than one and a half steps of the radial are on the path,
    /// and where ground is unknown. Receivers come in rising order of
    /// [`Radial::last_inside`], and with own ends of that of the first own sample.
    #[inline]
    pub fn receive(&mut self, receiver: &Receiver, own: Option<&OwnEnd>) -> Option<Reception> {
        let seen = own.map(|own| self.seen(receiver, own, self.fixed.ae_km));
        let own = own.zip(seen.as_ref());
        let end = self.end(receiver, own.map(|(samples, seen)| Own { samples, seen }))?;
        self.median.advance(&self.along, end.last);
        self.bare.advance(&self.along, end.last);
        if let Some(beta) = &mut self.beta {
            beta.advance(&self.along, end.last);
        }
        let path = self.path(receiver, end);
        let lb_db = if self.beta.is_some() {
            self.loss_any_time_db(receiver, &path)
        } else {
            let actual_db = self.median.bullington_db(&self.along, &end);
            self.loss_median_db(receiver, &path, actual_db)
        };
        Some(self.reception(&path, lb_db))
    }

    /// How an own end stands over the Earth of a radius.
    fn seen(&self, receiver: &Receiver, own: &OwnEnd, radius_km: f64) -> Seen {
        let mut seen = Seen::default();
        pulp::Arch::new().dispatch(Look {
            view: self.view(radius_km),
            receivers: std::slice::from_ref(receiver),
            own: std::slice::from_ref(own),
            seen: std::slice::from_mut(&mut seen),
        });
        seen
    }

    fn view(&self, radius_km: f64) -> View {
        View {
            hts: self.along.hts,
            receiver_agl_m: self.fixed.conditions.receiver_agl_m,
            c: 500.0 / radius_km,
        }
    }

    #[inline]
    fn reception(&self, path: &Path<'_>, loss_db: f64) -> Reception {
        Reception {
            loss_db,
            line_of_sight: self.median.in_sight(&path.end),
            mast_elevation_deg: path.theta_t_mrad * DEG_PER_MRAD,
        }
    }

    #[inline]
    fn path<'e>(&self, receiver: &Receiver, end: End<'e>) -> Path<'e> {
        let horizons = self.bare.horizons(&self.along, self.ground, &end);
        Path {
            theta_t_mrad: 1e3 * atan(horizons.slope_t),
            theta_r_mrad: 1e3 * atan(horizons.slope_r),
            ..self.path_without_angles(receiver, end, horizons)
        }
    }

    #[inline]
    fn path_without_angles<'e>(
        &self,
        receiver: &Receiver,
        end: End<'e>,
        horizons: Horizons,
    ) -> Path<'e> {
        let ground = receiver.ground_amsl_m;
        let surface = self.bare.surface(&self.along, self.ground, &end, ground);
        let radius_km = self.fixed.roundest_km();
        // The surface for diffraction is nowhere higher than that for ducting.
        let near_surface = if self.stands_clear(&end, surface.for_ducting(), radius_km) {
            None
        } else {
            let lower = self.bare.for_diffraction(&self.along, &end, &surface);
            (!self.stands_clear(&end, lower, radius_km)).then_some(lower)
        };
        Path {
            end,
            horizons,
            theta_t_mrad: 0.0,
            theta_r_mrad: 0.0,
            surface,
            near_surface,
        }
    }

    /// Least clearance over ground and clutter of the receiver last asked, as
    /// a share of the first Fresnel zone, median refraction; negative when blocked.
    pub fn clearance_ratio(&self, receiver: &Receiver, own: Option<&OwnEnd>) -> Option<f64> {
        let seen = own.map(|own| self.seen(receiver, own, self.fixed.ae_km));
        let own = own.zip(seen.as_ref());
        let end = self.end(receiver, own.map(|(samples, seen)| Own { samples, seen }))?;
        let key = self.median.greatest_key(&self.along, &end);
        let lambda_m = physics::free_space::wavelength_m(self.fixed.f_ghz);
        Some(-(key.abs() * end.dt / (1e3 * lambda_m)).sqrt().copysign(key))
    }

    #[inline]
    fn end<'e>(&self, receiver: &Receiver, own: Option<Own<'e>>) -> Option<End<'e>> {
        let shared_km = match own {
            Some(own) => own.samples.d_km(receiver.d_km, 0),
            None => receiver.d_km,
        };
        let last = self.radial.last_inside(shared_km);
        let known = last >= 1
            && last < self.ground.len()
            && receiver.ground_amsl_m.is_finite()
            && own.is_none_or(|own| own.seen.sums[0].is_finite());
        let hrs = receiver.ground_amsl_m + self.fixed.conditions.receiver_agl_m;
        known.then(|| End {
            dt: receiver.d_km,
            hrs,
            line: (hrs - self.along.hts) / receiver.d_km,
            last,
            own,
        })
    }

    /// Delta-Bullington loss for one radius, equation (39), of the loss of the actual profile. \[dB\]
    #[inline]
    fn diffraction_db(&self, actual_db: f64, radius_km: f64, path: &Path<'_>, omega: f64) -> f64 {
        let end = &path.end;
        // What stands clear of the rounder Earth does so of the flatter one.
        let Some([hstd, hsrd]) = path.near_surface else {
            return actual_db;
        };
        let sphere = SphericalEarth {
            d_km: end.dt,
            hte_m: self.along.hts - hstd, // (37)
            hre_m: end.hrs - hsrd,        // (38)
            f_ghz: self.fixed.f_ghz,
            radius_km,
        };
        let polarization = self.fixed.conditions.polarization;
        let ldsph_db = sphere.loss_db(omega, polarization, self.fixed.lambda_m);
        // The smooth profile never costs less than nothing.
        if ldsph_db <= 0.0 {
            return actual_db;
        }
        let steps = SmoothSteps {
            step_km: self.radial.step_km,
            last: end.last,
            own_step_km: end.own.map(|own| own.samples.step_km),
            lambda_m: self.fixed.lambda_m,
        };
        actual_db + (ldsph_db - steps.bullington_db(&sphere)).max(0.0)
    }

    /// True where the clearance over the smooth Earth is certain to exceed
    /// that of equation (25): the ray stands above the lower antenna less the
    /// greatest bulge, the clearance asked for is greatest in the middle.
    #[inline]
    fn stands_clear(&self, end: &End<'_>, [hst, hsr]: [f64; 2], radius_km: f64) -> bool {
        let lambda_m = self.fixed.lambda_m;
        let lower_m = (self.along.hts - hst).min(end.hrs - hsr);
        let least_m = lower_m - 125.0 * end.dt * end.dt / radius_km;
        least_m > 0.0 && least_m * least_m > 76.2 * end.dt * lambda_m
    }

    /// The median of time: no second radius, no multipath, and ducting only
    /// where its floor does not rule it out.
    #[inline]
    fn loss_median_db(&self, receiver: &Receiver, path: &Path<'_>, actual_db: f64) -> f64 {
        let (fixed, dt) = (self.fixed, path.end.dt);
        let inland = self.zones.is_inland(&path.end, receiver);
        let omega = if inland {
            0.0
        } else {
            self.zones.omega(self.along.d, &path.end, receiver)
        };
        let ld_db = self.diffraction_db(actual_db, fixed.ae_km, path, omega);
        let lb0p_db = fixed.free_space_loss_db(&path.end, self.along.hts);
        let lbd_db = lb0p_db + ld_db; // (43)
        let theta = fixed.theta_mrad(path); // (84)
        let lbda_db = self.with_ducting_db(receiver, path, [lb0p_db, lbd_db], inland);
        let mut lbam_db = lbda_db;
        if theta < SMALL_MRAD {
            let fj = interpolation(theta);
            let lminb0p_db = lbd_db + self.median_rest_db(receiver, path, [omega, ld_db], inland);
            lbam_db = lbda_db + (lminb0p_db - lbda_db) * fj; // (62)
        }
        let lbs_db = fixed.scatter_db + 20.0 * decades(dt) + 0.573 * theta; // (44)
        fixed.over_locations_db(receiver, lb0p_db, joint_db(lbs_db, lbam_db))
    }

    /// Equation (59) less the loss with diffraction: some 1e-9 dB, because
    /// I(50 %) is that far from 0. \[dB\]
    fn median_rest_db(
        &self,
        receiver: &Receiver,
        path: &Path<'_>,
        [omega, ld_db]: [f64; 2],
        inland: bool,
    ) -> f64 {
        let (fixed, dt) = (self.fixed, path.end.dt);
        let lat_deg = self.radial.centre.lat_deg(dt);
        let log_b0 = if inland {
            fixed.inland.log_b0(dt, lat_deg)
        } else {
            decades(self.climate(receiver, path).b0_pct)
        };
        let fi = fixed.median_deviation / inverse_normal(ten_to(log_b0) / 100.0); // (40)
        // In sight the two horizons are one point.
        let horizons_km = if path.horizons.transhorizon {
            let parts = (&self.along, &path.end, &path.horizons);
            let [dlt, dlr] = self.bare.horizon_distances(parts.0, parts.1, parts.2);
            dlt + dlr
        } else {
            dt
        };
        let esb_db = spread_db(horizons_km) * (log_b0 - decades(50.0)); // (9b)
        (esb_db - omega * ld_db) * fi
    }

    /// Equation (61), with ducting worked out only where it can matter. \[dB\]
    #[inline]
    fn with_ducting_db(
        &self,
        receiver: &Receiver,
        path: &Path<'_>,
        [lb0p_db, lbd_db]: [f64; 2],
        inland: bool,
    ) -> f64 {
        let (duct, end) = (self.duct_path(path), &path.end);
        let ducting = &self.fixed.ducting;
        if inland {
            let floor_db = if path.horizons.transhorizon {
                let horizons = self
                    .bare
                    .horizon_distances(&self.along, end, &path.horizons);
                let floor_db = ducting.floor_beyond_db(&duct, horizons);
                if floor_db < lbd_db {
                    floor_db + ducting.shielding_db(&duct, horizons)
                } else {
                    floor_db
                }
            } else {
                ducting.floor_in_sight_db(&duct)
            };
            if floor_db > lbd_db {
                return lbd_db;
            }
        }
        let climate = self.climate(receiver, path);
        let lba_db = ducting.loss_db(&duct, &climate, &self.between(path));
        with_duct_db([lba_db, lb0p_db, lbd_db], end.dt)
    }

    /// Any share of time, every term.
    fn loss_any_time_db(&self, receiver: &Receiver, path: &Path<'_>) -> f64 {
        let (fixed, dt) = (self.fixed, path.end.dt);
        let time_pct = fixed.conditions.time_pct;
        let climate = self.climate(receiver, path);
        let between = self.between(path);
        let lbfs_db = fixed.free_space_loss_db(&path.end, self.along.hts);
        let spread_db = spread_db(between.dlt_km + between.dlr_km);
        let lb0p_db = lbfs_db + spread_db * decades(time_pct / 50.0); // (9a), (10)
        let lb0b_db = lbfs_db + spread_db * decades(climate.b0_pct / 50.0); // (9b), (11)
        let omega = climate.omega;
        let actual_db = |fold: &Fold, end: &End<'_>| fold.bullington_db(&self.along, end);
        let median_db = actual_db(self.median, &path.end);
        let median_db = self.diffraction_db(median_db, fixed.ae_km, path, omega);
        let beta_db = self.beta.as_deref().map_or(median_db, |beta| {
            let own = path.end.own.map(|own| own.samples);
            let seen = own.map(|own| self.seen(receiver, own, fixed.abeta_km));
            let end = seen.as_ref().map(|seen| path.end.seen_as(seen));
            let beta_db = actual_db(beta, end.as_ref().unwrap_or(&path.end));
            self.diffraction_db(beta_db, fixed.abeta_km, path, omega)
        });
        let fi = if time_pct > climate.b0_pct {
            fixed.deviation / inverse_normal(climate.b0_pct / 100.0) // (40)
        } else {
            1.0
        };
        let ldp_db = median_db + fi * (beta_db - median_db); // (41)
        let (lbd50_db, lbd_db) = (lbfs_db + median_db, lb0p_db + ldp_db); // (42), (43)
        let theta = fixed.theta_mrad(path);
        let over_land_db = (1.0 - omega) * ldp_db;
        let lminb0p_db = if time_pct < climate.b0_pct {
            lb0p_db + over_land_db
        } else {
            lbd50_db + (lb0b_db + over_land_db - lbd50_db) * fi
        }; // (59)
        let duct = self.duct_path(path);
        let lba_db = fixed.ducting.loss_db(&duct, &climate, &between);
        let lbda_db = with_duct_db([lba_db, lb0p_db, lbd_db], dt);
        let lbam_db = lbda_db + (lminb0p_db - lbda_db) * interpolation(theta); // (62)
        let lbs_db = fixed.scatter_db + 20.0 * decades(dt) + 0.573 * theta; // (44)
        fixed.over_locations_db(receiver, lb0p_db, joint_db(lbs_db, lbam_db))
    }

    fn between(&self, path: &Path<'_>) -> bare::Between {
        let parts = (&path.horizons, &path.surface);
        self.bare
            .between(&self.along, self.ground, &path.end, parts)
    }

    fn climate(&self, receiver: &Receiver, path: &Path<'_>) -> Climate {
        let lat_deg = self.radial.centre.lat_deg(path.end.dt);
        self.zones
            .climate(self.along.d, &path.end, receiver, lat_deg)
    }

    #[inline]
    fn duct_path(&self, path: &Path<'_>) -> DuctPath {
        let [hst, hsr] = path.surface.for_ducting();
        DuctPath {
            dt_km: path.end.dt,
            theta_t_mrad: path.theta_t_mrad,
            theta_r_mrad: path.theta_r_mrad,
            hts: self.along.hts,
            hrs: path.end.hrs,
            hte: self.along.hts - hst, // (94a)
            hre: path.end.hrs - hsr,   // (94b)
        }
    }
}

/// A path as its geometry is known.
#[derive(Debug, Clone, Copy)]
struct Path<'e> {
    end: End<'e>,
    horizons: Horizons,
    theta_t_mrad: f64,
    theta_r_mrad: f64,
    surface: Surface,
    /// The surface for diffraction at the two ends, where the ray does not
    /// stand clear of it. \[m amsl\]
    near_surface: Option<[f64; 2]>,
}

/// From this path angle on the hyperbolic tangent of equation (57) is 1 to the last digit. \[mrad\]
const SMALL_MRAD: f64 = 2.7;

/// Degrees of a thousandth of a radian.
const DEG_PER_MRAD: f64 = 0.18 / std::f64::consts::PI;

/// Equation (9) without its logarithm. \[dB\]
fn spread_db(horizons_km: f64) -> f64 {
    2.6 * (1.0 - exp(-0.1 * horizons_km))
}

/// Equation (57).
#[inline]
fn interpolation(theta_mrad: f64) -> f64 {
    // (1 − tanh x)/2 is 1/(1 + e^2x), 0 long before 40 mrad.
    1.0 / (1.0 + exp(2.0 * 2.4 * (theta_mrad.min(40.0) - 0.3) / 0.3))
}

/// Equations (58), (60) and (61).
fn with_duct_db([lba_db, lb0p_db, lbd_db]: [f64; 3], dt_km: f64) -> f64 {
    let fk = 1.0 - 0.5 * (1.0 + (1.5 * (dt_km - 20.0) / 20.0).tanh()); // (58)
    let apart_db = (lba_db - lb0p_db).abs();
    let lminbap_db = lba_db.max(lb0p_db) + 2.5 * exp(-apart_db / 2.5).ln_1p(); // (60)
    if lminbap_db > lbd_db {
        lbd_db
    } else {
        lminbap_db + (lbd_db - lminbap_db) * fk
    }
}

/// Losses farther apart than this join to the lesser within 2.2e-10 dB. \[dB\]
const APART_DB: f64 = 50.0;

/// Equation (63). \[dB\]
#[inline]
fn joint_db(a_db: f64, b_db: f64) -> f64 {
    let apart_db = (a_db - b_db).abs();
    if apart_db > APART_DB {
        return a_db.min(b_db);
    }
    a_db.min(b_db) - 5.0 * decades(1.0 + ten_to(-0.2 * apart_db))
}
