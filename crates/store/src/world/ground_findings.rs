//! What the ground that was read does not tell: heights under masts and
//! premises, classes without a row in the clutter table.

use std::collections::BTreeSet;

use geodesy::LonLat;
use model::settings::ClutterTable;
use model::{Finding, Network, Severity, Subject};
use raster::Mosaic;

/// Names that a finding lists before it says how many more there are.
const LISTED: usize = 8;

/// Findings about elevation; `told` are those of its files.
pub(super) fn of_terrain(network: &Network, elevation: &Mosaic, told: &[Finding]) -> Vec<Finding> {
    if elevation.is_empty() {
        return no_elevation(network, told).into_iter().collect();
    }
    let unknown = |at: LonLat| elevation.bilinear(at).is_nan();
    let mut findings: Vec<Finding> = network
        .masts
        .iter()
        .filter(|mast| unknown(mast.position))
        .map(|mast| {
            Finding::new(
                Severity::Error,
                "unknown-ground",
                format!("mast `{}` stands on ground whose height is unknown", mast.id),
            )
            .about(Subject::Mast(mast.id.clone()))
            .hint("check its `lon` and `lat`, or add terrain that covers it; unknown ground is never taken as flat")
        })
        .collect();
    let premises: Vec<&str> = network
        .premises
        .iter()
        .filter(|p| unknown(p.position))
        .map(|p| p.id.as_str())
        .collect();
    if !premises.is_empty() {
        findings.push(
            Finding::new(
                Severity::Warning,
                "unknown-ground",
                format!("no terrain covers {}", listed("premises", &premises)),
            )
            .hint("check their `lon` and `lat`, or add terrain that covers them"),
        );
    }
    findings
}

fn no_elevation(network: &Network, told: &[Finding]) -> Option<Finding> {
    // Files that cannot be read have been reported one by one.
    if told.iter().any(|f| f.severity == Severity::Error) {
        return None;
    }
    let (message, hint) = if network.ground.terrain.is_empty() {
        (
            "the height of the ground is unknown everywhere: the design names no elevation raster",
            "put GeoTIFF, .hgt or .asc files into the project and name them: `[ground] terrain = [\"terrain/*\"]`",
        )
    } else {
        (
            "none of the elevation rasters covers any mast or premises",
            "check the positions of the masts, or add the tiles that cover them",
        )
    };
    Some(Finding::new(Severity::Error, "no-elevation", message).hint(hint))
}

/// Findings about land cover classes.
pub(super) fn of_classes(clutter: &ClutterTable, classes: &Mosaic) -> Option<Finding> {
    let mut missing: BTreeSet<i32> = BTreeSet::new();
    for grid in classes.grids() {
        // Neighbours mostly share a class.
        let mut last = f32::NAN;
        for value in grid.cells() {
            if *value != last && !value.is_nan() {
                last = *value;
                let code = last as i32;
                if clutter.class(code).is_none() {
                    missing.insert(code);
                }
            }
        }
    }
    if missing.is_empty() {
        return None;
    }
    let codes: Vec<String> = missing.iter().map(i32::to_string).collect();
    let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
    let finding = Finding::new(
        Severity::Warning,
        "unknown-class",
        format!(
            "legend `{}` has no row for {} of the land cover; it counts as bare ground",
            clutter.legend,
            listed("class", &codes)
        ),
    );
    Some(finding.hint("name the legend that the raster was made with, or write your own legend card with these codes"))
}

/// `premises `a`, `b` and 3 more`.
fn listed(what: &str, names: &[&str]) -> String {
    let shown: Vec<String> = names
        .iter()
        .take(LISTED)
        .map(|name| format!("`{name}`"))
        .collect();
    match names.len().saturating_sub(LISTED) {
        0 => format!("{what} {}", shown.join(", ")),
        more => format!("{what} {} and {more} more", shown.join(", ")),
    }
}
