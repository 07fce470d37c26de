//! Antenna gain by table: asked once for every cell and sector, and again
//! whenever an antenna is turned.

use physics::antenna::{MountedAntenna, PreparedPattern};
use physics::levels;
use rayon::prelude::*;

/// Half a degree of azimuth a column, so that the corners of measured cuts,
/// which stand at whole degrees off the boresight, fall on nodes.
const COLUMNS_PER_DEG: f32 = 2.0;
const COLUMNS: usize = 721;

/// A twentieth of a degree of elevation a row, counted from the horizon.
const ROWS_PER_DEG: f32 = 20.0;

/// A function of azimuth and elevation, linear between nodes. The nodes stand
/// at the same places in every table, so that no value depends on how many a table has.
#[derive(Debug, Clone)]
struct Nodes {
    first_row: i32,
    rows: usize,
    values: Vec<f32>,
}

impl Nodes {
    /// Nodes around some elevations; `value` is asked for azimuth and elevation.
    fn new(between_deg: [f64; 2], value: impl Fn(f64, f64) -> f32 + Sync) -> Self {
        let [first_row, last_row] =
            between_deg.map(|deg| (deg * f64::from(ROWS_PER_DEG)).floor() as i32);
        let rows = (last_row - first_row).max(0) as usize + 2;
        let mut values = vec![0.0; rows * COLUMNS];
        let filled = values.par_chunks_exact_mut(COLUMNS).enumerate();
        filled.for_each(|(row, values)| {
            for (col, slot) in values.iter_mut().enumerate() {
                *slot = node(&value, (first_row + row as i32, col));
            }
        });
        Self {
            first_row,
            rows,
            values,
        }
    }

    /// The value at an azimuth within ±180 and an elevation; beyond the rows
    /// from nodes that are worked out anew.
    #[inline(always)]
    fn at(&self, azimuth_deg: f32, elevation_deg: f32, value: impl Fn(f64, f64) -> f32) -> f32 {
        let u = (azimuth_deg + 180.0) * COLUMNS_PER_DEG;
        let v = elevation_deg * ROWS_PER_DEG;
        let col = (u as usize).min(COLUMNS - 2);
        let below = v as i32 - i32::from(v < 0.0);
        let row = (below - self.first_row) as usize;
        let [[a, b], [c, d]] = if row < self.rows - 1 {
            let near = &self.values[row * COLUMNS + col..][..COLUMNS + 2];
            [[near[0], near[1]], [near[COLUMNS], near[COLUMNS + 1]]]
        } else {
            corners(&value, (below, col))
        };
        let (u, v) = (u - col as f32, v - below as f32);
        let (low, high) = (a + (b - a) * u, c + (d - c) * u);
        low + (high - low) * v
    }
}

fn node(value: &impl Fn(f64, f64) -> f32, (row, col): (i32, usize)) -> f32 {
    let azimuth_deg = col as f64 / f64::from(COLUMNS_PER_DEG) - 180.0;
    value(azimuth_deg, f64::from(row) / f64::from(ROWS_PER_DEG))
}

#[cold]
fn corners(value: &impl Fn(f64, f64) -> f32, (row, col): (i32, usize)) -> [[f32; 2]; 2] {
    [row, row + 1].map(|row| [col, col + 1].map(|col| node(value, (row, col))))
}

/// Gain of an antenna on its mast, by azimuth off the boresight: turning the
/// antenna leaves the table as it is.
#[derive(Debug, Clone)]
pub(super) struct MastGain {
    /// The antenna, but for its aim.
    of: (PreparedPattern, [f64; 2]),
    nodes: Nodes,
}

impl MastGain {
    /// A table over the elevations that most cells lie in.
    pub(super) fn new(antenna: &MountedAntenna, between_deg: [f64; 2]) -> Self {
        Self {
            of: but_for_aim(antenna),
            nodes: Nodes::new(between_deg, |off_deg, elevation_deg| {
                gain_dbi(antenna, off_deg, elevation_deg)
            }),
        }
    }

    /// Whether the table is that of an antenna, whatever its aim.
    pub(super) fn is_of(&self, antenna: &MountedAntenna) -> bool {
        self.of == but_for_aim(antenna)
    }

    /// Gain towards a true azimuth and an elevation. \[dBi\]
    #[inline(always)]
    pub(super) fn dbi(
        &self,
        antenna: &MountedAntenna,
        azimuth_deg: f32,
        elevation_deg: f32,
    ) -> f32 {
        let off_deg = wrapped_deg(azimuth_deg - antenna.mounting().azimuth_deg as f32);
        self.nodes
            .at(off_deg, elevation_deg, |off_deg, elevation_deg| {
                gain_dbi(antenna, off_deg, elevation_deg)
            })
    }
}

fn gain_dbi(antenna: &MountedAntenna, off_deg: f64, elevation_deg: f64) -> f32 {
    let azimuth_deg = antenna.mounting().azimuth_deg + off_deg;
    antenna.gain_toward_dbi(azimuth_deg, elevation_deg) as f32
}

/// Pattern, mechanical and electrical tilt.
fn but_for_aim(antenna: &MountedAntenna) -> (PreparedPattern, [f64; 2]) {
    let mounting = antenna.mounting();
    let tilts_deg = [
        mounting.mechanical_downtilt_deg,
        mounting.electrical_downtilt_deg,
    ];
    (antenna.pattern().clone(), tilts_deg)
}

/// Elevations off the boresight for which a terminal's table has nodes. \[deg\]
const TERMINAL_ELEVATION_DEG: f64 = 4.0;

