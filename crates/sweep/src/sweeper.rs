//! Who sweeps a grid.

use crate::{Coverage, CoverageGrid, Ground, SweepError, Watch};

/// Something that sweeps grids: the processor, or a machine beside it that
/// agrees with the processor.
pub trait GridSweeper: Sync {
    /// Sweeps the cells of a request.
    ///
    /// # Errors
    /// [`SweepError`]; nothing is kept of a sweep that was stopped.
    fn sweep(
        &self,
        grid: &CoverageGrid<'_>,
        ground: Ground<'_>,
        watch: &dyn Watch,
    ) -> Result<Coverage, SweepError>;
}

/// The processor: [`CoverageGrid::sweep`].
#[derive(Debug, Clone, Copy, Default)]
pub struct Processor;

impl GridSweeper for Processor {
    fn sweep(
        &self,
        grid: &CoverageGrid<'_>,
        ground: Ground<'_>,
        watch: &dyn Watch,
    ) -> Result<Coverage, SweepError> {
        grid.sweep(ground, watch)
    }
}
