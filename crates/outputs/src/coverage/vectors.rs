//! Outlines as layers: GeoJSON (RFC 7946) and GeoPackage (OGC 12-128r17),
//! longitude and latitude on WGS 84.

use geodesy::LonLat;
use geojson::{Feature, FeatureCollection, GeometryValue, JsonObject, JsonValue, Position};
use raster::{CellXy, Grid};

use super::CoverageError;
use super::colours::hex;
use super::outline::{self, Corner};
use super::quantity::Quantity;
use super::statistics::statistics;
use crate::format::round_field;
use crate::geopackage::{FeatureTable, package};
use crate::handout::{CAUTION, OutputError};
use crate::layers::{Cell, Column, Kind};

/// What a row of a layer looks like on the map.
#[derive(Debug, Clone, PartialEq)]
pub enum Geometry {
    /// Areas, each an exterior ring counterclockwise and its holes clockwise; rings are closed.
    Areas(Vec<Vec<Vec<LonLat>>>),
    /// Lines.
    Lines(Vec<Vec<LonLat>>),
}

/// A table with outlines.
#[derive(Debug, Clone, PartialEq)]
pub struct VectorLayer {
    /// Name in files.
    pub name: String,
    /// What a person reads.
    pub title: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// One value a column, and the outline.
    pub rows: Vec<(Vec<Cell>, Geometry)>,
}

/// The classes of a grid as areas along the edges of its cells, one row a
/// class that occurs, the best first.
pub fn class_areas(grid: &Grid, quantity: &Quantity) -> Result<VectorLayer, CoverageError> {
    let classes: Vec<Option<usize>> = grid.cells().iter().map(|v| quantity.class_of(*v)).collect();
    let size = (grid.width(), grid.height());
    let patches = outline::patches(&classes, size, quantity.classes.len());
    let figures = statistics(grid, quantity, &[])?;
    let mut rows = Vec::new();
    for (class, figure) in quantity.best_first().into_iter().zip(&figures.classes) {
        if patches[class].is_empty() {
            continue;
        }
        let described = &quantity.classes[class];
        let cells = vec![
            Cell::from(quantity.name),
            Cell::from(class),
            Cell::from(described.label.as_str()),
            Cell::from(described.from),
            Cell::from(described.to),
            Cell::from(quantity.unit),
            Cell::from(figure.area_km2),
            Cell::Text(hex(described.colour)),
        ];
        let areas = patches[class].iter().map(|patch| {
            let rings = std::iter::once(&patch.exterior).chain(&patch.holes);
            rings.map(|ring| placed(grid, ring)).collect()
        });
        rows.push((cells, Geometry::Areas(areas.collect::<Result<_, _>>()?)));
    }
    Ok(VectorLayer {
        name: format!("{}_classes", quantity.name),
        title: format!("{}: areas of its classes", quantity.title),
        columns: columns_of_areas(),
        rows,
    })
}

fn placed(grid: &Grid, ring: &[Corner]) -> Result<Vec<LonLat>, CoverageError> {
    let place = |corner: &Corner| {
        let at = CellXy {
            col: corner.0 as f64,
            row: corner.1 as f64,
        };
        lonlat(grid, at)
    };
    ring.iter().map(place).collect()
}

pub(super) fn lonlat(grid: &Grid, at: CellXy) -> Result<LonLat, CoverageError> {
    Ok(grid.georeference().to_lonlat(at)?)
}

const QUANTITY: Column = Column {
    name: "quantity",
    kind: Kind::Text,
    meaning: "what the values are, with its unit",
};
const UNIT: Column = Column {
    name: "unit",
    kind: Kind::Text,
    meaning: "unit of the values",
};

fn columns_of_areas() -> Vec<Column> {
    let column = |name, kind, meaning| Column {
        name,
        kind,
        meaning,
    };
    vec![
        QUANTITY,
        column(
            "class",
            Kind::Count,
            "number of the class, in ascending order of the values",
        ),
        column("label", Kind::Text, "the class as a legend names it"),
        column(
            "from_value",
            Kind::Number,
            "least value that belongs to the class",
        ),
        column(
            "to_value",
            Kind::Number,
            "least value that no longer does; for names the code",
        ),
        UNIT,
        column("area_km2", Kind::Number, "area on the ellipsoid"),
        column("colour", Kind::Text, "colour of the class, red green blue"),
    ]
}

pub(super) fn columns_of_lines() -> Vec<Column> {
    let value = Column {
        name: "value",
        kind: Kind::Number,
        meaning: "value along the line",
    };
    vec![QUANTITY, value, UNIT]
}

/// A layer as GeoJSON.
pub fn geojson(layer: &VectorLayer) -> Result<String, CoverageError> {
    let collection = FeatureCollection {
        bbox: None,
        features: layer
            .rows
            .iter()
            .map(|row| feature(&layer.columns, row))
            .collect(),
        foreign_members: Some(JsonObject::from_iter([
            ("title".to_owned(), layer.title.as_str().into()),
            ("description".to_owned(), CAUTION.into()),
        ])),
    };
    let mut text = serde_json::to_string(&collection).map_err(OutputError::Json)?;
    text.push('\n');
    Ok(text)
}

