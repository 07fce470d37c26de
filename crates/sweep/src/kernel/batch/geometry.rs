//! The geometry of a batch: what follows from distances, heights and sums in loops that the
//! compiler vectorises; horizons are put in between by whoever has the hulls.

use super::super::bare::{Horizons, Recent, Surface, greater, segment};
use super::super::end::End;
use super::super::{Fixed, Follow};
use super::{BATCH, Lanes};
use crate::hull::{TIE, WINDOW};
use crate::radial::Receiver;

/// One lane per receiver.
#[derive(Debug, Clone)]
pub(super) struct Geometry {
    pub(super) dt: Lanes,
    pub(super) hrs: Lanes,
    /// The receiver's own ground. \[m amsl\]
    ground: Lanes,
    /// The last samples of the radial from the last one backwards: distance of the last, and
    /// folded heights with clutter and bare. Near the mast some stand for others.
    shared_km: Lanes,
    folded_top: [Lanes; WINDOW],
    folded_ground: [Lanes; WINDOW],
    /// The last sample of all and its bare ground, the sums of equations (85) and (86) up to it.
    last_km: Lanes,
    last_amsl_m: Lanes,
    sum1: Lanes,
    sum2: Lanes,
    /// Steepest folded slopes from the receiver to these, \[m/km\] and which one is the only
    /// so steep over bare ground, or the number of them.
    pub(super) top_slope: Lanes,
    bare_slope: Lanes,
    steepest: Lanes,
    /// Tangents of the elevations of the direct ray, equations (78) and (81).
    pub(super) direct: Lanes,
    back: Lanes,
    /// Smooth surface, equations (87) and (88), and 1 where the ray stands clear of it.
    fitted_t: Lanes,
    fitted_r: Lanes,
    pub(super) is_clear: Lanes,
    /// Where it does not even with obstructions counted, the surface for diffraction.
    pub(super) near_surface: [Option<[f64; 2]>; BATCH],
    /// 1 beyond the clutter's horizon, 0 in sight.
    pub(super) is_edge: Lanes,
    /// Steepest slopes from mast and receiver; of lanes in sight anything usable.
    pub(super) stim: Lanes,
    pub(super) srim: Lanes,
    /// Greatest key of ν of lanes in sight.
    pub(super) key: Lanes,
    /// 1 beyond the horizon of bare ground, 0 in sight.
    pub(super) is_beyond: Lanes,
    /// Samples of the two horizons beyond them, and where the receiver's stands.
    pub(super) lt: [u32; BATCH],
    pub(super) lr: [u32; BATCH],
    pub(super) lr_km: Lanes,
    pub(super) lr_amsl_m: Lanes,
    pub(super) slope_t: Lanes,
    pub(super) slope_r: Lanes,
    /// Distances to the two horizons, and their sum, which is the path in sight.
    pub(super) dlt: Lanes,
    pub(super) dlr: Lanes,
    pub(super) horizons: Lanes,
    pub(super) ap_floor: Lanes,
    pub(super) log_b0: Lanes,
    pub(super) sigma: Lanes,
}

impl Default for Geometry {
    /// Lanes that no receiver takes compute with what was there before, at
    /// first with these.
    fn default() -> Self {
        let (ones, twos, slight) = ([1.0; BATCH], [2.0; BATCH], [0.1; BATCH]);
        Self {
            dt: twos,
            hrs: ones,
            ground: ones,
            shared_km: ones,
            folded_top: [ones; WINDOW],
            folded_ground: [ones; WINDOW],
            last_km: ones,
            last_amsl_m: ones,
            sum1: ones,
            sum2: ones,
            top_slope: slight,
            bare_slope: slight,
            steepest: ones,
            direct: slight,
            back: slight,
            fitted_t: ones,
            fitted_r: ones,
            is_clear: ones,
            near_surface: [None; BATCH],
            is_edge: ones,
            stim: ones,
            srim: ones,
            key: ones,
            is_beyond: ones,
            lt: [1; BATCH],
            lr: [1; BATCH],
            lr_km: ones,
            lr_amsl_m: ones,
            slope_t: slight,
            slope_r: slight,
            dlt: ones,
            dlr: ones,
            horizons: ones,
            ap_floor: ones,
            log_b0: ones,
            sigma: ones,
        }
    }
}

