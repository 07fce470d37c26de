//! From losses to what a terminal in every cell gets.

use model::finding::Finding;
use raster::{Grid, RasterError};
use rayon::prelude::*;

use super::CoverageRaster;
use super::block::{At, BLOCK, Rules, Scratch};
use super::gains::{MastGain, TerminalGain};
use super::losses::LossGrids;
use super::servers::{self, Server, Terms, servers};
use super::stands::Stands;
use crate::radio::ReadyNetwork;
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

impl Layer {
    /// Every layer, each at its own number.
    pub const ALL: [Self; 14] = [
        Self::PathLoss,
        Self::DownlinkLevel,
        Self::UplinkLevel,
        Self::BestServer,
        Self::DownlinkSinr,
        Self::UplinkSinr,
        Self::DownlinkMode,
        Self::DownlinkMcs,
        Self::DownlinkRate,
        Self::UplinkRate,
        Self::Probability,
        Self::Servers,
        Self::LineOfSight,
        Self::Clearance,
    ];
}

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
    /// Cells of the layers that were asked for, by the layer's number.
    layers: Vec<Option<Vec<f32>>>,
}

impl Coverage {
    /// One quantity as a grid; void where the layer was not asked for.
    ///
    /// # Errors
    /// None for a coverage that was made: a raster has at least a cell.
    pub fn grid(&self, layer: Layer) -> Result<Grid, RasterError> {
        let CoverageRaster { width, height, .. } = self.raster;
        let cells = match &self.layers[layer as usize] {
            Some(cells) => cells.clone(),
            None => vec![f32::NAN; width * height],
        };
        Grid::new(self.raster.georeference.clone(), width, height, cells)
    }

    /// One quantity of one cell.
    pub fn value(&self, layer: Layer, (col, row): (usize, usize)) -> f32 {
        let cells = self.layers[layer as usize].as_ref();
        cells.map_or(f32::NAN, |cells| cells[row * self.raster.width + col])
    }

    /// The cells of one quantity, row by row; `None` where it was not asked for.
    pub fn cells(&self, layer: Layer) -> Option<&[f32]> {
        self.layers[layer as usize].as_deref()
    }

    /// The layers that were asked for, in their order.
    pub(super) fn into_layers(self) -> Vec<Vec<f32>> {
        self.layers.into_iter().flatten().collect()
    }

    /// A coverage whose cells are all void.
    pub(super) fn void(terms: &Terms<'_>, layers: &[Layer]) -> Self {
        let raster = terms.losses.raster.clone();
        let cells = raster.width * raster.height;
        let sectors = terms.ready.sectors.iter();
        let asked = |layer: Layer| layers.contains(&layer).then(|| vec![f32::NAN; cells]);
        Self {
            sectors: sectors.map(|s| s.sector.id.as_str().to_owned()).collect(),
            mcs_names: servers::mcs_names(terms.ready),
            findings: Vec::new(),
            layers: Layer::ALL.map(asked).into(),
            raster,
        }
    }

    /// The rows of the layers that were asked for.
    pub(super) fn rows(&mut self) -> Vec<Vec<(Layer, &mut [f32])>> {
        let CoverageRaster { width, height, .. } = self.raster;
        let mut rows: Vec<Vec<(Layer, &mut [f32])>> = Vec::new();
        rows.resize_with(height, Vec::new);
        for (layer, cells) in Layer::ALL.iter().zip(&mut self.layers) {
            let Some(cells) = cells else { continue };
            for (row, cells) in rows.iter_mut().zip(cells.chunks_exact_mut(width)) {
                row.push((*layer, cells));
            }
        }
        rows
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
    /// The layers to work out.
    pub layers: &'a [Layer],
}

/// Works out every cell, in parallel over rows.
///
/// Gains are taken from tables, linear between nodes half a degree of azimuth
/// and a twentieth of a degree of elevation apart, and sums are in single
/// precision: levels are within 0.005 dB of those by the antenna itself, but
/// for corners and steps of its pattern, which a table spreads over a node.
///
/// # Errors
/// [`Interrupted`].
pub fn composite(asked: &Composite<'_>, run: &RunControl<'_>) -> Result<Coverage, Interrupted> {
    let terms = Terms {
        ready: asked.ready,
        losses: asked.losses,
        only: asked.only,
        uplink_interference_dbm: asked.uplink_interference_dbm,
    };
    let mut coverage = Coverage::void(&terms, asked.layers);
    run.begin("cells", coverage.raster.height);
    run.install(|| {
        let stands = Stands::of(asked.losses);
        let servers = servers(&terms, (&asked.losses.launch_of, &coverage.mcs_names));
        let gains = mast_gains(&servers, &stands);
        let rules = Rules {
            servers: &servers,
            losses: asked.losses,
            stands: &stands,
            terminal: &TerminalGain::new(&asked.ready.terminals[0].pattern),
            model_error_db: asked.ready.network.propagation.model_error_db,
            counts_servers: asked.layers.contains(&Layer::Servers),
            asides: None,
        };
        let rows = coverage.rows();
        let rows = rows.into_par_iter().enumerate();
        rows.try_for_each_init(Scratch::default, |scratch, (row, mut layers)| {
            if run.interrupted() {
                return Err(Interrupted);
            }
            for at in blocks(asked.losses, row) {
                scratch.light(&rules, &gains, &at);
                rules.decide(&at, scratch);
                rules.answer(&at, scratch, &mut layers);
            }
            run.advance(1);
            Ok(())
        })
    })?;
    Ok(coverage)
}

/// A gain table for every sector.
pub(super) fn mast_gains(servers: &[Server<'_>], stands: &Stands) -> Vec<MastGain> {
    let gain = |server: &Server<'_>| {
        let stand = stands.of_launch[server.launch];
        MastGain::new(server.antenna, stands.elevations_deg[stand])
    };
    servers.iter().map(gain).collect()
}

/// The blocks of a row inside the territory. They begin at whole multiples of
/// their length on the plane's lattice, so that a cell shares its block with the same
/// others in whatever part of the raster it is worked out.
fn blocks(losses: &LossGrids, row: usize) -> impl Iterator<Item = At> {
    let inside = losses.raster.columns_inside(row);
    let [first, _] = losses.raster.on_plane((inside.start, row));
    let before = first.rem_euclid(BLOCK as i64) as usize;
    let cuts = (0..before + inside.len()).step_by(BLOCK);
    cuts.map(move |cut| {
        let from = inside.start + cut.saturating_sub(before);
        let to = (inside.start + cut + BLOCK - before).min(inside.end);
        At::new(losses, (from, row), to - from)
    })
}
