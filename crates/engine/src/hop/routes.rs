//! The routes of the masts to the core: a tree, a ring or a mesh of hops.
//!
//! Hops are taken to fail independently. Rain that strikes two hops at once,
//! a mast that falls silent with all its hops and the failure of equipment or
//! power are not in it.

use std::collections::BTreeMap;

use model::backhaul::{Backhaul, Hop};
use model::ids::{HopId, MastId};
use serde::Serialize;

/// The assumption on which every availability to the core rests.
pub const ASSUMPTION: &str = "hops fail independently, by propagation alone; in the worst month all hops have theirs at once";

/// Most hops of one connected part whose states are all gone through.
pub const MOST_EXACT_HOPS: usize = 16;

/// Shares of the time in which a hop is down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HopOutage {
    /// Average year, 0 to 1.
    pub year_frac: f64,
    /// Average worst month, 0 to 1.
    pub worst_month_frac: f64,
}

/// The route of a mast to the core.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MastRoute {
    /// The mast.
    pub mast: MastId,
    /// Hops of the route of highest availability, from the mast to the core; empty at the core.
    pub hops: Vec<HopId>,
    /// Share of an average year in which some route to the core is up; `None` where there is none.
    pub availability_year_pct: Option<f64>,
    /// The same for an average worst month.
    pub availability_worst_month_pct: Option<f64>,
    /// How the availability was found.
    pub method: RouteMethod,
}

/// How an availability to the core was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RouteMethod {
    /// Exactly, over every state of the hops.
    Exact,
    /// Along the best route alone, because there are too many hops: never too much.
    BestRoute,
    /// There is no route to the core.
    NoRoute,
}

/// Masts as numbers: 0 is the core, whichever mast it is met at.
struct Graph<'a> {
    masts: Vec<&'a MastId>,
    number: BTreeMap<&'a MastId, usize>,
    /// Ends and outage of every usable hop.
    hops: Vec<Edge<'a>>,
}

#[derive(Clone, Copy)]
struct Edge<'a> {
    id: &'a HopId,
    ends: [usize; 2],
    outage: HopOutage,
}

/// The routes of `masts` to the core.
///
/// * `outages`: one per hop of the backhaul; `None` where a hop's path is
///   unknown, and the hop is then not counted upon.
pub fn routes(
    backhaul: &Backhaul,
    masts: &[MastId],
    outages: &[Option<HopOutage>],
) -> Vec<MastRoute> {
    let graph = Graph::new(backhaul, masts, outages);
    let best = graph.best_routes();
    let mut down: Vec<Option<HopOutage>> = vec![None; graph.number_count()];
    let mut method = vec![RouteMethod::NoRoute; graph.number_count()];
    for part in graph.parts() {
        let is_exact = part.hops.len() <= MOST_EXACT_HOPS || part.is_tree();
        let found = if part.hops.len() <= MOST_EXACT_HOPS {
            part.outages()
        } else {
            part.masts.iter().map(|m| best[*m].outage()).collect()
        };
        for (mast, outage) in part.masts.iter().zip(found) {
            down[*mast] = outage;
            method[*mast] = match (outage, is_exact) {
                (None, _) => RouteMethod::NoRoute,
                (Some(_), true) => RouteMethod::Exact,
                (Some(_), false) => RouteMethod::BestRoute,
            };
        }
    }
    masts
        .iter()
        .map(|mast| {
            let number = graph.number[mast];
            let pct = |frac: f64| 100.0 * (1.0 - frac);
            MastRoute {
                mast: mast.clone(),
                hops: best[number].hops(&graph),
                availability_year_pct: down[number].map(|o| pct(o.year_frac)),
                availability_worst_month_pct: down[number].map(|o| pct(o.worst_month_frac)),
                method: method[number],
            }
        })
        .collect()
}

/// The hops of each mast's best route, in the order of `masts`; `None` where there is none.
///
/// The search alone, without the states that an availability is summed over:
/// quick enough to be asked once for every hop that might fail.
pub fn best_hops(
    backhaul: &Backhaul,
    masts: &[MastId],
    outages: &[Option<HopOutage>],
) -> Vec<Option<Vec<HopId>>> {
    let graph = Graph::new(backhaul, masts, outages);
    let best = graph.best_routes();
    let of = |mast: &MastId| {
        let route = &best[graph.number[mast]];
        route.up_frac.map(|_| route.hops(&graph))
    };
    masts.iter().map(of).collect()
}

