//! From losses to what a terminal in every cell gets.

use model::finding::Finding;
use physics::antenna::{self, MountedAntenna, Mounting};
use physics::levels;
use raster::{Grid, RasterError};
use rayon::prelude::*;

use super::CoverageRaster;
use super::losses::{LaunchLosses, LossGrids};
use crate::adaptation::StepTable;
use crate::coupling::Coupling;
use crate::link::success_probability_frac;
use crate::radio::{ReadyNetwork, ReadySector, ReadyTerminal};
use crate::run::{Interrupted, RunControl};

/// A quantity that a coverage has in every cell, of the cell's best server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// Path loss. \[dB\]
    PathLoss,
    /// Received level of one stream at one port of the terminal. \[dBm\]
    DownlinkLevel,
    /// The same at the base station, the terminal at full power. \[dBm\]
    UplinkLevel,
    /// Index of the sector, where some step holds in both directions.
    BestServer,
    /// SINR at the terminal. \[dB\]
    DownlinkSinr,
    /// SINR at the base station. \[dB\]
    UplinkSinr,
    /// Downlink MIMO mode: 0 single stream, 1 space-time coding, 2 spatial multiplexing.
    DownlinkMode,
    /// Downlink modulation and coding, index into [`Coverage::mcs_names`].
    DownlinkMcs,
    /// Downlink rate at the Ethernet port, the sector idle; 0 without a link. \[Mb/s\]
    DownlinkRate,
    /// The same, uplink. \[Mb/s\]
    UplinkRate,
    /// Probability that the default plan is met in both directions.
    Probability,
    /// Sectors whose margin over the default plan is not negative.
    Servers,
    /// 1 in line of sight, 0 out of it.
    LineOfSight,
    /// Least clearance as a share of the first Fresnel zone's radius, negative
    /// when blocked; void unless the request asked for it.
    Clearance,
}

const LAYERS: usize = 14;

/// What every cell gets. Void where no sector is within reach, the ground is
/// unknown, or the cell lies outside the territory.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// The cells.
    pub raster: CoverageRaster,
    /// Ids of the sectors, by the index of [`Layer::BestServer`].
    pub sectors: Vec<String>,
    /// Names of the modulation and coding steps, most robust first.
    pub mcs_names: Vec<String>,
    /// What is worth telling.
    pub findings: Vec<Finding>,
    cells: Vec<[f32; LAYERS]>,
}

impl Coverage {
    /// One quantity as a grid.
    ///
    /// # Errors
    /// None for a coverage that was made: a raster has at least a cell.
    pub fn grid(&self, layer: Layer) -> Result<Grid, RasterError> {
        let cells = self.cells.iter().map(|cell| cell[layer as usize]).collect();
        let CoverageRaster { width, height, .. } = self.raster;
        Grid::new(self.raster.georeference.clone(), width, height, cells)
    }

    /// One quantity of one cell.
    pub fn value(&self, layer: Layer, (col, row): (usize, usize)) -> f32 {
        self.cells[row * self.raster.width + col][layer as usize]
    }
}

/// What a composite is made from.
#[derive(Debug, Clone, Copy)]
pub struct Composite<'a> {
    /// The network of cells made ready: one terminal, one plan.
    pub ready: &'a ReadyNetwork<'a>,
    /// Losses.
    pub losses: &'a LossGrids,
    /// The only sector that may serve, by index.
    pub only: Option<usize>,
    /// Uplink interference at one port by sector, as a study finds it; `None` is none.
    pub uplink_interference_dbm: Option<&'a [f64]>,
}

/// Works out every cell, in parallel over rows.
///
/// # Errors
/// [`Interrupted`].
pub fn composite(asked: &Composite<'_>, run: &RunControl<'_>) -> Result<Coverage, Interrupted> {
    let raster = &asked.losses.raster;
    let mcs_names = mcs_names(asked.ready);
    let servers = Servers::new(asked, &mcs_names);
    let mut cells = vec![[f32::NAN; LAYERS]; raster.width * raster.height];
    run.begin("cells", raster.height);
    run.install(|| {
        let rows = cells.par_chunks_exact_mut(raster.width).enumerate();
        rows.try_for_each_init(Scratch::default, |scratch, (row, cells)| {
            if run.interrupted() {
                return Err(Interrupted);
            }
            for col in raster.columns_inside(row) {
                servers.look(asked.losses, (col, row), scratch);
                if let Some(answer) = servers.best(scratch) {
                    cells[col] = answer;
                }
            }
            run.advance(1);
            Ok(())
        })
    })?;
    let sectors = asked.ready.sectors.iter();
    Ok(Coverage {
        raster: raster.clone(),
        sectors: sectors.map(|s| s.sector.id.as_str().to_owned()).collect(),
        mcs_names,
        findings: Vec::new(),
        cells,
    })
}

