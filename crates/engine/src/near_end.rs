//! What stands around the terminal beyond what the rasters show, as terms of
//! their own that are never counted twice.

use model::network::Mounting;
use physics::building_entry::{Building, building_entry};
use physics::terminal_clutter::terrestrial;
use serde::Serialize;

/// Stretch before a terminal below the roofs whose mapped clutter gives way to
/// the statistical loss: the shortest path that ITU-R P.2108 section 3.2 is stated for.
pub const NEAR_STRETCH_M: f64 = 250.0;

/// Terms at the terminal's end of a path.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct NearEnd {
    /// Median loss of a terminal below the roofs, ITU-R P.2108-1 section 3.2.
    pub clutter_loss_db: f64,
    /// Median loss into the building, ITU-R P.2109.
    pub entry_loss_db: f64,
    /// Standard deviation of both over such places.
    pub sigma_db: f64,
}

impl NearEnd {
    /// Terms of a mounting.
    ///
    /// * `elevation_deg`: of the ray at the terminal.
    pub fn of(mounting: Mounting, frequency_mhz: f64, distance_m: f64, elevation_deg: f64) -> Self {
        let f_ghz = frequency_mhz / 1e3;
        match mounting {
            Mounting::Open => Self::default(),
            Mounting::BelowRoofs => {
                let d_km = (distance_m / 1e3).max(NEAR_STRETCH_M / 1e3);
                let clutter = terrestrial(f_ghz, d_km, 50.0);
                Self {
                    clutter_loss_db: clutter.l_ctt_db,
                    sigma_db: clutter.sigma_cb_db,
                    ..Self::default()
                }
            }
            Mounting::IndoorTraditional => {
                Self::indoor(Building::Traditional, f_ghz, elevation_deg)
            }
            Mounting::IndoorEfficient => {
                Self::indoor(Building::ThermallyEfficient, f_ghz, elevation_deg)
            }
        }
    }

    fn indoor(building: Building, f_ghz: f64, elevation_deg: f64) -> Self {
        let at = |probability_pct| {
            building_entry(building, f_ghz, elevation_deg, probability_pct).loss_db
        };
        // The distribution is not normal; one deviation above the median
        // stands for its spread.
        let one_deviation_pct = 100.0 * physics::normal::cumulative_frac(1.0);
        Self {
            entry_loss_db: at(50.0),
            sigma_db: at(one_deviation_pct) - at(50.0),
            ..Self::default()
        }
    }

    /// Sum of the losses.
    pub fn loss_db(&self) -> f64 {
        self.clutter_loss_db + self.entry_loss_db
    }
}
