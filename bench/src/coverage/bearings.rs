//! How far cells that share radials are from a path drawn to each cell's own centre.
//!
//! Two things set them apart. A shared radial passes beside the centre of a cell: that falls
//! with the number of radials. And a study divides each path into equal steps, so that
//! its samples lie elsewhere along the path: that is the same at any density. Own ends
//! have the samples of a study where it matters most. Shared radials are also measured against so
//! many radials that one passes through every centre, sampled alike.

use sweep::Bearings;

use super::{Rasters, Run, Taken, USUAL, best};
use crate::Figure;

/// Within 1/128 of a cell of every centre.
const THROUGH_EVERY_CENTRE: Bearings = Bearings::Shared { per_rim_cell: 64.0 };

/// Densities told; the default is one of them.
const PER_RIM_CELL: [f64; 4] = [1.0, 2.0, 4.0, 8.0];

/// Most that the default may be from paths to each centre, rms. \[dB\]
const MOST_RMS_DB: f64 = 0.5;

pub(super) fn measure(rasters: &Rasters) -> anyhow::Result<Vec<Figure>> {
    let mut figures = Vec::new();
    for (surface, is_bare) in [("bare", true), ("covered", false)] {
        let sweep = |bearings, times| {
            let run = Run {
                bearings,
                is_bare,
                ..USUAL
            };
            best(rasters, run, times)
        };
        let own = sweep(Bearings::Own, 2)?;
        let rate = format!("coverage_own_bearing_{surface}_cells_per_cpu_s");
        figures.push(Figure::at_least(
            &rate,
            own.cells_per_cpu_s(),
            "cells/s",
            0.5e6,
        ));
        let alike = sweep(THROUGH_EVERY_CENTRE, 1)?;
        let alone = format!("coverage_{surface}_sampling_points_alone");
        figures.extend(Apart::of(&own, &alike).figures(&alone, None));
        for per_rim_cell in PER_RIM_CELL {
            let name = format!("coverage_{surface}_shared_{per_rim_cell}_per_rim_cell");
            let shared = sweep(Bearings::Shared { per_rim_cell }, 1)?;
            figures.extend(Apart::of(&own, &shared).figures(&name, None));
            let name = format!("{name}_from_alike");
            figures.extend(Apart::of(&alike, &shared).figures(&name, None));
            let bearings = Bearings::OwnEnds { per_rim_cell };
            let ends = sweep(bearings, 1)?;
            let (name, goal) = if bearings == Bearings::DEFAULT {
                (format!("coverage_{surface}_default"), Some(MOST_RMS_DB))
            } else {
                let name = format!("coverage_{surface}_own_ends_{per_rim_cell}_per_rim_cell");
                (name, None)
            };
            figures.extend(Apart::of(&own, &ends).figures(&name, goal));
        }
    }
    Ok(figures)
}

/// How far two sweeps are apart, cell by cell, in rising order. \[dB\]
struct Apart(Vec<f64>);

impl Apart {
    fn of(one: &Taken, other: &Taken) -> Self {
        let both = one.coverage.loss_db.iter().zip(&other.coverage.loss_db);
        let mut apart: Vec<f64> = both
            .map(|(a, b)| f64::from((a - b).abs()))
            .filter(|d| !d.is_nan())
            .collect();
        apart.sort_by(f64::total_cmp);
        Self(apart)
    }

    fn figures(&self, name: &str, most_rms_db: Option<f64>) -> Vec<Figure> {
        let Self(apart) = self;
        let at = |share: f64| apart[((apart.len() - 1) as f64 * share) as usize];
        let rms_db = (apart.iter().map(|d| d * d).sum::<f64>() / apart.len() as f64).sqrt();
        let of = |what: &str| format!("{name}_{what}_db");
        let mut figures = vec![match most_rms_db {
            Some(goal) => Figure::at_most(&of("rms"), rms_db, "dB", goal),
            None => Figure::plain(&of("rms"), rms_db, "dB"),
        }];
        let shares = [
            ("median", 0.5),
            ("95pct", 0.95),
            ("99pct", 0.99),
            ("most", 1.0),
        ];
        figures.extend(shares.map(|(what, share)| Figure::plain(&of(what), at(share), "dB")));
        figures
    }
}
