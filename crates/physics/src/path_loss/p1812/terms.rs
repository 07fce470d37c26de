//! Every quantity of one computation, and the list of them for a person.

use super::climate::Climate;
use super::combination::Combination;
use super::losses::{Diffraction, Ducting, LineOfSight, Troposcatter};
use super::profile::{Horizons, SmoothEarth};
use crate::path_loss::Term;

/// Every intermediate quantity of the Recommendation, in its order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// Path length. \[km\]
    pub d_km: f64,
    /// Latitude of the path centre. \[deg\]
    pub path_centre_lat_deg: f64,
    /// Wavelength. \[m\]
    pub lambda_m: f64,
    /// Transmitting antenna above mean sea level. \[m\]
    pub hts_m: f64,
    /// Receiving antenna above mean sea level. \[m\]
    pub hrs_m: f64,
    /// Zones, Earth radii, ducting incidence.
    pub climate: Climate,
    /// Horizons over bare ground.
    pub horizons: Horizons,
    /// Smooth surface and effective antenna heights.
    pub smooth_earth: SmoothEarth,
    /// Free space, multipath and focusing.
    pub line_of_sight: LineOfSight,
    /// Diffraction.
    pub diffraction: Diffraction,
    /// Troposcatter.
    pub troposcatter: Troposcatter,
    /// Ducting and layer reflection.
    pub ducting: Ducting,
    /// Combination and result.
    pub combination: Combination,
}

/// Builds the list: name, value, unit, meaning.
macro_rules! terms {
    ($(($name:literal, $value:expr, $unit:literal, $meaning:literal)),* $(,)?) => {
        vec![$(Term { name: $name, meaning: $meaning, value: $value, unit: $unit }),*]
    };
}

