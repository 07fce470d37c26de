//! Backhaul hops: what each can carry and how often, and how surely the masts reach the core.
//!
//! In order: the rules ([`crate::compliance`]), [`path`], [`fading`],
//! [`steps`], [`budget`] for one hop; [`routes`] and [`load`] for the network of
//! them. A planning estimate of propagation alone: equipment, power and
//! licences are matters of their own.

pub mod budget;
pub mod fading;
mod failures;
mod findings;
pub mod load;
pub mod path;
pub mod routes;
pub mod steps;

use geodesy::LonLat;
use model::backhaul::{Backhaul, Hop, HopEnd, HopPolarization};
use model::finding::Finding;
use model::ids::{EquipmentId, HopId, MastId};
use model::network::{Channel, Network};
use physics::antenna::{self, PreparedPattern};
use rayon::prelude::*;
use serde::Serialize;

use crate::compliance::{self, AllowedPower};
use crate::explain::BudgetTerm;
use crate::path::{PathEnd, PathError};
use crate::radio;
use crate::run::{Interrupted, RunControl};
use crate::surroundings::{CrossSection, Surroundings};
use budget::Direction;
use fading::{Fading, FadingPath};
use load::{CarriedLoad, HopFailure, MastLoad, StepUse};
use path::HopPath;
use routes::{HopOutage, MastRoute};
use steps::StepResult;

/// Everything a study says of the backhaul.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct BackhaulResult {
    /// Masts at which the network meets its core.
    pub core: Vec<MastId>,
    /// One per hop, in the network's order.
    pub hops: Vec<HopResult>,
    /// One per mast that carries a sector or a hop, in the network's order; empty without a core.
    pub routes: Vec<MastRoute>,
    /// What the failure of each hop does to the others; empty without a core.
    pub failures: Vec<HopFailure>,
    /// The assumption on which the availabilities to the core rest; empty without hops.
    pub assumption: &'static str,
}

/// What a study says of one hop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopResult {
    /// Id.
    pub id: HopId,
    /// Mast at one end.
    pub from: MastId,
    /// Mast at the other end.
    pub to: MastId,
    /// Where the `from` mast stands.
    pub from_position: LonLat,
    /// Where the `to` mast stands.
    pub to_position: LonLat,
    /// Channel.
    pub channel: Channel,
    /// Polarization.
    pub polarization: HopPolarization,
    /// Radio card.
    pub radio: EquipmentId,
    /// Power at the `from` end after equipment and rules.
    pub from_power: AllowedPower,
    /// Power at the `to` end after equipment and rules.
    pub to_power: AllowedPower,
    /// What it can carry and how often; `None` where the ground is unknown.
    pub evaluation: Option<HopEvaluation>,
    /// Load at the busy hour, by each mast's best route.
    pub load: CarriedLoad,
    /// Share of the guaranteed rate that the busier direction asks for; `None` where the ground is unknown.
    pub busy_frac: Option<f64>,
    /// How the load fits each step, in rising order of rate.
    pub step_uses: Vec<StepUse>,
}

/// What one hop can carry, and how often.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HopEvaluation {
    /// Geometry, clearance and loss.
    pub path: HopPath,
    /// Lines of the budget from `from` to `to`, at the step that lasts longest.
    pub budget: Vec<BudgetTerm>,
    /// Lines of the budget back.
    pub return_budget: Vec<BudgetTerm>,
    /// Modulation steps in rising order of rate.
    pub steps: Vec<StepResult>,
    /// Share of an average year in which the hop is up.
    pub availability_year_pct: f64,
    /// Share of an average worst month in which the hop is up.
    pub availability_worst_month_pct: f64,
    /// Whether both shares are only known as "at least": the hop bears the rarest rain that the method tells.
    pub availability_is_bound: bool,
    /// Share of an average year that the design asks for.
    pub availability_target_pct: f64,
    /// Mean rate over an average year, each direction.
    pub mean_mbps: f64,
    /// Rate that is there for the share of the year that the design asks for, each direction.
    pub guaranteed_mbps: f64,
}

