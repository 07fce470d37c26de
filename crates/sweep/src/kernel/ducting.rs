//! Ducting and layer reflection (section 4.5 of the Recommendation), and a
//! floor under it that mostly makes it needless.

use crate::fast::{decades, exp, power, ten_to};

use super::bare::Between;
use super::climate::Climate;

/// A path as the ducting model needs it.
#[derive(Debug, Clone, Copy)]
pub(super) struct DuctPath {
    pub(super) dt_km: f64,
    pub(super) theta_t_mrad: f64,
    pub(super) theta_r_mrad: f64,
    /// Antennas above sea level. \[m\]
    pub(super) hts: f64,
    pub(super) hrs: f64,
    /// Antennas above the smooth surface. \[m\]
    pub(super) hte: f64,
    pub(super) hre: f64,
}

/// What is the same for every path.
#[derive(Debug, Default)]
pub(super) struct Ducting {
    f_ghz: f64,
    root_f: f64,
    time_pct: f64,
    ae_km: f64,
    /// Equation (51). \[dB/mrad\]
    gamma_d: f64,
    /// Constant part of equation (47). \[dB\]
    fixed_db: f64,
    /// Least variability in time (53) of paths within a bin of distance. \[dB\]
    ap_floor_db: Vec<f64>,
}

/// Width of a bin of the floor. \[km\]
const BIN_KM: f64 = 0.5;

/// Taken off the floor: its search walks logarithms of β in steps. \[dB\]
const FLOOR_MARGIN_DB: f64 = 0.5;

impl Ducting {
    pub(super) fn new(f_ghz: f64, time_pct: f64, ae_km: f64) -> Self {
        let root_f = f_ghz.cbrt();
        let alf_db = if f_ghz < 0.5 {
            45.375 - 137.0 * f_ghz + 92.5 * f_ghz * f_ghz
        } else {
            0.0
        }; // (47a)
        Self {
            f_ghz,
            root_f,
            time_pct,
            ae_km,
            gamma_d: 5e-5 * ae_km * root_f, // (51)
            fixed_db: 102.45 + 20.0 * decades(f_ghz) + alf_db,
            ap_floor_db: Vec::new(),
        }
    }

    /// Prepares the floor for paths up to a length, where β0 is at most
    /// `b0_pct` of a distance.
    pub(super) fn prepare(&mut self, length_km: f64, most_b0_pct: impl Fn(f64) -> f64) {
        let bins = (length_km / BIN_KM).ceil().max(0.0) as usize + 1;
        let least = |bin: usize| {
            let (near, far) = (bin as f64 * BIN_KM, (bin + 1) as f64 * BIN_KM);
            let top = decades(most_b0_pct(near).max(most_b0_pct(far))) + 0.01;
            // β runs from its greatest down to 1e-300; the function is smooth,
            // and gentle where the steps are long.
            let logs = (0..200).map(|i| top - 0.02 * f64::from(i));
            let logs = logs.chain((0..300).map(|i| top - 4.0 - f64::from(i)));
            logs.map(|lb| self.ap_db(near, lb).min(self.ap_db(far, lb)))
                .fold(f64::INFINITY, f64::min)
        };
        let floor = (0..bins).map(|bin| least(bin) - FLOOR_MARGIN_DB);
        self.ap_floor_db = floor.collect();
    }

    /// Equations (53) and (53a).
    fn ap_db(&self, dt_km: f64, log_beta: f64) -> f64 {
        let lb = log_beta;
        let gamma = 1.076 / power(2.0058 - lb, 1.012)
            * exp(-(9.51 - 4.8 * lb + 0.198 * lb * lb) * 1e-6 * power(dt_km.max(1e-9), 1.13));
        let log_p = decades(self.time_pct) - lb;
        -12.0 + (1.2 + 3.7e-3 * dt_km) * log_p + 12.0 * ten_to(gamma * log_p)
    }

    /// A floor under the loss of a path beyond the horizon that is not mostly sea. \[dB\]
    #[inline]
    pub(super) fn floor_beyond_db(&self, path: &DuctPath, horizons: [f64; 2]) -> f64 {
        self.fixed_db
            + 20.0 * decades_floor(horizons[0] + horizons[1])
            + self.gamma_d * self.theta1(path, horizons)
            + self.ap_floor(path.dt_km)
    }

    /// A floor under the loss of a path in sight that is not mostly sea,
    /// wherever its point of least clearance is. \[dB\]
    ///
    /// Of an angle θ above the horizontal, equation (51) counts the part below
    /// 0.1·d with γ, and equation (48) the part above with 0.264·∛f: never less
    /// than θ with the lesser of the two.
    #[inline]
    pub(super) fn floor_in_sight_db(&self, path: &DuctPath) -> f64 {
        let least = self.least_per_mrad();
        20.0 * decades_floor(path.dt_km)
            + self.of_length_db(path.dt_km)
            + self.of_end_in_sight_db(path.theta_t_mrad, least)
            + self.of_end_in_sight_db(path.theta_r_mrad, least)
            + self.ap_floor(path.dt_km)
    }

    /// The lesser of what a positive angle costs below and above 0.1·d. \[dB/mrad\]
    #[inline(always)]
    pub(super) fn least_per_mrad(&self) -> f64 {
        self.gamma_d.min(0.264 * self.root_f)
    }

