//! Two-antenna links: what two chains, two receivers and two streams give.
//!
//! Planning formulas for a 2×2 link with crossed polarizations, as a fixed
//! wireless link has it: a strong direct path, two nearly separate channels.
//! They are not a channel simulation; correlation and fading enter through
//! margins chosen elsewhere.

use crate::levels;
use crate::noise::combined_snr_db;

/// Power of a station from the power of each of its transmit chains. \[dBm\]
///
/// `P + 10·log10(N)`: the chains carry different signals, so powers add.
#[must_use]
pub fn total_power_dbm(per_chain_dbm: f64, chains: u32) -> f64 {
    per_chain_dbm + levels::ratio_to_db(f64::from(chains))
}

/// Power of each chain from the station's total. \[dBm\]
#[must_use]
pub fn per_chain_power_dbm(total_dbm: f64, chains: u32) -> f64 {
    total_dbm - levels::ratio_to_db(f64::from(chains))
}

/// Array gain some rules add when chains carry correlated signals, `10·log10(N)`. \[dB\]
#[must_use]
pub fn correlated_array_gain_db(chains: u32) -> f64 {
    levels::ratio_to_db(f64::from(chains))
}

/// SNR gain of combining equal branches with independent noise, `10·log10(N)`. \[dB\]
///
/// Maximal-ratio combining of `receivers` branches that each hear all of the
/// wanted power.
#[must_use]
pub fn combining_gain_db(receivers: u32) -> f64 {
    levels::ratio_to_db(f64::from(receivers))
}

/// SNR of maximal-ratio combining: the sum of the branches' SNRs. \[dB\]
#[must_use]
pub fn combined_branches_snr_db(branch_snrs_db: impl IntoIterator<Item = f64>) -> f64 {
    levels::ratio_to_db(branch_snrs_db.into_iter().map(levels::db_to_ratio).sum())
}

/// How the two polarized channels of a link relate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Channels {
    /// Crossed polarizations: each receiver hears mainly its own transmitter.
    CrossPolar {
        /// Power ratio of the wanted to the other stream at one receiver,
        /// everything included: rotation, antennas, path. \[dB\]
        isolation_db: f64,
    },
    /// One polarization: each receiver hears both transmitters alike.
    CoPolar,
}

/// SNR after space-time coding (Alamouti, matrix A) over 2×2. \[dB\]
///
/// * `chain_snr_db`: SNR of one receiver hearing one transmit chain on the
///   co-polar path at that chain's own power.
///
/// Alamouti sums the power of all four paths: `γ·(‖H‖²)`, where per-chain power
/// already carries the split. Cross-polar: `‖H‖² = 2·(1 + 10^(−X/10))`, two
/// co-polar paths and the leaks; co-polar: 4. Diversity against fading comes on
/// top and is left to the margin.
///
/// Source: Alamouti, IEEE JSAC 16 (8), 1998 (from memory); the use of mean
/// powers is common practice, no source.
#[must_use]
pub fn space_time_coding_snr_db(chain_snr_db: f64, channels: Channels) -> f64 {
    let paths = match channels {
        Channels::CrossPolar { isolation_db } => 2.0 * (1.0 + levels::db_to_ratio(-isolation_db)),
        Channels::CoPolar => 4.0,
    };
    chain_snr_db + levels::ratio_to_db(paths)
}

/// SNR of each stream of spatial multiplexing (matrix B) over 2×2. \[dB\]
///
/// * `chain_snr_db`: as in [`space_time_coding_snr_db`]; its power is the
///   stream's power, so the 3 dB split is already in it.
///
/// The other stream is noise to a receiver that does not cancel it:
/// `1/(10^(−γ/10) + 10^(−X/10))`. A receiver that cancels does better, so this
/// is the cautious side (common practice, no source). On one polarization in
/// line of sight the streams are inseparable: minus infinity.
#[must_use]
pub fn spatial_multiplexing_snr_db(chain_snr_db: f64, channels: Channels) -> f64 {
    match channels {
        Channels::CrossPolar { isolation_db } => combined_snr_db(chain_snr_db, isolation_db),
        Channels::CoPolar => f64::NEG_INFINITY,
    }
}

/// SNR of each stream when the receiver inverts the channel (zero forcing). \[dB\]
///
/// For a symmetric crossed channel `[[1, a], [a, 1]]` with leak amplitude
/// `a = 10^(−X/20)`, noise rises by `(1 + a²)/(1 − a²)²` for in-phase leaks.
/// The bright side of [`spatial_multiplexing_snr_db`]; minus infinity at 0 dB
/// isolation.
#[must_use]
pub fn zero_forcing_snr_db(chain_snr_db: f64, isolation_db: f64) -> f64 {
    let leak = levels::db_to_ratio(-isolation_db.max(0.0));
    let rise = (1.0 + leak) / ((1.0 - leak) * (1.0 - leak));
    chain_snr_db - levels::ratio_to_db(rise)
}

/// Which way of using two chains carries more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MimoMode {
    /// One transmit chain, one stream.
    Single,
    /// Space-time coding: one stream over both chains, for reach.
    SpaceTimeCoding,
    /// Spatial multiplexing: two streams, for rate.
    SpatialMultiplexing,
}

impl MimoMode {
    /// Independent data streams.
    #[must_use]
    pub fn streams(self) -> u32 {
        match self {
            Self::Single | Self::SpaceTimeCoding => 1,
            Self::SpatialMultiplexing => 2,
        }
    }
}
