//! Receivers taken together: what needs the hulls one after the other, then
//! the arithmetic of all in short loops that the compiler vectorises, then the
//! few that need more.

mod arithmetic;
mod geometry;

use super::end::{End, Own};
use super::fold::Obstacle;
use super::seen::{Look, Seen};
use super::{DEG_PER_MRAD, Follow, Path, Reception};
use crate::radial::{OwnEnd, Receiver};
use crate::wide::wide;
use geometry::Geometry;

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
            geometry: Geometry::default(),
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
        let mut ends: [Option<End<'_>>; BATCH] = [const { None }; BATCH];
        for (i, receiver) in receivers.iter().enumerate() {
            let own = own.map(|own| Own {
                samples: &own[i],
                seen: &seen[i],
            });
            ends[i] = self.end(receiver, own);
            if let Some(end) = &ends[i] {
                geometry.put(i, receiver, end, self);
            }
        }
        let count = receivers.len().next_multiple_of(GROUP).min(BATCH);
        let (fixed, hts) = (self.fixed, self.along.hts);
        let mast_ground_m = self.ground.first().copied().unwrap_or(f64::NAN);
        wide(
            #[inline(always)]
            || geometry.of_recent(fixed, self.along.step(), count),
        );
        wide(
            #[inline(always)]
            || geometry.of_ends((fixed, hts, mast_ground_m), count),
        );
        for (i, end) in ends.iter().enumerate().take(receivers.len()) {
            if let Some(end) = end {
                self.horizons((geometry, i), end);
            }
        }
        wide(
            #[inline(always)]
            || geometry.of_horizons(fixed, count),
        );
        losses.all((geometry, fixed, hts), count);
        for (i, receiver) in receivers.iter().enumerate() {
            let Some(end) = ends[i] else {
                take(i, None);
                continue;
            };
            let is_settled = losses.floor[i] > losses.lbd[i]
                && geometry.near_surface[i].is_none()
                && self.zones.is_inland(&end, receiver);
            let loss_db = if is_settled {
                losses.loss[i]
            } else {
                let path = Path {
                    end,
                    horizons: geometry.horizons(i),
                    theta_t_mrad: losses.theta_t[i],
                    theta_r_mrad: losses.theta_r[i],
                    surface: geometry.surface(i, mast_ground_m),
                    near_surface: geometry.near_surface[i],
                };
                self.loss_median_db(receiver, &path, losses.actual[i])
            };
            let reception = Reception {
                loss_db,
                line_of_sight: geometry.is_edge[i] < 0.5,
                mast_elevation_deg: losses.theta_t[i] * DEG_PER_MRAD,
            };
            take(i, Some(reception));
        }
    }

    /// What needs the hulls as they are at this receiver.
    #[inline]
    fn horizons(&mut self, (all, i): (&mut Geometry, usize), end: &End<'_>) {
        self.median.advance(&self.along, end.last);
        self.bare.advance(&self.along, end.last);
        (all.is_edge[i], all.key[i]) = (0.0, f64::NEG_INFINITY);
        match self.median.obstacle(&self.along, end, all.top_slope[i]) {
            Obstacle::None => {}
            Obstacle::Below { key } => all.key[i] = key,
            Obstacle::Edge { slopes } => {
                all.is_edge[i] = 1.0;
                [all.stim[i], all.srim[i]] = slopes;
            }
        }
        let slopes = (all.direct[i], all.recent(i, end.last));
        (all.is_beyond[i], all.slope_t[i]) = (0.0, all.direct[i]);
        if let Some(beyond) = self.bare.beyond(&self.along, self.ground, end, slopes) {
            let sample = |i: usize| (end.d(self.along.d, i), end.ground(self.ground, i));
            (all.is_beyond[i], all.slope_t[i]) = (1.0, beyond.slope_t);
            (all.lt[i], all.lr[i]) = (beyond.lt as u32, beyond.lr as u32);
            all.dlt[i] = sample(beyond.lt).0;
            (all.lr_km[i], all.lr_amsl_m[i]) = sample(beyond.lr);
        }
        all.near_surface[i] = None;
        if all.is_clear[i] < 0.5 {
            let mast_ground_m = self.ground[0];
            let surface = all.surface(i, mast_ground_m);
            let lower = self.bare.for_diffraction(&self.along, end, &surface);
            let radius_km = self.fixed.ae_km;
            all.near_surface[i] = (!self.stands_clear(end, lower, radius_km)).then_some(lower);
        }
    }
}
