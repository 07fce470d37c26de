//! The map of the report: relief, sectors, links and premises.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use engine::verdict::Verdict;
use geodesy::{Hemisphere, LonLat, WorkingPlane};
use maud::{Markup, html};
use model::network::Network;

use crate::format;
use crate::handout::{Handout, OutputError};
use crate::mark;
use crate::relief::{self, Frame, Relief};
use crate::section::round_step;
use crate::wedge;

const WIDTH: f64 = 1000.0;
/// Longer side of the relief.
const RELIEF_PIXELS: usize = 1100;
/// Beyond this many premises the connecting lines would hide the ground.
const MOST_LINES: usize = 600;
/// Beyond this many premises no mark carries a name of its own.
const MOST_NAMED: usize = 2000;

const INK: &str = "#1d2a30";
const SECTOR: &str = "#0b4f7a";

/// The map and what its legend has to say.
pub(crate) struct Map {
    pub(crate) drawing: Markup,
    pub(crate) relief: Option<Relief>,
}

/// Draws the map.
pub(crate) fn draw(handout: &Handout<'_>) -> Result<Map, OutputError> {
    let sheet = Sheet::new(handout.network)?;
    let relief = match handout.surroundings {
        Some(ground) => relief::shade(&sheet.frame, ground, RELIEF_PIXELS)?,
        None => None,
    };
    let height = sheet.height();
    let drawing = html! {
        svg.map viewBox=(format!("0 0 {WIDTH} {height:.1}")) role="img" font-size="15" {
            title { "Map of masts, sectors and premises" }
            rect width=(WIDTH) height=(at(height)) fill="#e9ecea" {}
            @if let Some(relief) = &relief {
                image width=(WIDTH) height=(at(height)) preserveAspectRatio="none"
                    href=(format!("data:image/png;base64,{}", STANDARD.encode(&relief.png))) {}
            }
            (territory(handout.network, &sheet))
            (lines(handout, &sheet))
            (sectors(handout, &sheet))
            (premises(handout, &sheet))
            (masts(handout.network, &sheet))
            (north_arrow(&sheet))
            (scale_bar(&sheet))
        }
    };
    Ok(Map { drawing, relief })
}

/// The frame, and places on it in the drawing's units.
struct Sheet {
    frame: Frame,
    centre: LonLat,
}

impl Sheet {
    fn new(network: &Network) -> Result<Self, OutputError> {
        let territory = &network.territory;
        let epsg = territory.working_plane_epsg;
        let failed = || OutputError::WorkingPlane { epsg };
        let plane = working_plane(epsg).ok_or_else(failed)?;
        let (sw, ne) = (territory.south_west, territory.north_east);
        let around = geodesy::LonLatBox::new(sw, ne);
        let mut places = around.border(8);
        places.extend(network.masts.iter().map(|m| m.position));
        places.extend(network.premises.iter().map(|p| p.position));
        let points: Vec<_> = places
            .iter()
            .filter_map(|p| plane.to_local(*p).ok())
            .collect();
        let fold = |pick: fn(&geodesy::LocalXy) -> f64| {
            points
                .iter()
                .map(pick)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
        };
        let ((west, east), (south, north)) = (fold(|p| p.x_m), fold(|p| p.y_m));
        if !(west < east && south < north) {
            return Err(failed());
        }
        // A little air, and no sheet much longer than wide.
        let air_m = 0.02 * (east - west).max(north - south);
        let spare_m = |side: f64, other: f64| (0.45 * other - side).max(0.0) / 2.0 + air_m;
        let across_m = spare_m(east - west, north - south);
        let along_m = spare_m(north - south, east - west);
        Ok(Self {
            frame: Frame {
                plane,
                south_west: geodesy::LocalXy {
                    x_m: west - across_m,
                    y_m: south - along_m,
                },
                north_east: geodesy::LocalXy {
                    x_m: east + across_m,
                    y_m: north + along_m,
                },
            },
            centre: around.centre(),
        })
    }

    fn units_per_m(&self) -> f64 {
        WIDTH / self.frame.width_m()
    }

    fn height(&self) -> f64 {
        self.frame.height_m() * self.units_per_m()
    }

    fn point(&self, place: LonLat) -> Option<(f64, f64)> {
        let local = self.frame.plane.to_local(place).ok()?;
        Some((
            (local.x_m - self.frame.south_west.x_m) * self.units_per_m(),
            (self.frame.north_east.y_m - local.y_m) * self.units_per_m(),
        ))
    }

    fn outline(&self, places: &[LonLat]) -> String {
        let points: Vec<String> = places
            .iter()
            .filter_map(|p| self.point(*p))
            .map(|(x, y)| format!("{x:.1},{y:.1}"))
            .collect();
        points.join(" ")
    }
}

/// The UTM zone of an EPSG code on WGS 84.
fn working_plane(epsg: u32) -> Option<WorkingPlane> {
    let (hemisphere, zone) = match epsg {
        32_601..=32_660 => (Hemisphere::North, epsg - 32_600),
        32_701..=32_760 => (Hemisphere::South, epsg - 32_700),
        _ => return None,
    };
    WorkingPlane::new(u8::try_from(zone).ok()?, hemisphere).ok()
}

fn at(value: f64) -> String {
    format!("{value:.1}")
}

fn territory(network: &Network, sheet: &Sheet) -> Markup {
    let t = &network.territory;
    let (west, east) = (t.south_west.lon_deg(), t.north_east.lon_deg());
    let (south, north) = (t.south_west.lat_deg(), t.north_east.lat_deg());
    let corners: Vec<LonLat> = [(west, south), (east, south), (east, north), (west, north)]
        .into_iter()
        .filter_map(|(lon_deg, lat_deg)| LonLat::new(lon_deg, lat_deg).ok())
        .collect();
    html! {
        polygon points=(sheet.outline(&corners)) fill="none" stroke=(INK) stroke-opacity="0.45" stroke-dasharray="8 5" {}
    }
}

