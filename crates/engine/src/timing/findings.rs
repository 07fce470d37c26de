//! What the frames' timing has to tell.

use std::collections::BTreeMap;

use model::finding::{Finding, Severity, Subject};
use model::ids::EquipmentId;

use crate::radio::ReadyNetwork;
use crate::timing::{HoldOver, TimingCause, TimingConflict, TimingResult};

/// Noise rise from which a victim is told.
const TOLD_RISE_DB: f64 = 1.0;

/// Everything that timing has to tell.
pub(crate) fn findings(ready: &ReadyNetwork<'_>, timing: &TimingResult) -> Vec<Finding> {
    let mut findings: Vec<Finding> = timing
        .conflicts
        .iter()
        .filter(|c| c.noise_rise_db >= TOLD_RISE_DB)
        .map(deafened)
        .collect();
    findings.extend(hold_over(ready, &timing.hold_over));
    if timing.unknown_pairs > 0 {
        findings.push(
            Finding::new(
                Severity::Warning,
                "unknown-interference",
                format!(
                    "`{}` pairs of base stations whose frames collide stand apart over unknown ground: who deafens whom is not known",
                    timing.unknown_pairs
                ),
            )
            .hint("add terrain between all masts that share channels"),
        );
    }
    findings
}

fn deafened(c: &TimingConflict) -> Finding {
    let why = match c.cause {
        TimingCause::NotSynchronised => "their frames do not begin together",
        TimingCause::FrameLength => "their frames are of different length",
        TimingCause::Split => "their frames are split differently",
        TimingCause::Distance => "the gap is shorter than the signal's way",
    };
    let hint = match c.cause {
        TimingCause::NotSynchronised => {
            "give both the common time, or put them on channels that do not touch"
        }
        TimingCause::FrameLength | TimingCause::Split => {
            "give every sector in earshot the same frame and the same split"
        }
        TimingCause::Distance => {
            "lengthen the gap by a symbol, tilt the antennas down, or change a channel"
        }
    };
    Finding::new(
        Severity::Warning,
        "deafened",
        format!(
            "sector `{}` transmits while `{}` listens: {why}; `{:.0} %` of the uplink is hit, `{:.1} dB` over its noise",
            c.interferer,
            c.victim,
            100.0 * c.hit_frac,
            c.over_noise_db
        ),
    )
    .about(Subject::Sector(c.victim.clone()))
    .hint(hint)
}

/// One note for each kind of base station: how long it holds, and the worst that follows.
fn hold_over(ready: &ReadyNetwork<'_>, rows: &[HoldOver]) -> Vec<Finding> {
    let mut worst: BTreeMap<&EquipmentId, &HoldOver> = BTreeMap::new();
    let rise_db = |h: &HoldOver| h.worst.as_ref().map_or(0.0, |c| c.noise_rise_db);
    for row in rows {
        let Some(sector) = ready.sectors.iter().find(|s| s.sector.id == row.sector) else {
            continue;
        };
        let card = &sector.sector.base_station.id;
        let known = worst.entry(card).or_insert(row);
        if rise_db(row) > rise_db(known) {
            *known = row;
        }
    }
    worst
        .into_iter()
        .filter_map(|(card, row)| {
            let conflict = row.worst.as_ref()?;
            (conflict.noise_rise_db >= TOLD_RISE_DB).then(|| {
                Finding::new(
                    Severity::Note,
                    "hold-over",
                    format!(
                        "without the common time base station `{card}` holds its frames for `{:.0} min`; after that sector `{}` would raise the noise of `{}` by up to `{:.1} dB`",
                        row.hold_over_s / 60.0,
                        row.sector,
                        conflict.victim,
                        conflict.noise_rise_db
                    ),
                )
                .about(Subject::Equipment(card.clone()))
                .hint("mute a sector at the end of its hold-over, or fit a better oscillator")
            })
        })
        .collect()
}
