//! The smooth curved Earth: first term of the residue series, and the
//! interpolation that carries it to line-of-sight distances.

use std::f64::consts::FRAC_PI_3;

use crate::path_loss::Polarization;

/// Electrical properties of the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// Relative permittivity.
    pub permittivity: f64,
    /// Conductivity. \[S/m\]
    pub conductivity_s_per_m: f64,
}

impl Ground {
    /// Average land of the Recommendations.
    pub const LAND: Self = Self {
        permittivity: 22.0,
        conductivity_s_per_m: 0.003,
    };
    /// Sea water of the Recommendations.
    pub const SEA: Self = Self {
        permittivity: 80.0,
        conductivity_s_per_m: 5.0,
    };

    /// Normalized surface admittance K of the first-term method.
    ///
    /// Source: ITU-R P.1812-8, equation (29).
    #[must_use]
    pub fn admittance(&self, polarization: Polarization, f_ghz: f64, radius_km: f64) -> f64 {
        let loss = (18.0 * self.conductivity_s_per_m / f_ghz).powi(2);
        let horizontal = 0.036
            / (radius_km * f_ghz).cbrt()
            / ((self.permittivity - 1.0).powi(2) + loss).sqrt().sqrt(); // (29a)
        match polarization {
            Polarization::Horizontal => horizontal,
            Polarization::Vertical => horizontal * (self.permittivity.powi(2) + loss).sqrt(), // (29b)
        }
    }
}

/// Two antennas over a smooth sphere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SphericalEarth {
    /// Path length, > 0. \[km\]
    pub d_km: f64,
    /// Transmitting antenna above the smooth surface, > 0. \[m\]
    pub hte_m: f64,
    /// Receiving antenna above the smooth surface, > 0. \[m\]
    pub hre_m: f64,
    /// Frequency. \[GHz\]
    pub f_ghz: f64,
    /// Effective Earth radius. \[km\]
    pub radius_km: f64,
}

impl SphericalEarth {
    /// Distance at which the ray just grazes the sphere. \[km\]
    ///
    /// Source: ITU-R P.1812-8, equation (22).
    #[must_use]
    pub fn marginal_los_km(&self) -> f64 {
        (2.0 * self.radius_km).sqrt() * ((0.001 * self.hte_m).sqrt() + (0.001 * self.hre_m).sqrt())
    }

    /// First-term diffraction loss over one kind of ground. \[dB\]
    ///
    /// Meant for the shadow beyond [`Self::marginal_los_km`]; may be negative short of it.
    ///
    /// Source: ITU-R P.526-15, section 3.1.1; P.1812-8, equations (29) to (36).
    #[must_use]
    pub fn first_term_db(&self, ground: Ground, polarization: Polarization) -> f64 {
        let (f, a) = (self.f_ghz, self.radius_km);
        let k = ground.admittance(polarization, f, a);
        let k2 = k * k;
        let k4 = k2 * k2;
        let bt = (1.0 + 1.6 * k2 + 0.67 * k4) / (1.0 + 4.5 * k2 + 1.53 * k4); // (30)
        let x = 21.88 * bt * (f / (a * a)).cbrt() * self.d_km; // (31)
        let y_per_m = 0.9575 * bt * (f * f / a).cbrt(); // (32)
        let floor = 2.0 + 20.0 * k.log10();
        let gain = |h_m: f64| height_gain_db(bt * y_per_m * h_m).max(floor);
        -distance_term_db(x) - gain(self.hte_m) - gain(self.hre_m) // (36)
    }

    /// First-term loss over a path of which the fraction `omega` is sea. \[dB\]
    fn first_term_mixed_db(&self, omega: f64, polarization: Polarization) -> f64 {
        let part = |share: f64, ground| {
            if share > 0.0 {
                share * self.first_term_db(ground, polarization)
            } else {
                0.0
            }
        };
        part(omega, Ground::SEA) + part(1.0 - omega, Ground::LAND) // (28)
    }

    /// Diffraction loss at any distance. \[dB\]
    ///
    /// * `omega`: fraction of the path over sea, 0 to 1.
    /// * `lambda_m`: wavelength, with the constant of the calling model.
    ///
    /// Source: ITU-R P.526-15, section 3.2; P.1812-8, equations (22) to (28).
    #[must_use]
    pub fn loss_db(&self, omega: f64, polarization: Polarization, lambda_m: f64) -> f64 {
        if self.d_km >= self.marginal_los_km() {
            return self.first_term_mixed_db(omega, polarization);
        }
        let (dse1_km, hse_m) = self.least_clearance();
        let dse2_km = self.d_km - dse1_km;
        let hreq_m = 17.456 * (dse1_km * dse2_km * lambda_m / self.d_km).max(0.0).sqrt(); // (25)
        if hse_m > hreq_m {
            return 0.0;
        }
        let reach = self.d_km / (self.hte_m.sqrt() + self.hre_m.sqrt());
        let touching = Self {
            radius_km: 500.0 * reach * reach,
            ..*self
        }; // (26)
        let ft_db = touching.first_term_mixed_db(omega, polarization);
        // With both antennas on the ground, hreq is 0 and so is the clearance.
        let share = if hreq_m > 0.0 {
            1.0 - hse_m / hreq_m
        } else {
            1.0
        };
        share * ft_db.max(0.0) // (27)
    }

    /// Point of least clearance over the sphere: distance from the
    /// transmitter \[km\] and the clearance there \[m\]. For line of sight only.
    ///
    /// Source: ITU-R P.1812-8, equations (23) and (24).
    #[must_use]
    pub fn least_clearance(&self) -> (f64, f64) {
        let (ht, hr, d, a) = (self.hte_m, self.hre_m, self.d_km, self.radius_km);
        let sum = ht + hr;
        let c = (ht - hr) / sum; // (24d)
        let m = 250.0 * d * d / (a * sum); // (24e)
        let m1 = m + 1.0;
        let cosine = 1.5 * c * (3.0 * m / (m1 * m1 * m1)).sqrt();
        let angle_rad = FRAC_PI_3 + cosine.clamp(-1.0, 1.0).acos() / 3.0;
        let b = 2.0 * (m1 / (3.0 * m)).sqrt() * angle_rad.cos(); // (24c)
        let dse1 = 0.5 * d * (1.0 + b); // (24a)
        let dse2 = d - dse1; // (24b)
        let hse =
            ((ht - 500.0 * dse1 * dse1 / a) * dse2 + (hr - 500.0 * dse2 * dse2 / a) * dse1) / d;
        (dse1, hse) // (23)
    }
}

/// Distance term F(X). \[dB\] Source: P.1812-8, equation (33).
fn distance_term_db(x: f64) -> f64 {
    if x >= 1.6 {
        11.0 + 10.0 * x.log10() - 17.6 * x
    } else {
        -20.0 * x.log10() - 5.6488 * x.powf(1.425)
    }
}

/// Height gain G(Y) of B = β·Y. \[dB\] Source: P.1812-8, equations (34) and (35).
fn height_gain_db(b: f64) -> f64 {
    if b > 2.0 {
        17.6 * (b - 1.1).sqrt() - 5.0 * (b - 1.1).log10() - 8.0
    } else {
        20.0 * (b + 0.1 * b * b * b).log10()
    }
}
