//! The network over the whole territory: what every cell of a raster would
//! get, with the design's default terminal, plan and mount height in it.
//!
//! 1. [`CoverageRaster`]: the cells, in the working plane.
//! 2. [`LossGrids`]: losses from every launch point, by the sweep. They do not
//!    depend on aim, tilt, pattern, power or channel width, and are kept.
//! 3. [`composite()`]: levels, best server, SINR, modes, rates; the budget of
//!    [`crate::link`] and the interference of [`crate::interference`], cell by cell.
//!    A [`Painter`] keeps what an edit does not change, and follows it.
//! 4. [`cover_in_tiles`]: the same for a territory of any size, losses and
//!    tiles kept on a [`Shelf`].
//!
//! Where this differs from the study of a premises in the same place:
//!
//! * Losses are ITU-R P.1812, whatever model the design names.
//! * Buildings by their footprints do not count, only what land cover and canopy say.
//! * Below trees, the loss is that of the way over them.
//! * With shared radials a cell's path is that of its nearest radial, by default but for
//!   its last sixteen samples.
//! * Azimuths are those of the plane with its convergence at the mast: within
//!   0.01° up to 40 km.
//! * The elevation of a terminal towards an unwanted mast is that of the
//!   straight ray where there is one, and otherwise follows from the mast's horizon.
//! * Uplink interference is what the request says: that of the terminals that a
//!   study has served ([`uplink_interference_dbm`]); a cell adds none of its own.

mod block;
mod composite;
mod extent;
mod gains;
mod losses;
mod painter;
mod servers;
mod shelf;
mod sightline;
mod stands;
mod sweeper;
mod tiles;
mod wide;

use std::sync::Arc;

use geodesy::CrsError;
use model::Network;
use model::finding::{Finding, Severity};
use model::network::{Mounting, Premises};
use model::{ModelChoice, PremisesId};
use physics::path_loss::Model;
use raster::RasterError;
use sweep::SweepError;

pub use composite::{Composite, Coverage, Layer, composite};
pub use extent::CoverageRaster;
pub use losses::LossGrids;
pub use painter::{PaintError, Painter, Picture, Repainted};
pub use raster::{CellWindow, Grid};
pub use shelf::{MemoryShelf, NotKept, Shelf, ShelfLayers, ShelfName};
pub use sweep::Bearings;
pub use sweeper::Sweeper;
pub use tiles::{GroundPieces, Reuse, TileSources, TiledCoverage, cover_in_tiles, losses_on_shelf};

use crate::interference::{Scene, sum_dbm};
use crate::matrix::PathMatrix;
use crate::path::path_model;
use crate::radio::ReadyNetwork;
use crate::run::{Interrupted, RunControl};
use crate::service;
use crate::surroundings::Surroundings;

/// What is asked of a coverage.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverageRequest {
    /// Side of a cell, > 0.
    pub cell_m: f64,
    /// How cells meet radials.
    pub bearings: Bearings,
    /// Who works out the losses.
    pub sweeper: Sweeper,
    /// The only sector that may serve; `None` lets every sector serve.
    pub sector: Option<String>,
    /// Whether the clearance of the first Fresnel zone is worked out, which
    /// takes longer than only whether there is sight.
    pub clearance: bool,
    /// Uplink interference at one port by sector, in the network's order, as a
    /// study finds it ([`uplink_interference_dbm`]); `None` is none.
    pub uplink_interference_dbm: Option<Vec<f64>>,
    /// What is worked out of every cell; tiles always have everything.
    pub layers: Vec<Layer>,
}

impl Default for CoverageRequest {
    fn default() -> Self {
        Self {
            cell_m: 30.0,
            bearings: Bearings::DEFAULT,
            sweeper: Sweeper::default(),
            sector: None,
            clearance: false,
            uplink_interference_dbm: None,
            layers: Layer::ALL.to_vec(),
        }
    }
}

/// A coverage that did not come about.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CoverageError {
    /// Nothing says what would stand in a cell.
    #[error(
        "the design names no terminal and plan for a bare place\nhint: set `terminal` and `plan` under `[defaults]`"
    )]
    NoTerminal,
    /// No sector to cover anything.
    #[error("no sector reaches into the territory\nhint: add a mast and a `[[sector]]`")]
    NoSector,
    /// No such sector.
    #[error("no sector `{0}` in the design")]
    UnknownSector(String),
    /// The ground is not in rasters.
    #[error("coverage needs terrain in rasters\nhint: name them in `terrain` under `[ground]`")]
    NoRasters,
    /// Too many cells, or none.
    #[error(
        "cells of `{cell_m}` m make no grid of the territory\nhint: a cell is greater than 0, and the grid has at most {most_cells} of them; try a larger `--cell-m`"
    )]
    Cells {
        /// Side of a cell.
        cell_m: f64,
        /// How many there may be.
        most_cells: usize,
    },
    /// Ground that is needed cannot be read; the findings beside it say why.
    #[error("part of the ground cannot be read")]
    GroundUnread,
    /// There is no room for results between the steps.
    #[error(
        "losses and tiles cannot be kept: {0}\nhint: make room on the disk, or point to another with `--no-cache` and the folder for temporary files"
    )]
    NotKept(#[from] NotKept),
    /// Somebody took a finished tile away before it was handed out.
    #[error(
        "a finished tile is no longer among the kept results\nhint: run again; what is still there is used"
    )]
    TileLost,
    /// A place cannot be shown in the working plane.
    #[error(transparent)]
    Place(#[from] CrsError),
    /// Cells without extent.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// The sweep could not be made.
    #[error(transparent)]
    Sweep(SweepError),
    /// Stopped from outside.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
}

