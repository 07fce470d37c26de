//! Multipath and rain together: how much of the year a hop is down.

use super::RainCrossPolar;
use super::multipath::{Geoclimate, Hop, Multipath, year_offset_db};
use super::rain::{RainFade, RainHop};
use crate::path_loss::term::terms;
use crate::path_loss::{Term, Warning};

/// Minutes of an average year.
const MINUTES_PER_YEAR: f64 = 525_960.0;

/// What a receiver can lose before its threshold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// Flat fade margin in clear air: level without fading less threshold. \[dB\]
    pub multipath_db: f64,
    /// Margin in rain; the same unless rain finds other interference. \[dB\]
    pub rain_db: f64,
}

impl Margins {
    /// One margin for both.
    #[must_use]
    pub fn both(margin_db: f64) -> Self {
        Self {
            multipath_db: margin_db,
            rain_db: margin_db,
        }
    }
}

/// Unavailability of a hop in one direction, by cause.
///
/// Multipath fades are mostly short, rain fades long; the sum holds while each
/// is small. Equipment and power failures are not in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unavailability {
    /// Worst month less average year, ΔG. \[dB\]
    pub delta_g_db: f64,
    /// Multipath, average worst month. \[%\]
    pub multipath_worst_month_pct: f64,
    /// Multipath, average year. \[%\]
    pub multipath_year_pct: f64,
    /// Attenuation by rain, average year. \[%\]
    pub rain_year_pct: f64,
    /// Depolarization by rain, average year; 0 for one polarization. \[%\]
    pub cross_polar_year_pct: f64,
    /// Sum over the average year, the larger of the two effects of rain. \[%\]
    pub year_pct: f64,
}

impl Unavailability {
    /// Adds up a hop.
    ///
    /// * `lat_deg`: latitude of the path. Paths shorter than
    ///   [`Multipath::SHORTEST_KM`] take no multipath.
    ///
    /// Source: ITU-R P.530-18, sections 2.3, 2.4 and 7.
    #[must_use]
    pub fn of(
        hop: &Hop,
        multipath: &Multipath,
        lat_deg: f64,
        rain: &RainFade,
        margins: Margins,
    ) -> Self {
        let delta_g_db = year_offset_db(lat_deg, hop.d_km, multipath.eps_p_mrad);
        let (month_pct, year_pct) = if hop.d_km < Multipath::SHORTEST_KM {
            (0.0, 0.0)
        } else if margins.multipath_db <= 0.0 {
            (100.0, 100.0)
        } else {
            let a_db = margins.multipath_db;
            let month_pct = multipath.fade_pct(a_db);
            // Below At the two curves may cross; a year is no worse than its worst month.
            (
                month_pct,
                multipath.annual_fade_pct(a_db, delta_g_db).min(month_pct),
            )
        };
        Self {
            delta_g_db,
            multipath_worst_month_pct: month_pct.min(100.0),
            multipath_year_pct: year_pct.min(100.0),
            rain_year_pct: rain.exceeded_pct(margins.rain_db),
            cross_polar_year_pct: 0.0,
            year_pct: 0.0,
        }
        .summed()
    }

    /// The same for a radio that also fails by depolarization in rain.
    #[must_use]
    pub fn with_cross_polar(self, cross_polar: &RainCrossPolar) -> Self {
        Self {
            cross_polar_year_pct: 100.0 * cross_polar.outage_frac,
            ..self
        }
        .summed()
    }

    fn summed(self) -> Self {
        let rain_pct = self.rain_year_pct.max(self.cross_polar_year_pct);
        Self {
            year_pct: (self.multipath_year_pct + rain_pct).min(100.0),
            ..self
        }
    }

    /// Availability over the average year. \[%\]
    #[must_use]
    pub fn availability_pct(&self) -> f64 {
        100.0 - self.year_pct
    }

    /// Minutes down in an average year.
    #[must_use]
    pub fn minutes_per_year(&self) -> f64 {
        self.year_pct / 100.0 * MINUTES_PER_YEAR
    }

    /// The parts, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        terms![
            (
                "delta_g_db",
                self.delta_g_db,
                "dB",
                "worst month less average year"
            ),
            (
                "multipath_worst_month_pct",
                self.multipath_worst_month_pct,
                "%",
                "multipath, average worst month"
            ),
            (
                "multipath_year_pct",
                self.multipath_year_pct,
                "%",
                "multipath, average year"
            ),
            (
                "rain_year_pct",
                self.rain_year_pct,
                "%",
                "attenuation by rain, average year"
            ),
            (
                "cross_polar_year_pct",
                self.cross_polar_year_pct,
                "%",
                "depolarization by rain, average year"
            ),
            (
                "year_pct",
                self.year_pct,
                "%",
                "unavailability, average year"
            ),
            (
                "availability_pct",
                self.availability_pct(),
                "%",
                "availability, average year"
            ),
            (
                "minutes_per_year",
                self.minutes_per_year(),
                "min",
                "minutes down in an average year"
            ),
        ]
    }

    /// Where the input leaves the ranges of the methods.
    #[must_use]
    pub fn warnings(
        hop: &Hop,
        geoclimate: &Geoclimate,
        rain_hop: &RainHop,
        rain: &RainFade,
        margins: Margins,
    ) -> Vec<Warning> {
        let mut found = if hop.d_km < Multipath::SHORTEST_KM {
            Vec::new()
        } else {
            Multipath::warnings(hop, geoclimate)
        };
        found.extend(RainFade::warnings(rain_hop, RainFade::GREATEST_PCT));
        // Deeper than the deepest fade of the method is safe: it is counted as 0.001 %.
        found.extend(Warning::outside(&[(
            "rain_margin_db",
            margins.rain_db,
            rain.attenuation_db(RainFade::GREATEST_PCT),
            f64::MAX,
        )]));
        found
    }
}
