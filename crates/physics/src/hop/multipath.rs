//! Clear-air fading and enhancement by multipath and related mechanisms
//! (section 2.3).

use crate::levels::{db_to_amplitude, db_to_ratio, log10, pow10, ratio_to_db};
use crate::path_loss::term::terms;
use crate::path_loss::{Term, Warning};

/// Geometry of a hop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hop {
    /// Path length, > 0. \[km\]
    pub d_km: f64,
    /// Frequency. \[GHz\]
    pub f_ghz: f64,
    /// Transmitting antenna above mean sea level. \[m\]
    pub tx_amsl_m: f64,
    /// Receiving antenna above mean sea level. \[m\]
    pub rx_amsl_m: f64,
    /// Mean height of the terrain along the path, without trees. \[m amsl\]
    pub mean_terrain_amsl_m: f64,
}

impl Hop {
    /// Inclination of the path, εp. \[mrad\]
    #[must_use]
    pub fn inclination_mrad(&self) -> f64 {
        (self.rx_amsl_m - self.tx_amsl_m).abs() / self.d_km
    }

    /// Height of the lower antenna, hL. \[m amsl\]
    #[must_use]
    pub fn lower_antenna_amsl_m(&self) -> f64 {
        self.tx_amsl_m.min(self.rx_amsl_m)
    }

    /// Height of the path above the mean terrain, hc. \[m\]
    #[must_use]
    pub fn height_above_terrain_m(&self) -> f64 {
        0.5 * (self.tx_amsl_m + self.rx_amsl_m)
            - self.d_km * self.d_km / 102.0
            - self.mean_terrain_amsl_m
    }
}

/// What is known of the refractivity near the ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Geoclimate {
    /// Values of the digital maps of P.530-18 at the path centre.
    Maps {
        /// Decimal logarithm of the geoclimatic factor K.
        log_k: f64,
        /// Empirical refractivity gradient dN75. \[N/km\]
        dn75: f64,
    },
    /// The quick method of P.530-17, for who has no maps: one gradient of P.453
    /// (from memory of the text; no published case at hand).
    Gradient {
        /// Refractivity gradient in the lowest 65 m not exceeded for 1 % of
        /// the average year, negative; about −200 in temperate climates. \[N/km\]
        dn1: f64,
    },
}

/// Multipath fading of a hop: the quantities on the way, and its distributions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Multipath {
    /// Inclination of the path. \[mrad\]
    pub eps_p_mrad: f64,
    /// Height of the path above the mean terrain. \[m\]
    pub hc_m: f64,
    /// Height of the lower antenna. \[m amsl\]
    pub h_l_m: f64,
    /// Roughness of refraction over the terrain, limited; 0 in the quick method.
    pub vsr: f64,
    /// Multipath occurrence factor: the deep-fade line carried to a depth of 0
    /// dB; may exceed 100. \[% of the worst month\]
    pub p0_pct: f64,
    /// Depth from which the deep-fade line holds. \[dB\]
    pub at_db: f64,
}

impl Multipath {
    /// Shortest path on which multipath counts; on shorter ones take none. \[km\]
    ///
    /// Source: ITU-R P.530-18, section 2.3 (from memory of the text).
    pub const SHORTEST_KM: f64 = 5.0;

    /// Greatest occurrence factor for which the curves of any depth were fitted. \[%\]
    ///
    /// Source: ITU-R P.530-18, section 2.3.2 (from memory of the text).
    pub const GREATEST_P0_PCT: f64 = 2000.0;

    /// Analyses a hop.
    ///
    /// Source: ITU-R P.530-18, section 2.3.1, equations (4) to (10).
    #[must_use]
    pub fn of(hop: &Hop, geoclimate: &Geoclimate) -> Self {
        let eps_p_mrad = hop.inclination_mrad();
        let hc_m = hop.height_above_terrain_m();
        let h_l_m = hop.lower_antenna_amsl_m();
        let (vsr, log_p0) = match *geoclimate {
            Geoclimate::Maps { log_k, dn75 } => mapped(hop, log_k, dn75),
            Geoclimate::Gradient { dn1 } => (0.0, quick(hop, dn1)),
        };
        // Far outside any climate the exponent leaves what a number can hold.
        let log_p0 = log_p0.clamp(-100.0, 100.0);
        Self {
            eps_p_mrad,
            hc_m,
            h_l_m,
            vsr,
            p0_pct: pow10(log_p0),
            at_db: 25.0 + 1.2 * log_p0, // (12)
        }
    }

