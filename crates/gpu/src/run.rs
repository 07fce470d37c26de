//! One request, from its rasters to its layers.

use std::collections::VecDeque;
use std::ops::Range;
use std::sync::PoisonError;

use sweep::tables::{NoTables, OwnBearingTables};
use sweep::{Bearings, Clearance, Coverage, CoverageGrid, Ground, SweepError, Watch};
use wgpu::{CommandEncoderDescriptor, MapMode, PollType, SubmissionIndex};

use crate::adapter::{Gpu, SIDE, Variant};
use crate::constants::{Constants, fixed, row_terms, zone_code};
use crate::layers::Layers;
use crate::memory::{BAND_BYTES, Memory, SLOTS, Sizes};
use crate::pieces::Piece;

/// A request that this adapter does not answer, or did not.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GpuError {
    /// It is not one for a graphics processor.
    #[error("{0} are worked out on the processor")]
    Unsuited(String),
    /// It does not fit.
    #[error("the adapter has no room for {what}")]
    Size {
        /// What does not fit.
        what: &'static str,
    },
    /// The driver failed.
    #[error("the graphics driver failed: {0}")]
    Driver(String),
    /// It cannot be swept, or was stopped.
    #[error(transparent)]
    Sweep(#[from] SweepError),
}

impl From<NoTables> for GpuError {
    fn from(error: NoTables) -> Self {
        match error {
            NoTables::Unsuited(what) => Self::Unsuited(what.to_owned()),
            NoTables::Sweep(error) => Self::Sweep(error),
        }
    }
}

/// Samples of one dispatch, about: what a slow adapter walks in some seconds,
/// so that a run can be stopped and no driver takes it for hung.
const SAMPLES_PER_DISPATCH: f64 = 8e7;

impl Gpu {
    /// The answer of this adapter alone.
    ///
    /// # Errors
    /// [`GpuError`]; nothing is kept of a run that was stopped.
    pub fn own_bearings(
        &self,
        grid: &CoverageGrid<'_>,
        ground: Ground<'_>,
        watch: &dyn Watch,
    ) -> Result<Coverage, GpuError> {
        if grid.bearings != Bearings::Own {
            return Err(GpuError::Unsuited("bearings that cells share".into()));
        }
        let mut kept = self.memory.lock().unwrap_or_else(PoisonError::into_inner);
        let outcome = Run::new(self, grid, ground).and_then(|run| run.go(&mut kept, watch));
        let fault = self
            .faults
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if outcome.is_err() || fault.is_some() {
            *kept = None;
        }
        match fault {
            Some(fault) => Err(GpuError::Driver(fault)),
            None => outcome,
        }
    }

    fn wait(&self, submission_index: Option<SubmissionIndex>) -> Result<(), GpuError> {
        let polled = self.device.poll(PollType::Wait {
            submission_index,
            timeout: None,
        });
        polled
            .map_err(|e| GpuError::Driver(e.to_string()))
            .map(drop)
    }
}

/// A request made ready.
struct Run<'a> {
    gpu: &'a Gpu,
    grid: &'a CoverageGrid<'a>,
    tables: OwnBearingTables<'a>,
    pieces: [Piece; 2],
    variant: Variant,
    /// Rows of the target, dispatch by dispatch.
    bands: Vec<Range<usize>>,
}

impl<'a> Run<'a> {
    fn new(gpu: &'a Gpu, grid: &'a CoverageGrid<'a>, ground: Ground<'a>) -> Result<Self, GpuError> {
        let tables = OwnBearingTables::new(grid, ground)?;
        let away = || GpuError::Unsuited("masts off the map".into());
        let pieces = Piece::of(&tables).ok_or_else(away)?;
        let limits = gpu.device.limits();
        let most = limits.max_texture_dimension_2d as usize;
        if pieces.iter().any(|p| p.width > most || p.height > most) {
            return Err(GpuError::Size {
                what: "the terrain",
            });
        }
        let with_cover = tables.cover.is_some();
        let has_zones = zone_code(tables.mast_zone) != 0
            || tables
                .cover
                .as_ref()
                .is_some_and(|(_, classes)| classes.all().any(|cover| zone_code(cover.zone) != 0));
        let words = match (grid.clearance, with_cover) {
            (Clearance::Told, _) => 4,
            (Clearance::SightOnly, true) => 3,
            (Clearance::SightOnly, false) => 2,
        };
        let variant = Variant {
            with_cover,
            own_lattice: pieces[1].is_own_lattice,
            with_zones: with_cover && has_zones,
            any_time: grid.conditions.time_pct != 50.0,
            words,
        };
        let run = Self {
            bands: bands(&tables),
            gpu,
            grid,
            tables,
            pieces,
            variant,
        };
        let room = limits
            .max_buffer_size
            .min(limits.max_storage_buffer_binding_size);
        if run.cell_bytes() as u64 > room {
            return Err(GpuError::Size { what: "the cells" });
        }
        Ok(run)
    }

