//! The link budget of one premises and one sector, both directions, term by term.

use model::ids::{PremisesId, SectorId};
use physics::levels;
use serde::Serialize;

use crate::adaptation::{MimoMode, Step, StepTable};
use crate::availability::{self, LinkAvailability, NoAvailability};
use crate::frame::Direction;
use crate::load::flow;
use crate::matrix::PathSummary;
use crate::radio::{ReadyNetwork, ReadySector, ReadyTerminal};

/// Levels of one direction before interference, one stream at one port.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Levels {
    /// Power of one transmit chain after the rules, before back-off.
    pub tx_power_per_chain_dbm: f64,
    /// Loss between transmitter and antenna.
    pub tx_feeder_loss_db: f64,
    /// Gain of the transmitting antenna in the direction of the path.
    pub tx_gain_dbi: f64,
    /// Gain the terminal loses because it is not aimed exactly.
    pub pointing_loss_db: f64,
    /// Level that one stream loses because the ends are polarized or rotated differently.
    pub polarization_loss_db: f64,
    /// Loss of the path.
    pub path_loss_db: f64,
    /// Clutter around a terminal below the roofs.
    pub near_clutter_loss_db: f64,
    /// Walls and windows around a terminal indoors.
    pub entry_loss_db: f64,
    /// Gain of the receiving antenna in the direction of the path.
    pub rx_gain_dbi: f64,
    /// Loss between antenna and receiver.
    pub rx_feeder_loss_db: f64,
    /// Noise of one receive chain over the channel, noise figure included.
    pub noise_dbm: f64,
}

impl Levels {
    /// Received level of one stream at one port.
    pub fn rsl_dbm(&self) -> f64 {
        self.tx_power_per_chain_dbm - self.tx_feeder_loss_db + self.tx_gain_dbi
            - self.pointing_loss_db
            - self.polarization_loss_db
            - self.path_loss_db
            - self.near_clutter_loss_db
            - self.entry_loss_db
            + self.rx_gain_dbi
            - self.rx_feeder_loss_db
    }

    /// Signal over noise of one stream at one port.
    pub fn snr_db(&self) -> f64 {
        self.rsl_dbm() - self.noise_dbm
    }

    /// Signal over noise and interference; `interference_dbm` may be minus infinity.
    pub fn sinr_db(&self, interference_dbm: f64) -> f64 {
        if interference_dbm == f64::NEG_INFINITY {
            // To the last digit, not through a sum of powers.
            return self.snr_db();
        }
        self.rsl_dbm() - levels::sum_dbm([self.noise_dbm, interference_dbm])
    }
}

/// Levels of a premises and a sector, the terminal aimed at the sector's mast.
pub fn levels_of(
    ready: &ReadyNetwork<'_>,
    premises: usize,
    sector: usize,
    path: &PathSummary,
) -> (Levels, Levels) {
    let s = &ready.sectors[sector];
    let t = &ready.terminals[ready.terminal_of[premises]];
    let base_gain_dbi = s
        .antenna
        .gain_toward_dbi(path.azimuth_deg, path.from_elevation_deg);
    let polarization_loss_db = s.ports[ready.terminal_of[premises]].loss_db;
    let terminal_gain_dbi = t.pattern.peak_gain_dbi();
    let downlink = Levels {
        tx_power_per_chain_dbm: s.power.per_chain_dbm,
        tx_feeder_loss_db: s.sector.feeder_loss_db,
        tx_gain_dbi: base_gain_dbi,
        pointing_loss_db: t.pointing_loss_db,
        polarization_loss_db,
        path_loss_db: path.loss_db,
        near_clutter_loss_db: path.near_end.clutter_loss_db,
        entry_loss_db: path.near_end.entry_loss_db,
        rx_gain_dbi: terminal_gain_dbi,
        rx_feeder_loss_db: t.terminal.feeder_loss_db,
        noise_dbm: t.noise_dbm[sector],
    };
    let uplink = Levels {
        tx_power_per_chain_dbm: t.power[sector].per_chain_dbm,
        tx_feeder_loss_db: t.terminal.feeder_loss_db,
        tx_gain_dbi: terminal_gain_dbi,
        pointing_loss_db: t.pointing_loss_db,
        polarization_loss_db,
        path_loss_db: path.loss_db,
        near_clutter_loss_db: path.near_end.clutter_loss_db,
        entry_loss_db: path.near_end.entry_loss_db,
        rx_gain_dbi: base_gain_dbi,
        rx_feeder_loss_db: s.sector.feeder_loss_db,
        noise_dbm: s.noise_dbm,
    };
    (downlink, uplink)
}

