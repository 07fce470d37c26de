//! Unwanted signals: from other sectors into a terminal, and from the
//! terminals that other sectors serve into a base station.
//!
//! Every sector is taken to share one frame timing, so base stations do not
//! hear base stations; a design that breaks this gets a finding.

use physics::antenna::{MountedAntenna, Mounting};
use physics::levels;

use crate::coupling::Coupling;
use crate::link::LinkInterference;
use crate::matrix::{PathMatrix, PathSummary};
use crate::radio::ReadyNetwork;

/// Couplings by victim and interfering sector.
#[derive(Debug, Clone)]
pub struct Couplings {
    count: usize,
    table: Vec<Coupling>,
}

impl Couplings {
    /// Couplings of every pair of sectors; a sector does not couple into itself.
    pub fn new(ready: &ReadyNetwork<'_>) -> Self {
        let count = ready.sectors.len();
        let mut table = vec![Coupling::Apart; count * count];
        for (v, victim) in ready.sectors.iter().enumerate() {
            for (i, interferer) in ready.sectors.iter().enumerate() {
                if v != i {
                    table[v * count + i] =
                        Coupling::of(&victim.sector.channel, &interferer.sector.channel);
                }
            }
        }
        Self { count, table }
    }

    /// Coupling of one pair, by index.
    pub fn get(&self, victim: usize, interferer: usize) -> Coupling {
        self.table[victim * self.count + interferer]
    }
}

/// The state that interference depends on: who is served from where.
#[derive(Debug)]
pub struct Scene<'a> {
    /// The network made ready.
    pub ready: &'a ReadyNetwork<'a>,
    /// Losses.
    pub paths: &'a PathMatrix,
    /// Couplings.
    pub couplings: Couplings,
}

/// What a served terminal sends at the busy hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UplinkUse {
    /// The sector that serves it.
    pub sector: usize,
    /// Share of that sector's uplink that its demand takes.
    pub share_frac: f64,
    /// Share of the channel in which it concentrates its power.
    pub bandwidth_frac: f64,
    /// Power of one chain after power control.
    pub power_per_chain_dbm: f64,
}

/// One unwanted signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interferer {
    /// The sector it comes from, or whose terminals it comes from.
    pub sector: usize,
    /// Its mean level at one port.
    pub level_dbm: f64,
}

impl<'a> Scene<'a> {
    /// A scene without a serving assignment yet.
    pub fn new(ready: &'a ReadyNetwork<'a>, paths: &'a PathMatrix) -> Self {
        Self {
            ready,
            paths,
            couplings: Couplings::new(ready),
        }
    }

    /// What every other sector puts into the terminal of `premises` while it is aimed at `serving`.
    pub fn downlink_interferers(&self, premises: usize, serving: usize) -> Vec<Interferer> {
        let kind = self.ready.terminal_of[premises];
        let terminal = &self.ready.terminals[kind];
        let Some(aim) = self.paths.state(premises, serving).known() else {
            return Vec::new();
        };
        let antenna = aimed(&terminal.pattern, aim);
        let activity_db = self.activity_db();
        let mut interferers = Vec::new();
        for (t, other) in self.ready.sectors.iter().enumerate() {
            let rejection_db = terminal.terminal.adjacent_channel_rejection_db;
            let Some(coupling_db) = self.couplings.get(serving, t).loss_db(rejection_db) else {
                continue;
            };
            let Some(path) = self.paths.state(premises, t).known() else {
                continue;
            };
            let level_dbm = other.power.per_chain_dbm - other.sector.feeder_loss_db
                + other
                    .antenna
                    .gain_toward_dbi(path.azimuth_deg, path.from_elevation_deg)
                - path.unwanted_loss_db
                - path.near_end.loss_db()
                + antenna.gain_toward_dbi(path.back_azimuth_deg, path.to_elevation_deg)
                - terminal.terminal.feeder_loss_db
                - other.ports[kind].loss_db
                + other.ports[kind].into_one_port_db(other.sector.base_station.chains)
                - coupling_db
                + activity_db;
            interferers.push(Interferer {
                sector: t,
                level_dbm,
            });
        }
        interferers
    }