fn feature(columns: &[Column], (cells, geometry): &(Vec<Cell>, Geometry)) -> Feature {
    let properties = columns.iter().zip(cells);
    let properties = properties.map(|(c, cell)| (c.name.to_owned(), value(c.name, cell)));
    let at = |p: &LonLat| {
        let (lon, lat) = (p.lon_deg(), p.lat_deg());
        Position::from(vec![
            round_field("lon_deg", lon),
            round_field("lat_deg", lat),
        ])
    };
    let line = |line: &Vec<LonLat>| line.iter().map(at).collect();
    let geometry = match geometry {
        Geometry::Areas(areas) => GeometryValue::MultiPolygon {
            coordinates: areas
                .iter()
                .map(|rings| rings.iter().map(line).collect())
                .collect(),
        },
        Geometry::Lines(lines) => GeometryValue::MultiLineString {
            coordinates: lines.iter().map(line).collect(),
        },
    };
    Feature {
        geometry: Some(geojson::Geometry::new(geometry)),
        properties: Some(properties.collect()),
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

/// Layers as one GeoPackage, those without a row left out; `written_at` is `2026-05-01T12:00:00Z`.
pub fn geopackage(layers: &[VectorLayer], written_at: &str) -> Result<Vec<u8>, CoverageError> {
    Ok(package(written_at, |file| {
        let mut filled = layers.iter().filter(|layer| !layer.rows.is_empty());
        filled.try_for_each(|layer| {
            let is_lines = matches!(layer.rows.first(), Some((_, Geometry::Lines(_))));
            let rows = layer
                .rows
                .iter()
                .map(|(cells, shape)| (blob(shape), cells.as_slice()));
            file.add(FeatureTable {
                name: &layer.name,
                title: &layer.title,
                geometry_type: if is_lines {
                    "MULTILINESTRING"
                } else {
                    "MULTIPOLYGON"
                },
                columns: &layer.columns,
                extent: extent(layer.rows.iter().map(|(_, shape)| shape)),
                rows: &mut rows.into_iter(),
            })
        })
    })?)
}

impl Geometry {
    fn places(&self) -> Box<dyn Iterator<Item = &LonLat> + '_> {
        match self {
            Self::Areas(areas) => Box::new(areas.iter().flatten().flatten()),
            Self::Lines(lines) => Box::new(lines.iter().flatten()),
        }
    }
}

/// West, east, south, north.
fn extent<'a>(shapes: impl Iterator<Item = &'a Geometry>) -> Option<[f64; 4]> {
    let places = shapes.flat_map(Geometry::places);
    let boxes = places.map(|p| [p.lon_deg(), p.lon_deg(), p.lat_deg(), p.lat_deg()]);
    boxes.reduce(|a, b| {
        [
            a[0].min(b[0]),
            a[1].max(b[1]),
            a[2].min(b[2]),
            a[3].max(b[3]),
        ]
    })
}

/// Header, envelope and well-known binary, little-endian.
///
/// Source: OGC 12-128r17, clause 2.1.3; OGC 06-103r4, clause 8.
fn blob(shape: &Geometry) -> Vec<u8> {
    const HEADER_WITH_ENVELOPE: [u8; 4] = [b'G', b'P', 0, 0b11];
    const LINE: u32 = 2;
    const POLYGON: u32 = 3;
    const MULTI_LINE: u32 = 5;
    const MULTI_POLYGON: u32 = 6;
    let mut bytes = HEADER_WITH_ENVELOPE.to_vec();
    bytes.extend(4326i32.to_le_bytes());
    for side in extent(std::iter::once(shape)).unwrap_or([f64::NAN; 4]) {
        bytes.extend(side.to_le_bytes());
    }
    match shape {
        Geometry::Areas(areas) => {
            start(&mut bytes, MULTI_POLYGON, areas.len());
            for rings in areas {
                start(&mut bytes, POLYGON, rings.len());
                rings.iter().for_each(|ring| points(&mut bytes, ring));
            }
        }
        Geometry::Lines(lines) => {
            start(&mut bytes, MULTI_LINE, lines.len());
            for line in lines {
                bytes.push(1);
                bytes.extend(LINE.to_le_bytes());
                points(&mut bytes, line);
            }
        }
    }
    bytes
}

fn start(bytes: &mut Vec<u8>, kind: u32, count: usize) {
    bytes.push(1);
    bytes.extend(kind.to_le_bytes());
    bytes.extend((count as u32).to_le_bytes());
}

fn points(bytes: &mut Vec<u8>, places: &[LonLat]) {
    bytes.extend((places.len() as u32).to_le_bytes());
    for place in places {
        bytes.extend(place.lon_deg().to_le_bytes());
        bytes.extend(place.lat_deg().to_le_bytes());
    }
}
