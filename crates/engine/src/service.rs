//! Who serves whom: candidate links, admission by airtime, and two rounds so
//! that uplink interference belongs to the terminals that are really served.

use model::network::Premises;
use rayon::prelude::*;

use crate::frame::Direction;
use crate::interference::{self, Interferer, Scene, UplinkUse};
use crate::link::{self, Link, LinkInterference, levels_of};
use crate::load::admission::{self, Admission, Candidates};
use crate::load::flow;
use crate::matrix::PathState;
use crate::run::{Interrupted, RunControl};

/// Sectors looked at in full for one premises: the strongest. Where all of
/// these are full or drowned, the premises counts as unserved.
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

impl Served {
    fn uses(&self, scene: &Scene<'_>) -> Vec<Option<UplinkUse>> {
        self.premises
            .iter()
            .zip(&scene.ready.network.premises)
            .map(|(candidates, p)| {
                let (sector, link) = &candidates.links[candidates.serving?];
                use_of(scene, p, (*sector, link))
            })
            .collect()
    }
}

/// Finds the serving sector of every premises.
///
/// The first guess takes each premises' strongest workable sector, its uplink
/// undisturbed; each round evaluates SINR with the uplink interference of the
/// one before, and admits by airtime. The rounds are fixed, so that the answer
/// does not depend on when a loop stops.
pub fn serve(scene: &Scene<'_>, run: &RunControl<'_>) -> Result<Served, Interrupted> {
    let shortlist = shortlist(scene);
    let alone = vec![Vec::new(); scene.ready.sectors.len()];
    let mut uses: Vec<Option<UplinkUse>> = links(scene, &shortlist, &alone)
        .iter()
        .zip(&scene.ready.network.premises)
        .map(|(candidates, p)| {
            let (sector, link) = candidates.links.first()?;
            use_of(scene, p, (*sector, link))
        })
        .collect();
    let mut served = None;
    for _ in 0..ROUNDS {
        if run.interrupted() {
            return Err(Interrupted);
        }
        let uplink = scene.uplink_interferers(&uses);
        let mut premises = links(scene, &shortlist, &uplink);
        let admission = Admission::admit(scene.ready, &mut premises);
        let round = Served {
            premises,
            uplink,
            admission,
        };
        uses = round.uses(scene);
        served = Some(round);
    }
    served.ok_or(Interrupted)
}

/// Rounds after the first guess: one to admit, one with the interference of
/// those who were admitted.
const ROUNDS: usize = 2;

/// What a terminal sends if a link serves it; `None` where the link does not work.
fn use_of(
    scene: &Scene<'_>,
    premises: &Premises,
    (sector, link): (usize, &Link),
) -> Option<UplinkUse> {
    link.margin_db().filter(|m| *m >= 0.0)?;
    Some(UplinkUse {
        sector,
        share_frac: admission::uplink_share_frac(scene.ready, &premises.plan, (sector, link)),
        bandwidth_frac: link.uplink.busy_step?.bandwidth_frac,
        power_per_chain_dbm: link.controlled_power_per_chain_dbm,
    })
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

/// Whether a sector may serve a premises: its terminal tunes to the channel, and
/// a person's choice binds.
pub fn allowed(scene: &Scene<'_>, premises: &Premises, sector: usize) -> bool {
    let candidate = scene.ready.sectors[sector].sector;
    if !premises.terminal.tunes_to(&candidate.channel) {
        return false;
    }
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
    let reach_m = scene.ready.network.propagation.reach_km * 1e3;
    if path.distance_m > s.guard_range_m.min(reach_m) {
        return None;
    }
    let kind = scene.ready.terminal_of[premises];
    let plan = &scene.ready.network.premises[premises].plan;
    let (down, up) = levels_of(scene.ready, premises, sector, path);
    let required = s.downlink[kind]
        .required_for_db(flow::sold_mbps(plan, Direction::Downlink))
        .zip(s.uplink[kind].required_for_db(flow::sold_mbps(plan, Direction::Uplink)));
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
