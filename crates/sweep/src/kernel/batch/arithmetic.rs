//! The arithmetic of a batch: loops over lanes, each compiled for vectors. They
//! hold for inland paths that stand clear of the smooth Earth and have no
//! ducting below their diffraction; the others are worked out alone afterwards.
//!
//! Everything is in line, to be compiled for the instructions of the caller.

use super::super::ducting::Ducting;
use super::super::{Fixed, SMALL_MRAD};
use super::geometry::{Geometry, each};
use super::{BATCH, Losses};
use crate::fast::{E_PER_DECADE, atan_gentle, decades, exp};
use crate::wide::wide;

/// Steeper slopes have their arc tangent from the library.
const GENTLE: f64 = 0.4;

impl Losses {
    /// All of it in turn.
    pub(super) fn all(&mut self, (geometry, fixed, hts): (&Geometry, &Fixed, f64), count: usize) {
        wide(
            #[inline(always)]
            || self.angles(geometry, (fixed, hts), count),
        );
        wide(
            #[inline(always)]
            || self.diffraction(geometry, (fixed, hts), count),
        );
        wide(
            #[inline(always)]
            || self.floors(geometry, &fixed.ducting, count),
        );
        if self.is_any_angle_small(count) {
            wide(
                #[inline(always)]
                || self.with_small_angles(geometry, fixed, count),
            );
        }
        wide(
            #[inline(always)]
            || self.joined(geometry, fixed, count),
        );
    }

    /// Elevation angles and the path angle. \[mrad\]
    #[inline(always)]
    pub(super) fn angles(&mut self, g: &Geometry, (fixed, _): (&Fixed, f64), count: usize) {
        for (theta, slope) in [
            (&mut self.theta_t, &g.slope_t),
            (&mut self.theta_r, &g.slope_r),
        ] {
            let mut steep = 0_u64;
            for slope in &slope[..count] {
                steep |= u64::from(slope.abs() > GENTLE);
            }
            each(
                theta,
                count,
                #[inline(always)]
                |i| 1e3 * atan_gentle(slope[i]),
            );
            if steep != 0 {
                for (theta, slope) in theta.iter_mut().zip(slope).take(count) {
                    if slope.abs() > GENTLE {
                        *theta = 1e3 * slope.atan();
                    }
                }
            }
        }
        let (t, r, per_km) = (&self.theta_t, &self.theta_r, fixed.ae_km);
        each(
            &mut self.theta,
            count,
            #[inline(always)]
            |i| 1e3 * g.dt[i] / per_km + t[i] + r[i],
        ); // (84)
    }

    /// Bullington loss of the profile, equations (12), (15), (18), (19) and
    /// (21), and free space (8).
    #[inline(always)]
    pub(super) fn diffraction(&mut self, g: &Geometry, (fixed, h1): (&Fixed, f64), count: usize) {
        let lambda_m = fixed.lambda_m;
        let (mut nu, mut luc) = ([0.0; BATCH], [0.0; BATCH]);
        each(
            &mut nu,
            count,
            #[inline(always)]
            |i| {
                let (dt, h2) = (g.dt[i], g.hrs[i]);
                let (stim, srim) = (g.stim[i], g.srim[i]);
                let db = (h2 - h1 + srim * dt) / (stim + srim); // (18)
                let above = h1 + stim * db - (h1 * (dt - db) + h2 * db) / dt;
                let edge = above * (0.002 * dt / (lambda_m * db * (dt - db))).sqrt(); // (19)
                let below = -(g.key[i].abs() * 0.002 * dt / lambda_m).sqrt(); // (15)
                // Where the profile only touches the ray its two sides coincide.
                let edge = if edge.abs() < f64::INFINITY {
                    edge
                } else {
                    0.0
                };
                if g.is_edge[i] > 0.5 { edge } else { below }
            },
        );
        each(
            &mut luc,
            count,
            #[inline(always)]
            |i| {
                let v = if nu[i] > -0.78 { nu[i] - 0.1 } else { 0.0 };
                let luc = 6.9 + 20.0 * decades((v * v + 1.0).sqrt() + v); // (12)
                let luc = if luc > 0.0 { luc } else { 0.0 };
                if nu[i] > -0.78 { luc } else { 0.0 }
            },
        );
        each(
            &mut self.actual,
            count,
            #[inline(always)]
            |i| {
                luc[i] + (1.0 - exp(-luc[i] / 6.0)) * (10.0 + 0.02 * g.dt[i]) // (21)
            },
        );
        each(
            &mut self.free_space,
            count,
            #[inline(always)]
            |i| {
                let rise_km = (h1 - g.hrs[i]) / 1e3;
                let square = g.dt[i] * g.dt[i] + rise_km * rise_km;
                fixed.free_space_db + 10.0 * decades(square) // (8)
            },
        );
        let (free_space, actual) = (&self.free_space, &self.actual);
        each(
            &mut self.lbd,
            count,
            #[inline(always)]
            |i| free_space[i] + actual[i],
        ); // (43)
        let lbd = &self.lbd;
        each(
            &mut self.lbam,
            count,
            #[inline(always)]
            |i| lbd[i],
        );
    }

