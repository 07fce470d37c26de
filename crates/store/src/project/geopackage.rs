//! Premises from a GeoPackage (OGC 12-128).

use std::path::Path;
use std::sync::Arc;

use geodesy::crs::MapXy;
use geodesy::{Crs, LonLat};
use geozero::{GeomProcessor, GeozeroGeometry};
use model::{Finding, Severity, TextPlace};
use pipeline::design::{PREMISES_COLUMNS, PremisesRow, PremisesTable, check_header};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Row};

use super::centroid::Shape;
use super::{file_place, message_and_hint};

/// Most premises that are read from one table.
const MOST_ROWS: usize = 2_000_000;

/// Premises from the one feature table of a GeoPackage: columns are columns,
/// the position is the geometry's point or centroid, brought to WGS 84.
pub fn premises_from_geopackage(file: &str, path: &Path) -> (Option<PremisesTable>, Vec<Finding>) {
    at_most(MOST_ROWS, file, path)
}

fn at_most(most: usize, file: &str, path: &Path) -> (Option<PremisesTable>, Vec<Finding>) {
    let mut findings = Vec::new();
    let table = open(file, path, "premises").and_then(|(connection, layer)| {
        let crs = layer.crs(file, &connection)?;
        rows((file, most), &connection, &layer, &crs, &mut findings)
            .map_err(|error| Box::new(unreadable(file, &error)))
    });
    match table {
        Ok(table) => (Some(table), findings),
        Err(finding) => {
            findings.push(*finding);
            (None, findings)
        }
    }
}

type Found<T> = Result<T, Box<Finding>>;

fn fault(file: &str, code: &'static str, message: String) -> Finding {
    Finding::new(Severity::Error, code, message).at(file_place(file))
}

fn unreadable(file: &str, error: &rusqlite::Error) -> Finding {
    fault(
        file,
        "syntax",
        format!("not a GeoPackage that can be read: {error}"),
    )
    .hint("save it again from the program that made it, and close it there")
}

/// The feature table of a GeoPackage.
struct Layer {
    table: String,
    geometry_column: String,
    srs_id: i64,
}

fn open(file: &str, path: &Path, wanted: &str) -> Found<(Connection, Layer)> {
    let read = || -> rusqlite::Result<(Connection, Vec<Layer>)> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        let layers = connection
            .prepare(
                "SELECT c.table_name, g.column_name, g.srs_id FROM gpkg_contents c \
                 JOIN gpkg_geometry_columns g ON g.table_name = c.table_name \
                 WHERE c.data_type = 'features' ORDER BY c.table_name",
            )?
            .query_map([], |row| {
                Ok(Layer {
                    table: row.get(0)?,
                    geometry_column: row.get(1)?,
                    srs_id: row.get(2)?,
                })
            })?
            .collect::<rusqlite::Result<_>>()?;
        Ok((connection, layers))
    };
    let (connection, mut layers) = read().map_err(|error| unreadable(file, &error))?;
    if let Some(named) = layers.iter().position(|layer| layer.table == wanted) {
        layers.swap(0, named);
        layers.truncate(1);
    }
    match (layers.pop(), layers.is_empty()) {
        (Some(layer), true) => Ok((connection, layer)),
        (None, _) => Err(Box::new(
            fault(
                file,
                "no-layer",
                format!("`{file}` has no layer with geometries"),
            )
            .hint(format!("save the {wanted} as a layer of points or areas")),
        )),
        (Some(_), false) => Err(Box::new(
            fault(
                file,
                "many-layers",
                format!("`{file}` has several layers with geometries"),
            )
            .hint(format!("call the right one `{wanted}`, or save it alone")),
        )),
    }
}