impl From<SweepError> for CoverageError {
    fn from(error: SweepError) -> Self {
        match error {
            SweepError::Interrupted => Self::Interrupted(Interrupted),
            other => Self::Sweep(other),
        }
    }
}

/// The network with one nameless premises, which every cell is taken for.
///
/// # Errors
/// [`CoverageError::NoTerminal`].
pub fn network_of_cells(network: &Network) -> Result<Network, CoverageError> {
    let defaults = network.place_defaults.as_ref();
    let defaults = defaults.ok_or(CoverageError::NoTerminal)?;
    let premises = Premises {
        id: PremisesId::new(String::new()),
        name: String::new(),
        position: network.territory.south_west,
        mount_height_agl_m: network.study.mount_height_agl_m,
        mounting: Mounting::Open,
        plan: Arc::clone(&defaults.plan),
        terminal: Arc::clone(&defaults.terminal),
        priority: 0,
        fixed_sector: None,
        people: None,
    };
    Ok(network.with_premises(vec![premises]))
}

/// Covers a network's territory. `kept` are the losses of an earlier coverage
/// over the same ground; what still fits is used again.
///
/// # Errors
/// [`CoverageError`].
pub fn cover(
    network: &Network,
    surroundings: &dyn Surroundings,
    (request, kept): (&CoverageRequest, Option<&LossGrids>),
    run: &RunControl<'_>,
) -> Result<(Coverage, LossGrids), CoverageError> {
    let network = network_of_cells(network)?;
    let ready = ReadyNetwork::new(&network);
    let only = only(&ready, request.sector.as_deref())?;
    let losses = LossGrids::new(&ready, surroundings, (request, kept), run)?;
    let asked = Composite {
        ready: &ready,
        losses: &losses,
        only,
        uplink_interference_dbm: request.uplink_interference_dbm.as_deref(),
        layers: &request.layers,
    };
    let mut coverage = composite(&asked, run)?;
    coverage.findings.extend(ready.findings.iter().cloned());
    coverage.findings.extend(other_than_the_study(&network));
    Ok((coverage, losses))
}

/// The losses that [`cover`] rests on, those of `kept` that still fit among
/// them: what a [`Painter`] needs.
///
/// # Errors
/// [`CoverageError`].
pub fn losses(
    network: &Network,
    surroundings: &dyn Surroundings,
    (request, kept): (&CoverageRequest, Option<&LossGrids>),
    run: &RunControl<'_>,
) -> Result<LossGrids, CoverageError> {
    let network = network_of_cells(network)?;
    let ready = ReadyNetwork::new(&network);
    LossGrids::new(&ready, surroundings, (request, kept), run)
}

/// Index of the only sector that may serve.
fn only(ready: &ReadyNetwork<'_>, sector: Option<&str>) -> Result<Option<usize>, CoverageError> {
    let index = |id: &str| {
        let mut sectors = ready.sectors.iter();
        let found = sectors.position(|s| s.sector.id.as_str() == id);
        found.ok_or_else(|| CoverageError::UnknownSector(id.to_owned()))
    };
    sector.map(index).transpose()
}

/// Uplink interference at one port of every sector, from the terminals that a
/// study has the others serve; minus infinity where there is none, `None`
/// without premises. The ground is that around one mast at a time.
///
/// # Errors
/// [`CoverageError::GroundUnread`], [`CoverageError::Interrupted`].
pub fn uplink_interference_dbm(
    network: &Network,
    ground: &dyn GroundPieces,
    run: &RunControl<'_>,
) -> Result<Option<Vec<f64>>, CoverageError> {
    if network.premises.is_empty() {
        return Ok(None);
    }
    run.install(|| {
        let ready = ReadyNetwork::new(network);
        let around = |mast, radius_m| {
            let piece = extent::around(mast, radius_m).and_then(|e| ground.piece(&e));
            piece.ok_or(CoverageError::GroundUnread)
        };
        let paths = PathMatrix::evaluate_by_mast(&ready, around, run)?;
        let served = service::serve(&Scene::new(&ready, &paths), run)?;
        let levels = served.uplink.iter().map(|from| sum_dbm(from));
        Ok(Some(levels.collect()))
    })
}

/// What a coverage counts otherwise than a study does.
fn other_than_the_study(network: &Network) -> Vec<Finding> {
    let has_buildings = !network.ground.buildings.files.is_empty();
    let buildings = has_buildings.then(|| {
        Finding::new(
            Severity::Note,
            "coverage-buildings",
            "the cells of a coverage do not count the footprints of buildings, the links of a study do",
        )
        .hint("`mastwright path` tells what a building does to one link")
    });
    other_model(network).into_iter().chain(buildings).collect()
}

/// Tells where the design names another model than the sweep has.
fn other_model(network: &Network) -> Option<Finding> {
    let p = &network.propagation;
    let differs = |choice: ModelChoice, mhz| path_model(choice, mhz) != Model::P1812;
    let is_other = |mhz| differs(p.service_model, mhz) || differs(p.interference_model, mhz);
    let mut centres = network.sectors.iter().map(|s| s.channel.centre_mhz);
    centres.any(is_other).then(|| {
        Finding::new(
            Severity::Warning,
            "coverage-model",
            "coverage is computed by ITU-R P.1812, the design names another path-loss model",
        )
        .hint("levels differ from the study's; `mastwright path --also p1812` tells by how much")
    })
}
