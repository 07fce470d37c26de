//! The territory: written, or the box around everything with a margin.

use geodesy::{LonLat, LonLatBox, WorkingPlane};
use model::{Finding, Mast, Premises, Severity, Territory};

use crate::schema::{DesignText, TerritoryText};
use crate::written::At;

/// Margin of a territory that is not written.
const MARGIN_M: f64 = 5000.0;
/// Metres of one degree of latitude, near enough for a margin.
const METRES_PER_DEGREE: f64 = 111_320.0;

/// Widest territory that may cross the 180th meridian: a wider one has its corners exchanged.
const WIDEST_ACROSS_DEG: f64 = 45.0;

fn with_margin(around: LonLatBox) -> Option<LonLatBox> {
    let lat_margin = MARGIN_M / METRES_PER_DEGREE;
    let middle_rad = around.centre().lat_deg().to_radians();
    let lon_margin = lat_margin / middle_rad.cos().max(0.01);
    LonLatBox::from_degrees([
        around.west_deg() - lon_margin,
        (around.south_deg() - lat_margin).max(-90.0),
        around.east_deg() + lon_margin,
        (around.north_deg() + lat_margin).min(90.0),
    ])
    .ok()
}

fn corners(text: &TerritoryText) -> Option<LonLatBox> {
    let (sw, ne) = (
        text.south_west.as_ref()?.value,
        text.north_east.as_ref()?.value,
    );
    let in_degrees = [sw.0, ne.0]
        .iter()
        .all(|lon| (-180.0..=180.0).contains(lon));
    if !in_degrees || sw.1 >= ne.1 {
        return None;
    }
    let corner_box = LonLatBox::from_degrees([sw.0, sw.1, ne.0, ne.1]).ok()?;
    let width_deg = corner_box.width_deg();
    let is_exchanged = sw.0 > ne.0 && width_deg > WIDEST_ACROSS_DEG;
    (width_deg > 0.0 && !is_exchanged).then_some(corner_box)
}

/// The written territory, or the box around the masts.
pub(super) fn written_or_around(design: &DesignText, masts: &[Mast]) -> Option<LonLatBox> {
    design
        .territory
        .as_ref()
        .and_then(|text| corners(&text.value))
        .or_else(|| LonLatBox::around(masts.iter().map(|mast| mast.position)).and_then(with_margin))
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
    let around = corner_box.or_else(|| LonLatBox::around(places).and_then(with_margin));
    let Some(around) = around else {
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
    Some(Territory {
        south_west: LonLat::new(around.west_deg(), around.south_deg()).ok()?,
        north_east: LonLat::new(around.east_deg(), around.north_deg()).ok()?,
        working_plane_epsg: working_plane(written, around.centre(), findings)?,
    })
}

/// The middle of a territory.
pub(super) fn middle(territory: &Territory) -> LonLat {
    LonLatBox::new(territory.south_west, territory.north_east).centre()
}

fn bad_corners(text: &At<TerritoryText>) -> Finding {
    let at = text.value.south_west.as_ref();
    let finding = Finding::new(
        Severity::Error,
        "bad-territory",
        "`south_west` does not lie south-west of `north_east`, or is not longitude and latitude",
    )
    .hint("write `[longitude, latitude]` in degrees, as in `south_west = [-28.14, 43.89]`");
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
