//! Elevation and land cover.

use std::sync::Arc;

use glob::{MatchOptions, Pattern};
use model::settings::RasterSource;
use model::{BuildingSources, ClutterTable, Finding, GroundSources, Severity};

use super::{Context, given, lookup};
use crate::schema::{BuildingsText, GroundText};
use crate::text::nearest;
use crate::written::At;

/// `*` stays within a folder, `**` does not.
const MATCHING: MatchOptions = MatchOptions {
    case_sensitive: true,
    require_literal_separator: true,
    require_literal_leading_dot: false,
};

pub(super) fn resolve(
    (text, buildings): (&GroundText, &BuildingsText),
    context: &Context<'_>,
    findings: &mut Vec<Finding>,
) -> GroundSources {
    let terrain = rasters(&text.terrain, text, &context.sources.files, findings);
    let canopy = rasters(&text.canopy, text, &context.sources.files, findings);
    let land_cover = rasters(&text.land_cover, text, &context.sources.files, findings);
    if text
        .terrain
        .as_ref()
        .is_none_or(|list| list.value.is_empty())
    {
        findings.push(
            Finding::new(
                Severity::Warning,
                "no-terrain",
                "the design names no elevation raster: every path is unknown",
            )
            .hint("put GeoTIFF, .hgt or .asc files into the project and name them: `[ground] terrain = [\"terrain/*\"]`"),
        );
    }
    let clutter = clutter(text, !land_cover.is_empty(), context, findings);
    GroundSources {
        terrain,
        land_cover,
        canopy,
        canopy_unit_m: given(&text.canopy_unit_m),
        clutter,
        buildings: footprints(buildings, &context.sources.files, findings),
    }
}

fn footprints(
    text: &BuildingsText,
    files: &[Arc<str>],
    findings: &mut Vec<Finding>,
) -> BuildingSources {
    let mut named: Vec<Arc<str>> = Vec::new();
    for written in text.files.iter().flat_map(|list| &list.value) {
        for path in paths(written, files, findings) {
            if !named.contains(&path) {
                named.push(path);
            }
        }
    }
    BuildingSources {
        files: named,
        height_field: given(&text.height_field),
        default_height_m: text.default_height_m.as_ref().map(|height| height.value),
    }
}

fn rasters(
    list: &Option<At<Vec<At<String>>>>,
    text: &GroundText,
    files: &[Arc<str>],
    findings: &mut Vec<Finding>,
) -> Vec<RasterSource> {
    let mut sources: Vec<RasterSource> = Vec::new();
    for written in list.iter().flat_map(|list| &list.value) {
        for path in paths(written, files, findings) {
            if !sources.iter().any(|source| source.path == path) {
                sources.push(raster(path, text));
            }
        }
    }
    sources
}

/// The files that a path or pattern stands for.
fn paths(written: &At<String>, files: &[Arc<str>], findings: &mut Vec<Finding>) -> Vec<Arc<str>> {
    let path = written.value.trim_start_matches("./");
    let is_pattern = path.contains(['*', '?', '[']);
    if !is_pattern {
        if files.iter().any(|file| &**file == path) || is_outside(path) {
            return vec![Arc::from(path)];
        }
        let hint = match nearest(path, files.iter().map(|file| &**file)) {
            Some(file) => format!("did you mean `{file}`?"),
            None => "paths are relative to the project folder, with `/`".to_owned(),
        };
        findings.push(no_such_file(Severity::Error, written, &hint));
        return Vec::new();
    }
    let pattern = match Pattern::new(path) {
        Ok(pattern) => pattern,
        Err(error) => {
            let message = format!("`{path}` is not a file pattern: {}", error.msg);
            findings.push(
                written
                    .pin(Finding::new(Severity::Error, "bad-pattern", message))
                    .hint("use `*` for any part of a name and `**` for any folders"),
            );
            return Vec::new();
        }
    };
    let found: Vec<Arc<str>> = files
        .iter()
        .filter(|file| pattern.matches_with(file, MATCHING))
        .filter(|file| !is_side_file(file))
        .cloned()
        .collect();
    if found.is_empty() {
        let hint =
            "put the files there, or change the pattern; paths are relative to the project folder";
        findings.push(no_such_file(Severity::Warning, written, hint));
    }
    found
}

/// Files that stand beside a raster and are read with it: they are no raster of their own.
fn is_side_file(file: &str) -> bool {
    let lower = file.to_ascii_lowercase();
    [".prj", ".tfw", ".xml", ".txt", ".md", ".csv", ".ovr"]
        .iter()
        .any(|ending| lower.ends_with(ending))
}

/// Whether a path leads out of the project folder, where this crate cannot see it.
fn is_outside(path: &str) -> bool {
    path.starts_with('/') || path.starts_with("../") || path.contains(':')
}

fn no_such_file(severity: Severity, written: &At<String>, hint: &str) -> Finding {
    let message = format!("no file of the project matches `{}`", written.value);
    written
        .pin(Finding::new(severity, "no-such-file", message))
        .hint(hint)
}

fn raster(path: Arc<str>, text: &GroundText) -> RasterSource {
    let own = text
        .raster
        .iter()
        .flat_map(|list| &list.value)
        .filter(|raster| raster.value.is_sound)
        .find(|raster| {
            raster.value.file.as_ref().is_some_and(|file| {
                *file.value == *path
                    || Pattern::new(&file.value).is_ok_and(|p| p.matches_with(&path, MATCHING))
            })
        });
    RasterSource {
        band: own
            .and_then(|raster| raster.value.band.as_ref())
            .map_or(1, |band| band.value),
        assumed_crs: own
            .and_then(|raster| raster.value.assumed_crs.as_ref())
            .map(|crs| Arc::from(crs.value.as_str())),
        path,
    }
}

fn clutter(
    text: &GroundText,
    has_land_cover: bool,
    context: &Context<'_>,
    findings: &mut Vec<Finding>,
) -> ClutterTable {
    if has_land_cover && text.legend.is_none() {
        findings.push(
            Finding::new(
                Severity::Error,
                "missing-key",
                "`ground` has land cover but no `legend`",
            )
            .hint("say what its codes stand for, as in `legend = \"worldcover\"`"),
        );
    }
    let legends = &context.catalogue.legends;
    let Some(legend) = lookup(legends, text.legend.as_ref(), "legend", findings) else {
        return ClutterTable::default();
    };
    let mut table = (*legend).clone();
    for (code, height_m) in text.clutter_height_m.iter().flat_map(|table| &table.value) {
        override_height(&mut table, code, height_m, findings);
    }
    table
}

fn override_height(
    table: &mut ClutterTable,
    code: &str,
    height_m: &At<f64>,
    findings: &mut Vec<Finding>,
) {
    let class = code
        .parse::<i32>()
        .ok()
        .and_then(|code| table.classes.iter_mut().find(|class| class.code == code));
    let Some(class) = class else {
        let message = format!("legend `{}` has no class `{code}`", table.legend);
        findings.push(
            height_m
                .pin(Finding::new(Severity::Error, "unknown-reference", message))
                .hint("use the class's number as the key, as in `10 = 18`"),
        );
        return;
    };
    if !(0.0..=100.0).contains(&height_m.value) {
        let message = format!("clutter height `{}` m is outside 0 to 100", height_m.value);
        findings.push(
            height_m
                .pin(Finding::new(Severity::Error, "out-of-range", message))
                .hint("write the height above ground in metres"),
        );
        return;
    }
    class.height_m = height_m.value;
    "the design's own clutter_height_m".clone_into(&mut class.source);
}
