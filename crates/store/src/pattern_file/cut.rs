//! One cut of a pattern file, and the clean-up all layouts share.

use super::PatternFile;
use super::problem::{ErrorKind, PatternError, Warning, WarningKind};

/// The plane of a cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutPlane {
    /// Around the antenna; angles clockwise from boresight.
    Horizontal,
    /// Over the antenna; angles upwards from the horizon.
    Vertical,
}

/// Unit of a cut's levels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelUnit {
    /// Decibels relative to the co-polar peak, 0 at the peak, negative below.
    Decibels,
    /// Voltage ratio to the co-polar peak, 1 at the peak. That such files mean
    /// voltages is from memory: check the result against the stated beamwidth.
    VoltageRatio,
}

/// One point of a cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatternPoint {
    /// Direction, within ±360. \[deg\]
    pub angle_deg: f64,
    /// Level in the cut's unit.
    pub level: f64,
}

/// One cut. Points ascend by angle and no direction comes twice.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternCut {
    /// The plane.
    pub plane: CutPlane,
    /// Frequency it was measured at, if stated. \[MHz\]
    pub f_mhz: Option<f64>,
    /// Whether antenna and source were polarized alike.
    pub co_polar: bool,
    /// Polarization as stated, antenna and source, such as `V/V`; may be empty.
    pub polarization: String,
    /// Unit of the levels.
    pub unit: LevelUnit,
    /// The points.
    pub points: Vec<PatternPoint>,
    /// Line where the cut begins, counted from 1.
    pub line: usize,
}

impl PatternCut {
    /// Angles with losses below the peak, ready for a pattern of two cuts. \[deg, dB\]
    ///
    /// * `amplitude_to_db`: `physics::levels::amplitude_to_db`; used for
    ///   voltage ratios only, with a zero ratio as 200 dB.
    #[must_use]
    pub fn losses_db(&self, amplitude_to_db: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let loss_db = |level: f64| match self.unit {
            LevelUnit::Decibels => -level,
            LevelUnit::VoltageRatio => (-amplitude_to_db(level)).min(200.0),
        };
        self.points
            .iter()
            .map(|p| (p.angle_deg, loss_db(p.level)))
            .collect()
    }

    /// The strongest point.
    #[must_use]
    pub fn peak(&self) -> Option<PatternPoint> {
        let stronger = |best: PatternPoint, next: PatternPoint| {
            if next.level > best.level { next } else { best }
        };
        self.points.iter().copied().reduce(stronger)
    }
}

/// A number that is finite.
pub(super) fn number(text: &str) -> Option<f64> {
    text.trim()
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
}

/// A point from its two texts.
pub(super) fn point(line: usize, angle: &str, level: &str) -> Result<PatternPoint, PatternError> {
    let read = |text: &str| {
        number(text).ok_or_else(|| PatternError::at(line, text, ErrorKind::NotANumber))
    };
    let (angle_deg, level_value) = (read(angle)?, read(level)?);
    if angle_deg.abs() > 360.0 {
        return Err(PatternError::at(line, angle, ErrorKind::OutOfRange));
    }
    if level_value.abs() > 300.0 {
        return Err(PatternError::at(line, level, ErrorKind::OutOfRange));
    }
    Ok(PatternPoint {
        angle_deg,
        level: level_value,
    })
}

/// Drops empty cuts, orders points, turns positive losses, and checks peaks.
pub(super) fn finish(
    mut file: PatternFile,
    warnings: &mut Vec<Warning>,
) -> Result<PatternFile, PatternError> {
    file.cuts.retain(|cut| {
        if cut.points.is_empty() {
            warnings.push(Warning::at(cut.line, "", WarningKind::EmptyCut));
        }
        !cut.points.is_empty()
    });
    if file.cuts.is_empty() {
        return Err(PatternError::at(0, "", ErrorKind::NoCuts));
    }
    turn_losses(&mut file, warnings);
    for cut in &mut file.cuts {
        order_points(cut, warnings);
    }
    check_peaks(&file, warnings);
    if file.gain_dbi.is_none() {
        warnings.push(Warning::at(0, "", WarningKind::GainMissing));
    }
    Ok(file)
}

