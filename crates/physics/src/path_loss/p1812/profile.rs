//! The bare profile: horizons, smooth surface, roughness (Attachment 1).

use super::Case;
use super::climate::Climate;
use crate::lanes::{LANES, Lane, NONE, each, for_blocks, greatest, raise};
use crate::terrain::{LeastSquares, Obstruction};

/// Horizons of the two antennas over bare ground with the median Earth radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Horizons {
    /// True when ground stands above the ray.
    pub transhorizon: bool,
    /// Elevation of the transmitter's horizon, equation (79). \[mrad\]
    pub theta_t_mrad: f64,
    /// Elevation of the receiver's horizon, equation (81) or (82). \[mrad\]
    pub theta_r_mrad: f64,
    /// Angular distance, equation (84). \[mrad\]
    pub theta_mrad: f64,
    /// Distance to the transmitter's horizon, equation (80). \[km\]
    pub dlt_km: f64,
    /// Distance to the receiver's horizon, equation (83). \[km\]
    pub dlr_km: f64,
    /// Profile point of the transmitter's horizon, from 0.
    pub lt_index: usize,
    /// Profile point of the receiver's horizon, from 0.
    pub lr_index: usize,
}

impl Horizons {
    pub(super) fn of(case: &Case<'_>, climate: &Climate) -> Self {
        let bare = Bare::new(case, climate);
        let scan = bare.scan();
        let theta_td = mrad((bare.hrs - bare.hts) / (1e3 * bare.dt) - bare.dt / (2.0 * bare.ae)); // (78)
        let lt = bare.pick(scan.tx_block, First, |i| bare.slope_t(i));
        let theta_max = mrad(bare.slope_t(lt)); // (76), (77)
        let transhorizon = theta_max > theta_td;
        let theta_t = theta_max.max(theta_td); // (79)
        let (lt, lr, theta_r) = if transhorizon {
            let lr = bare.pick(scan.rx_block, Last, |i| bare.slope_r(i)); // (83)
            (lt, lr, mrad(bare.slope_r(lr))) // (80), (82)
        } else {
            let m = bare.pick(bare.least_clearance_block(), Last, |i| bare.nu_key(i));
            let theta_r = (bare.hts - bare.hrs) / (1e3 * bare.dt) - bare.dt / (2.0 * bare.ae);
            (m, m, mrad(theta_r)) // (81)
        };
        Self {
            transhorizon,
            theta_t_mrad: theta_t,
            theta_r_mrad: theta_r,
            theta_mrad: 1e3 * bare.dt / bare.ae + theta_t + theta_r, // (84)
            dlt_km: bare.d[lt],
            dlr_km: bare.dt - bare.d[lr],
            lt_index: lt + 1,
            lr_index: lr + 1,
        }
    }
}

fn mrad(slope: f64) -> f64 {
    1e3 * slope.atan()
}

/// Which of several equal points counts.
#[derive(Clone, Copy, PartialEq)]
enum Tie {
    First,
    Last,
}
use Tie::{First, Last};

/// Interior points of the bare profile; index 0 is profile point 1.
struct Bare<'a> {
    d: &'a [f64],
    h: &'a [f64],
    dt: f64,
    hts: f64,
    hrs: f64,
    ae: f64,
}

/// Blocks of points in which the steepest slopes from either end lie.
struct Blocks {
    tx_block: usize,
    rx_block: usize,
}

impl<'a> Bare<'a> {
    fn new(case: &Case<'a>, climate: &Climate) -> Self {
        let profile = &case.input.profile;
        let inner = |s: &'a [f64]| &s[1..s.len() - 1];
        Self {
            d: inner(profile.d_km()),
            h: inner(profile.h_m()),
            dt: case.dt,
            hts: case.hts,
            hrs: case.hrs,
            ae: climate.ae_km,
        }
    }

    /// Tangent of the elevation angle from the transmitter, equation (77).
    fn slope_t(&self, i: usize) -> f64 {
        (self.h[i] - self.hts) / (1e3 * self.d[i]) - self.d[i] / (2.0 * self.ae)
    }

    /// Tangent of the elevation angle from the receiver, equation (82a).
    fn slope_r(&self, i: usize) -> f64 {
        let d = self.dt - self.d[i];
        (self.h[i] - self.hrs) / (1e3 * d) - d / (2.0 * self.ae)
    }

    /// Signed square of ν without its constant factor; ordered as ν is.
    fn nu_key(&self, i: usize) -> f64 {
        let (d, e) = (self.d[i], self.dt - self.d[i]);
        let y = self.h[i] + 500.0 * d * e / self.ae - (self.hts * e + self.hrs * d) / self.dt;
        y * y.abs() / (d * e)
    }

