//! The geo keys of a GeoTIFF, as far as they name the horizontal system.
//!
//! Source: OGC 19-008r4, OGC GeoTIFF Standard 1.1, clauses 7 and Annex C.

use std::collections::BTreeMap;

use super::{Crs, CrsError, datum};

/// The value of one geo key.
#[derive(Debug, Clone, PartialEq)]
pub enum GeoKeyValue {
    /// A code.
    Short(u16),
    /// Numbers from the double parameters.
    Double(Vec<f64>),
    /// Text from the ASCII parameters, without the closing `|`.
    Ascii(String),
}

/// The geo keys of one file by their number.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct GeoKeys {
    keys: BTreeMap<u16, GeoKeyValue>,
}

/// "Defined by the other keys", wherever a code could stand.
const USER_DEFINED: u16 = 32_767;

/// Horizontal key numbers; the names are the standard's without `GeoKey`.
mod key {
    pub(super) const MODEL_TYPE: u16 = 1024;
    pub(super) const CITATION: u16 = 1026;
    pub(super) const GEODETIC_CRS: u16 = 2048;
    pub(super) const GEODETIC_CITATION: u16 = 2049;
    pub(super) const GEODETIC_DATUM: u16 = 2050;
    pub(super) const ELLIPSOID: u16 = 2056;
    pub(super) const SEMI_MAJOR: u16 = 2057;
    pub(super) const SEMI_MINOR: u16 = 2058;
    pub(super) const INV_FLATTENING: u16 = 2059;
    pub(super) const PRIME_MERIDIAN_LONG: u16 = 2061;
    pub(super) const TO_WGS84: u16 = 2062;
    pub(super) const PROJECTED_CRS: u16 = 3072;
    pub(super) const PROJECTED_CITATION: u16 = 3073;
    pub(super) const PROJECTION: u16 = 3074;
    pub(super) const METHOD: u16 = 3075;
    pub(super) const LINEAR_UNITS: u16 = 3076;
    pub(super) const LINEAR_UNIT_SIZE: u16 = 3077;
    pub(super) const STD_PARALLEL_1: u16 = 3078;
    pub(super) const STD_PARALLEL_2: u16 = 3079;
    pub(super) const ORIGIN_LONG: [u16; 4] = [3080, 3084, 3088, 3095];
    pub(super) const ORIGIN_LAT: [u16; 3] = [3081, 3085, 3089];
    pub(super) const FALSE_EASTING: [u16; 3] = [3082, 3086, 3090];
    pub(super) const FALSE_NORTHING: [u16; 3] = [3083, 3087, 3091];
    pub(super) const SCALE: [u16; 2] = [3092, 3093];
}

impl GeoKeys {
    /// Sets a key, as read from the directory.
    pub fn insert(&mut self, number: u16, value: GeoKeyValue) {
        self.keys.insert(number, value);
    }

    /// Whether the file has no geo keys.
    pub fn is_empty(&self) -> bool {
        self.keys.is_empty()
    }

    /// The code under a key.
    pub fn short(&self, number: u16) -> Option<u16> {
        match self.keys.get(&number) {
            Some(GeoKeyValue::Short(v)) => Some(*v),
            _ => None,
        }
    }

    /// The numbers under a key.
    pub fn doubles(&self, number: u16) -> Option<&[f64]> {
        match self.keys.get(&number) {
            Some(GeoKeyValue::Double(v)) if !v.is_empty() => Some(v),
            _ => None,
        }
    }

    /// The text under a key.
    pub fn text(&self, number: u16) -> Option<&str> {
        match self.keys.get(&number) {
            Some(GeoKeyValue::Ascii(v)) => Some(v),
            _ => None,
        }
    }

