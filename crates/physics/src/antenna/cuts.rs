//! Measured patterns: a horizontal and a vertical cut, joined into a sphere.

use super::{PatternError, off_axis_deg, within};
use crate::levels;

/// One point of a cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutPoint {
    /// Direction within the cut, any turn; horizontal: clockwise from
    /// boresight, vertical: up from the boresight plane. \[deg\]
    pub angle_deg: f64,
    /// Loss below the peak of the pattern, −100 to 300. \[dB\]
    pub loss_db: f64,
}

impl CutPoint {
    /// A point of a table of voltage ratios, 1 at the peak.
    #[must_use]
    pub fn from_voltage_ratio(angle_deg: f64, ratio: f64) -> Self {
        Self {
            angle_deg,
            loss_db: (-levels::amplitude_to_db(ratio.abs())).min(200.0),
        }
    }
}

/// How two cuts become a gain in every direction. Both are exact on the cuts'
/// own planes (the first on the front half of the vertical one).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Combination {
    /// `L = LH(φ) + R·LV(θ)`, `R = (LH(180) − LH(φ))/LH(180)` within 0 to 1: the
    /// form of ITU-R F.1336. For sectors and omnidirectional antennas. A
    /// horizontal cut with less than 6 dB front to back has no back to speak of,
    /// and R is 1 (our own rule, no source).
    Compression,
    /// Off-axis angle ψ and roll χ around the axis: `cos²χ·LH(±ψ) + sin²χ·LV(±ψ)`.
    /// For dishes and terminals, whose beam is nearly round. Where the vertical
    /// cut stops short of the back, the horizontal one serves.
    Roll,
}

impl Combination {
    /// The combination that suits two cuts: [`Combination::Roll`] when their
    /// 3 dB beamwidths are within a factor of two and below 60°, otherwise
    /// [`Combination::Compression`]. Our own rule, no source.
    ///
    /// # Errors
    /// As [`CutPattern::beamwidths_deg`].
    pub fn suited_to(horizontal: &[CutPoint], vertical: &[CutPoint]) -> Result<Self, PatternError> {
        let across_deg = Cut::new("horizontal", horizontal)?.beamwidth_deg();
        let up_deg = Cut::new("vertical", vertical)?.beamwidth_deg();
        let round = across_deg < 2.0 * up_deg && up_deg < 2.0 * across_deg;
        Ok(if round && across_deg < 60.0 {
            Self::Roll
        } else {
            Self::Compression
        })
    }
}

/// Two cuts of a measured pattern. Points in any order, equally spaced or not.
///
/// Between points the loss is linear in dB over angle, also across ±180°. Of
/// two points in one direction the stronger counts. Each cut is taken relative
/// to its own peak; a vertical cut may peak off zero, which is a built-in tilt.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPattern {
    /// Horizontal cut, through the beam.
    pub horizontal: Vec<CutPoint>,
    /// Vertical cut, through the beam.
    pub vertical: Vec<CutPoint>,
    /// How the two are joined.
    pub combination: Combination,
}

impl CutPattern {
    /// Horizontal and vertical 3 dB beamwidths, 360 where there is no beam. \[deg\]
    ///
    /// # Errors
    /// An empty cut, or a number that is not finite or out of range.
    pub fn beamwidths_deg(&self) -> Result<(f64, f64), PatternError> {
        let horizontal = Cut::new("horizontal", &self.horizontal)?;
        let vertical = Cut::new("vertical", &self.vertical)?;
        Ok((horizontal.beamwidth_deg(), vertical.beamwidth_deg()))
    }

    /// Elevation of the vertical cut's peak: the negative of a built-in downtilt. \[deg\]
    ///
    /// # Errors
    /// As [`CutPattern::beamwidths_deg`].
    pub fn peak_elevation_deg(&self) -> Result<f64, PatternError> {
        Ok(super::wrap_deg(
            Cut::new("vertical", &self.vertical)?.peak().0,
        ))
    }
}

/// Largest loss below the peak that joined cuts give. \[dB\]
pub const MAX_CUT_LOSS_DB: f64 = 60.0;

