//! The load as charts, SVG documents of their own.

use engine::load::sector::{ClassShare, DirectionCapacity, SectorCapacity};
use model::SchedulingClass;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::handout::OutputError;

const INK: RGBColor = RGBColor(29, 42, 48);
const QUIET: RGBColor = RGBColor(83, 100, 108);
const OVERHEAD: RGBColor = RGBColor(150, 160, 165);
const HANDLING: RGBColor = RGBColor(196, 202, 205);
const LIMIT: RGBColor = RGBColor(190, 45, 30);
const HEIGHT: u32 = 520;

/// Colours of Okabe and Ito, which people of every colour vision tell apart.
const APART: [RGBColor; 7] = [
    RGBColor(0, 114, 178),
    RGBColor(213, 94, 0),
    RGBColor(0, 158, 115),
    RGBColor(204, 121, 167),
    RGBColor(230, 159, 0),
    RGBColor(86, 180, 233),
    RGBColor(60, 60, 60),
];

/// Colour of a class in every chart.
pub(crate) fn class_colour(class: SchedulingClass) -> RGBColor {
    match class {
        SchedulingClass::UnsolicitedGrant => APART[3],
        SchedulingClass::ExtendedRealTimePolling => APART[1],
        SchedulingClass::RealTimePolling => APART[4],
        SchedulingClass::NonRealTimePolling => APART[2],
        SchedulingClass::BestEffort => APART[0],
    }
}

/// Half way to white: the elastic part of a class.
fn lighter(colour: RGBColor) -> RGBColor {
    let half = |c: u8| c / 2 + 127;
    RGBColor(half(colour.0), half(colour.1), half(colour.2))
}

pub(crate) fn font(size: u32) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(&INK)
}

/// Where the symbols of every sector go, by class: two bars each, downlink and uplink.
pub fn airtime_svg(sectors: &[SectorCapacity]) -> Result<String, OutputError> {
    let count = sectors.len().max(1) as f64;
    let width = (260 + 90 * sectors.len() as u32).clamp(760, 6000);
    let tallest = sectors
        .iter()
        .flat_map(|c| [&c.downlink, &c.uplink])
        .map(|d| 1.0 - d.symbols.free_frac.min(0.0))
        .fold(1.0, f64::max);
    let mut text = String::new();
    {
        let root = SVGBackend::with_string(&mut text, (width, HEIGHT)).into_drawing_area();
        root.fill(&WHITE)?;
        let (chart_area, legend_area) = root.split_horizontally(width - 170);
        let mut chart = ChartBuilder::on(&chart_area)
            .caption("Where the symbols of a frame go", font(20))
            .margin(14)
            .y_label_area_size(62)
            .build_cartesian_2d(0.0..count, -0.14..tallest)?;
        chart
            .configure_mesh()
            .disable_x_mesh()
            .disable_x_axis()
            .light_line_style(WHITE)
            .y_labels(12)
            .y_label_formatter(&|y| {
                if *y < -1e-9 {
                    String::new()
                } else {
                    format!("{:.0} %", 100.0 * y)
                }
            })
            .y_desc("share of the direction's symbols at the busy hour")
            .label_style(font(13))
            .draw()?;
        for (i, c) in sectors.iter().enumerate() {
            let left = i as f64;
            let sides = [(0.12, "down", &c.downlink), (0.53, "up", &c.uplink)];
            for (offset, name, direction) in sides {
                let from = left + offset;
                for (low, high, colour) in stack(direction) {
                    let corners = [(from, low), (from + 0.35, high)];
                    chart.draw_series([Rectangle::new(corners, colour.filled())])?;
                }
                let outline = [(from, 0.0), (from + 0.35, 1.0)];
                chart.draw_series([Rectangle::new(outline, QUIET.stroke_width(1))])?;
                let small = font(12)
                    .pos(Pos::new(HPos::Center, VPos::Top))
                    .color(&QUIET);
                chart.draw_series([Text::new(name, (from + 0.175, -0.015), small)])?;
            }
            let centred = font(13).pos(Pos::new(HPos::Center, VPos::Top));
            let id = c.sector.as_str().to_owned();
            chart.draw_series([Text::new(id, (left + 0.5, -0.07), centred)])?;
        }
        for (row, (name, colour)) in legend(sectors).into_iter().enumerate() {
            let y = 60 + 26 * row as i32;
            legend_area.draw(&Rectangle::new([(0, y), (16, y + 14)], colour.filled()))?;
            legend_area.draw(&Text::new(name, (24, y + 1), font(13)))?;
        }
        root.present()?;
    }
    Ok(text)
}