    /// Time in the average worst month a fade is deeper, by the straight line
    /// of deep fades. \[%\]
    ///
    /// * `a_db`: fade depth; the line holds for deep fades.
    ///
    /// Source: ITU-R P.530-18, section 2.3.1, equation (10).
    #[must_use]
    pub fn deep_fade_pct(&self, a_db: f64) -> f64 {
        self.p0_pct * db_to_ratio(-a_db)
    }

    /// Time in the average worst month a fade is deeper, for any depth. \[%\]
    ///
    /// * `a_db`: fade depth, > 0; at 0 the curve gives 63.2 % or less by construction.
    ///
    /// The transition depth is never raised to 35 dB, which the text may ask
    /// for where qt < −2 (from memory); the reference program does not either.
    ///
    /// Source: ITU-R P.530-18, section 2.3.2, equations (11) to (18).
    #[must_use]
    pub fn fade_pct(&self, a_db: f64) -> f64 {
        self.fade_reduced_pct(a_db, 0.0)
    }

    /// Time in the average year a fade is deeper, by the straight line. \[%\]
    ///
    /// * `year_offset_db`: ΔG of [`year_offset_db`].
    ///
    /// Source: ITU-R P.530-18, section 2.3.4, equation (25).
    #[must_use]
    pub fn annual_deep_fade_pct(&self, a_db: f64, year_offset_db: f64) -> f64 {
        self.deep_fade_pct(a_db + year_offset_db)
    }

    /// Time in the average year a fade is deeper, for any depth. \[%\]
    ///
    /// Source: ITU-R P.530-18, section 2.3.4: the method for any depth with
    /// the transition point lowered by ΔG.
    #[must_use]
    pub fn annual_fade_pct(&self, a_db: f64, year_offset_db: f64) -> f64 {
        self.fade_reduced_pct(a_db, year_offset_db)
    }

    fn fade_reduced_pct(&self, a_db: f64, offset_db: f64) -> f64 {
        let at_db = self.at_db;
        if a_db >= at_db {
            return self.deep_fade_pct(a_db + offset_db); // (13)
        }
        let pt_pct = self.deep_fade_pct(at_db + offset_db); // (14)
        let qa_at = -2.0 * ratio_to_db(-log_rest(pt_pct / 100.0)) / at_db; // (15)
        let qt = (qa_at - 2.0) / spread(at_db, 0.016) - 4.3 * bend(at_db); // (16)
        let qa = 2.0 + spread(a_db, 0.016) * (qt + 4.3 * bend(a_db)); // (17)
        100.0 * -(-db_to_amplitude(-qa * a_db)).exp_m1() // (18)
    }

    /// Time in the average worst month an enhancement is *not* exceeded. \[%\]
    ///
    /// * `e_db`: enhancement over the clear-air level, >= 0.
    ///
    /// Source: ITU-R P.530-18, section 2.3.3, equations (19) to (24).
    #[must_use]
    pub fn enhancement_not_exceeded_pct(&self, e_db: f64) -> f64 {
        let a001_db = ratio_to_db(self.p0_pct / 0.01);
        let exceeded_pct = |e_db: f64| pow10((-1.7 + 0.2 * a001_db - e_db) / 3.5); // (19)
        if e_db > 10.0 {
            return (100.0 - exceeded_pct(e_db)).max(0.0);
        }
        let qe_10 = -2.0 * ratio_to_db(-log_rest(exceeded_pct(10.0) / 58.21)) / 10.0; // (20), (21)
        let qs = 2.05 * qe_10 - 20.3; // (22)
        let qe = 8.0
            + (1.0 + 0.3 * db_to_amplitude(-e_db))
                * db_to_amplitude(-0.7 * e_db)
                * (qs + 12.0 * bend(e_db)); // (23)
        100.0 + 58.21 * (-db_to_amplitude(-qe * e_db)).exp_m1() // (24)
    }

