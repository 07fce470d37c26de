//! Findings.

use pipeline::model;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Place;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Something is doubtful.
    Warning,
    /// Something cannot be used as it is.
    Error,
}

/// What a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SubjectKind {
    /// The design as a whole.
    Design,
    /// A mast.
    Mast,
    /// A sector.
    Sector,
    /// A backhaul hop.
    Hop,
    /// A premises.
    Premises,
    /// A service plan.
    Plan,
    /// An equipment card.
    Equipment,
}

/// One thing to tell the person whose design it is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// Short stable name of the kind of finding.
    pub code: String,
    /// What is wrong.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
    /// What it is about.
    pub subject: SubjectKind,
    /// Id of what it is about; empty for the design as a whole.
    pub subject_id: String,
    /// Where it stands in the text; `null` where it comes from no text.
    pub text_place: Option<TextPlace>,
    /// Where on the map what it is about stands; `null` where that has no place.
    pub position: Option<Place>,
}

/// A place in one of the project's text files.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TextPlace {
    /// Path relative to the project folder.
    pub file: String,
    /// Line, counted from 1; 0 is the file as a whole.
    pub line: usize,
    /// Column in characters, counted from 1; 0 is the line as a whole.
    pub column: usize,
    /// The offending text; may be empty.
    pub text: String,
}

/// Every finding.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Findings {
    /// Revision that they are of.
    pub revision: String,
    /// Worst first.
    pub findings: Vec<Finding>,
}

impl Finding {
    /// A finding as the page sees it, pinned to the map where its subject stands.
    pub fn of(finding: &model::Finding, network: Option<&model::Network>) -> Self {
        let (subject, subject_id) = subject(&finding.subject);
        Self {
            severity: match finding.severity {
                model::Severity::Note => Severity::Note,
                model::Severity::Warning => Severity::Warning,
                model::Severity::Error => Severity::Error,
            },
            code: finding.code.to_owned(),
            message: finding.message.clone(),
            hint: finding.hint.clone(),
            subject,
            subject_id,
            text_place: finding.place.as_ref().map(|place| TextPlace {
                file: place.file.to_string(),
                line: place.line,
                column: place.column,
                text: place.text.clone(),
            }),
            position: network.and_then(|network| position(&finding.subject, network)),
        }
    }

    /// Several.
    pub fn list(findings: &[model::Finding], network: Option<&model::Network>) -> Vec<Self> {
        findings.iter().map(|f| Self::of(f, network)).collect()
    }
}

fn subject(subject: &model::Subject) -> (SubjectKind, String) {
    use model::Subject;
    match subject {
        Subject::Design => (SubjectKind::Design, String::new()),
        Subject::Mast(id) => (SubjectKind::Mast, id.to_string()),
        Subject::Sector(id) => (SubjectKind::Sector, id.to_string()),
        Subject::Hop(id) => (SubjectKind::Hop, id.to_string()),
        Subject::Premises(id) => (SubjectKind::Premises, id.to_string()),
        Subject::Plan(id) => (SubjectKind::Plan, id.to_string()),
        Subject::Equipment(id) => (SubjectKind::Equipment, id.to_string()),
    }
}

fn position(subject: &model::Subject, network: &model::Network) -> Option<Place> {
    use model::Subject;
    let mast = |id: &model::MastId| network.mast(id).map(|mast| mast.position);
    let place = match subject {
        Subject::Mast(id) => mast(id),
        Subject::Sector(id) => network.sector(id).and_then(|sector| mast(&sector.mast)),
        Subject::Premises(id) => network.premises(id).map(|premises| premises.position),
        _ => None,
    };
    place.map(Place::from)
}
