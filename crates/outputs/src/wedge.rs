//! The outline by which a sector is drawn: as wide as its antenna's half-power
//! beam. A drawing aid, not coverage.

use geodesy::LonLat;
use model::equipment::{CutPoint, PatternSpec};
use model::network::Sector;

/// Width by which a dish's narrow beam is drawn, so that it can be seen.
const DISH_WIDTH_DEG: f64 = 10.0;
/// Step of the arc.
const STEP_DEG: f64 = 5.0;

/// Half-power width in azimuth by which a sector is drawn; 360 for a ring.
pub fn width_deg(sector: &Sector) -> f64 {
    let width_deg = match &sector.antenna.pattern {
        PatternSpec::Isotropic | PatternSpec::F1336Omni { .. } => 360.0,
        PatternSpec::F1336Sector {
            beamwidth_h_deg, ..
        }
        | PatternSpec::Tr38901Element {
            beamwidth_h_deg, ..
        } => *beamwidth_h_deg,
        PatternSpec::F1245Dish { .. } | PatternSpec::F699Dish { .. } => DISH_WIDTH_DEG,
        PatternSpec::Cuts { horizontal, .. } => cut_width_deg(horizontal),
    };
    width_deg.clamp(2.0, 360.0)
}

/// Twice the smallest angle at which a cut has lost half the power.
fn cut_width_deg(cut: &[CutPoint]) -> f64 {
    cut.iter()
        .filter(|p| p.loss_db >= 3.0)
        .map(|p| {
            let angle_deg = p.angle_deg.rem_euclid(360.0);
            2.0 * angle_deg.min(360.0 - angle_deg)
        })
        .min_by(f64::total_cmp)
        .unwrap_or(360.0)
}

/// Closed ring, counterclockwise as seen from above, first place repeated.
pub(crate) fn ring(mast: LonLat, azimuth_deg: f64, width_deg: f64, radius_m: f64) -> Vec<LonLat> {
    let steps = (width_deg / STEP_DEG).ceil().max(1.0);
    let arc = (0..=steps as usize).map(|i| {
        let off_deg = width_deg * (0.5 - i as f64 / steps);
        geodesy::direct(mast, azimuth_deg + off_deg, radius_m)
    });
    if width_deg >= 360.0 {
        let mut ring: Vec<LonLat> = arc.collect();
        if let (Some(first), Some(last)) = (ring.first().copied(), ring.last_mut()) {
            *last = first;
        }
        ring
    } else {
        std::iter::once(mast).chain(arc).chain([mast]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice the signed area; positive where the ring runs counterclockwise.
    fn turn(ring: &[LonLat]) -> f64 {
        ring.windows(2)
            .map(|w| w[0].lon_deg() * w[1].lat_deg() - w[1].lon_deg() * w[0].lat_deg())
            .sum()
    }

    #[test]
    fn exact_rings_are_closed_and_counterclockwise() {
        let mast = LonLat::new(8.0, 47.0).unwrap();
        for (azimuth_deg, width_deg) in [(0.0, 65.0), (200.0, 90.0), (90.0, 360.0), (350.0, 240.0)]
        {
            let ring = ring(mast, azimuth_deg, width_deg, 1000.0);
            assert_eq!(ring.first(), ring.last());
            assert!(turn(&ring) > 0.0, "{azimuth_deg} {width_deg}");
        }
    }
}
