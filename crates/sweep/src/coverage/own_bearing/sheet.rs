//! Terrain around a mast, laid out for the samples of many paths.
//!
//! A path's samples are worked out some at a time in three short loops: where
//! they fall (plain arithmetic), what stands in the four cells around each
//! (loads), the height between these (plain arithmetic). The first and the
//! last are vector instructions of whatever width the processor has.

mod ends;

use std::ops::Range;

use geodesy::LonLat;
use physics::path_loss::Zone;
use pulp::{Arch, Simd, WithSimd};
use raster::Grid;

use crate::azimuthal::{OutOfMap, RAY_TERMS, ToCells};
use crate::ground::{CoverClasses, Ground};
use crate::kernel::{CHUNK, Inside};
pub(in crate::coverage) use ends::EndPaths;

/// The grid of a raster as far as the circle reaches.
struct Window<'a> {
    grid: &'a Grid,
    to_cells: ToCells,
    cols: Range<usize>,
    rows: Range<usize>,
}

/// Cells kept beyond the circle.
const RIM_CELLS: f64 = 3.0;

/// Least distance of a path's ends from the window's border. \[cells\]
const BORDER_CELLS: f64 = 2.0;

impl<'a> Window<'a> {
    fn new(grid: &'a Grid, mast: LonLat, radius_km: f64) -> Result<Self, OutOfMap> {
        let to_cells = ToCells::new(mast, radius_km, grid.georeference())?;
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for k in 0..72 {
            let ray = to_cells.ray((5.0 * f64::from(k)).to_radians());
            let at = ray.per_step(radius_km);
            for axis in 0..2 {
                let value = at[axis].iter().sum::<f64>();
                low[axis] = low[axis].min(value);
                high[axis] = high[axis].max(value);
            }
        }
        let sizes = [grid.width(), grid.height()];
        let [cols, rows] = std::array::from_fn(|axis| {
            let start = (low[axis] - RIM_CELLS).max(0.0) as usize;
            let end = (high[axis] + RIM_CELLS).max(0.0) as usize;
            start.min(sizes[axis])..end.min(sizes[axis])
        });
        Ok(Self {
            grid,
            to_cells,
            cols,
            rows,
        })
    }

    /// Something of every cell and the one below it, row by row.
    fn map<T>(&self, each: impl Fn(f32, f32) -> T) -> Vec<T> {
        let (cells, width) = (self.grid.cells(), self.grid.width());
        let last = self.grid.height() - 1;
        let mut all = Vec::with_capacity(self.cols.len() * self.rows.len());
        for row in self.rows.clone() {
            let along = |row: usize| &cells[row * width..][self.cols.clone()];
            let (here, below) = (along(row), along((row + 1).min(last)));
            all.extend(here.iter().zip(below).map(|(a, b)| each(*a, *b)));
        }
        all
    }

    /// Positions of a path by the number of the step, counted from the centre
    /// of the window's first cell; `None` where the path is not well inside.
    fn path(&self, towards: [f64; 2], step_km: f64, steps: usize) -> Option<[[f64; RAY_TERMS]; 2]> {
        let mut terms = self.to_cells.ray_towards(towards).per_step(step_km);
        let first = [self.cols.start as f64, self.rows.start as f64];
        let sizes = [self.cols.len() as f64, self.rows.len() as f64];
        let steps = steps as f64;
        let mut inside = true;
        for axis in 0..2 {
            terms[axis][0] -= first[axis] + 0.5;
            let [start, per_step, curved @ ..] = &terms[axis];
            let bend = |sum: f64, term: &f64| (sum + term.abs()) * steps;
            let bend = steps * curved.iter().rev().fold(0.0, bend);
            let range = BORDER_CELLS + bend..sizes[axis] - 1.0 - BORDER_CELLS - bend;
            inside &= range.contains(start) && range.contains(&(start + per_step * steps));
        }
        inside.then_some(terms)
    }
}

