//! Sectors with everything that is the same in every cell.

use physics::antenna::MountedAntenna;
use physics::levels;

use super::losses::LossGrids;
use crate::adaptation::StepTable;
use crate::coupling::Coupling;
use crate::radio::{ReadyNetwork, ReadySector, ReadyTerminal};

/// What sectors are asked to serve, and under which conditions.
#[derive(Debug, Clone, Copy)]
pub(super) struct Terms<'a> {
    /// The network of cells made ready: one terminal, one plan.
    pub(super) ready: &'a ReadyNetwork<'a>,
    pub(super) losses: &'a LossGrids,
    /// The only sector that may serve, by index.
    pub(super) only: Option<usize>,
    /// Uplink interference at one port by sector; `None` is none.
    pub(super) uplink_interference_dbm: Option<&'a [f64]>,
}

/// A step that no faster one beats at its SINR.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stair {
    required_sinr_db: f32,
    pub(super) mode: f32,
    /// Index into the names of all steps.
    pub(super) mcs: f32,
    pub(super) ethernet_rate_mbps: f32,
}

/// The steps that link adaptation ever chooses, fastest first.
#[derive(Debug, Clone)]
pub(super) struct Stairs(Vec<Stair>);

impl Stairs {
    fn new(table: &StepTable, mcs_of: &[usize]) -> Self {
        let mut stairs: Vec<Stair> = Vec::new();
        for step in table.steps() {
            let required_sinr_db = step.required_sinr_db as f32;
            let is_lower = |last: &Stair| required_sinr_db < last.required_sinr_db;
            if stairs.last().is_none_or(is_lower) {
                stairs.push(Stair {
                    required_sinr_db,
                    mode: f32::from(step.mode as u8),
                    mcs: mcs_of.get(step.mcs).copied().unwrap_or(0) as f32,
                    ethernet_rate_mbps: step.ethernet_rate_mbps as f32,
                });
            }
        }
        Self(stairs)
    }

    /// The fastest step that a SINR carries, as [`StepTable::best_at`].
    #[inline]
    pub(super) fn best_at(&self, sinr_db: f32) -> Option<&Stair> {
        self.0.iter().find(|s| s.required_sinr_db <= sinr_db)
    }

    /// Whether any step holds.
    #[inline]
    pub(super) fn holds(&self, sinr_db: f32) -> bool {
        self.0.last().is_some_and(|s| s.required_sinr_db <= sinr_db)
    }
}

/// A sector with everything that is the same in every cell.
#[derive(Debug)]
pub(super) struct Server<'a> {
    pub(super) launch: usize,
    pub(super) antenna: &'a MountedAntenna,
    /// Level of the downlink but for the loss and the antenna of the mast.
    pub(super) down_dbm: f32,
    pub(super) up_dbm: f32,
    pub(super) down_noise_dbm: f32,
    /// Noise and interference.
    pub(super) up_noise_dbm: f32,
    /// Margins of both directions over the net gain as a ratio, without interference.
    pub(super) margin: [f32; 2],
    /// Whether some step gives the plan's rate.
    pub(super) gives_plan: bool,
    pub(super) down: Stairs,
    pub(super) up: Stairs,
    pub(super) reach_m: f32,
    pub(super) may_serve: bool,
    /// Sectors heard in its channel, and their power over the terminal's noise
    /// for a net gain and an antenna at its peak.
    pub(super) heard: Vec<(usize, f32)>,
    /// Loss at the sector's frequency over that of its launch point. \[dB\]
    pub(super) shift_db: f32,
}

/// Put on the margin of a sector that cannot give the plan's rate at all, as
/// in [`crate::service`], but within the range of single precision.
const HOPELESS_DB: f64 = -250.0;

/// Names of all modulation and coding steps, each once, in the order of the cards.
pub(super) fn mcs_names(ready: &ReadyNetwork<'_>) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for sector in &ready.sectors {
        for mcs in &sector.sector.air_interface.mcs {
            if !names.contains(&mcs.name) {
                names.push(mcs.name.clone());
            }
        }
    }
    names
}

/// Every sector, in the network's order.
pub(super) fn servers<'a>(
    terms: &Terms<'a>,
    (launch_of, mcs_names): (&[usize], &[String]),
) -> Vec<Server<'a>> {
    let count = terms.ready.sectors.len();
    let mut servers: Vec<Server<'a>> = (0..count)
        .map(|s| server(terms, (s, launch_of[s]), mcs_names))
        .collect();
    for victim in 0..count {
        let heard = heard(terms, (victim, &servers));
        servers[victim].heard = heard;
    }
    servers
}