const CORE: usize = 0;

impl<'a> Graph<'a> {
    fn new(backhaul: &'a Backhaul, masts: &'a [MastId], outages: &[Option<HopOutage>]) -> Self {
        let mut graph = Self {
            masts: Vec::new(),
            number: backhaul.core.iter().map(|m| (m, CORE)).collect(),
            hops: Vec::new(),
        };
        let ends = |hop: &'a Hop| [&hop.from.mast, &hop.to.mast];
        for mast in masts.iter().chain(backhaul.hops.iter().flat_map(ends)) {
            let next = graph.masts.len() + 1;
            if *graph.number.entry(mast).or_insert(next) == next {
                graph.masts.push(mast);
            }
        }
        for (hop, outage) in backhaul.hops.iter().zip(outages) {
            if let Some(outage) = *outage {
                let ends = ends(hop).map(|mast| graph.number[mast]);
                let id = &hop.id;
                graph.hops.push(Edge { id, ends, outage });
            }
        }
        graph
    }

    /// The core and every other mast.
    fn number_count(&self) -> usize {
        self.masts.len() + 1
    }

    /// For every mast the route of highest availability; among equals the one of fewer hops.
    fn best_routes(&self) -> Vec<Route> {
        let mut routes = vec![Route::default(); self.number_count()];
        routes[CORE] = Route {
            up_frac: Some((1.0, 1.0)),
            ..Route::default()
        };
        // Bellman and Ford: after n rounds every route of n hops is the best.
        for _ in 0..self.number_count() {
            for (index, hop) in self.hops.iter().enumerate() {
                for [near, far] in [hop.ends, [hop.ends[1], hop.ends[0]]] {
                    let through = routes[near].through(index, near, hop.outage);
                    if through.is_better_than(&routes[far]) {
                        routes[far] = through;
                    }
                }
            }
        }
        routes.iter().map(|route| route.followed(&routes)).collect()
    }

    /// Parts that hang together, the core being in each that reaches it.
    fn parts(&self) -> Vec<Part<'a>> {
        let mut part_of: Vec<usize> = (0..self.number_count()).collect();
        for _ in 0..self.number_count() {
            // The core joins no parts: what hangs on it by different hops fails apart.
            for hop in self.hops.iter().filter(|hop| !hop.ends.contains(&CORE)) {
                let least = part_of[hop.ends[0]].min(part_of[hop.ends[1]]);
                part_of[hop.ends[0]] = least;
                part_of[hop.ends[1]] = least;
            }
        }
        let belongs = |hop: &Edge<'_>, part: usize| {
            hop.ends
                .iter()
                .any(|end| *end != CORE && part_of[*end] == part)
        };
        let mut parts = vec![Part {
            masts: vec![CORE],
            hops: Vec::new(),
        }];
        for part in 1..self.number_count() {
            let masts: Vec<usize> = (1..self.number_count())
                .filter(|mast| part_of[*mast] == part)
                .collect();
            if !masts.is_empty() {
                let hops = self.hops.iter().filter(|hop| belongs(hop, part));
                parts.push(Part {
                    masts,
                    hops: hops.copied().collect(),
                });
            }
        }
        parts
    }
}

/// A route to the core, as the search keeps it.
#[derive(Debug, Clone, Default, PartialEq)]
struct Route {
    /// Shares of the year and of the worst month in which it is up; `None` where there is no route.
    up_frac: Option<(f64, f64)>,
    length: usize,
    last: Option<(usize, usize)>,
    hops: Vec<usize>,
}

impl Route {
    fn through(&self, hop: usize, near: usize, outage: HopOutage) -> Self {
        Self {
            up_frac: self.up_frac.map(|(year, month)| {
                (
                    year * (1.0 - outage.year_frac),
                    month * (1.0 - outage.worst_month_frac),
                )
            }),
            length: self.length + 1,
            last: Some((hop, near)),
            hops: Vec::new(),
        }
    }

