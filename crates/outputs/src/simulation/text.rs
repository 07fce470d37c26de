//! A simulated sector in one screen.

use engine::simulation::{Class, ClassOutcome, Direction, SectorSimulation, scheduling_class};

use crate::format::{percent, rate};

/// What happened in a sector, class by class, and how far the airtime model agrees.
pub fn simulation_text(simulation: &SectorSimulation) -> String {
    let outcome = &simulation.outcome;
    let mut lines = vec![
        format!(
            "sector {}, {} frames of a busy hour, seed {}",
            simulation.sector, outcome.frames, outcome.seed
        ),
        format!(
            "{:<9} {:<8} {:>6} {:>11} {:>11} {:>9} {:>9} {:>9} {:>9}",
            "class", "", "flows", "offered", "arrived", "median ms", "99 % ms", "jitter ms", "lost"
        ),
    ];
    lines.extend(outcome.classes.iter().map(line));
    lines.push(String::new());
    lines.push(airtime(simulation, 0));
    lines.push(airtime(simulation, 1));
    if let Some(calls) = &outcome.calls {
        lines.push(format!(
            "calls: {} came, {} found their lines engaged, {} refused; {:.2} E carried",
            calls.offered, calls.engaged, calls.blocked, calls.carried_erlang
        ));
        if calls.carried_erlang > 0.0 && outcome.classes.iter().all(|c| c.rating.is_none()) {
            lines.push("voice: not rated, ITU-T G.113 has no figures for its codec".to_owned());
        }
    }
    lines.extend(outcome.classes.iter().filter_map(voice));
    let slips: u64 = outcome.classes.iter().map(|c| c.slips).sum();
    if outcome.flows.iter().any(|f| f.circuit.is_some()) {
        lines.push(format!("circuits: {slips} slips"));
    }
    lines.join("\n") + "\n"
}

fn line(class: &ClassOutcome) -> String {
    // Transfers take the time that their size asks for; only packets have a delay.
    let (median, late, jitter) = match (&class.packets, &class.transfers) {
        (Some(packets), _) => (
            ms(packets.delay_ms.p50),
            ms(packets.delay_ms.p99),
            ms(packets.jitter_ms),
        ),
        (None, Some(transfers)) => (
            ms(transfers.duration_ms.p50),
            ms(transfers.duration_ms.p99),
            "–".to_owned(),
        ),
        (None, None) => ("–".to_owned(), "–".to_owned(), "–".to_owned()),
    };
    format!(
        "{:<9} {:<8} {:>6} {:>11} {:>11} {median:>9} {late:>9} {jitter:>9} {:>8.2} %",
        class_name(class.class),
        direction_name(class.direction),
        class.flows,
        rate(class.offered_mbps),
        rate(class.delivered_mbps),
        100.0 * class.lost_frac.p50,
    )
}

fn airtime(simulation: &SectorSimulation, direction: usize) -> String {
    let airtime = &simulation.outcome.airtime[direction];
    let modelled_frac = match airtime.direction {
        Direction::Downlink => simulation.modelled_downlink_airtime_frac,
        Direction::Uplink => simulation.modelled_uplink_airtime_frac,
    };
    // The model's share is of the slots that the maps leave.
    let used_frac = 1.0 - airtime.idle_frac / (1.0 - airtime.maps_frac).max(f64::MIN_POSITIVE);
    format!(
        "{:<8} airtime {} in use, {} reserved or in use by the airtime model; maps {}, {:.1} terminals a frame",
        direction_name(airtime.direction),
        percent(used_frac),
        percent(modelled_frac),
        percent(airtime.maps_frac),
        airtime.terminals_per_frame,
    )
}

fn voice(class: &ClassOutcome) -> Option<String> {
    let rating = class.rating?;
    Some(format!(
        "voice {}: rating (ITU-T G.107) {:.0} at the median line, {:.0} at the worst",
        direction_name(class.direction),
        rating.p50,
        rating.min
    ))
}

fn ms(value: f64) -> String {
    if value < 100.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    }
}

/// The standard's abbreviation.
pub(super) fn class_name(class: Class) -> &'static str {
    scheduling_class(class).name()
}

pub(super) fn direction_name(direction: Direction) -> &'static str {
    match direction {
        Direction::Downlink => "downlink",
        Direction::Uplink => "uplink",
    }
}
