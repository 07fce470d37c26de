//! Antenna pattern files: text in, cuts out.
//!
//! Three layouts are read: the tagged one of NSMA WG16.99.050 (1999), the older
//! fixed-header one of NSMA WG16.89.003, and a plain table of ours
//! (`cut,angle_deg,level_db`). [`parse`] tells them apart by their first line.
//! Readers are tolerant where a file's meaning is plain, say so in
//! [`Warning`]s, and refuse where it is not.
//!
//! Parsing is pure: the caller reads the file. Levels stay in the file's unit,
//! decibels or voltage ratios, until [`PatternCut::losses_db`].

mod cut;
mod nsma;
mod nsma_1989;
mod problem;
mod table;

pub use cut::{CutPlane, LevelUnit, PatternCut, PatternPoint};
pub use problem::{ErrorKind, PatternError, Warning, WarningKind};

/// What a pattern file says, normalised: levels relative to the peak.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PatternFile {
    /// Maker as stated.
    pub maker: Option<String>,
    /// Model as stated.
    pub model: Option<String>,
    /// Peak gain at mid-band. \[dBi\]
    pub gain_dbi: Option<f64>,
    /// Lowest frequency. \[MHz\]
    pub low_mhz: Option<f64>,
    /// Highest frequency. \[MHz\]
    pub high_mhz: Option<f64>,
    /// Nominal horizontal 3 dB beamwidth. \[deg\]
    pub beamwidth_h_deg: Option<f64>,
    /// Nominal vertical 3 dB beamwidth. \[deg\]
    pub beamwidth_v_deg: Option<f64>,
    /// Nominal electrical downtilt, positive down. \[deg\]
    pub electrical_downtilt_deg: Option<f64>,
    /// Nominal front-to-back ratio. \[dB\]
    pub front_to_back_db: Option<f64>,
    /// Whether the levels are an envelope of many antennas rather than one measured.
    pub envelope: Option<bool>,
    /// All cuts, in the file's order.
    pub cuts: Vec<PatternCut>,
}

/// A file has no cut of a plane that is needed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MissingCut(
    /// The plane.
    pub CutPlane,
);

impl std::fmt::Display for MissingCut {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let plane = match self.0 {
            CutPlane::Horizontal => "horizontal",
            CutPlane::Vertical => "vertical",
        };
        write!(out, "the pattern file has no co-polar {plane} cut\nhint: ")?;
        write!(
            out,
            "add the cut, or declare the antenna a dish so that one cut serves both planes"
        )
    }
}

impl std::error::Error for MissingCut {}

impl PatternFile {
    /// The co-polar cut of a plane measured nearest to a frequency, the first of equals.
    #[must_use]
    pub fn co_polar_cut(&self, plane: CutPlane, f_mhz: f64) -> Option<&PatternCut> {
        let distance = |cut: &&PatternCut| cut.f_mhz.map_or(0.0, |at| (at - f_mhz).abs());
        let wanted = self
            .cuts
            .iter()
            .filter(|cut| cut.plane == plane && cut.co_polar);
        wanted.min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// Horizontal and vertical co-polar cuts nearest to a frequency.
    ///
    /// # Errors
    /// A plane without a cut.
    pub fn plane_cuts(&self, f_mhz: f64) -> Result<(&PatternCut, &PatternCut), MissingCut> {
        let find = |plane| self.co_polar_cut(plane, f_mhz).ok_or(MissingCut(plane));
        Ok((find(CutPlane::Horizontal)?, find(CutPlane::Vertical)?))
    }

    /// As [`PatternFile::plane_cuts`] for a dish, where one cut serves both planes.
    ///
    /// # Errors
    /// Neither plane has a cut.
    pub fn dish_cuts(&self, f_mhz: f64) -> Result<(&PatternCut, &PatternCut), MissingCut> {
        let find = |plane| self.co_polar_cut(plane, f_mhz);
        match (find(CutPlane::Horizontal), find(CutPlane::Vertical)) {
            (Some(horizontal), Some(vertical)) => Ok((horizontal, vertical)),
            (Some(only), None) | (None, Some(only)) => Ok((only, only)),
            (None, None) => Err(MissingCut(CutPlane::Horizontal)),
        }
    }

    /// Turns the vertical cuts upside down, for files that count downwards.
    ///
    /// The standard's text on the sign was not available to us; upwards is taken
    /// as positive, and [`WarningKind::VerticalSign`] tells when the file's own
    /// tilt speaks against that.
    pub fn flip_vertical(&mut self) {
        for cut in &mut self.cuts {
            if cut.plane == CutPlane::Vertical {
                cut.points.reverse();
                for point in &mut cut.points {
                    point.angle_deg = -point.angle_deg;
                }
            }
        }
    }
}

/// Reads a pattern file of any of the three layouts.
///
/// # Errors
/// The first line that cannot be understood, with a hint.
pub fn parse(text: &str) -> Result<(PatternFile, Vec<Warning>), PatternError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let first = text
        .lines()
        .map(str::trim)
        .find(|line| !line.is_empty())
        .unwrap_or_default();
    let lower = first.to_ascii_lowercase();
    if nsma::is_tagged(first) {
        nsma::parse(text)
    } else if lower.starts_with('#') || (lower.contains("cut") && lower.contains("angle_deg")) {
        table::parse(text)
    } else {
        nsma_1989::parse(text)
    }
}
