//! The territory: written, or the box around everything with a margin.

use geodesy::{LonLat, WorkingPlane};
use model::{Finding, Mast, Premises, Severity, Territory};

use crate::schema::{DesignText, TerritoryText};
use crate::written::At;

/// Margin of a territory that is not written.
const MARGIN_M: f64 = 5000.0;
/// Metres of one degree of latitude, near enough for a margin.
const METRES_PER_DEGREE: f64 = 111_320.0;

/// A box of longitudes and latitudes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LonLatBox {
    west: f64,
    south: f64,
    east: f64,
    north: f64,
}

impl LonLatBox {
    pub(super) fn holds(&self, lon: f64, lat: f64) -> bool {
        (self.west..=self.east).contains(&lon) && (self.south..=self.north).contains(&lat)
    }

    fn around(places: impl Iterator<Item = LonLat>) -> Option<Self> {
        let around = places.fold(None, |so_far: Option<Self>, place| {
            let (lon, lat) = (place.lon_deg(), place.lat_deg());
            let grown = so_far.unwrap_or(Self {
                west: lon,
                south: lat,
                east: lon,
                north: lat,
            });
            Some(Self {
                west: grown.west.min(lon),
                south: grown.south.min(lat),
                east: grown.east.max(lon),
                north: grown.north.max(lat),
            })
        })?;
        let lat_margin = MARGIN_M / METRES_PER_DEGREE;
        let middle_rad = ((around.south + around.north) / 2.0).to_radians();
        let lon_margin = lat_margin / middle_rad.cos().max(0.01);
        Some(Self {
            west: (around.west - lon_margin).max(-180.0),
            south: (around.south - lat_margin).max(-90.0),
            east: (around.east + lon_margin).min(180.0),
            north: (around.north + lat_margin).min(90.0),
        })
    }
}

fn corners(text: &TerritoryText) -> Option<LonLatBox> {
    let (sw, ne) = (
        text.south_west.as_ref()?.value,
        text.north_east.as_ref()?.value,
    );
    let is_box = (-180.0..=180.0).contains(&sw.0)
        && (-180.0..=180.0).contains(&ne.0)
        && (-90.0..=90.0).contains(&sw.1)
        && (-90.0..=90.0).contains(&ne.1)
        && sw.0 < ne.0
        && sw.1 < ne.1;
    is_box.then_some(LonLatBox {
        west: sw.0,
        south: sw.1,
        east: ne.0,
        north: ne.1,
    })
}

/// The written territory, or the box around the masts.
pub(super) fn written_or_around(design: &DesignText, masts: &[Mast]) -> Option<LonLatBox> {
    design
        .territory
        .as_ref()
        .and_then(|text| corners(&text.value))
        .or_else(|| LonLatBox::around(masts.iter().map(|mast| mast.position)))
}

/// The territory; `None` where nothing says where the design lies.
pub(super) fn resolve(
    design: &DesignText,
    masts: &[Mast],
    premises: &[Premises],
    findings: &mut Vec<Finding>,
) -> Option<Territory> {
    let written = design.territory.as_ref();
    let corner_box = written.and_then(|text| corners(&text.value));
    if let Some(text) = written
        && text.value.is_sound
        && corner_box.is_none()
    {
        findings.push(bad_corners(text));
    }
    let places = masts
        .iter()
        .map(|mast| mast.position)
        .chain(premises.iter().map(|premises| premises.position));
    let Some(around) = corner_box.or_else(|| LonLatBox::around(places)) else {
        findings.push(
            Finding::new(
                Severity::Error,
                "no-territory",
                "nothing says where the design lies: no territory, mast or premises",
            )
            .hint("add a `[[mast]]`, or `[territory]` with `south_west` and `north_east`"),
        );
        return None;
    };
    let middle = LonLat::new(
        (around.west + around.east) / 2.0,
        (around.south + around.north) / 2.0,
    )
    .ok()?;
    Some(Territory {
        south_west: LonLat::new(around.west, around.south).ok()?,
        north_east: LonLat::new(around.east, around.north).ok()?,
        working_plane_epsg: working_plane(written, middle, findings)?,
    })
}

fn bad_corners(text: &At<TerritoryText>) -> Finding {
    let at = text.value.south_west.as_ref();
    let finding = Finding::new(
        Severity::Error,
        "bad-territory",
        "`south_west` does not lie south-west of `north_east`, or is not longitude and latitude",
    )
    .hint("write `[longitude, latitude]` in degrees, as in `south_west = [9.47, 47.05]`; a territory cannot cross the 180th meridian");
    match at {
        Some(at) => at.pin(finding),
        None => finding,
    }
}

fn working_plane(
    written: Option<&At<TerritoryText>>,
    middle: LonLat,
    findings: &mut Vec<Finding>,
) -> Option<u32> {
    let named = written.and_then(|text| text.value.working_plane_epsg.as_ref());
    if let Some(at) = named {
        let zone = at.value % 100;
        if (1..=60).contains(&zone) && matches!(at.value / 100, 326 | 327) {
            return Some(at.value);
        }
        findings.push(
            at.pin(Finding::new(
                Severity::Error,
                "bad-working-plane",
                format!("`EPSG:{}` is not a UTM zone on WGS 84", at.value),
            ))
            .hint(
                "use 32601 to 32660 in the north, 32701 to 32760 in the south, or remove the key",
            ),
        );
    }
    WorkingPlane::for_place(middle).ok()?.crs().epsg()
}