impl Terms {
    /// Every term with the column name of the reference data, in the order of
    /// the computation.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        let mut all = self.list_path();
        all.extend(self.list_profile());
        all.extend(self.list_diffraction());
        all.extend(self.list_ducting());
        all.extend(self.list_combination());
        all
    }

    fn list_path(&self) -> Vec<Term> {
        let c = &self.climate;
        terms![
            ("d_km", self.d_km, "km", "path length"),
            (
                "phi_path_deg",
                self.path_centre_lat_deg,
                "deg",
                "latitude of the path centre"
            ),
            ("lambda_m", self.lambda_m, "m", "wavelength"),
            ("ae_km", c.ae_km, "km", "median effective Earth radius"),
            (
                "abeta_km",
                c.abeta_km,
                "km",
                "effective Earth radius exceeded for b0 of the time"
            ),
            ("omega", c.omega, "", "fraction of the path over sea"),
            ("dtm_km", c.dtm_km, "km", "longest section over land"),
            ("dlm_km", c.dlm_km, "km", "longest section inland"),
            ("tau", c.tau, "", "inland parameter"),
            ("mu1", c.mu1, "", "ducting factor of the land sections"),
            ("mu4", c.mu4, "", "ducting factor of latitude"),
            ("b0_pct", c.b0_pct, "%", "time with ducting at a point"),
            ("dct_km", c.dct_km, "km", "transmitter to coast over land"),
            ("dcr_km", c.dcr_km, "km", "receiver to coast over land"),
            (
                "hts_m",
                self.hts_m,
                "m",
                "transmitting antenna above sea level"
            ),
            (
                "hrs_m",
                self.hrs_m,
                "m",
                "receiving antenna above sea level"
            ),
        ]
    }

    fn list_profile(&self) -> Vec<Term> {
        let (h, s) = (&self.horizons, &self.smooth_earth);
        terms![
            (
                "transhorizon",
                f64::from(u8::from(h.transhorizon)),
                "",
                "1 when ground stands above the ray"
            ),
            ("dlt_km", h.dlt_km, "km", "transmitter to its horizon"),
            ("dlr_km", h.dlr_km, "km", "receiver to its horizon"),
            (
                "theta_t_mrad",
                h.theta_t_mrad,
                "mrad",
                "horizon elevation at the transmitter"
            ),
            (
                "theta_r_mrad",
                h.theta_r_mrad,
                "mrad",
                "horizon elevation at the receiver"
            ),
            ("theta_mrad", h.theta_mrad, "mrad", "angular distance"),
            (
                "hst_n_m",
                s.hst_n_m,
                "m",
                "fitted surface at the transmitter"
            ),
            ("hsr_n_m", s.hsr_n_m, "m", "fitted surface at the receiver"),
            (
                "hobs_m",
                s.hobs_m,
                "m",
                "greatest height of ground above the straight line"
            ),
            ("hst_m", s.hst_m, "m", "surface at the transmitter, ducting"),
            ("hsr_m", s.hsr_m, "m", "surface at the receiver, ducting"),
            (
                "hstd_m",
                s.hstd_m,
                "m",
                "surface at the transmitter, diffraction"
            ),
            (
                "hsrd_m",
                s.hsrd_m,
                "m",
                "surface at the receiver, diffraction"
            ),
            (
                "hte_m",
                s.hte_m,
                "m",
                "transmitting antenna above the surface"
            ),
            ("hre_m", s.hre_m, "m", "receiving antenna above the surface"),
            ("hm_m", s.hm_m, "m", "terrain roughness"),
        ]
    }

    fn list_diffraction(&self) -> Vec<Term> {
        let (l, d) = (&self.line_of_sight, &self.diffraction);
        let (m, b) = (&d.median, &d.beta);
        terms![
            ("dfs_km", l.dfs_km, "km", "slant distance"),
            ("lbfs_db", l.lbfs_db, "dB", "free-space loss"),
            (
                "esp_db",
                l.esp_db,
                "dB",
                "multipath and focusing, time asked"
            ),
            (
                "esb_db",
                l.esb_db,
                "dB",
                "multipath and focusing, b0 of the time"
            ),
            ("lb0p_db", l.lb0p_db, "dB", "line-of-sight loss, time asked"),
            (
                "lb0b_db",
                l.lb0b_db,
                "dB",
                "line-of-sight loss, b0 of the time"
            ),
            (
                "lbulla50_db",
                m.lbulla_db,
                "dB",
                "Bullington loss, actual profile, median radius"
            ),
            (
                "lbulls50_db",
                m.lbulls_db,
                "dB",
                "Bullington loss, smooth profile, median radius"
            ),
            (
                "ldsph50_db",
                m.ldsph_db,
                "dB",
                "spherical-Earth loss, median radius"
            ),
            ("ld50_db", m.ld_db, "dB", "diffraction loss, median radius"),
            (
                "lbullab_db",
                b.lbulla_db,
                "dB",
                "Bullington loss, actual profile, b0 radius"
            ),
            (
                "lbullsb_db",
                b.lbulls_db,
                "dB",
                "Bullington loss, smooth profile, b0 radius"
            ),
            (
                "ldsphb_db",
                b.ldsph_db,
                "dB",
                "spherical-Earth loss, b0 radius"
            ),
            ("ldb_db", b.ld_db, "dB", "diffraction loss, b0 radius"),
            ("fi", d.fi, "", "interpolation between the two radii"),
            ("ldp_db", d.ldp_db, "dB", "diffraction loss, time asked"),
            (
                "lbd50_db",
                d.lbd50_db,
                "dB",
                "free space and diffraction, median"
            ),
            (
                "lbd_db",
                d.lbd_db,
                "dB",
                "free space and diffraction, time asked"
            ),
        ]
    }

    fn list_ducting(&self) -> Vec<Term> {
        let (t, u) = (&self.troposcatter, &self.ducting);
        terms![
            ("lf_db", t.lf_db, "dB", "troposcatter, part of frequency"),
            ("lbs_db", t.lbs_db, "dB", "troposcatter loss"),
            (
                "alf_db",
                u.alf_db,
                "dB",
                "ducting, correction below 0.5 GHz"
            ),
            (
                "ast_db",
                u.ast_db,
                "dB",
                "ducting, shielding at the transmitter"
            ),
            (
                "asr_db",
                u.asr_db,
                "dB",
                "ducting, shielding at the receiver"
            ),
            (
                "act_db",
                u.act_db,
                "dB",
                "ducting, sea coupling at the transmitter"
            ),
            (
                "acr_db",
                u.acr_db,
                "dB",
                "ducting, sea coupling at the receiver"
            ),
            ("af_db", u.af_db, "dB", "ducting, coupling losses together"),
            (
                "gamma_d_db_per_mrad",
                u.gamma_d_db_per_mrad,
                "dB/mrad",
                "ducting, specific attenuation"
            ),
            (
                "theta1_mrad",
                u.theta1_mrad,
                "mrad",
                "ducting, limited angular distance"
            ),
            ("alpha", u.alpha, "", "ducting, exponent of path geometry"),
            ("mu2", u.mu2, "", "ducting, factor of path geometry"),
            ("mu3", u.mu3, "", "ducting, factor of roughness"),
            ("beta_pct", u.beta_pct, "%", "time with ducting on the path"),
            ("gamma", u.gamma, "", "ducting, exponent of time"),
            ("ap_db", u.ap_db, "dB", "ducting, variability in time"),
            ("lba_db", u.lba_db, "dB", "ducting loss"),
        ]
    }

    fn list_combination(&self) -> Vec<Term> {
        let c = &self.combination;
        terms![
            ("fj", c.fj, "", "interpolation by angular distance"),
            ("fk", c.fk, "", "interpolation by distance"),
            (
                "lminb0p_db",
                c.lminb0p_db,
                "dB",
                "least loss, line of sight and diffraction"
            ),
            (
                "lminbap_db",
                c.lminbap_db,
                "dB",
                "least loss, line of sight and ducting"
            ),
            (
                "lbda_db",
                c.lbda_db,
                "dB",
                "diffraction joined with ducting"
            ),
            ("lbam_db", c.lbam_db, "dB", "joined with line of sight"),
            (
                "lbc_db",
                c.lbc_db,
                "dB",
                "joined with troposcatter, 50 % of locations"
            ),
            ("lloc_db", c.lloc_db, "dB", "correction for locations"),
            ("lb_db", c.lb_db, "dB", "basic transmission loss"),
            (
                "ep_dbuvm",
                c.ep_dbuvm,
                "dB(µV/m)",
                "field strength for 1 kW e.r.p."
            ),
        ]
    }
}