/// Names of all modulation and coding steps, each once, in the order of the cards.
fn mcs_names(ready: &ReadyNetwork<'_>) -> Vec<String> {
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

/// A sector with everything that is the same in every cell.
struct Server<'a> {
    launch: usize,
    antenna: &'a MountedAntenna,
    /// Level of the downlink but for the loss and the antenna of the mast.
    down_dbm: f64,
    up_dbm: f64,
    down_noise_dbm: f64,
    /// Noise and interference.
    up_noise_dbm: f64,
    /// As interference at a terminal, but for loss, the antennas and the coupling.
    unwanted_dbm: f64,
    down: &'a StepTable,
    up: &'a StepTable,
    /// SINR that the plan asks for, downlink and uplink.
    required_db: Option<(f64, f64)>,
    reach_m: f64,
    may_serve: bool,
    /// Sectors heard in its channel, and the coupling loss of each.
    heard: Vec<(usize, f64)>,
    /// Index into the names of all steps, by the card's.
    mcs: Vec<usize>,
}

struct Servers<'a> {
    list: Vec<Server<'a>>,
    terminal: &'a ReadyTerminal,
    model_error_db: f64,
}

/// A launch point as a cell sees it.
#[derive(Clone, Copy, Default)]
struct Ray {
    is_known: bool,
    distance_m: f64,
    /// At the mast, from true north.
    azimuth_deg: f64,
    /// At the cell, from grid north.
    back_grid_azimuth_deg: f64,
    elevation_deg: f64,
    back_elevation_deg: f64,
    loss_db: f64,
    unwanted_loss_db: f64,
    sigma_db: f64,
    sight: f64,
    tells_clearance: bool,
}

/// A sector that could serve a cell.
#[derive(Clone, Copy)]
struct Candidate {
    server: usize,
    /// Margin without interference.
    margin_db: f64,
    down_dbm: f64,
    up_dbm: f64,
}

/// A candidate with interference.
#[derive(Clone, Copy)]
struct Judged {
    candidate: Candidate,
    down_sinr_db: f64,
    up_sinr_db: f64,
    /// `None` where no step gives the plan's rate.
    margin_db: Option<f64>,
    rank_db: f64,
}

#[derive(Default)]
struct Scratch {
    rays: Vec<Ray>,
    gains_dbi: Vec<f64>,
    candidates: Vec<Candidate>,
}

/// Put on a margin to say that the plan's rate is out of the air interface's
/// reach, as in [`crate::service`].
const HOPELESS_DB: f64 = 1e3;

impl<'a> Servers<'a> {
    fn new(asked: &Composite<'a>, mcs_names: &[String]) -> Self {
        let ready = asked.ready;
        let list = (0..ready.sectors.len()).map(|s| server(asked, s, mcs_names));
        Self {
            list: list.collect(),
            terminal: &ready.terminals[0],
            model_error_db: ready.network.propagation.model_error_db,
        }
    }

    /// Fills the scratch with what a cell sees, the strongest candidate first.
    fn look(&self, losses: &LossGrids, cell: (usize, usize), scratch: &mut Scratch) {
        let Scratch {
            rays,
            gains_dbi,
            candidates,
        } = scratch;
        let at = losses.raster.centre(cell.0, cell.1);
        rays.clear();
        let launches = losses.launches.iter();
        rays.extend(launches.map(|launch| ray(launch, cell, [at.x, at.y])));
        gains_dbi.clear();
        candidates.clear();
        for (index, server) in self.list.iter().enumerate() {
            let ray = &rays[server.launch];
            if !ray.is_known {
                gains_dbi.push(f64::NAN);
                continue;
            }
            let antenna = server.antenna;
            let gain_dbi = antenna.gain_toward_dbi(ray.azimuth_deg, ray.elevation_deg);
            gains_dbi.push(gain_dbi);
            if server.may_serve && ray.distance_m <= server.reach_m {
                candidates.push(server.candidate(index, gain_dbi - ray.loss_db));
            }
        }
        // Ties go to the sector that the design names first.
        candidates.sort_by(|a, b| {
            let margins = b.margin_db.total_cmp(&a.margin_db);
            margins.then(a.server.cmp(&b.server))
        });
    }

    /// The cell's answer; `None` where there is no candidate.
    ///
    /// Interference never raises a margin, so that a candidate whose margin
    /// without interference is below the best one's with it cannot win.
    fn best(&self, scratch: &Scratch) -> Option<[f32; LAYERS]> {
        let mut best: Option<Judged> = None;
        let mut servers = 0;
        for candidate in &scratch.candidates {
            let may_win = best.is_none_or(|b| candidate.margin_db >= b.rank_db);
            if !may_win && candidate.margin_db < 0.0 {
                break;
            }
            let judged = self.judge(candidate, scratch);
            servers += usize::from(judged.margin_db.is_some_and(|m| m >= 0.0));
            let is_better = best.is_none_or(|b| {
                let order = judged.rank_db.total_cmp(&b.rank_db);
                order
                    .then(b.candidate.server.cmp(&candidate.server))
                    .is_gt()
            });
            if is_better {
                best = Some(judged);
            }
        }
        Some(self.answer(&best?, servers, scratch))
    }