/// The stretches of a bar, from the bottom up.
fn stack(direction: &DirectionCapacity) -> Vec<(f64, f64, RGBColor)> {
    let symbols = &direction.symbols;
    let mut parts = vec![
        (symbols.overhead_frac, OVERHEAD),
        (symbols.handling_frac, HANDLING),
    ];
    for share in &symbols.classes {
        parts.push((share.guaranteed_frac, class_colour(share.class)));
    }
    for share in &symbols.classes {
        parts.push((share.elastic_frac, elastic_colour(share)));
    }
    let mut at = 0.0;
    parts
        .into_iter()
        .filter(|(part, _)| *part > 0.0)
        .map(|(part, colour)| {
            let from = at;
            at += part;
            (from, at, colour)
        })
        .collect()
}

/// Best effort is elastic throughout and keeps its full colour.
fn elastic_colour(share: &ClassShare) -> RGBColor {
    match share.class {
        SchedulingClass::BestEffort => class_colour(share.class),
        class => lighter(class_colour(class)),
    }
}

fn legend(sectors: &[SectorCapacity]) -> Vec<(String, RGBColor)> {
    let mut rows = vec![
        ("overhead, maps".to_owned(), OVERHEAD),
        ("fragments, requests".to_owned(), HANDLING),
    ];
    let shares = || {
        let directions = sectors.iter().flat_map(|c| [&c.downlink, &c.uplink]);
        directions.flat_map(|d| &d.symbols.classes)
    };
    for class in SchedulingClass::ALL {
        let of_class = || shares().filter(move |s| s.class == class);
        if of_class().any(|s| s.guaranteed_frac > 0.0) {
            rows.push((format!("{}, guaranteed", class.name()), class_colour(class)));
        }
    }
    for class in SchedulingClass::ALL {
        let mut of_class = shares().filter(|s| s.class == class);
        if let Some(share) = of_class.find(|s| s.elastic_frac > 0.0) {
            rows.push((format!("{}, elastic", class.name()), elastic_colour(share)));
        }
    }
    rows
}

