//! Thermal noise, its rise under interference, and what a receiver needs.

use crate::levels;

/// Boltzmann constant, exact in the SI. \[J/K\]
pub const BOLTZMANN_J_K: f64 = 1.380_649e-23;

/// Reference temperature of noise figures. \[K\]
pub const REFERENCE_TEMPERATURE_K: f64 = 290.0;

/// Thermal noise power at 290 K, `k·T·B`. \[dBm\]
///
/// * `bandwidth_mhz`: noise bandwidth, the subcarriers used rather than the channel, > 0.
///
/// −173.975 dBm in one hertz.
#[must_use]
pub fn thermal_noise_dbm(bandwidth_mhz: f64) -> f64 {
    thermal_noise_at_dbm(bandwidth_mhz, REFERENCE_TEMPERATURE_K)
}

/// Thermal noise power at a given temperature, `k·T·B`. \[dBm\]
#[must_use]
pub fn thermal_noise_at_dbm(bandwidth_mhz: f64, temperature_k: f64) -> f64 {
    levels::w_to_dbm(BOLTZMANN_J_K * temperature_k * bandwidth_mhz * 1e6)
}

/// Noise floor of a receiver: thermal noise at 290 K raised by its noise figure. \[dBm\]
#[must_use]
pub fn noise_floor_dbm(bandwidth_mhz: f64, noise_figure_db: f64) -> f64 {
    thermal_noise_dbm(bandwidth_mhz) + noise_figure_db
}

/// Equivalent noise temperature of a receiver, `290·(10^(NF/10) − 1)`. \[K\]
#[must_use]
pub fn noise_temperature_k(noise_figure_db: f64) -> f64 {
    REFERENCE_TEMPERATURE_K * (levels::db_to_ratio(noise_figure_db) - 1.0)
}

/// Rise of the noise floor under interference, `10·log10(1 + 10^(I/N))`. \[dB\]
///
/// * `interference_over_noise_db`: I/N; minus infinity for none.
#[must_use]
pub fn noise_rise_db(interference_over_noise_db: f64) -> f64 {
    levels::ratio_to_db(1.0 + levels::db_to_ratio(interference_over_noise_db))
}

/// I/N that raises the noise floor by a given amount, the inverse of [`noise_rise_db`]. \[dB\]
///
/// Minus infinity for no rise.
#[must_use]
pub fn interference_over_noise_db(rise_db: f64) -> f64 {
    levels::ratio_to_db((levels::db_to_ratio(rise_db) - 1.0).max(0.0))
}

/// Lowest received level for a required SNR. \[dBm\]
#[must_use]
pub fn sensitivity_dbm(noise_floor_dbm: f64, required_snr_db: f64) -> f64 {
    noise_floor_dbm + required_snr_db
}

/// Signal over interference and noise. \[dB\]
///
/// * `interferers_dbm`: each interferer's level in the receiver's noise bandwidth.
#[must_use]
pub fn sinr_db(
    signal_dbm: f64,
    noise_floor_dbm: f64,
    interferers_dbm: impl IntoIterator<Item = f64>,
) -> f64 {
    let unwanted = std::iter::once(noise_floor_dbm).chain(interferers_dbm);
    signal_dbm - levels::sum_dbm(unwanted)
}

/// Two independent limits of the signal quality in series. \[dB\]
///
/// `−10·log10(10^(−a/10) + 10^(−b/10))`: thermal SNR with a transmitter's error
/// vector, or with the isolation of two streams.
#[must_use]
pub fn combined_snr_db(a_db: f64, b_db: f64) -> f64 {
    levels::parallel_loss_db([a_db, b_db])
}
