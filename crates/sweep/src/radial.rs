//! One radial: what stands along it, what a receiver on it is, and what its
//! loss means.

use physics::path_loss::{PathProfile, Zone, p1812};
use physics::refractivity::EARTH_RADIUS_KM;

use crate::Conditions;

/// Ground and clutter along a geodesic from a mast, at equal steps. Sample 0
/// is the mast.
#[derive(Debug, Clone, Default)]
pub struct Radial {
    /// Step between samples, > 0. \[km\]
    pub step_km: f64,
    /// Bare ground above sea level; NaN is unknown. \[m\]
    pub ground_amsl_m: Vec<f64>,
    /// Clutter above the ground, >= 0. \[m\]
    pub clutter_m: Vec<f64>,
    /// Radio-climatic zone.
    pub zone: Vec<Zone>,
    /// Latitude of the middle of a path along the radial.
    pub centre: CentreLatitude,
}

impl Radial {
    /// Distance of a sample from the mast. \[km\]
    #[inline]
    pub fn d_km(&self, sample: usize) -> f64 {
        sample as f64 * self.step_km
    }

    /// Samples from the mast up to the first whose ground is unknown.
    pub fn known(&self) -> usize {
        let ground = &self.ground_amsl_m;
        ground
            .iter()
            .position(|h| h.is_nan())
            .unwrap_or(ground.len())
    }

    /// Last sample of the path to a receiver; the receiver follows it.
    ///
    /// It lies at least half a step before the receiver, so that clutter is
    /// never put closer to the antenna than the samples can tell.
    #[inline]
    pub fn last_inside(&self, receiver_km: f64) -> usize {
        last_inside(receiver_km, self.step_km)
    }

    /// The loss of the path to a receiver by the scalar model, with every
    /// term: what a sweep must agree with.
    ///
    /// The path has the radial's samples up to [`Radial::last_inside`] of its
    /// own end, if it has one, else of the receiver; then its own end; then the
    /// receiver's own point. `None` where that leaves no sample of the radial
    /// between the ends, or where ground is unknown.
    pub fn reference(
        &self,
        receiver: &Receiver,
        own: Option<&OwnEnd>,
        conditions: &Conditions,
    ) -> Option<p1812::Terms> {
        let shared_km = own.map_or(receiver.d_km, |own| own.d_km(receiver.d_km, 0));
        let last = self.last_inside(shared_km);
        if last < 1 || last >= self.known() || !receiver.ground_amsl_m.is_finite() {
            return None;
        }
        let mut d_km: Vec<f64> = (0..=last).map(|i| self.d_km(i)).collect();
        let mut ground_m = self.ground_amsl_m[..=last].to_vec();
        let mut clutter_m = self.clutter_m[..=last].to_vec();
        let mut zone = self.zone[..=last].to_vec();
        if let Some(own) = own {
            d_km.extend((0..OWN_SAMPLES).map(|i| own.d_km(receiver.d_km, i)));
            ground_m.extend(own.ground_amsl_m);
            clutter_m.extend(own.clutter_m);
            zone.extend(own.zone);
        }
        d_km.push(receiver.d_km);
        ground_m.push(receiver.ground_amsl_m);
        clutter_m.push(receiver.clutter_m);
        zone.push(receiver.zone);
        let profile = PathProfile::new(&d_km, &ground_m, &clutter_m, &zone).ok()?;
        let lat_deg = self.centre.lat_deg(receiver.d_km);
        Some(p1812::predict(&conditions.path_input(profile, lat_deg)))
    }
}

/// [`Radial::last_inside`] of any radial of a step.
#[inline]
pub(crate) fn last_inside(receiver_km: f64, step_km: f64) -> usize {
    (receiver_km / step_km - 0.5).max(0.0) as usize
}

/// [`OwnEnd::d_km`] of any own end of a step.
#[inline]
pub(crate) fn own_km(receiver_km: f64, step_km: f64, sample: usize) -> f64 {
    receiver_km - (OWN_SAMPLES - sample) as f64 * step_km
}

/// A receiver on a radial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Receiver {
    /// Distance from the mast. \[km\]
    pub d_km: f64,
    /// Its own ground above sea level. \[m\]
    pub ground_amsl_m: f64,
    /// Clutter where it stands: not in its way, but it spreads the loss over locations. \[m\]
    pub clutter_m: f64,
    /// Its radio-climatic zone.
    pub zone: Zone,
}

/// Samples of an [`OwnEnd`].
pub const OWN_SAMPLES: usize = 16;

/// The last samples of a path where they are not the radial's: they stand at
/// equal steps on the bearing of the receiver itself, and the receiver follows
/// them a step later.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnEnd {
    /// Step between them, > 0. \[km\]
    pub step_km: f64,
    /// Bare ground above sea level, the farthest from the receiver first; NaN is unknown. \[m\]
    pub ground_amsl_m: [f64; OWN_SAMPLES],
    /// Clutter above the ground, >= 0. \[m\]
    pub clutter_m: [f64; OWN_SAMPLES],
    /// Radio-climatic zone.
    pub zone: [Zone; OWN_SAMPLES],
}

impl Default for OwnEnd {
    /// Of no length, on unknown ground.
    fn default() -> Self {
        Self {
            step_km: 0.0,
            ground_amsl_m: [f64::NAN; OWN_SAMPLES],
            clutter_m: [0.0; OWN_SAMPLES],
            zone: [Zone::Inland; OWN_SAMPLES],
        }
    }
}

impl OwnEnd {
    /// Distance of a sample from the mast, given the receiver's. \[km\]
    #[inline]
    pub fn d_km(&self, receiver_km: f64, sample: usize) -> f64 {
        own_km(receiver_km, self.step_km, sample)
    }

    /// Whether all of it lies inland.
    #[inline]
    pub(crate) fn is_inland(&self) -> bool {
        let other = |other: bool, zone: &Zone| other | (*zone != Zone::Inland);
        !self.zone.iter().fold(false, other)
    }
}

/// Latitude of the middle of a path along a radial, on the sphere of 6371 km,
/// as a polynomial of the path's length.
///
/// The third-order term left out is below 1e-5 degrees at 100 km.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CentreLatitude {
    lat_deg: f64,
    per_km: f64,
    per_km2: f64,
}

impl CentreLatitude {
    /// For a mast's latitude and a radial's azimuth from true north.
    pub fn new(mast_lat_deg: f64, azimuth_deg: f64) -> Self {
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        Self::towards(mast_lat_deg, [sin, cos])
    }

    /// For the sine and cosine of the azimuth.
    pub(crate) fn towards(mast_lat_deg: f64, [sin, cos]: [f64; 2]) -> Self {
        // Near the poles the second-order term has no meaning; it is left out.
        let tan = mast_lat_deg.clamp(-89.0, 89.0).to_radians().tan();
        // Half the path as an angle on the sphere, per kilometre of path.
        let half = 0.5 / EARTH_RADIUS_KM;
        Self {
            lat_deg: mast_lat_deg,
            per_km: (half * cos).to_degrees(),
            per_km2: (-0.5 * half * half * sin * sin * tan).to_degrees(),
        }
    }

    /// Latitude of the middle of a path of this length. \[deg\]
    #[inline]
    pub fn lat_deg(&self, length_km: f64) -> f64 {
        self.lat_deg + length_km * (self.per_km + length_km * self.per_km2)
    }
}