impl Layer {
    fn crs(&self, file: &str, connection: &Connection) -> Found<Crs> {
        let known = connection
            .query_row(
                "SELECT organization, organization_coordsys_id, definition \
                 FROM gpkg_spatial_ref_sys WHERE srs_id = ?1",
                [self.srs_id],
                |row| {
                    Ok((
                        row.get::<_, String>(0)?,
                        row.get::<_, i64>(1)?,
                        row.get::<_, String>(2)?,
                    ))
                },
            )
            .optional()
            .map_err(|error| unreadable(file, &error))?;
        let Some((organization, code, definition)) = known.filter(|_| self.srs_id > 0) else {
            let message = format!("layer `{}` names no reference system", self.table);
            return Err(Box::new(
                fault(file, "reference-system", message).hint("save the layer as `EPSG:4326`"),
            ));
        };
        let by_code = u32::try_from(code)
            .ok()
            .filter(|_| organization.eq_ignore_ascii_case("epsg"))
            .and_then(|code| Crs::from_epsg(code).ok());
        match by_code {
            Some(crs) => Ok(crs),
            None => Crs::from_wkt(&definition).map_err(|error| {
                let error = error.to_string();
                let (message, hint) = message_and_hint(&error);
                Box::new(fault(file, "reference-system", message.to_owned()).hint(hint))
            }),
        }
    }
}

/// A feature as it stands in its layer.
pub(super) struct Feature<'a> {
    /// In the layer's own system, or why it has none.
    pub(super) shape: Result<Shape, String>,
    /// The layer's system.
    pub(super) crs: &'a Crs,
    /// A value by its column's name; empty where there is none.
    pub(super) value: &'a dyn Fn(&str) -> String,
}

