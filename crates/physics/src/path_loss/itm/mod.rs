//! The Irregular Terrain Model (Longley–Rice) of NTIA/ITS, version 1.4:
//! 20 MHz to 20 GHz, about 1 to 2000 km.
//!
//! [`point_to_point`] takes bare ground **at equal steps**; [`area`] only the
//! kind of country. Both return every intermediate quantity. The order is
//! that of the sources: ground and refractivity, horizons, effective heights,
//! reference attenuation, variability. The model knows no buildings or trees:
//! what stands on the ground has to be in the profile or added to the result.
//!
//! The percentages say for how much of the time, of the locations and of like
//! situations the loss is *not exceeded*. The confidence-reliability form is
//! the same computation with time = reliability, location = 50 and
//! situation = confidence.
//!
//! The model truncates distances to profile points. Where one falls on a
//! point, rounding decides between two equally valid results, which may lie
//! tenths of a decibel apart.
//!
//! Sources: G. A. Hufford, "The ITS Irregular Terrain Model, version 1.2.2:
//! the algorithm" (1985, 2002); P. L. Rice et al., NBS Technical Note 101;
//! A. G. Longley and P. L. Rice, ESSA ERL 79-ITS 67 (1968); the reference
//! program `NTIA/itm`, commit 183ad95.

mod reference;
mod settings;
mod terms;
mod terrain;
mod variability;

pub use reference::PropagationMode;
pub use settings::{Area, Climate, Link, Pooling, Settings, Siting, Terrain, Variability};
pub use terms::Terms;
pub use variability::Spread;

use super::{PathInput, Warning};
use reference::{Attenuation, Case};
use variability::Surroundings;

/// Least effective height the roughness of the ground is weighed with. \[m\]
const LEAST_HEIGHT_M: f64 = 5.0;

/// Loss over a profile of the shared shape; its points must stand at equal steps.
///
/// Takes ground, heights, frequency, polarization, `n0`, `time_pct` and
/// `location_pct`; ignores clutter, zones, `delta_n_per_km` and the rest.
#[must_use]
pub fn predict(input: &PathInput<'_>, settings: &Settings) -> Terms {
    let profile = &input.profile;
    let terrain = Terrain {
        h_m: profile.h_m(),
        spacing_m: profile.length_km() * 1e3 / (profile.points() - 1) as f64,
    };
    let link = Link {
        tx_agl_m: input.tx_agl_m,
        rx_agl_m: input.rx_agl_m,
        f_mhz: input.f_ghz * 1e3,
        polarization: input.polarization,
        n0: input.n0,
        time_pct: input.time_pct,
        location_pct: input.location_pct,
    };
    point_to_point(&terrain, &link, settings)
}

/// Where a path leaves the range the model is made for, its results included.
#[must_use]
pub fn warnings(input: &PathInput<'_>, settings: &Settings) -> Vec<Warning> {
    let mut found = predict(input, settings).warnings();
    let d_km = input.profile.d_km();
    let step_km = input.profile.length_km() / (d_km.len() - 1) as f64;
    let uneven = d_km
        .windows(2)
        .map(|w| w[1] - w[0])
        .find(|step| (step / step_km - 1.0).abs() > 1e-3);
    if let Some(value) = uneven {
        found.push(Warning::OutOfRange {
            quantity: "step_km",
            value,
            min: step_km,
            max: step_km,
        });
    }
    found
}

/// Loss over a known profile.
///
/// Total: finite heights and inputs inside the ranges of [`Terms::warnings`]
/// give finite numbers. A profile of fewer than 3 heights is read as flat
/// between its ends.
#[must_use]
pub fn point_to_point(terrain: &Terrain<'_>, link: &Link, settings: &Settings) -> Terms {
    let h = [link.tx_agl_m, link.rx_agl_m];
    let d = terrain.length_m();
    let ns = reference::surface_refractivity(link.n0, terrain.mean_height_m());
    let ae = reference::effective_radius_m(ns);
    let [z_tx, z_rx] = terrain.ends_m();
    let horizon = terrain.horizon(z_tx + h[0], z_rx + h[1], ae);
    let [d1, d2] = horizon.d_m;
    let from = (15.0 * h[0]).min(0.1 * d1);
    let to = d - (15.0 * h[1]).min(0.1 * d2);
    let delta_h = terrain.irregularity_m(from, to);
    let mut case = Case {
        f_mhz: link.f_mhz,
        ns,
        ae,
        zg: reference::ground_impedance(settings.ground, link.polarization, link.f_mhz),
        h,
        he: h,
        theta: horizon.theta_rad,
        dh: horizon.d_m,
        delta_h,
        known_path_m2: 10.0,
    };
    if d1 + d2 > 1.5 * d {
        let [start, end] = terrain.fitted_ends_m(from, to);
        case.he = raised(h, [z_tx - start, z_rx - end]);
        case.smooth_horizons(d);
    } else {
        let [start, _] = terrain.fitted_ends_m(from, 0.9 * d1);
        let [_, end] = terrain.fitted_ends_m(d - 0.9 * d2, to);
        case.he = raised(h, [z_tx - start, z_rx - end]);
    }
    let mut terms = case.terms(d, link, settings);
    terms.departure_rad = horizon.theta_rad;
    terms.transhorizon = d1 < d || d2 < d;
    terms
}

