//! The same path by two models, side by side.

use model::network::Network;
use model::settings::{ModelChoice, PropagationSettings};
use serde::Serialize;

use crate::explain::{ExplainError, LossTerm, find};
use crate::matrix::{self, clutter_use};
use crate::path::{PathConditions, PathEnd, PathEvaluator, RadioPath, path_model};
use crate::surroundings::{CrossSection, Surroundings};

/// What two models say of one path.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SecondOpinion {
    /// The model of the study.
    pub first: Opinion,
    /// The other model.
    pub second: Opinion,
    /// Where the difference comes from, part by part; the parts add up to the whole.
    pub parts: Vec<ComparedPart>,
}

/// What one model says of a path.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Opinion {
    /// Name and edition.
    pub model: &'static str,
    /// Loss of the whole path, median location, with the trees around the terminal.
    pub loss_db: f64,
    /// Every term, in the model's own words.
    pub terms: Vec<LossTerm>,
    /// Where the path leaves the range that the model is stated for.
    pub warnings: Vec<String>,
}

/// A part of the loss that both models have in some form.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedPart {
    /// What the part is.
    pub name: &'static str,
    /// In the first model.
    pub first_db: f64,
    /// In the second model.
    pub second_db: f64,
    /// Second less first.
    pub difference_db: f64,
    /// Why the two may differ.
    pub note: &'static str,
}

/// Evaluates a link's path by the study's model and by another.
///
/// * `link`: ids of the sector and the premises.
pub fn second_opinion(
    network: &Network,
    surroundings: &dyn Surroundings,
    link: (&str, &str),
    other: ModelChoice,
) -> Result<SecondOpinion, ExplainError> {
    let (sector, premises) = find(network, &link)?;
    let (s, p) = (&network.sectors[sector], &network.premises[premises]);
    let mast = network
        .mast(&s.mast)
        .ok_or_else(|| ExplainError::UnknownSector(link.0.to_owned()))?;
    let from = PathEnd {
        position: mast.position,
        agl_m: s.height_agl_m,
        ground_amsl_m: mast.ground_amsl_m,
    };
    let to = PathEnd {
        position: p.position,
        agl_m: p.mount_height_agl_m,
        ground_amsl_m: None,
    };
    let mut section = CrossSection::default();
    let step_m = network.propagation.profile_step_m;
    surroundings.trace(from.position, to.position, step_m, &mut section);
    let frequency_mhz = s.channel.centre_mhz;
    let mut evaluator = PathEvaluator::default();
    let mut evaluate = |choice| -> Result<(RadioPath, Opinion), ExplainError> {
        let settings = PropagationSettings {
            service_model: choice,
            ..network.propagation.clone()
        };
        let conditions = PathConditions {
            clutter: clutter_use(p.mounting),
            ..matrix::conditions(PathConditions::wanted(&settings), s)
        };
        let ends = (&from, &to);
        let path = evaluator.evaluate(&section, ends, frequency_mhz, &conditions)?;
        let warnings = evaluator.range_warnings(&section, ends, frequency_mhz, &conditions)?;
        let opinion = Opinion {
            model: path_model(choice, frequency_mhz).title(),
            loss_db: path.loss_db(),
            terms: path.loss.list().into_iter().map(LossTerm::from).collect(),
            warnings: warnings.iter().map(ToString::to_string).collect(),
        };
        Ok((path, opinion))
    };
    let (first_path, first) = evaluate(network.propagation.service_model)?;
    let (second_path, second) = evaluate(other)?;
    Ok(SecondOpinion {
        parts: compare(&first_path, &second_path),
        first,
        second,
    })
}

fn compare(first: &RadioPath, second: &RadioPath) -> Vec<ComparedPart> {
    let part = |name, [first_db, second_db]: [f64; 2], note| ComparedPart {
        name,
        first_db,
        second_db,
        difference_db: second_db - first_db,
        note,
    };
    let each = |of: &dyn Fn(&RadioPath) -> f64| [of(first), of(second)];
    let obstacles = |p: &RadioPath| p.loss.diffraction_db();
    let gases = |p: &RadioPath| p.loss.gas_db();
    let rest = |p: &RadioPath| p.loss.loss_db - p.loss.free_space_db() - obstacles(p) - gases(p);
    vec![
        part(
            "free space",
            each(&|p| p.loss.free_space_db()),
            "each model keeps its own constant and its own idea of the path's length",
        ),
        part(
            "obstacles and ground",
            each(&obstacles),
            "ITU models: delta-Bullington over ground and clutter; Irregular Terrain Model: its reference attenuation over bare ground, two-ray and diffraction blended",
        ),
        part(
            "gases",
            each(&gases),
            "only P.452 counts them; small below 6 GHz",
        ),
        part(
            "other mechanisms and statistics",
            each(&rest),
            "troposcatter, ducting, and the share of time, places and situations",
        ),
        part(
            "trees around the terminal",
            each(&|p| p.loss_db() - p.loss.loss_db),
            "ITU-R P.833, where its antenna stands below them; the Irregular Terrain Model knows no trees",
        ),
        part("whole loss", each(&RadioPath::loss_db), ""),
    ]
}
