//! How often a hop, or any clear path, fades deeper than a margin, in the average year and in the average worst month.

use model::backhaul::Hop;
use model::climate::FadingClimate;
use physics::hop::{
    self, C0Reading, Geoclimate, Margins, Multipath, RainFade, RainHop, Unavailability,
};
use physics::path_loss::{Polarization, Warning};
use physics::worst_month::Conversion;
use serde::Serialize;

use crate::hop::path::{HopPath, field};

/// Shares of the time in which a fade is deeper than a margin.
///
/// Multipath and rain are taken not to coincide, so they add up. For the worst
/// month that is an upper bound: the two need not have the same one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Outage {
    /// Multipath, average year.
    pub multipath_year_pct: f64,
    /// Multipath, average worst month.
    pub multipath_worst_month_pct: f64,
    /// Rain, average year; never below 0.001, the rarest the method knows.
    pub rain_year_pct: f64,
    /// Rain, average worst month.
    pub rain_worst_month_pct: f64,
    /// Both, average year.
    pub year_pct: f64,
    /// Both, average worst month.
    pub worst_month_pct: f64,
}

/// What fading asks of a path: a hop's or a service link's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FadingPath {
    /// Length, frequency and heights.
    pub geometry: hop::Hop,
    /// Orientation of the electric field.
    pub polarization: Polarization,
    /// Latitude of its middle.
    pub lat_deg: f64,
}

impl FadingPath {
    /// The path of a hop; `lat_deg` is the latitude of its middle.
    pub fn of_hop(hop: &Hop, path: &HopPath, lat_deg: f64) -> Self {
        Self {
            geometry: hop::Hop {
                d_km: path.distance_m / 1e3,
                f_ghz: hop.channel.centre_mhz / 1e3,
                tx_amsl_m: path.from_amsl_m,
                rx_amsl_m: path.to_amsl_m,
                mean_terrain_amsl_m: path.mean_ground_amsl_m,
            },
            polarization: field(hop.polarization),
            lat_deg,
        }
    }
}

/// The fading of one path, ready to be asked for any margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fading {
    path: FadingPath,
    geoclimate: Geoclimate,
    multipath: Multipath,
    rain_hop: RainHop,
    rain: RainFade,
}

impl Fading {
    /// The fading of a path in its climate.
    pub fn new(path: &FadingPath, climate: &FadingClimate) -> Self {
        let rain_hop = RainHop {
            d_km: path.geometry.d_km,
            f_ghz: path.geometry.f_ghz,
            polarization: path.polarization,
            rain001_mm_per_h: climate.rain_001_mm_per_h,
        };
        let geoclimate = geoclimate(climate);
        Self {
            path: *path,
            geoclimate,
            multipath: Multipath::of(&path.geometry, &geoclimate),
            rain_hop,
            rain: RainFade::of(&rain_hop, C0Reading::default()),
        }
    }

    /// Shares of the time in which a fade is deeper than `margin_db`; all of it where that is not positive.
    ///
    /// Source: ITU-R P.530-18, sections 2.3 and 2.4; the worst month of rain by ITU-R P.841.
    pub fn outage(&self, margin_db: f64) -> Outage {
        if margin_db <= 0.0 {
            return Outage {
                multipath_year_pct: 100.0,
                multipath_worst_month_pct: 100.0,
                rain_year_pct: 100.0,
                rain_worst_month_pct: 100.0,
                year_pct: 100.0,
                worst_month_pct: 100.0,
            };
        }
        let of = Unavailability::of(
            &self.path.geometry,
            &self.multipath,
            self.path.lat_deg,
            &self.rain,
            Margins::both(margin_db),
        );
        let rain_worst_month_pct = Conversion::GLOBAL.worst_month_pct(of.rain_year_pct);
        Outage {
            multipath_year_pct: of.multipath_year_pct,
            multipath_worst_month_pct: of.multipath_worst_month_pct,
            rain_year_pct: of.rain_year_pct,
            rain_worst_month_pct,
            year_pct: of.year_pct,
            worst_month_pct: (of.multipath_worst_month_pct + rain_worst_month_pct).min(100.0),
        }
    }

    /// Where the path leaves the range of the methods with a margin.
    pub fn range_warnings(&self, margin_db: f64) -> Vec<Warning> {
        Unavailability::warnings(
            &self.path.geometry,
            &self.geoclimate,
            &self.rain_hop,
            &self.rain,
            Margins::both(margin_db),
        )
    }
}

fn geoclimate(climate: &FadingClimate) -> Geoclimate {
    match climate.multipath_map {
        Some(map) => Geoclimate::Maps {
            log_k: map.log_k,
            dn75: map.gradient_75_n_per_km,
        },
        None => Geoclimate::Gradient {
            dn1: climate.gradient_1pct_n_per_km,
        },
    }
}
