//! Layers as GeoJSON (RFC 7946): WGS 84, longitude first, rings counterclockwise.

use geodesy::LonLat;
use geojson::{Feature, FeatureCollection, GeometryValue, JsonObject, JsonValue};

use crate::format::round_field;
use crate::handout::{CAUTION, Handout, OutputError};
use crate::layers::{self, Cell, Column, Layer, Row, Shape};

/// Premises as points.
pub fn premises(handout: &Handout<'_>) -> Result<String, OutputError> {
    collection(&layers::premises(handout))
}

/// Sectors as wedges, each with its mast's place in its fields.
pub fn sectors(handout: &Handout<'_>) -> Result<String, OutputError> {
    collection(&layers::sector_wedges(handout))
}

/// Links as lines.
pub fn links(handout: &Handout<'_>) -> Result<String, OutputError> {
    collection(&layers::links(handout))
}

fn collection(layer: &Layer) -> Result<String, OutputError> {
    let collection = FeatureCollection {
        bbox: None,
        features: layer
            .rows
            .iter()
            .map(|row| feature(&layer.columns, row))
            .collect(),
        foreign_members: Some(JsonObject::from_iter([(
            "description".to_owned(),
            CAUTION.into(),
        )])),
    };
    let mut text = serde_json::to_string(&collection)?;
    text.push('\n');
    Ok(text)
}

fn feature(columns: &[Column], row: &Row) -> Feature {
    let properties: JsonObject = columns
        .iter()
        .zip(&row.cells)
        .map(|(column, cell)| (column.name.to_owned(), value(column.name, cell)))
        .collect();
    Feature {
        geometry: Some(geojson::Geometry::new(geometry(&row.shape))),
        properties: Some(properties),
        ..Feature::default()
    }
}

fn value(name: &str, cell: &Cell) -> JsonValue {
    match cell {
        Cell::Text(text) => text.as_str().into(),
        Cell::Number(value) => round_field(name, *value).into(),
        Cell::Count(value) => (*value).into(),
        Cell::Flag(value) => (*value).into(),
        Cell::Empty => JsonValue::Null,
    }
}

fn geometry(shape: &Shape) -> GeometryValue {
    let at = |place: &LonLat| {
        geojson::Position::from(vec![
            round_field("lon_deg", place.lon_deg()),
            round_field("lat_deg", place.lat_deg()),
        ])
    };
    match shape {
        Shape::Point(place) => GeometryValue::Point {
            coordinates: at(place),
        },
        Shape::Line(ends) => GeometryValue::LineString {
            coordinates: ends.iter().map(at).collect(),
        },
        Shape::Area(ring) => GeometryValue::Polygon {
            coordinates: vec![ring.iter().map(at).collect()],
        },
    }
}
