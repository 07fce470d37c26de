//! Line of sight, diffraction, and ducting.

use super::climate::Climate;
use super::profile::SmoothEarth;
use super::{Case, PathAnalysis};
use crate::diffraction::{DeltaBullington, SmoothSurface, delta_bullington};
use crate::inverse_normal::inverse_normal;

/// Free space with multipath and focusing (section 4.2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineOfSight {
    /// Slant distance, equation (8a). \[km\]
    pub dfs_km: f64,
    /// Free-space loss with the Recommendation's constant 92.4, equation (8). \[dB\]
    pub lbfs_db: f64,
    /// Gases on the slant path; 0 in a model that leaves them out. \[dB\]
    pub gas_db: f64,
    /// Multipath and focusing correction for the asked time, equation (9a). \[dB\]
    pub esp_db: f64,
    /// The same for β0 of the time, equation (9b). \[dB\]
    pub esb_db: f64,
    /// Line-of-sight loss for the asked time, equation (10). \[dB\]
    pub lb0p_db: f64,
    /// Line-of-sight loss for β0 of the time, equation (11). \[dB\]
    pub lb0b_db: f64,
}

impl LineOfSight {
    pub(crate) fn of(case: &Case<'_>, path: &PathAnalysis, gas_db_per_km: f64) -> Self {
        let (climate, horizons) = (&path.climate, &path.horizons);
        let rise_km = (case.hts - case.hrs) / 1e3;
        let dfs_km = (case.dt * case.dt + rise_km * rise_km).sqrt(); // (8a)
        let lbfs_db = 92.4 + 20.0 * (case.input.f_ghz * dfs_km).log10(); // (8)
        let gas_db = gas_db_per_km * dfs_km;
        let lbfsg_db = lbfs_db + gas_db;
        let spread_db = 2.6 * (1.0 - (-0.1 * (horizons.dlt_km + horizons.dlr_km)).exp());
        let esp_db = spread_db * (case.input.time_pct / 50.0).log10(); // (9a)
        let esb_db = spread_db * (climate.b0_pct / 50.0).log10(); // (9b)
        Self {
            dfs_km,
            lbfs_db,
            gas_db,
            esp_db,
            esb_db,
            lb0p_db: lbfsg_db + esp_db,
            lb0b_db: lbfsg_db + esb_db,
        }
    }

    /// Free-space loss with the gases. \[dB\]
    #[must_use]
    pub fn lbfsg_db(&self) -> f64 {
        self.lbfs_db + self.gas_db
    }
}

/// Diffraction and its variability in time (section 4.3).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Diffraction {
    /// With the median effective Earth radius.
    pub median: DeltaBullington,
    /// With the effective Earth radius exceeded for β0 of the time.
    pub beta: DeltaBullington,
    /// Interpolation factor Fi, equation (40).
    pub fi: f64,
    /// Diffraction loss not exceeded for the asked time, equation (41). \[dB\]
    pub ldp_db: f64,
    /// Median loss with diffraction, equation (42). \[dB\]
    pub lbd50_db: f64,
    /// Loss with diffraction for the asked time, equation (43). \[dB\]
    pub lbd_db: f64,
}

impl Diffraction {
    pub(crate) fn of(case: &Case<'_>, path: &PathAnalysis, los: &LineOfSight) -> Self {
        let (climate, smooth) = (&path.climate, &path.smooth_earth);
        let surface = SmoothSurface {
            hstd_m: smooth.hstd_m,
            hsrd_m: smooth.hsrd_m,
            omega: climate.omega,
            polarization: case.input.polarization,
        };
        let radii_km = [climate.ae_km, climate.abeta_km];
        let [median, beta] = delta_bullington(&case.diffraction_path(), &surface, radii_km);
        let time_pct = case.input.time_pct;
        let fi = if time_pct > climate.b0_pct {
            inverse_normal(time_pct / 100.0) / inverse_normal(climate.b0_pct / 100.0) // (40)
        } else {
            1.0
        };
        // I(0.5) is not exactly 0 in its approximation, the median is the median.
        let ldp_db = if time_pct == 50.0 {
            median.ld_db
        } else {
            median.ld_db + fi * (beta.ld_db - median.ld_db) // (41)
        };
        Self {
            median,
            beta,
            fi,
            ldp_db,
            lbd50_db: los.lbfsg_db() + median.ld_db, // (42)
            lbd_db: los.lb0p_db + ldp_db,            // (43)
        }
    }
}

/// Ducting and reflection by elevated layers (section 4.5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ducting {
    /// Empirical correction below 0.5 GHz, equation (47a). \[dB\]
    pub alf_db: f64,
    /// Site shielding at the transmitter, equation (48). \[dB\]
    pub ast_db: f64,
    /// Site shielding at the receiver, equation (48). \[dB\]
    pub asr_db: f64,
    /// Over-sea coupling at the transmitter, equation (49). \[dB\]
    pub act_db: f64,
    /// Over-sea coupling at the receiver, equation (49). \[dB\]
    pub acr_db: f64,
    /// Fixed coupling losses, equation (47). \[dB\]
    pub af_db: f64,
    /// Specific attenuation, equation (51). \[dB/mrad\]
    pub gamma_d_db_per_mrad: f64,
    /// Angular distance with limited horizon angles, equation (52). \[mrad\]
    pub theta1_mrad: f64,
    /// α, equation (55a).
    pub alpha: f64,
    /// Correction for path geometry, equation (55).
    pub mu2: f64,
    /// Correction for terrain roughness, equation (56).
    pub mu3: f64,
    /// Time for which ducting is expected on this path, equation (54). \[%\]
    pub beta_pct: f64,
    /// Γ, equation (53a).
    pub gamma: f64,
    /// Variability in time, equation (53). \[dB\]
    pub ap_db: f64,
    /// Gases on the path; 0 in a model that leaves them out. \[dB\]
    pub gas_db: f64,
    /// Ducting and layer-reflection loss, equation (46). \[dB\]
    pub lba_db: f64,
}