    /// Angles are compared by their tangents, so no arc tangent per point.
    fn scan(&self) -> Blocks {
        let half_bend = 500.0 / self.ae;
        let (mut best_t, mut best_r) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let mut blocks = Blocks {
            tx_block: 0,
            rx_block: 0,
        };
        for_blocks([self.d, self.h], |block, [d, h]| {
            let from_t = each(|l| (h[l] - self.hts) / d[l] - half_bend * d[l]);
            let from_r =
                each(|l| (h[l] - self.hrs) / (self.dt - d[l]) - half_bend * (self.dt - d[l]));
            let (t, r) = (greatest4(from_t), greatest4(from_r));
            if t > best_t {
                (best_t, blocks.tx_block) = (t, block);
            }
            if r >= best_r {
                (best_r, blocks.rx_block) = (r, block);
            }
        });
        blocks
    }

    /// Block of the point with the least clearance in Fresnel zones.
    fn least_clearance_block(&self) -> usize {
        let (w1, w2, c) = (self.hts / self.dt, self.hrs / self.dt, 500.0 / self.ae);
        let (mut best, mut at) = (f64::NEG_INFINITY, 0);
        for_blocks([self.d, self.h], |block, [d, h]| {
            let key = greatest4(each(|l| {
                let e = self.dt - d[l];
                let dd = d[l] * e;
                let y = h[l] + c * dd - (w1 * e + w2 * d[l]);
                y * y.abs() / dd
            }));
            if key >= best {
                (best, at) = (key, block);
            }
        });
        at
    }

    /// The point of a block where `value` is greatest.
    fn pick(&self, block: usize, tie: Tie, value: impl Fn(usize) -> f64) -> usize {
        let last = self.d.len() - 1;
        let start = (block * LANES).min(last);
        let end = (start + LANES - 1).min(last);
        let mut at = start;
        for i in start + 1..=end {
            let (new, old) = (value(i), value(at));
            if new > old || (tie == Last && new >= old) {
                at = i;
            }
        }
        at
    }
}

/// Greatest of four, in two steps.
#[inline(always)]
fn greatest4(v: Lane) -> f64 {
    let pair = |a: f64, b: f64| if a > b { a } else { b };
    pair(pair(v[0], v[1]), pair(v[2], v[3]))
}

/// The smooth surface and the antenna heights over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmoothEarth {
    /// Least-squares surface at the transmitter, equation (87). \[m amsl\]
    pub hst_n_m: f64,
    /// Least-squares surface at the receiver, equation (88). \[m amsl\]
    pub hsr_n_m: f64,
    /// Greatest height of ground above the straight line, equation (89a). \[m\]
    pub hobs_m: f64,
    /// Surface at the transmitter for diffraction, equation (91a). \[m amsl\]
    pub hstd_m: f64,
    /// Surface at the receiver for diffraction, equation (91b). \[m amsl\]
    pub hsrd_m: f64,
    /// Surface at the transmitter for ducting, equation (92a). \[m amsl\]
    pub hst_m: f64,
    /// Surface at the receiver for ducting, equation (92b). \[m amsl\]
    pub hsr_m: f64,
    /// Transmitting antenna above the surface, equation (94a). \[m\]
    pub hte_m: f64,
    /// Receiving antenna above the surface, equation (94b). \[m\]
    pub hre_m: f64,
    /// Terrain roughness between the horizons, equation (95). \[m\]
    pub hm_m: f64,
}

impl SmoothEarth {
    pub(super) fn of(case: &Case<'_>, horizons: &Horizons) -> Self {
        let (d, h) = (case.input.profile.d_km(), case.input.profile.h_m());
        let fit = LeastSquares::of(d, h);
        let over = Obstruction::of(d, h, case.hts, case.hrs);
        let (hstd_m, hsrd_m) = fit.for_diffraction(&over, h);
        let hst = fit.hst_m.min(h[0]); // (92a)
        let hsr = fit.hsr_m.min(h[h.len() - 1]); // (92b)
        let m = (hsr - hst) / case.dt; // (93)
        // A profile so short that the horizons cross leaves one point.
        let between =
            horizons.lt_index.min(horizons.lr_index)..=horizons.lr_index.max(horizons.lt_index);
        let mut rough = NONE;
        for_blocks([&d[between.clone()], &h[between]], |_, [d, h]| {
            raise(&mut rough, each(|l| h[l] - (hst + m * d[l])));
        });
        Self {
            hst_n_m: fit.hst_m,
            hsr_n_m: fit.hsr_m,
            hobs_m: over.hobs_m,
            hstd_m,
            hsrd_m,
            hst_m: hst,
            hsr_m: hsr,
            hte_m: case.hts - hst,  // (94a)
            hre_m: case.hrs - hsr,  // (94b)
            hm_m: greatest(&rough), // (95)
        }
    }
}
