//! Loss in trees: a terminal in woodland (ITU-R P.833) and the fits in use for
//! a stand of trees across a path.
//!
//! No total may exceed the loss of the way over or around the trees: join both
//! with [`crate::levels::parallel_loss_db`]. Trees raised into the profile as
//! clutter must not be counted here again. Bare trees lose 0.2 to 0.5 of the
//! decibels of trees in leaf above some GHz (from memory, no source).

use crate::levels::{log10, pow10};
use crate::path_loss::Warning;
use crate::ranges::outside;

/// Excess loss of a terminal inside woodland. \[dB\]
///
/// `A = Am·(1 − exp(−d·γ/Am))`
///
/// * `depth_m`: path inside the woodland, >= 0. `specific_db_per_m`: γ for
///   very short vegetative paths, >= 0. `max_db`: greatest excess loss Am, > 0.
/// * Valid: 30 MHz to 30 GHz.
///
/// Source: ITU-R P.833-9, section 2.1, equation (1).
#[must_use]
pub fn woodland_excess_db(depth_m: f64, specific_db_per_m: f64, max_db: f64) -> f64 {
    -max_db * (-depth_m * specific_db_per_m / max_db).exp_m1()
}

/// Measured woodland with its fit of the greatest excess loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Woodland {
    /// Tropical trees in a park, 900 to 1800 MHz.
    TropicalPark,
    /// Mixed species, 900 to 2200 MHz.
    MixedSpecies,
    /// Mixed coniferous and deciduous forest, 105.9 to 2117.5 MHz.
    MixedForest,
}

impl Woodland {
    /// A1, its exponent, and the range measured. \[dB, MHz\]
    fn fit(self) -> (f64, f64, (f64, f64)) {
        match self {
            Self::TropicalPark => (0.18, 0.752, (900.0, 1800.0)),
            Self::MixedSpecies => (1.15, 0.43, (900.0, 2200.0)),
            Self::MixedForest => (1.37, 0.42, (105.9, 2117.5)),
        }
    }

    /// Greatest excess loss Am, `A1·f^α`. \[dB\]
    ///
    /// Source: ITU-R P.833-9, section 2.1, equation (2), fits of the text
    /// (from memory of the text).
    #[must_use]
    pub fn max_excess_db(self, f_mhz: f64) -> f64 {
        let (a1, exponent, _) = self.fit();
        a1 * f_mhz.powf(exponent)
    }

    /// Where the frequency leaves what was measured; beyond, Am is extrapolated.
    #[must_use]
    pub fn warnings(self, f_mhz: f64) -> Vec<Warning> {
        let (_, _, (min, max)) = self.fit();
        outside([("f_mhz", f_mhz, min, max)])
    }
}

/// Measured parameters of the mixed forest: frequency, γ, Am. \[MHz, dB/m, dB\]
///
/// Source: ITU-R P.833-9, section 2.1, Table 1.
pub const MIXED_FOREST: [(f64, f64, f64); 5] = [
    (105.9, 0.04, 9.4),
    (466.475, 0.12, 18.0),
    (949.0, 0.17, 26.5),
    (1852.2, 0.30, 29.0),
    (2117.5, 0.34, 34.1),
];

/// Specific attenuation in woodland, vertical polarization. \[dB/m\]
///
/// * `f_mhz`: 30 to 30 000; the curve's ends are continued.
///
/// Straight lines in both logarithms through 30 MHz, 1 GHz and 30 GHz.
/// Horizontal polarization is lower below about 500 MHz.
///
/// Source: read off the curve of ITU-R P.833-9, Figure 2, by public research
/// code that cites it; the curve spreads by a factor of two and more.
#[must_use]
pub fn specific_attenuation_db_per_m(f_mhz: f64) -> f64 {
    const POINTS: [(f64, f64); 3] = [(30.0, 0.02), (1000.0, 0.2), (30_000.0, 6.0)];
    let [low, middle, high] = POINTS;
    let ((f0, g0), (f1, g1)) = if f_mhz < middle.0 {
        (low, middle)
    } else {
        (middle, high)
    };
    let slope = log10(g1 / g0) / log10(f1 / f0);
    g0 * pow10(slope * log10(f_mhz / f0))
}

/// A published fit of the loss through a stand of trees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FoliageFit {
    /// Modified exponential decay of Weissberger: 0.23 to 95 GHz, up to 400 m
    /// of dry trees in leaf.
    Weissberger,
    /// Early ITU-R (CCIR) fit: 0.2 to 95 GHz, less than 400 m.
    EarlyItu,
    /// Fitted ITU-R, in leaf: 11 to 20 GHz.
    FittedItuInLeaf,
    /// Fitted ITU-R, out of leaf: 11 to 20 GHz.
    FittedItuOutOfLeaf,
    /// COST 235, in leaf: 9.6 to 57.6 GHz.
    Cost235InLeaf,
    /// COST 235, out of leaf: 9.6 to 57.6 GHz.
    Cost235OutOfLeaf,
}

impl FoliageFit {
    /// Every fit, in the order a list shows them.
    pub const ALL: [Self; 6] = [
        Self::Weissberger,
        Self::EarlyItu,
        Self::FittedItuInLeaf,
        Self::FittedItuOutOfLeaf,
        Self::Cost235InLeaf,
        Self::Cost235OutOfLeaf,
    ];

    /// Loss through foliage. \[dB\]
    ///
    /// * `f_mhz`: > 0. `depth_m`: >= 0, see the fit's range.
    ///
    /// Sources: M. A. Weissberger, ESD-TR-81-101 (1982); CCIR Report 236-2;
    /// M. O. Al-Nuaimi and R. B. L. Stephens (1998); COST 235 final report
    /// (1996). All from memory, in wide use.
    #[must_use]
    pub fn loss_db(self, f_mhz: f64, depth_m: f64) -> f64 {
        let power = |a: f64, f_exponent: f64, d_exponent: f64| {
            a * f_mhz.powf(f_exponent) * depth_m.powf(d_exponent)
        };
        match self {
            Self::Weissberger => {
                let f_part = (f_mhz / 1e3).powf(0.284);
                if depth_m < 14.0 {
                    0.45 * f_part * depth_m
                } else {
                    1.33 * f_part * depth_m.powf(0.588)
                }
            }
            Self::EarlyItu => power(0.2, 0.3, 0.6),
            Self::FittedItuInLeaf => power(0.39, 0.39, 0.25),
            Self::FittedItuOutOfLeaf => power(0.37, 0.18, 0.59),
            Self::Cost235InLeaf => power(15.6, -0.009, 0.26),
            Self::Cost235OutOfLeaf => power(26.6, -0.2, 0.5),
        }
    }

    /// Where the case leaves the range of the fit.
    #[must_use]
    pub fn warnings(self, f_mhz: f64, depth_m: f64) -> Vec<Warning> {
        let (min, max) = match self {
            Self::Weissberger => (230.0, 95_000.0),
            Self::EarlyItu => (200.0, 95_000.0),
            Self::FittedItuInLeaf | Self::FittedItuOutOfLeaf => (11_000.0, 20_000.0),
            Self::Cost235InLeaf | Self::Cost235OutOfLeaf => (9600.0, 57_600.0),
        };
        outside([("f_mhz", f_mhz, min, max), ("depth_m", depth_m, 0.0, 400.0)])
    }
}
