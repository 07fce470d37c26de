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
    /// Steepest line from the transmitter to the ground with the Earth's bulge. \[m/km\]
    pub stim_m_per_km: f64,
    /// Line from the transmitter to the receiver. \[m/km\]
    pub str_m_per_km: f64,
    /// Profile point of the transmitter's horizon, from 0.
    pub lt_index: usize,
    /// Profile point of the receiver's horizon, from 0.
    pub lr_index: usize,
}

impl Horizons {
    /// The horizons, and how bare ground stands to the straight line between the antennas.
    // Inside its caller the compiler makes slower loops of the walks (4 % of a path).
    #[inline(never)]
    pub(crate) fn of(case: &Case<'_>, climate: &Climate) -> (Self, Obstruction) {
        let bare = Bare::new(case, climate);
        let theta_td = mrad((bare.hrs - bare.hts) / (1e3 * bare.dt) - bare.dt / (2.0 * bare.ae)); // (78)
        let from_tx = bare.scan_from_tx();
        let lt = bare.pick(from_tx.block, First, |i| bare.slope_t(i));
        let steepest = bare.slope_t(lt);
        let theta_max = mrad(steepest); // (76), (77)
        let transhorizon = theta_max > theta_td;
        let theta_t = theta_max.max(theta_td); // (79)
        let (lt, lr, theta_r, from_rx) = if transhorizon {
            let from_rx = bare.scan_from_rx();
            let lr = bare.pick(from_rx.block, Last, |i| bare.slope_r(i)); // (83)
            (lt, lr, mrad(bare.slope_r(lr)), from_rx) // (80), (82)
        } else {
            let clearance = bare.scan_clearance();
            let m = bare.pick(clearance.block, Last, |i| bare.nu_key(i));
            let theta_r = (bare.hts - bare.hrs) / (1e3 * bare.dt) - bare.dt / (2.0 * bare.ae);
            (m, m, mrad(theta_r), clearance) // (81)
        };
        // Height over the line divided by the distance to an end is the slope
        // from that end less the slope of the line.
        let line_m_per_km = (bare.hrs - bare.hts) / bare.dt;
        let over = Obstruction {
            hobs_m: from_rx.top_m,
            aobt_m_per_km: from_tx.steepest_m_per_km - line_m_per_km,
            aobr_m_per_km: from_rx.steepest_m_per_km + line_m_per_km,
        };
        let horizons = Self {
            transhorizon,
            theta_t_mrad: theta_t,
            theta_r_mrad: theta_r,
            theta_mrad: 1e3 * bare.dt / bare.ae + theta_t + theta_r, // (84)
            dlt_km: bare.d[lt],
            dlr_km: bare.dt - bare.d[lr],
            stim_m_per_km: 1e3 * steepest + 500.0 * bare.dt / bare.ae,
            str_m_per_km: line_m_per_km,
            lt_index: lt + 1,
            lr_index: lr + 1,
        };
        (horizons, over)
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

/// What one walk along the points finds.
struct Found {
    /// Block of points in which the sought one lies.
    block: usize,
    /// Steepest straight slope from the end in question; unset where not sought.
    steepest_m_per_km: f64,
    /// Greatest height above the straight line between the antennas.
    top_m: f64,
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

    /// Seeks the transmitter's horizon. Angles are compared by their tangents,
    /// so there is no arc tangent per point.
    fn scan_from_tx(&self) -> Found {
        let half_bend = 500.0 / self.ae;
        let (mut best, mut block, mut steepest) = (f64::NEG_INFINITY, 0, NONE);
        for_blocks([self.d, self.h], |at, [d, h]| {
            let slope = each(|l| (h[l] - self.hts) / d[l]);
            raise(&mut steepest, slope);
            let t = greatest4(each(|l| slope[l] - half_bend * d[l]));
            if t > best {
                (best, block) = (t, at);
            }
        });
        Found {
            block,
            steepest_m_per_km: greatest(&steepest),
            top_m: f64::NEG_INFINITY,
        }
    }

    /// Seeks the receiver's horizon, and the top of the ground (89d).
    fn scan_from_rx(&self) -> Found {
        let half_bend = 500.0 / self.ae;
        let line = (self.hrs - self.hts) / self.dt;
        let (mut best, mut block, mut steepest, mut top) = (f64::NEG_INFINITY, 0, NONE, NONE);
        for_blocks([self.d, self.h], |at, [d, h]| {
            let slope = each(|l| (h[l] - self.hrs) / (self.dt - d[l]));
            raise(&mut steepest, slope);
            raise(&mut top, each(|l| h[l] - (self.hts + line * d[l])));
            let r = greatest4(each(|l| slope[l] - half_bend * (self.dt - d[l])));
            if r >= best {
                (best, block) = (r, at);
            }
        });
        Found {
            block,
            steepest_m_per_km: greatest(&steepest),
            top_m: greatest(&top),
        }
    }

    /// Seeks the least clearance in Fresnel zones. In line of sight all ground
    /// lies below the straight line, so no slope is needed.
    fn scan_clearance(&self) -> Found {
        let (line, c) = ((self.hrs - self.hts) / self.dt, 500.0 / self.ae);
        let (mut best, mut block, mut top) = (f64::NEG_INFINITY, 0, NONE);
        for_blocks([self.d, self.h], |at, [d, h]| {
            let dd = each(|l| d[l] * (self.dt - d[l]));
            let above = each(|l| h[l] - (self.hts + line * d[l]));
            raise(&mut top, above);
            let key = greatest4(each(|l| {
                let y = above[l] + c * dd[l];
                y * y.abs() / dd[l]
            }));
            if key >= best {
                (best, block) = (key, at);
            }
        });
        Found {
            block,
            steepest_m_per_km: f64::NEG_INFINITY,
            top_m: greatest(&top),
        }
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
    pub(crate) fn of(case: &Case<'_>, horizons: &Horizons, over: &Obstruction) -> Self {
        let (d, h) = (case.input.profile.d_km(), case.input.profile.h_m());
        let fit = LeastSquares::of(d, h);
        let (hstd_m, hsrd_m) = fit.for_diffraction(over, h);
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
