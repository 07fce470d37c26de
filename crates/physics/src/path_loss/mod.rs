//! Whole-path models: one file per Recommendation, one input, one result.
//!
//! A caller fills a [`PathInput`], asks [`Model::warnings`] once whether the
//! case lies in the model's stated range, and calls [`Model::predict`] as
//! often as it likes: the computation itself branches on no ranges, allocates
//! nothing and returns every intermediate term ([`PathLoss::terms`]).

pub mod clear_air;
mod input;
pub mod itm;
pub mod p1812;
pub mod p452;
pub mod short_range;
pub(crate) mod term;

pub use input::{
    PathEnds, PathInput, PathProfile, Polarization, ProfileError, Warning, Zone,
    path_centre_lat_deg,
};
pub use term::Term;

/// A whole-path model, chosen as a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Model {
    /// ITU-R P.1812-8: point to area, 30 MHz to 6 GHz, 0.25 to 3000 km.
    P1812,
    /// ITU-R P.452-18, clear air: between stations on the ground, 0.1 to 50 GHz,
    /// down to 0.001 % of the time; for interference.
    P452,
    /// Irregular Terrain Model 1.4, 20 MHz to 20 GHz; with what only it asks for.
    Itm(itm::Settings),
}

impl Model {
    /// Every model, in the order a list shows them, with its usual settings.
    pub const ALL: [Self; 3] = [
        Self::P1812,
        Self::P452,
        Self::Itm(itm::Settings::FIXED_LINK),
    ];

    /// Short name with edition, for a line of a budget.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::P1812 => "ITU-R P.1812-8",
            Self::P452 => "ITU-R P.452-18",
            Self::Itm(_) => "Irregular Terrain Model 1.4",
        }
    }

    /// Title with edition.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::P1812 => "ITU-R P.1812-8 (09/2025), path-specific point-to-area prediction",
            Self::P452 => "ITU-R P.452-18 (08/2023), interference between stations, clear air",
            Self::Itm(_) => "Irregular Terrain Model 1.4 (Longley-Rice), point to point",
        }
    }

    /// Basic transmission loss of one path with all its terms.
    #[must_use]
    pub fn predict(self, input: &PathInput<'_>) -> PathLoss {
        match self {
            Self::P1812 => {
                let terms = p1812::predict(input);
                PathLoss {
                    loss_db: terms.combination.lb_db,
                    terms: Terms::P1812(terms),
                }
            }
            Self::P452 => {
                let terms = p452::predict(input);
                PathLoss {
                    loss_db: terms.lb_db,
                    terms: Terms::P452(terms),
                }
            }
            Self::Itm(settings) => {
                let terms = itm::predict(input, &settings);
                PathLoss {
                    loss_db: terms.a_db,
                    terms: Terms::Itm(terms),
                }
            }
        }
    }

    /// Where the input leaves the range the model is stated for; empty when inside.
    #[must_use]
    pub fn warnings(self, input: &PathInput<'_>) -> Vec<Warning> {
        match self {
            Self::P1812 => p1812::warnings(input),
            Self::P452 => p452::warnings(input),
            Self::Itm(settings) => itm::warnings(input, &settings),
        }
    }
}

/// Result of a whole-path model.
#[derive(Clone, Debug, PartialEq)]
pub struct PathLoss {
    /// Basic transmission loss not exceeded for the asked time and locations. \[dB\]
    pub loss_db: f64,
    /// Every intermediate quantity of the model that made it.
    pub terms: Terms,
}

impl PathLoss {
    /// Free-space part of the loss, with the model's own constant. \[dB\]
    #[must_use]
    pub fn free_space_db(&self) -> f64 {
        match &self.terms {
            Terms::P1812(t) => t.line_of_sight.lbfs_db,
            Terms::P452(t) => t.line_of_sight.lbfs_db,
            Terms::Itm(t) => t.a_fs_db,
        }
    }

    /// Diffraction part for the asked time percentage; of the Irregular Terrain
    /// Model, the median loss beyond free space by whatever the path meets. \[dB\]
    #[must_use]
    pub fn diffraction_db(&self) -> f64 {
        match &self.terms {
            Terms::P1812(t) => t.diffraction.ldp_db,
            Terms::P452(t) => t.diffraction.ldp_db,
            Terms::Itm(t) => t.a_ref_db,
        }
    }

    /// Gaseous absorption the loss already holds; 0 for a model that leaves it out. \[dB\]
    #[must_use]
    pub fn gas_db(&self) -> f64 {
        match &self.terms {
            Terms::P1812(t) => t.line_of_sight.gas_db,
            Terms::P452(t) => t.line_of_sight.gas_db,
            Terms::Itm(_) => 0.0,
        }
    }

    /// True when terrain stands above the straight ray between the antennas
    /// (bare terrain, median refraction).
    #[must_use]
    pub fn is_transhorizon(&self) -> bool {
        match &self.terms {
            Terms::P1812(t) => t.path.horizons.transhorizon,
            Terms::P452(t) => t.path.horizons.transhorizon,
            Terms::Itm(t) => t.transhorizon,
        }
    }

    /// Elevations in which the ray leaves the transmitter and the receiver: at
    /// the other end, or at the horizon that hides it. \[deg\]
    #[must_use]
    pub fn departure_elevations_deg(&self) -> (f64, f64) {
        let of_mrad = |h: &clear_air::Horizons| [h.theta_t_mrad / 1e3, h.theta_r_mrad / 1e3];
        let [tx_rad, rx_rad] = match &self.terms {
            Terms::P1812(t) => of_mrad(&t.path.horizons),
            Terms::P452(t) => of_mrad(&t.path.horizons),
            Terms::Itm(t) => t.departure_rad,
        };
        (tx_rad.to_degrees(), rx_rad.to_degrees())
    }

    /// The terms in the order of the computation, for a person to read.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        match &self.terms {
            Terms::P1812(t) => t.list(),
            Terms::P452(t) => t.list(),
            Terms::Itm(t) => t.list(),
        }
    }
}

/// Intermediate quantities, in the vocabulary of the model that made them.
#[derive(Clone, Debug, PartialEq)]
pub enum Terms {
    /// Terms of ITU-R P.1812-8.
    P1812(p1812::Terms),
    /// Terms of ITU-R P.452-18.
    P452(p452::Terms),
    /// Terms of the Irregular Terrain Model.
    Itm(itm::Terms),
}