/// Front-to-back ratio below which a horizontal cut counts as omnidirectional. \[dB\]
const OMNI_FRONT_TO_BACK_DB: f64 = 6.0;

/// Two cuts ready to be asked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PreparedCuts {
    horizontal: Cut,
    vertical: Cut,
    combination: Combination,
    front_to_back_db: f64,
}

impl PreparedCuts {
    pub(super) fn new(cuts: &CutPattern) -> Result<Self, PatternError> {
        let horizontal = Cut::new("horizontal", &cuts.horizontal)?;
        let mut vertical = Cut::new("vertical", &cuts.vertical)?;
        if cuts.combination == Combination::Roll {
            vertical = vertical.completed_from(&horizontal);
        }
        let front_to_back_db = horizontal.loss_db(180.0);
        Ok(Self {
            horizontal,
            vertical,
            combination: cuts.combination,
            front_to_back_db,
        })
    }

    /// Loss below the peak; azimuth −180 to 180, elevation −90 to 90. \[dB\]
    pub(super) fn loss_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let loss_db = match self.combination {
            Combination::Compression => self.compressed_db(azimuth_deg, elevation_deg),
            Combination::Roll => self.rolled_db(azimuth_deg, elevation_deg),
        };
        loss_db.min(MAX_CUT_LOSS_DB)
    }

    fn compressed_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let across_db = self.horizontal.loss_db(azimuth_deg);
        let share = if self.front_to_back_db < OMNI_FRONT_TO_BACK_DB {
            1.0
        } else {
            (1.0 - across_db / self.front_to_back_db).clamp(0.0, 1.0)
        };
        across_db + share * self.vertical.loss_db(elevation_deg)
    }

    fn rolled_db(&self, azimuth_deg: f64, elevation_deg: f64) -> f64 {
        let psi_deg = off_axis_deg(azimuth_deg, elevation_deg);
        let up = elevation_deg.to_radians().sin();
        let across = elevation_deg.to_radians().cos() * azimuth_deg.to_radians().sin();
        let sum = up * up + across * across;
        let vertical_share = if sum > 0.0 { up * up / sum } else { 0.0 };
        let horizontal_db = self.horizontal.loss_db(psi_deg.copysign(azimuth_deg));
        let vertical_db = self.vertical.loss_db(psi_deg.copysign(elevation_deg));
        horizontal_db + vertical_share * (vertical_db - horizontal_db)
    }
}

/// One cut around the circle.
///
/// `angles_deg` runs from before 0 to past 360, so that every direction of
/// 0 to 360 lies between two neighbours; `starts` gives, per whole degree, the
/// last point at or before it, so that a look-up walks a step or two.
#[derive(Debug, Clone, PartialEq)]
struct Cut {
    angles_deg: Vec<f64>,
    losses_db: Vec<f64>,
    starts: Vec<u32>,
}

/// Two points closer than this are one direction. \[deg\]
const SAME_DIRECTION_DEG: f64 = 1e-6;

impl Cut {
    fn new(name: &'static str, points: &[CutPoint]) -> Result<Self, PatternError> {
        let mut around: Vec<(f64, f64)> = Vec::with_capacity(points.len());
        for point in points {
            within("angle_deg", point.angle_deg, -720.0, 720.0)?;
            within("loss_db", point.loss_db, -100.0, 300.0)?;
            let turned = point.angle_deg.rem_euclid(360.0);
            let angle = if turned > 360.0 - SAME_DIRECTION_DEG {
                0.0
            } else {
                turned
            };
            around.push((angle, point.loss_db));
        }
        around.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        around.dedup_by(|next, kept| next.0 - kept.0 < SAME_DIRECTION_DEG);
        let peak_db = around
            .iter()
            .map(|point| point.1)
            .fold(f64::INFINITY, f64::min);
        for point in &mut around {
            point.1 -= peak_db;
        }
        Self::from_sorted(&around).ok_or(PatternError::EmptyCut { cut: name })
    }