/// The first lanes in turn. Their number is not known to the compiler: it
/// would write a short loop out instead of making vectors of it.
#[inline(always)]
pub(super) fn each(out: &mut Lanes, count: usize, f: impl Fn(usize) -> f64) {
    for (i, lane) in out.iter_mut().enumerate().take(count) {
        *lane = f(i);
    }
}

impl Geometry {
    /// Notes what is known of a receiver.
    #[inline(always)]
    pub(super) fn put(&mut self, i: usize, receiver: &Receiver, end: &End<'_>, on: &Follow<'_>) {
        (self.dt[i], self.hrs[i]) = (end.dt, end.hrs);
        self.ground[i] = receiver.ground_amsl_m;
        self.shared_km[i] = on.along.d[end.last];
        let (tops, bare) = (on.median.folded(), on.bare.folded());
        for back in 0..WINDOW {
            let sample = end.last.saturating_sub(back).max(1);
            self.folded_top[back][i] = tops[sample];
            self.folded_ground[back][i] = bare[sample];
        }
        let ([d, h], sums) = on.bare.up_to_last(&on.along, on.ground, end);
        (self.last_km[i], self.last_amsl_m[i]) = (d, h);
        [self.sum1[i], self.sum2[i]] = sums;
        self.ap_floor[i] = on.fixed.ducting.ap_floor(end.dt);
        let lat_deg = on.radial.centre.lat_deg(end.dt);
        self.log_b0[i] = on.fixed.inland.log_b0(end.dt, lat_deg);
        self.sigma[i] = on.fixed.sigma_db(receiver);
    }

    /// Slopes from the receiver to the last samples of the radial.
    #[inline(always)]
    pub(super) fn of_recent(&mut self, fixed: &Fixed, step_km: f64, count: usize) {
        let c = 500.0 / fixed.ae_km;
        let (dt, hrs, shared_km) = (&self.dt, &self.hrs, &self.shared_km);
        let mut slopes = [[0.0; BATCH]; WINDOW];
        for (best, folded) in [
            (&mut self.top_slope, &self.folded_top),
            (&mut self.bare_slope, &self.folded_ground),
        ] {
            for (back, (slopes, folded)) in slopes.iter_mut().zip(folded).enumerate() {
                each(
                    slopes,
                    count,
                    #[inline(always)]
                    |i| {
                        let g = hrs[i] - c * dt[i] * dt[i];
                        let d = shared_km[i] - back as f64 * step_km;
                        let d = if d > 0.5 * step_km { d } else { step_km };
                        (folded[i] - g) / (dt[i] - d)
                    },
                );
            }
            each(
                best,
                count,
                #[inline(always)]
                |i| {
                    let all = slopes.iter();
                    all.fold(f64::NEG_INFINITY, |best, slopes| greater(best, slopes[i]))
                },
            );
        }
        let best = &self.bare_slope;
        each(
            &mut self.steepest,
            count,
            #[inline(always)]
            |i| {
                let (mut at, mut ties) = (0.0, 0.0);
                for (back, slopes) in slopes.iter().enumerate() {
                    let is_steep = slopes[i] >= best[i] - TIE;
                    at = if is_steep { back as f64 } else { at };
                    ties += if is_steep { 1.0 } else { 0.0 };
                }
                if ties > 1.5 { WINDOW as f64 } else { at }
            },
        );
    }

    /// The steepest of the last samples of the radial of a lane.
    #[inline]
    pub(super) fn recent(&self, i: usize, last: usize) -> Recent {
        let back = self.steepest[i] as usize;
        Recent {
            slope: self.bare_slope[i],
            at: (back < WINDOW).then(|| last.saturating_sub(back).max(1)),
        }
    }