/// Antennas above what reflects in front of them.
fn raised(h: [f64; 2], above: [f64; 2]) -> [f64; 2] {
    [h[0] + above[0].max(0.0), h[1] + above[1].max(0.0)]
}

/// Loss where only the kind of country is known.
#[must_use]
pub fn area(area: &Area, link: &Link, settings: &Settings) -> Terms {
    let h = [link.tx_agl_m, link.rx_agl_m];
    let ae = reference::effective_radius_m(link.n0);
    let mut case = Case {
        f_mhz: link.f_mhz,
        ns: link.n0,
        ae,
        zg: reference::ground_impedance(settings.ground, link.polarization, link.f_mhz),
        h,
        he: [
            area.tx_siting.effective_height_m(h[0], area.delta_h_m),
            area.rx_siting.effective_height_m(h[1], area.delta_h_m),
        ],
        theta: [0.0; 2],
        dh: [0.0; 2],
        delta_h: area.delta_h_m,
        known_path_m2: 0.0,
    };
    case.dh = case.rough_horizons_m();
    case.theta = case.rough_elevations_rad();
    case.terms(area.d_km * 1e3, link, settings)
}

impl Siting {
    /// Height above the ground around a place chosen so. Algorithm, equation (3.2).
    fn effective_height_m(self, h_m: f64, delta_h_m: f64) -> f64 {
        let gain = match self {
            Self::Random => return h_m,
            Self::Careful => 4.0,
            Self::VeryCareful => 9.0,
        };
        let gain = if h_m < 5.0 {
            gain * (0.1 * std::f64::consts::PI * h_m).sin()
        } else {
            gain
        };
        h_m + (1.0 + gain) * (-(2.0 * h_m / delta_h_m.max(1e-3)).min(20.0)).exp()
    }
}

impl Case {
    /// Horizons of a path well inside line of sight, estimated from its
    /// irregularity instead of the far end.
    fn smooth_horizons(&mut self, d: f64) {
        self.dh = self.rough_horizons_m();
        let together = self.dh[0] + self.dh[1];
        if together <= d {
            let q = (d / together).powi(2);
            self.he = self.he.map(|he| he * q);
            self.dh = self.rough_horizons_m();
        }
        self.theta = self.rough_elevations_rad();
    }

    /// Horizon distances over ground of this irregularity. Algorithm, equation (3.3).
    fn rough_horizons_m(&self) -> [f64; 2] {
        let smooth = self.smooth_horizons_m();
        std::array::from_fn(|i| {
            let rough = (self.delta_h / self.he[i].max(LEAST_HEIGHT_M)).sqrt();
            smooth[i] * (-0.07 * rough).exp()
        })
    }

    /// Horizon elevations over ground of this irregularity. Algorithm, equation (3.4).
    fn rough_elevations_rad(&self) -> [f64; 2] {
        let smooth = self.smooth_horizons_m();
        std::array::from_fn(|i| {
            let s = smooth[i];
            (0.65 * self.delta_h * (s / self.dh[i] - 1.0) - 2.0 * self.he[i]) / s
        })
    }

    /// The loss at distance `d` with every quantity.
    fn terms(&self, d: f64, link: &Link, settings: &Settings) -> Terms {
        let Attenuation { a_ref_db, mode } = self.attenuation(d);
        let d_km = d / 1e3;
        let a_fs_db = 32.45 + 20.0 * (link.f_mhz * d_km).log10();
        let spread = Spread::of(
            link,
            settings,
            &Surroundings {
                d_m: d,
                he_m: self.he,
                range_m: reference::irregularity_within_m(self.delta_h, d),
                a_ref_db,
            },
        );
        Terms {
            link: *link,
            settings: *settings,
            d_km,
            n_s: self.ns,
            ae_km: self.ae / 1e3,
            z_g: self.zg,
            delta_h_m: self.delta_h,
            departure_rad: self.theta,
            transhorizon: mode != PropagationMode::LineOfSight,
            theta_hzn_rad: self.theta,
            d_hzn_m: self.dh,
            d_hzn_smooth_m: self.smooth_horizons_m(),
            h_e_m: self.he,
            prop_mode: mode,
            a_ref_db,
            a_fs_db,
            spread,
            a_db: spread.attenuation_db + a_fs_db,
        }
    }
}
