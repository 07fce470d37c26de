//! Antenna gain in every direction.
//!
//! A [`Pattern`] says what shape an antenna has, a [`PreparedPattern`] is the
//! same with every constant worked out, and a [`MountedAntenna`] is that
//! pattern on a mast: aimed, tilted, asked in true azimuth and elevation.
//! Preparing may fail and may allocate; asking for a gain does neither, and it
//! is asked tens of millions of times for one map.
//!
//! The formula patterns are masks meant for sharing studies: a measured
//! pattern ([`Pattern::Cuts`]) is preferred wherever there is one.
//!
//! Angles: azimuth off boresight, positive clockwise seen from above; elevation
//! positive up. Any finite angle is accepted and wrapped.

mod aperture;
mod cuts;
mod dish;
mod mounting;
mod omni;
mod parabolic;
mod polarization;
mod sector;

pub use aperture::{
    aperture_gain_dbi, directivity_bound_dbi, dish_beamwidth_deg, dish_diameter_wavelengths,
    dish_gain_dbi, gain_from_beamwidths_dbi, gain_wavelengths, omni_beamwidth_v_deg,
    parabolic_pointing_loss_db, sector_beamwidth_v_deg,
};
pub use cuts::{Combination, CutPattern, CutPoint, MAX_CUT_LOSS_DB};
pub use dish::DishMask;
pub use mounting::{MountedAntenna, Mounting, gain_toward_dbi};
pub use polarization::{
    ISOLATION_CEILING_DB, PortPolarization, co_polar_loss_db, combined_isolation_db,
    polarization_loss_db, rotation_isolation_db,
};
pub use sector::SectorBand;

use cuts::PreparedCuts;
use dish::PreparedDish;
use omni::PreparedOmni;
use parabolic::{PreparedPanel, PreparedParabolic};
use sector::{PreparedSector, PreparedSectorAbove6};

/// What a mask of ITU-R F.1336 envelops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Envelope {
    /// Side-lobe peaks: for one interferer in a fixed place.
    Peak,
    /// Average side lobes: for many interferers, or moving ones.
    Average,
}

/// Side-lobe quality of ITU-R F.1336.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SideLobes {
    /// Typical antennas.
    Typical,
    /// Antennas with improved side-lobe performance.
    Improved,
}

/// The shape of an antenna's radiation, without its peak gain.
#[derive(Debug, Clone, PartialEq)]
pub enum Pattern {
    /// The peak gain in every direction.
    Isotropic,
    /// Sector mask of ITU-R F.1336-5, recommends 3.1 (0.4–6 GHz) or 3.2 (6–70 GHz).
    Sector {
        /// Which recommends of F.1336 applies.
        band: SectorBand,
        /// Peak or average side lobes.
        envelope: Envelope,
        /// Typical or improved; without effect from 6 GHz up.
        side_lobes: SideLobes,
        /// Horizontal 3 dB beamwidth, over 0 to 360. \[deg\]
        beamwidth_h_deg: f64,
        /// Vertical 3 dB beamwidth, over 0 to 180. The mask is meant for less
        /// than 22.5; above, its near side-lobe law is carried on to 90°. \[deg\]
        beamwidth_v_deg: f64,
    },
    /// Omnidirectional mask of ITU-R F.1336-5, recommends 2 (0.4–70 GHz).
    Omni {
        /// Peak or average side lobes.
        envelope: Envelope,
        /// Side-lobe factor k, 0 to 1: 0.7 typical at 0.4–3 GHz, 0 improved or above 3 GHz.
        side_lobe_k: f64,
        /// Vertical 3 dB beamwidth, over 0 to 180. \[deg\]
        beamwidth_v_deg: f64,
    },
    /// Two-plane parabola of 3GPP TR 36.814 (macro sector).
    Parabolic {
        /// Horizontal 3 dB beamwidth, over 0 to 360; TR 36.814: 70. \[deg\]
        beamwidth_h_deg: f64,
        /// Vertical 3 dB beamwidth, over 0 to 180; TR 36.814: 10. \[deg\]
        beamwidth_v_deg: f64,
        /// Largest attenuation, front to back; TR 36.814: 25. \[dB\]
        max_attenuation_db: f64,
        /// Vertical side-lobe limit; TR 36.814: 20. \[dB\]
        side_lobe_attenuation_db: f64,
    },
    /// Vertical column of TR 38.901 elements (65°×65°), uniform amplitude.
    /// One element is the TR 38.901 element itself.
    Panel {
        /// Elements in the column, 1 to 64.
        elements: u32,
        /// Spacing between element centres, 0.1 to 2. \[wavelengths\]
        spacing_wavelengths: f64,
    },
    /// Dish mask of ITU-R F.699-8 or F.1245-3.
    Dish {
        /// Which mask.
        mask: DishMask,
        /// Carrier frequency, 0.1 to 86; selects the row of the mask. \[GHz\]
        f_ghz: f64,
        /// Diameter over wavelength, over 0.63; unknown: from the gain.
        diameter_wavelengths: Option<f64>,
    },
    /// Measured horizontal and vertical cuts.
    Cuts(CutPattern),
}

