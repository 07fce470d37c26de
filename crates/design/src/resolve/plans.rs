//! Service plans.

use std::collections::BTreeMap;
use std::sync::Arc;

use model::{Finding, PlanId, SchedulingClass, ServicePlan, Severity, Subject};

mod services;

use super::{duplicate, given, id_of, spoiled};
use crate::schema::{PlanText, PlansText};
use crate::text::{SourceText, file_place};
use crate::written::{At, read_toml};

/// Plans by id; an empty map where there are none, with a finding.
pub(super) fn resolve(
    source: Option<&SourceText>,
    findings: &mut Vec<Finding>,
) -> BTreeMap<PlanId, Arc<ServicePlan>> {
    let Some(source) = source else {
        findings.push(
            Finding::new(
                Severity::Warning,
                "no-plans",
                "the folder has no `plans.toml`",
            )
            .hint("add one with a `[[plan]]` table for each service that is sold"),
        );
        return BTreeMap::new();
    };
    let text: Option<PlansText> = read_toml(source, findings);
    let list = text.and_then(|text| text.plan).map(|list| list.value);
    let list = list.unwrap_or_default();
    if list.is_empty() {
        findings.push(
            Finding::new(
                Severity::Warning,
                "no-plans",
                format!("`{}` holds no plan", source.file),
            )
            .at(file_place(&source.file))
            .hint("add a `[[plan]]` table for each service that is sold"),
        );
    }
    let mut plans = BTreeMap::new();
    let mut seen: BTreeMap<String, At<String>> = BTreeMap::new();
    for at in &list {
        let Some(id) = id_of(&at.value.id, "plan", findings) else {
            continue;
        };
        if let Some(first) = seen.get(&id.value) {
            findings.push(duplicate("plan", id, first));
            continue;
        }
        seen.insert(id.value.clone(), id.clone());
        match plan(&at.value, id, findings) {
            Some(plan) => {
                plans.insert(plan.id.clone(), Arc::new(plan));
            }
            None => {
                let subject = Subject::Plan(PlanId::new(id.value.as_str()));
                findings.push(spoiled("plan", id, subject));
            }
        }
    }
    plans
}

fn plan(text: &PlanText, id: &At<String>, findings: &mut Vec<Finding>) -> Option<ServicePlan> {
    if !text.is_sound {
        return None;
    }
    let number = |field: &Option<At<f64>>| field.as_ref().map(|at| at.value);
    let small = |field: &Option<At<u32>>, usual: u8| {
        let written = field.as_ref().map(|at| at.value);
        u8::try_from(written.unwrap_or(usual.into())).ok()
    };
    let class: SchedulingClass = given(&text.scheduling_class);
    let subject = Subject::Plan(PlanId::new(id.value.as_str()));
    let plan = ServicePlan {
        id: PlanId::new(id.value.as_str()),
        name: text
            .name
            .as_ref()
            .map_or_else(|| id.value.clone(), |name| name.value.clone()),
        scheduling_class: class,
        downlink_mbps: number(&text.downlink_mbps)?,
        uplink_mbps: number(&text.uplink_mbps)?,
        guaranteed_downlink_mbps: given(&text.guaranteed_downlink_mbps),
        guaranteed_uplink_mbps: given(&text.guaranteed_uplink_mbps),
        busy_hour_downlink_mbps: number(&text.busy_hour_downlink_mbps)?,
        busy_hour_uplink_mbps: number(&text.busy_hour_uplink_mbps)?,
        growth_pct_per_year: given(&text.growth_pct_per_year),
        mean_packet_bytes: given(&text.mean_packet_bytes),
        delay_bound_ms: number(&text.delay_bound_ms),
        loss_bound_pct: number(&text.loss_bound_pct),
        voice: match &text.voice {
            Some(voice) => Some(services::voice(&voice.value, &subject, findings)?),
            None => None,
        },
        circuits: match &text.circuits {
            Some(circuits) => Some(services::circuits(&circuits.value, &subject, findings)?),
            None => None,
        },
        dscp: small(&text.dscp, class.usual_dscp())?,
        priority: small(&text.priority, class.usual_priority())?,
        weight: given(&text.weight),
        target_probability_frac: given(&text.target_probability_frac),
        price_per_month: given(&text.price_per_month),
    };
    is_guaranteed_within_peak(text, &plan, findings).then_some(plan)
}

/// Whether no more is guaranteed than sold as a peak; told otherwise.
fn is_guaranteed_within_peak(
    text: &PlanText,
    plan: &ServicePlan,
    findings: &mut Vec<Finding>,
) -> bool {
    let rows = [
        (
            "guaranteed_downlink_mbps",
            &text.guaranteed_downlink_mbps,
            plan.downlink_mbps,
        ),
        (
            "guaranteed_uplink_mbps",
            &text.guaranteed_uplink_mbps,
            plan.uplink_mbps,
        ),
    ];
    for (key, guaranteed, peak_mbps) in rows {
        if let Some(at) = guaranteed
            && at.value > peak_mbps
        {
            let message = format!(
                "`{key}` is `{}` Mb/s, above the peak rate sold of `{peak_mbps}` Mb/s",
                at.value
            );
            findings.push(
                at.pin(Finding::new(Severity::Error, "out-of-range", message))
                    .about(Subject::Plan(plan.id.clone()))
                    .hint("guarantee at most the peak rate"),
            );
            return false;
        }
    }
    true
}