    fn judge(&self, candidate: &Candidate, scratch: &Scratch) -> Judged {
        let server = &self.list[candidate.server];
        let noise_dbm = server.down_noise_dbm;
        let interference_mw = self.interference_mw(server, scratch);
        let down_sinr_db = if interference_mw > 0.0 {
            let both_mw = levels::dbm_to_mw(noise_dbm) + interference_mw;
            candidate.down_dbm - levels::mw_to_dbm(both_mw)
        } else {
            candidate.down_dbm - noise_dbm
        };
        let up_sinr_db = candidate.up_dbm - server.up_noise_dbm;
        let margin_db = server
            .required_db
            .map(|(down_db, up_db)| (down_sinr_db - down_db).min(up_sinr_db - up_db));
        Judged {
            candidate: *candidate,
            down_sinr_db,
            up_sinr_db,
            margin_db,
            rank_db: margin_db.unwrap_or(down_sinr_db - HOPELESS_DB),
        }
    }

    /// What the other sectors put into a terminal aimed at a server's mast.
    fn interference_mw(&self, server: &Server<'_>, scratch: &Scratch) -> f64 {
        let aim = &scratch.rays[server.launch];
        let mounting = Mounting {
            azimuth_deg: aim.back_grid_azimuth_deg,
            mechanical_downtilt_deg: -aim.back_elevation_deg,
            electrical_downtilt_deg: 0.0,
        };
        let heard = server.heard.iter().map(|(other, coupling_db)| {
            let from = &self.list[*other];
            let ray = &scratch.rays[from.launch];
            if !ray.is_known {
                return 0.0;
            }
            let terminal_gain_dbi = if from.launch == server.launch {
                self.terminal.pattern.peak_gain_dbi()
            } else {
                antenna::gain_toward_dbi(
                    &self.terminal.pattern,
                    &mounting,
                    ray.back_grid_azimuth_deg,
                    ray.back_elevation_deg,
                )
            };
            levels::dbm_to_mw(
                from.unwanted_dbm + scratch.gains_dbi[*other] - ray.unwanted_loss_db
                    + terminal_gain_dbi
                    - coupling_db,
            )
        });
        heard.sum()
    }

    fn answer(&self, best: &Judged, servers: usize, scratch: &Scratch) -> [f32; LAYERS] {
        let server = &self.list[best.candidate.server];
        let ray = &scratch.rays[server.launch];
        let down = server.down.best_at(best.down_sinr_db);
        let up = server.up.best_at(best.up_sinr_db);
        let sigma_db = ray.sigma_db.hypot(self.model_error_db);
        let probability = best
            .margin_db
            .map(|m| success_probability_frac(m, sigma_db));
        let works = down.is_some() && up.is_some();
        let mut cell = [f32::NAN; LAYERS];
        let mut put = |layer: Layer, value: f64| cell[layer as usize] = value as f32;
        put(Layer::PathLoss, ray.loss_db);
        put(Layer::DownlinkLevel, best.candidate.down_dbm);
        put(Layer::UplinkLevel, best.candidate.up_dbm);
        if works {
            put(Layer::BestServer, best.candidate.server as f64);
        }
        put(Layer::DownlinkSinr, best.down_sinr_db);
        put(Layer::UplinkSinr, best.up_sinr_db);
        if let Some(step) = down {
            put(Layer::DownlinkMode, f64::from(step.mode as u8));
            put(Layer::DownlinkMcs, server.mcs[step.mcs] as f64);
        }
        put(
            Layer::DownlinkRate,
            down.map_or(0.0, |s| s.ethernet_rate_mbps),
        );
        put(Layer::UplinkRate, up.map_or(0.0, |s| s.ethernet_rate_mbps));
        put(Layer::Probability, probability.unwrap_or(0.0));
        put(Layer::Servers, servers as f64);
        put(Layer::LineOfSight, f64::from(u8::from(ray.sight > 0.0)));
        if ray.tells_clearance {
            put(Layer::Clearance, ray.sight);
        }
        cell
    }
}

impl Server<'_> {
    fn candidate(&self, server: usize, gain_less_loss_db: f64) -> Candidate {
        let down_dbm = self.down_dbm + gain_less_loss_db;
        let up_dbm = self.up_dbm + gain_less_loss_db;
        let snr_db = down_dbm - self.down_noise_dbm;
        let margin_db = match self.required_db {
            Some((down_db, up_db)) => (snr_db - down_db).min(up_dbm - self.up_noise_dbm - up_db),
            None => snr_db - HOPELESS_DB,
        };
        Candidate {
            server,
            margin_db,
            down_dbm,
            up_dbm,
        }
    }
}

