//! The load as charts, SVG documents of their own.

use engine::load::admission::SectorLoad;
use engine::load::sector::{ClassShare, DirectionCapacity, SectorCapacity};
use model::SchedulingClass;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::format;
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
    const LEGEND: u32 = 170;
    let width = (260 + 90 * sectors.len() as u32).clamp(760, 6000);
    let mut text = String::new();
    {
        let root = SVGBackend::with_string(&mut text, (width, HEIGHT)).into_drawing_area();
        root.fill(&WHITE)?;
        let (chart_area, legend_area) = root.split_horizontally(width - LEGEND);
        let title = "Where the symbols of a frame go";
        airtime(&chart_area.titled(title, font(20))?, sectors, sectors.len())?;
        for (row, (name, colour)) in legend(sectors).into_iter().enumerate() {
            let y = 60 + 26 * row as i32;
            legend_area.draw(&Rectangle::new([(0, y), (16, y + 14)], colour.filled()))?;
            legend_area.draw(&Text::new(name, (24, y + 1), font(13)))?;
        }
        root.present()?;
    }
    Ok(text)
}

/// The same in strips of a page's width, without title and legend.
pub(crate) fn airtime_strips(sectors: &[SectorCapacity]) -> Result<Vec<String>, OutputError> {
    const MOST_ACROSS: usize = 9;
    const STRIP: u32 = 300;
    // As even as they come.
    let rows = sectors.len().div_ceil(MOST_ACROSS).max(1);
    let across = sectors.len().div_ceil(rows).max(1);
    let strips = sectors.chunks(across).map(|some| {
        let mut text = String::new();
        {
            let backend = SVGBackend::with_string(&mut text, (PAGE, STRIP));
            let root = backend.into_drawing_area();
            airtime(&root, some, across.max(5))?;
            root.present()?;
        }
        Ok(text)
    });
    strips.collect()
}

/// Pixels across a page.
const PAGE: u32 = 1008;

type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;

