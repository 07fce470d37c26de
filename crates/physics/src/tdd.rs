//! Time-division duplex in general, and the 3GPP tables for LTE and NR.

use crate::levels;

/// Distance light travels in a microsecond. \[km\]
const KM_PER_US: f64 = 0.299_792_458;

/// A duplex scheme described by shares, for any radio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TddScheme {
    /// Channel width. \[MHz\]
    pub channel_mhz: f64,
    /// Occupied share of the channel, 0 to 1.
    pub occupied_frac: f64,
    /// Downlink share of the frame, 0 to 1.
    pub downlink_frac: f64,
    /// Guard share of the frame, 0 to 1.
    pub guard_frac: f64,
    /// Share of pilots and control in either direction, 0 to 1.
    pub control_frac: f64,
    /// What retransmission and medium access leave, 0.9–0.95 (common practice).
    pub access_frac: f64,
}

impl TddScheme {
    /// Downlink capacity at a spectral efficiency, `B·u·d·(1−o)·e·L·m`. \[Mb/s\]
    ///
    /// * `bits_per_hz`: efficiency of one layer. `layers`: parallel streams.
    #[must_use]
    pub fn downlink_mbps(&self, bits_per_hz: f64, layers: u32) -> f64 {
        self.rate_mbps(self.downlink_frac, bits_per_hz, layers)
    }

    /// Uplink capacity at a spectral efficiency, `B·u·(1−d−g)·(1−o)·e·L·m`. \[Mb/s\]
    #[must_use]
    pub fn uplink_mbps(&self, bits_per_hz: f64, layers: u32) -> f64 {
        let uplink_frac = (1.0 - self.downlink_frac - self.guard_frac).max(0.0);
        self.rate_mbps(uplink_frac, bits_per_hz, layers)
    }

    fn rate_mbps(&self, share: f64, bits_per_hz: f64, layers: u32) -> f64 {
        let usable_mhz = self.channel_mhz * self.occupied_frac * share * (1.0 - self.control_frac);
        usable_mhz * bits_per_hz * f64::from(layers) * self.access_frac
    }
}

/// One row of a channel quality table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CqiRow {
    /// Channel quality indicator, 1 to 15.
    pub cqi: u32,
    /// Bits of a constellation point.
    pub bits_per_point: u32,
    /// Code rate times 1024.
    pub rate_x1024: u32,
}

impl CqiRow {
    /// Spectral efficiency of one layer, bits × rate. \[b/s/Hz\]
    #[must_use]
    pub fn efficiency_bits_per_hz(&self) -> f64 {
        f64::from(self.bits_per_point * self.rate_x1024) / 1024.0
    }
}

const fn cqi(cqi: u32, bits_per_point: u32, rate_x1024: u32) -> CqiRow {
    CqiRow {
        cqi,
        bits_per_point,
        rate_x1024,
    }
}

/// TS 38.214 Table 5.2.2.1-2, up to 64QAM (read); LTE's four-bit table is the same (memory).
pub const CQI_TABLE_1: [CqiRow; 15] = [
    cqi(1, 2, 78),
    cqi(2, 2, 120),
    cqi(3, 2, 193),
    cqi(4, 2, 308),
    cqi(5, 2, 449),
    cqi(6, 2, 602),
    cqi(7, 4, 378),
    cqi(8, 4, 490),
    cqi(9, 4, 616),
    cqi(10, 6, 466),
    cqi(11, 6, 567),
    cqi(12, 6, 666),
    cqi(13, 6, 772),
    cqi(14, 6, 873),
    cqi(15, 6, 948),
];

/// TS 38.214 Table 5.2.2.1-3, up to 256QAM (read).
pub const CQI_TABLE_2: [CqiRow; 15] = [
    cqi(1, 2, 78),
    cqi(2, 2, 193),
    cqi(3, 2, 449),
    cqi(4, 4, 378),
    cqi(5, 4, 490),
    cqi(6, 4, 616),
    cqi(7, 6, 466),
    cqi(8, 6, 567),
    cqi(9, 6, 666),
    cqi(10, 6, 772),
    cqi(11, 6, 873),
    cqi(12, 8, 711),
    cqi(13, 8, 797),
    cqi(14, 8, 885),
    cqi(15, 8, 948),
];

/// SINR at 90 % throughput for CQI 1 to 15 of table 1, as quoted by a public
/// simulation library (read); conservative at the top. \[dB\]
pub const CQI_TABLE_1_SINR_DB: [f64; 15] = [
    -1.89, -0.82, 0.95, 2.95, 4.90, 7.39, 8.89, 11.02, 13.32, 14.68, 16.62, 18.91, 21.58, 24.88,
    29.32,
];

/// The best row of table 1 that an SINR reaches, by [`CQI_TABLE_1_SINR_DB`].
#[must_use]
pub fn cqi_for_sinr(sinr_db: f64) -> Option<CqiRow> {
    let reached = CQI_TABLE_1_SINR_DB.into_iter().zip(CQI_TABLE_1);
    reached
        .take_while(|(needed_db, _)| *needed_db <= sinr_db)
        .last()
        .map(|(_, row)| row)
}

/// Attenuated Shannon curve of TR 36.942 annex A (memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShannonCurve {
    /// Attenuation factor.
    pub factor: f64,
    /// SNR below which nothing passes. \[dB\]
    pub floor_db: f64,
    /// Highest efficiency. \[b/s/Hz\]
    pub cap_bits_per_hz: f64,
}

impl ShannonCurve {
    /// Downlink of TR 36.942.
    pub const DOWNLINK: Self = Self {
        factor: 0.6,
        floor_db: -10.0,
        cap_bits_per_hz: 4.4,
    };
    /// Uplink of TR 36.942.
    pub const UPLINK: Self = Self {
        factor: 0.4,
        floor_db: -10.0,
        cap_bits_per_hz: 2.0,
    };