    /// Slopes of the direct ray, and the smooth surface, equations (85) to (88).
    #[inline(always)]
    pub(super) fn of_ends(&mut self, (fixed, hts, ground_t): (&Fixed, f64, f64), count: usize) {
        let ae = fixed.ae_km;
        let (dt, hrs, ground) = (&self.dt, &self.hrs, &self.ground);
        each(
            &mut self.direct,
            count,
            #[inline(always)]
            |i| (hrs[i] - hts) / (1e3 * dt[i]) - dt[i] / (2.0 * ae), // (78)
        );
        each(
            &mut self.back,
            count,
            #[inline(always)]
            |i| (hts - hrs[i]) / (1e3 * dt[i]) - dt[i] / (2.0 * ae), // (81)
        );
        let segment = (&self.last_km, dt, &self.last_amsl_m, ground);
        let sums = (&self.sum1, &self.sum2);
        each(
            &mut self.fitted_t,
            count,
            #[inline(always)]
            |i| {
                let [v1, v2] = with_last(sums, segment, i);
                (2.0 * v1 * dt[i] - v2) / (dt[i] * dt[i]) // (87)
            },
        );
        each(
            &mut self.fitted_r,
            count,
            #[inline(always)]
            |i| {
                let [v1, v2] = with_last(sums, segment, i);
                (v2 - v1 * dt[i]) / (dt[i] * dt[i]) // (88)
            },
        );
        let (fitted_t, fitted_r) = (&self.fitted_t, &self.fitted_r);
        each(
            &mut self.is_clear,
            count,
            #[inline(always)]
            |i| {
                let over_t = hts - lesser(fitted_t[i], ground_t);
                let over_r = hrs[i] - lesser(fitted_r[i], ground[i]);
                let least_m = lesser(over_t, over_r) - 125.0 * dt[i] * dt[i] / ae;
                let square = least_m * least_m;
                if (least_m > 0.0) & (square > 76.2 * dt[i] * fixed.lambda_m) {
                    1.0
                } else {
                    0.0
                }
            },
        );
    }

    /// What follows from where the horizons stand, equations (81) to (83).
    #[inline(always)]
    pub(super) fn of_horizons(&mut self, fixed: &Fixed, count: usize) {
        let ae = fixed.ae_km;
        let (dt, hrs, is_beyond) = (&self.dt, &self.hrs, &self.is_beyond);
        let (lr_km, lr_amsl_m, back) = (&self.lr_km, &self.lr_amsl_m, &self.back);
        each(
            &mut self.slope_r,
            count,
            #[inline(always)]
            |i| {
                let d = dt[i] - lr_km[i];
                let slope = (lr_amsl_m[i] - hrs[i]) / (1e3 * d) - d / (2.0 * ae);
                if is_beyond[i] > 0.5 { slope } else { back[i] }
            },
        );
        each(
            &mut self.dlr,
            count,
            #[inline(always)]
            |i| {
                if is_beyond[i] > 0.5 {
                    dt[i] - lr_km[i]
                } else {
                    dt[i]
                }
            },
        );
        let (dlt, dlr) = (&self.dlt, &self.dlr);
        each(
            &mut self.horizons,
            count,
            #[inline(always)]
            |i| {
                if is_beyond[i] > 0.5 {
                    dlt[i] + dlr[i]
                } else {
                    dt[i]
                }
            },
        );
    }

    /// The smooth surface of a lane.
    pub(super) fn surface(&self, i: usize, mast_ground_m: f64) -> Surface {
        Surface {
            fitted_t: self.fitted_t[i],
            fitted_r: self.fitted_r[i],
            ground_t: mast_ground_m,
            ground_r: self.ground[i],
        }
    }

    /// The horizons of a lane.
    pub(super) fn horizons(&self, i: usize) -> Horizons {
        Horizons {
            transhorizon: self.is_beyond[i] > 0.5,
            slope_t: self.slope_t[i],
            slope_r: self.slope_r[i],
            lt: self.lt[i] as usize,
            lr: self.lr[i] as usize,
        }
    }
}

type Segments<'a> = (&'a Lanes, &'a Lanes, &'a Lanes, &'a Lanes);

/// The sums of equations (85) and (86) with the segment to the receiver.
#[inline(always)]
fn with_last(sums: (&Lanes, &Lanes), (d0, d1, h0, h1): Segments<'_>, i: usize) -> [f64; 2] {
    let [v1, v2] = segment([d0[i], d1[i]], [h0[i], h1[i]]);
    [sums.0[i] + v1, sums.1[i] + v2]
}

#[inline(always)]
fn lesser(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}
