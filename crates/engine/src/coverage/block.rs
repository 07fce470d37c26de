//! Some cells of a row worked out side by side.
//!
//! Gains and losses enter as ratios. With `r` the net gain towards a sector
//! (gain of the mast's antenna less the path loss), its margin over the plan is
//! the smaller of `r·D/(1 + I/N)` and `r·U`, and I is the sum of the others'
//! net gains, each by a factor that is the same in every cell and by the gain of the
//! terminal towards it. Only what is shown at the end becomes decibels.

use physics::levels::single::{db_to_ratio, ratio_to_db};

use super::composite::Layer;
use super::gains::{MastGain, TerminalGain};
use super::losses::{LaunchLosses, LossGrids};
use super::servers::Server;
use super::sightline::Sightline;
use super::stands::Stands;
use super::wide::wide;
use crate::link::success_probability_frac;

/// Cells side by side.
pub(super) const BLOCK: usize = 64;

pub(super) type Lanes = [f32; BLOCK];

pub(super) const NONE: Lanes = [0.0; BLOCK];

/// Where a block lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct At {
    pub(super) col: usize,
    pub(super) row: usize,
    /// Cells in use, at most [`BLOCK`].
    pub(super) cells: usize,
    /// Column of its first cell on the plane's lattice.
    first_col: f64,
    /// The middle of its row in the plane.
    pub(super) y_m: f64,
    cell_m: f64,
}

impl At {
    pub(super) fn new(losses: &LossGrids, (col, row): (usize, usize), cells: usize) -> Self {
        Self {
            col,
            row,
            cells,
            first_col: losses.raster.on_plane((col, row))[0] as f64,
            y_m: losses.raster.centre(col, row).y,
            cell_m: losses.raster.cell_m,
        }
    }

    /// The middle of a lane in the plane: the same to the last digit wherever
    /// the block begins.
    #[inline(always)]
    pub(super) fn x_m(&self, lane: usize) -> f64 {
        (self.first_col + lane as f64 + 0.5) * self.cell_m
    }
}

/// The cells of a block that a launch point's layers hold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shared {
    /// First lane.
    pub(super) lane: usize,
    /// Position of that lane's cell in the layers.
    pub(super) start: usize,
    pub(super) cells: usize,
}

impl Shared {
    pub(super) fn of(launch: &LaunchLosses, at: &At) -> Option<Self> {
        let from = launch.columns.start.max(at.col);
        let to = launch.columns.end.min(at.col + at.cells);
        let is_here = launch.rows.contains(&at.row) && from < to;
        is_here.then(|| Self {
            lane: from - at.col,
            start: (at.row - launch.rows.start) * launch.columns.len() + from
                - launch.columns.start,
            cells: to - from,
        })
    }

    fn cells_of<'a>(&self, layer: &'a [f32]) -> &'a [f32] {
        &layer[self.start..self.start + self.cells]
    }

    #[inline(always)]
    pub(super) fn lanes_of(&self, layer: &[f32]) -> Lanes {
        let mut lanes = NONE;
        lanes[self.lane..self.lane + self.cells].copy_from_slice(self.cells_of(layer));
        lanes
    }
}

/// Net gains of a sector in a block, as ratios; 0 where there is no path.
#[derive(Debug, Clone)]
pub(super) struct Lit {
    /// Those of a server, 0 beyond the sector's reach.
    pub(super) serving: Lanes,
    /// Those of an interferer, at its share of time.
    pub(super) unwanted: Lanes,
}

impl Default for Lit {
    fn default() -> Self {
        Self {
            serving: NONE,
            unwanted: NONE,
        }
    }
}