fn server<'a>(
    terms: &Terms<'a>,
    (index, launch): (usize, usize),
    mcs_names: &[String],
) -> Server<'a> {
    let ready = terms.ready;
    let (s, t): (&'a ReadySector<'a>, &'a ReadyTerminal) =
        (&ready.sectors[index], &ready.terminals[0]);
    let plan = &ready.network.premises[0].plan;
    let terminal_db = t.pattern.peak_gain_dbi()
        - t.pointing_loss_db
        - s.ports[0].loss_db
        - t.terminal.feeder_loss_db;
    // Free space; what else depends on the frequency changes much less.
    let swept_mhz = terms.losses.launches[launch].frequency_mhz();
    let shift_db = levels::amplitude_to_db(s.sector.channel.centre_mhz / swept_mhz);
    let down_dbm = s.power.per_chain_dbm - s.sector.feeder_loss_db + terminal_db - shift_db;
    let up_dbm = t.power[index].per_chain_dbm + terminal_db - s.sector.feeder_loss_db - shift_db;
    let uplink_dbm = terms.uplink_interference_dbm.and_then(|all| all.get(index));
    let up_noise_dbm = match uplink_dbm {
        Some(interference_dbm) => levels::sum_dbm([s.noise_dbm, *interference_dbm]),
        None => s.noise_dbm,
    };
    let down_noise_dbm = t.noise_dbm[index];
    let required = s.downlink[0].required_for_db(plan.downlink_mbps);
    let required = required.zip(s.uplink[0].required_for_db(plan.uplink_mbps));
    let margin_db = match required {
        Some((down_db, up_db)) => [
            down_dbm - down_noise_dbm - down_db,
            up_dbm - up_noise_dbm - up_db,
        ],
        // Still in order of strength, below every sector that could work.
        None => [down_dbm - down_noise_dbm + HOPELESS_DB, f64::INFINITY],
    };
    let mcs = s.sector.air_interface.mcs.iter();
    let mcs_of: Vec<usize> = mcs
        .map(|m| mcs_names.iter().position(|n| *n == m.name).unwrap_or(0))
        .collect();
    Server {
        launch,
        antenna: &s.antenna,
        down_dbm: down_dbm as f32,
        up_dbm: up_dbm as f32,
        down_noise_dbm: down_noise_dbm as f32,
        up_noise_dbm: up_noise_dbm as f32,
        margin: margin_db.map(|m| levels::db_to_ratio(m) as f32),
        gives_plan: required.is_some(),
        down: Stairs::new(&s.downlink[0], &mcs_of),
        up: Stairs::new(&s.uplink[0], &mcs_of),
        reach_m: s
            .guard_range_m
            .min(ready.network.propagation.reach_km * 1e3) as f32,
        may_serve: terms.only.is_none_or(|only| only == index)
            && t.terminal.tunes_to(&s.sector.channel),
        heard: Vec::new(),
        shift_db: shift_db as f32,
    }
}

fn heard(terms: &Terms<'_>, (victim, servers): (usize, &[Server<'_>])) -> Vec<(usize, f32)> {
    let ready = terms.ready;
    let t = &ready.terminals[0];
    let rejection_db = t.terminal.adjacent_channel_rejection_db;
    let activity = ready.network.study.interferer_activity_frac;
    let activity_db = levels::ratio_to_db(activity.clamp(1e-6, 1.0));
    let channel = |s: usize| &ready.sectors[s].sector.channel;
    let others = (0..servers.len()).filter(|other| *other != victim);
    others
        .filter_map(|other| {
            let coupling = Coupling::of(channel(victim), channel(other));
            let coupling_db = coupling.loss_db(rejection_db)?;
            let s = &ready.sectors[other];
            let ports = &s.ports[0];
            let level_dbm = s.power.per_chain_dbm - s.sector.feeder_loss_db
                + ports.into_one_port_db(s.sector.base_station.chains)
                - ports.loss_db
                - t.terminal.feeder_loss_db
                + t.pattern.peak_gain_dbi()
                + activity_db
                - coupling_db
                - f64::from(servers[other].shift_db);
            let over_noise_db = level_dbm - t.noise_dbm[victim];
            Some((other, levels::db_to_ratio(over_noise_db) as f32))
        })
        .collect()
}
