//! The horizons of mast and receiver over bare ground.

use super::{Bare, Horizons, LANES, greater, is_over, pick_last};
use crate::hull::{TIE, recent};
use crate::kernel::end::End;
use crate::kernel::fold::Along;

/// The steepest of the [`recent`] samples of a path as seen from the receiver.
#[derive(Debug, Clone, Copy)]
pub(in crate::kernel) struct Recent {
    /// Folded slope. \[m/km\]
    pub(in crate::kernel) slope: f64,
    /// The sample, unless several are as steep within a tie.
    pub(in crate::kernel) at: Option<usize>,
}

impl Recent {
    /// With one more sample.
    fn with(self, slope: f64, sample: usize) -> Self {
        let at = if slope > self.slope + TIE {
            Some(sample)
        } else {
            self.at.filter(|_| slope < self.slope - TIE)
        };
        Self {
            slope: greater(self.slope, slope),
            at,
        }
    }
}

/// The horizons of a path beyond them.
pub(in crate::kernel) struct Beyond {
    /// Tangent of the elevation of the mast's.
    pub(in crate::kernel) slope_t: f64,
    /// Samples of both.
    pub(in crate::kernel) lt: usize,
    pub(in crate::kernel) lr: usize,
}

impl Bare {
    /// Horizons, equations (76) to (82).
    #[inline]
    pub(in crate::kernel) fn horizons(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
    ) -> Horizons {
        let (dt, hts, hrs) = (end.dt, along.hts, end.hrs);
        let direct = (hrs - hts) / (1e3 * dt) - dt / (2.0 * self.ae); // (78)
        let g = hrs - 500.0 / self.ae * dt * dt;
        let mut found = Recent {
            slope: f64::NEG_INFINITY,
            at: None,
        };
        for i in recent(end.last) {
            let slope = (self.g[i] - g) / (dt - along.d[i]);
            found = found.with(slope, i);
        }
        match self.beyond(along, h, end, (direct, found)) {
            Some(Beyond { slope_t, lt, lr }) => Horizons {
                transhorizon: true,
                slope_t,                                  // (79)
                slope_r: self.slope_r(along, h, end, lr), // (82)
                lt,
                lr,
            },
            None => Horizons {
                transhorizon: false,
                slope_t: direct,
                slope_r: (hts - hrs) / (1e3 * dt) - dt / (2.0 * self.ae), // (81)
                lt: 0,
                lr: 0,
            },
        }
    }

    /// The horizons of a path beyond them.
    ///
    /// * `direct`: tangent of the elevation of the direct ray. `of_recent`: the steepest of
    ///   the last samples of the radial.
    #[inline]
    pub(in crate::kernel) fn beyond(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
        (direct, of_recent): (f64, Recent),
    ) -> Option<Beyond> {
        let (lt, slope_t) = self.mast_horizon(along, h, end, direct);
        is_over(slope_t, direct).then(|| Beyond {
            slope_t,
            lt,
            lr: self.receiver_horizon(along, h, end, of_recent),
        })
    }

    /// Sample of the mast's horizon and the tangent of its elevation; anything
    /// lower than the direct ray's where that is in sight.
    #[inline]
    fn mast_horizon(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
        direct: f64,
    ) -> (usize, f64) {
        let so_far = &self.so_far.horizon;
        let Some(own) = end.own else {
            return (so_far.sample as usize, so_far.slope);
        };
        let slope = own.seen.bare_from_mast;
        if slope < 1e3 * so_far.slope - TIE || slope + TIE < 1e3 * direct {
            return (so_far.sample as usize, so_far.slope);
        }
        self.mast_horizon_in_own_end(along, h, end)
    }

