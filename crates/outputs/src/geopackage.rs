//! All layers in one GeoPackage.
//!
//! Source: OGC 12-128r17, GeoPackage Encoding Standard 1.3: application id
//! and version (1.1.2), spatial reference systems (1.1.2.1), contents
//! (1.1.3), geometry columns (2.1.5), geometry blob (2.1.3), and the schema
//! extension (annex F.9) for the meaning of each column.

mod geometry;

use rusqlite::types::Value;
use rusqlite::{Connection, MAIN_DB, params, params_from_iter};

use crate::handout::{CAUTION, Handout, OutputError};
use crate::layers::{self, Cell, Column, Kind, Layer, Row, Shape};

/// `GPKG` in ASCII.
const APPLICATION_ID: i64 = 0x4750_4b47;
/// Version 1.3.0 of the standard.
const USER_VERSION: i64 = 10_300;
/// WGS 84.
const SRS_ID: i32 = 4326;

const WGS84_WKT: &str = r#"GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]"#;

const TABLES: &str = "
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL,
  srs_id INTEGER PRIMARY KEY,
  organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL,
  description TEXT
);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY,
  data_type TEXT NOT NULL,
  identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE,
  min_y DOUBLE,
  max_x DOUBLE,
  max_y DOUBLE,
  srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
);
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL,
  m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
);
CREATE TABLE gpkg_extensions (
  table_name TEXT,
  column_name TEXT,
  extension_name TEXT NOT NULL,
  definition TEXT NOT NULL,
  scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
);
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  name TEXT,
  title TEXT,
  description TEXT,
  mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name)
);
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL,
  value TEXT,
  min NUMERIC,
  min_is_inclusive BOOLEAN,
  max NUMERIC,
  max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
);
";

/// All layers as one file.
pub fn geopackage(handout: &Handout<'_>) -> Result<Vec<u8>, OutputError> {
    package(handout.written_at, |file| {
        layers::all(handout).iter().try_for_each(|layer| {
            let blob = |row: &Row| geometry::blob(&row.shape, SRS_ID);
            let extents = layer.rows.iter().map(|r| geometry::Extent::of(&r.shape));
            file.add(FeatureTable {
                name: layer.name,
                title: layer.title,
                geometry_type: geometry_type(layer),
                columns: &layer.columns,
                extent: extents
                    .reduce(geometry::Extent::union)
                    .map(|e| [e.min_x, e.max_x, e.min_y, e.max_y]),
                rows: &mut layer
                    .rows
                    .iter()
                    .map(|row| (blob(row), row.cells.as_slice())),
            })
        })
    })
}

/// A file with the tables that the standard asks for, its layers added by `fill`.
pub(crate) fn package(
    written_at: &str,
    fill: impl FnOnce(&Package<'_>) -> Result<(), OutputError>,
) -> Result<Vec<u8>, OutputError> {
    let mut connection = Connection::open_in_memory()?;
    connection.pragma_update(None, "application_id", APPLICATION_ID)?;
    connection.pragma_update(None, "user_version", USER_VERSION)?;
    let transaction = connection.transaction()?;
    transaction.execute_batch(TABLES)?;
    reference_systems(&transaction)?;
    extensions(&transaction)?;
    fill(&Package {
        db: &transaction,
        last_change: with_milliseconds(written_at),
    })?;
    transaction.commit()?;
    let bytes = connection.serialize(MAIN_DB)?.to_vec();
    Ok(bytes)
}

/// A file that layers are added to.
pub(crate) struct Package<'a> {
    db: &'a Connection,
    last_change: String,
}

/// A table of features to be added, longitude and latitude on WGS 84.
pub(crate) struct FeatureTable<'a> {
    pub(crate) name: &'a str,
    pub(crate) title: &'a str,
    pub(crate) geometry_type: &'static str,
    pub(crate) columns: &'a [Column],
    /// West, east, south, north.
    pub(crate) extent: Option<[f64; 4]>,
    /// Geometry blob and cells of each row.
    pub(crate) rows: &'a mut dyn Iterator<Item = (Vec<u8>, &'a [Cell])>,
}

/// The standard wants a time with fractions of a second.
fn with_milliseconds(written_at: &str) -> String {
    match written_at.strip_suffix('Z') {
        Some(time) if !time.contains('.') => format!("{time}.000Z"),
        _ => written_at.to_owned(),
    }
}

