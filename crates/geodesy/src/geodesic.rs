//! Shortest lines on the WGS 84 ellipsoid, by Karney's method.
//!
//! Source: C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87 (2013),
//! as implemented by GeographicLib.

use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use crate::LonLat;
use crate::lonlat::wrap_lon_deg;

static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// The shortest line between two places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeodesicPath {
    /// Where the line starts.
    pub start: LonLat,
    /// Where it ends.
    pub end: LonLat,
    /// Length along the ellipsoid, m.
    pub distance_m: f64,
    /// Direction at the start towards the end, clockwise from true north,
    /// in [0, 360).
    pub azimuth_deg: f64,
    /// Direction at the end back towards the start, clockwise from true
    /// north, in [0, 360).
    pub back_azimuth_deg: f64,
}

impl GeodesicPath {
    /// The place `distance_m` along the line from its start. \[m\]
    ///
    /// Distances beyond the end continue the same geodesic, negative ones go
    /// the other way.
    pub fn point_at(&self, distance_m: f64) -> LonLat {
        direct(self.start, self.azimuth_deg, distance_m)
    }

    /// `count` places at equal steps from start to end, both included.
    /// Fewer than two counts as two.
    pub fn points(&self, count: usize) -> Vec<LonLat> {
        let last = count.max(2) - 1;
        (0..=last)
            .map(|i| match i {
                0 => self.start,
                i if i == last => self.end,
                i => self.point_at(self.distance_m * (i as f64 / last as f64)),
            })
            .collect()
    }
}

/// The shortest line from `start` to `end`.
///
/// Coincident places give distance 0 and azimuths 0 and 180.
pub fn inverse(start: LonLat, end: LonLat) -> GeodesicPath {
    let (distance_m, azi1_deg, azi2_deg, _arc_deg): (f64, f64, f64, f64) = WGS84.inverse(
        start.lat_deg(),
        start.lon_deg(),
        end.lat_deg(),
        end.lon_deg(),
    );
    GeodesicPath {
        start,
        end,
        distance_m,
        azimuth_deg: wrap_lon_deg(azi1_deg, 180.0),
        back_azimuth_deg: wrap_lon_deg(azi2_deg + 180.0, 180.0),
    }
}

/// The place reached from `start` in direction `azimuth_deg` (clockwise from
/// true north) after `distance_m` metres along the geodesic.
pub fn direct(start: LonLat, azimuth_deg: f64, distance_m: f64) -> LonLat {
    let (lat_deg, lon_deg): (f64, f64) =
        WGS84.direct(start.lat_deg(), start.lon_deg(), azimuth_deg, distance_m);
    // Only a distance or azimuth that is not a number gets here with no place.
    LonLat::new(wrap_lon_deg(lon_deg, 0.0), lat_deg.clamp(-90.0, 90.0)).unwrap_or(start)
}
