//! Who deafens whom: base stations that transmit while another listens.
//!
//! Sectors whose frames begin together, are equally long and are split alike
//! do not hear each other, unless they stand so far apart that the end of one's
//! downlink reaches the other after its uplink has begun. Otherwise the level is
//! that of ITU-R P.452 for the design's small share of time, from antenna to antenna;
//! on one mast it is a fixed isolation.
//!
//! The same pairs tell what the loss of the common time would do: the
//! oscillator holds the frames for a while ([`hold_over_s`]), and then the
//! sector has to be muted or it deafens its neighbours.

mod findings;

use model::equipment::Oscillator;
use model::ids::SectorId;
use model::settings::{ModelChoice, PropagationSettings};
use physics::{levels, tdd};
use rayon::prelude::*;
use serde::Serialize;

use crate::coupling::Coupling;
use crate::frame::{self, FrameTimes};
use crate::interference::Couplings;
use crate::matrix;
use crate::path::{PathConditions, PathEvaluator};
use crate::radio::{ReadyNetwork, ReadySector};
use crate::run::{Interrupted, RunControl};
use crate::surroundings::{CrossSection, Surroundings};

pub(crate) use findings::findings;

/// Isolation between the antennas of two sectors of one mast. Common practice
/// (60 dB with vertical separation or back to back; 80 dB with care), no source.
pub const SAME_MAST_ISOLATION_DB: f64 = 60.0;

/// Noise rise from which a conflict is kept: less than a tenth of a decibel is lost in every estimate.
const LEAST_RISE_DB: f64 = 0.1;

/// Nearest masts that the loss of the common time is worked out for.
const NEIGHBOURS: usize = 3;

/// Two sectors, one of which transmits while the other listens.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimingConflict {
    /// The one that listens.
    pub victim: SectorId,
    /// The one that transmits.
    pub interferer: SectorId,
    /// Why their frames collide.
    pub cause: TimingCause,
    /// Along the ground; 0 on one mast.
    pub distance_m: f64,
    /// Share of the victim's uplink that is hit; on average over all phases where the frames slide.
    pub hit_frac: f64,
    /// Loss between the antennas; `None` on one mast, where the isolation stands for loss and gains.
    pub path_loss_db: Option<f64>,
    /// Level in the victim's channel, one port.
    pub level_dbm: f64,
    /// Level over the victim's noise.
    pub over_noise_db: f64,
    /// Rise of the noise while it is hit.
    pub noise_rise_db: f64,
}

/// Why frames collide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimingCause {
    /// One of them does not keep the common time.
    NotSynchronised,
    /// Their frames are of different length.
    FrameLength,
    /// Their frames are split differently.
    Split,
    /// They are so far apart that the gap does not cover the way.
    Distance,
}

/// What the loss of the common time does to one sector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HoldOver {
    /// The sector.
    pub sector: SectorId,
    /// Time for which its oscillator holds the frames within the design's limit.
    pub hold_over_s: f64,
    /// The neighbour that it would deafen most; `None` where it would deafen none.
    pub worst: Option<TimingConflict>,
}

/// Everything about timing.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct TimingResult {
    /// Conflicts of the design as it stands, the victims in the network's order.
    pub conflicts: Vec<TimingConflict>,
    /// One per synchronised sector.
    pub hold_over: Vec<HoldOver>,
    /// Pairs that could not be judged because the ground between them is unknown.
    pub unknown_pairs: usize,
}

/// Time for which an oscillator keeps a phase within a limit: \[s\]
///
/// `y·t + ½·a·t² = limit`, with the offset `y` and the ageing `a`.
pub fn hold_over_s(oscillator: &Oscillator, phase_limit_us: f64) -> f64 {
    let offset = oscillator.offset_ppb * 1e-9;
    let ageing_per_s = oscillator.ageing_ppb_per_day * 1e-9 / 86_400.0;
    let limit_s = phase_limit_us * 1e-6;
    if ageing_per_s <= 0.0 {
        return tdd::holdover_s(phase_limit_us, offset);
    }
    // The root that keeps its digits for a small ageing.
    2.0 * limit_s / (offset + (offset * offset + 2.0 * ageing_per_s * limit_s).sqrt())
}

