//! What the sectors' load has to tell.

use model::finding::{Finding, Severity, Subject};
use model::{SchedulingClass, ServicePlan};

use crate::load::admission::{Candidates, Room};
use crate::load::cost::RTPS_POLL_S;
use crate::load::sector::SectorCapacity;
use crate::radio::ReadyNetwork;

/// Share of a limit from which it is told.
const NEAR_FRAC: f64 = 0.95;

/// Share of its peak that a plan should still show in a lone test at the busy
/// hour. Common practice, no source.
const SHOWN_FRAC: f64 = 0.5;

/// Years within which a full sector is worth a word.
const SOON_YEARS: u32 = 3;

/// Airtime by which another split has to relieve the busier direction.
const RELIEF_FRAC: f64 = 0.05;

/// Everything that the loads have to tell.
pub(crate) fn findings(
    ready: &ReadyNetwork<'_>,
    capacities: &[SectorCapacity],
    premises: &[Candidates],
) -> Vec<Finding> {
    let most_frac = ready.network.study.max_airtime_frac;
    let mut findings = Vec::new();
    for (index, c) in capacities.iter().enumerate() {
        findings.extend(busy(c, most_frac));
        findings.extend(radio(c));
        findings.extend(refused(ready, (index, c), premises));
        findings.extend(peak_not_shown(ready, c));
        findings.extend(full_soon(c));
        findings.extend(other_split(c));
    }
    findings.extend(ready.network.plans.values().flat_map(|p| delay(ready, p)));
    findings
}

fn about(c: &SectorCapacity, severity: Severity, code: &'static str, message: String) -> Finding {
    Finding::new(severity, code, message).about(Subject::Sector(c.sector.clone()))
}

fn busy(c: &SectorCapacity, most_frac: f64) -> Option<Finding> {
    let (down, up) = (c.load.downlink_airtime_frac, c.load.uplink_airtime_frac);
    (down.max(up) > NEAR_FRAC * most_frac).then(|| {
        about(
            c,
            Severity::Warning,
            "sector-busy",
            format!(
                "sector `{}` spends `{:.0} %` of its downlink and `{:.0} %` of its uplink at the busy hour",
                c.sector,
                100.0 * down,
                100.0 * up
            ),
        )
        .hint("another sector, a wider channel or a different split would make room")
    })
}

/// Limits of the radio, terminals and bits and packets.
fn radio(c: &SectorCapacity) -> Vec<Finding> {
    let traffic_mbps = c.load.downlink_mbps + c.load.uplink_mbps;
    let rows = [
        (
            "equipment-terminals",
            f64::from(c.load.terminals),
            f64::from(c.max_terminals),
            "terminals",
        ),
        (
            "equipment-rate",
            traffic_mbps,
            c.max_aggregate_mbps,
            "Mb/s at the Ethernet port",
        ),
        (
            "equipment-packets",
            c.load.packets_per_s,
            c.max_packets_per_s,
            "packets a second",
        ),
    ];
    rows.into_iter()
        .filter(|(_, value, most, _)| *value > NEAR_FRAC * most)
        .map(|(code, value, most, what)| {
            about(
                c,
                Severity::Warning,
                code,
                format!(
                    "the radio of sector `{}` has `{value:.0}` {what} at the busy hour; its card gives `{most:.0}`",
                    c.sector
                ),
            )
            .hint("another sector takes part of it; the airtime left cannot be used")
        })
        .collect()
}

/// Whether a plan holds anything that a sector must reserve.
fn has_guarantee(plan: &ServicePlan) -> bool {
    plan.guaranteed_downlink_mbps > 0.0
        || plan.guaranteed_uplink_mbps > 0.0
        || plan.voice.is_some()
        || plan.circuits.is_some()
}

/// Guaranteed services that found no room in the sector that they would take first.
fn refused(
    ready: &ReadyNetwork<'_>,
    (sector, c): (usize, &SectorCapacity),
    premises: &[Candidates],
) -> Option<Finding> {
    let turned_away = premises
        .iter()
        .zip(&ready.network.premises)
        .filter(|(candidates, _)| candidates.serving.is_none())
        .filter(|(candidates, _)| candidates.refused == Some(Room::Airtime))
        .filter(|(candidates, _)| candidates.links.first().is_some_and(|(s, _)| *s == sector))
        .filter(|(_, p)| has_guarantee(&p.plan))
        .count();
    (turned_away > 0).then(|| {
        about(
            c,
            Severity::Warning,
            "guarantee-refused",
            format!(
                "sector `{}` has no airtime left to guarantee the services of `{turned_away}` premises at the modulation that holds with the fade margin",
                c.sector
            ),
        )
        .hint("give them a higher priority, sell a smaller guarantee, or add a sector; a better link asks for less airtime")
    })
}

