//! Coverage of a territory of any size, in memory for one tile.
//!
//! 1. Every launch point is swept over its own piece of ground, or found on
//!    the shelf, and its layers put there.
//! 2. Tile by tile, the parts of those layers that reach into it are read and
//!    composed; the tile's layers go to the shelf as well.
//! 3. [`TiledCoverage`] reads single layers back.
//!
//! Names on the shelf are digests of what stands behind them, so that an
//! interrupted run goes on where it was, an edit recomputes what it touches,
//! and nothing has to be declared out of date. A cell's value depends on
//! neither the size of tiles nor the number of threads.

use std::ops::Range;
use std::sync::Arc;

use geodesy::LonLatBox;
use model::Network;
use model::finding::Finding;
use raster::{CellWindow, Grid};
use rayon::prelude::*;

use super::block::BLOCK;
use super::composite::{Composite, Coverage, Layer, composite};
use super::losses::{
    ELEVATION_LAYER, LaunchKey, LaunchLosses, LossGrids, SweepKey, Swept, UNWANTED_LAYERS,
    WANTED_LAYERS, count, elevations_deg, launch_keys, shared,
};
use super::servers::mcs_names;
use super::shelf::{Digest, Shelf, ShelfLayers, ShelfName, cut};
use super::{
    CoverageError, CoverageRaster, CoverageRequest, network_of_cells, other_than_the_study,
};
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, Progress, RunControl};
use crate::surroundings::Surroundings;

/// Ground that is read piece by piece.
pub trait GroundPieces: Sync {
    /// The ground over a box; `None` where it cannot be read, which the
    /// implementor tells by itself.
    fn piece(&self, extent: &LonLatBox) -> Option<Arc<dyn Surroundings>>;
}

/// Where a tiled coverage gets its ground, and where it keeps what it has.
#[derive(Clone, Copy)]
pub struct TileSources<'a> {
    /// Ground by the piece.
    pub ground: &'a dyn GroundPieces,
    /// Results between the steps, and of earlier runs.
    pub shelf: &'a dyn Shelf,
    /// Cells along the side of a tile, rounded up to a multiple of 64. The result does not depend on it.
    pub tile_cells: usize,
}

impl TileSources<'_> {
    /// Some 60 MB of results a tile, and as much for each mast that reaches it.
    pub const TILE_CELLS: usize = 1024;
}

/// What was computed and what was found on the shelf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Reuse {
    /// Launch points: places with a height and a frequency that sectors share.
    pub launch_points: usize,
    /// Launch points whose losses had to be computed, all or some.
    pub swept_launch_points: usize,
    /// Tiles.
    pub tiles: usize,
    /// Tiles that had to be composed.
    pub composed_tiles: usize,
}

/// A coverage whose tiles lie on a shelf.
#[derive(Debug, Clone)]
pub struct TiledCoverage {
    /// The cells.
    pub raster: CoverageRaster,
    /// Ids of the sectors, by the index of [`Layer::BestServer`].
    pub sectors: Vec<String>,
    /// Names of the modulation and coding steps, most robust first.
    pub mcs_names: Vec<String>,
    /// What is worth telling.
    pub findings: Vec<Finding>,
    /// What was computed.
    pub reuse: Reuse,
    tiles: Vec<Tile>,
}

#[derive(Debug, Clone)]
struct Tile {
    columns: Range<usize>,
    rows: Range<usize>,
    name: ShelfName,
}

impl TiledCoverage {
    /// One quantity as a grid, from the shelf on which the tiles were put.
    ///
    /// # Errors
    /// [`CoverageError::TileLost`].
    pub fn grid(&self, layer: Layer, shelf: &dyn Shelf) -> Result<Grid, CoverageError> {
        let width = self.raster.width;
        let mut cells = vec![f32::NAN; width * self.raster.height];
        self.rows(layer, (shelf, 0), &mut cells)?;
        let georeference = self.raster.georeference.clone();
        Ok(Grid::new(georeference, width, self.raster.height, cells)?)
    }