/// Share of a victim's uplink in which an interferer's downlink arrives, and why; `None` where none does.
pub fn collision(
    victim: (&FrameTimes, bool),
    interferer: (&FrameTimes, bool),
    distance_m: f64,
) -> Option<(TimingCause, f64)> {
    let ((own, own_kept), (other, other_kept)) = (victim, interferer);
    let slide = other.downlink_us / other.frame_us;
    if !own_kept || !other_kept {
        return Some((TimingCause::NotSynchronised, slide));
    }
    if (own.frame_us - other.frame_us).abs() > 1e-6 {
        return Some((TimingCause::FrameLength, slide));
    }
    let late_us = distance_m / 1e3 / tdd::light_path_km(1.0);
    let hit = |late_us: f64| {
        // The downlink begins with the frame; a late one may reach into the next.
        let (from_us, to_us) = (late_us, late_us + other.downlink_us);
        [-1.0, 0.0]
            .map(|frames| {
                let shift_us = frames * own.frame_us;
                let begin = (from_us + shift_us).max(own.uplink_from_us);
                let end = (to_us + shift_us).min(own.uplink_from_us + own.uplink_us);
                (end - begin).max(0.0)
            })
            .iter()
            .sum::<f64>()
            / own.uplink_us
    };
    let hit_frac = hit(late_us);
    // A thousandth of a microsecond is rounding of the card's figures.
    let is_hit = |frac: f64| frac * own.uplink_us > 1e-3;
    if !is_hit(hit_frac) {
        return None;
    }
    let cause = if is_hit(hit(0.0)) {
        TimingCause::Split
    } else {
        TimingCause::Distance
    };
    Some((cause, hit_frac))
}

/// Evaluates every pair of sectors that share channels.
pub fn evaluate(
    ready: &ReadyNetwork<'_>,
    surroundings: &dyn Surroundings,
    run: &RunControl<'_>,
) -> Result<TimingResult, Interrupted> {
    let couplings = Couplings::new(ready);
    let judge = Judge {
        ready,
        surroundings,
        couplings: &couplings,
    };
    let rows: Vec<Option<Row>> = (0..ready.sectors.len())
        .into_par_iter()
        .map(|s| (!run.interrupted()).then(|| judge.row(s)))
        .collect();
    let mut result = TimingResult::default();
    for row in rows {
        let row = row.ok_or(Interrupted)?;
        result.conflicts.extend(row.conflicts);
        result.hold_over.extend(row.hold_over);
        result.unknown_pairs += row.unknown_pairs;
    }
    Ok(result)
}

#[derive(Default)]
struct Row {
    conflicts: Vec<TimingConflict>,
    hold_over: Option<HoldOver>,
    unknown_pairs: usize,
}

struct Judge<'a> {
    ready: &'a ReadyNetwork<'a>,
    surroundings: &'a dyn Surroundings,
    couplings: &'a Couplings,
}

fn times(sector: &ReadySector<'_>) -> FrameTimes {
    frame::times(&sector.sector.air_interface, sector.sector.split)
}