    /// `a·log2(1 + SNR)` between floor and cap. \[b/s/Hz\]
    #[must_use]
    pub fn efficiency_bits_per_hz(&self, snr_db: f64) -> f64 {
        if snr_db < self.floor_db {
            return 0.0;
        }
        (self.factor * (1.0 + levels::db_to_ratio(snr_db)).log2()).min(self.cap_bits_per_hz)
    }
}

/// What TS 38.306 needs for the peak rate of one carrier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NrCarrier {
    /// Layers.
    pub layers: u32,
    /// Bits of the highest modulation: 6 for 64QAM, 8 for 256QAM.
    pub bits_per_point: u32,
    /// Scaling factor: 1, 0.8, 0.75 or 0.4.
    pub scaling: f64,
    /// Resource blocks of the carrier.
    pub resource_blocks: u32,
    /// Numerology μ: spacing 15·2^μ kHz.
    pub mu: u32,
    /// Overhead share: see the constants of this type.
    pub overhead_frac: f64,
}

impl NrCarrier {
    /// Overhead below 7.125 GHz, downlink.
    pub const OVERHEAD_FR1_DOWNLINK: f64 = 0.14;
    /// Overhead above 24 GHz, downlink.
    pub const OVERHEAD_FR2_DOWNLINK: f64 = 0.18;
    /// Overhead below 7.125 GHz, uplink.
    pub const OVERHEAD_FR1_UPLINK: f64 = 0.08;
    /// Overhead above 24 GHz, uplink.
    pub const OVERHEAD_FR2_UPLINK: f64 = 0.10;

    /// Peak rate with all symbols in one direction. \[Mb/s\]
    ///
    /// `v·Qm·f·Rmax·(12·Nprb/Tsym)·(1 − OH)`, `Rmax = 948/1024`,
    /// `Tsym = 1 ms/(14·2^μ)`. Duplex: times [`symbol_share_frac`].
    ///
    /// Source: 3GPP TS 38.306, 4.1.2 (read).
    #[must_use]
    pub fn peak_rate_mbps(&self) -> f64 {
        let symbols_per_us = 14.0 * f64::from(2_u32.saturating_pow(self.mu)) / 1e3;
        let bits = f64::from(self.layers * self.bits_per_point) * self.scaling * 948.0 / 1024.0;
        bits * 12.0 * f64::from(self.resource_blocks) * symbols_per_us * (1.0 - self.overhead_frac)
    }
}

/// Share of symbols in one direction of a slot pattern, 0 to 1.
///
/// * `full_slots`: slots wholly in that direction; `special_symbols`: its symbols
///   in the special slot; `period_slots`: slots of the pattern, of 14 symbols.
#[must_use]
pub fn symbol_share_frac(full_slots: u32, special_symbols: u32, period_slots: u32) -> f64 {
    let symbols = f64::from(full_slots) * 14.0 + f64::from(special_symbols);
    symbols / (f64::from(period_slots.max(1)) * 14.0)
}

/// LTE's unit of time, 1/30.72 µs.
const LTE_TS_US: f64 = 1.0 / 30.72;

/// Downlink part of the special subframe, configurations 0 to 9, normal prefix,
/// in units of 1/30.72 µs. TS 36.211 Table 4.2-1 (read).
pub const LTE_DWPTS_TS: [u32; 10] = [
    6592, 19760, 21952, 24144, 26336, 6592, 19760, 21952, 24144, 13168,
];

/// Switch time of an LTE terminal: 624 units, 20.31 µs. \[µs\]
pub const LTE_SWITCH_US: f64 = 624.0 * LTE_TS_US;

/// Guard period of LTE special subframe configuration 0 to 9. \[µs\]
///
/// `30720 − DwPTS − UpPTS`; uplink part 2192 (0–4) or 4384 (5–9) units (memory).
#[must_use]
pub fn lte_guard_us(configuration: usize) -> Option<f64> {
    let downlink = LTE_DWPTS_TS.get(configuration)?;
    let uplink = if configuration < 5 { 2192 } else { 4384 };
    Some(f64::from(30_720 - downlink - uplink) * LTE_TS_US)
}

/// Guard period of a number of NR symbols, average length. \[µs\]
///
/// Symbol: `71.35 µs/2^μ`, the mean over a half-millisecond without the longer
/// first prefix.
#[must_use]
pub fn nr_guard_us(symbols: u32, mu: u32) -> f64 {
    f64::from(symbols) * NR_SYMBOL_US / f64::from(2_u32.saturating_pow(mu))
}

/// NR symbol with normal prefix at 15 kHz: 2048 + 144 units of 1/30.72 µs. \[µs\]
const NR_SYMBOL_US: f64 = 2192.0 * LTE_TS_US;

/// NR timing offset below 7.125 GHz, 25600 units of 1/1966.08 µs (memory). \[µs\]
pub const NR_OFFSET_US: f64 = 25_600.0 / 1966.08;

/// Largest cell radius of a guard period, `c·(GP − switch)/2`, at least 0. \[km\]
#[must_use]
pub fn guard_range_km(guard_us: f64, switch_us: f64) -> f64 {
    (guard_us - switch_us).max(0.0) * KM_PER_US / 2.0
}

/// Distance light travels in a time. \[km\]
#[must_use]
pub fn light_path_km(time_us: f64) -> f64 {
    time_us * KM_PER_US
}

/// How long a free-running oscillator stays within a phase error. \[s\]
#[must_use]
pub fn holdover_s(allowed_error_us: f64, relative_error: f64) -> f64 {
    allowed_error_us * 1e-6 / relative_error
}
