//! Magnetic declination, for who sets an azimuth with a compass.

use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

use crate::LonLat;

/// The direction of magnetic north at a place and date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declination {
    /// Magnetic north, clockwise (east) from true north. \[deg\]
    ///
    /// True azimuth = magnetic azimuth + declination.
    pub declination_deg: f64,
    /// Standard deviation of the model, local disturbances included. \[deg\]
    pub uncertainty_deg: f64,
    /// Whether the horizontal field is too weak for a compass (below
    /// 2000 nT, near the magnetic poles).
    pub compass_unreliable: bool,
}

/// A date that the model does not cover, or that does not exist.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "no magnetic declination for day {day_of_year} of year {year}: {reason}\nhint: the model runs from 2020 to the end of 2029"
)]
pub struct DeclinationError {
    /// The year as given.
    pub year: i32,
    /// The day of the year as given.
    pub day_of_year: u16,
    /// What the model says.
    pub reason: String,
}

/// Magnetic declination at a place, `height_m` above the ellipsoid, on a day
/// of a year (1 to 366).
///
/// Source: World Magnetic Model 2025 of NOAA/NCEI and BGS (WMM2020 for dates
/// before 2025), in single precision: within 0.01 degrees of the model.
pub fn declination(
    place: LonLat,
    height_m: f64,
    year: i32,
    day_of_year: u16,
) -> Result<Declination, DeclinationError> {
    let no = |reason: String| DeclinationError {
        year,
        day_of_year,
        reason,
    };
    let date = Date::from_ordinal_date(year, day_of_year).map_err(|e| no(e.to_string()))?;
    let field = GeomagneticField::new(
        Length::new::<meter>(height_m as f32),
        Angle::new::<degree>(place.lat_deg() as f32),
        Angle::new::<degree>(place.lon_deg() as f32),
        date,
    );
    let field = field.map_err(|e| no(e.to_string()))?;
    use world_magnetic_model::WarningZone::BlackoutZone;
    Ok(Declination {
        declination_deg: field.declination().get::<degree>().into(),
        uncertainty_deg: field.declination_uncertainty().get::<degree>().into(),
        compass_unreliable: matches!(field.declination_warning(), Some(BlackoutZone)),
    })
}
