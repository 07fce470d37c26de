//! A cross-section as a drawing: the domain's own picture, drawn here because
//! no chart library knows clutter, curved Earth and Fresnel zones.

use engine::explain::PathReport;
use maud::{Markup, PreEscaped, html};

use crate::format;
use crate::section::{self, Point};

const WIDTH: f64 = 1000.0;
const HEIGHT: f64 = 486.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 22.0;
const TOP: f64 = 124.0;
const BOTTOM: f64 = 92.0;
/// About one point for each column of the drawing.
const MOST_POINTS: usize = 900;

const INK: &str = "#1d2a30";
const QUIET: &str = "#53646c";
const GROUND: &str = "#bda98a";
const GROUND_EDGE: &str = "#6b5a40";
const CLUTTER: &str = "#6f9a6a";
const RAY: &str = "#0b4f7a";
const FONT: &str = "'Source Sans 3','Noto Sans','DejaVu Sans',system-ui,sans-serif";

/// The cross-section of a path as an SVG document of its own.
pub fn cross_section_svg(report: &PathReport) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n",
        drawing(report).into_string()
    )
}

/// Metres to the drawing's units.
struct Scale {
    length_m: f64,
    low_m: f64,
    high_m: f64,
}

impl Scale {
    fn new(points: &[Point]) -> Self {
        let (low_m, high_m) = section::height_range_m(points);
        let span_m = high_m - low_m;
        Self {
            length_m: points.last().map_or(1.0, |p| p.distance_m).max(1e-3),
            low_m: low_m - 0.10 * span_m,
            high_m: high_m + 0.08 * span_m,
        }
    }

    fn x(&self, distance_m: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * distance_m / self.length_m
    }

    fn y(&self, height_m: f64) -> f64 {
        let share = (height_m - self.low_m) / (self.high_m - self.low_m);
        HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * share
    }

    /// How many times steeper than life.
    fn exaggeration(&self) -> f64 {
        let across = (WIDTH - LEFT - RIGHT) / self.length_m;
        (HEIGHT - TOP - BOTTOM) / (self.high_m - self.low_m) / across
    }
}

/// The drawing as markup, for a page.
pub(crate) fn drawing(report: &PathReport) -> Markup {
    let points = section::points(&report.section, MOST_POINTS);
    let scale = Scale::new(&points);
    let name = format!(
        "Cross-section {}: {}",
        section::title(report),
        section::obstacle(report)
    );
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {HEIGHT}"))
            font-family=(PreEscaped(FONT)) font-size="13" fill=(INK) role="img" {
            title { (format::xml_text(&name)) }
            rect width=(WIDTH) height=(HEIGHT) fill="#fffdf8" {}
            (heading(report))
            rect x=(LEFT) y=(TOP) width=(WIDTH - LEFT - RIGHT) height=(HEIGHT - TOP - BOTTOM) fill="#eef4f7" {}
            (axes(&scale))
            @if points.len() > 1 {
                (fresnel(&points, &scale))
                (standing(&points, &scale))
                (ray(&points, &scale))
                (end(&points[0], &scale, "start", (&report.from, report.geometry.from_agl_m)))
                (end(&points[points.len() - 1], &scale, "end", (&report.to, report.geometry.to_agl_m)))
                (closest(report, &points, &scale))
            }
            (legend(report, &scale))
        }
    }
}

fn heading(report: &PathReport) -> Markup {
    html! {
        text x=(LEFT) y="30" font-size="20" font-weight="700" {
            (format::xml_text(&report.from)) tspan fill=(QUIET) font-weight="400" { " to " } (format::xml_text(&report.to))
        }
        text x=(LEFT) y="52" fill=(QUIET) { (section::subtitle(report)) }
        circle cx=(LEFT + 5.0) cy="69.5" r="5" fill=(clearance_colour(report)) stroke=(INK) {}
        text x=(LEFT + 17.0) y="74" font-weight="600" { (section::obstacle(report)) }
    }
}

fn clearance_colour(report: &PathReport) -> &'static str {
    match report.geometry.clearance_ratio {
        r if r < 0.0 => "#d55e00",
        r if r < 0.6 => "#f0c541",
        _ => "#009e73",
    }
}

