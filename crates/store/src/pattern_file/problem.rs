//! What can be wrong with a pattern file, and how to say it.

use std::fmt;

/// A pattern file that cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternError {
    /// Line, counted from 1; 0 where the file as a whole is meant.
    pub line: usize,
    /// The offending text, shortened.
    pub text: String,
    /// What is wrong.
    pub kind: ErrorKind,
}

/// What makes a pattern file unusable.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// Something else where a number belongs.
    NotANumber,
    /// A point beyond ±360 degrees or ±300 dB.
    OutOfRange,
    /// A point before any cut has begun.
    PointOutsideCut,
    /// A cut's plane that is not known.
    UnknownPlane,
    /// A gain or pattern unit that is not known.
    UnknownUnit,
    /// A negative voltage ratio.
    NegativeRatio,
    /// Levels in dBi or dBd, but no peak gain to relate them to.
    GainNeeded,
    /// A column is missing.
    MissingColumn,
    /// A row with the wrong shape.
    BadRow,
    /// The header is shorter than its layout has lines.
    ShortHeader,
    /// No cut with points.
    NoCuts,
}

impl ErrorKind {
    fn message(self) -> &'static str {
        match self {
            Self::NotANumber => "not a number",
            Self::OutOfRange => "angle or level out of range",
            Self::PointOutsideCut => "a point before the first cut",
            Self::UnknownPlane => "unknown plane of a cut",
            Self::UnknownUnit => "unknown gain or pattern unit",
            Self::NegativeRatio => "negative voltage ratio",
            Self::GainNeeded => "levels in dBi or dBd without a peak gain",
            Self::MissingColumn => "a column is missing",
            Self::BadRow => "row cannot be read",
            Self::ShortHeader => "not a pattern file, or its header is cut short",
            Self::NoCuts => "no cut with points",
        }
    }

    fn hint(self) -> &'static str {
        match self {
            Self::NotANumber => "write a plain decimal number with a point, such as `-12.5`",
            Self::OutOfRange => {
                "angles lie within -360 to 360 degrees, levels within -300 to 300 dB"
            }
            Self::PointOutsideCut => {
                "begin each cut with its own line, such as `PATCUT:,AZ` or `HH 361`"
            }
            Self::UnknownPlane => "use H, V, AZ or EL",
            Self::UnknownUnit => {
                "use DBI or DBD, a slash, and DBR, DBI, DBD or LIN, such as `DBI/DBR`"
            }
            Self::NegativeRatio => "if the levels are in decibels, state `DBI/DBR` in GUNITS",
            Self::GainNeeded => "state MDGAIN, or give levels relative to the peak (DBR)",
            Self::MissingColumn => "the first row must name the columns `cut,angle_deg,level_db`",
            Self::BadRow => {
                "each row holds a cut (H or V), an angle and a level, separated by commas"
            }
            Self::ShortHeader => {
                "the tagged layout begins with `REVNUM:`, a table with `cut,angle_deg,level_db`, the older layout with ten header lines"
            }
            Self::NoCuts => "a pattern needs at least one cut with at least one point",
        }
    }
}

impl fmt::Display for PatternError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(out, "line {}: ", self.line)?;
        }
        write!(out, "{}", self.kind.message())?;
        if !self.text.is_empty() {
            write!(out, ": `{}`", self.text)?;
        }
        write!(out, "\nhint: {}", self.kind.hint())
    }
}

impl std::error::Error for PatternError {}

impl PatternError {
    pub(super) fn at(line: usize, text: &str, kind: ErrorKind) -> Self {
        Self {
            line,
            text: shortened(text),
            kind,
        }
    }
}

/// Something in a pattern file that was read with a grain of salt.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// Line, counted from 1; 0 where the file as a whole is meant.
    pub line: usize,
    /// The text concerned, shortened; may be empty.
    pub text: String,
    /// What was found.
    pub kind: WarningKind,
}

