//! Troposcatter, spread over locations, result (sections 4.6 to 4.10).

use crate::inverse_normal::inverse_normal;
use crate::path_loss::Zone;
use crate::path_loss::clear_air::{Case, Joint, joint_db};

use super::Troposcatter;

/// The combined losses and the result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combination {
    /// Line of sight, diffraction and ducting joined.
    pub joint: Joint,
    /// With troposcatter: loss for the asked time and 50 % of locations, equation (63). \[dB\]
    pub lbc_db: f64,
    /// Correction for the asked percentage of locations, equation (69). \[dB\]
    pub lloc_db: f64,
    /// Basic transmission loss for the asked time and locations, equation (69). \[dB\]
    pub lb_db: f64,
    /// Field strength for 1 kW effective radiated power, equation (70). \[dB(µV/m)\]
    pub ep_dbuvm: f64,
}

impl Combination {
    pub(super) fn of(case: &Case<'_>, joint: Joint, lb0p_db: f64, scatter: &Troposcatter) -> Self {
        let lbc_db = joint_db(scatter.lbs_db, joint.lbam_db); // (63)
        // The sea has no clutter and so no spread over locations (section 4.8).
        let at_sea = case.input.profile.zone().last() == Some(&Zone::Sea);
        let sigma_db = if at_sea { 0.0 } else { case.input.sigma_loc_db };
        let lloc_db = -inverse_normal(case.input.location_pct / 100.0) * sigma_db;
        let lb_db = lb0p_db.max(lbc_db + lloc_db); // (69)
        let ep_dbuvm = 199.36 + 20.0 * case.input.f_ghz.log10() - lb_db; // (70)
        Self {
            joint,
            lbc_db,
            lloc_db,
            lb_db,
            ep_dbuvm,
        }
    }
}
