//! The path of a hop: geometry, clearance at three curvatures, and losses in clear air.

use model::backhaul::HopPolarization;
use physics::diffraction::{DiffractionPath, SmoothSurface, delta_bullington, smooth_surface};
use physics::gas::{Air, specific_attenuation};
use physics::hop::{GroundClimate, MEDIAN_K, MEDIAN_RATIO, least_k_factor};
use physics::path_loss::{Polarization, Zone};
use physics::{free_space, fresnel, refractivity};
use serde::Serialize;

use crate::path::{PathEnd, PathError};
use crate::surroundings::CrossSection;

/// Effective Earth radius factor of an atmosphere that bends the ray towards
/// the ground, the same for every length; shown, not judged.
///
/// Common practice, no source: 2/3. What is judged is the least factor that
/// ITU-R P.530-18 gives for the length of the path.
pub const LOW_K: f64 = 2.0 / 3.0;

/// The path of a hop, the `from` end first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopPath {
    /// Length along the ground.
    pub distance_m: f64,
    /// Azimuth at the `from` end, clockwise from true north.
    pub azimuth_deg: f64,
    /// Azimuth at the `to` end back to the `from` end.
    pub back_azimuth_deg: f64,
    /// Antenna at the `from` end above sea level.
    pub from_amsl_m: f64,
    /// Antenna at the `to` end above sea level.
    pub to_amsl_m: f64,
    /// Elevation of the ray at the `from` end, median refraction.
    pub from_elevation_deg: f64,
    /// Elevation of the ray at the `to` end, median refraction.
    pub to_elevation_deg: f64,
    /// Mean height of the ground along the path, without what stands on it.
    pub mean_ground_amsl_m: f64,
    /// Free-space loss over the straight line between the antennas.
    pub free_space_loss_db: f64,
    /// Loss by the gases of the air.
    pub gas_loss_db: f64,
    /// Diffraction loss at median refraction.
    pub diffraction_loss_db: f64,
    /// Clearance at k = 4/3, at k = 2/3, and at the least k of the path's length; the first and the last are judged.
    pub clearances: [HopClearance; 3],
}

impl HopPath {
    /// Loss in clear air.
    pub fn clear_air_loss_db(&self) -> f64 {
        self.free_space_loss_db + self.gas_loss_db + self.diffraction_loss_db
    }

    /// The path over a traced cross-section.
    pub fn over(
        section: &CrossSection,
        (from, to): (&PathEnd, &PathEnd),
        frequency_mhz: f64,
        polarization: HopPolarization,
    ) -> Result<Self, PathError> {
        let unknown_points = section.unknown_points();
        if unknown_points > 0 {
            return Err(PathError::UnknownGround {
                unknown_points,
                points: section.points(),
            });
        }
        if section.length_m < 0.1 {
            return Err(PathError::SamePlace);
        }
        let profile = Profile::new(section, from, to, frequency_mhz / 1e3);
        let climate = climate(from, to, profile.length_km);
        let asked = [
            Criterion::median(),
            Criterion {
                judged: false,
                ..Criterion::at(LOW_K, climate)
            },
            Criterion::at(least_k_factor(profile.length_km), climate),
        ];
        let losses_db = profile.diffraction_db(section, polarization, asked.map(|c| c.k));
        let gas = specific_attenuation(profile.f_ghz, &Air::reference_at(profile.middle_amsl_m()));
        let rise_m = profile.to_amsl_m - profile.from_amsl_m;
        let radius_km = MEDIAN_K * refractivity::EARTH_RADIUS_KM;
        let elevation_deg =
            |rise_m: f64| refractivity::elevation_deg(rise_m, profile.length_km, radius_km);
        let slant_km = free_space::slant_distance_km(profile.length_km, rise_m);
        Ok(Self {
            distance_m: section.length_m,
            azimuth_deg: section.azimuth_deg,
            back_azimuth_deg: section.back_azimuth_deg,
            from_amsl_m: profile.from_amsl_m,
            to_amsl_m: profile.to_amsl_m,
            from_elevation_deg: elevation_deg(rise_m),
            to_elevation_deg: elevation_deg(-rise_m),
            mean_ground_amsl_m: mean(&profile.ground_m),
            free_space_loss_db: free_space::free_space_loss_db(profile.f_ghz, slant_km),
            gas_loss_db: gas.total_db_per_km() * slant_km,
            diffraction_loss_db: losses_db[0],
            clearances: [0, 1, 2].map(|i| profile.clearance(asked[i], losses_db[i])),
        })
    }
}

/// How the ray stands to the ground at one curvature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HopClearance {
    /// Effective Earth radius factor.
    pub k: f64,
    /// Least clearance over ground and clutter as a share of the first Fresnel zone; negative when blocked.
    pub clearance_ratio: f64,
    /// Share of the zone that good practice keeps clear.
    pub wanted_ratio: f64,
    /// Share of the zone below which the hop is not to be built so.
    pub least_ratio: f64,
    /// Whether a clearance short of those shares is a finding.
    pub judged: bool,
    /// Distance of the closest obstacle from the `from` end.
    pub obstacle_m: f64,
    /// Height of the ray over that obstacle; negative when blocked.
    pub clearance_m: f64,
    /// Radius of the first Fresnel zone there.
    pub fresnel_radius_m: f64,
    /// Share of the obstacle that is clutter rather than ground.
    pub clutter_m: f64,
    /// Diffraction loss.
    pub diffraction_loss_db: f64,
}

impl HopClearance {
    /// Metres by which the ray would have to be raised over the obstacle for the wanted share; negative where there is room.
    pub fn shortfall_m(&self) -> f64 {
        self.wanted_ratio * self.fresnel_radius_m - self.clearance_m
    }
}

