//! Joining line of sight, diffraction and ducting.

use std::f64::consts::{LN_10, LOG10_E};

use super::losses::{Diffraction, Ducting, LineOfSight};
use super::{Case, PathAnalysis};

/// The mechanisms over the ground joined; troposcatter comes after.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joint {
    /// Interpolation between line of sight and the rest; each model has its own.
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
}

/// The mechanisms to be joined.
pub(crate) struct Mechanisms<'a> {
    pub(crate) los: &'a LineOfSight,
    pub(crate) diff: &'a Diffraction,
    pub(crate) duct: &'a Ducting,
}

impl Joint {
    pub(crate) fn of(
        case: &Case<'_>,
        path: &PathAnalysis,
        fj: f64,
        mechanisms: &Mechanisms<'_>,
    ) -> Self {
        let Mechanisms { los, diff, duct } = *mechanisms;
        let climate = &path.climate;
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
        Self {
            fj,
            fk,
            lminb0p_db,
            lminbap_db,
            lbda_db,
            lbam_db,
        }
    }
}

/// `2.5·ln(e^(a/2.5) + e^(b/2.5))`, written so that it cannot overflow.
fn soft_maximum(a_db: f64, b_db: f64) -> f64 {
    a_db.max(b_db) + 2.5 * (-(a_db - b_db).abs() / 2.5).exp().ln_1p()
}

/// `−5·log10(10^(−0.2·a) + 10^(−0.2·b))`, written so that it cannot underflow.
pub(crate) fn joint_db(a_db: f64, b_db: f64) -> f64 {
    a_db.min(b_db) - 5.0 * LOG10_E * (-0.2 * LN_10 * (a_db - b_db).abs()).exp().ln_1p()
}
