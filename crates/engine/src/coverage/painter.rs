//! A coverage that follows edits while a person watches: losses are kept, and
//! the net gain of every sector; only what an edit touches is worked out again.

use std::ops::Range;
use std::sync::Arc;

use model::edit::EditError;
use model::network::Sector;
use model::{Edit, Network, SectorId};
use rayon::prelude::*;

use super::block::{At, BLOCK, Lanes, Lit, Rules, Scratch, Shared};
use super::composite::{Coverage, Layer, mast_gains};
use super::gains::{MastGain, TerminalGain};
use super::losses::{LaunchLosses, LossGrids};
use super::servers::{Terms, mcs_names, servers};
use super::sightline::Sightline;
use super::stands::Stands;
use super::{CoverageError, network_of_cells};
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, RunControl};

/// What a painter shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture {
    /// The only sector that may serve; `None` lets every sector serve.
    pub sector: Option<String>,
    /// Layers to keep up to date.
    pub layers: Vec<Layer>,
    /// Uplink interference at one port by sector, in the network's order, as a
    /// study finds it; `None` is none.
    pub uplink_interference_dbm: Option<Vec<f64>>,
}

/// What an edit changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Repainted {
    /// Columns outside of which no cell changed.
    pub columns: Range<usize>,
    /// Rows outside of which no cell changed.
    pub rows: Range<usize>,
    /// The edits that undo it, in the order in which they are to be applied.
    pub undo: Vec<Edit>,
    /// True where some sector's losses are those of another frequency of its
    /// mast, moved by the difference in free space: good enough to follow a
    /// pointer, and exact again after a new coverage.
    pub is_provisional: bool,
}

/// Why a picture could not follow.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PaintError {
    /// The edit cannot be applied; nothing was changed.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// The losses are of another antenna height, plan or terminal; nothing was changed.
    #[error("the losses of `{0}` are not kept for its new height\nhint: cover the territory again")]
    Losses(SectorId),
    /// Masts and sectors come, go and move; nothing was changed.
    #[error("other masts or sectors have other losses\nhint: cover the territory again")]
    OtherMasts,
    /// No such sector, or nothing to put into a cell.
    #[error(transparent)]
    Coverage(#[from] CoverageError),
    /// Stopped from outside; the picture is to be made anew.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
}

/// Net gains of a sector over its launch point's cells, as ratios; 0 where
/// there is no path.
#[derive(Debug, Default)]
pub(super) struct Kept {
    /// Launch point and aim that they are for.
    of: Option<(usize, f64)>,
    /// Those of a server, 0 beyond the sector's reach.
    pub(super) serving: Vec<f32>,
    /// Those of an interferer.
    pub(super) unwanted: Vec<f32>,
}

/// What an aimed terminal gives from stand to stand, in every cell: it does
/// not depend on anything that is edited.
#[derive(Debug)]
pub(super) struct Asides {
    stands: usize,
    width: usize,
    /// By stand aimed at and stand heard; empty on the diagonal.
    shares: Vec<Vec<f32>>,
}

impl Asides {
    pub(super) fn lanes(&self, (aim, other): (usize, usize), at: &At) -> Lanes {
        let mut lanes = [0.0; BLOCK];
        let shares = &self.shares[aim * self.stands + other];
        let start = at.row * self.width + at.col;
        lanes[..at.cells].copy_from_slice(&shares[start..start + at.cells]);
        lanes
    }
}

/// Terminal gains are kept up to this; beyond it they are worked out each time.
const MOST_ASIDE_BYTES: usize = 512 << 20;

/// A coverage that follows edits.
#[derive(Debug)]
pub struct Painter {
    /// The network of cells.
    network: Network,
    losses: LossGrids,
    picture: Picture,
    stands: Stands,
    /// Launch point by sector, as edited.
    launch_of: Vec<usize>,
    gains: Vec<MastGain>,
    kept: Vec<Kept>,
    terminal: TerminalGain,
    asides: Option<Asides>,
    /// Columns inside the territory by row.
    inside: Vec<Range<usize>>,
    coverage: Coverage,
}

