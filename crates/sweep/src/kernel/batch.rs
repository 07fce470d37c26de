//! Receivers taken together: what needs the hulls one after the other, then
//! the arithmetic of all in short loops that the compiler vectorises, then the
//! few that need more.

use super::ducting::Ducting;
use super::fold::{End, Obstacle};
use super::{Follow, Path, Reception};
use crate::fast::{E_PER_DECADE, atan_gentle, decades, exp};
use crate::radial::Receiver;

/// Receivers in a batch.
const BATCH: usize = 32;

type Lanes = [f64; BATCH];

/// Steeper slopes have their arc tangent from the library.
const GENTLE: f64 = 0.4;

/// Every lane in turn.
#[inline(always)]
fn each(f: impl Fn(usize) -> f64) -> Lanes {
    let mut lanes = [0.0; BATCH];
    for (i, lane) in lanes.iter_mut().enumerate() {
        *lane = f(i);
    }
    lanes
}

/// [`decades`] of every lane. Not in line: a long loop is not vectorised.
#[inline(never)]
fn decades_of(x: &Lanes) -> Lanes {
    each(|i| decades(x[i]))
}

/// [`exp`] of every lane.
#[inline(never)]
fn exp_of(x: &Lanes) -> Lanes {
    each(|i| exp(x[i]))
}

/// The geometry of a batch, one lane per receiver.
struct Geometry {
    dt: Lanes,
    hrs: Lanes,
    /// 1 beyond the clutter's horizon, 0 in sight.
    is_edge: Lanes,
    /// Steepest slopes from mast and receiver; of lanes in sight anything usable.
    stim: Lanes,
    srim: Lanes,
    /// Greatest key of ν of lanes in sight.
    key: Lanes,
    /// 1 beyond the horizon of bare ground, 0 in sight.
    is_beyond: Lanes,
    slope_t: Lanes,
    slope_r: Lanes,
    /// Distances to the two horizons, and their sum, which is the path in sight.
    dlt: Lanes,
    dlr: Lanes,
    horizons: Lanes,
    ap_floor: Lanes,
    log_b0: Lanes,
    sigma: Lanes,
}

/// What the loops find, one lane per receiver.
struct Losses {
    actual: Lanes,
    theta_t: Lanes,
    theta_r: Lanes,
    /// Loss with diffraction, which is that with ducting where the floor is higher.
    lbd: Lanes,
    floor: Lanes,
    loss: Lanes,
}

impl Geometry {
    /// Lanes that no receiver takes compute with ones.
    fn new() -> Self {
        let ones = [1.0; BATCH];
        Self {
            dt: ones,
            hrs: ones,
            is_edge: ones,
            stim: ones,
            srim: ones,
            key: ones,
            is_beyond: ones,
            slope_t: [0.1; BATCH],
            slope_r: [0.1; BATCH],
            dlt: ones,
            dlr: ones,
            horizons: ones,
            ap_floor: ones,
            log_b0: ones,
            sigma: ones,
        }
    }
}