impl HopEvaluation {
    /// Margin of the step that lasts longest.
    pub fn fade_margin_db(&self) -> f64 {
        self.steps
            .iter()
            .map(|s| s.fade_margin_db)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn outage(&self) -> HopOutage {
        let (year_pct, worst_month_pct) = steps::outage_pct(&self.steps);
        HopOutage {
            year_frac: year_pct / 100.0,
            worst_month_frac: worst_month_pct / 100.0,
        }
    }
}

/// What the rules and the equipment force on the hops, without looking at the ground.
pub fn rule_findings(network: &Network) -> Vec<Finding> {
    let mut findings = Vec::new();
    for hop in &network.backhaul.hops {
        let _ = ReadyHop::new(network, hop, &mut findings);
    }
    findings
}

/// Evaluates the backhaul; `loads` are what the masts' sectors bring at the busy hour.
pub fn evaluate(
    network: &Network,
    surroundings: &dyn Surroundings,
    loads: &[MastLoad],
    run: &RunControl<'_>,
) -> Result<(BackhaulResult, Vec<Finding>), Interrupted> {
    let backhaul = &network.backhaul;
    if backhaul.hops.is_empty() {
        return Ok((BackhaulResult::default(), Vec::new()));
    }
    let evaluated: Vec<Option<Evaluated>> = backhaul
        .hops
        .par_iter()
        .map(|hop| (!run.interrupted()).then(|| evaluate_hop(network, hop, surroundings)))
        .collect();
    let evaluated: Vec<Evaluated> = evaluated
        .into_iter()
        .map(|e| e.ok_or(Interrupted))
        .collect::<Result<_, _>>()?;
    let mut findings = Vec::new();
    let mut hops = Vec::new();
    for one in evaluated {
        findings.extend(one.findings);
        hops.extend(one.result);
    }
    let routes = routes_to_core(network, &hops);
    for (hop, result) in backhaul.hops.iter().zip(&mut hops) {
        result.load = load::carried(&hop.id, &routes, loads);
        let guaranteed_mbps = result.evaluation.as_ref().map(|e| e.guaranteed_mbps);
        findings.extend(guaranteed_mbps.and_then(|g| findings::overload(hop, &result.load, g)));
        result.busy_frac = guaranteed_mbps.map(|g| result.load.busier_mbps() / g);
        result.step_uses = result
            .evaluation
            .as_ref()
            .map_or_else(Vec::new, |e| load::step_uses(&result.load, &e.steps));
    }
    let failures = failures::failures(network, (&hops, &routes), loads);
    findings.extend(failures.iter().filter_map(findings::failure));
    let with_sectors: Vec<MastId> = network.sectors.iter().map(|s| s.mast.clone()).collect();
    findings.extend(findings::no_route(&routes, &with_sectors));
    findings.extend(findings::not_exact(&routes));
    let result = BackhaulResult {
        core: backhaul.core.clone(),
        hops,
        routes,
        failures,
        assumption: routes::ASSUMPTION,
    };
    Ok((result, findings))
}

fn routes_to_core(network: &Network, hops: &[HopResult]) -> Vec<MastRoute> {
    let backhaul: &Backhaul = &network.backhaul;
    if backhaul.core.is_empty() {
        return Vec::new();
    }
    let carries = |mast: &MastId| {
        network.sectors.iter().any(|s| &s.mast == mast)
            || backhaul.hops.iter().any(|h| h.touches(mast))
            || backhaul.core.contains(mast)
    };
    let masts: Vec<MastId> = network
        .masts
        .iter()
        .map(|m| m.id.clone())
        .filter(carries)
        .collect();
    let outages: Vec<Option<HopOutage>> = hops
        .iter()
        .map(|h| h.evaluation.as_ref().map(HopEvaluation::outage))
        .collect();
    routes::routes(backhaul, &masts, &outages)
}

struct Evaluated {
    result: Option<HopResult>,
    findings: Vec<Finding>,
}

fn evaluate_hop(network: &Network, hop: &Hop, surroundings: &dyn Surroundings) -> Evaluated {
    let mut findings = Vec::new();
    let result = ReadyHop::new(network, hop, &mut findings).map(|ready| {
        let evaluation = match ready.path(network, surroundings) {
            Ok(path) => Some(ready.evaluate(path, &mut findings)),
            Err(error) => {
                findings.push(findings::no_path(hop, &error));
                None
            }
        };
        ready.result(evaluation)
    });
    Evaluated { result, findings }
}

/// A hop made ready: masts found, patterns prepared, powers reduced to what the rules allow.
struct ReadyHop<'a> {
    hop: &'a Hop,
    from: PathEnd,
    to: PathEnd,
    powers: [AllowedPower; 2],
    pointing_loss_db: [f64; 2],
}

