//! What every exporter is given, and how one fails.

use std::fmt;

use engine::explain::PathReport;
use engine::verdict::{LimitingCause, Verdict};
use engine::{DataSource, StudyResult, Surroundings};
use model::finding::Finding;
use model::ids::{PremisesId, SectorId};
use model::network::Network;

/// What goes with every result, whatever its form.
pub const CAUTION: &str = "A planning aid: confirm spectrum rules; masts, mains, lightning and radio exposure need licensed practice. See the cautions in report.html.";

/// Everything an evaluation hands out. Nothing in it is looked up elsewhere,
/// so that the same handout gives the same bytes.
#[derive(Clone, Copy)]
pub struct Handout<'a> {
    /// Version of the program.
    pub version: &'a str,
    /// When the results were made, `2026-05-01T12:00:00Z`.
    pub written_at: &'a str,
    /// The network as understood.
    pub network: &'a Network,
    /// The answers.
    pub study: &'a StudyResult,
    /// Every finding, worst first.
    pub findings: &'a [Finding],
    /// The data it rests on.
    pub data_sources: &'a [DataSource],
    /// The ground, for the relief of the map; without it the map has a plain background.
    pub surroundings: Option<&'a dyn Surroundings>,
    /// Links taken apart, in the order in which the report shows them.
    pub cross_sections: &'a [PathReport],
}

impl fmt::Debug for Handout<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Handout")
            .field("version", &self.version)
            .field("written_at", &self.written_at)
            .field("network", &self.network.name)
            .finish_non_exhaustive()
    }
}

/// Results that could not be turned into bytes.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The in-memory database refused.
    #[error("the GeoPackage could not be made: {0}")]
    Database(#[from] rusqlite::Error),
    /// A table could not be written.
    #[error("the table could not be made: {0}")]
    Table(#[from] csv::Error),
    /// A result has no JSON form.
    #[error("the JSON could not be made: {0}")]
    Json(#[from] serde_json::Error),
    /// An XML document could not be written.
    #[error("the KML could not be made: {0}")]
    Xml(#[from] std::io::Error),
    /// The picture of the relief could not be encoded.
    #[error("the relief could not be drawn: {0}")]
    Picture(#[from] png::EncodingError),
    /// A chart could not be drawn.
    #[error("the chart could not be drawn: {0}")]
    Chart(#[from] plotters::drawing::DrawingAreaErrorKind<std::io::Error>),
    /// The territory has no place in its working plane.
    #[error(
        "the territory cannot be shown in its working plane EPSG:{epsg}\nhint: name the UTM zone of the territory"
    )]
    WorkingPlane {
        /// The plane as designed.
        epsg: u32,
    },
}

/// How text for a terminal is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TextStyle {
    /// Columns there are.
    pub width: usize,
    /// Letters of ASCII only, or any character.
    pub ascii: bool,
    /// Whether ANSI colours may be used.
    pub colour: bool,
}

impl Default for TextStyle {
    fn default() -> Self {
        Self {
            width: 100,
            ascii: false,
            colour: false,
        }
    }
}

/// The links whose cross-sections are most worth showing, at most `most`: in
/// turn one of each cause that cross-sections can explain, then doubtful ones,
/// the nearest misses first.
pub fn worst_links(study: &StudyResult, most: usize) -> Vec<(SectorId, PremisesId)> {
    let explained = [
        LimitingCause::Terrain,
        LimitingCause::Clutter,
        LimitingCause::RuleLimit,
        LimitingCause::Interference,
        LimitingCause::OutOfReach,
        LimitingCause::PlanRate,
    ];
    let mut queues: Vec<Vec<(f64, SectorId, PremisesId)>> = explained
        .iter()
        .map(|cause| {
            nearest_first(study, |p| {
                let limit = p.limit.as_ref().filter(|l| l.cause == *cause)?;
                Some(limit.shortfall_db)
            })
        })
        .collect();
    queues.push(nearest_first(study, |p| {
        let link = p.link.as_ref()?;
        (p.verdict == Verdict::Doubtful).then_some(link.probability_frac)
    }));
    let mut chosen = Vec::new();
    while chosen.len() < most && queues.iter().any(|q| !q.is_empty()) {
        for queue in &mut queues {
            if chosen.len() < most
                && let Some((_, sector, premises)) = queue.pop()
            {
                chosen.push((sector, premises));
            }
        }
    }
    chosen
}

/// Links for which `rank` gives a value, the smallest value last.
fn nearest_first(
    study: &StudyResult,
    rank: impl Fn(&engine::study::PremisesResult) -> Option<f64>,
) -> Vec<(f64, SectorId, PremisesId)> {
    let mut list: Vec<(f64, SectorId, PremisesId)> = study
        .premises
        .iter()
        .filter_map(|p| {
            let link = p.link.as_ref()?;
            Some((rank(p)?, link.sector.clone(), p.id.clone()))
        })
        .collect();
    list.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| b.2.cmp(&a.2)));
    list
}
