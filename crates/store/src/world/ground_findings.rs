//! What the ground that was read does not tell: heights under masts and
//! premises, classes without a row in the clutter table.

use std::collections::BTreeSet;

use geodesy::LonLat;
use model::settings::ClutterTable;
use model::{Finding, Network, Severity, Subject};
use raster::Grid;

/// Names that a finding lists before it says how many more there are.
const LISTED: usize = 8;

/// Findings about elevation: whether there is none at all, what its files have
/// told, and at which places it is known.
pub(super) fn of_terrain(
    network: &Network,
    (is_empty, told): (bool, &[Finding]),
    known: &dyn Fn(LonLat) -> bool,
) -> Vec<Finding> {
    if is_empty {
        return no_elevation(network, told).into_iter().collect();
    }
    let unknown = |at: LonLat| !known(at);
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

/// Codes of classes that were met.
#[derive(Debug, Default)]
pub(super) struct Codes(BTreeSet<i32>);

impl Codes {
    pub(super) fn add(&mut self, classes: &Grid) {
        // Neighbours mostly share a class.
        let mut last = f32::NAN;
        for value in classes.cells() {
            if *value != last && !value.is_nan() {
                last = *value;
                self.0.insert(last as i32);
            }
        }
    }
}

/// Findings about land cover classes.
pub(super) fn of_classes(clutter: &ClutterTable, codes: &Codes) -> Option<Finding> {
    let missing = codes
        .0
        .iter()
        .filter(|code| clutter.class(**code).is_none());
    let missing: Vec<&i32> = missing.collect();
    if missing.is_empty() {
        return None;
    }
    let codes: Vec<String> = missing.iter().map(|code| code.to_string()).collect();
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