    /// `around`: angles 0 to 360 ascending with their losses; none if empty.
    fn from_sorted(around: &[(f64, f64)]) -> Option<Self> {
        let (&first, &last) = (around.first()?, around.last()?);
        let mut closed = vec![(last.0 - 360.0, last.1)];
        closed.extend_from_slice(around);
        closed.push((first.0 + 360.0, first.1));
        let mut starts = Vec::with_capacity(360);
        let mut index: u32 = 0;
        for degree in 0..360 {
            while closed[index as usize + 1].0 <= f64::from(degree) {
                index += 1;
            }
            starts.push(index);
        }
        let (angles_deg, losses_db) = closed.into_iter().unzip();
        Some(Self {
            angles_deg,
            losses_db,
            starts,
        })
    }

    /// Loss towards an angle of −360 to 360. \[dB\]
    fn loss_db(&self, angle_deg: f64) -> f64 {
        let turned = if angle_deg < 0.0 {
            angle_deg + 360.0
        } else {
            angle_deg
        };
        #[expect(
            clippy::cast_sign_loss,
            clippy::cast_possible_truncation,
            reason = "`turned` is 0 to 360"
        )]
        let degree = (turned as usize).min(359);
        let mut i = self.starts[degree] as usize;
        while i + 2 < self.angles_deg.len() && self.angles_deg[i + 1] < turned {
            i += 1;
        }
        let (from, to) = (self.angles_deg[i], self.angles_deg[i + 1]);
        let share = ((turned - from) / (to - from)).clamp(0.0, 1.0);
        self.losses_db[i] + share * (self.losses_db[i + 1] - self.losses_db[i])
    }

    /// The points without the two that close the circle.
    fn around(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + '_ {
        let inner = 1..self.angles_deg.len() - 1;
        inner.map(|i| (self.angles_deg[i], self.losses_db[i]))
    }

    /// Direction and loss of the strongest point, nearest to zero if several.
    fn peak(&self) -> (f64, f64) {
        let key = |(angle, loss): (f64, f64)| (loss, angle.min(360.0 - angle));
        self.around()
            .min_by(|a, b| {
                key(*a)
                    .partial_cmp(&key(*b))
                    .unwrap_or(std::cmp::Ordering::Equal)
            })
            .unwrap_or((0.0, 0.0))
    }

    /// Width of the beam around the peak at 3 dB, 360 if it never falls so far. \[deg\]
    fn beamwidth_deg(&self) -> f64 {
        let peak_deg = self.peak().0;
        self.reach_deg(peak_deg, 1.0) + self.reach_deg(peak_deg, -1.0)
    }

    /// How far the 3 dB level lies from the peak on one side, at most 180. \[deg\]
    fn reach_deg(&self, peak_deg: f64, side: f64) -> f64 {
        let mut offsets: Vec<(f64, f64)> = self
            .around()
            .map(|(angle, loss)| ((side * (angle - peak_deg)).rem_euclid(360.0), loss))
            .collect();
        offsets.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut before = (0.0, 0.0);
        for (offset, loss) in offsets {
            if loss >= 3.0 {
                let share = (3.0 - before.1) / (loss - before.1);
                return (before.0 + share * (offset - before.0)).min(180.0);
            }
            before = (offset, loss);
        }
        180.0
    }

    /// This cut with another's points where it does not reach around the back.
    fn completed_from(&self, other: &Self) -> Self {
        let signed = |angle: f64| if angle > 180.0 { angle - 360.0 } else { angle };
        let highest = self
            .around()
            .map(|p| signed(p.0))
            .fold(f64::NEG_INFINITY, f64::max);
        let lowest = self
            .around()
            .map(|p| signed(p.0))
            .fold(f64::INFINITY, f64::min);
        let mut around: Vec<(f64, f64)> = self.around().collect();
        around.extend(other.around().filter(|p| {
            let angle = signed(p.0);
            angle > highest.max(0.0) + SAME_DIRECTION_DEG
                || angle < lowest.min(0.0) - SAME_DIRECTION_DEG
        }));
        around.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self::from_sorted(&around).unwrap_or_else(|| self.clone())
    }
}
