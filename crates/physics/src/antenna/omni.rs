//! Omnidirectional mask of ITU-R F.1336-5, recommends 2.

use super::Envelope;

/// Recommends 2 with its constants; symbols as printed there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedOmni {
    theta3: f64,
    k: f64,
    main_until: f64,
    shelf_until: f64,
    shelf_loss_db: f64,
    far_offset: f64,
}

impl PreparedOmni {
    pub(super) fn new(envelope: Envelope, k: f64, theta3: f64) -> Self {
        let lift = (k + 1.0).log10();
        let (far_offset, main_until, shelf_until) = match envelope {
            Envelope::Peak => (12.0, theta3 * (1.0 - lift / 1.2).sqrt(), theta3),
            Envelope::Average => (15.0, theta3, theta3 * (1.25 - lift / 1.2).sqrt()),
        };
        // For the average mask the shelf ends before the main lobe when k is
        // large enough that θ5 < θ3; then there is no shelf.
        Self {
            theta3,
            k,
            main_until,
            shelf_until,
            shelf_loss_db: far_offset - 10.0 * lift,
            far_offset,
        }
    }

    /// Loss below the peak, which depends on elevation alone. \[dB\]
    pub(super) fn loss_db(&self, elevation_deg: f64) -> f64 {
        let theta = elevation_deg.abs();
        let x = theta / self.theta3;
        if theta < self.main_until {
            12.0 * x * x
        } else if theta < self.shelf_until {
            self.shelf_loss_db
        } else {
            self.far_offset - 10.0 * (x.powf(-1.5) + self.k).log10()
        }
    }
}