    /// Whole rows of one quantity, from `first` on as many as `cells` has room
    /// for; rows beyond the last are NaN.
    ///
    /// # Errors
    /// [`CoverageError::TileLost`].
    pub fn rows(
        &self,
        layer: Layer,
        (shelf, first): (&dyn Shelf, usize),
        cells: &mut [f32],
    ) -> Result<(), CoverageError> {
        let width = self.raster.width;
        cells.fill(f32::NAN);
        let wanted = first..first + cells.len() / width.max(1);
        for tile in &self.tiles {
            let rows = tile.rows.start.max(wanted.start)..tile.rows.end.min(wanted.end);
            if rows.is_empty() {
                continue;
            }
            let values = tile.layer(layer, &rows, shelf)?;
            let values = values.chunks_exact(tile.columns.len());
            for (row, values) in rows.zip(values) {
                let start = (row - first) * width + tile.columns.start;
                cells[start..start + values.len()].copy_from_slice(values);
            }
        }
        Ok(())
    }
}

impl Tile {
    /// Some rows of a layer, counted as the whole raster's.
    fn layer(
        &self,
        layer: Layer,
        rows: &Range<usize>,
        shelf: &dyn Shelf,
    ) -> Result<Vec<f32>, CoverageError> {
        let layer = layer as usize;
        let window = CellWindow {
            col: 0,
            row: rows.start - self.rows.start,
            width: self.columns.len(),
            height: rows.len(),
        };
        let found = shelf.read(&self.name, window, layer..layer + 1);
        let found = found.and_then(|mut layers| layers.pop());
        found.ok_or(CoverageError::TileLost)
    }
}

/// Covers a network's territory tile by tile.
///
/// # Errors
/// [`CoverageError`]; what was finished before stays on the shelf.
pub fn cover_in_tiles(
    network: &Network,
    (request, sources): (&CoverageRequest, &TileSources<'_>),
    run: &RunControl<'_>,
) -> Result<TiledCoverage, CoverageError> {
    let network = network_of_cells(network)?;
    let ready = ReadyNetwork::new(&network);
    let raster = CoverageRaster::of(&network, request.cell_m)?;
    let mut territory = Territory {
        only: super::only(&ready, request.sector.as_deref())?,
        uplink_interference_dbm: request.uplink_interference_dbm.as_deref(),
        mcs_names: mcs_names(&ready),
        launches: Vec::new(),
        launch_of: Vec::new(),
        ready: &ready,
        sources,
    };
    let (keys, launch_of) = launch_keys(&ready, &raster, request)?;
    territory.launch_of = launch_of;
    territory.sweep(keys, run)?;
    run.begin("cells", raster.width * raster.height);
    let network_name = territory.network_name();
    let mut tiles = Vec::new();
    let mut composed_tiles = 0;
    let side = sources.tile_cells.next_multiple_of(BLOCK).max(BLOCK);
    for [columns, rows] in raster.tiles(side) {
        let part = raster.part(&columns, &rows)?;
        let name = territory.tile_name(&part, &network_name);
        if sources.shelf.has(&name) {
            run.advance(part.width * part.height);
        } else {
            territory.compose(&part, &name, run)?;
            composed_tiles += 1;
        }
        tiles.push(Tile {
            columns,
            rows,
            name,
        });
    }
    let mut findings = ready.findings.clone();
    findings.extend(other_than_the_study(&network));
    let sectors = ready.sectors.iter();
    Ok(TiledCoverage {
        sectors: sectors.map(|s| s.sector.id.as_str().to_owned()).collect(),
        reuse: territory.reuse(tiles.len(), composed_tiles),
        mcs_names: territory.mcs_names,
        findings,
        tiles,
        raster,
    })
}

/// The losses that [`super::cover`] needs, in memory: those of `kept` that still
/// fit, the others from the shelf, or swept and put there.
///
/// # Errors
/// [`CoverageError`]; what was swept before stays on the shelf.
pub fn losses_on_shelf(
    network: &Network,
    (request, kept): (&CoverageRequest, Option<&LossGrids>),
    sources: &TileSources<'_>,
    run: &RunControl<'_>,
) -> Result<LossGrids, CoverageError> {
    let network = network_of_cells(network)?;
    let ready = ReadyNetwork::new(&network);
    let raster = CoverageRaster::of(&network, request.cell_m)?;
    raster.fits_memory()?;
    let (keys, launch_of) = launch_keys(&ready, &raster, request)?;
    let missing: Vec<LaunchKey> = keys
        .iter()
        .filter(|key| kept.and_then(|kept| kept.find(&raster, key)).is_none())
        .cloned()
        .collect();
    let mut territory = Territory {
        only: None,
        uplink_interference_dbm: None,
        mcs_names: Vec::new(),
        launches: Vec::new(),
        launch_of,
        ready: &ready,
        sources,
    };
    territory.sweep(missing, run)?;
    let swept = territory.launches.iter().filter(|l| l.was_swept).count();
    let mut shelved = territory.launches.iter();
    let launches = keys.iter().map(|key| {
        if let Some(found) = kept.and_then(|kept| kept.find(&raster, key)) {
            return Ok(found);
        }
        let shelved = shelved.next().ok_or(CoverageError::TileLost)?;
        territory.losses(shelved, &raster, run).map(Arc::new)
    });
    let launches = launches.collect::<Result<_, _>>()?;
    let ready = (launches, territory.launch_of);
    Ok(LossGrids::ready(raster, ready, swept))
}

/// A network whose losses lie on a shelf.
struct Territory<'a> {
    ready: &'a ReadyNetwork<'a>,
    sources: &'a TileSources<'a>,
    only: Option<usize>,
    uplink_interference_dbm: Option<&'a [f64]>,
    mcs_names: Vec<String>,
    launches: Vec<ShelvedLaunch>,
    /// Index into the launch points by sector.
    launch_of: Vec<usize>,
}

