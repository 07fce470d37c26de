//! How much of one channel's signal lands in another.

use model::network::Channel;
use physics::levels;

/// How much of one channel's signal lands in another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coupling {
    /// The channels overlap: the interferer's power less this.
    Overlapping {
        /// Share of the interferer's power outside the victim's channel.
        loss_db: f64,
    },
    /// The next channel: what leaks and what the receiver lets through.
    Adjacent,
    /// Too far apart to matter.
    Apart,
}

impl Coupling {
    /// Coupling of an interferer's channel into a victim's.
    pub fn of(victim: &Channel, interferer: &Channel) -> Self {
        let overlap_mhz = victim.overlap_mhz(interferer);
        if overlap_mhz > 0.0 {
            let share = overlap_mhz / interferer.width_mhz;
            Coupling::Overlapping {
                loss_db: -levels::ratio_to_db(share),
            }
        } else if victim.touches(interferer) {
            Coupling::Adjacent
        } else {
            Coupling::Apart
        }
    }

    /// Loss that the coupling stands for at a receiver; `None` where nothing gets through.
    pub fn loss_db(self, adjacent_channel_rejection_db: f64) -> Option<f64> {
        match self {
            Coupling::Overlapping { loss_db } => Some(loss_db),
            Coupling::Adjacent => Some(adjacent_channel_rejection_db),
            Coupling::Apart => None,
        }
    }
}