impl Painter {
    /// Paints a network over losses that were kept from its coverage.
    ///
    /// # Errors
    /// [`PaintError`]: losses of another network, an unknown sector.
    pub fn new(
        network: &Network,
        losses: LossGrids,
        (picture, run): (Picture, &RunControl<'_>),
    ) -> Result<Self, PaintError> {
        let network = network_of_cells(network)?;
        let ready = ReadyNetwork::new(&network);
        let fits = ready.sectors.len() == losses.launch_of.len();
        for (index, s) in ready.sectors.iter().enumerate() {
            let place = (s.mast.position, s.sector.height_agl_m);
            if !fits || losses.launches[losses.launch_of[index]].antenna() != place {
                return Err(PaintError::Losses(s.sector.id.clone()));
            }
        }
        let mut painter = run.install(|| {
            let stands = Stands::of(&losses);
            let launch_of = losses.launch_of.clone();
            let terms = terms(&ready, &losses, &picture)?;
            let names = mcs_names(&ready);
            let servers = servers(&terms, (&launch_of, &names));
            let coverage = Coverage::void(&terms, &picture.layers);
            let terminal = TerminalGain::new(&ready.terminals[0].pattern);
            let gains = mast_gains(&servers, &stands);
            let height = losses.raster.height;
            let rows = (0..height).into_par_iter();
            Ok::<_, PaintError>(Self {
                network: network.clone(),
                kept: launch_of
                    .iter()
                    .map(|l| dark(&losses.launches[*l]))
                    .collect(),
                inside: rows.map(|row| losses.raster.columns_inside(row)).collect(),
                asides: asides(&losses, &stands, &terminal),
                losses,
                picture,
                stands,
                launch_of,
                gains,
                terminal,
                coverage,
            })
        })?;
        let all: Vec<usize> = (0..painter.launch_of.len()).collect();
        let everywhere = Window {
            is_everything: true,
            ..around(painter.losses.launches.iter())
        };
        painter.paint(&ready, (&all, &everywhere), run)?;
        Ok(painter)
    }

    /// The picture as it is.
    pub fn coverage(&self) -> &Coverage {
        &self.coverage
    }

    /// Applies edits and paints what they change.
    ///
    /// # Errors
    /// [`PaintError`]; the picture is as before unless it was stopped from outside.
    pub fn edit(&mut self, edits: &[Edit], run: &RunControl<'_>) -> Result<Repainted, PaintError> {
        let mut network = self.network.clone();
        let mut undo = Vec::with_capacity(edits.len());
        for edit in edits {
            match edit {
                Edit::Sector { .. } => undo.insert(0, edit.apply(&mut network)?),
                Edit::AddSector { .. }
                | Edit::RemoveSector { .. }
                | Edit::AddMast { .. }
                | Edit::RemoveMast { .. }
                | Edit::MoveMast { .. }
                | Edit::MastHeight { .. } => return Err(PaintError::OtherMasts),
                // The design's premises are in no cell.
                _ => {}
            }
        }
        let ready = ReadyNetwork::new(&network);
        let changed: Vec<usize> = (0..network.sectors.len())
            .filter(|s| network.sectors[*s] != self.network.sectors[*s])
            .collect();
        let mut launch_of = self.launch_of.clone();
        for index in &changed {
            let found = self.launch_for(&network.sectors[*index], launch_of[*index]);
            let id = || network.sectors[*index].id.clone();
            launch_of[*index] = found.ok_or_else(|| PaintError::Losses(id()))?;
        }
        let touched = changed
            .iter()
            .flat_map(|s| [self.launch_of[*s], launch_of[*s]]);
        let touched = Window {
            is_everything: launch_of != self.launch_of,
            ..around(touched.map(|l| &self.losses.launches[l]))
        };
        for index in &changed {
            let launch = &self.losses.launches[launch_of[*index]];
            if launch_of[*index] != self.launch_of[*index] {
                self.kept[*index] = dark(launch);
            }
        }
        self.launch_of = launch_of;
        self.paint(&ready, (&changed, &touched), run)?;
        let is_provisional = self.is_provisional(&network);
        self.network = network;
        Ok(Repainted {
            columns: touched.columns,
            rows: touched.rows,
            undo,
            is_provisional,
        })
    }

    /// The launch point whose losses are nearest to a sector's: at its own
    /// place and height, and at its frequency where there is one.
    fn launch_for(&self, sector: &Sector, now: usize) -> Option<usize> {
        let mhz = sector.channel.centre_mhz;
        let (place, _) = self.losses.launches[now].antenna();
        let apart_mhz = |i: &usize| (self.losses.launches[*i].frequency_mhz() - mhz).abs();
        (0..self.losses.launches.len())
            .filter(|i| self.losses.launches[*i].antenna() == (place, sector.height_agl_m))
            .min_by(|a, b| {
                apart_mhz(a)
                    .total_cmp(&apart_mhz(b))
                    .then((*a != now).cmp(&(*b != now)))
            })
    }

    fn is_provisional(&self, network: &Network) -> bool {
        let sectors = network.sectors.iter().zip(&self.launch_of);
        let mut launches = sectors.map(|(s, l)| (s, &self.losses.launches[*l]));
        launches.any(|(s, launch)| launch.frequency_mhz() != s.channel.centre_mhz)
    }

    /// Works out changed sectors' net gains, and every cell that they reach.
    fn paint(
        &mut self,
        ready: &ReadyNetwork<'_>,
        (changed, touched): (&[usize], &Window),
        run: &RunControl<'_>,
    ) -> Result<(), PaintError> {
        run.install(|| {
            let Self {
                losses,
                picture,
                stands,
                launch_of,
                gains,
                kept,
                terminal,
                asides,
                inside,
                coverage,
                ..
            } = self;
            let terms = terms(ready, losses, picture)?;
            let servers = servers(&terms, (launch_of, &coverage.mcs_names));
            let rules = Rules {
                servers: &servers,
                losses,
                stands,
                terminal,
                model_error_db: ready.network.propagation.model_error_db,
                counts_servers: picture.layers.contains(&Layer::Servers),
                asides: asides.as_ref(),
            };
            for index in changed {
                light(&rules, *index, (&mut gains[*index], &mut kept[*index]));
            }
            let rows = coverage.rows();
            let rows = rows.into_par_iter().enumerate();
            let rows = rows.filter(|(row, _)| touched.rows.contains(row));
            rows.try_for_each_init(Scratch::default, |scratch, (row, mut layers)| {
                if run.interrupted() {
                    return Err(Interrupted.into());
                }
                let start = inside[row].start.max(touched.columns.start);
                let end = inside[row].end.min(touched.columns.end);
                for col in (start..end).step_by(BLOCK) {
                    let at = At::new(losses, (col, row), BLOCK.min(end - col));
                    scratch.take(&rules, kept, &at);
                    if !touched.is_everything && !scratch.is_lit(changed) {
                        continue;
                    }
                    rules.decide(&at, scratch);
                    rules.answer(&at, scratch, &mut layers);
                }
                Ok(())
            })
        })
    }
}

/// Works out a sector's net gains.
fn light(rules: &Rules<'_>, index: usize, (gain, kept): (&mut MastGain, &mut Kept)) {
    let server = &rules.servers[index];
    let stand = rules.stands.of_launch[server.launch];
    let of = Some((server.launch, server.antenna.mounting().azimuth_deg));
    let has_table = gain.is_of(server.antenna);
    if has_table && kept.of == of {
        return;
    }
    kept.of = of;
    if !has_table {
        *gain = MastGain::new(server.antenna, rules.stands.elevations_deg[stand]);
    }
    let launch: &LaunchLosses = &rules.losses.launches[server.launch];
    let seen_by: &LaunchLosses = &rules.losses.launches[rules.stands.seen_by[stand]];
    let width = launch.columns.len().max(1);
    let serving = kept.serving.par_chunks_exact_mut(width);
    let rows = serving.zip(kept.unwanted.par_chunks_exact_mut(width));
    rows.enumerate().for_each(|(row, (serving, unwanted))| {
        let (mut sightline, mut lit) = (Sightline::default(), Lit::default());
        for start in (0..width).step_by(BLOCK) {
            let cells = BLOCK.min(width - start);
            let corner = (launch.columns.start + start, launch.rows.start + row);
            let at = At::new(rules.losses, corner, cells);
            let both = Shared::of(launch, &at).zip(Shared::of(seen_by, &at));
            let Some((shared, seen)) = both else { continue };
            sightline.look((seen_by, &seen), &at);
            lit.fill((launch, &shared), &sightline, (server, gain));
            serving[start..start + cells].copy_from_slice(&lit.serving[..cells]);
            unwanted[start..start + cells].copy_from_slice(&lit.unwanted[..cells]);
        }
    });
}

fn terms<'a>(
    ready: &'a ReadyNetwork<'a>,
    losses: &'a LossGrids,
    picture: &'a Picture,
) -> Result<Terms<'a>, CoverageError> {
    Ok(Terms {
        ready,
        losses,
        only: super::only(ready, picture.sector.as_deref())?,
        uplink_interference_dbm: picture.uplink_interference_dbm.as_deref(),
    })
}