/// The rasters of a sweep as its own-bearing paths read them.
pub(super) struct Sheet<'a> {
    window: Window<'a>,
    /// Every cell's height, and that of the cell below it.
    pairs: Vec<[f32; 2]>,
    clutter: Option<Clutter<'a>>,
    arch: Arch,
}

/// Clutter heights of a class raster; the sign is set where it is not inland.
struct Clutter<'a> {
    /// Where it is not on the cells of the terrain.
    window: Option<Window<'a>>,
    heights: Vec<f32>,
}

impl<'a> Sheet<'a> {
    /// `None` where rasters overlap or trees stand beside classes: such paths
    /// are traced sample by sample.
    pub(super) fn new(
        ground: Ground<'a>,
        mast: LonLat,
        radius_km: f64,
    ) -> Result<Option<Self>, OutOfMap> {
        let ([grid], None) = (ground.elevation.grids(), ground.canopy) else {
            return Ok(None);
        };
        let window = Window::new(grid, mast, radius_km)?;
        let clutter = match ground.cover {
            None => None,
            Some((mosaic, classes)) => {
                let [cover] = mosaic.grids() else {
                    return Ok(None);
                };
                let own = Window::new(cover, mast, radius_km)?;
                let heights = own.map(|code, _| signed_height(classes, code));
                let is_shared = cover.georeference() == grid.georeference()
                    && (&own.cols, &own.rows) == (&window.cols, &window.rows);
                let window = (!is_shared).then_some(own);
                Some(Clutter { window, heights })
            }
        };
        Ok(Some(Self {
            pairs: window.map(|here, below| [here, below]),
            window,
            clutter,
            arch: Arch::new(),
        }))
    }

    /// Fills the samples between the ends of a path; false where it is not
    /// well inside the rasters.
    pub(super) fn trace(
        &self,
        towards: [f64; 2],
        (inside, places): (&mut Inside, &mut Places<CHUNK>),
    ) -> bool {
        let (step_km, steps) = (inside.step_km, inside.steps);
        let Some(terms) = self.window.path(towards, step_km, steps) else {
            return false;
        };
        let (shared, apart) = match &self.clutter {
            Some(c) if c.window.is_none() => (&c.heights[..], None),
            Some(c) => (&[][..], Some(c)),
            None => (&[][..], None),
        };
        let heights = Layer {
            terms,
            width: self.window.cols.len() as f64,
            pairs: &self.pairs,
            nearest: shared,
        };
        self.arch.dispatch(Trace {
            layer: heights,
            inside,
            places,
        });
        if let Some((clutter, window)) = apart.and_then(|c| c.window.as_ref().map(|w| (c, w))) {
            let Some(terms) = window.path(towards, step_km, steps) else {
                return false;
            };
            let layer = Layer {
                terms,
                width: window.cols.len() as f64,
                pairs: &[],
                nearest: &clutter.heights,
            };
            self.arch.dispatch(Trace {
                layer,
                inside,
                places,
            });
        }
        true
    }
}

fn signed_height(classes: &CoverClasses, code: f32) -> f32 {
    let cover = classes.of(code);
    let height_m = cover.height_m as f32;
    if cover.zone == Zone::Inland {
        height_m
    } else {
        -height_m
    }
}

/// What one walk along a path reads.
#[derive(Clone, Copy)]
struct Layer<'a> {
    terms: [[f64; RAY_TERMS]; 2],
    width: f64,
    /// Empty where heights are not sought.
    pairs: &'a [[f32; 2]],
    /// Empty where clutter is not sought.
    nearest: &'a [f32],
}

struct Trace<'a, 'b> {
    layer: Layer<'a>,
    inside: &'b mut Inside,
    places: &'b mut Places<CHUNK>,
}

impl WithSimd for Trace<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let Self {
            layer,
            inside,
            places,
        } = self;
        for chunk in 0..inside.chunks() {
            let terms = layer.around_middle(chunk);
            place(&terms, layer.width, places);
            if !layer.pairs.is_empty() {
                look_around(layer.pairs, places);
                interpolate(places, &mut inside.ground_amsl_m[chunk]);
            }
            if !layer.nearest.is_empty() {
                let clutter = &mut inside.clutter_m[chunk];
                for (clutter, cell) in clutter.iter_mut().zip(&places.nearest) {
                    // Behind the last sample of a path a chunk may leave the window.
                    if let Some(height) = layer.nearest.get(*cell as usize) {
                        *clutter = *height;
                    }
                }
            }
        }
    }
}

