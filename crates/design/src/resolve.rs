//! What the files mean: defaults filled in, references looked up, broken
//! parts left out with a finding.

pub(crate) mod cards;
mod climate;
mod ground;
mod hops;
mod plans;
mod premises;
pub(crate) mod sectors;
mod territory;

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::LonLat;
use model::{Finding, Network, PropagationSettings, Severity, StudySettings, Subject};

use crate::catalogue::{self, Catalogue};
use crate::check::{self, Places};
use crate::climate_grid::ClimateQuantity;
use crate::schema::{DefaultsText, DesignText, PropagationText, StudyText};
use crate::sources::ProjectSources;
use crate::text::{file_place, suggestion};
use crate::written::{At, read_toml};

/// Reads a project: the network that its sound parts make, and everything
/// that is wrong with the rest.
///
/// There is no network where the design cannot be read at all, names no rule
/// set that exists (nothing may be radiated then), or says nothing about
/// where it lies. Findings stand in the order of the files.
pub fn read(sources: &ProjectSources) -> (Option<Network>, Vec<Finding>) {
    let mut findings = sources.findings.clone();
    let network = read_network(sources, &mut findings);
    findings.dedup();
    (network, findings)
}

/// What every stage of resolving may look at.
pub(crate) struct Context<'a> {
    pub(crate) sources: &'a ProjectSources,
    pub(crate) catalogue: &'a Catalogue,
    pub(crate) defaults: DefaultsText,
}

fn read_network(sources: &ProjectSources, findings: &mut Vec<Finding>) -> Option<Network> {
    let design = design_text(sources, findings);
    let catalogue = catalogue::with_project(&sources.equipment, &sources.patterns, findings);
    let plans = plans::resolve(sources.plans.as_ref(), findings);
    let design = design?;
    let context = Context {
        sources,
        catalogue: &catalogue,
        defaults: table(&design.defaults),
    };
    let mut places = Places::default();
    let masts = sectors::masts(&design, &mut places, findings);
    let sectors = sectors::sectors(&design, &context, &masts, &mut places, findings);
    let climate = climate::Climate::new(&design, sources, findings);
    let hop_context = hops::HopContext {
        cards: &context,
        masts: hops::MastList::new(&design, &masts),
        climate: &climate,
    };
    let backhaul = hops::resolve(&design, &hop_context, &mut places, findings);
    let rows = premises::Rows {
        plans: &plans,
        sectors: &sectors,
        mast_box: territory::written_or_around(&design, &masts),
    };
    let premises = premises::resolve(&rows, &context, &mut places, findings);
    let place_defaults = premises::place_defaults(&rows, &context, &premises);
    let rule_set = rule_set(&design, &catalogue, findings);
    let ground = ground::resolve(
        (&table(&design.ground), &table(&design.buildings)),
        &context,
        findings,
    );
    let territory = territory::resolve(&design, &masts, &premises, findings);
    let (territory, rule_set) = (territory?, rule_set?);
    let middle = territory::middle(&territory);
    climate.tell(&design, middle, &sectors, findings);
    let network = Network {
        name: table(&design.project)
            .name
            .map_or(String::new(), |name| name.value),
        territory,
        rule_set,
        masts,
        sectors,
        backhaul,
        premises,
        plans,
        place_defaults,
        propagation: propagation(&table(&design.propagation), &climate, middle),
        climate: climate.fading(middle, &climate::Overrides::default()),
        study: study(&table(&design.study), &context.defaults),
        ground,
    };
    findings.extend(check::with_places(&network, &places));
    Some(network)
}

fn design_text(sources: &ProjectSources, findings: &mut Vec<Finding>) -> Option<DesignText> {
    let Some(source) = &sources.design else {
        findings.push(
            Finding::new(
                Severity::Error,
                "no-such-file",
                "the folder has no `mastwright.toml`",
            )
            .hint("make one with `mastwright init`, or name the folder that holds it"),
        );
        return None;
    };
    if source.text.trim_start_matches('\u{feff}').trim().is_empty() {
        findings.push(
            Finding::new(
                Severity::Error,
                "empty-file",
                format!("`{}` is empty", source.file),
            )
            .at(file_place(&source.file))
            .hint("`mastwright init` writes a commented design to start from"),
        );
        return None;
    }
    read_toml(source, findings)
}

