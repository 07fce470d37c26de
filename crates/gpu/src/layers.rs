//! Answers as the layers of a coverage.

use std::ops::Range;

use physics::clutter;
use rayon::prelude::*;
use sweep::{Conditions, Coverage, Target};

/// The layers while they fill.
pub(crate) struct Layers {
    width: usize,
    columns: Range<usize>,
    words: usize,
    /// Standard deviation over locations of bare cells.
    bare_sigma_db: f32,
    coverage: Coverage,
}

impl Layers {
    /// Everything that the circle does not reach is unknown from the start.
    pub(crate) fn new(
        target: &Target,
        conditions: &Conditions,
        [columns, rows]: [&Range<usize>; 2],
        (words, radials): (u32, usize),
    ) -> Self {
        let cells = target.width * target.height;
        let spread_db =
            clutter::location_sigma_db(conditions.frequency_mhz / 1e3, conditions.location_area_m);
        let factor = clutter::location_height_factor(conditions.receiver_agl_m, 0.0);
        let mut layers = Self {
            width: target.width,
            columns: columns.clone(),
            words: words as usize,
            bare_sigma_db: (spread_db * factor) as f32,
            coverage: Coverage {
                width: target.width,
                height: target.height,
                loss_db: vec![0.0; cells],
                mast_elevation_deg: vec![0.0; cells],
                location_sigma_db: vec![0.0; cells],
                clearance_ratio: vec![0.0; cells],
                answered_cells: 0,
                radials,
            },
        };
        layers.forget(0..rows.start);
        layers.forget(rows.end..target.height);
        layers
    }

    fn all(&mut self) -> [&mut Vec<f32>; 4] {
        let c = &mut self.coverage;
        [
            &mut c.loss_db,
            &mut c.mast_elevation_deg,
            &mut c.location_sigma_db,
            &mut c.clearance_ratio,
        ]
    }

    /// Makes rows unknown.
    pub(crate) fn forget(&mut self, rows: Range<usize>) {
        let width = self.width;
        for layer in self.all() {
            layer[rows.start * width..rows.end * width].fill(f32::NAN);
        }
    }

    /// Takes the answers of some rows.
    pub(crate) fn take(&mut self, rows: Range<usize>, answers: &[u32]) {
        let (width, words, columns) = (self.width, self.words, self.columns.clone());
        let bare_sigma_db = self.bare_sigma_db;
        let in_rows = rows.start * width..rows.end * width;
        let [loss, elevation, sigma, clearance] = self
            .all()
            .map(|layer| layer[in_rows.clone()].par_chunks_mut(width));
        let answers = answers.par_chunks(columns.len() * words);
        let answered: usize = (loss, elevation, sigma, clearance, answers)
            .into_par_iter()
            .with_min_len(8)
            .map(|(loss, elevation, sigma, clearance, answers)| {
                let mut row = [loss, elevation, sigma, clearance];
                for layer in &mut row {
                    layer[..columns.start].fill(f32::NAN);
                    layer[columns.end..].fill(f32::NAN);
                }
                let mut row = row.map(|layer| &mut layer[columns.clone()]);
                match words {
                    2 => take_row::<2>(answers, &mut row, bare_sigma_db),
                    3 => take_row::<3>(answers, &mut row, bare_sigma_db),
                    _ => take_row::<4>(answers, &mut row, bare_sigma_db),
                }
            })
            .sum();
        self.coverage.answered_cells += answered;
    }

    pub(crate) fn finish(self) -> Coverage {
        self.coverage
    }
}

/// Takes one row; returns the cells with an answer.
fn take_row<const WORDS: usize>(
    answers: &[u32],
    row: &mut [&mut [f32]; 4],
    bare_sigma_db: f32,
) -> usize {
    let [loss, elevation, sigma, clearance] = row;
    let cells = loss.iter_mut().zip(elevation.iter_mut());
    let cells = cells.zip(sigma.iter_mut().zip(clearance.iter_mut()));
    let mut answered = 0;
    for (((loss, elevation), (sigma, clearance)), words) in
        cells.zip(answers.as_chunks::<WORDS>().0)
    {
        *loss = f32::from_bits(words[0]);
        *elevation = f32::from_bits(words[1]);
        let is_known = !loss.is_nan();
        let known = |value: f32| if is_known { value } else { f32::NAN };
        let in_sight = if words[1] & 1 == 1 { 1.0 } else { -1.0 };
        *sigma = match words.get(2) {
            Some(bits) => f32::from_bits(*bits),
            None => known(bare_sigma_db),
        };
        *clearance = match words.get(3) {
            Some(bits) => f32::from_bits(*bits),
            None => known(in_sight),
        };
        answered += usize::from(is_known);
    }
    answered
}
