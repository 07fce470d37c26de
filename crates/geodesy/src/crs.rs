//! Coordinate reference systems: what a file says about its coordinates, and
//! the way from there to WGS 84 and back.
//!
//! A system comes from an EPSG code ([`Crs::from_epsg`]), projection
//! parameters ([`Crs::from_proj`]), the text of a `.prj` file
//! ([`Crs::from_wkt`]) or the geo keys of a TIFF ([`geo_keys::GeoKeys`]);
//! [`Crs::parse`] takes whichever of these a person wrote. A system whose
//! datum shift to WGS 84 is unknown is refused: taking one datum for another
//! moves the ground by up to some hundred metres without a trace.

mod datum;
pub mod geo_keys;

use std::fmt;
use std::sync::{Arc, LazyLock};

use proj4rs::Proj;
use proj4rs::transform::transform;

use crate::LonLat;
use crate::lonlat::wrap_lon_deg;

/// WGS 84 itself, the side that every transform has in common.
static WGS84: LazyLock<Proj> = LazyLock::new(|| {
    Proj::from_proj_string("+proj=longlat +datum=WGS84 +no_defs")
        .expect("the parameters of WGS 84 are complete")
});

/// A coordinate reference system. Cheap to clone; equal when its parameters
/// are.
#[derive(Clone)]
pub struct Crs {
    inner: Arc<Inner>,
}

struct Inner {
    name: String,
    parameters: String,
    epsg: Option<u32>,
    proj: Proj,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Degrees on a datum equal to WGS 84: nothing to compute.
    GeographicWgs84,
    /// Degrees on another datum.
    GeographicShifted,
    /// Map units of a projection.
    Projected,
}

/// A position in the units of some [`Crs`]: degrees for a geographic system,
/// the system's own length unit (metre or foot) for a projected one. `x` is
/// always east-like, `y` north-like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapXy {
    /// Easting or longitude.
    pub x: f64,
    /// Northing or latitude.
    pub y: f64,
}

/// Why a reference system cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CrsError {
    /// No such code among the EPSG definitions.
    #[error(
        "`EPSG:{code}` is no known reference system\nhint: check the code, or give the projection parameters"
    )]
    UnknownEpsg {
        /// The code as given.
        code: u32,
    },
    /// The system is known but is not a map of the ground.
    #[error(
        "reference system `{name}` is not supported: {reason}\nhint: reproject the file, for example to its UTM zone"
    )]
    Unsupported {
        /// The system in words.
        name: String,
        /// What stands in the way.
        reason: String,
    },
    /// The datum shift is defined by a grid file.
    #[error(
        "reference system `{name}` needs a datum grid that is not part of this program\nhint: reproject the file to WGS 84 or to its UTM zone on WGS 84"
    )]
    NeedsShiftGrid {
        /// The system in words.
        name: String,
    },
    /// The datum is neither WGS 84 nor one with a known shift.
    #[error(
        "reference system `{name}` does not say how its datum lies to WGS 84\nhint: name the system by its EPSG code, or add `+towgs84=` to its parameters"
    )]
    UnknownDatum {
        /// The system in words.
        name: String,
    },
    /// The text is not a description of a reference system.
    #[error(
        "`{text}` does not describe a reference system: {reason}\nhint: write `EPSG:` and the code, or projection parameters that start with `+proj=`"
    )]
    Text {
        /// The beginning of the text.
        text: String,
        /// What the reader stumbled over.
        reason: String,
    },
    /// The position cannot be expressed in the other system.
    #[error(
        "position `{position}` lies outside what `{name}` can show: {reason}\nhint: check that the file's reference system is the right one"
    )]
    OutsideArea {
        /// The position in words.
        position: String,
        /// The system in words.
        name: String,
        /// What the projection says.
        reason: String,
    },
}

impl Crs {
    /// WGS 84 longitude and latitude in degrees, EPSG:4326.
    pub fn wgs84() -> Self {
        Self::from_epsg(4326).expect("EPSG:4326 is among the definitions")
    }

