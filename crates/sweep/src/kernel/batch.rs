//! Receivers taken together: what needs the hulls one after the other, then
//! the arithmetic of all in short loops that the compiler vectorises, then the
//! few that need more.

mod arithmetic;

use super::end::{End, Own};
use super::fold::Obstacle;
use super::seen::{Look, Seen};
use super::{Follow, Path, Reception};
use crate::radial::{OwnEnd, Receiver};
use crate::wide::wide;

/// Receivers in a batch.
const BATCH: usize = 64;

/// Lanes of a batch are computed in groups of so many.
const GROUP: usize = 8;

type Lanes = [f64; BATCH];

/// What a batch is worked out in; kept between batches, since it is large.
#[derive(Debug, Clone)]
pub(super) struct Batch {
    geometry: Geometry,
    losses: Losses,
    seen: [Seen; BATCH],
}

/// The geometry of a batch, one lane per receiver.
#[derive(Debug, Clone)]
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
#[derive(Debug, Clone)]
struct Losses {
    actual: Lanes,
    theta_t: Lanes,
    theta_r: Lanes,
    /// Path angle (84). \[mrad\]
    theta: Lanes,
    free_space: Lanes,
    /// Loss with diffraction, which is that with ducting where the floor is higher.
    lbd: Lanes,
    /// Joined with the loss of the smaller angles (62).
    lbam: Lanes,
    floor: Lanes,
    loss: Lanes,
}

impl Default for Batch {
    /// Lanes that no receiver takes compute with what was there before, at
    /// first with ones.
    fn default() -> Self {
        let ones = [1.0; BATCH];
        Self {
            geometry: Geometry {
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
            },
            losses: Losses {
                actual: ones,
                theta_t: ones,
                theta_r: ones,
                theta: ones,
                free_space: ones,
                lbd: ones,
                lbam: ones,
                floor: ones,
                loss: ones,
            },
            seen: [Seen::default(); BATCH],
        }
    }
}

impl Follow<'_> {
    /// [`Follow::receive`] for receivers in the order that it asks for, some at a
    /// time; `take` is given the position of each and its answer, in order.
    ///
    /// * `own`: the own ends of all, or none.
    pub fn receive_all(
        &mut self,
        receivers: &[Receiver],
        own: Option<&[OwnEnd]>,
        mut take: impl FnMut(usize, Option<Reception>),
    ) {
        let own_of = |i: usize| own.and_then(|own| own.get(i));
        if self.beta.is_some() {
            for (i, receiver) in receivers.iter().enumerate() {
                take(i, self.receive(receiver, own_of(i)));
            }
            return;
        }
        let mut work = self.batch.take().unwrap_or_default();
        for (number, batch) in receivers.chunks(BATCH).enumerate() {
            let first = number * BATCH;
            let own = own.and_then(|own| own.get(first..first + batch.len()));
            self.batch((batch, own), &mut work, |i, reception| {
                take(first + i, reception);
            });
        }
        *self.batch = Some(work);
    }

    fn batch(
        &mut self,
        (receivers, own): (&[Receiver], Option<&[OwnEnd]>),
        work: &mut Batch,
        mut take: impl FnMut(usize, Option<Reception>),
    ) {
        let Batch {
            geometry,
            losses,
            seen,
        } = work;
        if let Some(own) = own {
            pulp::Arch::new().dispatch(Look {
                view: self.view(self.fixed.ae_km),
                receivers,
                own,
                seen: &mut seen[..receivers.len()],
            });
        }
        let mut paths: [Option<Path<'_>>; BATCH] = [const { None }; BATCH];
        for (i, receiver) in receivers.iter().enumerate() {
            let own = own.map(|own| Own {
                samples: &own[i],
                seen: &seen[i],
            });
            if let Some(end) = self.end(receiver, own) {
                paths[i] = Some(self.geometry(receiver, end, (geometry, i)));
            }
        }
        let count = receivers.len().next_multiple_of(GROUP).min(BATCH);
        let (fixed, hts) = (self.fixed, self.along.hts);
        wide(
            #[inline(always)]
            || losses.angles(geometry, (fixed, hts), count),
        );
        wide(
            #[inline(always)]
            || losses.diffraction(geometry, (fixed, hts), count),
        );
        wide(
            #[inline(always)]
            || losses.floors(geometry, &fixed.ducting, count),
        );
        if losses.is_any_angle_small(count) {
            wide(
                #[inline(always)]
                || losses.with_small_angles(geometry, fixed, count),
            );
        }
        wide(
            #[inline(always)]
            || losses.joined(geometry, fixed, count),
        );
        for (i, receiver) in receivers.iter().enumerate() {
            let Some(path) = &mut paths[i] else {
                take(i, None);
                continue;
            };
            path.theta_t_mrad = losses.theta_t[i];
            path.theta_r_mrad = losses.theta_r[i];
            let is_settled = losses.floor[i] > losses.lbd[i]
                && path.near_surface.is_none()
                && self.zones.is_inland(&path.end, receiver);
            let loss_db = if is_settled {
                losses.loss[i]
            } else {
                self.loss_median_db(receiver, path, losses.actual[i])
            };
            take(i, Some(self.reception(path, loss_db)));
        }
    }

    /// What needs the hulls as they are at this receiver.
    #[inline]
    fn geometry<'e>(
        &mut self,
        receiver: &Receiver,
        end: End<'e>,
        lane: (&mut Geometry, usize),
    ) -> Path<'e> {
        let (all, i) = lane;
        self.median.advance(&self.along, end.last);
        self.bare.advance(&self.along, end.last);
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
}
