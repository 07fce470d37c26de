//! Joining the mechanisms, spread over locations, result (sections 4.6 to 4.10).

use std::f64::consts::{LN_10, LOG10_E};

use super::Case;
use super::climate::Climate;
use super::losses::{Diffraction, Ducting, LineOfSight, Troposcatter};
use super::profile::Horizons;
use crate::inverse_normal::inverse_normal;
use crate::path_loss::Zone;

/// The combined losses and the result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combination {
    /// Interpolation by angular distance, equation (57).
    pub fj: f64,
    /// Interpolation by distance, equation (58).
    pub fk: f64,
    /// Notional least loss of line of sight and diffraction, equation (59). \[dB\]
    pub lminb0p_db: f64,
    /// Notional least loss of line of sight and ducting, equation (60). \[dB\]
    pub lminbap_db: f64,
    /// Diffraction and ducting joined, equation (61). \[dB\]
    pub lbda_db: f64,
    /// With line of sight, equation (62). \[dB\]
    pub lbam_db: f64,
    /// With troposcatter: loss for the asked time and 50 % of locations, equation (63). \[dB\]
    pub lbc_db: f64,
    /// Correction for the asked percentage of locations, equation (69). \[dB\]
    pub lloc_db: f64,
    /// Basic transmission loss for the asked time and locations, equation (69). \[dB\]
    pub lb_db: f64,
    /// Field strength for 1 kW effective radiated power, equation (70). \[dB(µV/m)\]
    pub ep_dbuvm: f64,
}

/// The mechanisms to be joined.
pub(super) struct Parts<'a> {
    pub(super) los: &'a LineOfSight,
    pub(super) diff: &'a Diffraction,
    pub(super) scatter: &'a Troposcatter,
    pub(super) duct: &'a Ducting,
}

impl Combination {
    pub(super) fn of(
        case: &Case<'_>,
        climate: &Climate,
        horizons: &Horizons,
        parts: &Parts<'_>,
    ) -> Self {
        let Parts {
            los,
            diff,
            scatter,
            duct,
        } = *parts;
        let fj = 1.0 - 0.5 * (1.0 + (2.4 * (horizons.theta_mrad - 0.3) / 0.3).tanh()); // (57)
        let fk = 1.0 - 0.5 * (1.0 + (1.5 * (case.dt - 20.0) / 20.0).tanh()); // (58)
        let over_land_db = (1.0 - climate.omega) * diff.ldp_db;
        let lminb0p_db = if case.input.time_pct < climate.b0_pct {
            los.lb0p_db + over_land_db
        } else {
            diff.lbd50_db + (los.lb0b_db + over_land_db - diff.lbd50_db) * diff.fi
        }; // (59)
        let lminbap_db = soft_maximum(duct.lba_db, los.lb0p_db); // (60)
        let lbda_db = if lminbap_db > diff.lbd_db {
            diff.lbd_db
        } else {
            lminbap_db + (diff.lbd_db - lminbap_db) * fk
        }; // (61)
        let lbam_db = lbda_db + (lminb0p_db - lbda_db) * fj; // (62)
        let lbc_db = joint_db(scatter.lbs_db, lbam_db); // (63)
        // The sea has no clutter and so no spread over locations (section 4.8).
        let at_sea = case.input.profile.zone().last() == Some(&Zone::Sea);
        let sigma_db = if at_sea { 0.0 } else { case.input.sigma_loc_db };
        let lloc_db = -inverse_normal(case.input.location_pct / 100.0) * sigma_db;
        let lb_db = los.lb0p_db.max(lbc_db + lloc_db); // (69)
        let ep_dbuvm = 199.36 + 20.0 * case.input.f_ghz.log10() - lb_db; // (70)
        Self {
            fj,
            fk,
            lminb0p_db,
            lminbap_db,
            lbda_db,
            lbam_db,
            lbc_db,
            lloc_db,
            lb_db,
            ep_dbuvm,
        }
    }
}

/// `2.5·ln(e^(a/2.5) + e^(b/2.5))`, written so that it cannot overflow.
fn soft_maximum(a_db: f64, b_db: f64) -> f64 {
    a_db.max(b_db) + 2.5 * (-(a_db - b_db).abs() / 2.5).exp().ln_1p()
}

/// `−5·log10(10^(−0.2·a) + 10^(−0.2·b))`, written so that it cannot underflow.
fn joint_db(a_db: f64, b_db: f64) -> f64 {
    a_db.min(b_db) - 5.0 * LOG10_E * (-0.2 * LN_10 * (a_db - b_db).abs()).exp().ln_1p()
}