fn server<'a>(asked: &Composite<'a>, index: usize, mcs_names: &[String]) -> Server<'a> {
    let ready = asked.ready;
    let network = ready.network;
    let (s, t): (&'a ReadySector<'a>, &'a ReadyTerminal) =
        (&ready.sectors[index], &ready.terminals[0]);
    let plan = &network.premises[0].plan;
    let ports = &s.ports[0];
    let terminal_db =
        t.pattern.peak_gain_dbi() - t.pointing_loss_db - ports.loss_db - t.terminal.feeder_loss_db;
    let activity = network.study.interferer_activity_frac.clamp(1e-6, 1.0);
    let uplink_dbm = asked.uplink_interference_dbm.and_then(|all| all.get(index));
    let name_of = |name: &String| mcs_names.iter().position(|n| n == name).unwrap_or(0);
    let required = s.downlink[0].required_for_db(plan.downlink_mbps);
    let chains = s.sector.base_station.chains;
    let radiated_dbm = s.power.per_chain_dbm - s.sector.feeder_loss_db;
    Server {
        launch: asked.losses.launch_of[index],
        antenna: &s.antenna,
        down_dbm: radiated_dbm + terminal_db,
        up_dbm: t.power[index].per_chain_dbm + terminal_db - s.sector.feeder_loss_db,
        down_noise_dbm: t.noise_dbm[index],
        up_noise_dbm: match uplink_dbm {
            Some(interference_dbm) => levels::sum_dbm([s.noise_dbm, *interference_dbm]),
            None => s.noise_dbm,
        },
        unwanted_dbm: radiated_dbm - t.terminal.feeder_loss_db - ports.loss_db
            + ports.into_one_port_db(chains)
            + levels::ratio_to_db(activity),
        down: &s.downlink[0],
        up: &s.uplink[0],
        required_db: required.zip(s.uplink[0].required_for_db(plan.uplink_mbps)),
        reach_m: s.guard_range_m.min(network.propagation.reach_km * 1e3),
        may_serve: asked.only.is_none_or(|only| only == index)
            && t.terminal.tunes_to(&s.sector.channel),
        heard: heard(ready, index),
        mcs: s
            .sector
            .air_interface
            .mcs
            .iter()
            .map(|m| name_of(&m.name))
            .collect(),
    }
}

/// Sectors heard in the channel of another, and the coupling loss of each.
fn heard(ready: &ReadyNetwork<'_>, victim: usize) -> Vec<(usize, f64)> {
    let rejection_db = ready.terminals[0].terminal.adjacent_channel_rejection_db;
    let channel = |s: usize| &ready.sectors[s].sector.channel;
    let others = (0..ready.sectors.len()).filter(|other| *other != victim);
    others
        .filter_map(|other| {
            let coupling = Coupling::of(channel(victim), channel(other));
            Some((other, coupling.loss_db(rejection_db)?))
        })
        .collect()
}

fn ray(launch: &LaunchLosses, (col, row): (usize, usize), [x, y]: [f64; 2]) -> Ray {
    let index = launch.index(col, row);
    let Some(i) = index.filter(|i| !launch.loss_db[*i].is_nan()) else {
        return Ray::default();
    };
    let (east_m, north_m) = (x - launch.at.x, y - launch.at.y);
    let grid_azimuth_deg = east_m.atan2(north_m).to_degrees();
    let distance_m = east_m.hypot(north_m) / launch.scale;
    let loss_db = f64::from(launch.loss_db[i]);
    let elevation_deg = f64::from(launch.mast_elevation_deg[i]);
    let unwanted = launch.unwanted_loss_db.as_ref();
    Ray {
        is_known: true,
        distance_m,
        azimuth_deg: grid_azimuth_deg + launch.convergence_deg,
        back_grid_azimuth_deg: grid_azimuth_deg + 180.0,
        elevation_deg,
        // The two ends of a straight ray over a round Earth see each other
        // lower by the angle between their verticals.
        back_elevation_deg: -elevation_deg - (distance_m / EFFECTIVE_RADIUS_M).to_degrees(),
        loss_db,
        unwanted_loss_db: unwanted.map_or(loss_db, |u| f64::from(u[i])),
        sigma_db: f64::from(launch.location_sigma_db[i]),
        sight: f64::from(launch.clearance_ratio[i]),
        tells_clearance: launch.tells_clearance(),
    }
}

/// Radius of an Earth over which median rays are straight, 4/3 of its own; it
/// turns the terminal by less than a tenth of a degree per 15 km.
const EFFECTIVE_RADIUS_M: f64 = 8.5e6;
