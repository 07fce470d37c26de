//! A piece of spectrum.

use serde::Serialize;

/// The channel of a sector or of one direction of a hop.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Channel {
    /// Middle of the channel.
    pub centre_mhz: f64,
    /// Width of the channel.
    pub width_mhz: f64,
}

impl Channel {
    /// Lower edge.
    pub fn lower_mhz(&self) -> f64 {
        self.centre_mhz - self.width_mhz / 2.0
    }

    /// Upper edge.
    pub fn upper_mhz(&self) -> f64 {
        self.centre_mhz + self.width_mhz / 2.0
    }

    /// Width of the spectrum that two channels share.
    pub fn overlap_mhz(&self, other: &Channel) -> f64 {
        (self.upper_mhz().min(other.upper_mhz()) - self.lower_mhz().max(other.lower_mhz())).max(0.0)
    }

    /// Whether two channels overlap, or lie so close that each leaks into the
    /// other: less than the wider one's width apart.
    pub fn touches(&self, other: &Channel) -> bool {
        self.overlap_mhz(other) > 0.0 || self.gap_mhz(other) < self.width_mhz.max(other.width_mhz)
    }

    /// Width of the gap between two channels; zero where they touch or overlap.
    pub fn gap_mhz(&self, other: &Channel) -> f64 {
        (self.lower_mhz().max(other.lower_mhz()) - self.upper_mhz().min(other.upper_mhz())).max(0.0)
    }
}
