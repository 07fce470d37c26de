//! The territory cell by cell: ground by the piece, results from the shelf.

use std::sync::{Arc, Mutex, PoisonError};

use engine::coverage::{
    self, CoverageError, CoverageRaster, CoverageRequest, GroundPieces, Shelf, TileSources,
    TiledCoverage, uplink_interference_dbm,
};
use engine::{RunControl, Surroundings};
use geodesy::LonLatBox;
use model::{Finding, Network};

use crate::{Completeness, Ground, PipelineError, World, has_errors, in_order, usable};

/// A coverage, and what it rests on.
#[derive(Debug)]
pub struct Covering {
    /// The network as understood.
    pub network: Network,
    /// The ground it stands on, perhaps coarser: pictures show its relief.
    pub ground: Ground,
    /// Every finding, worst first.
    pub findings: Vec<Finding>,
    /// The answers, on the shelf that was given.
    pub coverage: TiledCoverage,
}

/// Covers a project's territory, cell by cell, disturbed as its study says. What lies on the shelf already is
/// used, and what is computed put there: a run that was stopped goes on where it was.
pub fn cover(
    world: &dyn World,
    completeness: Completeness,
    (request, shelf): (&CoverageRequest, &dyn Shelf),
    run: &RunControl<'_>,
) -> Result<Covering, PipelineError> {
    let (network, mut findings) = usable(world, completeness)?;
    let extent = CoverageRaster::of(&network, request.cell_m)?.extent()?;
    let ground = world.ground_over(&network, &extent);
    findings.extend(ground.findings.iter().cloned());
    if completeness == Completeness::Whole && has_errors(&findings) {
        return Err(PipelineError::UnusableDesign {
            findings: in_order(findings),
        });
    }
    let pieces = Pieces {
        world,
        network: &network,
        completeness,
        told: Mutex::default(),
    };
    let uplink_dbm = uplink_interference_dbm(&network, &pieces, run);
    let request = &CoverageRequest {
        uplink_interference_dbm: uplink_dbm.map_err(|error| pieces.failed(error))?,
        ..request.clone()
    };
    let sources = TileSources {
        ground: &pieces,
        shelf,
        tile_cells: TileSources::TILE_CELLS,
    };
    let coverage = coverage::cover_in_tiles(&network, (request, &sources), run);
    let coverage = coverage.map_err(|error| pieces.failed(error))?;
    findings.extend(coverage.findings.iter().cloned());
    Ok(Covering {
        network,
        ground,
        findings: in_order(findings),
        coverage,
    })
}

/// A world's ground by the piece.
struct Pieces<'a> {
    world: &'a dyn World,
    network: &'a Network,
    completeness: Completeness,
    told: Mutex<Vec<Finding>>,
}

impl Pieces<'_> {
    /// What went wrong, with what was found in the ground.
    fn failed(&self, error: CoverageError) -> PipelineError {
        match error {
            CoverageError::Interrupted(stopped) => PipelineError::Interrupted(stopped),
            CoverageError::GroundUnread => {
                let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
                let findings = in_order(std::mem::take(&mut *told));
                PipelineError::UnusableDesign { findings }
            }
            other => PipelineError::Coverage(other),
        }
    }
}

impl GroundPieces for Pieces<'_> {
    fn piece(&self, extent: &LonLatBox) -> Option<Arc<dyn Surroundings>> {
        let ground = self.world.ground_piece(self.network, extent);
        let is_usable = self.completeness == Completeness::WhatStands;
        if !is_usable && has_errors(&ground.findings) {
            let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
            told.extend(ground.findings);
            return None;
        }
        Some(Arc::from(ground.surroundings))
    }
}