struct ShelvedLaunch {
    key: LaunchKey,
    wanted: ShelfName,
    unwanted: Option<ShelfName>,
    elevations_deg: [f64; 2],
    was_swept: bool,
}

impl ShelvedLaunch {
    /// Whether any of its losses lie in a part of the plane's lattice.
    fn reaches(&self, part: &[Range<i64>; 2]) -> bool {
        self.key.sweeps().any(|(key, _)| {
            let window = shared(&key.window, part);
            window.iter().all(|range| count(range) > 0)
        })
    }
}

impl Territory<'_> {
    /// Sweeps what is not on the shelf yet.
    fn sweep(&mut self, keys: Vec<LaunchKey>, run: &RunControl<'_>) -> Result<(), CoverageError> {
        let sweeps = keys.iter().flat_map(LaunchKey::sweeps);
        run.begin("losses", sweeps.map(|(key, _)| key.cells()).sum());
        for key in keys {
            let mut was_swept = false;
            let mut shelved = |key: &SweepKey, layers: usize| {
                let (name, is_new) = self.shelved((key, layers), run)?;
                was_swept |= is_new.is_some();
                Ok::<_, CoverageError>(name)
            };
            let wanted = shelved(&key.wanted, WANTED_LAYERS)?;
            let unwanted = key.unwanted.as_ref();
            let unwanted = unwanted.map(|key| shelved(key, UNWANTED_LAYERS));
            let unwanted = unwanted.transpose()?;
            self.launches.push(ShelvedLaunch {
                elevations_deg: self.elevations_deg(&key.wanted, &wanted)?,
                unwanted,
                wanted,
                key,
                was_swept,
            });
        }
        Ok(())
    }

    /// The name of a sweep that lies on the shelf, and the sweep itself where
    /// it had to be made.
    fn shelved(
        &self,
        (key, layers): (&SweepKey, usize),
        run: &RunControl<'_>,
    ) -> Result<(ShelfName, Option<Swept>), CoverageError> {
        if run.interrupted() {
            return Err(Interrupted.into());
        }
        let extent = key.extent().ok_or(CoverageError::GroundUnread)?;
        let piece = self.sources.ground.piece(&extent);
        let piece = piece.ok_or(CoverageError::GroundUnread)?;
        let ground = piece.mapped().ok_or(CoverageError::NoRasters)?;
        let name = key.name(ground);
        if self.sources.shelf.has(&name) {
            run.advance(key.cells());
            return Ok((name, None));
        }
        let swept = Swept::sweep(key, layers, (ground, run))?;
        let [width, height] = key.size();
        self.keep(&name, (width, height), swept.layers())?;
        Ok((name, Some(swept)))
    }

    /// Elevations between which nearly all cells of a sweep lie, from an entry
    /// of their own: a tile asks for them, not for the whole sweep.
    fn elevations_deg(&self, key: &SweepKey, name: &ShelfName) -> Result<[f64; 2], CoverageError> {
        let mut digest = Digest::of("elevations");
        digest.name(name);
        let own = digest.finish();
        let both = whole(2, 1);
        let found = self.sources.shelf.read(&own, both, 0..1);
        if let Some([low, high]) = found.as_ref().and_then(|layers| layers[0].first_chunk()) {
            return Ok([(*low).into(), (*high).into()]);
        }
        let [width, height] = key.size();
        let layer = ELEVATION_LAYER..ELEVATION_LAYER + 1;
        let found = self.sources.shelf.read(name, whole(width, height), layer);
        let found = found.ok_or(CoverageError::TileLost)?;
        let elevations_deg = elevations_deg(&found[0]);
        let cells = elevations_deg.map(|e| e as f32).to_vec();
        self.keep(&own, (2, 1), &[cells])?;
        Ok(elevations_deg)
    }

    fn keep(
        &self,
        name: &ShelfName,
        (width, height): (usize, usize),
        layers: &[Vec<f32>],
    ) -> Result<(), CoverageError> {
        let layers: Vec<&[f32]> = layers.iter().map(Vec::as_slice).collect();
        let layers = ShelfLayers {
            width,
            height,
            layers: &layers,
        };
        Ok(self.sources.shelf.keep(name, &layers)?)
    }

    /// Composes a tile and puts it on the shelf.
    fn compose(
        &self,
        part: &CoverageRaster,
        name: &ShelfName,
        run: &RunControl<'_>,
    ) -> Result<(), CoverageError> {
        let lattice = part.lattice();
        let here: Vec<usize> = (0..self.launches.len())
            .filter(|i| self.launches[*i].reaches(&lattice))
            .collect();
        // Whatever does not reach the tile is one launch point without a cell here.
        let nowhere = self.launches.iter().position(|l| !l.reaches(&lattice));
        let launch_of = self.launch_of.iter().map(|launch| {
            let index = here.iter().position(|i| i == launch);
            index.unwrap_or(here.len())
        });
        let launch_of = launch_of.collect();
        let launches = run.install(|| {
            let launches = here.par_iter().chain(nowhere.par_iter());
            let losses = launches.map(|i| self.losses(&self.launches[*i], part, run));
            losses.map(|l| l.map(Arc::new)).collect::<Result<_, _>>()
        })?;
        let losses = LossGrids::ready(part.clone(), (launches, launch_of), 0);
        let asked = Composite {
            ready: self.ready,
            losses: &losses,
            only: self.only,
            uplink_interference_dbm: self.uplink_interference_dbm,
            layers: &Layer::ALL,
        };
        let cells = CellsOfRows(run, part.width);
        let run = RunControl {
            progress: &cells,
            threads: run.threads,
        };
        let tile: Coverage = composite(&asked, &run)?;
        drop(losses);
        self.keep(name, (part.width, part.height), &tile.into_layers())
    }

    /// The losses of a launch point within a part of the plane's lattice.
    fn losses(
        &self,
        launch: &ShelvedLaunch,
        part: &CoverageRaster,
        run: &RunControl<'_>,
    ) -> Result<LaunchLosses, CoverageError> {
        let lattice = part.lattice();
        let within = |key: &SweepKey, name: &ShelfName, layers: usize| {
            let window = shared(&key.window, &lattice);
            let [width, height] = window.each_ref().map(count);
            if width == 0 || height == 0 {
                return Ok(Swept::new(window, vec![Vec::new(); layers]));
            }
            let cells = CellWindow {
                col: (window[0].start - key.window[0].start) as usize,
                row: (window[1].start - key.window[1].start) as usize,
                width,
                height,
            };
            if let Some(found) = self.sources.shelf.read(name, cells, 0..layers) {
                return Ok(Swept::new(window, found));
            }
            // Taken away or damaged since it was put there.
            self.again((key, layers), cells, run)
        };
        let wanted = within(&launch.key.wanted, &launch.wanted, WANTED_LAYERS)?;
        let unwanted = launch.key.unwanted.as_ref().zip(launch.unwanted.as_ref());
        let unwanted = unwanted.map(|(key, name)| within(key, name, UNWANTED_LAYERS));
        let unwanted = unwanted.transpose()?;
        let around = (part, launch.elevations_deg);
        LaunchLosses::new(&launch.key, around, (&wanted, unwanted.as_ref()))
    }

    /// A window of a sweep that has to be made once more.
    fn again(
        &self,
        (key, layers): (&SweepKey, usize),
        cells: CellWindow,
        run: &RunControl<'_>,
    ) -> Result<Swept, CoverageError> {
        let silent = CellsOfRows(run, 0);
        let run = RunControl {
            progress: &silent,
            threads: run.threads,
        };
        let range = |start: i64, from: usize, count: usize| {
            let start = start + from as i64;
            start..start + count as i64
        };
        let window = [
            range(key.window[0].start, cells.col, cells.width),
            range(key.window[1].start, cells.row, cells.height),
        ];
        let (name, swept) = self.shelved((key, layers), &run)?;
        let width = key.size()[0];
        let found = match swept {
            Some(swept) => {
                let layers = swept.layers().iter();
                Some(layers.map(|layer| cut(layer, width, cells)).collect())
            }
            // Somebody else has put it back in the meantime.
            None => self.sources.shelf.read(&name, cells, 0..layers),
        };
        let found = found.ok_or(CoverageError::TileLost)?;
        Ok(Swept::new(window, found))
    }

    /// What every tile depends on: the network without its masts and sectors,
    /// but for what a sector anywhere changes everywhere.
    fn network_name(&self) -> ShelfName {
        let network = self.ready.network;
        let bare = Network {
            masts: Vec::new(),
            sectors: Vec::new(),
            ..network.clone()
        };
        let mut digest = Digest::of("network");
        // The derived form has every field, numbers to their last digit.
        digest.text(&format!("{bare:?} {:?} {:?}", self.only, self.mcs_names));
        for sector in &network.sectors {
            digest.text(&format!("{:?} {:?}", sector.id, sector.channel));
        }
        digest.finish()
    }

    /// The name of a tile: what every tile depends on, and the masts and
    /// sectors whose losses reach into it.
    fn tile_name(&self, part: &CoverageRaster, network: &ShelfName) -> ShelfName {
        let lattice = part.lattice();
        let mut digest = Digest::of("tile");
        digest.name(network);
        part.put_into(&mut digest);
        for (index, sector) in self.ready.sectors.iter().enumerate() {
            let launch = &self.launches[self.launch_of[index]];
            if launch.reaches(&lattice) {
                digest.whole(index as i64);
                digest.text(&format!("{:?} {:?}", sector.sector, sector.mast));
                let uplink_dbm = self.uplink_interference_dbm.and_then(|all| all.get(index));
                digest.text(&format!("{uplink_dbm:?}"));
                digest.name(&launch.wanted);
                digest.name(launch.unwanted.as_ref().unwrap_or(&launch.wanted));
            }
        }
        digest.finish()
    }

    fn reuse(&self, tiles: usize, composed_tiles: usize) -> Reuse {
        Reuse {
            launch_points: self.launches.len(),
            swept_launch_points: self.launches.iter().filter(|l| l.was_swept).count(),
            tiles,
            composed_tiles,
        }
    }
}

/// All cells of an entry.
fn whole(width: usize, height: usize) -> CellWindow {
    CellWindow {
        col: 0,
        row: 0,
        width,
        height,
    }
}

/// Counts rows as the cells they have; stages inside are not told.
struct CellsOfRows<'a>(&'a RunControl<'a>, usize);

impl Progress for CellsOfRows<'_> {
    fn begin(&self, _stage: &'static str, _total: usize) {}

    fn advance(&self, items: usize) {
        self.0.advance(items * self.1);
    }

    fn interrupted(&self) -> bool {
        self.0.interrupted()
    }
}