impl Follow<'_> {
    /// [`Follow::receive`] for receivers in rising order of distance, some at a
    /// time; `take` is given the position of each and its answer, in order.
    pub fn receive_all(
        &mut self,
        receivers: &[Receiver],
        mut take: impl FnMut(usize, Option<Reception>),
    ) {
        if self.beta.is_some() {
            for (i, receiver) in receivers.iter().enumerate() {
                take(i, self.receive(receiver));
            }
            return;
        }
        for (number, batch) in receivers.chunks(BATCH).enumerate() {
            self.batch(batch, |i, reception| take(number * BATCH + i, reception));
        }
    }

    fn batch(&mut self, receivers: &[Receiver], mut take: impl FnMut(usize, Option<Reception>)) {
        let mut geometry = Geometry::new();
        let mut paths: [Option<Path>; BATCH] = [const { None }; BATCH];
        for (i, receiver) in receivers.iter().enumerate() {
            if let Some(end) = self.end(receiver) {
                paths[i] = Some(self.geometry(receiver, end, (&mut geometry, i)));
            }
        }
        let losses = self.losses(&geometry);
        for (i, receiver) in receivers.iter().enumerate() {
            let Some(mut path) = paths[i] else {
                take(i, None);
                continue;
            };
            path.theta_t_mrad = losses.theta_t[i];
            path.theta_r_mrad = losses.theta_r[i];
            let is_settled = losses.floor[i] > losses.lbd[i]
                && path.near_surface.is_none()
                && self.zones.is_inland(path.end.last, receiver);
            let loss_db = if is_settled {
                losses.loss[i]
            } else {
                self.loss_median_db(receiver, &path, losses.actual[i])
            };
            take(i, Some(self.reception(&path, loss_db)));
        }
    }

    /// What needs the hulls as they are at this receiver.
    #[inline]
    fn geometry(&mut self, receiver: &Receiver, end: End, lane: (&mut Geometry, usize)) -> Path {
        let (all, i) = lane;
        self.median.advance(&self.along, self.top, end.last);
        self.bare.advance(&self.along, self.ground, end.last);
        let horizons = self.bare.horizons(&self.along, self.ground, &end);
        let path = self.path_without_angles(receiver, end, horizons);
        (all.dt[i], all.hrs[i]) = (end.dt, end.hrs);
        (all.is_edge[i], all.key[i]) = (0.0, f64::NEG_INFINITY);
        match self.median.obstacle(&self.along, self.top, &end) {
            Obstacle::None => {}
            Obstacle::Below { key } => all.key[i] = key,
            Obstacle::Edge { slopes } => {
                all.is_edge[i] = 1.0;
                [all.stim[i], all.srim[i]] = slopes;
            }
        }
        (all.slope_t[i], all.slope_r[i]) = (horizons.slope_t, horizons.slope_r);
        (all.is_beyond[i], all.horizons[i]) = (0.0, end.dt);
        if horizons.transhorizon {
            let [dlt, dlr] = self.bare.horizon_distances(&self.along, &end, &horizons);
            all.is_beyond[i] = 1.0;
            (all.dlt[i], all.dlr[i], all.horizons[i]) = (dlt, dlr, dlt + dlr);
        }
        all.ap_floor[i] = self.fixed.ducting.ap_floor(end.dt);
        let lat_deg = self.radial.centre.lat_deg(end.dt);
        all.log_b0[i] = self.fixed.inland.log_b0(end.dt, lat_deg);
        all.sigma[i] = self.fixed.sigma_db(receiver);
        path
    }

    /// The arithmetic of every lane, for inland paths that stand clear of the
    /// smooth Earth and have no ducting below their diffraction.
    fn losses(&self, g: &Geometry) -> Losses {
        let (fixed, hts) = (self.fixed, self.along.hts);
        let actual = actual_db(g, hts, fixed.lambda_m);
        let (theta_t, theta_r) = (theta_mrad(&g.slope_t), theta_mrad(&g.slope_r));
        let square = decades_of(&each(|i| {
            let rise_km = (hts - g.hrs[i]) / 1e3;
            g.dt[i] * g.dt[i] + rise_km * rise_km
        }));
        let lb0p = each(|i| fixed.free_space_db + 10.0 * square[i]); // (8)
        let lbd = each(|i| lb0p[i] + actual[i]); // (43)
        let rest = self.rest_db(g);
        let theta = each(|i| 1e3 * g.dt[i] / fixed.ae_km + theta_t[i] + theta_r[i]); // (84)
        let away = exp_of(&each(|i| {
            let capped = if theta[i] < 40.0 { theta[i] } else { 40.0 };
            16.0 * (capped - 0.3)
        }));
        let lbam = each(|i| lbd[i] + rest[i] / (1.0 + away[i])); // (57), (62)
        let log_dt = decades_of(&g.dt);
        let lbs = each(|i| fixed.scatter_db + 20.0 * log_dt[i] + 0.573 * theta[i]); // (44)
        let share = exp_of(&each(|i| -0.2 * E_PER_DECADE * (lbs[i] - lbam[i]).abs()));
        let joined = decades_of(&each(|i| 1.0 + share[i]));
        let loss = each(|i| {
            let low = if lbs[i] < lbam[i] { lbs[i] } else { lbam[i] };
            let lbc = low - 5.0 * joined[i]; // (63)
            let at_median = lbc - fixed.median_deviation * g.sigma[i];
            if at_median > lb0p[i] {
                at_median
            } else {
                lb0p[i]
            } // (69)
        });
        Losses {
            floor: fixed.ducting.floors_db(g, [&theta_t, &theta_r]),
            actual,
            theta_t,
            theta_r,
            lbd,
            loss,
        }
    }

    /// Equation (59) less the loss with diffraction, as
    /// [`Follow::median_rest_db`] has it. \[dB\]
    fn rest_db(&self, g: &Geometry) -> Lanes {
        let log_50 = decades(50.0);
        let near = exp_of(&each(|i| -0.1 * g.horizons[i]));
        // (96) and (97), of a β0 that is below one half.
        let t = each(|i| (-2.0 * (g.log_b0[i] - 2.0) * E_PER_DECADE).sqrt());
        each(|i| {
            let t = t[i];
            let above = (0.010328 * t + 0.802853) * t + 2.515516698;
            let below = ((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0;
            let fi = self.fixed.median_deviation / (t - above / below); // (40)
            2.6 * (1.0 - near[i]) * (g.log_b0[i] - log_50) * fi
        })
    }
}

/// Bullington loss of the profile, equations (12), (15), (18), (19) and (21). \[dB\]
fn actual_db(g: &Geometry, h1: f64, lambda_m: f64) -> Lanes {
    let edge = each(|i| {
        let (dt, h2) = (g.dt[i], g.hrs[i]);
        let (stim, srim) = (g.stim[i], g.srim[i]);
        let db = (h2 - h1 + srim * dt) / (stim + srim); // (18)
        let above = h1 + stim * db - (h1 * (dt - db) + h2 * db) / dt;
        above * (0.002 * dt / (lambda_m * db * (dt - db))).sqrt() // (19)
    });
    let below = each(|i| -(g.key[i].abs() * 0.002 * g.dt[i] / lambda_m).sqrt()); // (15)
    let nu = each(|i| {
        // Where the profile only touches the ray its two sides coincide.
        let edge = if edge[i].abs() < f64::INFINITY {
            edge[i]
        } else {
            0.0
        };
        if g.is_edge[i] > 0.5 { edge } else { below[i] }
    });
    let root = decades_of(&each(|i| {
        let v = if nu[i] > -0.78 { nu[i] - 0.1 } else { 0.0 };
        (v * v + 1.0).sqrt() + v
    }));
    let luc = each(|i| {
        let luc = 6.9 + 20.0 * root[i]; // (12)
        let luc = if luc > 0.0 { luc } else { 0.0 };
        if nu[i] > -0.78 { luc } else { 0.0 }
    });
    let share = exp_of(&each(|i| -luc[i] / 6.0));
    each(|i| luc[i] + (1.0 - share[i]) * (10.0 + 0.02 * g.dt[i])) // (21)
}

/// Angles of slopes. \[mrad\]
#[inline(never)]
fn theta_mrad(slope: &Lanes) -> Lanes {
    let mut theta = each(|i| 1e3 * atan_gentle(slope[i]));
    for (theta, slope) in theta.iter_mut().zip(slope) {
        if slope.abs() > GENTLE {
            *theta = 1e3 * slope.atan();
        }
    }
    theta
}

impl Ducting {
    /// [`Ducting::floor_beyond_db`] with the shielding, or
    /// [`Ducting::floor_in_sight_db`], of every lane. \[dB\]
    fn floors_db(&self, g: &Geometry, [theta_t, theta_r]: [&Lanes; 2]) -> Lanes {
        let least = self.least_per_mrad();
        let of_end = |theta: &Lanes, dl: &Lanes| {
            let over = each(|i| {
                let theta2 = theta[i] - 0.1 * dl[i]; // (48a)
                if theta2 > 0.0 { theta2 } else { 0.0 }
            });
            let shield = decades_of(&each(|i| self.shield(over[i], dl[i])));
            each(|i| {
                let beyond = self.gamma_d() * (theta[i] - over[i])
                    + 20.0 * shield[i]
                    + self.per_mrad_over() * over[i]; // (48), (52)
                let in_sight = self.of_end_in_sight_db(theta[i], least);
                if g.is_beyond[i] > 0.5 {
                    beyond
                } else {
                    in_sight
                }
            })
        };
        let (of_t, of_r) = (of_end(theta_t, &g.dlt), of_end(theta_r, &g.dlr));
        let horizons = decades_of(&g.horizons);
        each(|i| {
            let length = self.of_length_db(g.dt[i]) + 20.0 * horizons[i];
            length + of_t[i] + of_r[i] + g.ap_floor[i]
        })
    }
}