/// Bars of some sectors, with room for as many as `places`.
fn airtime(area: &Area<'_>, sectors: &[SectorCapacity], places: usize) -> Result<(), OutputError> {
    let directions = sectors.iter().flat_map(|c| [&c.downlink, &c.uplink]);
    let asked = directions.map(|d| 1.0 - d.symbols.free_frac.min(0.0));
    let tallest = asked.fold(1.0, f64::max);
    let mut chart = ChartBuilder::on(area)
        .margin(14)
        .margin_bottom(50)
        .y_label_area_size(62)
        .build_cartesian_2d(0.0..places.max(1) as f64, 0.0..tallest)?;
    chart
        .configure_mesh()
        .disable_x_mesh()
        .disable_x_axis()
        .max_light_lines(0)
        .y_labels(6)
        .y_label_formatter(&|y| format!("{:.0} %", 100.0 * y))
        .y_desc("symbols at the busy hour")
        .label_style(font(15))
        .draw()?;
    // Bars hide the lines behind them, so that only what is in use has colour.
    for (i, c) in sectors.iter().enumerate() {
        let left = i as f64;
        let below = |x: f64, y_px: i32| {
            let (x_px, zero_px) = chart.backend_coord(&(x, 0.0));
            let (from_px, top_px) = area.get_base_pixel();
            (x_px - from_px, zero_px - top_px + y_px)
        };
        let sides = [(0.12, "down", &c.downlink), (0.53, "up", &c.uplink)];
        let small = font(14).pos(Pos::new(HPos::Center, VPos::Top));
        for (offset, name, _) in sides {
            let at = below(left + offset + 0.175, 5);
            area.draw(&Text::new(name, at, small.color(&QUIET)))?;
        }
        let centred = font(16).pos(Pos::new(HPos::Center, VPos::Top));
        let id = format::xml_text(c.sector.as_str());
        area.draw(&Text::new(id, below(left + 0.5, 24), centred))?;
        for (offset, _, direction) in sides {
            let from = left + offset;
            let outline = [(from, 0.0), (from + 0.35, 1.0)];
            chart.draw_series([Rectangle::new(outline, WHITE.filled())])?;
            for (low, high, colour) in stack(direction) {
                let corners = [(from, low), (from + 0.35, high)];
                chart.draw_series([Rectangle::new(corners, colour.filled())])?;
            }
            chart.draw_series([Rectangle::new(outline, QUIET.stroke_width(1))])?;
        }
    }
    Ok(())
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

/// What the colours of the bars stand for.
pub(crate) fn legend(sectors: &[SectorCapacity]) -> Vec<(String, RGBColor)> {
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

/// The years to come of each sector in a panel of its own, a page's width
/// across; empty without customers.
pub(crate) fn growth_panels(
    sectors: &[SectorCapacity],
    most_frac: f64,
) -> Result<Option<String>, OutputError> {
    const ACROSS: usize = 4;
    const PANEL: u32 = 190;
    let grown: Vec<&SectorCapacity> = sectors.iter().filter(|c| c.growth.len() > 1).collect();
    if grown.is_empty() {
        return Ok(None);
    }
    let rows = grown.len().div_ceil(ACROSS);
    let mut text = String::new();
    {
        let height = PANEL * u32::try_from(rows).unwrap_or(1).min(200);
        let backend = SVGBackend::with_string(&mut text, (PAGE, height));
        let root = backend.into_drawing_area();
        let panels = root.split_evenly((rows, ACROSS));
        for (area, sector) in panels.iter().zip(grown) {
            panel(area, sector, most_frac)?;
        }
        root.present()?;
    }
    Ok(Some(text))
}

/// Airtime of the directions: their colours in the panels.
pub(crate) const DIRECTIONS: [(&str, RGBColor); 2] = [("downlink", APART[0]), ("uplink", APART[1])];

fn panel(area: &Area<'_>, sector: &SectorCapacity, most_frac: f64) -> Result<(), OutputError> {
    /// Beyond the frame there is nothing to tell.
    const TOP: f64 = 1.1;
    let last = sector.growth.last().map_or(1.0, |y| f64::from(y.year));
    let (width, _) = area.dim_in_pixel();
    area.draw(&Text::new(
        format::xml_text(sector.sector.as_str()),
        (44, 5),
        font(17).transform(FontTransform::None),
    ))?;
    let (note, colour) = match sector.full_in_year {
        Some(0) => ("full today".to_owned(), LIMIT),
        Some(year) => (format!("full in year {year}"), LIMIT),
        None => ("room throughout".to_owned(), QUIET),
    };
    let right = font(14).pos(Pos::new(HPos::Right, VPos::Top));
    area.draw(&Text::new(
        note,
        (width as i32 - 12, 8),
        right.color(&colour),
    ))?;
    let mut chart = ChartBuilder::on(area)
        .margin_top(28)
        .margin_right(12)
        .margin_bottom(6)
        .x_label_area_size(24)
        .y_label_area_size(44)
        .build_cartesian_2d(0.0..last, 0.0..TOP)?;
    chart
        .configure_mesh()
        .disable_x_mesh()
        .max_light_lines(0)
        .x_labels(6)
        .y_labels(4)
        .x_label_formatter(&|x| format!("{x}"))
        .y_label_formatter(&|y| format!("{:.0} %", 100.0 * y))
        .label_style(font(14))
        .draw()?;
    let ends = [(0.0, most_frac), (last, most_frac)];
    chart.draw_series(LineSeries::new(ends, LIMIT.stroke_width(1)))?;
    let directions: [fn(&SectorLoad) -> f64; 2] =
        [|l| l.downlink_airtime_frac, |l| l.uplink_airtime_frac];
    for (of, (_, colour)) in directions.into_iter().zip(DIRECTIONS) {
        let years = sector.growth.iter();
        let line: Vec<(f64, f64)> = years.map(|y| (f64::from(y.year), of(&y.load))).collect();
        chart.draw_series(LineSeries::new(below(&line, TOP), colour.stroke_width(2)))?;
    }
    Ok(())
}

/// A line as far as it stays below a limit, ending on it.
fn below(line: &[(f64, f64)], limit: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for (x, y) in line.iter().copied() {
        if y <= limit {
            kept.push((x, y));
            continue;
        }
        if let Some((x0, y0)) = kept.last().copied() {
            let share = if y.is_finite() {
                (limit - y0) / (y - y0)
            } else {
                0.0
            };
            kept.push((x0 + share * (x - x0), limit));
        }
        break;
    }
    kept
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
            .max_light_lines(0)
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
