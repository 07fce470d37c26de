//! The consequence of a change: two studies side by side.
//!
//! What an edit on the map, a list of proposals and two revisions of a design
//! are judged by. Premises and sectors are matched by their id.

use std::collections::BTreeMap;

use geodesy::LonLat;
use model::{PremisesId, SectorId};
use serde::Serialize;

use crate::study::{PremisesResult, SectorResult, StudyResult, Summary};
use crate::verdict::{LimitingCause, Verdict};

/// Margin that a premises has to lose to count as degraded, or win to count as
/// improved, where its verdict stays: less is within the rounding of a budget.
/// Common practice, no source.
pub const MARGIN_CHANGE_DB: f64 = 1.0;

/// What a change brings about.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Consequence {
    /// Counts before.
    pub before: Summary,
    /// Counts after.
    pub after: Summary,
    /// Premises that were unserved, or not there, and no longer are.
    pub gained: Vec<PremisesChange>,
    /// Premises that were served or doubtful and no longer are, or are no longer there.
    pub lost: Vec<PremisesChange>,
    /// Premises that still have a link, but less surely: doubtful where they
    /// were served, or [`MARGIN_CHANGE_DB`] of margin less.
    pub degraded: Vec<PremisesChange>,
    /// Premises that have theirs more surely.
    pub improved: Vec<PremisesChange>,
    /// Sectors that come, go, or whose load or power changes.
    pub sectors: Vec<SectorChange>,
}

/// One premises before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PremisesChange {
    /// Id.
    pub id: PremisesId,
    /// What a person calls it.
    pub name: String,
    /// Where it stands, afterwards where it still does.
    pub position: LonLat,
    /// Before; `None` where it was not there.
    pub before: Option<PremisesState>,
    /// After; `None` where it no longer is.
    pub after: Option<PremisesState>,
}

/// How a premises fares.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PremisesState {
    /// The answer.
    pub verdict: Verdict,
    /// What holds it back.
    pub cause: Option<LimitingCause>,
    /// Sector that serves, or comes closest.
    pub sector: Option<SectorId>,
    /// Smaller margin of the two directions.
    pub margin_db: Option<f64>,
    /// Probability that the installation meets its plan.
    pub probability_frac: Option<f64>,
    /// Rate at the Ethernet port, downlink.
    pub downlink_ethernet_rate_mbps: Option<f64>,
    /// Rate at the Ethernet port, uplink.
    pub uplink_ethernet_rate_mbps: Option<f64>,
}

impl From<&PremisesResult> for PremisesState {
    fn from(premises: &PremisesResult) -> Self {
        let link = premises.link.as_ref();
        Self {
            verdict: premises.verdict,
            cause: premises.limit.as_ref().map(|limit| limit.cause),
            sector: link.map(|link| link.sector.clone()),
            margin_db: link.and_then(crate::link::Link::margin_db),
            probability_frac: link.map(|link| link.probability_frac),
            downlink_ethernet_rate_mbps: link.map(|link| link.downlink.ethernet_rate_mbps()),
            uplink_ethernet_rate_mbps: link.map(|link| link.uplink.ethernet_rate_mbps()),
        }
    }
}

/// One sector before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectorChange {
    /// Id.
    pub id: SectorId,
    /// Before; `None` where it was not there.
    pub before: Option<SectorState>,
    /// After; `None` where it no longer is.
    pub after: Option<SectorState>,
}

/// How a sector fares.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SectorState {
    /// Terminals served.
    pub terminals: u32,
    /// Share of the downlink in use at the busy hour.
    pub downlink_airtime_frac: f64,
    /// Share of the uplink in use at the busy hour.
    pub uplink_airtime_frac: f64,
    /// Power of one chain after equipment and rules.
    pub power_per_chain_dbm: f64,
    /// EIRP of all chains on the antenna's axis.
    pub power_eirp_dbm: f64,
}

impl From<&SectorResult> for SectorState {
    fn from(sector: &SectorResult) -> Self {
        Self {
            terminals: sector.load.terminals,
            downlink_airtime_frac: sector.load.downlink_airtime_frac,
            uplink_airtime_frac: sector.load.uplink_airtime_frac,
            power_per_chain_dbm: sector.power.per_chain_dbm,
            power_eirp_dbm: sector.power.eirp_dbm,
        }
    }
}