    /// Goes on from the last sample of the radial as [`Bare::begin`] goes along it.
    fn mast_horizon_in_own_end(&self, along: &Along<'_>, h: &[f64], end: &End<'_>) -> (usize, f64) {
        let (half_bend, hts) = (500.0 / self.ae, along.hts);
        let sample = |i: usize| (end.d(along.d, i), end.ground(h, i));
        let t = |i: usize| {
            let (d, h) = sample(i);
            (h - hts) / d - half_bend * d
        };
        let so_far = &self.so_far.horizon;
        let mut found = (so_far.sample as usize, so_far.slope);
        let block = (found.0 - 1) / LANES * LANES + 1;
        let mut block_end = block + LANES;
        let in_block = block..block_end.min(end.last + 1);
        let mut best = in_block.map(t).fold(f64::NEG_INFINITY, greater);
        for i in end.last + 1..=end.last_of_all() {
            if t(i) <= best && i >= block_end {
                continue;
            }
            let mut from = i;
            if t(i) > best {
                best = t(i);
                if i >= block_end {
                    from = (i - 1) / LANES * LANES + 1;
                    block_end = from + LANES;
                    found.1 = f64::NEG_INFINITY;
                }
            }
            for j in from..=i {
                let slope = self.slope_t(hts, sample(j));
                if slope > found.1 {
                    found = (j, slope);
                }
            }
        }
        found
    }

    /// Sample of the receiver's horizon, equation (83).
    #[inline]
    fn receiver_horizon(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
        of_recent: Recent,
    ) -> usize {
        let Some(own) = end.own else {
            return self.receiver_horizon_on_radial(along, h, end, of_recent);
        };
        let c = 500.0 / self.ae;
        let from_mast = 1e3 * self.so_far.horizon.slope;
        let [first, last] = own.seen.steepest;
        let steepest = own.seen.bare_from_receiver - 2.0 * TIE;
        let is_own = end.hides_radial(along, c, steepest, from_mast) || {
            let g = end.hrs - c * end.dt * end.dt;
            let touch = self.folded.tangent(end.dt, g);
            let of_recent_m = of_recent.slope;
            let of_radial = touch.map_or(of_recent_m, |touch| greater(of_recent_m, touch.slope));
            if of_radial > own.seen.bare_from_receiver + 2.0 * TIE {
                return self.receiver_horizon_on_radial(along, h, end, of_recent);
            }
            of_radial < steepest
        };
        if is_own && first == last {
            return end.last + 1 + first;
        }
        self.receiver_horizon_walked(along, h, end)
    }

    /// The receiver's horizon by a walk over all samples, as the scalar model picks it.
    fn receiver_horizon_walked(&self, along: &Along<'_>, h: &[f64], end: &End<'_>) -> usize {
        let c = 500.0 / self.ae;
        let (mut best, mut block) = (f64::NEG_INFINITY, 0);
        for i in 1..=end.last_of_all() {
            let e = end.dt - end.d(along.d, i);
            let r = (end.ground(h, i) - end.hrs) / e - c * e;
            if r >= best {
                (best, block) = (r, (i - 1) / LANES);
            }
        }
        let last = end.last_of_all();
        pick_last(block, last, |i| self.slope_r(along, h, end, i))
    }

    /// The receiver's horizon where it is a sample of the radial.
    #[inline]
    fn receiver_horizon_on_radial(
        &self,
        along: &Along<'_>,
        h: &[f64],
        end: &End<'_>,
        of_recent: Recent,
    ) -> usize {
        let c = 500.0 / self.ae;
        let g = end.hrs - c * end.dt * end.dt;
        let touch = self.folded.tangent(end.dt, g);
        let steepest = touch.map_or(f64::NEG_INFINITY, |touch| touch.slope);
        if let Some(sample) = of_recent.at
            && of_recent.slope > steepest + TIE
        {
            return sample;
        }
        if let Some(touch) = touch
            && touch.first == touch.last
            && of_recent.slope < touch.slope - TIE
        {
            return self.folded.sample_at(touch.at);
        }
        let (mut best, mut block) = (f64::NEG_INFINITY, 0);
        let ties = touch.map_or(0..0, |touch| touch.first..touch.last + 1);
        let ties = ties.map(|vertex| self.folded.sample_at(vertex));
        for i in ties.chain(recent(end.last)) {
            let e = end.dt - along.d[i];
            let r = (h[i] - end.hrs) / e - c * e;
            if r >= best {
                (best, block) = (r, (i - 1) / LANES);
            }
        }
        let last = end.last_of_all();
        pick_last(block, last, |i| self.slope_r(along, h, end, i))
    }
}
