//! An overlay for a globe: OGC KML 2.2 (OGC 07-147r2) with its pictures in
//! one archive.
//!
//! A globe stretches a picture between two parallels and two meridians, so
//! the grid is brought into steps of equal longitude and latitude: each pixel
//! takes the cell that holds its middle. A limit between two classes is off
//! by up to half a pixel and half a cell; nothing is interpolated.

use std::io::{self, Cursor, Write as _};

use geodesy::{LonLat, LonLatBox};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use raster::{CellXy, Grid};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::CoverageError;
use super::legend::legend_png;
use super::picture::classes_png;
use super::quantity::Quantity;
use super::sheet::Caption;
use crate::format::xml_text;
use crate::handout::{CAUTION, OutputError};

/// A grid as it lies over a globe.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    /// The picture, north up, no data transparent.
    pub png: Vec<u8>,
    /// Columns of the picture.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Longitude of the left edge. The right one is greater, beyond 180
    /// where the picture spans that meridian.
    pub west_deg: f64,
    /// Longitude of the right edge.
    pub east_deg: f64,
    /// Latitude of the lower edge.
    pub south_deg: f64,
    /// Latitude of the upper edge.
    pub north_deg: f64,
}

/// More pixels on a side than this are no help on a globe, and too many for
/// the graphics memory of some.
const MOST_PIXELS: usize = 4096;

/// Between nodes of so many pixels the projection is linear: over 16 pixels
/// of 30 m it bends by less than a hundredth of a pixel.
const NODE_PIXELS: usize = 16;

impl Overlay {
    /// Brings a grid into equal steps of longitude and latitude, as fine as
    /// its cells, at most 4096 pixels a side.
    pub fn new(grid: &Grid, quantity: &Quantity) -> Result<Self, CoverageError> {
        let around = around(grid)?;
        let spacing_m = grid.spacing_m().filter(|s| *s > 0.0).unwrap_or(30.0);
        let width_deg = around.width_deg();
        let height_deg = around.north_deg() - around.south_deg();
        // A minute of latitude is a nautical mile of 1852 m.
        let per_deg = 60.0 * 1852.0 / spacing_m;
        let shrink = around.centre().lat_deg().to_radians().cos();
        let count = |steps: f64| (steps.ceil() as usize).clamp(1, MOST_PIXELS);
        let mut overlay = Self {
            png: Vec::new(),
            width: count(width_deg * per_deg * shrink),
            height: count(height_deg * per_deg),
            west_deg: around.west_deg(),
            east_deg: around.west_deg() + width_deg,
            south_deg: around.south_deg(),
            north_deg: around.north_deg(),
        };
        let cells = overlay.cells(grid);
        let classes = cells.into_iter().map(|at| {
            let cell = grid.containing(at?)?;
            quantity.class_of(grid.value(cell))
        });
        overlay.png = classes_png(classes, (overlay.width, overlay.height), quantity)?;
        Ok(overlay)
    }

    /// Where the middle of each pixel lies in the grid.
    fn cells(&self, grid: &Grid) -> Vec<Option<CellXy>> {
        let columns = self.width / NODE_PIXELS + 2;
        let rows = self.height / NODE_PIXELS + 2;
        let nodes: Vec<Option<CellXy>> = (0..rows * columns)
            .map(|i| {
                let place = self.place(i % columns * NODE_PIXELS, i / columns * NODE_PIXELS)?;
                grid.georeference().to_cell(place).ok()
            })
            .collect();
        let mut cells = Vec::with_capacity(self.width * self.height);
        for y in 0..self.height {
            for x in 0..self.width {
                let (left, top) = (x / NODE_PIXELS, y / NODE_PIXELS);
                let node = |c: usize, r: usize| nodes[r * columns + c];
                let share = |i: usize| (i % NODE_PIXELS) as f64 / NODE_PIXELS as f64;
                let along = |r: usize| Some(between(node(left, r)?, node(left + 1, r)?, share(x)));
                let at = || Some(between(along(top)?, along(top + 1)?, share(y)));
                cells.push(at());
            }
        }
        cells
    }

    /// The middle of a pixel, which may lie beyond the picture.
    fn place(&self, x: usize, y: usize) -> Option<LonLat> {
        let share = |i: usize, count: usize| (i as f64 + 0.5) / count as f64;
        let lon_deg = self.west_deg + (self.east_deg - self.west_deg) * share(x, self.width);
        let span_deg = self.north_deg - self.south_deg;
        let lat_deg = self.north_deg - span_deg * share(y, self.height);
        LonLat::new(geodesy::wrap_lon_deg(lon_deg, 0.0), lat_deg).ok()
    }
}

fn between(a: CellXy, b: CellXy, share: f64) -> CellXy {
    CellXy {
        col: a.col + (b.col - a.col) * share,
        row: a.row + (b.row - a.row) * share,
    }
}