    /// The horizontal system that the keys name; `None` where they name none.
    pub fn horizontal_crs(&self) -> Result<Option<Crs>, CrsError> {
        match (
            self.short(key::PROJECTED_CRS),
            self.short(key::GEODETIC_CRS),
        ) {
            (Some(code), _) if is_code(code) => Crs::from_epsg(code.into()).map(Some),
            (Some(USER_DEFINED), _) => self.user_projected().map(Some),
            (_, Some(code)) if is_code(code) && self.short(key::MODEL_TYPE) != Some(1) => {
                Crs::from_epsg(code.into()).map(Some)
            }
            (_, Some(USER_DEFINED)) if self.short(key::MODEL_TYPE) != Some(1) => {
                self.user_geographic().map(Some)
            }
            _ if self.short(key::METHOD).is_some() => self.user_projected().map(Some),
            _ => Ok(None),
        }
    }

    fn name(&self) -> String {
        let citation = [
            key::PROJECTED_CITATION,
            key::CITATION,
            key::GEODETIC_CITATION,
        ]
        .into_iter()
        .find_map(|k| self.text(k));
        citation.unwrap_or("user-defined").trim().to_owned()
    }

    fn user_geographic(&self) -> Result<Crs, CrsError> {
        let parameters = format!("+proj=longlat {} +no_defs", self.datum_parameters()?);
        Crs::build(self.name(), &parameters, self.datum_name().as_deref(), None)
    }

    fn user_projected(&self) -> Result<Crs, CrsError> {
        if let Some(zone) = self.utm_parameters() {
            let parameters = format!("{zone} {} +no_defs", self.datum_parameters()?);
            return Crs::build(self.name(), &parameters, self.datum_name().as_deref(), None);
        }
        let method = self.method_parameters()?;
        let metres = self.metres_per_unit()?;
        let false_x = self.first(&key::FALSE_EASTING).unwrap_or(0.0) * metres;
        let false_y = self.first(&key::FALSE_NORTHING).unwrap_or(0.0) * metres;
        let datum = self.datum_parameters()?;
        let parameters =
            format!("{method} +x_0={false_x} +y_0={false_y} {datum} +to_meter={metres} +no_defs");
        Crs::build(self.name(), &parameters, self.datum_name().as_deref(), None)
    }

    /// A UTM zone named as projection on a datum of the file's own: codes
    /// 16001 to 16060 in the north, 16101 to 16160 in the south.
    fn utm_parameters(&self) -> Option<String> {
        let metres = matches!(self.short(key::LINEAR_UNITS), None | Some(9001));
        match self.short(key::PROJECTION).filter(|_| metres)? {
            code @ 16_001..=16_060 => Some(format!("+proj=utm +zone={}", code - 16_000)),
            code @ 16_101..=16_160 => Some(format!("+proj=utm +zone={} +south", code - 16_100)),
            _ => None,
        }
    }

    /// The projection method with its angles and scale.
    fn method_parameters(&self) -> Result<String, CrsError> {
        let lon = self.first(&key::ORIGIN_LONG).unwrap_or(0.0);
        let lat = self.first(&key::ORIGIN_LAT).unwrap_or(0.0);
        let scale = self.first(&key::SCALE).unwrap_or(1.0);
        let parallel_1 = self.first(&[key::STD_PARALLEL_1]);
        let parallel_2 = self.first(&[key::STD_PARALLEL_2]);
        let origin = format!("+lon_0={lon} +lat_0={lat}");
        let p1 = parallel_1.unwrap_or(lat);
        let p2 = parallel_2.unwrap_or(p1);
        Ok(match self.short(key::METHOD) {
            Some(1) => format!("+proj=tmerc {origin} +k_0={scale}"),
            Some(7) => match parallel_1 {
                Some(lat_ts) => format!("+proj=merc +lon_0={lon} +lat_ts={lat_ts}"),
                None => format!("+proj=merc +lon_0={lon} +k_0={scale}"),
            },
            Some(8) => format!("+proj=lcc {origin} +lat_1={p1} +lat_2={p2}"),
            Some(9) => format!("+proj=lcc {origin} +lat_1={lat} +k_0={scale}"),
            Some(10) => format!("+proj=laea {origin}"),
            Some(11) => format!("+proj=aea {origin} +lat_1={p1} +lat_2={p2}"),
            other => {
                return Err(CrsError::Unsupported {
                    name: self.name(),
                    reason: match other {
                        Some(code) => format!("projection method {code} of its geo keys"),
                        None => "its geo keys name no projection method".into(),
                    },
                });
            }
        })
    }