fn peak_not_shown(ready: &ReadyNetwork<'_>, c: &SectorCapacity) -> Option<Finding> {
    let short = c.customers.iter().filter(|customer| {
        let plan = ready.network.plans.get(&customer.plan);
        plan.is_some_and(|plan| {
            customer.downlink.expected_mbps < SHOWN_FRAC * plan.downlink_mbps
                || customer.uplink.expected_mbps < SHOWN_FRAC * plan.uplink_mbps
        })
    });
    let short = short.count();
    (short > 0).then(|| {
        about(
            c,
            Severity::Warning,
            "peak-rate-busy",
            format!(
                "`{short}` of the `{}` customers of sector `{}` may expect less than half of their plan's peak rate at the busy hour",
                c.customers.len(),
                c.sector
            ),
        )
        .hint("sell a lower peak, keep the airtime of elastic data below about 70 %, or split the sector")
    })
}

fn full_soon(c: &SectorCapacity) -> Option<Finding> {
    let year = c
        .full_in_year
        .filter(|year| (1..=SOON_YEARS).contains(year))?;
    Some(
        about(
            c,
            Severity::Note,
            "sector-full-soon",
            format!(
                "sector `{}` has no room for the growth of its own customers in year `{year}`",
                c.sector
            ),
        )
        .hint("plan the next sector before then"),
    )
}

fn other_split(c: &SectorCapacity) -> Option<Finding> {
    let best = c.best_split()?;
    let current = c.splits.iter().find(|s| s.in_use)?;
    let is_relief =
        current.busier_frac() > 0.5 && best.busier_frac() < current.busier_frac() - RELIEF_FRAC;
    is_relief.then(|| {
        about(
            c,
            Severity::Note,
            "split-would-help",
            format!(
                "the busier direction of sector `{}` takes `{:.0} %` of its airtime; with split `{}` it would take `{:.0} %`",
                c.sector,
                100.0 * current.busier_frac(),
                crate::frame::split_text(best.split),
                100.0 * best.busier_frac()
            ),
        )
        .hint("change the split of every sector in earshot with it: different splits deafen each other")
    })
}

/// Longest wait for the uplink that a class's grants allow, in frames and polls.
///
/// A grant comes at the latest a frame after the packet and is sent in the
/// next; a poll waits for its turn first, and its request for the frame after.
/// `None` where nothing is promised.
pub(crate) fn longest_uplink_wait_ms(class: SchedulingClass, frame_ms: f64) -> Option<f64> {
    match class {
        SchedulingClass::UnsolicitedGrant | SchedulingClass::ExtendedRealTimePolling => {
            Some(2.0 * frame_ms)
        }
        SchedulingClass::RealTimePolling => Some(RTPS_POLL_S * 1e3 + 2.0 * frame_ms),
        SchedulingClass::NonRealTimePolling | SchedulingClass::BestEffort => None,
    }
}

/// Delay bounds that a plan's class cannot keep.
fn delay(ready: &ReadyNetwork<'_>, plan: &ServicePlan) -> Option<Finding> {
    let bound_ms = plan.delay_bound_ms?;
    let cards = ready
        .sectors
        .iter()
        .map(|s| s.sector.air_interface.frame_ms);
    let frame_ms = cards.fold(0.0, f64::max);
    let class = plan.scheduling_class;
    let message = match longest_uplink_wait_ms(class, frame_ms) {
        Some(wait_ms) if wait_ms <= bound_ms => return None,
        Some(wait_ms) => format!(
            "plan `{}` bears a delay of `{bound_ms} ms`; class {} may wait `{wait_ms} ms` for its uplink",
            plan.id,
            class.name()
        ),
        None => format!(
            "plan `{}` bears a delay of `{bound_ms} ms`; class {} promises no bound",
            plan.id,
            class.name()
        ),
    };
    Some(
        Finding::new(Severity::Warning, "delay-bound", message)
            .about(Subject::Plan(plan.id.clone()))
            .hint("choose UGS, ertPS or rtPS, or give the bound up"),
    )
}