/// Why a pattern cannot be prepared.
#[derive(Debug, Clone, PartialEq)]
pub enum PatternError {
    /// A number is outside the range its formula is meant for, or not finite.
    OutOfRange {
        /// Name of the number, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
        /// Lowest value allowed.
        low: f64,
        /// Highest value allowed.
        high: f64,
    },
    /// A cut has no points.
    EmptyCut {
        /// `horizontal` or `vertical`.
        cut: &'static str,
    },
}

impl std::fmt::Display for PatternError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::OutOfRange {
                what,
                value,
                low,
                high,
            } => {
                write!(
                    out,
                    "antenna pattern: `{what}` is `{value}`, must be between `{low}` and `{high}`"
                )
            }
            Self::EmptyCut { cut } => write!(out, "antenna pattern: the {cut} cut has no points"),
        }
    }
}

impl std::error::Error for PatternError {}

/// Checks one number of a pattern.
fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<(), PatternError> {
    if value >= low && value <= high {
        return Ok(());
    }
    Err(PatternError::OutOfRange {
        what,
        value,
        low,
        high,
    })
}

/// A beamwidth below this is taken for a mistake: no terrestrial antenna has it.
const NARROWEST_BEAM_DEG: f64 = 0.01;

/// Horizontal and vertical beamwidth, if both make sense. \[deg\]
fn checked_beam(beamwidth_h_deg: f64, beamwidth_v_deg: f64) -> Result<(f64, f64), PatternError> {
    within(
        "beamwidth_h_deg",
        beamwidth_h_deg,
        NARROWEST_BEAM_DEG,
        360.0,
    )?;
    within(
        "beamwidth_v_deg",
        beamwidth_v_deg,
        NARROWEST_BEAM_DEG,
        180.0,
    )?;
    Ok((beamwidth_h_deg, beamwidth_v_deg))
}

impl Pattern {
    /// The sector of TR 36.814: 70° by 10°, 25 dB front to back, 20 dB side lobes.
    #[must_use]
    pub fn tr36814() -> Self {
        Self::Parabolic {
            beamwidth_h_deg: 70.0,
            beamwidth_v_deg: 10.0,
            max_attenuation_db: 25.0,
            side_lobe_attenuation_db: 20.0,
        }
    }

    /// The single element of TR 38.901, Table 7.3-1; its own peak gain is 8 dBi.
    #[must_use]
    pub fn tr38901_element() -> Self {
        Self::Panel {
            elements: 1,
            spacing_wavelengths: 0.5,
        }
    }

    /// Works out every constant of the pattern for a peak gain. \[dBi\]
    ///
    /// * `gain_dbi`: −20 to 80, over all of the antenna (a panel's gain
    ///   includes its array gain).
    ///
    /// # Errors
    /// A number outside the range stated beside its field.
    pub fn prepare(&self, gain_dbi: f64) -> Result<PreparedPattern, PatternError> {
        within("gain_dbi", gain_dbi, -20.0, 80.0)?;
        let shape = match self {
            Self::Isotropic => Shape::Isotropic,
            Self::Sector {
                band,
                envelope,
                side_lobes,
                beamwidth_h_deg,
                beamwidth_v_deg,
            } => {
                let beam = checked_beam(*beamwidth_h_deg, *beamwidth_v_deg)?;
                match band {
                    SectorBand::Below6Ghz => {
                        Shape::Sector(PreparedSector::new(*envelope, *side_lobes, beam))
                    }
                    SectorBand::Above6Ghz => {
                        Shape::SectorAbove6(PreparedSectorAbove6::new(*envelope, beam))
                    }
                }
            }
            Self::Omni {
                envelope,
                side_lobe_k,
                beamwidth_v_deg,
            } => {
                within("side_lobe_k", *side_lobe_k, 0.0, 1.0)?;
                let (_, theta3) = checked_beam(360.0, *beamwidth_v_deg)?;
                Shape::Omni(PreparedOmni::new(*envelope, *side_lobe_k, theta3))
            }
            Self::Parabolic {
                beamwidth_h_deg,
                beamwidth_v_deg,
                max_attenuation_db,
                side_lobe_attenuation_db,
            } => {
                let (beamwidth_h_deg, beamwidth_v_deg) =
                    checked_beam(*beamwidth_h_deg, *beamwidth_v_deg)?;
                let (max_attenuation_db, side_lobe_attenuation_db) =
                    (*max_attenuation_db, *side_lobe_attenuation_db);
                within("max_attenuation_db", max_attenuation_db, 0.0, 100.0)?;
                within(
                    "side_lobe_attenuation_db",
                    side_lobe_attenuation_db,
                    0.0,
                    100.0,
                )?;
                Shape::Parabolic(PreparedParabolic {
                    beamwidth_h_deg,
                    beamwidth_v_deg,
                    max_attenuation_db,
                    side_lobe_attenuation_db,
                })
            }
            Self::Panel {
                elements,
                spacing_wavelengths,
            } => {
                within("elements", f64::from(*elements), 1.0, 64.0)?;
                within("spacing_wavelengths", *spacing_wavelengths, 0.1, 2.0)?;
                Shape::Panel(PreparedPanel::new(*elements, *spacing_wavelengths))
            }
            Self::Dish {
                mask,
                f_ghz,
                diameter_wavelengths,
            } => Shape::Dish(PreparedDish::new(
                *mask,
                *f_ghz,
                (gain_dbi, *diameter_wavelengths),
            )?),
            Self::Cuts(cuts) => Shape::Cuts(PreparedCuts::new(cuts)?),
        };
        Ok(PreparedPattern { gain_dbi, shape })
    }
}

