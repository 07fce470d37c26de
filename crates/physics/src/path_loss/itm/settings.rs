//! What the model is given besides the path itself.

use crate::diffraction::Ground;
use crate::path_loss::Polarization;

/// Radio climate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Climate {
    /// 1: equatorial; typical N0 360.
    Equatorial,
    /// 2: continental subtropical; typical N0 320.
    ContinentalSubtropical,
    /// 3: maritime subtropical; typical N0 370.
    MaritimeSubtropical,
    /// 4: desert; typical N0 280.
    Desert,
    /// 5: continental temperate; typical N0 301.
    #[default]
    ContinentalTemperate,
    /// 6: maritime temperate, over land; typical N0 320.
    MaritimeTemperateLand,
    /// 7: maritime temperate, over sea; typical N0 350.
    MaritimeTemperateSea,
}

impl Climate {
    /// Every climate in the order of the code numbers.
    pub const ALL: [Self; 7] = [
        Self::Equatorial,
        Self::ContinentalSubtropical,
        Self::MaritimeSubtropical,
        Self::Desert,
        Self::ContinentalTemperate,
        Self::MaritimeTemperateLand,
        Self::MaritimeTemperateSea,
    ];

    /// Climate of a code number 1 to 7.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.get(usize::from(code).checked_sub(1)?).copied()
    }

    /// Code number, 1 to 7.
    #[must_use]
    pub fn code(self) -> u8 {
        self as u8 + 1
    }

    /// Sea-level surface refractivity customarily taken for the climate. \[N-units\]
    #[must_use]
    pub fn typical_n0(self) -> f64 {
        [360.0, 320.0, 370.0, 280.0, 301.0, 320.0, 350.0][self as usize]
    }
}

/// Which of time, location and situation vary together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Pooling {
    /// 0: one message; the situation percentage governs everything.
    SingleMessage,
    /// 1: time by its own percentage, location pooled with situation.
    Individual,
    /// 2: location pooled with time.
    #[default]
    Mobile,
    /// 3: time, location and situation each by its own percentage.
    Broadcast,
}

/// The mode of variability, in the sources a number such as 12.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Variability {
    /// What varies together.
    pub pooling: Pooling,
    /// +10: both ends are fixed and known, no variability over locations.
    pub without_location: bool,
    /// +20: no variability between situations, as in interference studies.
    pub without_situation: bool,
}

impl Variability {
    /// 12: surveyed ends. Suits fixed links over a known profile.
    pub const FIXED_LINK: Self = Self {
        pooling: Pooling::Mobile,
        without_location: true,
        without_situation: false,
    };

    /// Mode of a code number: 0 to 3, plus 10, plus 20.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        let pooling = match code % 10 {
            0 => Pooling::SingleMessage,
            1 => Pooling::Individual,
            2 => Pooling::Mobile,
            3 => Pooling::Broadcast,
            _ => return None,
        };
        (code < 40).then_some(Self {
            pooling,
            without_location: code / 10 % 2 == 1,
            without_situation: code >= 20,
        })
    }

    /// The code number.
    #[must_use]
    pub fn code(self) -> u8 {
        self.pooling as u8
            + 10 * u8::from(self.without_location)
            + 20 * u8::from(self.without_situation)
    }
}

/// What the shared path input does not carry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Radio climate.
    pub climate: Climate,
    /// Electrical properties of the ground.
    pub ground: Ground,
    /// What varies, and together with what.
    pub variability: Variability,
    /// Percentage of like situations in which the loss is not exceeded: the
    /// confidence in the prediction, between 0 and 100 exclusive. \[%\]
    pub situation_pct: f64,
}

impl Settings {
    /// Average ground. Customary values, no source known.
    pub const AVERAGE_GROUND: Ground = Ground {
        permittivity: 15.0,
        conductivity_s_per_m: 0.005,
    };

    /// Continental temperate climate, average ground, surveyed ends, median situation.
    pub const FIXED_LINK: Self = Self {
        climate: Climate::ContinentalTemperate,
        ground: Self::AVERAGE_GROUND,
        variability: Variability::FIXED_LINK,
        situation_pct: 50.0,
    };
}

impl Default for Settings {
    fn default() -> Self {
        Self::FIXED_LINK
    }
}

/// Two antennas, a carrier and the percentages asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// Transmitting antenna above ground, > 0. \[m\]
    pub tx_agl_m: f64,
    /// Receiving antenna above ground, > 0. \[m\]
    pub rx_agl_m: f64,
    /// Frequency. \[MHz\]
    pub f_mhz: f64,
    /// Polarization.
    pub polarization: Polarization,
    /// Sea-level surface refractivity. \[N-units\]
    pub n0: f64,
    /// Percentage of the time for which the loss is not exceeded; in the
    /// confidence-reliability form of the model, the reliability. \[%\]
    pub time_pct: f64,
    /// Percentage of locations for which the loss is not exceeded; 50 in the
    /// confidence-reliability form. \[%\]
    pub location_pct: f64,
}

/// Bare ground at equal steps from the transmitter to the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terrain<'a> {
    /// Ground above mean sea level, at least 3 finite heights. \[m\]
    pub h_m: &'a [f64],
    /// Step between two heights, > 0. \[m\]
    pub spacing_m: f64,
}

/// How carefully an antenna was placed, for the area mode.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Siting {
    /// 0: anywhere.
    #[default]
    Random,
    /// 1: on a good place.
    Careful,
    /// 2: on the best place around.
    VeryCareful,
}

impl Siting {
    /// Siting of a code number 0 to 2.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        [Self::Random, Self::Careful, Self::VeryCareful]
            .get(usize::from(code))
            .copied()
    }
}

/// A path of which only the kind of country is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Path length, > 0. \[km\]
    pub d_km: f64,
    /// Terrain irregularity: the range of heights between the highest and the
    /// lowest tenth, >= 0. Customary: 0 water, 30 plains, 90 hills, 200 to
    /// 500 mountains. \[m\]
    pub delta_h_m: f64,
    /// Siting of the transmitting antenna.
    pub tx_siting: Siting,
    /// Siting of the receiving antenna.
    pub rx_siting: Siting,
}