    /// Bytes of the answers of the longest dispatch.
    fn cell_bytes(&self) -> usize {
        let rows = self.bands.iter().map(ExactSizeIterator::len).max();
        rows.unwrap_or(0).max(1) * self.row_bytes()
    }

    fn row_bytes(&self) -> usize {
        self.tables.columns.len().max(1) * self.variant.words as usize * 4
    }

    fn go(&self, kept: &mut Option<Memory>, watch: &dyn Watch) -> Result<Coverage, GpuError> {
        let is_unknown = !self.tables.mast_ground_amsl_m.is_finite();
        if self.tables.columns.is_empty() || self.tables.rows.is_empty() || is_unknown {
            let mut layers = self.layers();
            layers.forget(self.tables.rows.clone());
            return Ok(layers.finish());
        }
        let memory = self.upload(kept)?;
        let pipeline = self.gpu.pipeline(self.variant);
        let mut under_way = VecDeque::with_capacity(SLOTS);
        // Made while the first dispatches are worked on.
        let mut layers = None;
        for (number, rows) in self.bands.iter().enumerate() {
            if under_way.len() == SLOTS
                && let Some(earlier) = under_way.pop_front()
            {
                let layers = layers.get_or_insert_with(|| self.layers());
                self.collect(memory, earlier, (layers, watch))?;
            }
            if watch.interrupted() {
                self.gpu.wait(None)?;
                return Err(SweepError::Interrupted.into());
            }
            let index = self.dispatch(memory, &pipeline, (number, rows));
            under_way.push_back((number, index));
        }
        let mut layers = layers.unwrap_or_else(|| self.layers());
        for earlier in under_way {
            self.collect(memory, earlier, (&mut layers, watch))?;
        }
        Ok(layers.finish())
    }

    fn layers(&self) -> Layers {
        Layers::new(
            self.grid.target,
            &self.grid.conditions,
            [&self.tables.columns, &self.tables.rows],
            (self.variant.words, self.tables.radials),
        )
    }

