//! How the two ports at one end of a link meet the two at the other.

use model::equipment::{PolarizationPair, Terminal};
use model::network::Sector;
use physics::antenna::{PortPolarization, combined_isolation_db, polarization_loss_db};
use physics::levels;
use physics::path_loss::Polarization;

/// The meeting of two pairs of ports, as shares of power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PortMatch {
    /// Level that one stream loses at its own port: different polarizations and the mounting's rotation.
    pub loss_db: f64,
    /// Power of all four ways between two transmitting and two receiving ports, over one stream's own way.
    pub all_ways_db: f64,
    /// Power of one transmitting port at both receiving ports, over one stream's own way.
    pub both_ports_db: f64,
    /// How well two streams stay apart; `None` where they cannot be told apart at all.
    pub stream_isolation_db: Option<f64>,
    /// Whether the two ends are built for the same pair of polarizations.
    pub same_pair: bool,
}

/// Isolation below which two streams count as one.
const LEAST_ISOLATION_DB: f64 = 3.0;

impl PortMatch {
    /// The ports of a sector and a terminal.
    pub fn of(sector: &Sector, terminal: &Terminal) -> Self {
        let (base, far) = (&sector.antenna, &terminal.antenna);
        let xpd_db = combined_isolation_db(&[
            base.cross_polar_discrimination_db,
            far.cross_polar_discrimination_db,
        ]);
        let pairs = (base.polarization, far.polarization);
        let power = ways(pairs, terminal.roll_error_deg, xpd_db);
        // The two streams take the ports that suit them best.
        let straight = (power[0][0].min(power[1][1]), power[0][1].max(power[1][0]));
        let crossed = (power[0][1].min(power[1][0]), power[0][0].max(power[1][1]));
        let (own, leak) = if straight.0 >= crossed.0 {
            straight
        } else {
            crossed
        };
        // Of two ends of which one hears a single polarization, one stream has
        // no port of its own: the better way is then the only one.
        let own = if leak > own { leak } else { own };
        let all: f64 = power.iter().flatten().sum();
        let from_one = (power[0][0] + power[1][0]).max(power[0][1] + power[1][1]);
        let isolation_db = levels::ratio_to_db(own / leak);
        Self {
            loss_db: -levels::ratio_to_db(own),
            all_ways_db: levels::ratio_to_db(all / own),
            both_ports_db: levels::ratio_to_db(from_one / own),
            stream_isolation_db: (isolation_db >= LEAST_ISOLATION_DB).then_some(isolation_db),
            same_pair: base.polarization == far.polarization,
        }
    }

    /// Power that a number of transmit chains put into one receiving port, on
    /// average, over one stream at its own port: what an interferer adds.
    pub fn into_one_port_db(&self, chains: u8) -> f64 {
        match chains {
            0 | 1 => self.both_ports_db - levels::ratio_to_db(2.0),
            _ => self.all_ways_db - levels::ratio_to_db(2.0),
        }
    }
}

/// Share of the power of each transmitting port (column) that each receiving
/// port (row) hears.
fn ways(
    (base, far): (PolarizationPair, PolarizationPair),
    roll_deg: f64,
    xpd_db: f64,
) -> [[f64; 2]; 2] {
    let (a, b) = (tilts_deg(base), tilts_deg(far));
    let linear = |tilt_deg| PortPolarization::Linear { tilt_deg };
    let way = |to: f64, from: f64| {
        levels::db_to_ratio(-polarization_loss_db(
            linear(from),
            linear(to + roll_deg),
            xpd_db,
        ))
    };
    b.map(|to| a.map(|from| way(to, from)))
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

    /// Perfect antennas but for 30 dB of discrimination.
    fn powers(a: PolarizationPair, b: PolarizationPair) -> [[f64; 2]; 2] {
        ways((a, b), 0.0, 30.0)
    }

    #[test]
    fn exact_pairs_meet_as_geometry_says() {
        use PolarizationPair::{DualSlant, HorizontalVertical, VerticalOnly};
        for pair in [DualSlant, HorizontalVertical] {
            let p = powers(pair, pair);
            assert!((p[0][0] - 1.0).abs() < 1e-12 && (p[1][1] - 1.0).abs() < 1e-12);
            assert!((p[0][1] - 1e-3).abs() < 1e-12);
        }
        // cos² 45° is one half, each way, and the discrimination adds its thousandth.
        for way in powers(DualSlant, HorizontalVertical).as_flattened() {
            assert!((way - 0.5005).abs() < 1e-9);
        }
        // A vertical pair against horizontal and vertical: both of its ports
        // hear the vertical transmitter, neither the horizontal one.
        let p = powers(HorizontalVertical, VerticalOnly);
        assert!((p[0][0] - 1.0).abs() < 1e-12 && (p[1][0] - 1.0).abs() < 1e-12);
        assert!((p[0][1] - 1e-3).abs() < 1e-12 && (p[1][1] - 1e-3).abs() < 1e-12);
    }
}
