//! Launch points that a cell sees in the same direction.

use super::losses::{LaunchLosses, LossGrids};

/// Launch points by the place and height of their antenna: those of one mast
/// at one height differ in frequency alone, and are one stand.
#[derive(Debug)]
pub(super) struct Stands {
    /// Stand by launch point.
    pub(super) of_launch: Vec<usize>,
    /// The launch point with the most cells of each stand.
    pub(super) seen_by: Vec<usize>,
    /// Elevations at the mast between which nearly all cells lie, by stand. \[deg\]
    pub(super) elevations_deg: Vec<[f64; 2]>,
}

impl Stands {
    pub(super) fn of(losses: &LossGrids) -> Self {
        let mut of_launch = Vec::with_capacity(losses.launches.len());
        let mut seen_by: Vec<usize> = Vec::new();
        for (index, launch) in losses.launches.iter().enumerate() {
            let is_same = |i: &usize| losses.launches[*i].antenna() == launch.antenna();
            let stand = seen_by.iter().position(is_same).unwrap_or_else(|| {
                seen_by.push(index);
                seen_by.len() - 1
            });
            let most = &losses.launches[seen_by[stand]];
            if launch.loss_db.len() > most.loss_db.len() {
                seen_by[stand] = index;
            }
            of_launch.push(stand);
        }
        let seen = seen_by.iter();
        let elevations_deg = seen.map(|launch| elevations_deg(&losses.launches[*launch]));
        Self {
            elevations_deg: elevations_deg.collect(),
            of_launch,
            seen_by,
        }
    }
}

/// Steeper than this the antenna itself is asked, whatever the cells.
const STEEPEST_DEG: f64 = 12.0;

/// Elevations between which all but some hundredths of the cells lie.
fn elevations_deg(launch: &LaunchLosses) -> [f64; 2] {
    /// Every so many cells are looked at.
    const EVERY: usize = 61;
    let cells = launch.mast_elevation_deg.iter().step_by(EVERY);
    let mut some: Vec<f32> = cells.copied().filter(|e| !e.is_nan()).collect();
    some.sort_by(f32::total_cmp);
    let Some(last) = some.len().checked_sub(1) else {
        return [0.0, 0.0];
    };
    let at = |share: f64| f64::from(some[(last as f64 * share).round() as usize]);
    [at(0.005), at(0.995)].map(|e| e.clamp(-STEEPEST_DEG, STEEPEST_DEG))
}