impl Lit {
    /// Works out the net gains from losses and antenna.
    pub(super) fn fill(
        &mut self,
        (launch, shared): (&LaunchLosses, &Shared),
        sightline: &Sightline,
        (server, gain): (&Server<'_>, &MastGain),
    ) {
        let within = shared.lane..shared.lane + shared.cells;
        let mut gain_dbi = NONE;
        for lane in within.clone() {
            let azimuth_deg = sightline.azimuth_deg[lane];
            let up_deg = sightline.mast_elevation_deg[lane];
            if !up_deg.is_nan() {
                gain_dbi[lane] = gain.dbi(server.antenna, azimuth_deg, up_deg);
            }
        }
        let net = |loss_db: &[f32]| {
            let mut lanes = [f32::NAN; BLOCK];
            lanes[within.clone()].copy_from_slice(shared.cells_of(loss_db));
            wide(|| {
                for (lane, gain_dbi) in lanes.iter_mut().zip(&gain_dbi) {
                    let ratio = db_to_ratio(gain_dbi - *lane);
                    *lane = if lane.is_nan() { 0.0 } else { ratio };
                }
            });
            lanes
        };
        let wanted = net(&launch.loss_db);
        for (lane, serving) in self.serving.iter_mut().enumerate() {
            let reaches = sightline.distance_m[lane] <= server.reach_m;
            *serving = if reaches { wanted[lane] } else { 0.0 };
        }
        self.unwanted = launch.unwanted_loss_db.as_ref().map_or(wanted, |l| net(l));
    }

    /// Takes the net gains from those kept.
    pub(super) fn take(&mut self, shared: &Shared, kept: &super::painter::Kept) {
        self.serving = shared.lanes_of(&kept.serving);
        self.unwanted = shared.lanes_of(&kept.unwanted);
    }
}

/// A sector's state in a block, in order of what it could give at best.
#[derive(Debug, Clone, Copy)]
struct Contender {
    server: usize,
    most: f32,
}

/// What a block is worked out from.
#[derive(Debug)]
pub(super) struct Rules<'a> {
    pub(super) servers: &'a [Server<'a>],
    pub(super) losses: &'a LossGrids,
    pub(super) stands: &'a Stands,
    pub(super) terminal: &'a TerminalGain,
    pub(super) model_error_db: f64,
    pub(super) counts_servers: bool,
    /// What the terminal gives from stand to stand, where it is kept.
    pub(super) asides: Option<&'a super::painter::Asides>,
}

/// Buffers of a thread.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    /// Where launch points and the block meet.
    pub(super) shared: Vec<Option<Shared>>,
    /// By stand.
    pub(super) sightlines: Vec<Sightline>,
    /// By server; stale where its launch point and the block do not meet.
    pub(super) lit: Vec<Lit>,
    contenders: Vec<Contender>,
    /// By stand aimed at and stand heard, and whether they are those of this block.
    asides: Vec<Lanes>,
    has_aside: Vec<bool>,
    best: Best,
}

impl Scratch {
    /// Begins a block: where it meets the launch points, and how it sees them.
    fn begin(&mut self, rules: &Rules<'_>, at: &At) {
        let launches = &rules.losses.launches;
        self.shared.clear();
        self.shared
            .extend(launches.iter().map(|l| Shared::of(l, at)));
        self.sightlines
            .resize_with(rules.stands.seen_by.len(), Sightline::default);
        self.lit.resize_with(rules.servers.len(), Lit::default);
    }

    /// Works out every sector's net gains.
    pub(super) fn light(&mut self, rules: &Rules<'_>, gains: &[MastGain], at: &At) {
        self.begin(rules, at);
        self.look(rules, at);
        for (index, (server, gain)) in rules.servers.iter().zip(gains).enumerate() {
            if let Some(shared) = &self.shared[server.launch] {
                let launch = &rules.losses.launches[server.launch];
                let sightline = &self.sightlines[rules.stands.of_launch[server.launch]];
                self.lit[index].fill((launch, shared), sightline, (server, gain));
            }
        }
    }

    /// Takes every sector's net gains from those kept.
    pub(super) fn take(&mut self, rules: &Rules<'_>, kept: &[super::painter::Kept], at: &At) {
        self.begin(rules, at);
        if rules.asides.is_none() {
            self.look(rules, at);
        }
        for (index, (server, kept)) in rules.servers.iter().zip(kept).enumerate() {
            if let Some(shared) = &self.shared[server.launch] {
                self.lit[index].take(shared, kept);
            }
        }
    }

    /// Whether any of some sectors has a path to a cell of the block.
    pub(super) fn is_lit(&self, sectors: &[usize]) -> bool {
        let is_path = |ratio: &f32| *ratio > 0.0;
        let mut lit = sectors.iter().map(|s| &self.lit[*s]);
        lit.any(|lit| lit.unwanted.iter().any(is_path) || lit.serving.iter().any(is_path))
    }

    /// Looks towards every stand.
    fn look(&mut self, rules: &Rules<'_>, at: &At) {
        for (stand, launch) in rules.stands.seen_by.iter().enumerate() {
            if let Some(shared) = &self.shared[*launch] {
                self.sightlines[stand].look((&rules.losses.launches[*launch], shared), at);
            }
        }
    }
}

/// The best server of every cell so far.
#[derive(Debug, Clone)]
struct Best {
    rank: Lanes,
    server: [u32; BLOCK],
    /// Noise and interference over noise.
    disturbance: Lanes,
    servers: Lanes,
}

impl Default for Best {
    fn default() -> Self {
        Self {
            rank: NONE,
            server: [u32::MAX; BLOCK],
            disturbance: [1.0; BLOCK],
            servers: NONE,
        }
    }
}

