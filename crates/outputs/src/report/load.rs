//! How full the sectors are, by class, and for how long they have room.

use engine::load::sector::SectorCapacity;
use maud::{Markup, PreEscaped, html};
use plotters::style::RGBColor;

use crate::format;
use crate::handout::{Handout, OutputError};
use crate::load::{DIRECTIONS, airtime_strips, growth_panels, legend};

/// Nothing where no sector has a customer.
pub(super) fn load(handout: &Handout<'_>) -> Result<Markup, OutputError> {
    let sectors = &handout.study.capacity;
    if sectors.iter().all(|c| c.customers.is_empty()) {
        return Ok(html! {});
    }
    let most_frac = handout.network.study.max_airtime_frac;
    let strips = airtime_strips(sectors)?;
    let growth = growth_panels(sectors, most_frac)?;
    let most = format::percent(most_frac);
    Ok(html! {
        section {
            h2 { "Load" }
            h3 { "Where the symbols of a frame go at the busy hour" }
            @for strip in &strips {
                figure.chart role="img" aria-label="bars of each sector's symbols by scheduling class" { (PreEscaped(strip)) }
            }
            p.legend { @for (name, colour) in legend(sectors) { (key(&name, colour)) } }
            p.quiet { "Guaranteed traffic is reserved whole; elastic traffic takes what is left. A bar above 100 % asks for more than there is." }
            @if let Some(growth) = growth {
                h3 { "The present customers in the years to come" }
                figure.chart role="img" aria-label="airtime of each sector by year" { (PreEscaped(growth)) }
                p.legend {
                    @for (name, colour) in DIRECTIONS { (key(&format!("{name} airtime"), colour)) }
                    span.key { span.most {} " " (most) " that the design allows" }
                }
                p.quiet { "By years from now, each plan's traffic growing as it says, with nobody added. " (full(sectors)) }
            }
        }
    })
}

fn key(name: &str, RGBColor(red, green, blue): RGBColor) -> Markup {
    html! {
        span.key { span.swatch style=(format!("background:#{red:02x}{green:02x}{blue:02x}")) {} " " (name) }
    }
}

/// The sectors that fill up first.
fn full(sectors: &[SectorCapacity]) -> String {
    let years = sectors
        .iter()
        .filter_map(|c| Some((c.full_in_year?, &c.sector)));
    let Some((first, _)) = years.clone().min_by_key(|(year, _)| *year) else {
        return "No sector is full within these years.".to_owned();
    };
    let names = years.filter(|(year, _)| *year == first);
    let names: Vec<String> = names.map(|(_, id)| format::xml_text(id.as_str())).collect();
    let when = match first {
        0 => "Full today".to_owned(),
        year => format!("First to be full, in year {year}"),
    };
    format!("{when}: {}.", names.join(", "))
}