/// Net gains before they are worked out.
fn dark(launch: &LaunchLosses) -> Kept {
    let cells = launch.loss_db.len();
    Kept {
        of: None,
        serving: vec![0.0; cells],
        unwanted: vec![0.0; cells],
    }
}

/// Columns and rows of the raster.
#[derive(Debug, Clone, PartialEq)]
struct Window {
    columns: Range<usize>,
    rows: Range<usize>,
    /// Whether cells matter that no changed sector has a path to.
    is_everything: bool,
}

/// The window around the cells of several launch points; empty without any.
fn around<'a>(launches: impl Iterator<Item = &'a Arc<LaunchLosses>>) -> Window {
    let window = |launch: &'a Arc<LaunchLosses>| Window {
        columns: launch.columns.clone(),
        rows: launch.rows.clone(),
        is_everything: false,
    };
    let both = |a: Range<usize>, b: Range<usize>| a.start.min(b.start)..a.end.max(b.end);
    let around = |a: Window, b: Window| Window {
        columns: both(a.columns, b.columns),
        rows: both(a.rows, b.rows),
        is_everything: false,
    };
    let none = Window {
        columns: 0..0,
        rows: 0..0,
        is_everything: false,
    };
    launches.map(window).reduce(around).unwrap_or(none)
}

