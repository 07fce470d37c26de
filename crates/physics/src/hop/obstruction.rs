//! Diffraction fading: what stands near the ray when the atmosphere bends it
//! towards the ground (section 2.2).

use crate::fresnel::earth_bulge_m;
use crate::path_loss::Term;
use crate::path_loss::term::terms;
use crate::refractivity::k_factor;

/// The straight ray of a hop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ray {
    /// Transmitting antenna above mean sea level. \[m\]
    pub tx_amsl_m: f64,
    /// Receiving antenna above mean sea level. \[m\]
    pub rx_amsl_m: f64,
    /// Frequency. \[GHz\]
    pub f_ghz: f64,
}

/// The most obstructing point of the profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstacle {
    /// Top, with trees and buildings, above mean sea level. \[m\]
    pub top_amsl_m: f64,
    /// Distance to the transmitter, > 0. \[km\]
    pub d1_km: f64,
    /// Distance to the receiver, > 0. \[km\]
    pub d2_km: f64,
}

/// How an obstacle stands to the ray at one effective Earth radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstruction {
    /// Ray above the obstacle, negative where it is blocked. \[m\]
    pub clearance_m: f64,
    /// Radius of the first Fresnel zone, with the constant 17.3. \[m\] Equation (3).
    pub f1_m: f64,
    /// Diffraction loss over average terrain; stated for losses above about
    /// 15 dB, below that an indication; negative well clear of the ground. \[dB\]
    pub ad_db: f64,
}

impl Obstruction {
    /// Clearance as a fraction of the first Fresnel zone.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.clearance_m / self.f1_m
    }

    /// Loss to count: none where the formula turns negative. \[dB\]
    #[must_use]
    pub fn fade_db(&self) -> f64 {
        self.ad_db.max(0.0)
    }
}

/// Diffraction loss of average terrain for a clearance.
///
/// * `clearance_m`: ray above the most obstructing point, negative where blocked.
/// * `d1_km`, `d2_km`: its distances to the two ends, > 0.
///
/// Source: ITU-R P.530-18, section 2.2.1, equations (2) and (3).
#[must_use]
pub fn average_terrain_fade(clearance_m: f64, f_ghz: f64, d1_km: f64, d2_km: f64) -> Obstruction {
    let f1_m = 17.3 * (d1_km * d2_km / (f_ghz * (d1_km + d2_km))).sqrt(); // (3)
    Obstruction {
        clearance_m,
        f1_m,
        ad_db: 10.0 - 20.0 * clearance_m / f1_m, // (2)
    }
}

/// Effective Earth radius factor of a median atmosphere where nothing better is known.
///
/// Source: ITU-R P.530-18, section 2.2.2.
pub const MEDIAN_K: f64 = 4.0 / 3.0;

/// Fraction of the first zone to keep clear at the median k.
///
/// Source: ITU-R P.530-18, section 2.2.2.1 (from memory of the text).
pub const MEDIAN_RATIO: f64 = 1.0;

/// What the ground and the climate ask of the clearance under bad refraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum GroundClimate {
    /// Temperate, one isolated obstruction: none of the first zone.
    TemperateIsolated,
    /// Temperate, an obstruction extended along the path: 0.3 of the first zone.
    TemperateExtended,
    /// Tropical: 0.6 of the first zone on paths longer than about 30 km.
    Tropical,
}

impl GroundClimate {
    /// Length beyond which a tropical path asks for more. \[km\]
    pub const TROPICAL_FROM_KM: f64 = 30.0;

    /// Fraction of the first zone to keep clear at the least k.
    #[must_use]
    pub fn least_k_ratio(self) -> f64 {
        match self {
            Self::TemperateIsolated => 0.0,
            Self::TemperateExtended => 0.3,
            Self::Tropical => 0.6,
        }
    }
}