impl Ducting {
    pub(crate) fn of(case: &Case<'_>, path: &PathAnalysis, gas_db_per_km: f64) -> Self {
        let (climate, horizons, smooth) = (&path.climate, &path.horizons, &path.smooth_earth);
        let f = case.input.f_ghz;
        let root_f = f.cbrt();
        let (dlt, dlr) = (horizons.dlt_km, horizons.dlr_km);
        let alf_db = if f < 0.5 {
            45.375 - 137.0 * f + 92.5 * f * f
        } else {
            0.0
        }; // (47a)
        let ast_db = site_shielding_db(horizons.theta_t_mrad, dlt, f, root_f);
        let asr_db = site_shielding_db(horizons.theta_r_mrad, dlr, f, root_f);
        let act_db = sea_coupling_db(climate.dct_km, dlt, climate.omega, case.hts);
        let acr_db = sea_coupling_db(climate.dcr_km, dlr, climate.omega, case.hrs);
        let af_db =
            102.45 + 20.0 * (f * (dlt + dlr)).log10() + alf_db + ast_db + asr_db + act_db + acr_db; // (47)
        let gamma_d_db_per_mrad = 5e-5 * climate.ae_km * root_f; // (51)
        let theta1_mrad = 1e3 * case.dt / climate.ae_km
            + horizons.theta_t_mrad.min(0.1 * dlt)
            + horizons.theta_r_mrad.min(0.1 * dlr); // (52)
        let alpha = (-0.6 - 3.5e-9 * case.dt.powf(3.1) * climate.tau).max(-3.4); // (55a)
        let mu2 = geometry_factor(case, climate, smooth, alpha);
        let mu3 = roughness_factor(smooth.hm_m, case.dt - dlt - dlr);
        // A very rough path drives β below what a number can hold; its logarithm must exist.
        let beta_pct = (climate.b0_pct * mu2 * mu3).max(1e-300); // (54)
        let lb = beta_pct.log10();
        let gamma = 1.076 / (2.0058 - lb).powf(1.012)
            * (-(9.51 - 4.8 * lb + 0.198 * lb * lb) * 1e-6 * case.dt.powf(1.13)).exp(); // (53a)
        let p_beta = case.input.time_pct / beta_pct;
        let ap_db = -12.0 + (1.2 + 3.7e-3 * case.dt) * p_beta.log10() + 12.0 * p_beta.powf(gamma); // (53)
        let gas_db = gas_db_per_km * case.dt;
        let lba_db = af_db + gamma_d_db_per_mrad * theta1_mrad + ap_db + gas_db; // (46), (50)
        Self {
            alf_db,
            ast_db,
            asr_db,
            act_db,
            acr_db,
            af_db,
            gamma_d_db_per_mrad,
            theta1_mrad,
            alpha,
            mu2,
            mu3,
            beta_pct,
            gamma,
            ap_db,
            gas_db,
            lba_db,
        }
    }
}

/// Equations (48) and (48a).
fn site_shielding_db(theta_mrad: f64, dl_km: f64, f_ghz: f64, root_f: f64) -> f64 {
    let theta2 = theta_mrad - 0.1 * dl_km; // (48a)
    if theta2 > 0.0 {
        20.0 * (1.0 + 0.361 * theta2 * (f_ghz * dl_km).sqrt()).log10() + 0.264 * theta2 * root_f
    } else {
        0.0
    }
}

/// Equation (49).
fn sea_coupling_db(coast_km: f64, dl_km: f64, omega: f64, antenna_amsl_m: f64) -> f64 {
    if omega >= 0.75 && coast_km <= dl_km && coast_km <= 5.0 {
        -3.0 * (-0.25 * coast_km * coast_km).exp() * (1.0 + (0.07 * (50.0 - antenna_amsl_m)).tanh())
    } else {
        0.0
    }
}

/// Equation (55).
fn geometry_factor(case: &Case<'_>, climate: &Climate, smooth: &SmoothEarth, alpha: f64) -> f64 {
    let roots = smooth.hte_m.max(0.0).sqrt() + smooth.hre_m.max(0.0).sqrt();
    (500.0 * case.dt * case.dt / (climate.ae_km * roots * roots))
        .powf(alpha)
        .min(1.0)
}

/// Equation (56); `apart_km` is the distance between the horizons.
fn roughness_factor(hm_m: f64, apart_km: f64) -> f64 {
    if hm_m <= 10.0 {
        return 1.0;
    }
    let di_km = apart_km.min(40.0); // (56a)
    (-4.6e-5 * (hm_m - 10.0) * (43.0 + 6.0 * di_km)).exp()
}