    /// What the terminals of every other sector put into each sector, given
    /// who sends what: by victim sector, one entry per interfering sector.
    ///
    /// A sector's terminals are taken to fill its uplink in proportion to their
    /// busy-hour shares, up to the activity that the design sets. One that
    /// concentrates its power in part of the channel sends so much longer, or
    /// beside others, so its power counts with the time that it sends.
    pub fn uplink_interferers(&self, uses: &[Option<UplinkUse>]) -> Vec<Vec<Interferer>> {
        let count = self.ready.sectors.len();
        let mut sums_mw = vec![0.0; count * count];
        let mut shares = vec![0.0; count];
        for (premises, used) in uses.iter().enumerate() {
            if let Some(used) = used {
                shares[used.sector] += used.share_frac;
                self.add_uplink(premises, used, &mut sums_mw);
            }
        }
        let activity_db = self.activity_db();
        (0..count)
            .map(|victim| {
                (0..count)
                    .filter(|own| sums_mw[victim * count + own] > 0.0)
                    .map(|own| Interferer {
                        sector: own,
                        level_dbm: levels::mw_to_dbm(sums_mw[victim * count + own] / shares[own])
                            + activity_db,
                    })
                    .collect()
            })
            .collect()
    }

    fn add_uplink(&self, premises: usize, used: &UplinkUse, sums_mw: &mut [f64]) {
        let kind = self.ready.terminal_of[premises];
        let terminal = &self.ready.terminals[kind];
        let Some(aim) = self.paths.state(premises, used.sector).known() else {
            return;
        };
        let antenna = aimed(&terminal.pattern, aim);
        let count = self.ready.sectors.len();
        let time_share = used.share_frac / used.bandwidth_frac;
        for (victim, sector) in self.ready.sectors.iter().enumerate() {
            let rejection_db = sector.sector.base_station.adjacent_channel_rejection_db;
            let coupling = self.couplings.get(victim, used.sector);
            let Some(coupling_db) = coupling.loss_db(rejection_db) else {
                continue;
            };
            let Some(path) = self.paths.state(premises, victim).known() else {
                continue;
            };
            let level_dbm = used.power_per_chain_dbm - terminal.terminal.feeder_loss_db
                + antenna.gain_toward_dbi(path.back_azimuth_deg, path.to_elevation_deg)
                - path.unwanted_loss_db
                - path.near_end.loss_db()
                + sector
                    .antenna
                    .gain_toward_dbi(path.azimuth_deg, path.from_elevation_deg)
                - sector.sector.feeder_loss_db
                - sector.ports[kind].loss_db
                + sector.ports[kind].into_one_port_db(terminal.terminal.tx_chains)
                - coupling_db;
            sums_mw[victim * count + used.sector] += time_share * levels::dbm_to_mw(level_dbm);
        }
    }

    fn activity_db(&self) -> f64 {
        levels::ratio_to_db(
            self.ready
                .network
                .study
                .interferer_activity_frac
                .clamp(1e-6, 1.0),
        )
    }
}

/// Sum of interferers; minus infinity where there are none.
pub fn sum_dbm(interferers: &[Interferer]) -> f64 {
    levels::sum_dbm(interferers.iter().map(|i| i.level_dbm))
}

/// Interference at both ends of a link.
pub fn of_link(
    scene: &Scene<'_>,
    link: (usize, usize),
    uplink: &[Vec<Interferer>],
) -> LinkInterference {
    let (premises, sector) = link;
    LinkInterference {
        downlink_dbm: sum_dbm(&scene.downlink_interferers(premises, sector)),
        uplink_dbm: uplink
            .get(sector)
            .map_or(f64::NEG_INFINITY, |list| sum_dbm(list)),
    }
}

/// A terminal's antenna aimed along a path.
fn aimed(pattern: &physics::antenna::PreparedPattern, path: &PathSummary) -> MountedAntenna {
    MountedAntenna::new(
        pattern.clone(),
        Mounting {
            azimuth_deg: path.back_azimuth_deg,
            mechanical_downtilt_deg: -path.to_elevation_deg,
            electrical_downtilt_deg: 0.0,
        },
    )
}
