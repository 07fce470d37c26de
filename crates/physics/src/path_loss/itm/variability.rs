//! From the reference attenuation to the attenuation not exceeded for given
//! percentages of time, locations and situations.

use super::settings::{Link, Pooling, Settings};

/// Two constants and three distances of a curve over distance. \[dB, km\]
struct Curve([f64; 5]);

impl Curve {
    /// At the effective distance `de_km`.
    fn at(&self, de_km: f64) -> f64 {
        let [c1, c2, x1, x2, x3] = self.0;
        let (near, far) = ((de_km / x1).powi(2), ((de_km - x2) / x3).powi(2));
        (c1 + c2 / (1.0 + far)) * near / (1.0 + near)
    }
}

/// Growth of the spread over time with frequency.
struct FrequencyFactor([f64; 3]);

impl FrequencyFactor {
    /// `q`: natural logarithm of 0.133 f/47.7, f in MHz.
    fn at(&self, q: f64) -> f64 {
        let [b1, b2, b3] = self.0;
        b1 + b2 / ((b3 * q).powi(2) + 1.0)
    }
}

/// Statistics of a climate.
struct Statistics {
    median: Curve,
    /// Spread towards more loss, and towards less.
    below: Curve,
    above: Curve,
    f_below: FrequencyFactor,
    f_above: FrequencyFactor,
    /// Ratio of the spread of rare ducting to that of common enhancement, and
    /// the deviate from which it counts.
    ducting: (f64, f64),
}

const EVEN: FrequencyFactor = FrequencyFactor([1.0, 0.0, 0.0]);

/// One row per climate, in the order of the code numbers.
static STATISTICS: [Statistics; 7] = [
    Statistics {
        median: Curve([-9.67, 12.7, 144.9, 190.3, 133.8]),
        below: Curve([2.13, 159.5, 762.2, 123.6, 94.5]),
        above: Curve([2.11, 102.3, 636.9, 134.8, 95.6]),
        f_below: EVEN,
        f_above: EVEN,
        ducting: (1.224, 1.282),
    },
    Statistics {
        median: Curve([-0.62, 9.19, 228.9, 205.2, 143.6]),
        below: Curve([2.66, 7.67, 100.4, 172.5, 136.4]),
        above: Curve([6.87, 15.53, 138.7, 143.7, 98.6]),
        f_below: EVEN,
        f_above: FrequencyFactor([0.93, 0.31, 2.0]),
        ducting: (0.801, 2.161),
    },
    Statistics {
        median: Curve([1.26, 15.5, 262.6, 185.2, 99.8]),
        below: Curve([6.11, 6.65, 138.2, 242.2, 178.6]),
        above: Curve([10.08, 9.60, 165.3, 225.7, 129.7]),
        f_below: EVEN,
        f_above: EVEN,
        ducting: (1.380, 1.282),
    },
    Statistics {
        median: Curve([-9.21, 9.05, 84.1, 101.1, 98.6]),
        below: Curve([1.98, 13.11, 139.1, 132.7, 193.5]),
        above: Curve([3.68, 159.3, 464.4, 93.1, 94.2]),
        f_below: EVEN,
        f_above: FrequencyFactor([0.93, 0.19, 1.79]),
        ducting: (1.000, 20.0),
    },
    Statistics {
        median: Curve([-0.62, 9.19, 228.9, 205.2, 143.6]),
        below: Curve([2.68, 7.16, 93.7, 186.8, 133.5]),
        above: Curve([4.75, 8.12, 93.2, 135.9, 113.4]),
        f_below: FrequencyFactor([0.92, 0.25, 1.77]),
        f_above: FrequencyFactor([0.93, 0.31, 2.0]),
        ducting: (1.224, 1.282),
    },
    Statistics {
        median: Curve([-0.39, 2.86, 141.7, 315.9, 167.4]),
        below: Curve([6.86, 10.38, 187.8, 169.6, 108.9]),
        above: Curve([8.58, 13.97, 216.0, 152.0, 122.7]),
        f_below: EVEN,
        f_above: EVEN,
        ducting: (1.518, 1.282),
    },
    Statistics {
        median: Curve([3.15, 857.9, 2222.0, 164.8, 116.3]),
        below: Curve([8.51, 169.8, 609.8, 119.9, 106.6]),
        above: Curve([8.43, 8.19, 136.2, 188.5, 122.9]),
        f_below: EVEN,
        f_above: EVEN,
        ducting: (1.518, 1.282),
    },
];

/// Deviate exceeded with probability `q`, as the model approximates it: the
/// formula of [`crate::inverse_normal`] with one constant two digits shorter
/// and without its limits.
pub(super) fn deviate(q: f64) -> f64 {
    let q = q.clamp(1e-12, 1.0 - 1e-12);
    let tail = if q > 0.5 { 1.0 - q } else { q };
    let t = (-2.0 * tail.ln()).sqrt();
    let z = t
        - ((0.010328 * t + 0.802853) * t + 2.515516)
            / (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0);
    if q > 0.5 { -z } else { z }
}

/// What the reference attenuation is surrounded by.
pub(super) struct Surroundings {
    pub(super) d_m: f64,
    pub(super) he_m: [f64; 2],
    /// Range of heights within the path. \[m\]
    pub(super) range_m: f64,
    pub(super) a_ref_db: f64,
}

