//! What a cross-section drawing shows, whatever it is drawn with: the section
//! thinned to the columns there are, its range of heights, round ticks and the
//! words that go with it.

use engine::explain::{PathReport, SectionView};

use crate::format;

/// One point of a drawing, the Earth's curve added to what stands on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    pub(crate) distance_m: f64,
    pub(crate) ground_m: f64,
    pub(crate) clutter_m: f64,
    /// Mapped clutter that the path loss leaves out.
    pub(crate) set_aside_m: f64,
    pub(crate) ray_m: f64,
    pub(crate) fresnel_m: f64,
}

impl Point {
    /// Top of what stands there.
    pub(crate) fn top_m(&self) -> f64 {
        self.ground_m + self.clutter_m
    }
}

/// The section with at most about `most` points: of several that share a
/// column the highest is kept, so that no peak is lost. Both ends are kept.
pub(crate) fn points(view: &SectionView, most: usize) -> Vec<Point> {
    let all: Vec<Point> = (0..view.distance_m.len())
        .map(|i| Point {
            distance_m: view.distance_m[i],
            ground_m: view.ground_amsl_m[i] + view.earth_bulge_m[i],
            clutter_m: view.clutter_m[i],
            set_aside_m: view.set_aside_clutter_m[i],
            ray_m: view.ray_amsl_m[i],
            fresnel_m: view.fresnel_radius_m[i],
        })
        .collect();
    if all.len() <= most.max(4) {
        return all;
    }
    let last = all.len() - 1;
    let share = (last - 1).div_ceil(most.max(4) - 2);
    let inside = all[1..last].chunks(share).filter_map(|chunk| {
        let highest = chunk.iter().max_by(|a, b| a.top_m().total_cmp(&b.top_m()));
        highest.copied()
    });
    std::iter::once(all[0])
        .chain(inside)
        .chain([all[last]])
        .collect()
}

/// Lowest and highest thing to be drawn.
pub(crate) fn height_range_m(points: &[Point]) -> (f64, f64) {
    let low = points
        .iter()
        .map(|p| p.ground_m)
        .fold(f64::INFINITY, f64::min);
    let high = points
        .iter()
        .map(|p| (p.top_m() + p.set_aside_m).max(p.ray_m + p.fresnel_m))
        .fold(f64::NEG_INFINITY, f64::max);
    if low.is_finite() && high.is_finite() {
        (low, high.max(low + 1.0))
    } else {
        (0.0, 1.0)
    }
}

/// A round step (1, 2 or 5 times a power of ten) that cuts `span` into at most `most` parts.
pub(crate) fn round_step(span: f64, most: usize) -> f64 {
    let least = span / most.max(1) as f64;
    let mut step = 1.0;
    // A span that is no number leaves the step alone.
    while step > least && step > 1e-9 {
        step /= 10.0;
    }
    while step * 10.0 < least {
        step *= 10.0;
    }
    [1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .map(|f| f * step)
        .find(|s| *s >= least)
        .unwrap_or(step * 100.0)
}

/// Multiples of a round step from `low` to `high`.
pub(crate) fn ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    let step = round_step(high - low, most);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// Title of a drawing.
pub(crate) fn title(report: &PathReport) -> String {
    format!("{} to {}", report.from, report.to)
}

/// One line on where the path goes.
pub(crate) fn subtitle(report: &PathReport) -> String {
    let g = &report.geometry;
    format!(
        "{} towards {} · {} · aim back {} true, {} up",
        format::distance(g.distance_m),
        format::bearing(g.azimuth_deg),
        format::frequency(report.frequency_mhz),
        format::bearing(g.back_azimuth_deg),
        format::angle(g.to_elevation_deg),
    )
}

/// One line on how high the antennas stand.
pub(crate) fn antennas(report: &PathReport) -> String {
    let g = &report.geometry;
    format!(
        "antennas {} and {} above ground",
        format::metres(g.from_agl_m),
        format::metres(g.to_agl_m)
    )
}

/// What a drawing leaves out; `None` where it shows all clutter there is.
pub(crate) fn set_aside(report: &PathReport) -> Option<&'static str> {
    let any = report.section.set_aside_clutter_m.iter().any(|c| *c > 0.0);
    any.then_some("mapped clutter left out of the path loss: the term for it stands in the budget")
}

/// One line on what the closest thing below the ray does to it; F1 is the
/// radius of the first Fresnel zone.
pub fn obstacle(report: &PathReport) -> String {
    let g = &report.geometry;
    let what = if g.obstacle.clutter_m > 0.0 && -g.obstacle.clearance_m < g.obstacle.clutter_m {
        match &report.obstacle_building {
            Some(name) => format!("building {name}"),
            None => "clutter".to_owned(),
        }
    } else {
        "ground".to_owned()
    };
    let clearance = format::metres(g.obstacle.clearance_m.abs());
    let ratio = format::number(g.clearance_ratio, 2);
    let at = format::distance(g.obstacle.distance_m);
    if g.clearance_ratio < 0.0 {
        format!("blocked: {what} stands {clearance} above the ray at {at}, {ratio} F1")
    } else if g.clearance_ratio < 0.6 {
        format!("grazing: clearance {clearance} at {at}, {ratio} F1; clear from 0.60 F1 on")
    } else {
        format!("clear: clearance {clearance} at {at}, {ratio} F1")
    }
}

/// The closest place in a few words.
pub(crate) fn clearance(report: &PathReport) -> String {
    let obstacle = &report.geometry.obstacle;
    let clearance = format::metres(obstacle.clearance_m.abs());
    let at = format::distance(obstacle.distance_m);
    if obstacle.clearance_m < 0.0 {
        format!("{clearance} above the ray at {at}")
    } else {
        format!("clearance {clearance} at {at}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_steps_are_round() {
        assert_eq!(round_step(100.0, 5), 20.0);
        assert_eq!(round_step(7.3, 10), 1.0);
        assert_eq!(round_step(0.9, 4), 0.5);
        assert_eq!(round_step(4_300.0, 8), 1000.0);
        assert_eq!(ticks(95.0, 210.0, 5), vec![100.0, 150.0, 200.0]);
    }

    #[test]
    fn exact_thinning_keeps_ends_and_peaks() {
        let n = 1000;
        let mut ground = vec![10.0; n];
        ground[537] = 90.0;
        let view = SectionView {
            distance_m: (0..n).map(|i| i as f64).collect(),
            ground_amsl_m: ground,
            clutter_m: vec![0.0; n],
            set_aside_clutter_m: vec![0.0; n],
            earth_bulge_m: vec![0.0; n],
            ray_amsl_m: vec![100.0; n],
            fresnel_radius_m: vec![1.0; n],
        };
        let thin = points(&view, 50);
        assert!(thin.len() <= 50);
        assert_eq!(thin[0].distance_m, 0.0);
        assert_eq!(thin[thin.len() - 1].distance_m, 999.0);
        assert!(thin.iter().any(|p| p.ground_m == 90.0));
    }
}
