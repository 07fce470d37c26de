//! Sensitivity of 802.16 receivers, and the gain of using few sub-channels.

use super::{OfdmaNumerology, PuscCarriers};
use crate::levels;

/// The level a receiver needs, OFDMA. \[dBm\]
///
/// `−114 + SNR − 10·log10(R) + 10·log10(Fs·Nused/Nfft) + IL + NF`, Fs in MHz,
/// Nused without DC.
///
/// * `required_snr_db`: threshold of the modulation, before repetition;
///   a [`super::modulation::Modulation`] of a repeated row already has it.
/// * `losses_db`: noise figure (default 8) plus implementation loss (default 5).
///
/// Source: IEEE 802.16-2009, 8.4.14.1 (memory). −114 dBm/MHz is the standard's
/// rounding of −113.975.
#[must_use]
pub fn sensitivity_dbm(
    numerology: &OfdmaNumerology,
    carriers: &PuscCarriers,
    required_snr_db: f64,
    losses_db: f64,
) -> f64 {
    let occupied_mhz = numerology.occupied_mhz(carriers);
    -114.0 + required_snr_db + levels::ratio_to_db(occupied_mhz) + losses_db
}

/// The level a receiver needs, 256-carrier OFDM. \[dBm\]
///
/// `−102 + SNR + 10·log10(Fs·Nused/Nfft · Nsub/16)`: 200 of 256 carriers, noise
/// figure 7 dB and implementation loss 5 dB included.
///
/// * `subchannels`: of 16.
///
/// Source: IEEE 802.16-2004, 8.3.11.1 (read).
#[must_use]
pub fn ofdm256_sensitivity_dbm(sampling_mhz: f64, required_snr_db: f64, subchannels: u32) -> f64 {
    let occupied_mhz = sampling_mhz * 200.0 / 256.0 * f64::from(subchannels) / 16.0;
    -102.0 + required_snr_db + levels::ratio_to_db(occupied_mhz)
}

/// Gain in power density of a terminal that sends on few sub-channels. \[dB\]
///
/// `10·log10(all/used)`: the receiver's noise bandwidth shrinks likewise.
#[must_use]
pub fn subchannelisation_gain_db(all_subchannels: u32, used_subchannels: u32) -> f64 {
    levels::ratio_to_db(f64::from(all_subchannels) / f64::from(used_subchannels.max(1)))
}