/// Some makers write losses as positive numbers: then nothing is below zero.
fn turn_losses(file: &mut PatternFile, warnings: &mut Vec<Warning>) {
    let levels = || {
        let cuts = file
            .cuts
            .iter()
            .filter(|cut| cut.unit == LevelUnit::Decibels);
        cuts.flat_map(|cut| cut.points.iter().map(|p| p.level))
    };
    let is_loss = levels().all(|level| level >= 0.0) && levels().any(|level| level > 0.0);
    if !is_loss {
        return;
    }
    warnings.push(Warning::at(0, "", WarningKind::PositiveLosses));
    for cut in file
        .cuts
        .iter_mut()
        .filter(|cut| cut.unit == LevelUnit::Decibels)
    {
        for point in &mut cut.points {
            point.level = -point.level;
        }
    }
}

/// Two angles closer than this are one direction. \[deg\]
const SAME_DIRECTION_DEG: f64 = 1e-6;

fn order_points(cut: &mut PatternCut, warnings: &mut Vec<Warning>) {
    let line = cut.line;
    let points = &mut cut.points;
    if points
        .windows(2)
        .any(|pair| pair[1].angle_deg < pair[0].angle_deg)
    {
        warnings.push(Warning::at(line, "", WarningKind::AnglesOutOfOrder));
        points.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
    }
    points.dedup_by(|next, kept| {
        let same = next.angle_deg - kept.angle_deg < SAME_DIRECTION_DEG;
        if same {
            let kind = WarningKind::RepeatedDirection {
                angle_deg: kept.angle_deg,
            };
            warnings.push(Warning::at(line, "", kind));
            kept.level = kept.level.max(next.level);
        }
        same
    });
    // The direction where the circle closes must not be repeated, yet often is.
    let ends = (points.first().copied(), points.last().copied());
    if let (Some(first), Some(last)) = ends
        && (last.angle_deg - first.angle_deg - 360.0).abs() < SAME_DIRECTION_DEG
    {
        let kind = WarningKind::RepeatedDirection {
            angle_deg: last.angle_deg,
        };
        warnings.push(Warning::at(line, "", kind));
        points.pop();
        points[0].level = first.level.max(last.level);
    }
}

/// Levels further from the stated peak than this are told. \[dB\]
const PEAK_TOLERANCE_DB: f64 = 1.0;

/// Tilts below this say nothing about the sign of the vertical cut. \[deg\]
const TELLING_TILT_DEG: f64 = 1.0;

fn check_peaks(file: &PatternFile, warnings: &mut Vec<Warning>) {
    for cut in file.cuts.iter().filter(|cut| cut.co_polar) {
        let Some(peak) = cut.peak() else { continue };
        if cut.unit == LevelUnit::Decibels && peak.level.abs() > PEAK_TOLERANCE_DB {
            let kind = WarningKind::PeakNotZero {
                level_db: peak.level,
            };
            warnings.push(Warning::at(cut.line, "", kind));
        }
        let Some(downtilt_deg) = file.electrical_downtilt_deg else {
            continue;
        };
        let signed = if peak.angle_deg > 180.0 {
            peak.angle_deg - 360.0
        } else {
            peak.angle_deg
        };
        let astray = (signed + downtilt_deg).abs() > (signed - downtilt_deg).abs();
        if cut.plane == CutPlane::Vertical && downtilt_deg.abs() >= TELLING_TILT_DEG && astray {
            let kind = WarningKind::VerticalSign {
                peak_deg: signed,
                downtilt_deg,
            };
            warnings.push(Warning::at(cut.line, "", kind));
        }
    }
}
