//! The end of a path: the receiver, and the samples before it that are its own.

use super::fold::Along;
use super::seen::Seen;
use crate::radial::{OWN_SAMPLES, OwnEnd};

/// A receiver seen from its radial.
#[derive(Debug, Clone, Copy)]
pub(super) struct End<'e> {
    /// Distance from the mast. \[km\]
    pub(super) dt: f64,
    /// Antenna above sea level. \[m\]
    pub(super) hrs: f64,
    /// Slope of the straight line from the mast's antenna. \[m/km\]
    pub(super) line: f64,
    /// Last sample of the radial inside the path.
    pub(super) last: usize,
    /// What follows it before the receiver.
    pub(super) own: Option<Own<'e>>,
}

/// The samples of an own end, and how they stand to mast and receiver.
#[derive(Debug, Clone, Copy)]
pub(super) struct Own<'e> {
    pub(super) samples: &'e OwnEnd,
    pub(super) seen: &'e Seen,
}

impl<'e> End<'e> {
    /// The same path with its own end as seen over another Earth.
    pub(super) fn seen_as(&self, seen: &'e Seen) -> Self {
        let own = self.own.map(|own| Own { seen, ..own });
        Self { own, ..*self }
    }

    /// Last sample before the receiver.
    #[inline]
    pub(super) fn last_of_all(&self) -> usize {
        self.last + self.own.map_or(0, |_| OWN_SAMPLES)
    }

    /// Distance of a sample from the mast. \[km\]
    #[inline]
    pub(super) fn d(&self, along: &[f64], i: usize) -> f64 {
        match self.own {
            Some(own) if i > self.last => own.samples.d_km(self.dt, i - self.last - 1),
            _ => along[i],
        }
    }

    /// Bare ground at a sample, of which the radial's is `h`. \[m amsl\]
    #[inline]
    pub(super) fn ground(&self, h: &[f64], i: usize) -> f64 {
        match self.own {
            Some(own) if i > self.last => own.samples.ground_amsl_m[i - self.last - 1],
            _ => h[i],
        }
    }

    /// Distances and heights of bare ground of its own samples.
    pub(super) fn own_ground(&self) -> impl Iterator<Item = (f64, f64)> {
        self.own_samples().map(|(d, ground, _)| (d, ground))
    }

    /// Distances and heights of ground and clutter of its own samples.
    pub(super) fn own_tops(&self) -> impl Iterator<Item = (f64, f64)> {
        self.own_samples()
            .map(|(d, ground, clutter)| (d, ground + clutter))
    }

    fn own_samples(&self) -> impl Iterator<Item = (f64, f64, f64)> {
        let dt = self.dt;
        self.own.into_iter().flat_map(move |own| {
            let samples = own.samples;
            let sample = move |i| {
                (
                    samples.d_km(dt, i),
                    samples.ground_amsl_m[i],
                    samples.clutter_m[i],
                )
            };
            (0..OWN_SAMPLES).map(sample)
        })
    }

    /// Whether nothing between the last sample of the radial and the receiver is higher, as
    /// seen from the receiver, than everything before could be.
    ///
    /// * `slope`: steepest folded slope from the receiver to its own samples.
    ///   `from_mast`: steepest folded slope from the mast to those of the radial. \[m/km\]
    ///
    /// All samples of the radial lie below the line of `from_mast`, along which the slope
    /// from the receiver rises or falls throughout: it is greatest at one of the line's ends.
    #[inline]
    pub(super) fn hides_radial(
        &self,
        along: &Along<'_>,
        c: f64,
        slope: f64,
        from_mast: f64,
    ) -> bool {
        let g = self.hrs - c * self.dt * self.dt;
        let d = along.d[self.last];
        slope * (self.dt - d) > along.hts + from_mast * d - g + NEAR_M
            && slope * self.dt > along.hts - g + NEAR_M
    }
}

/// Against rounding. \[m\]
const NEAR_M: f64 = 1e-6;