impl Layer<'_> {
    /// Quadratic terms of the position around the middle of a chunk: over half
    /// a chunk the rest is some 1e-6 cells.
    #[inline(always)]
    fn around_middle(&self, chunk: usize) -> [[f64; 3]; 2] {
        let middle = (chunk * CHUNK + 1) as f64 + middle(CHUNK);
        let mut around = [[0.0; 3]; 2];
        for (around, terms) in around.iter_mut().zip(&self.terms) {
            let [mut value, mut slope, mut bend] = [0.0; 3];
            for term in terms.iter().rev() {
                bend = bend * middle + slope;
                slope = slope * middle + value;
                value = value * middle + term;
            }
            *around = [value, slope, bend];
        }
        around
    }
}

/// Where N samples fall, and what is there.
#[derive(Debug, Clone)]
pub(super) struct Places<const N: usize> {
    /// Cell above and to the left.
    cell: [u32; N],
    /// Cell that contains the sample.
    nearest: [u32; N],
    /// Weights of the cells to the right and below.
    right: [f32; N],
    below: [f32; N],
    /// Heights of the four cells: upper left, lower left, upper right, lower right.
    around: [[f32; 4]; N],
}

impl<const N: usize> Default for Places<N> {
    fn default() -> Self {
        Self {
            cell: [0; N],
            nearest: [0; N],
            right: [0.0; N],
            below: [0.0; N],
            around: [[0.0; 4]; N],
        }
    }
}

/// Adding this to a whole number leaves it in the low bits.
const WHOLE: f64 = 4_503_599_627_370_496.0;

/// Middle of some samples, counted from the first.
const fn middle(samples: usize) -> f64 {
    0.5 * (samples - 1) as f64
}

#[inline(always)]
fn place<const N: usize>(terms: &[[f64; 3]; 2], width: f64, places: &mut Places<N>) {
    let [u0, u1, u2] = terms[0];
    let [v0, v1, v2] = terms[1];
    for l in 0..N {
        let i = l as f64 - middle(N);
        let u = (u2 * i + u1) * i + u0;
        let v = (v2 * i + v1) * i + v0;
        let (left, top) = (u.floor(), v.floor());
        let (right, below) = (u - left, v - top);
        let cell = top * width + left + WHOLE;
        let beside = if right >= 0.5 { 1.0 } else { 0.0 };
        let under = if below >= 0.5 { width } else { 0.0 };
        places.cell[l] = cell.to_bits() as u32;
        places.nearest[l] = (cell + beside + under).to_bits() as u32;
        places.right[l] = right as f32;
        places.below[l] = below as f32;
    }
}

#[inline(always)]
fn look_around<const N: usize>(pairs: &[[f32; 2]], places: &mut Places<N>) {
    for (around, cell) in places.around.iter_mut().zip(&places.cell) {
        let cell = *cell as usize;
        // Behind the last sample of a path a chunk may leave the window.
        if let Some([[a, c], [b, d]]) = pairs.get(cell..cell + 2) {
            *around = [*a, *c, *b, *d];
        }
    }
}

/// What a sample stands above the upper left cell is worked out in single
/// precision: some 1e-7 of the rise to the next cell.
#[inline(always)]
fn interpolate<const N: usize>(places: &Places<N>, heights: &mut [f64; N]) {
    for (l, height) in heights.iter_mut().enumerate() {
        let [a, c, b, d] = places.around[l];
        let (upper, left) = (b - a, c - a);
        let twist = (d - c) - upper;
        let right = places.right[l];
        let rise = upper * right + (left + twist * right) * places.below[l];
        *height = f64::from(a) + f64::from(rise);
    }
}
