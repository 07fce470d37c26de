//! The IEEE 802.16 OFDMA air interface: time, carriers, slots, rates.
//!
//! [`OfdmaNumerology`] holds what a channel width fixes; [`frame`] counts slots
//! and what maps take of them, [`modulation`] turns slots into bits,
//! [`receiver`] gives thresholds and [`range`] the distance the gaps allow.
//! Everything is arithmetic on the numbers given: a scheme of another width is
//! another value, not another function.
//!
//! Certainty marks follow the values: *read* (seen in a published source),
//! *memory* (recalled), *computed* (follows from the others).

pub mod frame;
pub mod modulation;
pub mod range;
pub mod receiver;

/// What a channel width and its profile fix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OfdmaNumerology {
    /// Channel width. \[MHz\]
    pub channel_mhz: f64,
    /// Transform size, subcarriers including guards and DC.
    pub fft_size: u32,
    /// Sampling factor n, numerator.
    pub sampling_num: u32,
    /// Sampling factor n, denominator.
    pub sampling_den: u32,
    /// Cyclic prefix as a fraction of the useful symbol time: 1/4 to 1/32.
    pub guard_frac: f64,
    /// Frame length. \[ms\]
    pub frame_ms: f64,
    /// Symbols of a frame, downlink and uplink together.
    pub frame_symbols: u32,
    /// Gap from downlink to uplink, in physical slots of four samples.
    pub ttg_physical_slots: u32,
    /// Gap from uplink to downlink, in physical slots.
    pub rtg_physical_slots: u32,
    /// Downlink carriers (partially used sub-channels).
    pub downlink: PuscCarriers,
    /// Uplink carriers (partially used sub-channels).
    pub uplink: PuscCarriers,
}

/// Carriers of one direction with partial usage of sub-channels (PUSC).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PuscCarriers {
    /// Subcarriers used, including DC.
    pub used_subcarriers: u32,
    /// Sub-channels.
    pub subchannels: u32,
    /// Data subcarriers of a symbol, on average.
    pub data_subcarriers: u32,
    /// Pilot subcarriers of a symbol, on average.
    pub pilot_subcarriers: u32,
    /// Symbols of a slot: 2 downlink, 3 uplink.
    pub slot_symbols: u32,
}

/// Data subcarrier-symbols of every slot, in both directions (read).
pub const SLOT_DATA_SUBCARRIERS: u32 = 48;

const DOWNLINK_512: PuscCarriers = PuscCarriers {
    used_subcarriers: 421,
    subchannels: 15,
    data_subcarriers: 360,
    pilot_subcarriers: 60,
    slot_symbols: 2,
};

const DOWNLINK_1024: PuscCarriers = PuscCarriers {
    used_subcarriers: 841,
    subchannels: 30,
    data_subcarriers: 720,
    pilot_subcarriers: 120,
    slot_symbols: 2,
};

const UPLINK_512: PuscCarriers = PuscCarriers {
    used_subcarriers: 409,
    subchannels: 17,
    data_subcarriers: 272,
    pilot_subcarriers: 136,
    slot_symbols: 3,
};

const UPLINK_1024: PuscCarriers = PuscCarriers {
    used_subcarriers: 841,
    subchannels: 35,
    data_subcarriers: 560,
    pilot_subcarriers: 280,
    slot_symbols: 3,
};

/// One row of the profile table; the rest of a numerology follows from it.
const fn profile(
    channel_mhz: f64,
    fft_size: u32,
    sampling: (u32, u32),
    frame_symbols: u32,
    gaps: (u32, u32),
) -> OfdmaNumerology {
    let large = fft_size == 1024;
    OfdmaNumerology {
        channel_mhz,
        fft_size,
        sampling_num: sampling.0,
        sampling_den: sampling.1,
        guard_frac: 0.125,
        frame_ms: 5.0,
        frame_symbols,
        ttg_physical_slots: gaps.0,
        rtg_physical_slots: gaps.1,
        downlink: if large { DOWNLINK_1024 } else { DOWNLINK_512 },
        uplink: if large { UPLINK_1024 } else { UPLINK_512 },
    }
}

