//! What every whole-path model is given.

use std::fmt;

use crate::gas::PathGas;
use crate::refractivity::{DEFAULT_DELTA_N_PER_KM, DEFAULT_N0, EARTH_RADIUS_KM};

/// Radio-climatic zone of a profile point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Zone {
    /// Land farther than 50 km from the sea or higher than 100 m above it (A2).
    #[default]
    Inland,
    /// Land up to 50 km from the sea and below 100 m above it (A1).
    CoastalLand,
    /// Sea and lakes of 7800 km² and more (B).
    Sea,
}

/// Orientation of the electric field.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Polarization {
    /// Electric field parallel to the ground.
    Horizontal,
    /// Electric field in the vertical plane of the path.
    #[default]
    Vertical,
}

/// A checked terrain profile from the transmitter to the receiver.
///
/// Four slices of equal length, at least [`PathProfile::MIN_POINTS`] points.
/// Distances start at 0 and increase strictly; every number is finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathProfile<'a> {
    d_km: &'a [f64],
    h_m: &'a [f64],
    clutter_m: &'a [f64],
    zone: &'a [Zone],
}

impl<'a> PathProfile<'a> {
    /// Fewest points a profile can have: the two ends and one between.
    pub const MIN_POINTS: usize = 3;

    /// Checks and borrows a profile.
    ///
    /// * `d_km`: distance from the transmitter along the great circle.
    /// * `h_m`: bare ground above mean sea level.
    /// * `clutter_m`: representative height of buildings and trees above the
    ///   ground, >= 0; with a surface model, surface less ground. The values
    ///   at the two ends are not used.
    /// * `zone`: radio-climatic zone.
    ///
    /// # Errors
    /// The first [`ProfileError`] met.
    pub fn new(
        d_km: &'a [f64],
        h_m: &'a [f64],
        clutter_m: &'a [f64],
        zone: &'a [Zone],
    ) -> Result<Self, ProfileError> {
        let n = d_km.len();
        if h_m.len() != n || clutter_m.len() != n || zone.len() != n {
            return Err(ProfileError::Lengths {
                d: n,
                h: h_m.len(),
                clutter: clutter_m.len(),
                zone: zone.len(),
            });
        }
        if n < Self::MIN_POINTS {
            return Err(ProfileError::TooShort { points: n });
        }
        for values in [d_km, h_m, clutter_m] {
            if !all_finite(values) {
                let index = values.iter().position(|x| !usable(*x)).unwrap_or(0);
                return Err(ProfileError::NotFinite { index });
            }
        }
        if d_km[0] != 0.0 {
            return Err(ProfileError::Start { d_km: d_km[0] });
        }
        if let Some(before) = d_km.windows(2).position(|w| w[1] <= w[0]) {
            return Err(ProfileError::NotAscending { index: before + 1 });
        }
        Ok(Self {
            d_km,
            h_m,
            clutter_m,
            zone,
        })
    }

    /// Distances from the transmitter. \[km\]
    #[must_use]
    pub fn d_km(&self) -> &'a [f64] {
        self.d_km
    }

    /// Ground heights above mean sea level. \[m\]
    #[must_use]
    pub fn h_m(&self) -> &'a [f64] {
        self.h_m
    }

    /// Representative clutter heights above the ground. \[m\]
    #[must_use]
    pub fn clutter_m(&self) -> &'a [f64] {
        self.clutter_m
    }

    /// Radio-climatic zones.
    #[must_use]
    pub fn zone(&self) -> &'a [Zone] {
        self.zone
    }

    /// Number of points, ends included.
    #[must_use]
    pub fn points(&self) -> usize {
        self.d_km.len()
    }

    /// Length of the path. \[km\]
    #[must_use]
    pub fn length_km(&self) -> f64 {
        self.d_km[self.d_km.len() - 1]
    }

    /// Ground height at the transmitter. \[m above mean sea level\]
    #[must_use]
    pub fn tx_ground_amsl_m(&self) -> f64 {
        self.h_m[0]
    }

    /// Ground height at the receiver. \[m above mean sea level\]
    #[must_use]
    pub fn rx_ground_amsl_m(&self) -> f64 {
        self.h_m[self.h_m.len() - 1]
    }
}

/// Finite and of a size whose squares and products stay finite.
fn usable(x: f64) -> bool {
    x.abs() < 1e9
}

