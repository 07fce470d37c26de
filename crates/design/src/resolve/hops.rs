//! Backhaul: where it meets the core, and its hops.

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::LonLat;
use model::backhaul::{Backhaul, Hop, HopEnd, HopModulation, HopRadio};
use model::{Antenna, Channel, Finding, HopId, Mast, MastId, RuleSet, Severity, Subject};

use super::climate::{Climate, Overrides};
use super::{Context, duplicate, given, id_of, lookup, spoiled, table};
use crate::check::Places;
use crate::schema::{BackhaulText, DesignText, HopText};
use crate::text::suggestion;
use crate::written::At;

/// The backhaul; one without hops where the design has none.
pub(super) fn resolve(
    design: &DesignText,
    context: &HopContext<'_>,
    places: &mut Places,
    findings: &mut Vec<Finding>,
) -> Backhaul {
    let common = table(&design.backhaul);
    let masts = &context.masts;
    let resolver = HopResolver {
        context: context.cards,
        climate: context.climate,
        masts,
        spectrum: design
            .spectrum
            .as_ref()
            .and_then(|spectrum| spectrum.value.rule_set.as_ref()),
        common: &common,
    };
    let core = core(&common, masts, findings);
    let hops = resolver.hops(design, places, findings);
    if !hops.is_empty() && core.is_empty() {
        findings.push(no_core(design.backhaul.as_ref(), &hops));
    }
    Backhaul { core, hops }
}

/// What hops are made of.
pub(super) struct HopContext<'a> {
    pub(super) cards: &'a Context<'a>,
    pub(super) masts: MastList<'a>,
    pub(super) climate: &'a Climate<'a>,
}

/// Masts that stand, and the names of all that are written.
pub(super) struct MastList<'a> {
    pub(super) standing: &'a [Mast],
    pub(super) written: Vec<&'a str>,
}

impl<'a> MastList<'a> {
    pub(super) fn new(design: &'a DesignText, standing: &'a [Mast]) -> Self {
        let written = design
            .mast
            .iter()
            .flat_map(|list| &list.value)
            .filter_map(|mast| mast.value.id.as_ref())
            .map(|id| id.value.as_str())
            .collect();
        Self { standing, written }
    }

    /// The mast of a written name, with a finding where there is none.
    pub(super) fn find(
        &self,
        written: Option<&At<String>>,
        findings: &mut Vec<Finding>,
    ) -> Option<&'a Mast> {
        let written = written?;
        let found = self
            .standing
            .iter()
            .find(|mast| mast.id.as_str() == written.value);
        // A mast that stands in the text but is broken has been reported there.
        if found.is_none() && !self.written.contains(&written.value.as_str()) {
            findings.push(
                written
                    .pin(Finding::new(
                        Severity::Error,
                        "unknown-reference",
                        format!("there is no mast `{}`", written.value),
                    ))
                    .hint(suggestion(&written.value, self.written.iter().copied())),
            );
        }
        found
    }
}

fn core(common: &BackhaulText, masts: &MastList<'_>, findings: &mut Vec<Finding>) -> Vec<MastId> {
    let mut core: Vec<MastId> = Vec::new();
    for name in common.core.iter().flat_map(|names| &names.value.0) {
        if let Some(mast) = masts.find(Some(name), findings)
            && !core.contains(&mast.id)
        {
            core.push(mast.id.clone());
        }
    }
    core
}

fn no_core(common: Option<&At<BackhaulText>>, hops: &[Hop]) -> Finding {
    let finding = Finding::new(
        Severity::Warning,
        "no-core",
        "no mast is named at which the hops meet the core: no availability to it can be given",
    )
    .hint(format!(
        "add `core = \"{}\"`, or the right mast, under `[backhaul]`",
        hops[0].from.mast
    ));
    match common {
        Some(at) => at.pin(finding),
        None => finding,
    }
}

struct HopResolver<'a> {
    context: &'a Context<'a>,
    climate: &'a Climate<'a>,
    masts: &'a MastList<'a>,
    spectrum: Option<&'a At<String>>,
    common: &'a BackhaulText,
}

/// A hop's own value, or the common one.
fn own_or<'t, T>(own: &'t Option<At<T>>, common: &'t Option<At<T>>) -> Option<&'t At<T>> {
    own.as_ref().or(common.as_ref())
}

