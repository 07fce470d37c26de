//! Climate in `mastwright.toml`.

use crate::climate_grid::ClimateQuantity;
use crate::written::{At, written_choice, written_table};

written_table! {
    /// Climate of the whole network: what is written here comes before any map, a map before the default by latitude.
    pub struct ClimateText {
        /// Median fall of refractivity over the lowest kilometre, positive. Default: by latitude, with a finding.
        refractivity_lapse_n_per_km: optional f64 [10.0, 200.0];
        /// Surface refractivity at sea level. Default: by latitude, with a finding.
        surface_refractivity_n: optional f64 [200.0, 500.0];
        /// Rain rate exceeded for 0.01 % of an average year. Default: by latitude, with a finding.
        rain_001_mm_per_h: optional f64 [0.0, 300.0];
        /// Refractivity gradient over the lowest 65 m that is not exceeded for 1 % of an average year. Default: by latitude, with a finding.
        gradient_1pct_n_per_km: optional f64 [-1000.0, 0.0];
        /// Decimal logarithm of the geoclimatic factor of ITU-R P.530; with `gradient_75_n_per_km`.
        log_k: optional f64 [-10.0, 0.0];
        /// Statistic of the refractivity gradient of ITU-R P.530; with `log_k`.
        gradient_75_n_per_km: optional f64 [0.0, 1000.0];
        /// Copies of the digital maps of the ITU, one table each.
        map: optional Vec<At<ClimateMapText>>;
    }
}

written_choice!(ClimateQuantity {
    "refractivity-lapse" => ClimateQuantity::RefractivityLapse,
    "surface-refractivity" => ClimateQuantity::SurfaceRefractivity,
    "rain-001" => ClimateQuantity::Rain001,
    "gradient-1pct" => ClimateQuantity::Gradient1Pct,
    "log-k" => ClimateQuantity::LogK,
    "gradient-75" => ClimateQuantity::Gradient75,
});

written_table! {
    /// A copy of a digital map of the ITU: rows of numbers that cover the whole Earth, its last column repeating the first.
    pub struct ClimateMapText {
        /// What the map holds.
        quantity: required ClimateQuantity;
        /// Path of the file, in the project folder or outside.
        file: required String;
        /// Latitude of the first row; the last row lies as far beyond the equator. Default: as the quantity's map is published.
        first_lat_deg: optional f64 [-90.0, 90.0];
        /// Longitude of the first column. Default: as the quantity's map is published.
        first_lon_deg: optional f64 [-180.0, 360.0];
    }
}
