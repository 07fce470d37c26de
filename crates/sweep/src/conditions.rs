//! What is the same for every receiver of a sweep.

use physics::clutter;
use physics::path_loss::{PathInput, PathProfile, Polarization};

/// Carrier, heights, share of time and air of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Carrier, 30 to 6000.
    pub frequency_mhz: f64,
    /// Share of an average year for which the loss is not exceeded, 1 to 50.
    pub time_pct: f64,
    /// Antenna on the mast above its ground, > 0.
    pub mast_agl_m: f64,
    /// Receiving antenna above its ground, > 0.
    pub receiver_agl_m: f64,
    /// Orientation of the electric field.
    pub polarization: Polarization,
    /// Median lapse rate of refractivity in the lowest kilometre, positive, below 150.
    pub refractivity_lapse_n_per_km: f64,
    /// Surface refractivity at sea level.
    pub surface_refractivity_n: f64,
    /// Side of the square over which location variability is asked.
    pub location_area_m: f64,
}

impl Conditions {
    /// Median loss in a temperate climate, vertical polarization.
    pub fn median(frequency_mhz: f64, mast_agl_m: f64, receiver_agl_m: f64) -> Self {
        Self {
            frequency_mhz,
            time_pct: 50.0,
            mast_agl_m,
            receiver_agl_m,
            polarization: Polarization::Vertical,
            refractivity_lapse_n_per_km: 45.0,
            surface_refractivity_n: 325.0,
            location_area_m: 100.0,
        }
    }

    /// Standard deviation over locations where clutter of a height stands.
    pub fn location_sigma_db(&self, clutter_m: f64) -> f64 {
        clutter::location_sigma_db(self.f_ghz(), self.location_area_m)
            * clutter::location_height_factor(self.receiver_agl_m, clutter_m)
    }

    pub(crate) fn f_ghz(&self) -> f64 {
        self.frequency_mhz / 1e3
    }

    /// Input of the scalar model over a profile that ends at a receiver.
    pub(crate) fn path_input<'a>(
        &self,
        profile: PathProfile<'a>,
        path_centre_lat_deg: f64,
    ) -> PathInput<'a> {
        let last = profile.clutter_m()[profile.points() - 1];
        PathInput {
            time_pct: self.time_pct,
            sigma_loc_db: self.location_sigma_db(last),
            polarization: self.polarization,
            tx_agl_m: self.mast_agl_m,
            rx_agl_m: self.receiver_agl_m,
            path_centre_lat_deg,
            delta_n_per_km: self.refractivity_lapse_n_per_km,
            n0: self.surface_refractivity_n,
            ..PathInput::median(profile, self.f_ghz())
        }
    }
}