fn reference_systems(db: &Connection) -> Result<(), OutputError> {
    let mut insert =
        db.prepare("INSERT INTO gpkg_spatial_ref_sys VALUES (?1, ?2, ?3, ?2, ?4, ?5)")?;
    let undefined = "undefined";
    insert.execute(params![
        "Undefined Cartesian SRS",
        -1,
        "NONE",
        undefined,
        "undefined Cartesian coordinate reference system"
    ])?;
    insert.execute(params![
        "Undefined geographic SRS",
        0,
        "NONE",
        undefined,
        "undefined geographic coordinate reference system"
    ])?;
    insert.execute(params![
        "WGS 84 geodetic",
        SRS_ID,
        "EPSG",
        WGS84_WKT,
        "longitude/latitude coordinates in decimal degrees on the WGS 84 spheroid"
    ])?;
    Ok(())
}

fn extensions(db: &Connection) -> Result<(), OutputError> {
    let mut insert = db.prepare(
        "INSERT INTO gpkg_extensions VALUES (?1, NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write')",
    )?;
    insert.execute(["gpkg_data_columns"])?;
    insert.execute(["gpkg_data_column_constraints"])?;
    Ok(())
}

/// Name of the geometry column.
const GEOMETRY: &str = "geom";

impl Package<'_> {
    /// Adds a table.
    pub(crate) fn add(&self, table: FeatureTable<'_>) -> Result<(), OutputError> {
        let side = |i: usize| table.extent.map(|e| e[i]);
        self.db.execute(
            "INSERT INTO gpkg_contents VALUES (?1, 'features', ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            params![
                table.name,
                format!("{}. {CAUTION}", table.title),
                self.last_change,
                side(0),
                side(2),
                side(1),
                side(3),
                SRS_ID
            ],
        )?;
        self.db.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?1, ?2, ?3, ?4, 0, 0)",
            params![table.name, GEOMETRY, table.geometry_type, SRS_ID],
        )?;
        self.db.execute_batch(&create_table(&table))?;
        self.describe(&table)?;
        let marks = vec!["?"; table.columns.len() + 1].join(", ");
        let mut insert = self.db.prepare(&format!(
            "INSERT INTO \"{}\" VALUES (NULL, {marks})",
            table.name
        ))?;
        for (blob, cells) in table.rows {
            let values = cells.iter().map(value);
            let values = std::iter::once(Value::Blob(blob)).chain(values);
            insert.execute(params_from_iter(values))?;
        }
        Ok(())
    }

    fn describe(&self, table: &FeatureTable<'_>) -> Result<(), OutputError> {
        let mut insert = self
            .db
            .prepare("INSERT INTO gpkg_data_columns VALUES (?1, ?2, NULL, NULL, ?3, NULL, NULL)")?;
        for column in table.columns {
            insert.execute([table.name, column.name, column.meaning])?;
        }
        Ok(())
    }
}

fn geometry_type(layer: &Layer) -> &'static str {
    match layer.name {
        "links" | "hops" => "LINESTRING",
        "sector_wedges" => "POLYGON",
        _ => "POINT",
    }
}

/// Names of columns are our own, so that quoting them is all they need.
fn create_table(layer: &FeatureTable<'_>) -> String {
    let mut sql = format!(
        "CREATE TABLE \"{}\" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {GEOMETRY} {}",
        layer.name, layer.geometry_type
    );
    for column in layer.columns {
        let kind = match column.kind {
            Kind::Text => "TEXT",
            Kind::Number => "DOUBLE",
            Kind::Count => "INTEGER",
            Kind::Flag => "BOOLEAN",
        };
        sql.push_str(&format!(", \"{}\" {kind}", column.name));
    }
    sql.push(')');
    sql
}

fn value(cell: &Cell) -> Value {
    match cell {
        Cell::Text(text) => Value::Text(text.clone()),
        Cell::Number(value) => Value::Real(*value),
        Cell::Count(value) => Value::Integer(*value),
        Cell::Flag(value) => Value::Integer(i64::from(*value)),
        Cell::Empty => Value::Null,
    }
}

/// The places of a shape.
fn places(shape: &Shape) -> &[geodesy::LonLat] {
    match shape {
        Shape::Point(place) => std::slice::from_ref(place),
        Shape::Line(ends) => ends,
        Shape::Area(ring) => ring,
    }
}