/// The table, or one with all its defaults where it is absent.
pub(crate) fn table<T: Clone + Default>(written: &Option<At<T>>) -> T {
    written
        .as_ref()
        .map_or_else(T::default, |at| at.value.clone())
}

/// The value of a key whose declaration gives a default.
pub(crate) fn given<T: Clone>(field: &Option<At<T>>) -> T {
    field
        .as_ref()
        .expect("the table's declaration gives this key a default")
        .value
        .clone()
}

/// The id of a thing, if it has one that can be used.
pub(crate) fn id_of<'t>(
    id: &'t Option<At<String>>,
    kind: &str,
    findings: &mut Vec<Finding>,
) -> Option<&'t At<String>> {
    let id = id.as_ref()?;
    let text = &id.value;
    if !text.is_empty() && text.trim() == text && !text.contains(char::is_control) {
        return Some(id);
    }
    findings.push(
        id.pin(Finding::new(
            Severity::Error,
            "bad-id",
            format!("`{}` cannot be the id of a {kind}", text.escape_debug()),
        ))
        .hint("use letters, digits and `-`, without spaces at the ends"),
    );
    None
}

pub(crate) fn duplicate(kind: &str, second: &At<String>, first: &At<String>) -> Finding {
    let hint = match &first.place {
        Some(place) => format!("the first stands at {place} and is kept; give this one its own id"),
        None => "give this one its own id".to_owned(),
    };
    second
        .pin(Finding::new(
            Severity::Error,
            "duplicate-id",
            format!("there are two {kind}s with the id `{}`", second.value),
        ))
        .hint(hint)
}

/// Says that a thing is left out of the network because of what was found in it.
pub(crate) fn spoiled(kind: &str, id: &At<String>, subject: Subject) -> Finding {
    id.pin(Finding::new(
        Severity::Note,
        "left-out",
        format!("{kind} `{}` is left out of the network", id.value),
    ))
    .about(subject)
    .hint("correct the errors in it")
}

/// Looks a card up by the id that the design names.
pub(crate) fn lookup<T>(
    cards: &BTreeMap<String, Arc<T>>,
    written: Option<&At<String>>,
    kind: &str,
    findings: &mut Vec<Finding>,
) -> Option<Arc<T>> {
    let written = written?;
    if let Some(card) = cards.get(&written.value) {
        return Some(Arc::clone(card));
    }
    findings.push(
        written
            .pin(Finding::new(
                Severity::Error,
                "unknown-reference",
                format!("there is no {kind} `{}`", written.value),
            ))
            .hint(suggestion(&written.value, cards.keys().map(String::as_str))),
    );
    None
}

fn rule_set(
    design: &DesignText,
    catalogue: &Catalogue,
    findings: &mut Vec<Finding>,
) -> Option<Arc<model::RuleSet>> {
    let written = design.spectrum.as_ref()?.value.rule_set.as_ref();
    lookup(&catalogue.rule_sets, written, "rule set", findings)
}

fn propagation(
    text: &PropagationText,
    climate: &climate::Climate<'_>,
    middle: LonLat,
) -> PropagationSettings {
    let value = |quantity| climate.value(quantity, middle).value;
    PropagationSettings {
        service_model: given(&text.service_model),
        interference_model: given(&text.interference_model),
        time_pct: given(&text.time_pct),
        interference_time_pct: given(&text.interference_time_pct),
        refractivity_lapse_n_per_km: value(ClimateQuantity::RefractivityLapse),
        surface_refractivity_n: value(ClimateQuantity::SurfaceRefractivity),
        location_area_m: given(&text.location_area_m),
        model_error_db: given(&text.model_error_db),
        profile_step_m: text.profile_step_m.as_ref().map(|step| step.value),
        reach_km: given(&text.reach_km),
        interference_reach_km: given::<f64>(&text.interference_reach_km).max(given(&text.reach_km)),
    }
}

fn study(text: &StudyText, defaults: &DefaultsText) -> StudySettings {
    StudySettings {
        mount_height_agl_m: given(&defaults.mount_height_agl_m),
        max_airtime_frac: given(&text.max_airtime_frac),
        fade_margin_db: given(&text.fade_margin_db),
        interferer_activity_frac: given(&text.interferer_activity_frac),
        best_effort_sharing: given(&text.best_effort_sharing),
        call_blocking_frac: given(&text.call_blocking_frac),
        growth_years: given(&text.growth_years),
        phase_limit_us: given(&text.phase_limit_us),
    }
}