/// What is asked of the clearance at one curvature.
#[derive(Clone, Copy)]
struct Criterion {
    k: f64,
    wanted_ratio: f64,
    least_ratio: f64,
    judged: bool,
}

impl Criterion {
    /// The whole first zone (ITU-R P.530-18, section 2.2.2); six tenths is the
    /// least that leaves free-space propagation (ITU-R P.526).
    fn median() -> Self {
        Self {
            k: MEDIAN_K,
            wanted_ratio: MEDIAN_RATIO,
            least_ratio: 0.6,
            judged: true,
        }
    }

    /// What the climate asks for under bad refraction (ITU-R P.530-18, section
    /// 2.2.2). Whether an obstruction is extended is not told from the profile:
    /// what an extended one asks for is wanted, what an isolated one asks for is the least.
    fn at(k: f64, [wanted, least]: [GroundClimate; 2]) -> Self {
        Self {
            k,
            wanted_ratio: wanted.least_k_ratio(),
            least_ratio: least.least_k_ratio(),
            judged: true,
        }
    }
}

/// The climate whose clearance is wanted, and the one whose clearance is the least.
fn climate(from: &PathEnd, to: &PathEnd, length_km: f64) -> [GroundClimate; 2] {
    let middle_deg = (from.position.lat_deg() + to.position.lat_deg()) / 2.0;
    if middle_deg.abs() <= 23.5 && length_km > GroundClimate::TROPICAL_FROM_KM {
        [GroundClimate::Tropical; 2]
    } else {
        [
            GroundClimate::TemperateExtended,
            GroundClimate::TemperateIsolated,
        ]
    }
}

/// A cross-section with surveyed ground at its ends.
struct Profile<'a> {
    f_ghz: f64,
    length_km: f64,
    from_amsl_m: f64,
    to_amsl_m: f64,
    d_km: Vec<f64>,
    ground_m: Vec<f64>,
    clutter_m: &'a [f64],
}

impl<'a> Profile<'a> {
    fn new(section: &'a CrossSection, from: &PathEnd, to: &PathEnd, f_ghz: f64) -> Self {
        let d_km: Vec<f64> = section.distance_m.iter().map(|d_m| d_m / 1e3).collect();
        let mut ground_m = section.ground_amsl_m.clone();
        let last = ground_m.len() - 1;
        ground_m[0] = from.ground_amsl_m.unwrap_or(ground_m[0]);
        ground_m[last] = to.ground_amsl_m.unwrap_or(ground_m[last]);
        Self {
            f_ghz,
            length_km: d_km[last],
            from_amsl_m: ground_m[0] + from.agl_m,
            to_amsl_m: ground_m[last] + to.agl_m,
            d_km,
            ground_m,
            clutter_m: &section.clutter_m,
        }
    }

    fn middle_amsl_m(&self) -> f64 {
        0.5 * (self.from_amsl_m + self.to_amsl_m)
    }

    /// Least clearance of the points between the ends.
    fn clearance(&self, asked: Criterion, diffraction_loss_db: f64) -> HopClearance {
        let at = |i: usize| {
            let (near_km, far_km) = (self.d_km[i], self.length_km - self.d_km[i]);
            let ray_m = (self.from_amsl_m * far_km + self.to_amsl_m * near_km) / self.length_km;
            let bulge_m = fresnel::earth_bulge_m(near_km, far_km, asked.k);
            let clearance_m = ray_m - bulge_m - self.ground_m[i] - self.clutter_m[i];
            let radius_m = fresnel::first_zone_radius_m(self.f_ghz, near_km, far_km);
            HopClearance {
                k: asked.k,
                clearance_ratio: fresnel::clearance_ratio(clearance_m, radius_m),
                wanted_ratio: asked.wanted_ratio,
                least_ratio: asked.least_ratio,
                judged: asked.judged,
                obstacle_m: near_km * 1e3,
                clearance_m,
                fresnel_radius_m: radius_m,
                clutter_m: self.clutter_m[i],
                diffraction_loss_db,
            }
        };
        (2..self.d_km.len() - 1).map(at).fold(at(1), |least, next| {
            if next.clearance_ratio < least.clearance_ratio {
                next
            } else {
                least
            }
        })
    }

    /// Diffraction loss at each factor. \[dB\]
    fn diffraction_db(
        &self,
        section: &CrossSection,
        polarization: HopPolarization,
        factors: [f64; 3],
    ) -> [f64; 3] {
        let path = DiffractionPath {
            d_km: &self.d_km,
            h_m: &self.ground_m,
            clutter_m: self.clutter_m,
            bare_ends_km: 0.0,
            tx_amsl_m: self.from_amsl_m,
            rx_amsl_m: self.to_amsl_m,
            f_ghz: self.f_ghz,
            lambda_m: free_space::wavelength_m(self.f_ghz),
        };
        let (hstd_m, hsrd_m) = smooth_surface(&path);
        let sea = section.zone.iter().filter(|z| **z == Zone::Sea).count();
        let surface = SmoothSurface {
            hstd_m,
            hsrd_m,
            omega: sea as f64 / section.zone.len() as f64,
            polarization: field(polarization),
        };
        let radii_km = factors.map(|k| k * refractivity::EARTH_RADIUS_KM);
        delta_bullington(&path, &surface, radii_km).map(|d| d.ld_db)
    }
}

/// The polarization as the formulas have it.
pub(crate) fn field(polarization: HopPolarization) -> Polarization {
    match polarization {
        HopPolarization::Vertical => Polarization::Vertical,
        HopPolarization::Horizontal => Polarization::Horizontal,
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}