/// Folds without a branch per point, so that the check costs next to nothing.
fn all_finite(values: &[f64]) -> bool {
    values.iter().fold(true, |all, x| all & usable(*x))
}

/// Why a profile cannot be used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ProfileError {
    /// The four slices differ in length.
    Lengths {
        /// Number of distances.
        d: usize,
        /// Number of ground heights.
        h: usize,
        /// Number of clutter heights.
        clutter: usize,
        /// Number of zones.
        zone: usize,
    },
    /// Fewer than [`PathProfile::MIN_POINTS`] points.
    TooShort {
        /// Number of points given.
        points: usize,
    },
    /// A number is not finite, or larger than 1e9.
    NotFinite {
        /// Index of the point, from 0.
        index: usize,
    },
    /// The first distance is not zero.
    Start {
        /// The first distance. \[km\]
        d_km: f64,
    },
    /// A distance does not exceed the one before it.
    NotAscending {
        /// Index of the point, from 0.
        index: usize,
    },
}

impl fmt::Display for ProfileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Lengths {
                d,
                h,
                clutter,
                zone,
            } => write!(
                f,
                "a profile needs one height, clutter height and zone per distance, found {d} \
                 distances, {h} heights, {clutter} clutter heights, {zone} zones"
            ),
            Self::TooShort { points } => {
                write!(f, "a profile needs at least 3 points, found {points}")
            }
            Self::NotFinite { index } => {
                write!(
                    f,
                    "point {index} of the profile holds a number that is not usable"
                )
            }
            Self::Start { d_km } => {
                write!(f, "a profile starts at distance 0, this one at `{d_km}` km")
            }
            Self::NotAscending { index } => {
                write!(
                    f,
                    "point {index} of the profile is not farther than the one before it"
                )
            }
        }
    }
}

impl std::error::Error for ProfileError {}

/// Everything a whole-path model may ask for. A model ignores what it has no use for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathInput<'a> {
    /// Ground, clutter and zones from transmitter to receiver.
    pub profile: PathProfile<'a>,
    /// Carrier frequency. \[GHz\]
    pub f_ghz: f64,
    /// Percentage of an average year for which the loss is not exceeded. \[%\]
    pub time_pct: f64,
    /// Percentage of locations for which the loss is not exceeded. \[%\]
    pub location_pct: f64,
    /// Standard deviation over locations, height-corrected; 0 for a surveyed
    /// antenna above its clutter. Taken as 0 where the receiver is at sea. \[dB\]
    pub sigma_loc_db: f64,
    /// Polarization.
    pub polarization: Polarization,
    /// Transmitting antenna above ground, > 0. \[m\]
    pub tx_agl_m: f64,
    /// Receiving antenna above ground, > 0. \[m\]
    pub rx_agl_m: f64,
    /// Latitude of the path centre, see [`path_centre_lat_deg`]. \[deg\]
    pub path_centre_lat_deg: f64,
    /// Median refractivity lapse rate in the lowest kilometre, positive. \[N/km\]
    pub delta_n_per_km: f64,
    /// Sea-level surface refractivity. \[N-units\]
    pub n0: f64,
    /// Distance over land from the transmitter to the coast towards the
    /// receiver; [`PathInput::NO_COAST_KM`] when there is none. \[km\]
    pub tx_coast_km: f64,
    /// Distance over land from the receiver to the coast towards the transmitter. \[km\]
    pub rx_coast_km: f64,
    /// Gain of the transmitting antenna towards its horizon on this path, 0 where unknown. \[dBi\]
    pub tx_horizon_gain_dbi: f64,
    /// Gain of the receiving antenna towards its horizon on this path, 0 where unknown. \[dBi\]
    pub rx_horizon_gain_dbi: f64,
    /// Pressure of dry air. \[hPa\]
    pub dry_pressure_hpa: f64,
    /// Air temperature. \[°C\]
    pub temperature_c: f64,
    /// Gaseous attenuation prepared once for this frequency, pressure and
    /// temperature ([`PathInput::path_gas`]). Where it is absent, or made for
    /// other conditions, a model that needs it sums the lines for each path.
    pub gas: Option<&'a PathGas>,
}

impl<'a> PathInput<'a> {
    /// Coast distance that stands for "none" in the Recommendations. \[km\]
    pub const NO_COAST_KM: f64 = 500.0;

