//! Launch points that a cell sees in the same direction.

use super::losses::LossGrids;

/// Launch points by the place and height of their antenna: those of one mast
/// at one height differ in frequency alone, and are one stand.
#[derive(Debug)]
pub(super) struct Stands {
    /// Stand by launch point.
    pub(super) of_launch: Vec<usize>,
    /// The launch point that reaches farthest of each stand.
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
            if launch.reach_cells() > losses.launches[seen_by[stand]].reach_cells() {
                seen_by[stand] = index;
            }
            of_launch.push(stand);
        }
        let seen = seen_by.iter();
        let elevations_deg = seen.map(|launch| losses.launches[*launch].elevations_deg);
        Self {
            elevations_deg: elevations_deg.collect(),
            of_launch,
            seen_by,
        }
    }
}