/// The box around a grid: parallels and meridians bend in a projection, so
/// that its corners are not enough.
fn around(grid: &Grid) -> Result<LonLatBox, CoverageError> {
    const PARTS: usize = 32;
    let (width, height) = (grid.width() as f64, grid.height() as f64);
    let mut places = Vec::with_capacity(4 * (PARTS + 1));
    for part in 0..=PARTS {
        let share = part as f64 / PARTS as f64;
        let (col, row) = (share * width, share * height);
        for (col, row) in [(col, 0.0), (col, height), (0.0, row), (width, row)] {
            places.push(grid.georeference().to_lonlat(CellXy { col, row })?);
        }
    }
    let corner = grid
        .georeference()
        .to_lonlat(CellXy { col: 0.0, row: 0.0 })?;
    Ok(LonLatBox::around(places).unwrap_or(LonLatBox::new(corner, corner)))
}

/// The grid as one archive for a globe: the picture on the ground, a little
/// transparent, and its legend at the edge of the screen.
pub fn kmz(
    grid: &Grid,
    quantity: &Quantity,
    caption: &Caption<'_>,
) -> Result<Vec<u8>, CoverageError> {
    let overlay = Overlay::new(grid, quantity)?;
    let legend = legend_png(quantity, caption, None)?;
    let document = document(&overlay, quantity, caption).map_err(OutputError::Xml)?;
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    // Without a date: the same grid gives the same bytes.
    let plain = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
    // A reader takes the first document it meets. Pictures are compressed already.
    let files: [(&str, &[u8], CompressionMethod); 3] = [
        ("doc.kml", &document, CompressionMethod::Deflated),
        ("coverage.png", &overlay.png, CompressionMethod::Stored),
        ("legend.png", &legend, CompressionMethod::Stored),
    ];
    for (name, bytes, method) in files {
        archive.start_file(name, plain.compression_method(method))?;
        archive.write_all(bytes).map_err(OutputError::Xml)?;
    }
    Ok(archive.finish()?.into_inner())
}

type Xml = Writer<Vec<u8>>;

fn document(overlay: &Overlay, quantity: &Quantity, caption: &Caption<'_>) -> io::Result<Vec<u8>> {
    let mut xml = Writer::new_with_indent(Vec::new(), b' ', 1);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let about = [&[caption.subtitle], caption.notes, &[CAUTION]].concat();
    let about: Vec<&str> = about.into_iter().filter(|t| !t.is_empty()).collect();
    xml.create_element("kml")
        .with_attribute(("xmlns", "http://www.opengis.net/kml/2.2"))
        .write_inner_content(|xml| {
            group(xml, "Document", |xml| {
                text(xml, "name", &quantity.title)?;
                text(xml, "description", &about.join("\n"))?;
                group(xml, "GroundOverlay", |xml| ground(xml, overlay, quantity))?;
                group(xml, "ScreenOverlay", legend)
            })
        })?;
    let mut bytes = xml.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn ground(xml: &mut Xml, overlay: &Overlay, quantity: &Quantity) -> io::Result<()> {
    text(xml, "name", &quantity.title)?;
    // Opacity, blue, green, red: three quarters of the picture's own colours.
    text(xml, "color", "bfffffff")?;
    group(xml, "Icon", |xml| text(xml, "href", "coverage.png"))?;
    group(xml, "LatLonBox", |xml| {
        for (name, side_deg) in [
            ("north", overlay.north_deg),
            ("south", overlay.south_deg),
            ("east", overlay.east_deg),
            ("west", overlay.west_deg),
        ] {
            text(xml, name, &format!("{side_deg:.9}"))?;
        }
        Ok(())
    })
}

fn legend(xml: &mut Xml) -> io::Result<()> {
    text(xml, "name", "Legend")?;
    group(xml, "Icon", |xml| text(xml, "href", "legend.png"))?;
    // The upper left corner of the picture onto that of the screen.
    for (name, x, y) in [
        ("overlayXY", "0", "1"),
        ("screenXY", "0.01", "0.98"),
        ("size", "0", "0"),
    ] {
        xml.create_element(name)
            .with_attributes([
                ("x", x),
                ("y", y),
                ("xunits", "fraction"),
                ("yunits", "fraction"),
            ])
            .write_empty()?;
    }
    Ok(())
}

fn group(
    xml: &mut Xml,
    name: &str,
    content: impl FnOnce(&mut Xml) -> io::Result<()>,
) -> io::Result<()> {
    xml.create_element(name).write_inner_content(content)?;
    Ok(())
}

fn text(xml: &mut Xml, name: &str, content: &str) -> io::Result<()> {
    xml.create_element(name)
        .write_text_content(BytesText::new(&xml_text(content)))?;
    Ok(())
}