impl Rules<'_> {
    /// Finds the best server of every cell, whose net gains stand in the scratch.
    ///
    /// Interference never raises a margin, so that a sector that falls short
    /// of the best one even without it is not looked at.
    pub(super) fn decide(&self, at: &At, scratch: &mut Scratch) {
        self.line_up(scratch);
        let stands = self.stands.seen_by.len();
        scratch.asides.resize(stands * stands, NONE);
        scratch.has_aside.clear();
        scratch.has_aside.resize(stands * stands, false);
        scratch.best = Best::default();
        for i in 0..scratch.contenders.len() {
            let index = scratch.contenders[i].server;
            let server = &self.servers[index];
            let serving = &scratch.lit[index].serving;
            let most = server.margin[0].min(server.margin[1]);
            let counts = self.counts_servers && server.gives_plan;
            let from = if counts { 1.0 } else { f32::INFINITY };
            let rank = &scratch.best.rank;
            let matters = wide(|| {
                let mut matters = false;
                for (serving, rank) in serving.iter().zip(rank) {
                    let bound = serving * most;
                    let may_win = bound >= *rank;
                    matters |= (bound > 0.0) & (may_win | (bound >= from));
                }
                matters
            });
            if matters {
                let disturbance = self.disturbance(server, at, scratch);
                let serving = &scratch.lit[index].serving;
                let best = &mut scratch.best;
                wide(|| {
                    best.judge(
                        (index as u32, counts),
                        (server.margin, serving, &disturbance),
                    );
                });
            }
        }
    }

    /// Sectors that could serve some cell, the strongest first.
    fn line_up(&self, scratch: &mut Scratch) {
        scratch.contenders.clear();
        for (index, server) in self.servers.iter().enumerate() {
            if !server.may_serve || scratch.shared[server.launch].is_none() {
                continue;
            }
            let serving = &scratch.lit[index].serving;
            let most = wide(|| {
                let greater = |most: f32, r: &f32| if *r > most { *r } else { most };
                serving.iter().fold(0.0, greater)
            });
            if most > 0.0 {
                scratch.contenders.push(Contender {
                    server: index,
                    most: most * server.margin[0].min(server.margin[1]),
                });
            }
        }
        let stronger = |a: &Contender, b: &Contender| b.most.total_cmp(&a.most);
        scratch.contenders.sort_by(stronger);
    }

    /// Noise and interference over the noise of terminals aimed at a server's mast.
    fn disturbance(&self, server: &Server<'_>, at: &At, scratch: &mut Scratch) -> Lanes {
        let mut sum = [1.0; BLOCK];
        let stand_of = |s: usize| self.stands.of_launch[self.servers[s].launch];
        let own = self.stands.of_launch[server.launch];
        let mut heard = server.heard.as_slice();
        // Sectors of one stand mostly follow each other, and share what the
        // terminal gives them.
        while let Some((first, _)) = heard.first() {
            let stand = stand_of(*first);
            let is_same = |(s, _): &&(usize, f32)| stand_of(*s) == stand;
            let (group, rest) = heard.split_at(heard.iter().take_while(is_same).count());
            heard = rest;
            let mut together = NONE;
            let mut is_heard = false;
            for (other, factor) in group {
                if scratch.shared[self.servers[*other].launch].is_none() {
                    continue;
                }
                is_heard = true;
                let unwanted = &scratch.lit[*other].unwanted;
                wide(|| {
                    for (sum, unwanted) in together.iter_mut().zip(unwanted) {
                        *sum += unwanted * factor;
                    }
                });
            }
            if !is_heard {
                continue;
            }
            if stand == own {
                for (sum, together) in sum.iter_mut().zip(&together) {
                    *sum += together;
                }
                continue;
            }
            let aside = self.aside((own, stand), at, scratch);
            wide(|| {
                for ((sum, together), aside) in sum.iter_mut().zip(&together).zip(aside) {
                    *sum += together * aside;
                }
            });
        }
        sum
    }

    fn aside<'s>(
        &self,
        (aim, other): (usize, usize),
        at: &At,
        scratch: &'s mut Scratch,
    ) -> &'s Lanes {
        let Scratch {
            asides,
            has_aside,
            sightlines,
            ..
        } = scratch;
        let pair = aim * self.stands.seen_by.len() + other;
        if !std::mem::replace(&mut has_aside[pair], true) {
            asides[pair] = match self.asides {
                Some(kept) => kept.lanes((aim, other), at),
                None => sightlines[aim].aside(&sightlines[other], self.terminal),
            };
        }
        &asides[pair]
    }

    /// Writes what was decided into the rows of the layers that are wanted.
    pub(super) fn answer(&self, at: &At, scratch: &Scratch, rows: &mut [(Layer, &mut [f32])]) {
        let best = &scratch.best;
        let (mut net_db, mut disturbance_db) = (NONE, NONE);
        for (lane, net) in net_db.iter_mut().enumerate().take(at.cells) {
            if let Some(lit) = scratch.lit.get(best.server[lane] as usize) {
                *net = lit.serving[lane];
            }
        }
        wide(|| {
            for lane in 0..BLOCK {
                net_db[lane] = ratio_to_db(net_db[lane]);
                disturbance_db[lane] = ratio_to_db(best.disturbance[lane]);
            }
        });
        for (layer, row) in rows {
            let cells = &mut row[at.col..at.col + at.cells];
            for (lane, cell) in cells.iter_mut().enumerate() {
                let index = best.server[lane] as usize;
                *cell = match self.servers.get(index) {
                    Some(server) => {
                        let held = Held {
                            server,
                            index,
                            lane,
                            net_db: net_db[lane],
                            disturbance_db: disturbance_db[lane],
                        };
                        self.value(*layer, &held, scratch)
                    }
                    None => f32::NAN,
                };
            }
        }
    }

    #[inline(always)]
    fn value(&self, layer: Layer, held: &Held<'_>, scratch: &Scratch) -> f32 {
        let (server, lane) = (held.server, held.lane);
        let of_launch = |layer: fn(&LaunchLosses) -> &[f32]| {
            let launch = &self.losses.launches[server.launch];
            let shared = scratch.shared[server.launch];
            shared.map_or(f32::NAN, |s| layer(launch)[s.start + lane - s.lane])
        };
        match layer {
            Layer::PathLoss => of_launch(|l| &l.loss_db) + server.shift_db,
            Layer::DownlinkLevel => server.down_dbm + held.net_db,
            Layer::UplinkLevel => server.up_dbm + held.net_db,
            Layer::BestServer if held.works() => held.index as f32,
            Layer::BestServer => f32::NAN,
            Layer::DownlinkSinr => held.down_sinr_db(),
            Layer::UplinkSinr => held.up_sinr_db(),
            Layer::DownlinkMode => held.down(|s| s.mode, f32::NAN),
            Layer::DownlinkMcs => held.down(|s| s.mcs, f32::NAN),
            Layer::DownlinkRate => held.down(|s| s.ethernet_rate_mbps, 0.0),
            Layer::UplinkRate => {
                let step = server.up.best_at(held.up_sinr_db());
                step.map_or(0.0, |s| s.ethernet_rate_mbps)
            }
            Layer::Probability if !server.gives_plan => 0.0,
            Layer::Probability => {
                let sigma_db = f64::from(of_launch(|l| &l.location_sigma_db));
                let sigma_db = sigma_db.hypot(self.model_error_db);
                let margin_db = ratio_to_db(scratch.best.rank[lane]);
                success_probability_frac(margin_db.into(), sigma_db) as f32
            }
            Layer::Servers => scratch.best.servers[lane],
            Layer::LineOfSight => f32::from(u8::from(of_launch(|l| &l.clearance_ratio) > 0.0)),
            Layer::Clearance if self.losses.launches[server.launch].tells_clearance() => {
                of_launch(|l| &l.clearance_ratio)
            }
            Layer::Clearance => f32::NAN,
        }
    }
}