    /// Median loss (time and locations 50 %) of an inland path in a temperate
    /// climate at latitude 45°, antennas 30 m and 6 m above ground; change
    /// the fields that differ.
    #[must_use]
    pub fn median(profile: PathProfile<'a>, f_ghz: f64) -> Self {
        Self {
            profile,
            f_ghz,
            time_pct: 50.0,
            location_pct: 50.0,
            sigma_loc_db: 0.0,
            polarization: Polarization::Vertical,
            tx_agl_m: 30.0,
            rx_agl_m: 6.0,
            path_centre_lat_deg: 45.0,
            delta_n_per_km: DEFAULT_DELTA_N_PER_KM,
            n0: DEFAULT_N0,
            tx_coast_km: Self::NO_COAST_KM,
            rx_coast_km: Self::NO_COAST_KM,
            tx_horizon_gain_dbi: 0.0,
            rx_horizon_gain_dbi: 0.0,
            dry_pressure_hpa: 1013.0,
            temperature_c: 15.0,
            gas: None,
        }
    }

    /// Sums the lines of the gases for this frequency, pressure and
    /// temperature; put a reference to it into [`PathInput::gas`] of every path
    /// of these conditions.
    #[must_use]
    pub fn path_gas(&self) -> PathGas {
        PathGas::of(self.f_ghz, self.dry_pressure_hpa, self.temperature_k())
    }

    /// Air temperature. \[K\]
    #[must_use]
    pub fn temperature_k(&self) -> f64 {
        self.temperature_c + 273.15
    }
}

/// Where the two ends of a path stand, on any datum. \[deg\]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PathEnds {
    /// Latitude of the transmitter. \[deg\]
    pub tx_lat_deg: f64,
    /// Longitude of the transmitter. \[deg\]
    pub tx_lon_deg: f64,
    /// Latitude of the receiver. \[deg\]
    pub rx_lat_deg: f64,
    /// Longitude of the receiver. \[deg\]
    pub rx_lon_deg: f64,
}

/// Latitude of the point half the profile length from the transmitter towards
/// the receiver, on the sphere of 6371 km. \[deg\]
///
/// * `length_km`: length of the *profile*; the reference data use it even
///   where the coordinates lie farther apart.
///
/// Source: ITU-R P.1812-8, path centre; great-circle formulas of ITU-R P.2001, Attachment H.
#[must_use]
pub fn path_centre_lat_deg(ends: &PathEnds, length_km: f64) -> f64 {
    let (sin_t, cos_t) = ends.tx_lat_deg.to_radians().sin_cos();
    let (sin_r, cos_r) = ends.rx_lat_deg.to_radians().sin_cos();
    let (sin_lon, cos_lon) = (ends.rx_lon_deg - ends.tx_lon_deg).to_radians().sin_cos();
    let bearing_rad = (sin_lon * cos_r).atan2(cos_t * sin_r - sin_t * cos_r * cos_lon);
    let (sin_s, cos_s) = (0.5 * length_km / EARTH_RADIUS_KM).sin_cos();
    let sine = sin_t * cos_s + cos_t * sin_s * bearing_rad.cos();
    sine.clamp(-1.0, 1.0).asin().to_degrees()
}

/// An input outside the range a model is stated for. The model still computes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Warning {
    /// A quantity lies outside the stated range.
    OutOfRange {
        /// Field name of the input, with unit: `f_ghz`.
        quantity: &'static str,
        /// Value given, in the unit of the name.
        value: f64,
        /// Least stated value.
        min: f64,
        /// Greatest stated value.
        max: f64,
    },
    /// Fewer profile points than the model asks for.
    FewPoints {
        /// Points given.
        points: usize,
        /// Points asked for.
        min: usize,
    },
}

impl Warning {
    /// One warning for each `(quantity, value, min, max)` whose value lies
    /// outside, or is not a number.
    pub(crate) fn outside(ranges: &[(&'static str, f64, f64, f64)]) -> Vec<Self> {
        let outside = ranges
            .iter()
            .filter(|(_, value, min, max)| !(*min..=*max).contains(value));
        outside
            .map(|&(quantity, value, min, max)| Self::OutOfRange {
                quantity,
                value,
                min,
                max,
            })
            .collect()
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange {
                quantity,
                value,
                min,
                max,
            } => {
                write!(
                    f,
                    "`{quantity}` is {value}, outside the model's range {min} to {max}"
                )
            }
            Self::FewPoints { points, min } => {
                write!(
                    f,
                    "the profile has {points} points, the model asks for at least {min}"
                )
            }
        }
    }
}
