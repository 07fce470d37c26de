//! Unwanted signals: from other sectors into a terminal, and from the
//! terminals that other sectors serve into a base station.
//!
//! Every sector is taken to share one frame timing, so base stations do not
//! hear base stations; a design that breaks this gets a finding.

use model::network::Channel;
use physics::antenna::{MountedAntenna, Mounting};
use physics::levels;

use crate::link::{LinkInterference, levels_of};
use crate::matrix::{PathMatrix, PathSummary};
use crate::radio::ReadyNetwork;

/// How much of one channel's signal lands in another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coupling {
    /// The channels overlap: the interferer's power less this.
    Overlapping {
        /// Share of the interferer's power outside the victim's channel.
        loss_db: f64,
    },
    /// The next channel: what leaks and what the receiver lets through.
    Adjacent,
    /// Too far apart to matter.
    Apart,
}

impl Coupling {
    /// Coupling of an interferer's channel into a victim's.
    pub fn of(victim: &Channel, interferer: &Channel) -> Self {
        let overlap_mhz = victim.overlap_mhz(interferer);
        if overlap_mhz > 0.0 {
            let share = overlap_mhz / interferer.width_mhz;
            Coupling::Overlapping {
                loss_db: -levels::ratio_to_db(share),
            }
        } else if victim.gap_mhz(interferer) < victim.width_mhz.max(interferer.width_mhz) {
            Coupling::Adjacent
        } else {
            Coupling::Apart
        }
    }

    /// Loss that the coupling stands for at a receiver; `None` where nothing gets through.
    pub fn loss_db(self, adjacent_channel_rejection_db: f64) -> Option<f64> {
        match self {
            Coupling::Overlapping { loss_db } => Some(loss_db),
            Coupling::Adjacent => Some(adjacent_channel_rejection_db),
            Coupling::Apart => None,
        }
    }
}

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
        let terminal = &self.ready.terminals[self.ready.terminal_of[premises]];
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
    /// who serves whom: by victim sector, one entry per interfering sector.
    ///
    /// At any moment one terminal of a sector sends (or several share the
    /// channel), so a sector's contribution is the mean over its terminals,
    /// each at the power that its power control leaves it.
    pub fn uplink_interferers(&self, serving: &[Option<usize>]) -> Vec<Vec<Interferer>> {
        let count = self.ready.sectors.len();
        let mut sums_mw = vec![0.0; count * count];
        let mut served = vec![0_usize; count];
        for (premises, sector) in serving.iter().enumerate() {
            if let Some(own) = *sector {
                served[own] += 1;
                self.add_uplink(premises, own, &mut sums_mw);
            }
        }
        let activity_db = self.activity_db();
        (0..count)
            .map(|victim| {
                (0..count)
                    .filter(|own| sums_mw[victim * count + own] > 0.0)
                    .map(|own| Interferer {
                        sector: own,
                        level_dbm: levels::mw_to_dbm(
                            sums_mw[victim * count + own] / served[own] as f64,
                        ) + activity_db,
                    })
                    .collect()
            })
            .collect()
    }

    /// Power of a terminal after power control: no more than the fastest step asks for.
    pub fn controlled_power_dbm(&self, premises: usize, serving: usize) -> Option<f64> {
        let kind = self.ready.terminal_of[premises];
        let terminal = &self.ready.terminals[kind];
        let path = self.paths.state(premises, serving).known()?;
        let (_, up) = levels_of(self.ready, premises, serving, path);
        let top_db = self.ready.sectors[serving].uplink[kind].top_required_db()?;
        let surplus_db = (up.snr_db() - top_db).max(0.0);
        let floor_dbm = terminal
            .terminal
            .min_tx_power_per_chain_dbm
            .min(up.tx_power_per_chain_dbm);
        Some((up.tx_power_per_chain_dbm - surplus_db).max(floor_dbm))
    }

    fn add_uplink(&self, premises: usize, own: usize, sums_mw: &mut [f64]) {
        let terminal = &self.ready.terminals[self.ready.terminal_of[premises]];
        let (Some(power_dbm), Some(aim)) = (
            self.controlled_power_dbm(premises, own),
            self.paths.state(premises, own).known(),
        ) else {
            return;
        };
        let antenna = aimed(&terminal.pattern, aim);
        let count = self.ready.sectors.len();
        for (victim, sector) in self.ready.sectors.iter().enumerate() {
            let rejection_db = sector.sector.base_station.adjacent_channel_rejection_db;
            let Some(coupling_db) = self.couplings.get(victim, own).loss_db(rejection_db) else {
                continue;
            };
            let Some(path) = self.paths.state(premises, victim).known() else {
                continue;
            };
            let level_dbm = power_dbm - terminal.terminal.feeder_loss_db
                + antenna.gain_toward_dbi(path.back_azimuth_deg, path.to_elevation_deg)
                - path.unwanted_loss_db
                - path.near_end.loss_db()
                + sector
                    .antenna
                    .gain_toward_dbi(path.azimuth_deg, path.from_elevation_deg)
                - sector.sector.feeder_loss_db
                - coupling_db;
            sums_mw[victim * count + own] += levels::dbm_to_mw(level_dbm);
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
