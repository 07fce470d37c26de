//! Delays of a simulated sector as a chart, an SVG document of its own.

use engine::simulation::{ClassOutcome, Direction, SectorSimulation, scheduling_class};
use plotters::prelude::*;

use super::text::{class_name, direction_name};
use crate::handout::OutputError;
use crate::load::{class_colour, font};

const SIZE: (u32, u32) = (960, 520);
/// Shorter than a frame of any radio, and longer than anybody waits.
const LEAST_MS: f64 = 1.0;
const MOST_MS: f64 = 100_000.0;

/// Share of packets (of transfers, for best effort and data with a floor) within a time, by class
/// and direction: downlink drawn through, uplink dashed.
pub fn delays_svg(simulation: &SectorSimulation) -> Result<String, OutputError> {
    let mut text = String::new();
    {
        let root = SVGBackend::with_string(&mut text, SIZE).into_drawing_area();
        root.fill(&WHITE)?;
        let (chart_area, legend_area) = root.split_horizontally(770);
        let mut chart = ChartBuilder::on(&chart_area)
            .caption(
                format!("Delay in sector {} at the busy hour", simulation.sector),
                font(20),
            )
            .margin(14)
            .x_label_area_size(46)
            .y_label_area_size(66)
            .build_cartesian_2d((LEAST_MS..MOST_MS).log_scale(), 0.0..1.0)?;
        chart
            .configure_mesh()
            .light_line_style(WHITE)
            .y_labels(11)
            .x_label_formatter(&|ms| time(*ms))
            .y_label_formatter(&|share| format!("{:.0} %", 100.0 * share))
            .x_desc("delay of a packet, duration of a transfer")
            .y_desc("share that took no longer")
            .label_style(font(13))
            .draw()?;
        for (row, class) in simulation.outcome.classes.iter().enumerate() {
            let colour = class_colour(scheduling_class(class.class));
            let y = 58 + 24 * row as i32;
            let mark = vec![(0, y + 7), (24, y + 7)];
            let points = points(class);
            match class.direction {
                Direction::Downlink => {
                    chart.draw_series(LineSeries::new(points, colour.stroke_width(2)))?;
                    legend_area.draw(&PathElement::new(mark, colour.stroke_width(3)))?;
                }
                Direction::Uplink => {
                    let dashes = DashedLineSeries::new(points, 6, 4, colour.stroke_width(2));
                    chart.draw_series(dashes)?;
                    let short = |from: i32| vec![(from, y + 7), (from + 9, y + 7)];
                    legend_area.draw(&PathElement::new(short(0), colour.stroke_width(3)))?;
                    legend_area.draw(&PathElement::new(short(14), colour.stroke_width(3)))?;
                }
            }
            let what = if class.packets.is_some() {
                ""
            } else {
                ", transfers"
            };
            let name = format!(
                "{} {}{what}",
                class_name(class.class),
                direction_name(class.direction)
            );
            legend_area.draw(&Text::new(name, (32, y), font(13)))?;
        }
        root.present()?;
    }
    Ok(text)
}

fn points(class: &ClassOutcome) -> Vec<(f64, f64)> {
    let cdf = class.delay_cdf.iter();
    cdf.map(|p| (p.delay_ms.clamp(LEAST_MS, MOST_MS), p.share_frac))
        .collect()
}

fn time(ms: f64) -> String {
    if ms < 1000.0 {
        format!("{ms:.0} ms")
    } else {
        format!("{:.0} s", ms / 1e3)
    }
}