    /// What an angle costs at least, wherever its horizon is. \[dB\]
    #[inline(always)]
    pub(super) fn of_end_in_sight_db(&self, theta_mrad: f64, least: f64) -> f64 {
        theta_mrad
            * if theta_mrad > 0.0 {
                least
            } else {
                self.gamma_d
            }
    }

    /// The argument of the logarithm in equation (48).
    #[inline(always)]
    pub(super) fn shield(&self, over_mrad: f64, dl_km: f64) -> f64 {
        1.0 + 0.361 * over_mrad * (self.f_ghz * dl_km).sqrt()
    }

    /// What else equation (48) asks of an angle over 0.1·d. \[dB/mrad\]
    #[inline(always)]
    pub(super) fn per_mrad_over(&self) -> f64 {
        0.264 * self.root_f
    }

    /// Equation (51). \[dB/mrad\]
    #[inline(always)]
    pub(super) fn gamma_d(&self) -> f64 {
        self.gamma_d
    }

    /// What the length costs but for the horizons and time. \[dB\]
    #[inline(always)]
    pub(super) fn of_length_db(&self, dt_km: f64) -> f64 {
        self.fixed_db + self.gamma_d * 1e3 * dt_km / self.ae_km
    }

    /// A floor under the variability in time (53). \[dB\]
    #[inline]
    pub(super) fn ap_floor(&self, dt_km: f64) -> f64 {
        self.ap_floor_db[((dt_km / BIN_KM) as usize).min(self.ap_floor_db.len() - 1)]
    }

    /// Equation (52).
    #[inline]
    fn theta1(&self, path: &DuctPath, [dlt, dlr]: [f64; 2]) -> f64 {
        1e3 * path.dt_km / self.ae_km
            + path.theta_t_mrad.min(0.1 * dlt)
            + path.theta_r_mrad.min(0.1 * dlr)
    }

    /// Site shielding of both ends, equation (48). \[dB\]
    #[inline]
    pub(super) fn shielding_db(&self, path: &DuctPath, [dlt, dlr]: [f64; 2]) -> f64 {
        self.shielding_of_end_db(path.theta_t_mrad, dlt)
            + self.shielding_of_end_db(path.theta_r_mrad, dlr)
    }

    #[inline]
    fn shielding_of_end_db(&self, theta_mrad: f64, dl_km: f64) -> f64 {
        let theta2 = theta_mrad - 0.1 * dl_km; // (48a)
        if theta2 > 0.0 {
            20.0 * decades(1.0 + 0.361 * theta2 * (self.f_ghz * dl_km).sqrt())
                + 0.264 * theta2 * self.root_f
        } else {
            0.0
        }
    }

    /// Ducting and layer-reflection loss, equation (46). \[dB\]
    pub(super) fn loss_db(&self, path: &DuctPath, climate: &Climate, between: &Between) -> f64 {
        let (dt, dlt, dlr) = (path.dt_km, between.dlt_km, between.dlr_km);
        let af_db = self.fixed_db
            + 20.0 * decades(dlt + dlr)
            + self.shielding_db(path, [dlt, dlr])
            + sea_coupling_db(climate.dct_km, dlt, climate.omega, path.hts)
            + sea_coupling_db(climate.dcr_km, dlr, climate.omega, path.hrs); // (47)
        let alpha = (-0.6 - 3.5e-9 * power(dt, 3.1) * climate.tau).max(-3.4); // (55a)
        let roots = path.hte.max(0.0).sqrt() + path.hre.max(0.0).sqrt();
        let ratio = 500.0 * dt * dt / (self.ae_km * roots * roots);
        // Antennas on the surface make the ratio infinite, and its power 0.
        let mu2 = if ratio < 1e300 {
            power(ratio, alpha).min(1.0) // (55)
        } else {
            0.0
        };
        let mu3 = roughness_factor(between.hm_m, dt - dlt - dlr);
        let beta_pct = (climate.b0_pct * mu2 * mu3).max(1e-300); // (54)
        af_db + self.gamma_d * self.theta1(path, [dlt, dlr]) + self.ap_db(dt, decades(beta_pct)) // (46), (50)
    }
}

/// At most the decimal logarithm of a positive number, by up to 0.026: the
/// binary logarithm of the mantissa lies above its chord.
#[inline]
fn decades_floor(x: f64) -> f64 {
    const PER_OCTAVE: f64 = 1.0 / std::f64::consts::LOG2_10;
    let bits = x.to_bits() as f64 * (1.0 / (1_u64 << 52) as f64);
    (bits - 1023.0) * PER_OCTAVE - 1e-9
}

/// Equation (49).
fn sea_coupling_db(coast_km: f64, dl_km: f64, omega: f64, antenna_amsl_m: f64) -> f64 {
    if omega >= 0.75 && coast_km <= dl_km && coast_km <= 5.0 {
        -3.0 * exp(-0.25 * coast_km * coast_km) * (1.0 + (0.07 * (50.0 - antenna_amsl_m)).tanh())
    } else {
        0.0
    }
}

/// Equation (56).
fn roughness_factor(hm_m: f64, apart_km: f64) -> f64 {
    if hm_m <= 10.0 {
        return 1.0;
    }
    let di_km = apart_km.min(40.0); // (56a)
    exp(-4.6e-5 * (hm_m - 10.0) * (43.0 + 6.0 * di_km))
}
