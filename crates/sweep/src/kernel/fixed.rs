//! What does not change between the radials of a sweep.

use physics::inverse_normal::inverse_normal;
use physics::path_loss::p1812;
use physics::refractivity::{EARTH_RADIUS_KM, effective_radius_km};

use super::Path;
use super::climate::InlandTable;
use super::ducting::Ducting;
use super::end::End;
use crate::Conditions;
use crate::fast::{decades, ten_to};
use crate::radial::Receiver;

/// What does not change between radials.
#[derive(Debug)]
pub(super) struct Fixed {
    pub(super) conditions: Conditions,
    pub(super) f_ghz: f64,
    pub(super) lambda_m: f64,
    pub(super) ae_km: f64,
    pub(super) abeta_km: f64,
    pub(super) ducting: Ducting,
    pub(super) inland: InlandTable,
    /// 92.4 and the carrier's part of equation (8). \[dB\]
    pub(super) free_space_db: f64,
    /// Constant part of equation (44). \[dB\]
    pub(super) scatter_db: f64,
    /// I(p) of equation (40).
    pub(super) deviation: f64,
    /// I(50 %), not quite 0.
    pub(super) median_deviation: f64,
    /// Standard deviation over locations at clutter height. \[dB\]
    pub(super) spread_db: f64,
}

impl Fixed {
    pub(super) fn new(conditions: &Conditions, length_km: f64, least_lat_deg: f64) -> Self {
        let f_ghz = conditions.f_ghz();
        let time_pct = conditions.time_pct;
        let ae_km = effective_radius_km(conditions.refractivity_lapse_n_per_km);
        let inland = InlandTable::up_to(length_km);
        let mut ducting = Ducting::new(f_ghz, time_pct, ae_km);
        ducting.prepare(length_km, |d| ten_to(inland.log_b0(d, least_lat_deg)));
        let log_half_f = decades(0.5 * f_ghz);
        let lf_db = 25.0 * decades(f_ghz) - 2.5 * log_half_f * log_half_f; // (45)
        let rarity = decades(50.0 / time_pct).max(0.0);
        let n0 = conditions.surface_refractivity_n;
        let area_m = conditions.location_area_m;
        Self {
            conditions: *conditions,
            f_ghz,
            lambda_m: p1812::wavelength_m(f_ghz),
            ae_km,
            abeta_km: 3.0 * EARTH_RADIUS_KM,
            ducting,
            inland,
            free_space_db: 92.4 + 20.0 * decades(f_ghz),
            scatter_db: 190.1 + lf_db - 0.15 * n0 - 10.125 * rarity.powf(0.7),
            deviation: inverse_normal(time_pct / 100.0),
            median_deviation: inverse_normal(0.5),
            spread_db: physics::clutter::location_sigma_db(f_ghz, area_m),
        }
    }

    /// The smaller of the two effective radii. \[km\]
    pub(super) fn roundest_km(&self) -> f64 {
        self.ae_km.min(self.abeta_km)
    }

    /// Equations (8) and (8a). \[dB\]
    #[inline]
    pub(super) fn free_space_loss_db(&self, end: &End<'_>, hts: f64) -> f64 {
        let rise_km = (hts - end.hrs) / 1e3;
        self.free_space_db + 10.0 * decades(end.dt * end.dt + rise_km * rise_km)
    }

    #[inline]
    pub(super) fn theta_mrad(&self, path: &Path<'_>) -> f64 {
        1e3 * path.end.dt / self.ae_km + path.theta_t_mrad + path.theta_r_mrad
    }

    /// Standard deviation over locations like a receiver's; the sea has none. \[dB\]
    #[inline]
    pub(super) fn sigma_db(&self, receiver: &Receiver) -> f64 {
        if receiver.zone == physics::path_loss::Zone::Sea {
            return 0.0;
        }
        let antenna_m = self.conditions.receiver_agl_m;
        let factor = physics::clutter::location_height_factor(antenna_m, receiver.clutter_m);
        self.spread_db * factor
    }

    /// Equation (69), 50 % of locations. \[dB\]
    #[inline]
    pub(super) fn over_locations_db(&self, receiver: &Receiver, lb0p_db: f64, lbc_db: f64) -> f64 {
        let sigma_db = self.sigma_db(receiver);
        lb0p_db.max(lbc_db - self.median_deviation * sigma_db)
    }
}