    /// Whether equation (59) can be told from the loss with diffraction.
    pub(super) fn is_any_angle_small(&self, count: usize) -> bool {
        self.theta[..count].iter().any(|theta| *theta < SMALL_MRAD)
    }

    /// Equations (57), (59) and (62), as the loss of one receiver has them.
    #[inline(always)]
    pub(super) fn with_small_angles(&mut self, g: &Geometry, fixed: &Fixed, count: usize) {
        let log_50 = decades(50.0);
        let (theta, lbd) = (&self.theta, &self.lbd);
        let mut rest = [0.0; BATCH];
        each(
            &mut rest,
            count,
            #[inline(always)]
            |i| {
                // (96) and (97), of a β0 that is below one half.
                let t = (-2.0 * (g.log_b0[i] - 2.0) * E_PER_DECADE).sqrt();
                let above = (0.010328 * t + 0.802853) * t + 2.515516698;
                let below = ((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0;
                let fi = fixed.median_deviation / (t - above / below); // (40)
                let near = exp(-0.1 * g.horizons[i]);
                2.6 * (1.0 - near) * (g.log_b0[i] - log_50) * fi
            },
        );
        each(
            &mut self.lbam,
            count,
            #[inline(always)]
            |i| {
                let capped = if theta[i] < 40.0 { theta[i] } else { 40.0 };
                lbd[i] + rest[i] / (1.0 + exp(16.0 * (capped - 0.3)))
            },
        );
    }

    /// Troposcatter (44), the joins (63) and locations (69).
    #[inline(always)]
    pub(super) fn joined(&mut self, g: &Geometry, fixed: &Fixed, count: usize) {
        let (theta, lbam, free_space) = (&self.theta, &self.lbam, &self.free_space);
        let (mut low, mut share) = ([0.0; BATCH], [0.0; BATCH]);
        each(
            &mut low,
            count,
            #[inline(always)]
            |i| {
                fixed.scatter_db + 20.0 * decades(g.dt[i]) + 0.573 * theta[i] // (44)
            },
        );
        each(
            &mut share,
            count,
            #[inline(always)]
            |i| exp(-0.2 * E_PER_DECADE * (low[i] - lbam[i]).abs()),
        );
        each(
            &mut self.loss,
            count,
            #[inline(always)]
            |i| {
                let low = if low[i] < lbam[i] { low[i] } else { lbam[i] };
                let lbc = low - 5.0 * decades(1.0 + share[i]); // (63)
                let at_median = lbc - fixed.median_deviation * g.sigma[i];
                let lb0p = free_space[i];
                if at_median > lb0p { at_median } else { lb0p } // (69)
            },
        );
    }

    /// [`Ducting::floor_beyond_db`] with the shielding, or
    /// [`Ducting::floor_in_sight_db`], of every lane. \[dB\]
    #[inline(always)]
    pub(super) fn floors(&mut self, g: &Geometry, ducting: &Ducting, count: usize) {
        each(
            &mut self.floor,
            count,
            #[inline(always)]
            |i| ducting.of_length_db(g.dt[i]) + 20.0 * decades(g.horizons[i]) + g.ap_floor[i],
        );
        let least = ducting.least_per_mrad();
        let mut shield = [0.0; BATCH];
        for (theta, dl) in [(&self.theta_t, &g.dlt), (&self.theta_r, &g.dlr)] {
            each(
                &mut shield,
                count,
                #[inline(always)]
                |i| 20.0 * decades(ducting.shield(over_mrad(theta[i], dl[i]), dl[i])),
            );
            for (i, floor) in self.floor.iter_mut().enumerate().take(count) {
                let beyond = ducting.gamma_d() * (theta[i] - over_mrad(theta[i], dl[i]))
                    + shield[i]
                    + ducting.per_mrad_over() * over_mrad(theta[i], dl[i]); // (48), (52)
                let in_sight = ducting.of_end_in_sight_db(theta[i], least);
                *floor += if g.is_beyond[i] > 0.5 {
                    beyond
                } else {
                    in_sight
                };
            }
        }
    }
}

/// What an angle has over a tenth of its horizon's distance, equation (48a).
#[inline(always)]
fn over_mrad(theta_mrad: f64, dl_km: f64) -> f64 {
    let over = theta_mrad - 0.1 * dl_km;
    if over > 0.0 { over } else { 0.0 }
}
