//! From a stored number to a cell value.

use std::path::Path;

use super::{GroundError, GroundWarning, RasterInfo, ReadMode};

/// No ground on Earth lies lower; the shore of the Dead Sea is at -430 m.
const LOWEST_M: f64 = -500.0;

/// No ground on Earth lies higher.
const HIGHEST_M: f64 = 9000.0;

/// Above this share of the cells with data, different implausible numbers
/// mean that the file holds something else than elevations. One repeated
/// number is only a no-data value that was not declared.
const MOST_IMPLAUSIBLE_FRAC: f64 = 0.1;

/// Turns stored numbers into cell values and counts what is implausible.
pub(super) struct Conversion {
    nodata: Option<f64>,
    /// The no-data value as a 32-bit cell would hold it.
    nodata_f32: Option<f32>,
    scale: f64,
    offset: f64,
    limits: Option<(f64, f64)>,
    plausible: usize,
    implausible: usize,
    example: f64,
    /// Whether the implausible numbers differ.
    varied: bool,
    absent_blocks: usize,
}

impl Conversion {
    pub(super) fn new(mode: ReadMode, info: &RasterInfo) -> Self {
        let (scale, offset) = info.scale_offset;
        let metres = info.metres_per_height_unit;
        let elevation = mode == ReadMode::Elevation;
        let unit = if elevation { metres } else { 1.0 };
        Self {
            nodata: info.nodata.filter(|n| !n.is_nan()),
            nodata_f32: info.nodata.filter(|n| !n.is_nan()).map(|n| n as f32),
            scale: scale * unit,
            offset: offset * unit,
            limits: elevation.then_some((LOWEST_M, HIGHEST_M)),
            plausible: 0,
            implausible: 0,
            example: 0.0,
            varied: false,
            absent_blocks: 0,
        }
    }

    /// The cell value of a stored number; NaN where it is void.
    #[inline]
    pub(super) fn cell(&mut self, stored: f64) -> f32 {
        if self.nodata == Some(stored) {
            return f32::NAN;
        }
        self.plausible(stored * self.scale + self.offset)
    }

    /// The same for a number that was stored in 32 bits: the no-data value is
    /// written in decimals and means the nearest such number.
    #[inline]
    pub(super) fn cell_f32(&mut self, stored: f32) -> f32 {
        if self.nodata_f32 == Some(stored) {
            return f32::NAN;
        }
        self.plausible(f64::from(stored) * self.scale + self.offset)
    }

    #[inline]
    fn plausible(&mut self, value: f64) -> f32 {
        if let Some((lowest, highest)) = self.limits
            && (value < lowest || value > highest)
        {
            self.varied |= self.implausible > 0 && value != self.example;
            self.implausible += 1;
            self.example = value;
            return f32::NAN;
        }
        self.plausible += usize::from(!value.is_nan());
        value as f32
    }

    /// Notes a block that the file leaves out.
    pub(super) fn absent_block(&mut self) {
        if self.nodata.is_none() {
            self.absent_blocks += 1;
        }
    }

    /// What was noticed; refuses cells that are no elevations at all.
    pub(super) fn finish(self, path: &Path) -> Result<Vec<GroundWarning>, GroundError> {
        let with_data = (self.plausible + self.implausible) as f64;
        if self.varied && self.implausible as f64 > MOST_IMPLAUSIBLE_FRAC * with_data {
            return Err(GroundError::NotElevations {
                path: path.to_owned(),
                cells: self.implausible,
                example: self.example,
            });
        }
        let mut warnings = Vec::new();
        if self.implausible > 0 {
            warnings.push(GroundWarning::Implausible {
                path: path.to_owned(),
                cells: self.implausible,
                example: self.example,
            });
        }
        if self.absent_blocks > 0 {
            warnings.push(GroundWarning::AbsentBlocks {
                path: path.to_owned(),
                blocks: self.absent_blocks,
            });
        }
        Ok(warnings)
    }
}