impl Best {
    #[inline(always)]
    fn judge(
        &mut self,
        (server, counts): (u32, bool),
        (margin, serving, disturbance): ([f32; 2], &Lanes, &Lanes),
    ) {
        let counts = if counts { 1.0 } else { 0.0 };
        for lane in 0..BLOCK {
            let down = margin[0] / disturbance[lane];
            let rank = serving[lane] * if down < margin[1] { down } else { margin[1] };
            // Ties go to the sector that the design names first.
            let is_better = (rank > self.rank[lane])
                | ((rank == self.rank[lane]) & (rank > 0.0) & (server < self.server[lane]));
            self.servers[lane] += if rank >= 1.0 { counts } else { 0.0 };
            self.rank[lane] = if is_better { rank } else { self.rank[lane] };
            self.server[lane] = if is_better { server } else { self.server[lane] };
            let before = self.disturbance[lane];
            self.disturbance[lane] = if is_better { disturbance[lane] } else { before };
        }
    }
}

/// A cell and its best server.
struct Held<'a> {
    server: &'a Server<'a>,
    index: usize,
    lane: usize,
    net_db: f32,
    disturbance_db: f32,
}

impl Held<'_> {
    #[inline(always)]
    fn down_sinr_db(&self) -> f32 {
        let s = self.server;
        s.down_dbm - s.down_noise_dbm + self.net_db - self.disturbance_db
    }

    #[inline(always)]
    fn up_sinr_db(&self) -> f32 {
        self.server.up_dbm - self.server.up_noise_dbm + self.net_db
    }

    #[inline(always)]
    fn works(&self) -> bool {
        self.server.down.holds(self.down_sinr_db()) && self.server.up.holds(self.up_sinr_db())
    }

    #[inline(always)]
    fn down(&self, of: fn(&super::servers::Stair) -> f32, none: f32) -> f32 {
        let step = self.server.down.best_at(self.down_sinr_db());
        step.map_or(none, of)
    }
}