fn axes(scale: &Scale) -> Markup {
    let foot = HEIGHT - BOTTOM;
    let kilometres = scale.length_m >= 2000.0;
    let unit_m = if kilometres { 1000.0 } else { 1.0 };
    let distances = section::ticks(0.0, scale.length_m / unit_m, 10);
    let decimals = decimals(&distances);
    html! {
        @for height_m in section::ticks(scale.low_m, scale.high_m, 6) {
            line x1=(LEFT) x2=(WIDTH - RIGHT) y1=(at(scale.y(height_m))) y2=(at(scale.y(height_m))) stroke="#cfdbe0" {}
            text x=(LEFT - 8.0) y=(at(scale.y(height_m) + 4.5)) text-anchor="end" fill=(QUIET) { (format::number(height_m, 0)) " m" }
        }

        @for distance in distances {
            line x1=(at(scale.x(distance * unit_m))) x2=(at(scale.x(distance * unit_m))) y1=(foot) y2=(foot + 5.0) stroke=(QUIET) {}
            text x=(at(scale.x(distance * unit_m))) y=(foot + 20.0) text-anchor="middle" fill=(QUIET) { (format::number(distance, decimals)) }
        }
        text x=(WIDTH - RIGHT) y=(foot + 20.0 + 17.0) text-anchor="end" fill=(QUIET) {
            "distance from the mast, " @if kilometres { "km" } @else { "m" }
        }
    }
}

/// Decimals that keep neighbouring ticks apart.
fn decimals(ticks: &[f64]) -> usize {
    let step = ticks.get(1).map_or(1.0, |t| t - ticks[0]);
    match step {
        s if s >= 0.999 => 0,
        s if s >= 0.099 => 1,
        _ => 2,
    }
}

/// A coordinate: a tenth of a unit is finer than any printer.
fn at(value: f64) -> String {
    format!("{value:.1}")
}

/// A line through points, as path data.
fn trace(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut data = String::new();
    for (i, (x, y)) in points.enumerate() {
        data.push(if i == 0 { 'M' } else { 'L' });
        data.push_str(&format!("{x:.1},{y:.1}"));
    }
    data
}

fn zone(points: &[Point], scale: &Scale, share: f64) -> String {
    // Two points cannot show an ellipse: a section between neighbours is
    // drawn from its own points all the same, which are at least five.
    let upper = points.iter().map(|p| {
        (
            scale.x(p.distance_m),
            scale.y(p.ray_m + share * p.fresnel_m),
        )
    });
    let lower = points.iter().rev().map(|p| {
        (
            scale.x(p.distance_m),
            scale.y(p.ray_m - share * p.fresnel_m),
        )
    });
    format!("{}z", trace(upper.chain(lower)))
}

fn fresnel(points: &[Point], scale: &Scale) -> Markup {
    html! {
        path d=(zone(points, scale, 1.0)) fill=(RAY) fill-opacity="0.10" {}
        path d=(zone(points, scale, 0.6)) fill=(RAY) fill-opacity="0.13" {}
    }
}

fn standing(points: &[Point], scale: &Scale) -> Markup {
    let foot = HEIGHT - BOTTOM;
    let ground = || {
        points
            .iter()
            .map(|p| (scale.x(p.distance_m), scale.y(p.ground_m)))
    };
    let tops = || {
        points
            .iter()
            .map(|p| (scale.x(p.distance_m), scale.y(p.top_m())))
    };
    let aside_m = points.iter().map(|p| p.set_aside_m).fold(0.0, f64::max);
    let aside = points.iter().map(|p| {
        let top_m = p.top_m() + p.set_aside_m;
        (scale.x(p.distance_m), scale.y(top_m))
    });
    let corners = [(WIDTH - RIGHT, foot), (LEFT, foot)];
    let back: Vec<(f64, f64)> = ground().collect();
    let counted: Vec<(f64, f64)> = tops().collect();
    html! {
        @if aside_m > 0.0 {
            path d=(format!("{}z", trace(aside.chain(counted.into_iter().rev())))) fill=(CLUTTER) fill-opacity="0.25" stroke=(CLUTTER) stroke-dasharray="2 2" {}
        }
        path d=(format!("{}z", trace(tops().chain(back.into_iter().rev())))) fill=(CLUTTER) fill-opacity="0.85" {}
        path d=(format!("{}z", trace(ground().chain(corners)))) fill=(GROUND) {}
        path d=(trace(ground())) fill="none" stroke=(GROUND_EDGE) stroke-width="1.4" {}
        // The zone's outline stays visible over what reaches into it.
        path d=(zone(points, scale, 1.0)) fill="none" stroke=(RAY) stroke-opacity="0.55" stroke-dasharray="5 4" {}
        path d=(zone(points, scale, 0.6)) fill="none" stroke=(RAY) stroke-opacity="0.45" stroke-dasharray="1.5 3" {}
    }
}

fn ray(points: &[Point], scale: &Scale) -> Markup {
    let ends = [points[0], points[points.len() - 1]];
    let data = trace(
        ends.iter()
            .map(|p| (scale.x(p.distance_m), scale.y(p.ray_m))),
    );
    html! { path d=(data) fill="none" stroke=(RAY) stroke-width="2" {} }
}

