//! Premises from GeoJSON (RFC 7946).

use std::sync::Arc;

use geojson::{Feature, GeoJson, GeometryValue, JsonValue, Position};
use model::{Finding, Severity, TextPlace};
use pipeline::design::{PREMISES_COLUMNS, PremisesRow, PremisesTable, SourceText, check_header};

use super::centroid::Shape;
use super::file_place;

/// Premises from a GeoJSON feature collection: properties are columns, the
/// position is the geometry's point or centroid.
pub fn premises_from_geojson(source: &SourceText) -> (Option<PremisesTable>, Vec<Finding>) {
    let mut findings = Vec::new();
    let text = source.text.trim_start_matches('\u{feff}');
    let features = match text.parse::<GeoJson>() {
        Ok(GeoJson::FeatureCollection(collection)) => {
            check_crs(
                &source.file,
                collection.foreign_members.as_ref(),
                &mut findings,
            );
            collection.features
        }
        Ok(GeoJson::Feature(feature)) => vec![feature],
        Ok(GeoJson::Geometry(_)) => {
            let message = format!("`{}` holds a geometry without properties", source.file);
            findings.push(
                fault(&source.file, "syntax", message)
                    .hint("save a feature collection, each feature with a property `id`"),
            );
            return (None, findings);
        }
        Err(error) => {
            let message = format!("not valid GeoJSON: {error}");
            findings.push(
                fault(&source.file, "syntax", message)
                    .hint("save a feature collection by RFC 7946 from the program that made it"),
            );
            return (None, findings);
        }
    };
    let table = table(&source.file, &features, &mut findings);
    (Some(table), findings)
}

fn fault(file: &Arc<str>, code: &'static str, message: String) -> Finding {
    Finding::new(Severity::Error, code, message).at(file_place(file))
}

/// Older GeoJSON may name another reference system; RFC 7946 knows WGS 84 only.
pub(super) fn check_crs(
    file: &Arc<str>,
    members: Option<&geojson::JsonObject>,
    findings: &mut Vec<Finding>,
) {
    let Some(crs) = members
        .and_then(|members| members.get("crs"))
        .filter(|crs| !crs.is_null())
    else {
        return;
    };
    let name = crs["properties"]["name"]
        .as_str()
        .unwrap_or("without a name");
    if !(name.contains("CRS84") || name.ends_with("4326")) {
        let message = format!("`{file}` is in reference system `{name}`");
        findings.push(
            fault(file, "reference-system", message)
                .hint("GeoJSON is in WGS 84: save it as `EPSG:4326`, or as a GeoPackage"),
        );
    }
}

fn table(file: &Arc<str>, features: &[Feature], findings: &mut Vec<Finding>) -> PremisesTable {
    check_header(file, 0, &columns(features), findings);
    let rows: Vec<PremisesRow> = features
        .iter()
        .enumerate()
        .map(|(index, feature)| row(file, index + 1, feature, findings))
        .collect();
    PremisesTable {
        file: Arc::clone(file),
        columns: PREMISES_COLUMNS
            .iter()
            .map(|&name| name.to_owned())
            .collect(),
        rows: Arc::new(rows),
    }
}

/// The columns that the features bring along: position, id and their properties' names.
fn columns(features: &[Feature]) -> Vec<String> {
    let mut columns = vec!["lon".to_owned(), "lat".to_owned()];
    if features.iter().any(|feature| feature.id.is_some()) {
        columns.push("id".to_owned());
    }
    for name in features
        .iter()
        .flat_map(|f| &f.properties)
        .flat_map(|p| p.keys())
    {
        if !columns.contains(name) {
            columns.push(name.clone());
        }
    }
    columns
}

fn row(
    file: &Arc<str>,
    number: usize,
    feature: &Feature,
    findings: &mut Vec<Finding>,
) -> PremisesRow {
    let label = format!("feature {number}");
    let centroid = feature
        .geometry
        .as_ref()
        .and_then(|geometry| shape(&geometry.value).centroid());
    if centroid.is_none() {
        findings.push(
            fault(file, "no-geometry", format!("{label} has no position"))
                .at(TextPlace {
                    text: label.clone(),
                    ..file_place(file)
                })
                .hint("give it a point or an area, or remove it"),
        );
    }
    let cell = |name: &str| match (name, centroid) {
        ("lon", Some([lon, _])) => lon.to_string(),
        ("lat", Some([_, lat])) => lat.to_string(),
        ("lon" | "lat", None) => String::new(),
        _ => property(feature, name),
    };
    PremisesRow {
        line: 0,
        cells: PREMISES_COLUMNS.iter().map(|name| cell(name)).collect(),
        label,
    }
}

fn property(feature: &Feature, name: &str) -> String {
    let property = feature.properties.as_ref().and_then(|all| all.get(name));
    match (property, &feature.id) {
        (Some(JsonValue::String(text)), _) => text.trim().to_owned(),
        (Some(JsonValue::Number(number)), _) => number.to_string(),
        (Some(JsonValue::Bool(flag)), _) => flag.to_string(),
        (_, Some(geojson::feature::Id::String(id))) if name == "id" => id.trim().to_owned(),
        (_, Some(geojson::feature::Id::Number(id))) if name == "id" => id.to_string(),
        _ => String::new(),
    }
}

pub(super) fn shape(geometry: &GeometryValue) -> Shape {
    let mut shape = Shape::default();
    add(geometry, &mut shape);
    shape
}

fn add(geometry: &GeometryValue, shape: &mut Shape) {
    match geometry {
        GeometryValue::Point { coordinates } => shape.points.extend(position(coordinates)),
        GeometryValue::MultiPoint { coordinates } => shape.points.extend(line(coordinates)),
        GeometryValue::LineString { coordinates } => shape.lines.push(line(coordinates)),
        GeometryValue::MultiLineString { coordinates } => {
            shape.lines.extend(coordinates.iter().map(|l| line(l)));
        }
        GeometryValue::Polygon { coordinates } => shape.areas.push(rings(coordinates)),
        GeometryValue::MultiPolygon { coordinates } => {
            shape
                .areas
                .extend(coordinates.iter().map(|area| rings(area)));
        }
        GeometryValue::GeometryCollection { geometries } => {
            for geometry in geometries {
                add(&geometry.value, shape);
            }
        }
    }
}

fn position(position: &Position) -> Option<[f64; 2]> {
    match position.as_slice() {
        [x, y, ..] => Some([*x, *y]),
        _ => None,
    }
}

fn line(positions: &[Position]) -> Vec<[f64; 2]> {
    positions.iter().filter_map(position).collect()
}

fn rings(rings: &[Vec<Position>]) -> Vec<Vec<[f64; 2]>> {
    rings.iter().map(|ring| line(ring)).collect()
}
