//! What goes over the wire: requests and answers, as the page and any other
//! program see them. Names are those of the result files; every number's name
//! ends in its unit.

pub mod busy_hour;
pub mod change;
pub mod consequence;
pub mod coverage;
pub mod event;
pub mod finding;
pub mod import;
pub mod network;
pub mod premises;
pub mod problem;
pub mod project;
pub mod sector;
pub mod why;

use geodesy::LonLat;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A place, WGS 84.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// Longitude, east positive.
    #[schema(minimum = -180, maximum = 180)]
    pub lon_deg: f64,
    /// Latitude, north positive.
    #[schema(minimum = -90, maximum = 90)]
    pub lat_deg: f64,
}

impl From<LonLat> for Place {
    fn from(place: LonLat) -> Self {
        Self {
            lon_deg: place.lon_deg(),
            lat_deg: place.lat_deg(),
        }
    }
}

/// A box between two meridians and two parallels, WGS 84.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Bounds {
    /// Western side.
    pub west_deg: f64,
    /// Southern side.
    pub south_deg: f64,
    /// Eastern side; beyond 180 where the box spans that meridian.
    pub east_deg: f64,
    /// Northern side.
    pub north_deg: f64,
}