/// One direction of an evaluated link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkDirection {
    /// Levels before interference.
    #[serde(flatten)]
    pub levels: Levels,
    /// EIRP towards the other end, all chains.
    pub eirp_dbm: f64,
    /// Received level of one stream at one port.
    pub rsl_dbm: f64,
    /// Interference at one port; `None` where there is none.
    pub interference_dbm: Option<f64>,
    /// Signal over noise.
    pub snr_db: f64,
    /// Signal over noise and interference.
    pub sinr_db: f64,
    /// What link adaptation chooses; `None` where not even the most robust step holds.
    pub step: Option<Step>,
    /// What a busy sector's scheduler uses for the plan's busy-hour demand: the step that takes least of the channel.
    pub busy_step: Option<Step>,
    /// The same for best effort: downlink without the fade margin, because adaptation falls back when the signal fades.
    pub elastic_step: Option<Step>,
    /// Name of the chosen modulation and coding.
    pub mcs_name: Option<String>,
    /// SINR that the plan's rate asks for; `None` where no step gives that rate.
    pub required_sinr_db: Option<f64>,
    /// SINR above what the plan asks for; negative where it falls short.
    pub margin_db: Option<f64>,
}

impl LinkDirection {
    /// Rate at the Ethernet port with the sector otherwise idle; 0 without a step.
    pub fn ethernet_rate_mbps(&self) -> f64 {
        self.step.map_or(0.0, |s| s.ethernet_rate_mbps)
    }

    /// MIMO mode in use.
    pub fn mode(&self) -> Option<MimoMode> {
        self.step.map(|s| s.mode)
    }
}

/// An evaluated link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Link {
    /// The premises.
    pub premises: PremisesId,
    /// The sector.
    pub sector: SectorId,
    /// Length along the ground.
    pub distance_m: f64,
    /// Azimuth from the mast.
    pub azimuth_deg: f64,
    /// Azimuth from the premises: where the installer points.
    pub back_azimuth_deg: f64,
    /// Elevation from the premises: how far up the installer points.
    pub to_elevation_deg: f64,
    /// Least clearance as a share of the first Fresnel zone; negative when blocked.
    pub clearance_ratio: f64,
    /// Loss in excess of free space.
    pub excess_loss_db: f64,
    /// Standard deviation of the loss over locations.
    pub location_sigma_db: f64,
    /// Standard deviation of the whole prediction: over locations, and the model's own error.
    pub prediction_sigma_db: f64,
    /// From the base station.
    pub downlink: LinkDirection,
    /// From the terminal.
    pub uplink: LinkDirection,
    /// Power of one of the terminal's chains after power control, at the busy hour's step.
    pub controlled_power_per_chain_dbm: f64,
    /// Level that the base station then receives, one stream at one port.
    pub controlled_uplink_rsl_dbm: f64,
    /// Probability that the installation meets its plan in both directions.
    pub probability_frac: f64,
    /// How often fading lets the plan be met; `None` for the reason beside.
    pub availability: Option<LinkAvailability>,
    /// Why there is no availability; `None` where there is one.
    pub no_availability: Option<NoAvailability>,
}

impl Link {
    /// The smaller margin of the two directions; `None` where a direction cannot give the plan's rate at all.
    pub fn margin_db(&self) -> Option<f64> {
        Some(self.downlink.margin_db?.min(self.uplink.margin_db?))
    }
}

/// Interference at the two ends of a link; minus infinity where there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkInterference {
    /// At the terminal.
    pub downlink_dbm: f64,
    /// At the base station.
    pub uplink_dbm: f64,
}

impl LinkInterference {
    /// A link alone in its channel.
    pub const NONE: Self = Self {
        downlink_dbm: f64::NEG_INFINITY,
        uplink_dbm: f64::NEG_INFINITY,
    };
}