    fn is_better_than(&self, other: &Self) -> bool {
        match (self.up_frac, other.up_frac) {
            (Some((own, _)), Some((others, _))) => {
                own > others || (own == others && self.length < other.length)
            }
            (own, None) => own.is_some(),
            (None, Some(_)) => false,
        }
    }

    /// The same route with its hops listed from the mast to the core.
    fn followed(&self, routes: &[Self]) -> Self {
        let mut hops = Vec::new();
        let mut at = self.last;
        while let Some((hop, near)) = at {
            hops.push(hop);
            at = routes[near].last;
        }
        Self {
            hops,
            ..self.clone()
        }
    }

    fn hops(&self, graph: &Graph<'_>) -> Vec<HopId> {
        let id = |hop: &usize| graph.hops[*hop].id.clone();
        self.hops.iter().map(id).collect()
    }

    fn outage(&self) -> Option<HopOutage> {
        self.up_frac.map(|(year, month)| HopOutage {
            year_frac: 1.0 - year,
            worst_month_frac: 1.0 - month,
        })
    }
}

/// Masts that hang together by hops, and those hops; the core is not among the masts.
struct Part<'a> {
    masts: Vec<usize>,
    hops: Vec<Edge<'a>>,
}

impl Part<'_> {
    /// Without a loop there is one route, so the best one is the only one.
    fn is_tree(&self) -> bool {
        self.hops.len() <= self.masts.len()
    }

    /// Share of the time in which each mast is cut off, by going through every
    /// state of the hops; `None` where no state reaches it.
    ///
    /// The states in which a mast is cut off are summed, not those in which it
    /// is not, so that rare outages keep their digits.
    fn outages(&self) -> Vec<Option<HopOutage>> {
        let ends: Vec<[u32; 2]> = self
            .hops
            .iter()
            .map(|hop| hop.ends.map(|end| self.bit(end)))
            .collect();
        let all_up = (1u32 << self.hops.len()) - 1;
        let joined = reached(&ends, all_up);
        let mut down = vec![(0.0, 0.0); self.masts.len()];
        for state in 0..=all_up {
            let cut_off = joined & !reached(&ends, state);
            if cut_off == 0 {
                continue;
            }
            let (year, month) = self.weight(state);
            for (mast, (down_year, down_month)) in self.masts.iter().zip(&mut down) {
                if cut_off & self.bit(*mast) != 0 {
                    *down_year += year;
                    *down_month += month;
                }
            }
        }
        self.masts
            .iter()
            .zip(down)
            .map(|(mast, (year_frac, worst_month_frac))| {
                (joined & self.bit(*mast) != 0).then_some(HopOutage {
                    year_frac,
                    worst_month_frac,
                })
            })
            .collect()
    }

    /// The bit of a mast: the lowest is the core's.
    fn bit(&self, number: usize) -> u32 {
        let place = self.masts.iter().position(|m| *m == number);
        match place {
            Some(place) if number != CORE => 2 << place,
            _ => 1,
        }
    }

    /// Share of the year and of the worst month in which exactly the hops of `state` are up.
    fn weight(&self, state: u32) -> (f64, f64) {
        let share = |(year, month): (f64, f64), (i, hop): (usize, &Edge<'_>)| {
            let of = |out_frac: f64| match state >> i & 1 {
                0 => out_frac,
                _ => 1.0 - out_frac,
            };
            (
                year * of(hop.outage.year_frac),
                month * of(hop.outage.worst_month_frac),
            )
        };
        self.hops.iter().enumerate().fold((1.0, 1.0), share)
    }
}

/// Bits of the core and of every mast that the hops of `state` join to it.
fn reached(ends: &[[u32; 2]], state: u32) -> u32 {
    let mut reached = 1u32;
    loop {
        let before = reached;
        for (i, [a, b]) in ends.iter().enumerate() {
            if state >> i & 1 == 1 && reached & (a | b) != 0 {
                reached |= a | b;
            }
        }
        if reached == before {
            return reached;
        }
    }
}