impl Judge<'_> {
    /// What one sector suffers as a victim, and what it does without the common time.
    fn row(&self, index: usize) -> Row {
        let mut row = Row::default();
        for other in 0..self.ready.sectors.len() {
            let Some((cause, hit_frac)) = self.collision(index, other) else {
                continue;
            };
            match self.conflict((index, other), (cause, hit_frac)) {
                Some(conflict) if conflict.noise_rise_db >= LEAST_RISE_DB => {
                    row.conflicts.push(conflict);
                }
                Some(_) => {}
                None => row.unknown_pairs += 1,
            }
        }
        let sector = self.ready.sectors[index].sector;
        row.hold_over = sector.synchronised.then(|| HoldOver {
            sector: sector.id.clone(),
            hold_over_s: hold_over_s(
                &sector.base_station.oscillator,
                self.ready.network.study.phase_limit_us,
            ),
            worst: self.worst_alone(index),
        });
        row
    }

    fn distance_m(&self, a: usize, b: usize) -> f64 {
        let (a, b) = (&self.ready.sectors[a], &self.ready.sectors[b]);
        if a.mast.id == b.mast.id {
            0.0
        } else {
            geodesy::inverse(a.mast.position, b.mast.position).distance_m
        }
    }

    fn coupled(&self, victim: usize, interferer: usize) -> bool {
        victim != interferer && self.couplings.get(victim, interferer) != Coupling::Apart
    }

    fn collision(&self, victim: usize, interferer: usize) -> Option<(TimingCause, f64)> {
        if !self.coupled(victim, interferer) {
            return None;
        }
        let distance_m = self.distance_m(victim, interferer);
        if distance_m > self.ready.network.propagation.interference_reach_km * 1e3 {
            return None;
        }
        let (v, i) = (&self.ready.sectors[victim], &self.ready.sectors[interferer]);
        collision(
            (&times(v), v.sector.synchronised),
            (&times(i), i.sector.synchronised),
            distance_m,
        )
    }

    /// The neighbour that a sector would deafen most if its frames slid.
    fn worst_alone(&self, interferer: usize) -> Option<TimingConflict> {
        let own_mast = &self.ready.sectors[interferer].mast.id;
        let times = times(&self.ready.sectors[interferer]);
        let mut near: Vec<(f64, usize)> = (0..self.ready.sectors.len())
            .filter(|v| self.coupled(*v, interferer))
            // Sectors of one mast take their time from one receiver.
            .filter(|v| self.ready.sectors[*v].mast.id != *own_mast)
            .map(|v| (self.distance_m(v, interferer), v))
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        near.truncate(NEIGHBOURS);
        let hit_frac = times.downlink_us / times.frame_us;
        near.into_iter()
            .filter_map(|(_, v)| {
                self.conflict((v, interferer), (TimingCause::NotSynchronised, hit_frac))
            })
            .filter(|c| c.noise_rise_db >= LEAST_RISE_DB)
            .max_by(|a, b| a.noise_rise_db.total_cmp(&b.noise_rise_db))
    }

    /// `None` where the ground between them is unknown.
    fn conflict(
        &self,
        (victim, interferer): (usize, usize),
        (cause, hit_frac): (TimingCause, f64),
    ) -> Option<TimingConflict> {
        let (v, i) = (&self.ready.sectors[victim], &self.ready.sectors[interferer]);
        let rejection_db = v.sector.base_station.adjacent_channel_rejection_db;
        let coupling_db = self
            .couplings
            .get(victim, interferer)
            .loss_db(rejection_db)?;
        let distance_m = self.distance_m(victim, interferer);
        // Both chains of the interferer, of which one port of the victim hears the
        // sum of half of each: the power of one chain.
        let power_dbm = i.power.per_chain_dbm - i.sector.feeder_loss_db - v.sector.feeder_loss_db;
        let (between_db, path_loss_db) = if distance_m == 0.0 {
            (-SAME_MAST_ISOLATION_DB, None)
        } else {
            let (gains_db, loss_db) = self.over_the_ground(v, i)?;
            (gains_db - loss_db, Some(loss_db))
        };
        let level_dbm = power_dbm + between_db - coupling_db;
        Some(TimingConflict {
            victim: v.sector.id.clone(),
            interferer: i.sector.id.clone(),
            cause,
            distance_m,
            hit_frac,
            path_loss_db,
            level_dbm,
            over_noise_db: level_dbm - v.noise_dbm,
            noise_rise_db: levels::sum_dbm([level_dbm, v.noise_dbm]) - v.noise_dbm,
        })
    }

    /// Gains of both antennas and loss between them.
    fn over_the_ground(&self, v: &ReadySector<'_>, i: &ReadySector<'_>) -> Option<(f64, f64)> {
        let settings = PropagationSettings {
            interference_model: ModelChoice::P452,
            ..self.ready.network.propagation.clone()
        };
        let frequency_mhz = i.sector.channel.centre_mhz;
        let conditions = matrix::conditions(PathConditions::unwanted(&settings), i.sector)
            .prepared(frequency_mhz);
        let (from, to) = (i.path_end(), v.path_end());
        let mut section = CrossSection::default();
        self.surroundings.trace(
            from.position,
            to.position,
            settings.profile_step_m,
            &mut section,
        );
        let path = PathEvaluator::default()
            .evaluate(&section, (&from, &to), frequency_mhz, &conditions)
            .ok()?;
        let g = &path.geometry;
        let gains_db = i
            .antenna
            .gain_toward_dbi(g.azimuth_deg, g.from_elevation_deg)
            + v.antenna
                .gain_toward_dbi(g.back_azimuth_deg, g.to_elevation_deg);
        Some((gains_db, path.loss_db()))
    }
}
