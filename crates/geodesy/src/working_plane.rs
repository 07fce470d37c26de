//! The flat map of a territory: one UTM zone on WGS 84.

use crate::crs::{Crs, MapXy};
use crate::lonlat::wrap_lon_deg;
use crate::{LocalXy, LonLat};

/// Which half of the Earth a UTM zone is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hemisphere {
    /// Northings count from the equator.
    North,
    /// Northings count from 10 000 km south of the equator.
    South,
}

/// A UTM zone as working plane.
#[derive(Debug, Clone)]
pub struct WorkingPlane {
    zone: u8,
    hemisphere: Hemisphere,
    crs: Crs,
}

/// A working plane that cannot be had, or a place it cannot show.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WorkingPlaneError {
    /// UTM has zones 1 to 60.
    #[error("UTM zone `{zone}` does not exist\nhint: zones run from 1 to 60")]
    Zone {
        /// The zone as given.
        zone: u8,
    },
    /// The position is too far from the zone for the projection to converge.
    #[error(
        "`{position}` is too far from UTM zone {zone} to be shown in it\nhint: name the zone of the territory"
    )]
    TooFar {
        /// The position in words.
        position: String,
        /// The zone of the plane.
        zone: u8,
    },
}

impl WorkingPlane {
    /// The plane of a UTM zone, 1 to 60.
    pub fn new(zone: u8, hemisphere: Hemisphere) -> Result<Self, WorkingPlaneError> {
        if !(1..=60).contains(&zone) {
            return Err(WorkingPlaneError::Zone { zone });
        }
        let base = match hemisphere {
            Hemisphere::North => 32_600,
            Hemisphere::South => 32_700,
        };
        let crs =
            Crs::from_epsg(base + u32::from(zone)).map_err(|_| WorkingPlaneError::Zone { zone })?;
        Ok(Self {
            zone,
            hemisphere,
            crs,
        })
    }

    /// The plane whose zone holds `place`; the special zones of Norway and
    /// Svalbard are not applied.
    pub fn for_place(place: LonLat) -> Result<Self, WorkingPlaneError> {
        let zone = ((place.lon_deg() + 180.0) / 6.0).floor() as u8 + 1;
        let hemisphere = if place.lat_deg() < 0.0 {
            Hemisphere::South
        } else {
            Hemisphere::North
        };
        Self::new(zone.min(60), hemisphere)
    }

    /// The UTM zone, 1 to 60.
    pub fn zone(&self) -> u8 {
        self.zone
    }

    /// Where the northings count from.
    pub fn hemisphere(&self) -> Hemisphere {
        self.hemisphere
    }

    /// The same plane as a reference system, for writing files in it.
    pub fn crs(&self) -> &Crs {
        &self.crs
    }

    /// A place in the plane's metres.
    pub fn to_local(&self, place: LonLat) -> Result<LocalXy, WorkingPlaneError> {
        let too_far = |_| WorkingPlaneError::TooFar {
            position: place.to_string(),
            zone: self.zone,
        };
        let MapXy { x, y } = self.crs.to_map(place).map_err(too_far)?;
        Ok(LocalXy { x_m: x, y_m: y })
    }

    /// The place at a position in the plane.
    pub fn to_lonlat(&self, at: LocalXy) -> Result<LonLat, WorkingPlaneError> {
        let too_far = |_| WorkingPlaneError::TooFar {
            position: format!("{:.0} m, {:.0} m", at.x_m, at.y_m),
            zone: self.zone,
        };
        let map = MapXy {
            x: at.x_m,
            y: at.y_m,
        };
        self.crs.to_lonlat(map).map_err(too_far)
    }

    /// Grid convergence: the direction of the plane's grid north, clockwise
    /// from true north. \[deg\]
    ///
    /// True azimuth = grid azimuth + convergence. Positive east of the
    /// zone's central meridian in the northern hemisphere.
    ///
    /// Source: Krüger's series in n to fourth order, as in C. F. F. Karney,
    /// "Transverse Mercator with an accuracy of a few nanometers", J. Geodesy
    /// 85 (2011), equations 7 to 9, 12, 23 and 24.
    pub fn grid_convergence_deg(&self, place: LonLat) -> f64 {
        let central_deg = 6.0 * f64::from(self.zone) - 183.0;
        let w = (wrap_lon_deg(place.lon_deg(), central_deg) - central_deg).to_radians();
        let n = FLATTENING / (2.0 - FLATTENING);
        let e2s = 2.0 * n.sqrt() / (1.0 + n);
        let sin_lat = place.lat_deg().to_radians().sin();
        let t = (sin_lat.atanh() - e2s * (e2s * sin_lat).atanh()).sinh();
        let xi = t.atan2(w.cos());
        let eta = (w.sin() / t.hypot(1.0)).atanh();
        let (mut p, mut q) = (1.0, 0.0);
        for (j, alpha) in (1..).zip(kruger_alpha(n)) {
            let k = 2.0 * f64::from(j);
            p += k * alpha * (k * xi).cos() * (k * eta).cosh();
            q += k * alpha * (k * xi).sin() * (k * eta).sinh();
        }
        let r = t.hypot(1.0);
        (q * r + p * t * w.tan())
            .atan2(p * r - q * t * w.tan())
            .to_degrees()
    }
}

/// Flattening of WGS 84.
const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// Krüger's coefficients of the forward series, first to fourth order in n.
fn kruger_alpha(n: f64) -> [f64; 4] {
    [
        n / 2.0 - 2.0 * n.powi(2) / 3.0 + 5.0 * n.powi(3) / 16.0 + 41.0 * n.powi(4) / 180.0,
        13.0 * n.powi(2) / 48.0 - 3.0 * n.powi(3) / 5.0 + 557.0 * n.powi(4) / 1440.0,
        61.0 * n.powi(3) / 240.0 - 103.0 * n.powi(4) / 140.0,
        49561.0 * n.powi(4) / 161_280.0,
    ]
}