/// A pattern with every constant worked out, ready to be asked.
#[derive(Debug, Clone, PartialEq)]
pub struct PreparedPattern {
    gain_dbi: f64,
    shape: Shape,
}

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    Isotropic,
    Sector(PreparedSector),
    SectorAbove6(PreparedSectorAbove6),
    Omni(PreparedOmni),
    Parabolic(PreparedParabolic),
    Panel(PreparedPanel),
    Dish(PreparedDish),
    Cuts(PreparedCuts),
}

impl PreparedPattern {
    /// Peak gain. \[dBi\]
    #[must_use]
    pub fn peak_gain_dbi(&self) -> f64 {
        self.gain_dbi
    }

    /// Gain of the untilted antenna towards a direction in its own frame. \[dBi\]
    ///
    /// Never above the peak gain.
    ///
    /// * `azimuth_off_deg`: from boresight, any finite angle.
    /// * `elevation_deg`: above the boresight plane, clamped to ±90.
    #[must_use]
    pub fn gain_dbi(&self, azimuth_off_deg: f64, elevation_deg: f64) -> f64 {
        self.gain_dbi - self.loss_db(azimuth_off_deg, elevation_deg)
    }

    /// Loss below the peak towards a direction in the antenna's own frame. \[dB\]
    ///
    /// Zero or more, finite. Angles as for [`PreparedPattern::gain_dbi`].
    #[must_use]
    pub fn loss_db(&self, azimuth_off_deg: f64, elevation_deg: f64) -> f64 {
        self.steered_loss_db(
            wrap_deg(azimuth_off_deg),
            elevation_deg.clamp(-90.0, 90.0),
            0.0,
        )
    }

    /// Loss with the beam steered electrically; angles already wrapped.
    fn steered_loss_db(&self, azimuth_deg: f64, elevation_deg: f64, downtilt_deg: f64) -> f64 {
        if let Shape::Panel(panel) = &self.shape {
            return panel.loss_db(azimuth_deg, elevation_deg, downtilt_deg);
        }
        let elevation_deg = mounting::electrically_tilted_deg(elevation_deg, downtilt_deg);
        match &self.shape {
            Shape::Isotropic | Shape::Panel(_) => 0.0,
            Shape::Sector(sector) => sector.loss_db(azimuth_deg, elevation_deg),
            Shape::SectorAbove6(sector) => sector.loss_db(azimuth_deg, elevation_deg),
            Shape::Omni(omni) => omni.loss_db(elevation_deg),
            Shape::Parabolic(parabola) => parabola.loss_db(azimuth_deg, elevation_deg),
            Shape::Dish(dish) => {
                dish.loss_db(self.gain_dbi, off_axis_deg(azimuth_deg, elevation_deg))
            }
            Shape::Cuts(cuts) => cuts.loss_db(azimuth_deg, elevation_deg),
        }
    }
}

/// Loss of gain of a terminal whose aim is off by the given errors. \[dB\]
///
/// Evaluated on the pattern itself, so it also covers aim off the main lobe.
/// Common practice, no source: the stated pointing error is taken in azimuth.
#[must_use]
pub fn pointing_loss_db(
    pattern: &PreparedPattern,
    azimuth_error_deg: f64,
    elevation_error_deg: f64,
) -> f64 {
    pattern.loss_db(azimuth_error_deg, elevation_error_deg)
}

/// Angle wrapped to −180 (excluded) to 180 (included). \[deg\]
fn wrap_deg(angle_deg: f64) -> f64 {
    if angle_deg > -180.0 && angle_deg <= 180.0 {
        return angle_deg;
    }
    let wrapped = angle_deg.rem_euclid(360.0);
    if wrapped > 180.0 {
        wrapped - 360.0
    } else {
        wrapped
    }
}

/// Angle between a direction and the boresight, 0 to 180. \[deg\]
fn off_axis_deg(azimuth_deg: f64, elevation_deg: f64) -> f64 {
    let cos = azimuth_deg.to_radians().cos() * elevation_deg.to_radians().cos();
    cos.clamp(-1.0, 1.0).acos().to_degrees()
}