impl HopResolver<'_> {
    fn hops(
        &self,
        design: &DesignText,
        places: &mut Places,
        findings: &mut Vec<Finding>,
    ) -> Vec<Hop> {
        let mut hops = Vec::new();
        let mut seen: BTreeMap<String, At<String>> = BTreeMap::new();
        for at in design.hop.iter().flat_map(|list| &list.value) {
            let Some(id) = id_of(&at.value.id, "hop", findings) else {
                continue;
            };
            if let Some(first) = seen.get(&id.value) {
                findings.push(duplicate("hop", id, first));
                continue;
            }
            seen.insert(id.value.clone(), id.clone());
            let subject = Subject::Hop(HopId::new(id.value.as_str()));
            match self.hop(&at.value, id, findings) {
                Some(hop) => {
                    note_places(&at.value, &subject, places);
                    hops.push(hop);
                }
                None => findings.push(spoiled("hop", id, subject)),
            }
        }
        hops
    }

    fn hop(&self, text: &HopText, id: &At<String>, findings: &mut Vec<Finding>) -> Option<Hop> {
        // Every reference is looked at before the first one that fails decides.
        let ends = self.ends(text, id, findings);
        let radio_id = self.named(
            own_or(&text.radio, &self.common.radio),
            "radio",
            id,
            findings,
        );
        let radio = lookup(
            &self.context.catalogue.hop_radios,
            radio_id,
            "hop radio",
            findings,
        );
        let width = own_or(&text.channel_width_mhz, &self.common.channel_width_mhz);
        if width.is_none() {
            findings.push(missing("channel_width_mhz", id));
        }
        let rule_set = self.rule_set(text, findings);
        let modulation = radio
            .as_deref()
            .and_then(|radio| modulation(text, id, radio, findings));
        let power = radio.as_deref().map(|radio| power_dbm(text, radio));
        if !text.is_sound {
            return None;
        }
        let [from, to] = ends?;
        let middle = middle(from.1.position, to.1.position);
        let common = self.common;
        Some(Hop {
            id: HopId::new(id.value.as_str()),
            from: from.0,
            to: to.0,
            channel: Channel {
                centre_mhz: text.channel_mhz.as_ref()?.value,
                width_mhz: width?.value,
            },
            polarization: given(&text.polarization),
            radio: radio?,
            modulation: modulation?,
            tx_power_dbm: power?,
            pointing_error_deg: own_or(&text.pointing_error_deg, &common.pointing_error_deg)?.value,
            rule_set: rule_set?,
            climate: self.climate.fading(middle, &self.overrides(text)),
            availability_target_pct: own_or(
                &text.availability_target_pct,
                &common.availability_target_pct,
            )?
            .value,
        })
    }

    /// What the hop or `[backhaul]` says of the climate itself.
    fn overrides<'t>(&'t self, text: &'t HopText) -> Overrides<'t> {
        let common = self.common;
        Overrides {
            rain_001_mm_per_h: own_or(&text.rain_001_mm_per_h, &common.rain_001_mm_per_h),
            gradient_1pct_n_per_km: common.gradient_1pct_n_per_km.as_ref(),
            log_k: common.log_k.as_ref(),
            gradient_75_n_per_km: common.gradient_75_n_per_km.as_ref(),
        }
    }

    /// Both ends with their masts; a hop from a mast to itself has none.
    fn ends(
        &self,
        text: &HopText,
        id: &At<String>,
        findings: &mut Vec<Finding>,
    ) -> Option<[(HopEnd, &Mast); 2]> {
        let from = self.masts.find(text.from.as_ref(), findings);
        let to = self.masts.find(text.to.as_ref(), findings);
        let from_antenna = self.antenna(text, &text.from_antenna, id, findings);
        let to_antenna = self.antenna(text, &text.to_antenna, id, findings);
        let (from, to) = (from?, to?);
        if from.id == to.id {
            let at = text.to.as_ref()?;
            findings.push(
                at.pin(Finding::new(
                    Severity::Error,
                    "hop-to-itself",
                    format!("hop `{}` goes from mast `{}` to itself", id.value, from.id),
                ))
                .hint("name two different masts under `from` and `to`"),
            );
            return None;
        }
        let feeder_loss_db = own_or(&text.feeder_loss_db, &self.common.feeder_loss_db)?.value;
        let end = |mast: &Mast, antenna: Arc<Antenna>, height: &Option<At<f64>>| HopEnd {
            mast: mast.id.clone(),
            height_agl_m: height.as_ref().map_or(mast.height_agl_m, |at| at.value),
            antenna,
            feeder_loss_db,
        };
        Some([
            (end(from, from_antenna?, &text.from_height_agl_m), from),
            (end(to, to_antenna?, &text.to_height_agl_m), to),
        ])
    }

    fn antenna(
        &self,
        text: &HopText,
        own: &Option<At<String>>,
        id: &At<String>,
        findings: &mut Vec<Finding>,
    ) -> Option<Arc<Antenna>> {
        let written = own
            .as_ref()
            .or(text.antenna.as_ref())
            .or(self.common.antenna.as_ref());
        let named = self.named(written, "antenna", id, findings);
        let mut told = Vec::new();
        let found = lookup(
            &self.context.catalogue.antennas,
            named,
            "antenna",
            &mut told,
        );
        // An antenna that serves both ends is missed once.
        told.retain(|finding| !findings.contains(finding));
        findings.append(&mut told);
        found
    }

    fn named<'t>(
        &self,
        written: Option<&'t At<String>>,
        key: &str,
        id: &At<String>,
        findings: &mut Vec<Finding>,
    ) -> Option<&'t At<String>> {
        if written.is_none() {
            let finding = missing(key, id);
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        written
    }

    fn rule_set(&self, text: &HopText, findings: &mut Vec<Finding>) -> Option<Arc<RuleSet>> {
        let own = own_or(&text.rule_set, &self.common.rule_set);
        let sets = &self.context.catalogue.rule_sets;
        match own {
            Some(own) => lookup(sets, Some(own), "rule set", findings),
            // A rule set of `[spectrum]` that does not exist is told there.
            None => lookup(sets, self.spectrum, "rule set", &mut Vec::new()),
        }
    }
}