/// Every feature of the layer `buildings`, or of the only one; `take` says
/// whether to go on.
pub(super) fn features(
    file: &str,
    path: &Path,
    take: &mut dyn FnMut(Feature<'_>) -> bool,
) -> Found<()> {
    let (connection, layer) = open(file, path, "buildings")?;
    let crs = layer.crs(file, &connection)?;
    let mut go_through = || -> rusqlite::Result<()> {
        let sql = format!("SELECT * FROM {}", quoted(&layer.table));
        let mut statement = connection.prepare(&sql)?;
        let names: Vec<String> = statement.column_names().map(str::to_owned).collect();
        let mut query = statement.query([])?;
        while let Some(row) = query.next()? {
            let value = |column: &str| value_of(row, &names, column);
            let feature = Feature {
                shape: shape_of(row, &names, &layer),
                crs: &crs,
                value: &value,
            };
            if !take(feature) {
                break;
            }
        }
        Ok(())
    };
    go_through().map_err(|error| Box::new(unreadable(file, &error)))
}

/// A name as SQL writes it.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

fn rows(
    (file, most): (&str, usize),
    connection: &Connection,
    layer: &Layer,
    crs: &Crs,
    findings: &mut Vec<Finding>,
) -> rusqlite::Result<PremisesTable> {
    let sql = format!("SELECT * FROM {}", quoted(&layer.table));
    let mut statement = connection.prepare(&sql)?;
    let names: Vec<String> = statement.column_names().map(str::to_owned).collect();
    let mut header = vec!["lon".to_owned(), "lat".to_owned()];
    // The position comes from the geometry, whatever columns stand beside it.
    header.extend(
        names
            .iter()
            .filter(|name| !matches!(name.as_str(), "lon" | "lat"))
            .cloned(),
    );
    let file: Arc<str> = Arc::from(file);
    check_header(&file, 0, &header, findings);
    let mut table = PremisesTable {
        file: Arc::clone(&file),
        columns: PREMISES_COLUMNS
            .iter()
            .map(|&name| name.to_owned())
            .collect(),
        rows: Arc::default(),
    };
    let mut rows = Vec::new();
    let mut query = statement.query([])?;
    while let Some(row) = query.next()? {
        if rows.len() == most {
            findings.push(too_many(&file, &layer.table, most));
            break;
        }
        let label = format!("feature {}", rows.len() + 1);
        let place = match position(row, &names, layer, crs) {
            Ok(place) => Some(place),
            Err(reason) => {
                findings.push(
                    fault(
                        &file,
                        "no-geometry",
                        format!("{label} has no position: {reason}"),
                    )
                    .at(TextPlace {
                        text: label.clone(),
                        ..file_place(&file)
                    })
                    .hint("give it a point or an area, or remove it"),
                );
                None
            }
        };
        rows.push(PremisesRow {
            line: 0,
            cells: cells(row, &names, place),
            label,
        });
    }
    table.rows = Arc::new(rows);
    Ok(table)
}

fn too_many(file: &str, table: &str, most: usize) -> Finding {
    fault(
        file,
        "too-many-premises",
        format!("layer `{table}` has more than `{most}` premises; the rest is not read"),
    )
    .hint("keep the premises of the territory only, or make one project of each part")
}

fn cells(row: &Row<'_>, names: &[String], place: Option<LonLat>) -> Vec<String> {
    let cell = |column: &str| match (column, place) {
        ("lon", Some(place)) => place.lon_deg().to_string(),
        ("lat", Some(place)) => place.lat_deg().to_string(),
        ("lon" | "lat", None) => String::new(),
        _ => value_of(row, names, column),
    };
    PREMISES_COLUMNS.iter().map(|column| cell(column)).collect()
}

fn value_of(row: &Row<'_>, names: &[String], column: &str) -> String {
    let index = names.iter().position(|name| name == column);
    let value = index.and_then(|index| row.get_ref(index).ok());
    value.map_or(String::new(), value_text)
}

fn value_text(value: ValueRef<'_>) -> String {
    match value {
        ValueRef::Null | ValueRef::Blob(_) => String::new(),
        ValueRef::Integer(number) => number.to_string(),
        ValueRef::Real(number) => number.to_string(),
        ValueRef::Text(text) => String::from_utf8_lossy(text).trim().to_owned(),
    }
}

fn shape_of(row: &Row<'_>, names: &[String], layer: &Layer) -> Result<Shape, String> {
    let blob = names
        .iter()
        .position(|name| name.eq_ignore_ascii_case(&layer.geometry_column))
        .and_then(|index| row.get_ref(index).ok())
        .and_then(|value| value.as_blob().ok())
        .ok_or("the geometry is empty")?;
    geometry(blob)
}

fn position(row: &Row<'_>, names: &[String], layer: &Layer, crs: &Crs) -> Result<LonLat, String> {
    let shape = shape_of(row, names, layer)?;
    let [x, y] = shape.centroid().ok_or("the geometry is empty")?;
    crs.to_lonlat(MapXy { x, y })
        .map_err(|error| message_and_hint(&error.to_string()).0.to_owned())
}

/// Header of a geometry (OGC 12-128, clause 2.1.3): `GP`, version, flags,
/// reference system, envelope; then well-known binary.
fn geometry(blob: &[u8]) -> Result<Shape, String> {
    let wkb = match blob {
        [b'G', b'P', _version, flags, _, _, _, _, rest @ ..] => {
            let envelope_bytes = match (flags >> 1) & 7 {
                0 => 0,
                1 => 32,
                2 | 3 => 48,
                4 => 64,
                _ => return Err("the geometry's header is broken".to_owned()),
            };
            rest.get(envelope_bytes..)
                .ok_or("the geometry is cut short")?
        }
        _ => return Err("the geometry is not a GeoPackage one".to_owned()),
    };
    if !is_simple_feature(wkb) {
        return Err("the geometry is not a point, line or area".to_owned());
    }
    let mut shape = ShapeReader::default();
    geozero::wkb::Wkb(wkb)
        .process_geom(&mut shape)
        .map_err(|error| format!("the geometry is broken: {error}"))?;
    Ok(shape.shape)
}

/// Whether well-known binary is a point, line, area or several of them.
/// Collections may nest without end, so they are not read.
fn is_simple_feature(wkb: &[u8]) -> bool {
    let code = match wkb {
        [0, a, b, c, d, ..] => u32::from_be_bytes([*a, *b, *c, *d]),
        [1, a, b, c, d, ..] => u32::from_le_bytes([*a, *b, *c, *d]),
        _ => return false,
    };
    // Thousands tell of heights and measures.
    code < 4000 && (1..=6).contains(&(code % 1000))
}

/// Collects what well-known binary holds.
#[derive(Default)]
struct ShapeReader {
    shape: Shape,
    is_area: bool,
}

impl GeomProcessor for ShapeReader {
    fn xy(&mut self, x: f64, y: f64, _: usize) -> geozero::error::Result<()> {
        let ring = self.shape.areas.last_mut().and_then(|area| area.last_mut());
        match (self.is_area, ring, self.shape.lines.last_mut()) {
            (true, Some(ring), _) => ring.push([x, y]),
            (false, _, Some(line)) => line.push([x, y]),
            _ => self.shape.points.push([x, y]),
        }
        Ok(())
    }

    fn linestring_begin(&mut self, _: bool, _: usize, _: usize) -> geozero::error::Result<()> {
        match self.shape.areas.last_mut() {
            Some(area) if self.is_area => area.push(Vec::new()),
            _ => self.shape.lines.push(Vec::new()),
        }
        Ok(())
    }

    fn polygon_begin(&mut self, _: bool, _: usize, _: usize) -> geozero::error::Result<()> {
        self.is_area = true;
        self.shape.areas.push(Vec::new());
        Ok(())
    }

    fn polygon_end(&mut self, _: bool, _: usize) -> geozero::error::Result<()> {
        self.is_area = false;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Header without an envelope, then a little-endian point.
    fn point(x: f64, y: f64) -> Vec<u8> {
        let mut blob = b"GP\x00\x01\xe6\x10\x00\x00\x01\x01\x00\x00\x00".to_vec();
        blob.extend(x.to_le_bytes());
        blob.extend(y.to_le_bytes());
        blob
    }

    #[test]
    fn exact_point_with_and_without_envelope() {
        let plain = point(9.5, 47.1);
        assert_eq!(geometry(&plain).expect("a point").points, [[9.5, 47.1]]);
        let mut boxed = plain[..8].to_vec();
        boxed[3] = 0b11;
        boxed.extend([0; 32]);
        boxed.extend(&plain[8..]);
        assert_eq!(geometry(&boxed).expect("a point").points, [[9.5, 47.1]]);
    }

    /// A GeoPackage of points with the tables that are looked at (OGC 12-128).
    fn geopackage_of(points: usize, path: &Path) {
        let connection = Connection::open(path).expect("a database");
        connection
            .execute_batch(
                "CREATE TABLE gpkg_contents (table_name TEXT, data_type TEXT);
                 CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER);
                 CREATE TABLE gpkg_spatial_ref_sys (srs_id INTEGER, organization TEXT, organization_coordsys_id INTEGER, definition TEXT);
                 INSERT INTO gpkg_contents VALUES ('premises', 'features');
                 INSERT INTO gpkg_geometry_columns VALUES ('premises', 'geom', 4326);
                 INSERT INTO gpkg_spatial_ref_sys VALUES (4326, 'EPSG', 4326, '');
                 CREATE TABLE premises (id TEXT, geom BLOB);",
            )
            .expect("tables");
        for i in 0..points {
            let row = (format!("p{i}"), point(9.5, 47.1));
            connection
                .execute("INSERT INTO premises VALUES (?1, ?2)", row)
                .expect("a row");
        }
    }

    #[test]
    fn exact_what_is_left_out_is_told() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("premises.gpkg");
        geopackage_of(3, &path);
        let (table, findings) = at_most(3, "premises.gpkg", &path);
        assert_eq!((table.expect("a table").rows.len(), findings.len()), (3, 0));
        let (table, findings) = at_most(2, "premises.gpkg", &path);
        assert_eq!(table.expect("a table").rows.len(), 2);
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].code, "too-many-premises");
        assert_eq!(findings[0].severity, Severity::Error);
        assert!(findings[0].message.contains("more than `2`"));
    }

    proptest! {
        #[test]
        fn exact_junk_is_no_panic(mut blob in prop::collection::vec(any::<u8>(), 0..200), flags in 0u8..8, kind in 0u8..9) {
            let _ = geometry(&blob);
            let mut headed = vec![b'G', b'P', 0, flags, 0, 0, 0, 0];
            headed.append(&mut blob);
            let _ = geometry(&headed);
            let mut typed = b"GP\x00\x01\x00\x00\x00\x00\x01".to_vec();
            typed.extend([kind, 0, 0, 0]);
            typed.extend(&headed);
            let _ = geometry(&typed);
        }
    }
}