/// The widths deployed, in 5 ms frames with a guard of 1/8.
///
/// Carriers and sub-channels read in open simulation sources; symbol counts and
/// gaps from memory of the system profiles, closed by arithmetic: symbols and
/// gaps fill 5000 µs exactly in every row. The 3.5 MHz gaps are scaled from 7 MHz.
pub const PROFILES: [OfdmaNumerology; 5] = [
    profile(3.5, 512, (8, 7), 33, (188, 60)),
    profile(5.0, 512, (28, 25), 47, (148, 84)),
    profile(7.0, 1024, (8, 7), 33, (376, 120)),
    profile(8.75, 1024, (8, 7), 42, (218, 186)),
    profile(10.0, 1024, (28, 25), 47, (296, 168)),
];

/// Sampling factor n of a channel width. IEEE 802.16-2009, 8.4.2.3 (memory).
///
/// 28/25 for multiples of 1.25, 1.5, 2 or 2.75 MHz, 8/7 otherwise; a multiple
/// of 1.75 MHz takes 8/7 even where it is also a multiple of the others.
#[must_use]
pub fn sampling_factor(channel_mhz: f64) -> (u32, u32) {
    let multiple_of = |step: f64| {
        let times = channel_mhz / step;
        (times - times.round()).abs() < 1e-9
    };
    let others = [1.25, 1.5, 2.0, 2.75];
    if !multiple_of(1.75) && others.into_iter().any(multiple_of) {
        (28, 25)
    } else {
        (8, 7)
    }
}

impl OfdmaNumerology {
    /// The deployed profile of a channel width of 3.5, 5, 7, 8.75 or 10 MHz.
    #[must_use]
    pub fn for_channel(channel_mhz: f64) -> Option<Self> {
        PROFILES
            .into_iter()
            .find(|p| (p.channel_mhz - channel_mhz).abs() < 1e-6)
    }

    /// Sampling frequency, `⌊n·BW/8000⌋·8000`. \[MHz\] (read)
    #[must_use]
    pub fn sampling_mhz(&self) -> f64 {
        // In whole hertz, so that the floor sees no rounding of the quotient.
        let width_hz = (self.channel_mhz * 1e6).round();
        let scaled = width_hz * f64::from(self.sampling_num);
        (scaled / (f64::from(self.sampling_den) * 8000.0)).floor() * 8000.0 / 1e6
    }

    /// Subcarrier spacing, `Fs/Nfft`. \[kHz\]
    #[must_use]
    pub fn subcarrier_khz(&self) -> f64 {
        self.sampling_mhz() * 1e3 / f64::from(self.fft_size)
    }

    /// Useful symbol time, `1/Δf`. \[µs\]
    #[must_use]
    pub fn useful_time_us(&self) -> f64 {
        f64::from(self.fft_size) / self.sampling_mhz()
    }

    /// Cyclic prefix, `G·Tb`. \[µs\]
    #[must_use]
    pub fn guard_time_us(&self) -> f64 {
        self.guard_frac * self.useful_time_us()
    }

    /// Symbol time, useful and guard. \[µs\]
    #[must_use]
    pub fn symbol_time_us(&self) -> f64 {
        self.useful_time_us() + self.guard_time_us()
    }

    /// Physical slot, four samples. \[µs\]
    #[must_use]
    pub fn physical_slot_us(&self) -> f64 {
        4.0 / self.sampling_mhz()
    }

    /// Gap from downlink to uplink. \[µs\]
    #[must_use]
    pub fn ttg_us(&self) -> f64 {
        f64::from(self.ttg_physical_slots) * self.physical_slot_us()
    }

    /// Gap from uplink to downlink. \[µs\]
    #[must_use]
    pub fn rtg_us(&self) -> f64 {
        f64::from(self.rtg_physical_slots) * self.physical_slot_us()
    }

    /// Frame time not filled by symbols and gaps; zero in every profile. \[µs\]
    #[must_use]
    pub fn idle_us(&self) -> f64 {
        let filled_us = f64::from(self.frame_symbols) * self.symbol_time_us();
        self.frame_ms * 1e3 - filled_us - self.ttg_us() - self.rtg_us()
    }

    /// Bandwidth the used subcarriers occupy, without DC, in a direction. \[MHz\]
    #[must_use]
    pub fn occupied_mhz(&self, carriers: &PuscCarriers) -> f64 {
        self.subcarrier_khz() * f64::from(carriers.used_subcarriers.saturating_sub(1)) / 1e3
    }
}
