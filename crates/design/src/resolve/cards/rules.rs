//! Rule sets and legends.

use model::rules::ElevationLimit;
use model::{
    ClutterClass, ClutterTable, Finding, RuleId, RuleSet, Severity, SpectrumRule, Subject,
};

use super::value;
use crate::resolve::spoiled;
use crate::schema::{LegendText, RuleSetText, RuleText};
use crate::written::At;

pub(super) fn rule_set(text: &RuleSetText, findings: &mut Vec<Finding>) -> Option<RuleSet> {
    let rules: Vec<SpectrumRule> = text
        .rule
        .iter()
        .flat_map(|list| &list.value)
        .filter_map(|at| rule(at, findings))
        .collect();
    // A rule set that has lost a limit would allow too much.
    let lost = text
        .rule
        .as_ref()
        .is_some_and(|list| list.value.len() != rules.len());
    if !text.is_sound || lost {
        if let Some(id) = &text.id {
            findings.push(spoiled("rule set", id, Subject::Design));
        }
        return None;
    }
    Some(RuleSet {
        id: RuleId::new(value(&text.id)?),
        title: value(&text.title)?,
        date_checked: value(&text.date_checked)?,
        caution: value(&text.caution)?,
        rules,
    })
}

fn rule(at: &At<RuleText>, findings: &mut Vec<Finding>) -> Option<SpectrumRule> {
    let text = &at.value;
    if !text.is_sound {
        return None;
    }
    let (lower_mhz, upper_mhz) = (value(&text.lower_mhz)?, value(&text.upper_mhz)?);
    if lower_mhz >= upper_mhz {
        let message = format!("the rule's lower edge `{lower_mhz}` MHz is not below `{upper_mhz}`");
        findings.push(
            at.pin(Finding::new(Severity::Error, "out-of-range", message))
                .hint("write the lower edge of the band under `lower_mhz`"),
        );
        return None;
    }
    let elevation_limit = match (
        value(&text.elevation_above_deg),
        value(&text.elevation_eirp_dbm),
    ) {
        (Some(above_deg), Some(eirp_dbm)) => Some(ElevationLimit {
            above_deg,
            eirp_dbm,
        }),
        _ => None,
    };
    Some(SpectrumRule {
        id: RuleId::new(value(&text.id)?),
        role: value(&text.role)?,
        lower_mhz,
        upper_mhz,
        eirp_dbm: value(&text.eirp_dbm),
        eirp_dbm_per_mhz: value(&text.eirp_dbm_per_mhz),
        conducted_dbm: value(&text.conducted_dbm),
        conducted_dbm_per_mhz: value(&text.conducted_dbm_per_mhz),
        gain_free_dbi: value(&text.gain_free_dbi),
        gain_slope_db_per_db: value(&text.gain_slope_db_per_db).map_or(0.0, |slope| slope.0),
        elevation_limit,
        count_array_gain: value(&text.count_array_gain)?,
        max_height_agl_m: value(&text.max_height_agl_m),
        conditions: text
            .conditions
            .iter()
            .flat_map(|list| list.value.iter().map(|c| c.value.clone()))
            .collect(),
        source: value(&text.source)?,
        certainty: value(&text.certainty)?,
    })
}

pub(super) fn legend(text: &LegendText) -> Option<ClutterTable> {
    let note = value(&text.source)?;
    let mut classes: Vec<ClutterClass> = text
        .classes
        .as_ref()?
        .value
        .iter()
        .filter(|class| class.value.is_sound)
        .filter_map(|class| {
            let class = &class.value;
            Some(ClutterClass {
                code: value(&class.code)?,
                name: value(&class.name)?,
                height_m: value(&class.height_m)?,
                surface: value(&class.surface)?,
                source: value(&class.source).unwrap_or_else(|| note.clone()),
            })
        })
        .collect();
    classes.sort_by_key(|class| class.code);
    classes.dedup_by_key(|class| class.code);
    Some(ClutterTable {
        legend: value(&text.id)?,
        classes,
    })
}
