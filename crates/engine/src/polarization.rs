//! How the two ports at one end of a link meet the two at the other.

use model::equipment::{PolarizationPair, Terminal};
use model::network::Sector;
use physics::antenna::{
    PortPolarization, co_polar_loss_db, combined_isolation_db, polarization_loss_db,
    rotation_isolation_db,
};
use physics::path_loss::Polarization;

/// The meeting of two pairs of ports.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PortMatch {
    /// Level that one stream loses at its own port: different polarizations and the mounting's rotation.
    pub loss_db: f64,
    /// How well two streams stay apart; `None` where both ports of an end are alike, so that they cannot be told apart at all.
    pub stream_isolation_db: Option<f64>,
    /// Whether the two ends are built for the same pair of polarizations.
    pub same_pair: bool,
}

impl PortMatch {
    /// The ports of a sector and a terminal.
    pub fn of(sector: &Sector, terminal: &Terminal) -> Self {
        let (base, far) = (&sector.antenna, &terminal.antenna);
        let (a, b) = (tilts_deg(base.polarization), tilts_deg(far.polarization));
        let xpd_db = base
            .cross_polar_discrimination_db
            .min(far.cross_polar_discrimination_db);
        let linear = |tilt_deg| PortPolarization::Linear { tilt_deg };
        let between_deg = (a[0] - b[0]).abs();
        let alike = a[0] == a[1] || b[0] == b[1];
        let stream_isolation_db = (!alike).then(|| {
            combined_isolation_db(&[
                base.cross_polar_discrimination_db,
                far.cross_polar_discrimination_db,
                rotation_isolation_db(between_deg + terminal.roll_error_deg),
            ])
        });
        Self {
            loss_db: polarization_loss_db(linear(a[0]), linear(b[0]), xpd_db)
                + co_polar_loss_db(terminal.roll_error_deg),
            stream_isolation_db,
            same_pair: base.polarization == far.polarization,
        }
    }
}

/// Tilt of the two ports' electric fields above the horizontal.
fn tilts_deg(pair: PolarizationPair) -> [f64; 2] {
    match pair {
        PolarizationPair::HorizontalVertical => [90.0, 0.0],
        PolarizationPair::DualSlant => [45.0, 135.0],
        PolarizationPair::VerticalOnly => [90.0, 90.0],
        PolarizationPair::HorizontalOnly => [0.0, 0.0],
    }
}

/// The polarization that a path-loss model is given for a pair of ports: only
/// its ground-reflection term depends on it, and vertical is the usual choice
/// where both are in use.
pub fn of_path(pair: PolarizationPair) -> Polarization {
    match pair {
        PolarizationPair::HorizontalOnly => Polarization::Horizontal,
        _ => Polarization::Vertical,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_pairs_meet_as_geometry_says() {
        use PolarizationPair::{DualSlant, HorizontalOnly, HorizontalVertical, VerticalOnly};
        let loss_db = |a: PolarizationPair, b: PolarizationPair| {
            let linear = |tilt_deg| PortPolarization::Linear { tilt_deg };
            polarization_loss_db(linear(tilts_deg(a)[0]), linear(tilts_deg(b)[0]), 30.0)
        };
        for pair in [DualSlant, HorizontalVertical, VerticalOnly, HorizontalOnly] {
            assert!(loss_db(pair, pair).abs() < 1e-12);
        }
        // cos² 45° is one half: 3.01 dB, and with 30 dB of discrimination a little less.
        assert!((loss_db(DualSlant, HorizontalVertical) - 3.006).abs() < 1e-3);
        assert!((loss_db(VerticalOnly, HorizontalOnly) - 30.0).abs() < 1e-9);
    }
}