/// Effective Earth radius factor exceeded for 99.9 % of the worst month in a
/// continental temperate climate.
///
/// * `d_km`: path length. Read off the Recommendation's curve to ±0.05 at 20,
///   50, 100 and 200 km (from memory), straight over the logarithm of distance
///   between; shorter paths take the value of 20 km, longer that of 200 km.
///
/// Source: ITU-R P.530-18, section 2.2.2, Figure 2.
#[must_use]
pub fn least_k_factor(d_km: f64) -> f64 {
    const CURVE: [(f64, f64); 4] = [(20.0, 0.5), (50.0, 0.7), (100.0, 0.85), (200.0, 0.95)];
    let d = d_km.clamp(CURVE[0].0, CURVE[3].0);
    let between = |pair: &[(f64, f64)]| {
        let [(d0, k0), (d1, k1)] = [pair[0], pair[1]];
        (d <= d1).then(|| k0 + (k1 - k0) * (d / d0).ln() / (d1 / d0).ln())
    };
    CURVE.windows(2).find_map(between).unwrap_or(CURVE[3].1)
}

/// A path over an obstacle at the median and at the least k.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearance {
    /// At the median k.
    pub median: Obstruction,
    /// At the least k.
    pub least: Obstruction,
    /// The least k, of [`least_k_factor`].
    pub least_k: f64,
    /// Clearance asked for at the least k. \[m\]
    pub least_asked_m: f64,
}

impl Clearance {
    /// Metres the ray is too low over the obstacle for either criterion;
    /// negative where there is room. \[m\]
    ///
    /// Source: ITU-R P.530-18, section 2.2.2.1 (from memory of the text): one
    /// first zone at the median k, and what the climate asks at the least k.
    #[must_use]
    pub fn shortfall_m(&self) -> f64 {
        let median_m = MEDIAN_RATIO * self.median.f1_m - self.median.clearance_m;
        median_m.max(self.least_asked_m - self.least.clearance_m)
    }

    /// The quantities, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        terms![
            (
                "f1_m",
                self.median.f1_m,
                "m",
                "first Fresnel zone at the obstacle"
            ),
            (
                "clearance_median_m",
                self.median.clearance_m,
                "m",
                "clearance at the median k"
            ),
            (
                "clearance_least_m",
                self.least.clearance_m,
                "m",
                "clearance at the least k"
            ),
            (
                "least_k",
                self.least_k,
                "",
                "k exceeded for 99.9 % of the worst month"
            ),
            (
                "least_asked_m",
                self.least_asked_m,
                "m",
                "clearance asked for at the least k"
            ),
            (
                "shortfall_m",
                self.shortfall_m(),
                "m",
                "metres the ray is too low"
            ),
            (
                "ad_median_db",
                self.median.fade_db(),
                "dB",
                "diffraction loss at the median k"
            ),
            (
                "ad_least_db",
                self.least.fade_db(),
                "dB",
                "diffraction loss at the least k"
            ),
        ]
    }
}

/// Clearance and diffraction fading over one obstacle.
///
/// * `delta_n_per_km`: median lapse rate, `None` for k = 4/3.
///
/// Source: ITU-R P.530-18, section 2.2.
#[must_use]
pub fn clearance(
    ray: &Ray,
    obstacle: &Obstacle,
    climate: GroundClimate,
    delta_n_per_km: Option<f64>,
) -> Clearance {
    let Obstacle {
        top_amsl_m,
        d1_km,
        d2_km,
    } = *obstacle;
    let d_km = d1_km + d2_km;
    let line_m = (ray.tx_amsl_m * d2_km + ray.rx_amsl_m * d1_km) / d_km;
    let at = |k: f64| {
        let clearance_m = line_m - top_amsl_m - earth_bulge_m(d1_km, d2_km, k);
        average_terrain_fade(clearance_m, ray.f_ghz, d1_km, d2_km)
    };
    let least_k = least_k_factor(d_km);
    let (median, least) = (at(delta_n_per_km.map_or(MEDIAN_K, k_factor)), at(least_k));
    Clearance {
        median,
        least,
        least_k,
        least_asked_m: climate.least_k_ratio() * least.f1_m,
    }
}