fn lines(handout: &Handout<'_>, sheet: &Sheet) -> Markup {
    let few = handout.study.premises.len() <= MOST_LINES;
    let network = handout.network;
    let served = handout
        .study
        .premises
        .iter()
        .filter(|p| few && p.verdict != Verdict::Unserved);
    let ends = served.filter_map(|p| {
        let sector = network.sector(&p.link.as_ref()?.sector)?;
        let mast = network.mast(&sector.mast)?;
        let dash = (p.verdict == Verdict::Doubtful).then_some("5 4");
        Some((sheet.point(mast.position)?, sheet.point(p.position)?, dash))
    });
    html! {
        g stroke=(SECTOR) stroke-opacity="0.55" stroke-width="1.2" {
            @for ((x1, y1), (x2, y2), dash) in ends {
                line x1=(at(x1)) y1=(at(y1)) x2=(at(x2)) y2=(at(y2)) stroke-dasharray=[dash] {}
            }
        }
    }
}

/// Radius of a sector's symbol, in units of the drawing.
const WEDGE: f64 = 44.0;

fn sectors(handout: &Handout<'_>, sheet: &Sheet) -> Markup {
    let radius_m = WEDGE / sheet.units_per_m();
    let outlines = handout.network.sectors.iter().filter_map(|sector| {
        let mast = handout.network.mast(&sector.mast)?;
        let ring = wedge::ring(
            mast.position,
            sector.azimuth_deg,
            wedge::width_deg(sector),
            radius_m,
        );
        let name = format!(
            "sector {}, {}",
            sector.id,
            format::bearing(sector.azimuth_deg)
        );
        Some((sheet.outline(&ring), name))
    });
    html! {
        g fill=(SECTOR) fill-opacity="0.30" stroke=(SECTOR) stroke-width="1.6" stroke-linejoin="round" {
            @for (points, name) in outlines {
                polygon points=(points) { title { (format::xml_text(&name)) } }
            }
        }
    }
}

fn premises(handout: &Handout<'_>, sheet: &Sheet) -> Markup {
    let list = &handout.study.premises;
    let size = match list.len() {
        0..=150 => 6.5,
        151..=600 => 5.0,
        601..=3000 => 3.6,
        _ => 2.4,
    };
    let named = list.len() <= MOST_NAMED;
    html! {
        defs {
            @for verdict in mark::VERDICTS {
                path id=(format!("mark-{}", verdict.name())) d=(mark::path_data(verdict, size))
                    fill=(mark::colour(verdict)) stroke=(INK) stroke-width=(at(0.22 * size)) {}
            }
        }
        // The ones that need a look lie on top.
        @for verdict in mark::VERDICTS {
            @let href = format!("#mark-{}", verdict.name());
            @for p in list.iter().filter(|p| p.verdict == verdict) {
                @if let Some((x, y)) = sheet.point(p.position) {
                    use href=(href) x=(at(x)) y=(at(y)) {
                        @if named { title { (format::xml_text(p.id.as_str())) " · " (verdict.name()) } }
                    }
                }
            }
        }
    }
}

fn masts(network: &Network, sheet: &Sheet) -> Markup {
    let places = network
        .masts
        .iter()
        .filter_map(|m| Some((sheet.point(m.position)?, m.id.as_str())));
    html! {
        @for ((x, y), id) in places {
            path d=(format!("M{x:.1},{:.1}l7,18h-14z", y - 11.0)) fill=(INK) stroke="#fff" stroke-width="2" {}
            // Near the right edge the name stands on the left.
            @let left = x > 0.86 * WIDTH;
            text x=(at(if left { x - 13.0 } else { x + 13.0 })) y=(at(y - 6.0)) fill=(INK) font-weight="700"
                text-anchor=(if left { "end" } else { "start" })
                stroke="#fff" stroke-width="4" stroke-linejoin="round" style="paint-order:stroke" {
                (format::xml_text(id))
            }
        }
    }
}

/// Points to true north, which the sheet's upper edge (grid north) misses by the convergence.
fn north_arrow(sheet: &Sheet) -> Markup {
    let turn_deg = -sheet.frame.plane.grid_convergence_deg(sheet.centre);
    html! {
        g transform=(format!("translate({:.1} 46) rotate({turn_deg:.2})", WIDTH - 40.0)) {
            circle r="27" fill="#fffdf8" fill-opacity="0.88" {}
            path d="M0,-22L8,8L0,3z" fill=(INK) {}
            path d="M0,-22L-8,8L0,3z" fill="#fff" stroke=(INK) stroke-width="1.2" {}
            text y="21" text-anchor="middle" font-size="13" font-weight="700" fill=(INK) { "N" }
        }
    }
}

fn scale_bar(sheet: &Sheet) -> Markup {
    let length_m = round_step(0.30 * sheet.frame.width_m(), 2);
    let length = length_m * sheet.units_per_m();
    let (x, y) = (24.0, sheet.height() - 22.0);
    html! {
        rect x=(at(x - 12.0)) y=(at(y - 27.0)) width=(at(length + 24.0)) height="40" rx="4" fill="#fffdf8" fill-opacity="0.88" {}
        rect x=(at(x)) y=(at(y)) width=(at(length)) height="6" fill="#fff" stroke=(INK) {}
        rect x=(at(x)) y=(at(y)) width=(at(length / 2.0)) height="6" fill=(INK) {}
        text x=(at(x)) y=(at(y - 8.0)) fill=(INK) { (format::distance(length_m)) }
    }
}
