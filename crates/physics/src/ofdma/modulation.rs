//! Modulation and coding of the OFDMA air interface.

use super::SLOT_DATA_SUBCARRIERS;

/// One burst profile: constellation, code rate, repetition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Modulation {
    /// Name, as the standard writes it.
    pub name: &'static str,
    /// Bits of a constellation point: 2 QPSK, 4 16QAM, 6 64QAM.
    pub bits_per_point: u32,
    /// Code rate, numerator.
    pub code_num: u32,
    /// Code rate, denominator.
    pub code_den: u32,
    /// Repetition: 1, 2, 4 or 6; above 1 with QPSK 1/2 only (memory).
    pub repetition: u32,
    /// SNR for a bit error rate of 1e-6, turbo code, no fading, before any
    /// implementation margin (memory; within about 1 dB of a block-error table
    /// that was read). Repetition counts `−10·log10(R)`. \[dB\]
    pub turbo_snr_db: f64,
    /// The same with the convolutional code; none at 5/6 (memory). \[dB\]
    pub convolutional_snr_db: Option<f64>,
}

const fn row(
    name: &'static str,
    (bits_per_point, code_num, code_den): (u32, u32, u32),
    repetition: u32,
    turbo_snr_db: f64,
    convolutional_snr_db: Option<f64>,
) -> Modulation {
    Modulation {
        name,
        bits_per_point,
        code_num,
        code_den,
        repetition,
        turbo_snr_db,
        convolutional_snr_db,
    }
}

/// All burst profiles, most robust first.
///
/// Thresholds of the repeated rows are that of QPSK 1/2 less `10·log10(R)`:
/// 7.782, 6.021 and 3.010 dB (computed).
pub const MODULATIONS: [Modulation; 11] = [
    row("QPSK 1/2 x6", (2, 1, 2), 6, 2.9 - 7.782, Some(5.0 - 7.782)),
    row("QPSK 1/2 x4", (2, 1, 2), 4, 2.9 - 6.021, Some(5.0 - 6.021)),
    row("QPSK 1/2 x2", (2, 1, 2), 2, 2.9 - 3.010, Some(5.0 - 3.010)),
    row("QPSK 1/2", (2, 1, 2), 1, 2.9, Some(5.0)),
    row("QPSK 3/4", (2, 3, 4), 1, 6.3, Some(8.0)),
    row("16QAM 1/2", (4, 1, 2), 1, 8.6, Some(10.5)),
    row("16QAM 3/4", (4, 3, 4), 1, 12.7, Some(14.0)),
    row("64QAM 1/2", (6, 1, 2), 1, 13.8, Some(16.0)),
    row("64QAM 2/3", (6, 2, 3), 1, 16.9, Some(18.0)),
    row("64QAM 3/4", (6, 3, 4), 1, 18.0, Some(20.0)),
    row("64QAM 5/6", (6, 5, 6), 1, 19.9, None),
];

impl Modulation {
    /// The burst profile of a name, as in [`MODULATIONS`].
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        MODULATIONS.into_iter().find(|m| m.name == name)
    }

    /// Data bits of one subcarrier and symbol: `b·r/repetition`.
    #[must_use]
    pub fn bits_per_subcarrier(&self) -> f64 {
        f64::from(self.bits_per_point * self.code_num) / f64::from(self.code_den * self.repetition)
    }

    /// Data bits of one slot, `48·b·r/repetition`.
    #[must_use]
    pub fn bits_per_slot(&self) -> f64 {
        f64::from(SLOT_DATA_SUBCARRIERS) * self.bits_per_subcarrier()
    }
}

/// The fastest burst profile whose turbo-code threshold and margin an SNR meets.
///
/// Among profiles of equal rate the more robust one (16QAM 3/4 before 64QAM 1/2).
#[must_use]
pub fn fastest_within(snr_db: f64, margin_db: f64) -> Option<Modulation> {
    let usable = MODULATIONS
        .into_iter()
        .filter(|m| m.turbo_snr_db + margin_db <= snr_db);
    usable.reduce(|best, next| {
        if next.bits_per_slot() > best.bits_per_slot() {
            next
        } else {
            best
        }
    })
}
