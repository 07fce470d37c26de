//! One stream of random numbers for each thing that is random.
//!
//! A flow's traffic and a terminal's fading do not depend on who else is there
//! or who is served first: two runs of a seed differ only by what was changed.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use rand_distr::{Distribution as _, Exp1, StandardNormal};

/// What a stream is for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Purpose {
    /// Traffic of a flow.
    Traffic = 1,
    /// Errors on the air of a flow.
    Errors = 2,
    /// Back-off of a flow.
    BackOff = 3,
    /// Fading of a terminal.
    Fading = 4,
    /// Calls of a terminal's lines.
    Calls = 5,
    /// Talk spurts of a call.
    Talk = 6,
}

/// A stream.
#[derive(Debug, Clone)]
pub(crate) struct Stream(ChaCha8Rng);

impl Stream {
    pub(crate) fn new(seed: u64, purpose: Purpose, index: usize) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(((purpose as u64) << 48) | index as u64);
        Self(generator)
    }

    /// Uniform, 0 to below 1.
    #[inline]
    pub(crate) fn uniform(&mut self) -> f64 {
        // The 53 bits of a mantissa.
        (self.0.next_u64() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// Whether something of a probability happens.
    #[inline]
    pub(crate) fn happens(&mut self, probability_frac: f64) -> bool {
        f64::from(self.0.next_u32()) < probability_frac * 4_294_967_296.0
    }

    /// A whole number below a bound.
    #[inline]
    pub(crate) fn below(&mut self, bound: u32) -> u32 {
        ((u64::from(self.0.next_u32()) * u64::from(bound)) >> 32) as u32
    }

    /// Exponential.
    #[inline]
    pub(crate) fn exponential(&mut self, mean: f64) -> f64 {
        let unit: f64 = Exp1.sample(&mut self.0);
        unit * mean
    }

    /// Normal, mean 0, standard deviation 1.
    #[inline]
    pub(crate) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }
}
