//! How the cells of a block see an antenna, and it them.

use super::block::{At, BLOCK, Lanes, NONE, Shared};
use super::gains::{TerminalGain, bearing_deg};
use super::losses::LaunchLosses;
use super::wide::wide;

/// An antenna's place as the cells of a block see it.
#[derive(Debug, Clone)]
pub(super) struct Sightline {
    /// At the mast, from true north.
    pub(super) azimuth_deg: Lanes,
    pub(super) distance_m: Lanes,
    pub(super) mast_elevation_deg: Lanes,
    /// Unit vector from the cell to the mast: its bearing from grid north as
    /// sine and cosine, its elevation as sine and cosine.
    bearing: [Lanes; 2],
    elevation: [Lanes; 2],
}

impl Default for Sightline {
    fn default() -> Self {
        Self {
            azimuth_deg: NONE,
            distance_m: NONE,
            mast_elevation_deg: NONE,
            bearing: [NONE; 2],
            elevation: [NONE; 2],
        }
    }
}

/// Radius of an Earth over which median rays are straight, 4/3 of its own; it
/// turns the terminal by less than a tenth of a degree per 15 km.
const EFFECTIVE_RADIUS_M: f32 = 8.5e6;

impl Sightline {
    /// Looks from a block to a launch point; `shared` is where the two meet.
    pub(super) fn look(&mut self, (launch, shared): (&LaunchLosses, &Shared), at: &At) {
        self.mast_elevation_deg = shared.lanes_of(&launch.mast_elevation_deg);
        let north_m = (at.y_m - launch.at.y) as f32;
        let per_scale = (1.0 / launch.scale) as f32;
        let turn_deg = launch.convergence_deg as f32;
        wide(|| {
            for lane in 0..BLOCK {
                let east_m = (at.x_m(lane) - launch.at.x) as f32;
                let length_m = (east_m * east_m + north_m * north_m).sqrt().max(1e-3);
                self.azimuth_deg[lane] = bearing_deg(east_m, north_m) + turn_deg;
                self.distance_m[lane] = length_m * per_scale;
                self.bearing[0][lane] = -east_m / length_m;
                self.bearing[1][lane] = -north_m / length_m;
                // The two ends of a straight ray over a round Earth see each other
                // lower by the angle between their verticals.
                let unknown = self.mast_elevation_deg[lane].is_nan();
                let up_deg = if unknown {
                    0.0
                } else {
                    self.mast_elevation_deg[lane]
                };
                let back = -up_deg.to_radians() - length_m * per_scale / EFFECTIVE_RADIUS_M;
                let square = back * back;
                let series = 1.0 / 6.0
                    - square
                        * (1.0 / 120.0 - square * (1.0 / 5_040.0 - square * (1.0 / 362_880.0)));
                let sine = back - back * square * series;
                self.elevation[0][lane] = sine;
                self.elevation[1][lane] = (1.0 - sine * sine).max(0.0).sqrt();
            }
        });
    }

    /// What a terminal aimed along this sightline gives another one, as a share of its peak gain.
    pub(super) fn aside(&self, other: &Self, terminal: &TerminalGain) -> Lanes {
        let (mut off_deg, mut up_deg, mut share) = (NONE, NONE, NONE);
        wide(|| {
            for lane in 0..BLOCK {
                let [aim_sin, aim_cos] = [self.bearing[0][lane], self.bearing[1][lane]];
                let [sin, cos] = [other.bearing[0][lane], other.bearing[1][lane]];
                let [tilt_sin, tilt_cos] = [-self.elevation[0][lane], self.elevation[1][lane]];
                let [up_sin, up_cos] = [other.elevation[0][lane], other.elevation[1][lane]];
                // ITU-R F.1336-5, recommends 3.4, as `physics::antenna` has it.
                let level = (sin * aim_sin + cos * aim_cos) * up_cos;
                let across = (sin * aim_cos - cos * aim_sin) * up_cos;
                let ahead = level * tilt_cos - up_sin * tilt_sin;
                let up = up_sin * tilt_cos + level * tilt_sin;
                off_deg[lane] = bearing_deg(across, ahead);
                up_deg[lane] = bearing_deg(up, (across * across + ahead * ahead).sqrt());
            }
        });
        for lane in 0..BLOCK {
            share[lane] = terminal.share(off_deg[lane], up_deg[lane]);
        }
        share
    }
}