/// Evaluates the link of a premises and a sector.
pub fn evaluate(
    ready: &ReadyNetwork<'_>,
    (premises, sector): (usize, usize),
    path: &PathSummary,
    interference: &LinkInterference,
) -> Link {
    let p = &ready.network.premises[premises];
    let s = &ready.sectors[sector];
    let kind = ready.terminal_of[premises];
    let (down, up) = levels_of(ready, premises, sector, path);
    let downlink = direction(
        (s, &ready.terminals[kind]),
        &Case {
            levels: down,
            interference_dbm: interference.downlink_dbm,
            steps: &s.downlink[kind],
            rate_mbps: flow::sold_mbps(&p.plan, Direction::Downlink),
            demand_mbps: flow::needed_mbps(&p.plan, Direction::Downlink),
            fade_margin_db: ready.network.study.fade_margin_db,
            direction: Direction::Downlink,
        },
    );
    let uplink = direction(
        (s, &ready.terminals[kind]),
        &Case {
            levels: up,
            interference_dbm: interference.uplink_dbm,
            steps: &s.uplink[kind],
            rate_mbps: flow::sold_mbps(&p.plan, Direction::Uplink),
            demand_mbps: flow::needed_mbps(&p.plan, Direction::Uplink),
            // Power control spends what is above the step, so no faster one holds.
            fade_margin_db: 0.0,
            direction: Direction::Uplink,
        },
    );
    // Independent causes: where exactly the antenna stands, what is around it, and the model.
    let model_error_db = ready.network.propagation.model_error_db;
    let prediction_sigma_db = path
        .location_sigma_db
        .hypot(path.near_end.sigma_db)
        .hypot(model_error_db);
    let margin_db = downlink.margin_db.zip(uplink.margin_db);
    let margin_db = margin_db.map(|(a, b)| a.min(b));
    let probability_frac =
        margin_db.map_or(0.0, |m| success_probability_frac(m, prediction_sigma_db));
    let (availability, no_availability) =
        match availability::of(ready, (premises, sector), path, margin_db) {
            Ok(found) => (Some(found), None),
            Err(reason) => (None, Some(reason)),
        };
    let controlled_dbm = controlled_power_dbm(&ready.terminals[kind], &uplink);
    Link {
        premises: p.id.clone(),
        sector: s.sector.id.clone(),
        distance_m: path.distance_m,
        azimuth_deg: path.azimuth_deg,
        back_azimuth_deg: path.back_azimuth_deg,
        to_elevation_deg: path.to_elevation_deg,
        clearance_ratio: path.clearance_ratio,
        excess_loss_db: path.loss_db - path.free_space_db,
        location_sigma_db: path.location_sigma_db,
        prediction_sigma_db,
        controlled_power_per_chain_dbm: controlled_dbm,
        controlled_uplink_rsl_dbm: uplink.rsl_dbm - uplink.levels.tx_power_per_chain_dbm
            + controlled_dbm,
        downlink,
        uplink,
        probability_frac,
        availability,
        no_availability,
    }
}

/// Power of a terminal's chain after power control: what its step at the busy
/// hour asks for, within what its radio can do.
fn controlled_power_dbm(terminal: &ReadyTerminal, uplink: &LinkDirection) -> f64 {
    let highest_dbm = uplink.levels.tx_power_per_chain_dbm;
    let surplus_db = uplink
        .busy_step
        .map_or(0.0, |s| (uplink.sinr_db - s.required_sinr_db).max(0.0));
    let lowest_dbm = terminal
        .terminal
        .min_tx_power_per_chain_dbm
        .min(highest_dbm);
    (highest_dbm - surplus_db).max(lowest_dbm)
}

/// Probability that a margin survives the spread of the prediction.
///
/// The median loss is exceeded in half the cases, so a margin of zero holds
/// in half of them; without spread a margin holds or does not.
pub fn success_probability_frac(margin_db: f64, sigma_db: f64) -> f64 {
    if sigma_db > 0.0 {
        physics::normal::cumulative_frac(margin_db / sigma_db)
    } else if margin_db >= 0.0 {
        1.0
    } else {
        0.0
    }
}

struct Case<'a> {
    levels: Levels,
    interference_dbm: f64,
    steps: &'a StepTable,
    rate_mbps: f64,
    demand_mbps: f64,
    /// Margin that elastic data does without: it can fall back when the signal fades.
    fade_margin_db: f64,
    direction: Direction,
}

fn direction(ends: (&ReadySector<'_>, &ReadyTerminal), case: &Case<'_>) -> LinkDirection {
    let (sector, terminal) = ends;
    let sinr_db = case.levels.sinr_db(case.interference_dbm);
    let step = case.steps.best_at(sinr_db).copied();
    let busy_step = case.steps.leanest_at(sinr_db, case.demand_mbps).copied();
    let elastic_step = case
        .steps
        .leanest_at(sinr_db + case.fade_margin_db, case.demand_mbps)
        .copied();
    let required_sinr_db = case.steps.required_for_db(case.rate_mbps);
    let chains = match case.direction {
        Direction::Downlink => sector.sector.base_station.chains,
        Direction::Uplink => terminal.terminal.tx_chains,
    };
    LinkDirection {
        levels: case.levels,
        eirp_dbm: case.levels.tx_power_per_chain_dbm + levels::ratio_to_db(f64::from(chains))
            - case.levels.tx_feeder_loss_db
            + case.levels.tx_gain_dbi,
        rsl_dbm: case.levels.rsl_dbm(),
        interference_dbm: case
            .interference_dbm
            .is_finite()
            .then_some(case.interference_dbm),
        snr_db: case.levels.snr_db(),
        sinr_db,
        step,
        busy_step,
        elastic_step,
        mcs_name: step.map(|s| sector.sector.air_interface.mcs[s.mcs].name.clone()),
        required_sinr_db,
        margin_db: required_sinr_db.map(|required_db| sinr_db - required_db),
    }
}