fn end(point: &Point, scale: &Scale, anchor: &str, (name, agl_m): (&str, f64)) -> Markup {
    let (x, y) = (scale.x(point.distance_m), scale.y(point.ray_m));
    let heights = format!(
        "{} above ground, {} m above sea level",
        format::metres(agl_m),
        format::number(point.ray_m, 0)
    );
    // The names stand above the sheet, where no ray or ridge can cross them.
    html! {
        line x1=(at(x)) x2=(at(x)) y1=(TOP - 6.0) y2=(at(y)) stroke=(INK) stroke-opacity="0.5" stroke-dasharray="2 3" {}
        line x1=(at(x)) x2=(at(x)) y1=(at(scale.y(point.ground_m))) y2=(at(y)) stroke=(INK) stroke-width="4" {}
        circle cx=(at(x)) cy=(at(y)) r="5" fill="#fff" stroke=(INK) stroke-width="2" {}
        text x=(at(x)) y=(TOP - 12.0) text-anchor=(anchor) font-size="12" fill=(QUIET) {
            tspan font-weight="700" fill=(INK) { (format::xml_text(name)) } "  " (heights)
        }
    }
}

/// The place where the ray comes closest to what stands below it.
fn closest(report: &PathReport, points: &[Point], scale: &Scale) -> Markup {
    let obstacle = &report.geometry.obstacle;
    let x = scale.x(obstacle.distance_m);
    let first = points[0];
    let last = points[points.len() - 1];
    let ray_m = first.ray_m + (last.ray_m - first.ray_m) * obstacle.distance_m / scale.length_m;
    let (ray_y, top_y) = (scale.y(ray_m), scale.y(ray_m - obstacle.clearance_m));
    let colour = clearance_colour(report);
    let foot = HEIGHT - BOTTOM;
    let far = x > LEFT + 0.7 * (WIDTH - LEFT - RIGHT);
    let (label_x, anchor) = if far {
        (x - 7.0, "end")
    } else {
        (x + 7.0, "start")
    };
    let label = section::clearance(report);
    html! {
        line x1=(at(x)) x2=(at(x)) y1=(at(top_y)) y2=(foot) stroke=(INK) stroke-opacity="0.6" stroke-dasharray="2 3" {}
        line x1=(at(x)) x2=(at(x)) y1=(at(top_y)) y2=(at(ray_y)) stroke=(INK) stroke-width="5" {}
        line x1=(at(x)) x2=(at(x)) y1=(at(top_y)) y2=(at(ray_y)) stroke=(colour) stroke-width="2.5" {}
        path d=(format!("M{x:.1},{top_y:.1}l-6,11h12z")) fill=(colour) stroke=(INK) {}
        text x=(at(label_x)) y=(foot - 7.0) text-anchor=(anchor) font-size="12" font-weight="700" { (label) }
    }
}

fn legend(report: &PathReport, scale: &Scale) -> Markup {
    let y = HEIGHT - 40.0;
    let swatch = |x: f64, fill: &str, opacity: &str, label: &str| {
        html! {
            rect x=(x) y=(y - 9.0) width="20" height="10" fill=(fill) fill-opacity=(opacity) {}
            text x=(x + 26.0) y=(y) { (label) }
        }
    };
    html! {
        g font-size="12" fill=(QUIET) {
            (swatch(LEFT, GROUND, "1", "ground"))
            (swatch(LEFT + 88.0, CLUTTER, "0.85", "clutter"))
            line x1=(LEFT + 178.0) x2=(LEFT + 198.0) y1=(y - 4.0) y2=(y - 4.0) stroke=(RAY) stroke-width="2" {}
            text x=(LEFT + 204.0) y=(y) { "ray" }
            rect x=(LEFT + 250.0) y=(y - 9.0) width="20" height="10" fill=(RAY) fill-opacity="0.1" stroke=(RAY) stroke-opacity="0.55" stroke-dasharray="5 4" {}
            text x=(LEFT + 276.0) y=(y) { "first Fresnel zone F1" }
            rect x=(LEFT + 420.0) y=(y - 9.0) width="20" height="10" fill=(RAY) fill-opacity="0.22" stroke=(RAY) stroke-opacity="0.45" stroke-dasharray="1.5 3" {}
            text x=(LEFT + 446.0) y=(y) { "0.6 F1" }
            @if let Some(what) = section::set_aside(report) {
                rect x=(LEFT + 400.0) y=(y + 25.0) width="20" height="10" fill=(CLUTTER) fill-opacity="0.25" stroke=(CLUTTER) stroke-dasharray="2 2" {}
                text x=(LEFT + 426.0) y=(y + 34.0) { (what) }
            }
            text x=(LEFT) y=(y + 19.0) {
                "Heights above sea level, vertical exaggeration " (exaggeration(scale.exaggeration())) ". Between the ends the ground is raised by the Earth's curve"
            }
            text x=(LEFT) y=(y + 34.0) { "under median refraction, so that the ray is straight." }
        }
    }
}

fn exaggeration(times: f64) -> String {
    let decimals = usize::from(times < 9.95);
    format!("{} ×", format::number(times, decimals))
}