    /// The system of an EPSG code.
    pub fn from_epsg(code: u32) -> Result<Self, CrsError> {
        let definition = u16::try_from(code)
            .ok()
            .and_then(crs_definitions::from_code)
            .filter(|d| !d.proj4.trim().is_empty())
            .ok_or(CrsError::UnknownEpsg { code })?;
        Self::build(format!("EPSG:{code}"), definition.proj4, None, Some(code))
    }

    /// The system of a parameter text such as
    /// `+proj=utm +zone=32 +datum=WGS84`.
    pub fn from_proj(parameters: &str) -> Result<Self, CrsError> {
        let parameters = parameters.trim();
        Self::build(shorten(parameters), parameters, None, None)
    }

    /// The system of a well-known text, as found in `.prj` files.
    ///
    /// The text rarely says how its datum lies to WGS 84; for the common
    /// datums it is added by the datum's name.
    pub fn from_wkt(text: &str) -> Result<Self, CrsError> {
        let text = text
            .trim()
            .trim_start_matches('\u{feff}')
            .trim_end_matches('\0');
        if text.len() > MAX_WKT_BYTES || nesting(text) > MAX_WKT_NESTING {
            return Err(CrsError::Text {
                text: shorten(text),
                reason: "it is far longer or deeper than any reference system".into(),
            });
        }
        let parameters = proj4wkt::wkt_to_projstring(text).map_err(|e| CrsError::Text {
            text: shorten(text),
            reason: e.to_string(),
        })?;
        let name = datum::quoted_after(text, "[").unwrap_or("unnamed");
        let datum = datum::quoted_after(text, "DATUM[");
        Self::build(name.to_owned(), &parameters, datum, None)
    }

    /// The system that a person named: `EPSG:` and a code, parameters with
    /// `+proj=`, or well-known text.
    pub fn parse(text: &str) -> Result<Self, CrsError> {
        let text = text.trim();
        let code = text
            .get(..5)
            .filter(|head| head.eq_ignore_ascii_case("epsg:"))
            .map(|_| text[5..].trim());
        if let Some(code) = code {
            let code = code.parse().map_err(|_| CrsError::Text {
                text: shorten(text),
                reason: "the code is not a number".into(),
            })?;
            return Self::from_epsg(code);
        }
        if text.contains('[') {
            return Self::from_wkt(text);
        }
        Self::from_proj(text)
    }

    fn build(
        name: String,
        parameters: &str,
        datum_name: Option<&str>,
        epsg: Option<u32>,
    ) -> Result<Self, CrsError> {
        let parameters = datum::complete(&name, parameters, datum_name)?;
        let proj = Proj::from_proj_string(&parameters).map_err(|e| CrsError::Unsupported {
            name: name.clone(),
            reason: e.to_string(),
        })?;
        if proj.is_geocent() || !proj.has_inverse() || !proj.has_forward() {
            return Err(CrsError::Unsupported {
                name,
                reason: "it does not map the ground both ways".into(),
            });
        }
        let kind = match (proj.is_latlong(), datum::is_wgs84(&parameters)) {
            (true, true) => Kind::GeographicWgs84,
            (true, false) => Kind::GeographicShifted,
            (false, _) => Kind::Projected,
        };
        let inner = Inner {
            name,
            parameters,
            epsg,
            proj,
            kind,
        };
        Ok(Self {
            inner: Arc::new(inner),
        })
    }

    /// The system in words: its EPSG code where known, else its own name.
    pub fn name(&self) -> &str {
        &self.inner.name
    }

    /// The EPSG code, where the system came from one.
    pub fn epsg(&self) -> Option<u32> {
        self.inner.epsg
    }

    /// The projection parameters, with the datum shift made explicit.
    pub fn parameters(&self) -> &str {
        &self.inner.parameters
    }

