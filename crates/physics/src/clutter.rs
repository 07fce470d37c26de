//! Representative clutter heights and the spread of loss over locations.
//!
//! Heights enter a path model through its profile; the spread belongs to
//! places chosen at random, not to a surveyed antenna.

/// Kinds of ground cover with a representative height.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ClutterClass {
    /// Sea, lakes, rivers.
    Water,
    /// Open and rural land.
    Open,
    /// Low houses with gardens.
    Suburban,
    /// Closed rows of houses.
    Urban,
    /// Trees and forest.
    Trees,
    /// City centres.
    DenseUrban,
}

impl ClutterClass {
    /// Default representative height R, where no local data is at hand. \[m\]
    ///
    /// Source: ITU-R P.1812-8, Table 2 (from memory of the text).
    #[must_use]
    pub fn representative_height_m(self) -> f64 {
        match self {
            Self::Water | Self::Open => 0.0,
            Self::Suburban => 10.0,
            Self::Urban | Self::Trees => 15.0,
            Self::DenseUrban => 20.0,
        }
    }
}

/// Standard deviation of the loss over locations at clutter height. \[dB\]
///
/// * `f_ghz`: 0.03 to 6. `width_m`: side of the square area, 50 to 1000.
///
/// Source: ITU-R P.1812-8, equation (64).
#[must_use]
pub fn location_sigma_db(f_ghz: f64, width_m: f64) -> f64 {
    (0.52 + 0.024 * f_ghz) * width_m.powf(0.28)
}

/// Share of the location spread left at a height above the ground, 0 to 1.
///
/// * `antenna_agl_m`: antenna above ground. `clutter_m`: representative
///   clutter height where it stands.
///
/// Source: ITU-R P.1812-8, equations (65) and (66), u(h).
#[must_use]
pub fn location_height_factor(antenna_agl_m: f64, clutter_m: f64) -> f64 {
    (1.0 - (antenna_agl_m - clutter_m) / 10.0).clamp(0.0, 1.0)
}

/// Standard deviation of the loss over locations for an antenna outdoors. \[dB\]
///
/// Zero at sea: do not call it there.
///
/// Source: ITU-R P.1812-8, section 4.8.
#[must_use]
pub fn outdoor_location_sigma_db(
    f_ghz: f64,
    width_m: f64,
    antenna_agl_m: f64,
    clutter_m: f64,
) -> f64 {
    location_height_factor(antenna_agl_m, clutter_m) * location_sigma_db(f_ghz, width_m)
}