    /// The quantities on the way, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        terms![
            (
                "eps_p_mrad",
                self.eps_p_mrad,
                "mrad",
                "inclination of the path"
            ),
            (
                "hc_m",
                self.hc_m,
                "m",
                "height of the path above the mean terrain"
            ),
            ("h_l_m", self.h_l_m, "m", "lower antenna above sea level"),
            (
                "vsr",
                self.vsr,
                "",
                "roughness of refraction over the terrain"
            ),
            (
                "p0_pct",
                self.p0_pct,
                "%",
                "multipath occurrence factor, worst month"
            ),
            (
                "at_db",
                self.at_db,
                "dB",
                "depth from which the deep-fade line holds"
            ),
        ]
    }

    /// Where a hop leaves the range the method is stated for.
    ///
    /// Source: ITU-R P.530-18, section 2.3 (limits from memory of the text).
    #[must_use]
    pub fn warnings(hop: &Hop, geoclimate: &Geoclimate) -> Vec<Warning> {
        let lowest_ghz = 15.0 / hop.d_km;
        let mut found = Warning::outside(&[
            ("d_km", hop.d_km, Self::SHORTEST_KM, 200.0),
            ("f_ghz", hop.f_ghz, lowest_ghz, 45.0),
            ("eps_p_mrad", hop.inclination_mrad(), 0.0, 100.0),
            (
                "p0_pct",
                Self::of(hop, geoclimate).p0_pct,
                0.0,
                Self::GREATEST_P0_PCT,
            ),
        ]);
        found.extend(match *geoclimate {
            Geoclimate::Maps { log_k, dn75 } => {
                Warning::outside(&[("log_k", log_k, -10.0, 0.0), ("dn75", dn75, 0.0, 500.0)])
            }
            Geoclimate::Gradient { dn1 } => Warning::outside(&[("dn1", dn1, -1000.0, 0.0)]),
        });
        found
    }
}

/// vsr and log10 of p0 from the maps, equations (6) to (10).
fn mapped(hop: &Hop, log_k: f64, dn75: f64) -> (f64, f64) {
    let (d, f) = (hop.d_km, hop.f_ghz);
    let hc_m = hop.height_above_terrain_m();
    let gradient = dn75.max(0.0);
    let limit = gradient * d.powf(1.5) * f.sqrt() / 24_730.0;
    let vsr = ((gradient / 50.0).powf(1.8) * (-hc_m / (2.5 * d.sqrt())).exp()).min(limit);
    let log_p0 = log_k + 3.51 * log10(d) + 0.447 * log10(f * f + 13.0)
        - 0.376 * ((hc_m - 147.0) / 125.0).tanh()
        - 0.334 * hop.inclination_mrad().powf(0.39)
        - 0.00027 * hop.lower_antenna_amsl_m()
        + 17.85 * vsr;
    (vsr, log_p0)
}

/// log10 of p0 by the quick method of P.530-17 (from memory of the text).
fn quick(hop: &Hop, dn1: f64) -> f64 {
    -4.6 - 0.0027 * dn1 + 3.1 * log10(hop.d_km) + 0.8 * log10(hop.f_ghz)
        - 1.29 * log10(1.0 + hop.inclination_mrad())
        - 0.00089 * hop.lower_antenna_amsl_m()
}

/// ln(1 − share), the share kept below 1 for hops outside any measured climate.
fn log_rest(share: f64) -> f64 {
    (-share.min(1.0 - f64::EPSILON)).ln_1p()
}

/// `(1 + 0.3·10^(−A/20))·10^(−c·A)`.
fn spread(a_db: f64, per_db: f64) -> f64 {
    (1.0 + 0.3 * db_to_amplitude(-a_db)) * pow10(-per_db * a_db)
}

/// `10^(−A/20) + A/800`.
fn bend(a_db: f64) -> f64 {
    db_to_amplitude(-a_db) + a_db / 800.0
}

/// ΔG: how much shallower a deep fade of the average year is than one of the
/// average worst month with the same percentage. \[dB\]
///
/// * `lat_deg`: latitude of the path, −90 to 90.
///
/// Source: ITU-R P.530-18, section 2.3.4, equation (25), at most 10.8 dB.
#[must_use]
pub fn year_offset_db(lat_deg: f64, d_km: f64, inclination_mrad: f64) -> f64 {
    let swing = (2.0 * lat_deg.to_radians()).cos().abs().powf(0.7);
    let season = if lat_deg.abs() <= 45.0 {
        1.1 + swing
    } else {
        1.1 - swing
    };
    let offset_db =
        10.5 - 5.6 * log10(season) - 2.7 * log10(d_km) + 1.7 * log10(1.0 + inclination_mrad);
    offset_db.min(10.8)
}