    /// Whether coordinates are longitude and latitude in degrees.
    pub fn is_geographic(&self) -> bool {
        self.inner.kind != Kind::Projected
    }

    /// Metres per map unit of a projected system; `None` for degrees.
    ///
    /// This is the unit of the map, not the scale on the ground: a projection
    /// may stretch (Web Mercator by 1/cos of the latitude).
    pub fn metres_per_unit(&self) -> Option<f64> {
        (!self.is_geographic()).then(|| self.inner.proj.to_meter())
    }

    /// A place in this system's coordinates, with the datum shift.
    pub fn to_map(&self, place: LonLat) -> Result<MapXy, CrsError> {
        let (lon_deg, lat_deg) = (place.lon_deg(), place.lat_deg());
        if self.inner.kind == Kind::GeographicWgs84 {
            return Ok(MapXy {
                x: lon_deg,
                y: lat_deg,
            });
        }
        let mut at = (lon_deg.to_radians(), lat_deg.to_radians());
        transform(&WGS84, &self.inner.proj, &mut at)
            .map_err(|e| self.outside(place.to_string(), e.to_string()))?;
        if self.is_geographic() {
            at = (at.0.to_degrees(), at.1.to_degrees());
        }
        if !at.0.is_finite() || !at.1.is_finite() {
            return Err(self.outside(place.to_string(), "no finite coordinates".into()));
        }
        Ok(MapXy { x: at.0, y: at.1 })
    }

    /// The place at a position of this system, with the datum shift.
    pub fn to_lonlat(&self, at: MapXy) -> Result<LonLat, CrsError> {
        let position = || format!("{}, {}", at.x, at.y);
        let mut place = (at.x, at.y);
        if !place.0.is_finite() || !place.1.is_finite() {
            return Err(self.outside(position(), "not a number".into()));
        }
        if self.is_geographic() {
            if at.y.abs() > 90.0 || at.x.abs() > 720.0 {
                return Err(self.outside(position(), "no longitude and latitude".into()));
            }
            place = (wrap_lon_deg(at.x, 0.0).to_radians(), at.y.to_radians());
        }
        if self.inner.kind == Kind::GeographicWgs84 {
            return LonLat::new(wrap_lon_deg(at.x, 0.0), at.y)
                .map_err(|e| self.outside(position(), e.to_string()));
        }
        transform(&self.inner.proj, &WGS84, &mut place)
            .map_err(|e| self.outside(position(), e.to_string()))?;
        let (lon_deg, lat_deg) = (place.0.to_degrees(), place.1.to_degrees());
        if !lon_deg.is_finite() {
            return Err(self.outside(position(), "no finite longitude".into()));
        }
        LonLat::new(wrap_lon_deg(lon_deg, 0.0), lat_deg)
            .map_err(|e| self.outside(position(), e.to_string()))
    }

    fn outside(&self, position: String, reason: String) -> CrsError {
        CrsError::OutsideArea {
            position,
            name: self.inner.name.clone(),
            reason,
        }
    }
}

/// No reference system in use comes near these; the parser of well-known
/// text is recursive.
const MAX_WKT_BYTES: usize = 65_536;
const MAX_WKT_NESTING: usize = 32;

/// How deep the brackets of a well-known text go.
fn nesting(text: &str) -> usize {
    let mut depth = 0_usize;
    let mut deepest = 0;
    for c in text.chars() {
        match c {
            '[' | '(' => depth += 1,
            ']' | ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        deepest = deepest.max(depth);
    }
    deepest
}

/// The beginning of a text, for messages.
fn shorten(text: &str) -> String {
    let mut short: String = text.chars().take(80).filter(|c| !c.is_control()).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

impl PartialEq for Crs {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.inner, &other.inner) || self.inner.parameters == other.inner.parameters
    }
}

impl fmt::Debug for Crs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Crs")
            .field("name", &self.inner.name)
            .field("parameters", &self.inner.parameters)
            .finish()
    }
}

impl fmt::Display for Crs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.inner.name)
    }
}
