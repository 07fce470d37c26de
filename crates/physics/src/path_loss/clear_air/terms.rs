//! The quantities the two models share, as lists for a person.

use super::{Diffraction, Ducting, Joint, LineOfSight, PathAnalysis};
use crate::path_loss::Term;
use crate::path_loss::term::terms;

impl PathAnalysis {
    pub(crate) fn list(&self) -> Vec<Term> {
        let mut all = self.list_path();
        all.extend(self.list_profile());
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
}

impl LineOfSight {
    pub(crate) fn list(&self) -> Vec<Term> {
        terms![
            ("dfs_km", self.dfs_km, "km", "slant distance"),
            ("lbfs_db", self.lbfs_db, "dB", "free-space loss"),
            (
                "esp_db",
                self.esp_db,
                "dB",
                "multipath and focusing, time asked"
            ),
            (
                "esb_db",
                self.esb_db,
                "dB",
                "multipath and focusing, b0 of the time"
            ),
            (
                "lb0p_db",
                self.lb0p_db,
                "dB",
                "line-of-sight loss, time asked"
            ),
            (
                "lb0b_db",
                self.lb0b_db,
                "dB",
                "line-of-sight loss, b0 of the time"
            ),
        ]
    }
}

impl Diffraction {
    pub(crate) fn list(&self) -> Vec<Term> {
        let (m, b) = (&self.median, &self.beta);
        terms![
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
            ("fi", self.fi, "", "interpolation between the two radii"),
            ("ldp_db", self.ldp_db, "dB", "diffraction loss, time asked"),
            (
                "lbd50_db",
                self.lbd50_db,
                "dB",
                "free space and diffraction, median"
            ),
            (
                "lbd_db",
                self.lbd_db,
                "dB",
                "free space and diffraction, time asked"
            ),
        ]
    }
}

impl Ducting {
    pub(crate) fn list(&self) -> Vec<Term> {
        terms![
            (
                "alf_db",
                self.alf_db,
                "dB",
                "ducting, correction below 0.5 GHz"
            ),
            (
                "ast_db",
                self.ast_db,
                "dB",
                "ducting, shielding at the transmitter"
            ),
            (
                "asr_db",
                self.asr_db,
                "dB",
                "ducting, shielding at the receiver"
            ),
            (
                "act_db",
                self.act_db,
                "dB",
                "ducting, sea coupling at the transmitter"
            ),
            (
                "acr_db",
                self.acr_db,
                "dB",
                "ducting, sea coupling at the receiver"
            ),
            (
                "af_db",
                self.af_db,
                "dB",
                "ducting, coupling losses together"
            ),
            (
                "gamma_d_db_per_mrad",
                self.gamma_d_db_per_mrad,
                "dB/mrad",
                "ducting, specific attenuation"
            ),
            (
                "theta1_mrad",
                self.theta1_mrad,
                "mrad",
                "ducting, limited angular distance"
            ),
            (
                "alpha",
                self.alpha,
                "",
                "ducting, exponent of path geometry"
            ),
            ("mu2", self.mu2, "", "ducting, factor of path geometry"),
            ("mu3", self.mu3, "", "ducting, factor of roughness"),
            (
                "beta_pct",
                self.beta_pct,
                "%",
                "time with ducting on the path"
            ),
            ("gamma", self.gamma, "", "ducting, exponent of time"),
            ("ap_db", self.ap_db, "dB", "ducting, variability in time"),
            ("lba_db", self.lba_db, "dB", "ducting loss"),
        ]
    }
}

impl Joint {
    pub(crate) fn list(&self) -> Vec<Term> {
        terms![
            ("fj", self.fj, "", "interpolation by angular distance"),
            ("fk", self.fk, "", "interpolation by distance"),
            (
                "lminb0p_db",
                self.lminb0p_db,
                "dB",
                "least loss, line of sight and diffraction"
            ),
            (
                "lminbap_db",
                self.lminbap_db,
                "dB",
                "least loss, line of sight and ducting"
            ),
            (
                "lbda_db",
                self.lbda_db,
                "dB",
                "diffraction joined with ducting"
            ),
            ("lbam_db", self.lbam_db, "dB", "joined with line of sight"),
        ]
    }
}