/// How the reference attenuation is turned into the one asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Deviates of time, location and situation, as pooled. Positive: less loss.
    pub deviates: [f64; 3],
    /// Effective distance. \[km\]
    pub de_km: f64,
    /// Median of all the year beyond the reference attenuation. \[dB\]
    pub v_med_db: f64,
    /// Standard deviation over time on the side asked for. \[dB\]
    pub sigma_t_db: f64,
    /// Standard deviation over locations. \[dB\]
    pub sigma_l_db: f64,
    /// Standard deviation between situations. \[dB\]
    pub sigma_s_db: f64,
    /// Part of the deviation that is pooled with nothing. \[dB\]
    pub y_r_db: f64,
    /// Part of the deviation that goes with the situation. \[dB\]
    pub y_s_db: f64,
    /// Attenuation beyond free space for the percentages asked for. \[dB\]
    pub attenuation_db: f64,
}

impl Spread {
    pub(super) fn of(link: &Link, settings: &Settings, around: &Surroundings) -> Self {
        let statistics = &STATISTICS[settings.climate as usize];
        let k = link.f_mhz / 47.7;
        let de_km = effective_distance_km(around, k);
        let mode = settings.variability;
        let sigma_s_db = match mode.without_situation {
            true => 0.0,
            false => 5.0 + 3.0 * (-de_km / 100.0).exp(),
        };
        let sigma_l_db = match mode.without_location {
            true => 0.0,
            false => 10.0 * k * around.range_m / (k * around.range_m + 13.0),
        };
        let deviates = deviates(link, settings);
        let [z_t, z_l, z_s] = deviates;
        let sigma_t_db = statistics.over_time_db(de_km, (0.133 * k).ln(), z_t);
        let (y_t, y_l) = (sigma_t_db * z_t, sigma_l_db * z_l);
        let u = sigma_s_db * sigma_s_db
            + y_t * y_t / (7.8 + z_s * z_s)
            + y_l * y_l / (24.0 + z_s * z_s);
        let (t2, l2) = (sigma_t_db * sigma_t_db, sigma_l_db * sigma_l_db);
        let (y_r_db, y_s_db) = match mode.pooling {
            Pooling::SingleMessage => (0.0, (t2 + l2 + u).sqrt() * z_s),
            Pooling::Individual => (y_t, (l2 + u).sqrt() * z_s),
            Pooling::Mobile => ((t2 + l2).sqrt() * z_t, u.sqrt() * z_s),
            Pooling::Broadcast => (y_t + y_l, u.sqrt() * z_s),
        };
        let v_med_db = statistics.median.at(de_km);
        let sum = around.a_ref_db - v_med_db - y_r_db - y_s_db;
        Self {
            deviates,
            de_km,
            v_med_db,
            sigma_t_db,
            sigma_l_db,
            sigma_s_db,
            y_r_db,
            y_s_db,
            attenuation_db: if sum < 0.0 {
                sum * (29.0 - sum) / (29.0 - 10.0 * sum)
            } else {
                sum
            },
        }
    }
}

/// Deviates of time, location and situation, pooled.
fn deviates(link: &Link, settings: &Settings) -> [f64; 3] {
    let time = || deviate(link.time_pct / 100.0);
    let situation = deviate(settings.situation_pct / 100.0);
    match settings.variability.pooling {
        Pooling::SingleMessage => [situation; 3],
        Pooling::Individual => [time(), situation, situation],
        Pooling::Mobile => {
            let time = time();
            [time, time, situation]
        }
        Pooling::Broadcast => [time(), deviate(link.location_pct / 100.0), situation],
    }
}

fn effective_distance_km(around: &Surroundings, k: f64) -> f64 {
    let [h1, h2] = around.he_m.map(|he| (2.0 * 9000e3 * he).sqrt());
    let reach = h1 + h2 + (575.7e12 / k).cbrt();
    let de_m = if around.d_m < reach {
        130e3 * around.d_m / reach
    } else {
        130e3 + around.d_m - reach
    };
    de_m / 1e3
}

impl Statistics {
    /// Standard deviation over time on the side of the deviate `z`. \[dB\]
    fn over_time_db(&self, de_km: f64, q: f64, z: f64) -> f64 {
        if z < 0.0 {
            return self.below.at(de_km) * self.f_below.at(q);
        }
        let above = self.above.at(de_km) * self.f_above.at(q);
        let (ratio, from) = self.ducting;
        if z <= from {
            above
        } else {
            let rare = ratio * above;
            rare + (above - rare) * from / z
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path_loss::itm::Climate;

    /// Source: standard normal table, Abramowitz and Stegun, Table 26.1; the
    /// approximation errs by up to 4.5e-4.
    #[test]
    fn ref_deviate() {
        for (q, z) in [(0.5, 0.0), (0.1, 1.281_552), (0.99, -2.326_348)] {
            assert!((deviate(q) - z).abs() < 4.5e-4, "{q}");
        }
    }

    /// Every climate has a row.
    #[test]
    fn exact_statistics_per_climate() {
        assert_eq!(Climate::ALL.len(), STATISTICS.len());
    }
}
