//! The two kinds of position that travel through the program.

use std::fmt;

use serde::Serialize;

/// A place on WGS 84: longitude east of Greenwich in [-180, 180) degrees,
/// geodetic latitude in [-90, 90] degrees.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LonLat {
    lon_deg: f64,
    lat_deg: f64,
}

/// Numbers that are no place on Earth.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LonLatError {
    /// The longitude is not a number within one turn either way.
    #[error(
        "longitude `{lon_deg}` is not between -360 and 360 degrees\nhint: the longitude comes first, in degrees, east positive"
    )]
    Longitude {
        /// The longitude as given.
        lon_deg: f64,
    },
    /// The latitude is not a number between the poles.
    #[error(
        "latitude `{lat_deg}` is not between -90 and 90 degrees\nhint: the longitude comes first, the latitude second"
    )]
    Latitude {
        /// The latitude as given.
        lat_deg: f64,
    },
}

impl LonLat {
    /// A place from longitude and latitude in degrees.
    ///
    /// The longitude may be anywhere within [-360, 360] and is brought into
    /// [-180, 180); the latitude must lie within [-90, 90].
    pub fn new(lon_deg: f64, lat_deg: f64) -> Result<Self, LonLatError> {
        if !(-360.0..=360.0).contains(&lon_deg) {
            return Err(LonLatError::Longitude { lon_deg });
        }
        if !(-90.0..=90.0).contains(&lat_deg) {
            return Err(LonLatError::Latitude { lat_deg });
        }
        Ok(Self {
            lon_deg: wrap_lon_deg(lon_deg, 0.0),
            lat_deg,
        })
    }

    /// The longitude, degrees east, in [-180, 180).
    pub fn lon_deg(self) -> f64 {
        self.lon_deg
    }

    /// The geodetic latitude, degrees north, in [-90, 90].
    pub fn lat_deg(self) -> f64 {
        self.lat_deg
    }
}

impl fmt::Display for LonLat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.6}, {:.6}", self.lon_deg, self.lat_deg)
    }
}

/// A place in a [`WorkingPlane`](crate::WorkingPlane): metres east and north
/// of the plane's false origin. Distances in it carry the plane's scale
/// error; take link distances from [`geodesic`](crate::geodesic).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LocalXy {
    /// Easting, m.
    pub x_m: f64,
    /// Northing, m.
    pub y_m: f64,
}

/// The same longitude within half a turn of `centre_deg`: in
/// [centre - 180, centre + 180).
pub fn wrap_lon_deg(lon_deg: f64, centre_deg: f64) -> f64 {
    let low_deg = centre_deg - 180.0;
    // Untouched inside the range, so that a longitude keeps its last digit.
    if lon_deg >= low_deg && lon_deg < low_deg + 360.0 {
        return lon_deg;
    }
    let wrapped_deg = low_deg + (lon_deg - low_deg).rem_euclid(360.0);
    if wrapped_deg >= low_deg + 360.0 {
        low_deg
    } else {
        wrapped_deg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_longitude_is_normalised() {
        for (given, kept) in [
            (180.0, -180.0),
            (190.0, -170.0),
            (-180.0, -180.0),
            (360.0, 0.0),
            (8.5, 8.5),
        ] {
            assert_eq!(LonLat::new(given, 0.0).unwrap().lon_deg(), kept);
        }
    }

    #[test]
    fn exact_impossible_places_are_refused() {
        for (lon_deg, lat_deg) in [
            (f64::NAN, 0.0),
            (0.0, f64::NAN),
            (361.0, 0.0),
            (0.0, 90.1),
            (f64::INFINITY, 0.0),
        ] {
            assert!(LonLat::new(lon_deg, lat_deg).is_err());
        }
    }
}