/// The lines of a chart, each with its name.
struct Lines<'a> {
    caption: &'a str,
    x: (&'a str, f64),
    y: (&'a str, f64),
    /// A share is written in percent.
    limit_frac: Option<f64>,
    lines: Vec<(String, Vec<(f64, f64)>)>,
}

/// What customers may expect at the busy hour, as a distribution for every sector.
pub fn rates_svg(sectors: &[SectorCapacity]) -> Result<String, OutputError> {
    let lines: Vec<(String, Vec<(f64, f64)>)> = sectors
        .iter()
        .filter(|c| !c.customers.is_empty())
        .map(|c| {
            let rates = c.customers.iter().map(|x| x.downlink.expected_mbps);
            (c.sector.to_string(), distribution(rates.collect()))
        })
        .collect();
    let most = furthest(&lines, |p| p.0).max(0.1);
    draw(&Lines {
        caption: "Rate that customers may expect at the busy hour",
        x: ("downlink rate of a transfer, Mb/s", 1.04 * most),
        y: ("share of customers with no more", 1.0),
        limit_frac: None,
        lines,
    })
}

/// Steps of a cumulative distribution.
fn distribution(mut values: Vec<f64>) -> Vec<(f64, f64)> {
    values.sort_by(f64::total_cmp);
    let count = values.len() as f64;
    let mut points = Vec::new();
    for (i, value) in values.iter().enumerate() {
        points.push((*value, i as f64 / count));
        points.push((*value, (i + 1) as f64 / count));
    }
    points
}

/// Airtime of the busier direction, year by year.
pub fn growth_svg(sectors: &[SectorCapacity], most_frac: f64) -> Result<String, OutputError> {
    let lines: Vec<(String, Vec<(f64, f64)>)> = sectors
        .iter()
        .filter(|c| !c.customers.is_empty())
        .map(|c| {
            let years = c.growth.iter().map(|y| {
                let load = &y.load;
                let busier = load.downlink_airtime_frac.max(load.uplink_airtime_frac);
                // Beyond twice the frame there is nothing to tell apart.
                (f64::from(y.year), busier.min(2.0))
            });
            (c.sector.to_string(), years.collect())
        })
        .collect();
    let last = furthest(&lines, |p| p.0).max(1.0);
    let most = furthest(&lines, |p| p.1).max(1.0);
    draw(&Lines {
        caption: "The present customers in the years to come",
        x: ("years from now", last),
        y: ("airtime of the busier direction", 1.02 * most),
        limit_frac: Some(most_frac),
        lines,
    })
}

fn furthest(lines: &[(String, Vec<(f64, f64)>)], of: fn(&(f64, f64)) -> f64) -> f64 {
    let points = lines.iter().flat_map(|(_, points)| points);
    points.map(of).filter(|v| v.is_finite()).fold(0.0, f64::max)
}

fn draw(of: &Lines<'_>) -> Result<String, OutputError> {
    let mut text = String::new();
    let rows = u32::try_from(of.lines.len()).unwrap_or(u32::MAX).min(200);
    let height = HEIGHT.max(90 + 22 * rows);
    {
        let root = SVGBackend::with_string(&mut text, (960, height)).into_drawing_area();
        root.fill(&WHITE)?;
        let (chart_area, legend_area) = root.split_horizontally(790);
        let mut chart = ChartBuilder::on(&chart_area)
            .caption(of.caption, font(20))
            .margin(14)
            .x_label_area_size(46)
            .y_label_area_size(66)
            .build_cartesian_2d(0.0..of.x.1, 0.0..of.y.1)?;
        chart
            .configure_mesh()
            .light_line_style(WHITE)
            .x_labels(11)
            .y_labels(11)
            .x_label_formatter(&|x| format!("{x}"))
            .y_label_formatter(&|y| format!("{:.0} %", 100.0 * y))
            .x_desc(of.x.0)
            .y_desc(of.y.0)
            .label_style(font(13))
            .draw()?;
        if let Some(limit) = of.limit_frac {
            let ends = [(0.0, limit), (of.x.1, limit)];
            chart.draw_series(LineSeries::new(ends, LIMIT.stroke_width(1)))?;
            let note = font(12)
                .color(&LIMIT)
                .pos(Pos::new(HPos::Left, VPos::Bottom));
            let at = (0.01 * of.x.1, limit + 0.006 * of.y.1);
            chart.draw_series([Text::new("most that the design allows", at, note)])?;
        }
        for (i, (name, points)) in of.lines.iter().enumerate() {
            let colour = APART[i % APART.len()];
            // Where the colours come round again the lines are broken.
            let again = i / APART.len();
            let (stroke, gap) = (12 / (again as i32 + 1), 5 * again.min(1) as i32);
            let style = colour.stroke_width(2);
            let points = points.iter().copied();
            if again == 0 {
                chart.draw_series(LineSeries::new(points, style))?;
            } else {
                chart.draw_series(DashedLineSeries::new(points, stroke, gap, style))?;
            }
            let y = 58 + 22 * i as i32;
            for from in (0..24).step_by((stroke + gap).max(1) as usize) {
                let mark = vec![(from, y + 7), ((from + stroke).min(24), y + 7)];
                legend_area.draw(&PathElement::new(mark, colour.stroke_width(3)))?;
            }
            legend_area.draw(&Text::new(name.clone(), (28, y), font(13)))?;
        }
        root.present()?;
    }
    Ok(text)
}