/// Gain of an aimed terminal towards elsewhere, as a share of its peak gain.
#[derive(Debug, Clone)]
pub(super) struct TerminalGain {
    pattern: PreparedPattern,
    nodes: Nodes,
}

impl TerminalGain {
    pub(super) fn new(pattern: &PreparedPattern) -> Self {
        let between_deg = [-TERMINAL_ELEVATION_DEG, TERMINAL_ELEVATION_DEG];
        Self {
            nodes: Nodes::new(between_deg, |off_deg, elevation_deg| {
                share(pattern, off_deg, elevation_deg)
            }),
            pattern: pattern.clone(),
        }
    }

    /// The share in a direction of the antenna's own frame, azimuth within ±180.
    #[inline(always)]
    pub(super) fn share(&self, off_deg: f32, elevation_deg: f32) -> f32 {
        self.nodes
            .at(off_deg, elevation_deg, |off_deg, elevation_deg| {
                share(&self.pattern, off_deg, elevation_deg)
            })
    }
}

fn share(pattern: &PreparedPattern, off_deg: f64, elevation_deg: f64) -> f32 {
    levels::db_to_ratio(-pattern.loss_db(off_deg, elevation_deg)) as f32
}

/// The azimuth within ±180.
#[inline(always)]
pub(super) fn wrapped_deg(azimuth_deg: f32) -> f32 {
    /// Adding and taking away 1.5·2^23 rounds to a whole number.
    const ROUND: f32 = 12_582_912.0;
    let turns = (azimuth_deg * (1.0 / 360.0) + ROUND) - ROUND;
    (azimuth_deg - 360.0 * turns).clamp(-180.0, 180.0)
}

/// Direction of a vector clockwise from the second axis, within ±180, good to
/// some 1e-5. \[deg\]
#[inline(always)]
pub(super) fn bearing_deg(first: f32, second: f32) -> f32 {
    use std::f32::consts::{FRAC_PI_2, FRAC_PI_4, PI};
    let (a, b) = (first.abs(), second.abs());
    let low = if a < b { a } else { b };
    let high = if a < b { b } else { a };
    // Turned by an eighth of a circle where that makes the argument small.
    let is_turned = low > 0.414_213_56 * high;
    let numerator = if is_turned { low - high } else { low };
    let denominator = if is_turned { low + high } else { high };
    let offset = if is_turned { FRAC_PI_4 } else { 0.0 };
    let x = numerator / denominator.max(f32::MIN_POSITIVE);
    let s = x * x;
    let series = 1.0 / 3.0
        - s * (0.2 - s * (1.0 / 7.0 - s * (1.0 / 9.0 - s * (1.0 / 11.0 - s * (1.0 / 13.0)))));
    let octave = offset + (x - x * s * series);
    let quadrant = if a < b { octave } else { FRAC_PI_2 - octave };
    let half = if second < 0.0 {
        PI - quadrant
    } else {
        quadrant
    };
    half.copysign(first).to_degrees()
}

#[cfg(test)]
mod tests {
    use physics::antenna::{Envelope, Mounting, Pattern, SectorBand, SideLobes};

    use super::*;

    fn antenna() -> MountedAntenna {
        let pattern = Pattern::Sector {
            band: SectorBand::Below6Ghz,
            envelope: Envelope::Peak,
            side_lobes: SideLobes::Typical,
            beamwidth_h_deg: 90.0,
            beamwidth_v_deg: 7.0,
        };
        let mounting = Mounting {
            azimuth_deg: 251.3,
            mechanical_downtilt_deg: 2.0,
            electrical_downtilt_deg: 1.0,
        };
        MountedAntenna::new(pattern.prepare(17.0).expect("a sector"), mounting)
    }

    /// Within a table and beyond it, and whatever the rows that it has. The
    /// mask steps down by some tenths of a decibel where its main lobe ends,
    /// which a table spreads over a row.
    #[test]
    fn exact_a_table_is_its_antenna() {
        let antenna = antenna();
        let tables = [[-3.0, 2.0], [-1.0, -0.9]].map(|rows| MastGain::new(&antenna, rows));
        let mut rounded = 0;
        for i in 0..20_000 {
            let i = i as f32;
            let (azimuth_deg, elevation_deg) = (i * 7.31 % 360.0, i * 0.0173 % 12.0 - 7.0);
            let [one, other] = tables
                .each_ref()
                .map(|table| table.dbi(&antenna, azimuth_deg, elevation_deg));
            assert_eq!(one.to_bits(), other.to_bits());
            let exact = antenna.gain_toward_dbi(azimuth_deg.into(), elevation_deg.into());
            let apart_db = (f64::from(one) - exact).abs();
            rounded += usize::from(apart_db > 0.005);
            assert!(
                apart_db < 0.5,
                "{azimuth_deg} {elevation_deg}: {one} {exact}"
            );
        }
        assert!(rounded < 400, "{rounded} of 20000");
    }

    #[test]
    fn exact_bearings_and_turns() {
        for i in 0..7200 {
            let deg = i as f32 * 0.05 - 180.0;
            let (sin, cos) = deg.to_radians().sin_cos();
            let apart = wrapped_deg(bearing_deg(40.0 * sin, 40.0 * cos) - deg);
            assert!(apart.abs() < 1e-4, "{deg}: {apart}");
            assert!((wrapped_deg(deg + 720.0) - wrapped_deg(deg)).abs() < 1e-3);
        }
        assert!(bearing_deg(0.0, 0.0).is_finite());
    }
}
