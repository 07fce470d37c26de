//! Who serves whom: candidate links, admission by airtime, and two rounds so
//! that uplink interference belongs to the terminals that are really served.

use model::network::Premises;
use rayon::prelude::*;

use crate::airtime::{Admission, Candidates};
use crate::interference::{self, Interferer, Scene};
use crate::link::{self, Link, LinkInterference, levels_of};
use crate::matrix::PathState;
use crate::run::{Interrupted, RunControl};

/// Sectors looked at in full for one premises: beyond the few strongest none ever serves.
const CANDIDATES: usize = 6;

/// The network with every premises given its place.
#[derive(Debug)]
pub struct Served {
    /// By premises, in the network's order.
    pub premises: Vec<Candidates>,
    /// Uplink interference by sector, from the assignment before the last.
    pub uplink: Vec<Vec<Interferer>>,
    /// Load by sector.
    pub admission: Admission,
}

impl Served {
    /// Serving sector by premises.
    pub fn serving(&self) -> Vec<Option<usize>> {
        self.premises
            .iter()
            .map(|p| p.serving.map(|i| p.links[i].0))
            .collect()
    }
}

/// Finds the serving sector of every premises.
///
/// The first round takes each premises' strongest workable sector without
/// interference; the second and third evaluate SINR with the uplink
/// interference of the round before, and admit by airtime. Three rounds are
/// fixed, so that the answer does not depend on when a loop stops.
pub fn serve(scene: &Scene<'_>, run: &RunControl<'_>) -> Result<Served, Interrupted> {
    let shortlist = shortlist(scene);
    let mut serving: Vec<Option<usize>> = shortlist
        .iter()
        .map(|list| list.first().filter(|(_, m)| *m >= 0.0).map(|(s, _)| *s))
        .collect();
    let mut served = None;
    for _ in 0..2 {
        if run.interrupted() {
            return Err(Interrupted);
        }
        let uplink = scene.uplink_interferers(&serving);
        let mut premises = links(scene, &shortlist, &uplink);
        let admission = Admission::admit(scene.ready, &mut premises);
        let round = Served {
            premises,
            uplink,
            admission,
        };
        serving = round.serving();
        served = Some(round);
    }
    served.ok_or(Interrupted)
}

/// Sectors worth a full look, by premises: index and margin without interference, best first.
fn shortlist(scene: &Scene<'_>) -> Vec<Vec<(usize, f64)>> {
    let network = scene.ready.network;
    network
        .premises
        .par_iter()
        .enumerate()
        .map(|(p, premises)| {
            let mut list: Vec<(usize, f64)> = (0..scene.ready.sectors.len())
                .filter(|s| allowed(scene, premises, *s))
                .filter_map(|s| Some((s, margin_without_interference_db(scene, p, s)?)))
                .collect();
            // Ties go to the sector that the design names first.
            list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            list.truncate(CANDIDATES);
            list
        })
        .collect()
}

fn allowed(scene: &Scene<'_>, premises: &Premises, sector: usize) -> bool {
    premises
        .fixed_sector
        .as_ref()
        .is_none_or(|id| *id == scene.ready.sectors[sector].sector.id)
}

/// Margin of a link alone in its channel; `None` where there is no path to judge.
///
/// A plan faster than any step gives counts as hopeless, not as absent: the
/// premises' best sector is still worth naming.
pub fn margin_without_interference_db(
    scene: &Scene<'_>,
    premises: usize,
    sector: usize,
) -> Option<f64> {
    let PathState::Known(path) = scene.paths.state(premises, sector) else {
        return None;
    };
    let s = &scene.ready.sectors[sector];
    if path.distance_m > s.guard_range_m {
        return None;
    }
    let kind = scene.ready.terminal_of[premises];
    let plan = &scene.ready.network.premises[premises].plan;
    let (down, up) = levels_of(scene.ready, premises, sector, path);
    let required = s.downlink[kind]
        .required_for_db(plan.downlink_mbps)
        .zip(s.uplink[kind].required_for_db(plan.uplink_mbps));
    Some(match required {
        Some((down_db, up_db)) => (down.snr_db() - down_db).min(up.snr_db() - up_db),
        // Still in order of strength, below every link that could work.
        None => down.snr_db() - HOPELESS_DB,
    })
}

/// Put on a margin to say that the plan's rate is out of the air interface's reach.
const HOPELESS_DB: f64 = 1e3;

fn links(
    scene: &Scene<'_>,
    shortlist: &[Vec<(usize, f64)>],
    uplink: &[Vec<Interferer>],
) -> Vec<Candidates> {
    shortlist
        .par_iter()
        .enumerate()
        .map(|(p, list)| {
            let mut links: Vec<(usize, Link)> = list
                .iter()
                .filter_map(|(s, _)| {
                    let path = scene.paths.state(p, *s).known()?;
                    let unwanted: LinkInterference = interference::of_link(scene, (p, *s), uplink);
                    Some((*s, link::evaluate(scene.ready, (p, *s), path, &unwanted)))
                })
                .collect();
            links.sort_by(|a, b| rank(&b.1).total_cmp(&rank(&a.1)).then(a.0.cmp(&b.0)));
            Candidates {
                links,
                serving: None,
                refused: None,
            }
        })
        .collect()
}

fn rank(link: &Link) -> f64 {
    link.margin_db()
        .unwrap_or(link.downlink.sinr_db - HOPELESS_DB)
}