/// Compares two studies.
pub fn compare(before: &StudyResult, after: &StudyResult) -> Consequence {
    let mut consequence = Consequence {
        before: before.summary.clone(),
        after: after.summary.clone(),
        gained: Vec::new(),
        lost: Vec::new(),
        degraded: Vec::new(),
        improved: Vec::new(),
        sectors: sector_changes(&before.sectors, &after.sectors),
    };
    let earlier: BTreeMap<_, _> = before.premises.iter().map(|p| (&p.id, p)).collect();
    let later: BTreeMap<_, _> = after.premises.iter().map(|p| (&p.id, p)).collect();
    for premises in &after.premises {
        consequence.file(earlier.get(&premises.id).copied(), Some(premises));
    }
    let gone = before
        .premises
        .iter()
        .filter(|p| !later.contains_key(&p.id));
    for premises in gone {
        consequence.file(Some(premises), None);
    }
    consequence
}

/// One premises before and after; `None` where neither study has it.
pub fn compare_premises(
    before: &StudyResult,
    after: &StudyResult,
    id: &str,
) -> Option<PremisesChange> {
    let find = |study: &StudyResult| {
        let found = study.premises.iter().find(|p| p.id.as_str() == id);
        found.cloned()
    };
    change(find(before).as_ref(), find(after).as_ref())
}

fn change(
    before: Option<&PremisesResult>,
    after: Option<&PremisesResult>,
) -> Option<PremisesChange> {
    let shown = after.or(before)?;
    Some(PremisesChange {
        id: shown.id.clone(),
        name: shown.name.clone(),
        position: shown.position,
        before: before.map(PremisesState::from),
        after: after.map(PremisesState::from),
    })
}

impl Consequence {
    /// Puts a premises into the list that it belongs to, if any.
    fn file(&mut self, before: Option<&PremisesResult>, after: Option<&PremisesResult>) {
        let rank = |premises: Option<&PremisesResult>| match premises.map(|p| p.verdict) {
            Some(Verdict::Served) => 2,
            Some(Verdict::Doubtful) => 1,
            Some(Verdict::Unserved) | None => 0,
        };
        let margin =
            |premises: Option<&PremisesResult>| premises.and_then(|p| p.link.as_ref()?.margin_db());
        let list = match (rank(before), rank(after)) {
            (0, 0) => return,
            (0, _) => &mut self.gained,
            (_, 0) => &mut self.lost,
            (earlier, later) if later < earlier => &mut self.degraded,
            (earlier, later) if later > earlier => &mut self.improved,
            _ => match margin(after).zip(margin(before)) {
                Some((after, before)) if after <= before - MARGIN_CHANGE_DB => &mut self.degraded,
                Some((after, before)) if after >= before + MARGIN_CHANGE_DB => &mut self.improved,
                _ => return,
            },
        };
        list.extend(change(before, after));
    }

    /// Whether nothing changes.
    pub fn is_nothing(&self) -> bool {
        let lists = [&self.gained, &self.lost, &self.degraded, &self.improved];
        lists.iter().all(|list| list.is_empty()) && self.sectors.is_empty()
    }
}

fn sector_changes(before: &[SectorResult], after: &[SectorResult]) -> Vec<SectorChange> {
    let earlier: BTreeMap<_, _> = before.iter().map(|s| (&s.id, s)).collect();
    let later: BTreeMap<_, _> = after.iter().map(|s| (&s.id, s)).collect();
    let kept = after.iter().map(|s| &s.id);
    let gone = before.iter().map(|s| &s.id);
    let gone = gone.filter(|id| !later.contains_key(id));
    kept.chain(gone)
        .map(|id| SectorChange {
            id: id.clone(),
            before: earlier.get(id).map(|s| SectorState::from(*s)),
            after: later.get(id).map(|s| SectorState::from(*s)),
        })
        .filter(|change| change.before != change.after)
        .collect()
}
