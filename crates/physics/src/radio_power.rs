//! How much power a rule lets a radio put into its antenna.
//!
//! Pure arithmetic on the numbers of one rule. Which rule applies, its edition
//! and its conditions (sensing, coordination, height, registration) are data
//! elsewhere; every result is a planning check to confirm with the regulator.

/// The power limits of one rule, for one role and band. `None`: no such limit.
///
/// All powers are totals over all transmitters of the station.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PowerLimits {
    /// Total EIRP. \[dBm\]
    pub eirp_dbm: Option<f64>,
    /// EIRP density. \[dBm/MHz\]
    pub eirp_dbm_per_mhz: Option<f64>,
    /// Total conducted power. \[dBm\]
    pub conducted_dbm: Option<f64>,
    /// Conducted density. \[dBm/MHz\]
    pub conducted_dbm_per_mhz: Option<f64>,
    /// Gain beyond which conducted power is reduced. \[dBi\]
    pub gain_free: Option<GainReduction>,
    /// EIRP limit towards high elevations.
    pub elevation: Option<ElevationLimit>,
}

/// Reduction of conducted power for antenna gain above a free amount.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GainReduction {
    /// Gain without reduction. \[dBi\]
    pub gain_free_dbi: f64,
    /// Decibels of reduction per decibel of gain: 1, 1/3 or 0.
    pub slope_db_per_db: f64,
}

/// EIRP limit above an elevation, such as 21 dBm above 30°.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ElevationLimit {
    /// Elevation above the horizon from which it holds. \[deg\]
    pub above_deg: f64,
    /// Limit of EIRP there. \[dBm\]
    pub eirp_dbm: f64,
}

/// The antenna side of the check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AntennaSide {
    /// Peak gain, with the array gain where the rule counts it. \[dBi\]
    pub gain_dbi: f64,
    /// Loss between radio and antenna. \[dB\]
    pub feeder_loss_db: f64,
    /// Largest gain above the elevation of [`PowerLimits::elevation`], for the
    /// antenna as mounted; unknown: the check is left out and reported. \[dBi\]
    pub gain_above_elevation_dbi: Option<f64>,
}

impl AntennaSide {
    /// An antenna of which only gain and feeder loss are known.
    #[must_use]
    pub fn new(gain_dbi: f64, feeder_loss_db: f64) -> Self {
        Self {
            gain_dbi,
            feeder_loss_db,
            gain_above_elevation_dbi: None,
        }
    }
}

/// The limit that decides the allowed power.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BindingLimit {
    /// Total conducted power, after any reduction for gain.
    Conducted,
    /// Conducted density, after any reduction for gain.
    ConductedDensity,
    /// Total EIRP.
    Eirp,
    /// EIRP density.
    EirpDensity,
    /// EIRP above an elevation.
    Elevation,
}

/// What a rule allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllowedPower {
    /// Total conducted power; infinite if the rule sets no limit. \[dBm\]
    pub conducted_dbm: f64,
    /// EIRP at that power: conducted + gain − feeder loss. \[dBm\]
    pub eirp_dbm: f64,
    /// The limit reached first; none if the rule sets none.
    pub binding: Option<BindingLimit>,
    /// True if the rule limits high elevations but the antenna's gain there is unknown.
    pub elevation_unchecked: bool,
}

/// Widens a density to a channel, `density + 10·log10(width)`. \[dBm\]
#[must_use]
pub fn density_to_total_dbm(density_dbm_per_mhz: f64, width_mhz: f64) -> f64 {
    density_dbm_per_mhz + crate::levels::ratio_to_db(width_mhz)
}

/// A density stated per another width, such as 30 dBm per 500 kHz. \[dBm/MHz\]
#[must_use]
pub fn density_dbm_per_mhz(level_dbm: f64, per_mhz: f64) -> f64 {
    level_dbm - crate::levels::ratio_to_db(per_mhz)
}

/// Allowed power of a station on a channel of a given width.
///
/// The least of the conducted limits less `slope·(gain − free gain)`, and of
/// the EIRP limits less gain plus feeder loss. Densities are scaled by the
/// width; a reduction for gain applies to conducted density as well, as the
/// rules with such a reduction word it.
#[must_use]
pub fn allowed_power(limits: &PowerLimits, antenna: &AntennaSide, width_mhz: f64) -> AllowedPower {
    let reduction_db = limits.gain_free.map_or(0.0, |rule| {
        rule.slope_db_per_db * (antenna.gain_dbi - rule.gain_free_dbi).max(0.0)
    });
    let to_conducted_db = antenna.feeder_loss_db - antenna.gain_dbi;
    let widened = |density: f64| density_to_total_dbm(density, width_mhz);
    let high = limits.elevation.zip(antenna.gain_above_elevation_dbi);
    let candidates = [
        (
            BindingLimit::Conducted,
            limits.conducted_dbm.map(|p| p - reduction_db),
        ),
        (
            BindingLimit::ConductedDensity,
            limits
                .conducted_dbm_per_mhz
                .map(|d| widened(d) - reduction_db),
        ),
        (
            BindingLimit::Eirp,
            limits.eirp_dbm.map(|e| e + to_conducted_db),
        ),
        (
            BindingLimit::EirpDensity,
            limits
                .eirp_dbm_per_mhz
                .map(|d| widened(d) + to_conducted_db),
        ),
        (
            BindingLimit::Elevation,
            high.map(|(rule, gain_dbi)| rule.eirp_dbm - gain_dbi + antenna.feeder_loss_db),
        ),
    ];
    let least = candidates
        .into_iter()
        .filter_map(|(limit, power)| power.map(|p| (limit, p)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let conducted_dbm = least.map_or(f64::INFINITY, |(_, p)| p);
    AllowedPower {
        conducted_dbm,
        eirp_dbm: conducted_dbm - to_conducted_db,
        binding: least.map(|(limit, _)| limit),
        elevation_unchecked: limits.elevation.is_some() && high.is_none(),
    }
}
