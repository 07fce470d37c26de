//! The last samples of many paths, each drawn to its own cell's centre.
//!
//! A path's samples lie in azimuthal coordinates on a straight line to the cell. Where
//! they fall in a raster is therefore a polynomial of the share of the path, worked
//! out for many paths together around the middle of their ends; over eight steps
//! either way a quadratic is left of it.

use pulp::{Simd, WithSimd};

use super::{BORDER_CELLS, Places, Sheet, Window, interpolate, look_around, middle, place};
use crate::azimuthal::{Fit, RAY_TERMS};
use crate::radial::{OWN_SAMPLES, OwnEnd};
use crate::wide::wide;

/// Paths whose ends are sought; the work between them is kept.
#[derive(Debug, Default)]
pub(in crate::coverage) struct EndPaths {
    /// East and north of the cells. \[km\]
    pub(in crate::coverage) east: Vec<f64>,
    pub(in crate::coverage) north: Vec<f64>,
    /// Steps of the paths.
    pub(in crate::coverage) steps: Vec<f64>,
    /// Quadratic terms of columns and rows around the middles of the ends.
    terms: Vec<[[f64; 3]; 2]>,
    places: Places<OWN_SAMPLES>,
}

impl EndPaths {
    pub(in crate::coverage) fn clear(&mut self) {
        self.east.clear();
        self.north.clear();
        self.steps.clear();
    }

    /// Works out the terms in the cells of a window.
    fn place(&mut self, window: &Window<'_>) {
        let paths = self.east.iter().zip(&self.north).zip(&self.steps);
        self.terms.resize(self.east.len(), [[0.0; 3]; 2]);
        let terms = &mut self.terms[..];
        let fit = &window.to_cells.0;
        let first = [window.cols.start as f64, window.rows.start as f64];
        wide(
            #[inline(always)]
            || {
                for (terms, ((east, north), steps)) in terms.iter_mut().zip(paths) {
                    *terms = around_middle(fit, [*east, *north], *steps);
                    terms[0][0] -= first[0] + 0.5;
                    terms[1][0] -= first[1] + 0.5;
                }
            },
        );
    }
}

/// Terms of the position in a raster around the middle of the end of a path.
#[inline(always)]
fn around_middle(fit: &Fit, [east, north]: [f64; 2], steps: f64) -> [[f64; 3]; 2] {
    let (u, v) = (
        (east - fit.centre[0]) * fit.per_unit[0],
        (north - fit.centre[1]) * fit.per_unit[1],
    );
    let per_step = 1.0 / steps;
    let share = 1.0 - (OWN_SAMPLES as f64 - middle(OWN_SAMPLES)) * per_step;
    let mut around = [[0.0; 3]; 2];
    for (around, f) in around.iter_mut().zip(&fit.terms) {
        let [mut value, mut slope, mut bend] = [0.0; 3];
        for n in (0..RAY_TERMS).rev() {
            // All terms of one degree, which grow with that power of the share.
            let mut term = f[n][0];
            let mut power = 1.0;
            for i in (0..n).rev() {
                power *= v;
                term = term * u + f[i][n - i] * power;
            }
            bend = bend * share + slope;
            slope = slope * share + value;
            value = value * share + term;
        }
        *around = [value, slope * per_step, bend * per_step * per_step];
    }
    around
}

impl Window<'_> {
    /// Whether the end of a path is well inside.
    #[inline(always)]
    fn holds(&self, terms: &[[f64; 3]; 2]) -> bool {
        let half = middle(OWN_SAMPLES);
        let sizes = [self.cols.len() as f64, self.rows.len() as f64];
        let is_inside = |axis: usize| {
            let [value, slope, bend] = terms[axis];
            let reach = (slope.abs() + bend.abs() * half) * half + BORDER_CELLS;
            value >= reach && value <= sizes[axis] - 1.0 - reach
        };
        is_inside(0) & is_inside(1)
    }
}

impl Sheet<'_> {
    /// Fills the ends of paths. Not done is one that needs the general sampler: it is not
    /// well inside the rasters, has unknown ground or is not all inland.
    pub(in crate::coverage) fn ends(
        &self,
        paths: &mut EndPaths,
        own: &mut [OwnEnd],
        is_done: &mut [bool],
    ) {
        let (nearest, apart) = match &self.clutter {
            Some(c) if c.window.is_none() => (&c.heights[..], None),
            Some(c) => (&[][..], c.window.as_ref().map(|window| (c, window))),
            None => (&[][..], None),
        };
        paths.place(&self.window);
        self.arch.dispatch(TraceEnds {
            window: &self.window,
            pairs: &self.pairs,
            nearest,
            paths,
            own,
            is_done,
        });
        if let Some((clutter, window)) = apart {
            paths.place(window);
            self.arch.dispatch(TraceEnds {
                window,
                pairs: &[],
                nearest: &clutter.heights,
                paths,
                own,
                is_done,
            });
        }
    }
}

struct TraceEnds<'a, 'b> {
    window: &'a Window<'a>,
    /// Empty where heights are not sought.
    pairs: &'a [[f32; 2]],
    /// Empty where clutter is not sought.
    nearest: &'a [f32],
    paths: &'b mut EndPaths,
    own: &'b mut [OwnEnd],
    is_done: &'b mut [bool],
}

impl WithSimd for TraceEnds<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let EndPaths { terms, places, .. } = self.paths;
        let width = self.window.cols.len() as f64;
        for ((terms, own), is_done) in terms.iter().zip(self.own).zip(self.is_done) {
            if !self.window.holds(terms) {
                *is_done = false;
                continue;
            }
            place(terms, width, places);
            if !self.pairs.is_empty() {
                look_around(self.pairs, places);
                interpolate(places, &mut own.ground_amsl_m);
                let unknown = own.ground_amsl_m.iter().fold(false, |u, h| u | h.is_nan());
                *is_done &= !unknown;
            }
            if !self.nearest.is_empty() {
                let mut signs = 0;
                for (clutter, cell) in own.clutter_m.iter_mut().zip(&places.nearest) {
                    let height = self.nearest.get(*cell as usize).copied().unwrap_or(-0.0);
                    signs |= height.to_bits();
                    *clutter = f64::from(height.abs());
                }
                *is_done &= signs >> 31 == 0;
            }
        }
    }
}