    fn metres_per_unit(&self) -> Result<f64, CrsError> {
        match self.short(key::LINEAR_UNITS) {
            None | Some(9001) => Ok(1.0),
            Some(9002) => Ok(0.3048),
            Some(9003) => Ok(1200.0 / 3937.0),
            Some(USER_DEFINED)
                if self
                    .first(&[key::LINEAR_UNIT_SIZE])
                    .is_some_and(|s| s > 0.0) =>
            {
                Ok(self.first(&[key::LINEAR_UNIT_SIZE]).unwrap_or(1.0))
            }
            Some(code) => Err(CrsError::Unsupported {
                name: self.name(),
                reason: format!("linear unit {code} of its geo keys"),
            }),
        }
    }

    /// Ellipsoid, shift and prime meridian.
    fn datum_parameters(&self) -> Result<String, CrsError> {
        if let Some(code) = self.short(key::GEODETIC_CRS).filter(|c| is_code(*c)) {
            let definition = crs_definitions::from_code(code)
                .ok_or(CrsError::UnknownEpsg { code: code.into() })?;
            let kept = [
                "datum", "ellps", "a", "b", "rf", "towgs84", "nadgrids", "pm",
            ];
            let words = kept
                .into_iter()
                .filter_map(|k| datum::value(definition.proj4, k).map(|v| format!("+{k}={v}")));
            return Ok(words.collect::<Vec<_>>().join(" "));
        }
        let mut words = self.ellipsoid_parameters()?;
        if let Some(shift) = self
            .doubles(key::TO_WGS84)
            .filter(|s| s.len() == 3 || s.len() == 7)
        {
            let shift: Vec<String> = shift.iter().map(f64::to_string).collect();
            words += &format!(" +towgs84={}", shift.join(","));
        }
        match self.first(&[key::PRIME_MERIDIAN_LONG]) {
            Some(pm) if pm != 0.0 => words += &format!(" +pm={pm}"),
            _ => {}
        }
        Ok(words)
    }

    fn ellipsoid_parameters(&self) -> Result<String, CrsError> {
        let by_code = match (self.short(key::ELLIPSOID), self.short(key::GEODETIC_DATUM)) {
            (_, Some(6326)) | (Some(7030), _) => Some("+ellps=WGS84"),
            (_, Some(6269 | 6258)) | (Some(7019), _) => Some("+ellps=GRS80"),
            (Some(7004), _) => Some("+ellps=bessel"),
            (Some(7022), _) => Some("+ellps=intl"),
            (Some(7001), _) => Some("+ellps=airy"),
            (Some(7008), _) => Some("+ellps=clrk66"),
            (Some(7024), _) => Some("+ellps=krass"),
            _ => None,
        };
        if let Some(words) = by_code {
            return Ok(words.into());
        }
        let a = self.first(&[key::SEMI_MAJOR]);
        let rf = self.first(&[key::INV_FLATTENING]);
        let b = self.first(&[key::SEMI_MINOR]);
        match (a, rf, b) {
            (Some(a), Some(rf), _) if rf > 1.0 => Ok(format!("+a={a} +rf={rf}")),
            (Some(a), _, Some(b)) => Ok(format!("+a={a} +b={b}")),
            _ => Err(CrsError::UnknownDatum { name: self.name() }),
        }
    }

    /// The datum's name in the geographic citation, where one is given.
    fn datum_name(&self) -> Option<String> {
        let citation = self.text(key::GEODETIC_CITATION)?;
        let named = citation
            .split('|')
            .find_map(|part| part.trim().strip_prefix("Datum = "));
        named.map(|n| n.trim().to_owned())
    }

    fn first(&self, numbers: &[u16]) -> Option<f64> {
        let found = numbers.iter().find_map(|k| self.doubles(*k));
        found.map(|v| v[0]).filter(|v| v.is_finite())
    }
}

fn is_code(code: u16) -> bool {
    code != 0 && code != USER_DEFINED
}