impl<'a> ReadyHop<'a> {
    /// `None` where a mast is missing, which reading a design does not let happen.
    fn new(network: &Network, hop: &'a Hop, findings: &mut Vec<Finding>) -> Option<Self> {
        let from = path_end(network, &hop.from)?;
        let to = path_end(network, &hop.to)?;
        let mut ready_end = |end: &HopEnd| {
            let pattern = prepared(end, hop.channel.centre_mhz, findings);
            let (power, told) = compliance::hop_power(hop, end, &pattern);
            for finding in told {
                if !findings.contains(&finding) {
                    findings.push(finding);
                }
            }
            let off_db = antenna::pointing_loss_db(&pattern, hop.pointing_error_deg, 0.0);
            (power, off_db)
        };
        let (from_power, from_off_db) = ready_end(&hop.from);
        let (to_power, to_off_db) = ready_end(&hop.to);
        Some(Self {
            hop,
            from,
            to,
            powers: [from_power, to_power],
            pointing_loss_db: [from_off_db, to_off_db],
        })
    }

    fn path(
        &self,
        network: &Network,
        surroundings: &dyn Surroundings,
    ) -> Result<HopPath, PathError> {
        let mut section = CrossSection::default();
        surroundings.trace(
            self.from.position,
            self.to.position,
            network.propagation.profile_step_m,
            &mut section,
        );
        HopPath::over(
            &section,
            (&self.from, &self.to),
            self.hop.channel.centre_mhz,
            self.hop.polarization,
        )
    }

    fn evaluate(&self, path: HopPath, findings: &mut Vec<Finding>) -> HopEvaluation {
        let hop = self.hop;
        let lat_deg = (self.from.position.lat_deg() + self.to.position.lat_deg()) / 2.0;
        let fading = Fading::new(&FadingPath::of_hop(hop, &path, lat_deg), &hop.climate);
        let [there, back] = self.directions(&path);
        let allowed_dbm = [0, 1].map(|end| self.powers[end].per_chain_dbm);
        let steps = steps::steps(hop, allowed_dbm, there.gain_db(), &fading);
        let (year_pct, worst_month_pct) = steps::outage_pct(&steps);
        findings.extend(findings::clearance(hop, &path));
        findings.extend(findings::outage(hop, &steps, year_pct));
        if let Some(lowest) = steps.first().filter(|s| s.fade_margin_db > 0.0) {
            let warnings = fading.range_warnings(lowest.fade_margin_db);
            findings.extend(findings::range(hop, &warnings));
        }
        let lines = |direction: &Direction<'_>| {
            steps
                .first()
                .map_or_else(Vec::new, |step| direction.budget(hop, step))
        };
        HopEvaluation {
            budget: lines(&there),
            return_budget: lines(&back),
            availability_year_pct: 100.0 - year_pct,
            availability_worst_month_pct: 100.0 - worst_month_pct,
            availability_is_bound: steps.first().is_some_and(|s| s.rain_is_bound),
            availability_target_pct: hop.availability_target_pct,
            mean_mbps: steps::mean_mbps(&steps),
            guaranteed_mbps: steps::rate_for_mbps(&steps, hop.availability_target_pct),
            steps,
            path,
        }
    }

    fn directions<'p>(&'p self, path: &'p HopPath) -> [Direction<'p>; 2] {
        let [from_off_db, to_off_db] = self.pointing_loss_db;
        let there = Direction {
            sender: (&self.hop.from, &self.powers[0]),
            receiver: &self.hop.to,
            pointing_loss_db: [from_off_db, to_off_db],
            path,
        };
        let back = Direction {
            sender: (&self.hop.to, &self.powers[1]),
            receiver: &self.hop.from,
            pointing_loss_db: [to_off_db, from_off_db],
            path,
        };
        [there, back]
    }

    fn result(self, evaluation: Option<HopEvaluation>) -> HopResult {
        let hop = self.hop;
        let [from_power, to_power] = self.powers;
        HopResult {
            id: hop.id.clone(),
            from: hop.from.mast.clone(),
            to: hop.to.mast.clone(),
            from_position: self.from.position,
            to_position: self.to.position,
            channel: hop.channel,
            polarization: hop.polarization,
            radio: hop.radio.id.clone(),
            from_power,
            to_power,
            evaluation,
            load: CarriedLoad::default(),
            busy_frac: None,
            step_uses: Vec::new(),
        }
    }
}

fn prepared(end: &HopEnd, frequency_mhz: f64, findings: &mut Vec<Finding>) -> PreparedPattern {
    radio::prepare(&end.antenna, frequency_mhz, findings)
}

fn path_end(network: &Network, end: &HopEnd) -> Option<PathEnd> {
    let mast = network.mast(&end.mast)?;
    Some(PathEnd {
        position: mast.position,
        agl_m: end.height_agl_m,
        ground_amsl_m: mast.ground_amsl_m,
    })
}
