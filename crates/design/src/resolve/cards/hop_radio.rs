//! The radio of a hop.

use model::backhaul::{HopRadio, HopStep, HopThreshold};
use model::{EquipmentId, Finding, Severity};

use super::{name_or_id, source, value};
use crate::schema::{HopRadioText, HopStepText};
use crate::written::At;

pub(super) fn hop_radio(text: &HopRadioText, findings: &mut Vec<Finding>) -> Option<HopRadio> {
    let id = value(&text.id)?;
    let list = text.step.as_ref();
    let mut steps = Vec::new();
    for at in list.iter().flat_map(|list| &list.value) {
        steps.push(step(at, &text.threshold_width_mhz, findings));
    }
    if let (true, Some(list)) = (steps.is_empty(), list) {
        findings.push(
            list.pin(Finding::new(
                Severity::Error,
                "empty-list",
                format!("hop radio `{id}` has no step"),
            ))
            .hint("add `[[hop_radio.step]]` tables"),
        );
    }
    let (lower_mhz, upper_mhz) = (value(&text.lower_mhz)?, value(&text.upper_mhz)?);
    if lower_mhz >= upper_mhz {
        let at = text.lower_mhz.as_ref()?;
        let message =
            format!("`lower_mhz` of hop radio `{id}` is `{lower_mhz}`, not below `{upper_mhz}`");
        findings.push(
            at.pin(Finding::new(Severity::Error, "out-of-range", message))
                .hint("write the lower edge of its tuning range under `lower_mhz`"),
        );
        return None;
    }
    // A radio that has lost a step would be taken for another radio.
    let mut steps: Vec<HopStep> = steps.into_iter().collect::<Option<_>>()?;
    if !text.is_sound || steps.is_empty() {
        return None;
    }
    steps.sort_by(|a, b| a.rate_mbps_per_mhz.total_cmp(&b.rate_mbps_per_mhz));
    Some(HopRadio {
        name: name_or_id(&text.name, &id),
        id: EquipmentId::new(id),
        lower_mhz,
        upper_mhz,
        noise_figure_db: value(&text.noise_figure_db)?,
        adaptive: value(&text.adaptive)?,
        steps,
        source: source(&text.source),
    })
}

fn step(
    at: &At<HopStepText>,
    threshold_width: &Option<At<f64>>,
    findings: &mut Vec<Finding>,
) -> Option<HopStep> {
    let text = &at.value;
    if !text.is_sound {
        return None;
    }
    let name = value(&text.name)?;
    let threshold = match (&text.required_snr_db, &text.threshold_dbm, threshold_width) {
        (Some(snr), None, _) => HopThreshold::Snr {
            required_snr_db: snr.value,
        },
        (None, Some(level), Some(width)) => HopThreshold::Level {
            threshold_dbm: level.value,
            threshold_width_mhz: width.value,
        },
        (None, Some(level), None) => {
            findings.push(
                level
                    .pin(Finding::new(
                        Severity::Error,
                        "missing-key",
                        format!("step `{name}` has a `threshold_dbm`, but its radio no `threshold_width_mhz`"),
                    ))
                    .hint("say in the card for which channel width its thresholds were given"),
            );
            return None;
        }
        _ => {
            findings.push(
                at.pin(Finding::new(
                    Severity::Error,
                    "missing-key",
                    format!("step `{name}` must have one of `required_snr_db` and `threshold_dbm`"),
                ))
                .hint("keep the one that the data sheet gives, at a bit error ratio of 1e-6"),
            );
            return None;
        }
    };
    Some(HopStep {
        name,
        threshold,
        rate_mbps_per_mhz: value(&text.rate_mbps_per_mhz)?,
        max_tx_power_dbm: value(&text.max_tx_power_dbm)?,
    })
}