/// What the terminal gives from stand to stand; `None` where that is too much to keep.
fn asides(losses: &LossGrids, stands: &Stands, terminal: &TerminalGain) -> Option<Asides> {
    let count = stands.seen_by.len();
    let (width, height) = (losses.raster.width, losses.raster.height);
    let pairs = count * count.saturating_sub(1);
    if pairs * width * height * size_of::<f32>() > MOST_ASIDE_BYTES {
        return None;
    }
    let shares = (0..count * count).map(|pair| {
        let (aim, other) = (pair / count, pair % count);
        let mut shares = Vec::new();
        if aim != other {
            shares.resize(width * height, 0.0);
            let launches = [aim, other].map(|s| losses.launches[stands.seen_by[s]].as_ref());
            let rows = shares.par_chunks_exact_mut(width).enumerate();
            rows.for_each(|(row, shares)| aside_row(losses, (launches, terminal), (row, shares)));
        }
        shares
    });
    Some(Asides {
        stands: count,
        width,
        shares: shares.collect(),
    })
}

fn aside_row(
    losses: &LossGrids,
    (launches, terminal): ([&LaunchLosses; 2], &TerminalGain),
    (row, shares): (usize, &mut [f32]),
) {
    let mut sightlines = [Sightline::default(), Sightline::default()];
    let width = shares.len();
    for start in (0..width).step_by(BLOCK) {
        let cells = BLOCK.min(width - start);
        let at = At::new(losses, (start, row), cells);
        let seen = launches.map(|l| Shared::of(l, &at));
        let [Some(aim), Some(other)] = &seen else {
            continue;
        };
        sightlines[0].look((launches[0], aim), &at);
        sightlines[1].look((launches[1], other), &at);
        let lanes = sightlines[0].aside(&sightlines[1], terminal);
        shares[start..start + cells].copy_from_slice(&lanes[..cells]);
    }
}