/// What a reader put up with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WarningKind {
    /// A tag that the standard does not have; ignored.
    UnknownTag,
    /// A tag without its comma.
    MissingComma,
    /// The end record is missing: the file may be cut short.
    MissingEnd,
    /// Text after the end; ignored.
    TextAfterEnd,
    /// The stated number of points is wrong; the points count.
    PointCount {
        /// Points stated.
        stated: usize,
        /// Points found.
        found: usize,
    },
    /// A direction given twice; the stronger level counts.
    RepeatedDirection {
        /// The direction. \[deg\]
        angle_deg: f64,
    },
    /// Angles not increasing; they were sorted.
    AnglesOutOfOrder,
    /// All levels positive: taken as losses.
    PositiveLosses,
    /// No units stated: dBi and relative decibels assumed.
    UnitsMissing,
    /// No peak gain stated.
    GainMissing,
    /// A header number that cannot be read; ignored.
    UnreadableField,
    /// A column nobody asked for; ignored.
    IgnoredColumn,
    /// A spherical cut; ignored.
    SphericalCut,
    /// A cut without points; ignored.
    EmptyCut,
    /// The strongest co-polar level is not the peak it should be.
    PeakNotZero {
        /// The strongest level relative to the stated peak. \[dB\]
        level_db: f64,
    },
    /// The vertical cut points the other way than the stated tilt.
    VerticalSign {
        /// Where the cut peaks, up positive. \[deg\]
        peak_deg: f64,
        /// Stated tilt, down positive. \[deg\]
        downtilt_deg: f64,
    },
}

impl Warning {
    pub(super) fn at(line: usize, text: &str, kind: WarningKind) -> Self {
        Self {
            line,
            text: shortened(text),
            kind,
        }
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(out, "line {}: ", self.line)?;
        }
        match self.kind {
            WarningKind::UnknownTag => write!(out, "unknown tag, ignored")?,
            WarningKind::MissingComma => write!(out, "a comma is missing after the colon")?,
            WarningKind::MissingEnd => write!(out, "no ENDFIL record: the file may be cut short")?,
            WarningKind::TextAfterEnd => write!(out, "text after the end, ignored")?,
            WarningKind::PointCount { stated, found } => {
                write!(
                    out,
                    "the cut states `{stated}` points and has `{found}`; all are used"
                )?;
            }
            WarningKind::RepeatedDirection { angle_deg } => {
                write!(
                    out,
                    "direction `{angle_deg} deg` given twice; the stronger level is used"
                )?;
            }
            WarningKind::AnglesOutOfOrder => write!(out, "angles do not increase; sorted")?,
            WarningKind::PositiveLosses => {
                write!(
                    out,
                    "all levels are positive: taken as losses below the peak"
                )?;
            }
            WarningKind::UnitsMissing => write!(out, "no GUNITS: taken as `DBI/DBR`")?,
            WarningKind::GainMissing => write!(out, "no peak gain stated; give it on the card")?,
            WarningKind::UnreadableField => write!(out, "a value that cannot be read, ignored")?,
            WarningKind::IgnoredColumn => write!(out, "unknown column, ignored")?,
            WarningKind::SphericalCut => write!(out, "spherical cut, ignored")?,
            WarningKind::EmptyCut => write!(out, "a cut without points, ignored")?,
            WarningKind::PeakNotZero { level_db } => {
                write!(
                    out,
                    "the strongest level is `{level_db} dB` from the stated peak"
                )?;
            }
            WarningKind::VerticalSign {
                peak_deg,
                downtilt_deg,
            } => write!(
                out,
                "the vertical cut peaks at `{peak_deg} deg` but the downtilt is `{downtilt_deg} deg`: check its sign, flip it if need be"
            )?,
        }
        if self.text.is_empty() {
            Ok(())
        } else {
            write!(out, ": `{}`", self.text)
        }
    }
}

/// Enough of a text to recognise it.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 60;
    let trimmed = text.trim();
    match trimmed.char_indices().nth(LONGEST) {
        None => trimmed.to_owned(),
        Some((end, _)) => format!("{}…", &trimmed[..end]),
    }
}
