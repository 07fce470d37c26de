//! How often a service link meets its plan, fading in the air considered.
//!
//! The fade that a link can stand is its margin plus the design's fade margin,
//! which the required SINR has in it already. How often a deeper one comes is
//! counted as for a hop ([`crate::hop::fading`]): multipath and rain, ITU-R
//! P.530. Both fade the wanted signal while interference may stay as it is, so
//! the SINR falls by no more than the fade.
//!
//! This holds for a ray that is clear. Over an obstacle the level swings with
//! the bending of the ray, which the path-loss model has in its share of time,
//! and among houses or behind walls nothing is stated: no figure is given then.
//! Equipment, power and people's mistakes come on top.

use model::climate::{FadingClimate, RAIN_FROM_MHZ};
use model::network::{Mounting, Premises};
use physics::hop::Hop;
use serde::Serialize;

use crate::hop::fading::{Fading, FadingPath, Outage};
use crate::matrix::PathSummary;
use crate::polarization;
use crate::radio::{ReadyNetwork, ReadySector};

/// How often a link meets its plan, by propagation alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LinkAvailability {
    /// Fade that the plan bears: the smaller margin of the two directions plus the design's fade margin.
    pub fade_depth_db: f64,
    /// Share of an average year without a deeper fade.
    pub availability_year_pct: f64,
    /// Share of an average worst month without a deeper fade.
    pub availability_worst_month_pct: f64,
    /// Shares of the time with one, by cause.
    pub outage: Outage,
}

/// Why no availability is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoAvailability {
    /// The plan is not met in clear air.
    PlanNotMet,
    /// Ground or clutter blocks the ray: its swings are in the time percentage of the path-loss model.
    NotLineOfSight,
    /// The terminal stands below the roofs or indoors, which the method does not know.
    AroundTerminal,
}

impl NoAvailability {
    /// What a person reads.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::PlanNotMet => "the plan is not met in clear air",
            Self::NotLineOfSight => {
                "the ray is blocked; its swings are in the path loss's share of time"
            }
            Self::AroundTerminal => "the terminal stands below the roofs or indoors",
        }
    }
}

/// The availability of a premises and a sector.
///
/// * `margin_db`: smaller margin of the two directions; `None` where no step gives the plan's rate.
pub fn of(
    ready: &ReadyNetwork<'_>,
    (premises, sector): (usize, usize),
    path: &PathSummary,
    margin_db: Option<f64>,
) -> Result<LinkAvailability, NoAvailability> {
    let (network, s) = (ready.network, &ready.sectors[sector]);
    let p = &network.premises[premises];
    let margin_db = margin_db.filter(|m| *m >= 0.0);
    let margin_db = margin_db.ok_or(NoAvailability::PlanNotMet)?;
    if p.mounting != Mounting::Open {
        return Err(NoAvailability::AroundTerminal);
    }
    if path.clearance_ratio < 0.0 {
        return Err(NoAvailability::NotLineOfSight);
    }
    let path = fading_path(s, p, path);
    let climate = felt(network.climate, s.sector.channel.centre_mhz);
    let fade_depth_db = margin_db + network.study.fade_margin_db;
    let outage = Fading::new(&path, &climate).outage(fade_depth_db);
    Ok(LinkAvailability {
        fade_depth_db,
        availability_year_pct: 100.0 - outage.year_pct,
        availability_worst_month_pct: 100.0 - outage.worst_month_pct,
        outage,
    })
}

fn fading_path(sector: &ReadySector<'_>, premises: &Premises, path: &PathSummary) -> FadingPath {
    let [tx_amsl_m, rx_amsl_m] = path.ends_amsl_m;
    FadingPath {
        geometry: Hop {
            d_km: path.distance_m / 1e3,
            f_ghz: sector.sector.channel.centre_mhz / 1e3,
            tx_amsl_m,
            rx_amsl_m,
            mean_terrain_amsl_m: path.mean_ground_amsl_m,
        },
        polarization: polarization::of_path(sector.sector.antenna.polarization),
        lat_deg: (sector.mast.position.lat_deg() + premises.position.lat_deg()) / 2.0,
    }
}

/// The climate as a frequency feels it.
fn felt(climate: FadingClimate, f_mhz: f64) -> FadingClimate {
    if f_mhz >= RAIN_FROM_MHZ {
        return climate;
    }
    FadingClimate {
        rain_001_mm_per_h: 0.0,
        ..climate
    }
}