/// The place halfway between two masts.
fn middle(from: LonLat, to: LonLat) -> LonLat {
    let path = geodesy::inverse(from, to);
    path.point_at(path.distance_m / 2.0)
}

fn missing(key: &str, id: &At<String>) -> Finding {
    id.pin(Finding::new(
        Severity::Error,
        "missing-key",
        format!("hop `{}` names no `{key}`", id.value),
    ))
    .hint(format!(
        "add `{key} = …` to the hop, or to `[backhaul]` for all of them"
    ))
}

fn power_dbm(text: &HopText, radio: &HopRadio) -> f64 {
    text.tx_power_dbm
        .as_ref()
        .map_or_else(|| radio.max_tx_power_dbm(), |at| at.value)
}

fn modulation(
    text: &HopText,
    id: &At<String>,
    radio: &HopRadio,
    findings: &mut Vec<Finding>,
) -> Option<HopModulation> {
    let names = radio.steps.iter().map(|step| step.name.as_str());
    let Some(fixed) = &text.fixed_modulation else {
        if radio.adaptive {
            return Some(HopModulation::Adaptive);
        }
        let message = format!(
            "hop `{}` names no `fixed_modulation`, and radio `{}` cannot adapt",
            id.value, radio.id
        );
        findings.push(
            id.pin(Finding::new(Severity::Error, "missing-key", message))
                .hint(format!(
                    "add `fixed_modulation = …`; {}",
                    suggestion("", names)
                )),
        );
        return None;
    };
    let index = radio.steps.iter().position(|step| step.name == fixed.value);
    if index.is_none() {
        findings.push(
            fixed
                .pin(Finding::new(
                    Severity::Error,
                    "unknown-reference",
                    format!("radio `{}` has no step `{}`", radio.id, fixed.value),
                ))
                .hint(suggestion(&fixed.value, names)),
        );
    }
    index.map(HopModulation::Fixed)
}

fn note_places(text: &HopText, subject: &Subject, places: &mut Places) {
    places.note(subject, "id", &text.id);
    places.note(subject, "from_height_agl_m", &text.from_height_agl_m);
    places.note(subject, "to_height_agl_m", &text.to_height_agl_m);
    places.note(subject, "channel_mhz", &text.channel_mhz);
    places.note(subject, "tx_power_dbm", &text.tx_power_dbm);
}