    /// Puts everything that the program reads where it reads it.
    fn upload<'m>(&self, kept: &'m mut Option<Memory>) -> Result<&'m Memory, GpuError> {
        let (gpu, tables) = (self.gpu, &self.tables);
        let pieces = self.pieces.each_ref();
        let conditions = &self.grid.conditions;
        let latitude_deg = self.grid.mast.lat_deg();
        let request = Constants::new((tables, conditions), latitude_deg, pieces).bytes();
        let fixed = fixed(tables, pieces);
        let rows = tables.rows.clone();
        let by_row: Vec<f64> = rows
            .flat_map(|row| row_terms(tables, row, pieces))
            .collect();
        let bands = self.band_bytes();
        let sizes = Sizes {
            pieces: pieces.map(|p| [p.width, p.height]),
            request: request.len(),
            fixed: size_of_val(&fixed[..]),
            by_row: size_of_val(&by_row[..]),
            bands: bands.len(),
            cells: self.cell_bytes(),
        };
        let fits = kept.as_ref().is_some_and(|memory| memory.sizes == sizes);
        if !fits {
            *kept = None;
        }
        let memory = kept.get_or_insert_with(|| Memory::new(gpu, sizes, pieces));
        let pictures = [&memory.elevation, &memory.cover];
        pictures.iter().for_each(|p| p.ask());
        gpu.wait(None)?;
        let [elevation, cover] = pictures;
        elevation.fill(|row, cells| pieces[0].elevation_row(tables.elevation.grid, row, cells))?;
        cover.fill(|row, cells| match &tables.cover {
            Some((of_cover, classes)) => {
                pieces[1].cover_row((of_cover.grid, classes), row, cells);
            }
            None => cells.resize(1, 0),
        })?;
        gpu.queue.write_buffer(&memory.request, 0, &request);
        gpu.queue
            .write_buffer(&memory.fixed, 0, bytemuck::cast_slice(&fixed));
        gpu.queue
            .write_buffer(&memory.by_row, 0, bytemuck::cast_slice(&by_row));
        gpu.queue.write_buffer(&memory.bands, 0, &bands);
        let mut encoder = gpu
            .device
            .create_command_encoder(&CommandEncoderDescriptor::default());
        pictures.iter().for_each(|p| p.copy(&mut encoder));
        gpu.queue.submit([encoder.finish()]);
        Ok(memory)
    }

    /// First row and rows of each dispatch, counted from the first of all.
    fn band_bytes(&self) -> Vec<u8> {
        let mut bytes = vec![0; self.bands.len().max(1) * BAND_BYTES];
        for (rows, band) in self.bands.iter().zip(bytes.chunks_mut(BAND_BYTES)) {
            let first = (rows.start - self.tables.rows.start) as u32;
            band[..4].copy_from_slice(&first.to_le_bytes());
            band[4..8].copy_from_slice(&(rows.len() as u32).to_le_bytes());
        }
        bytes
    }

    fn dispatch(
        &self,
        memory: &Memory,
        pipeline: &wgpu::ComputePipeline,
        (number, rows): (usize, &Range<usize>),
    ) -> SubmissionIndex {
        let slot = &memory.slots[number % SLOTS];
        let mut encoder = self
            .gpu
            .device
            .create_command_encoder(&CommandEncoderDescriptor::default());
        {
            let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor::default());
            pass.set_pipeline(pipeline);
            pass.set_bind_group(0, &slot.request, &[]);
            pass.set_bind_group(1, &memory.band, &[(number * BAND_BYTES) as u32]);
            let columns = self.tables.columns.len() as u32;
            pass.dispatch_workgroups(
                columns.div_ceil(SIDE),
                (rows.len() as u32).div_ceil(SIDE),
                1,
            );
        }
        let bytes = (rows.len() * self.row_bytes()) as u64;
        encoder.copy_buffer_to_buffer(&slot.there, 0, &slot.here, 0, bytes);
        let index = self.gpu.queue.submit([encoder.finish()]);
        // That it failed is seen when it is read.
        slot.here.map_async(MapMode::Read, ..bytes, |_| {});
        index
    }

    /// Waits for a dispatch and takes its answers.
    fn collect(
        &self,
        memory: &Memory,
        (number, index): (usize, SubmissionIndex),
        (layers, watch): (&mut Layers, &dyn Watch),
    ) -> Result<(), GpuError> {
        self.gpu.wait(Some(index))?;
        let rows = self.bands[number].clone();
        let slot = &memory.slots[number % SLOTS];
        let bytes = (rows.len() * self.row_bytes()) as u64;
        {
            let answers = slot.here.get_mapped_range(..bytes);
            let answers = answers.map_err(|e| GpuError::Driver(e.to_string()))?;
            layers.take(rows.clone(), bytemuck::cast_slice(&answers));
        }
        slot.here.unmap();
        watch.advance(rows.len() * self.tables.columns.len());
        Ok(())
    }
}

/// Rows of the target, as many at a time as walk about the same number of samples.
fn bands(tables: &OwnBearingTables<'_>) -> Vec<Range<usize>> {
    // A path is two thirds of the radius on average.
    let samples = tables.radius_km / tables.step_km * 2.0 / 3.0;
    let by_row = samples.max(4.0) * tables.columns.len().max(1) as f64;
    let most = (SAMPLES_PER_DISPATCH / by_row).max(f64::from(SIDE));
    let rows = (most as usize).next_multiple_of(SIDE as usize);
    let starts = tables.rows.clone().step_by(rows);
    starts
        .map(|start| start..(start + rows).min(tables.rows.end))
        .collect()
}
