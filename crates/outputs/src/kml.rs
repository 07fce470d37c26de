//! Masts, sectors, links and premises for a globe (OGC KML 2.2, OGC 07-147r2).
//!
//! No picture is fetched from anywhere: a premises' verdict shows in the
//! colour of its mark and in the shape that leads its label.

use std::io;

use engine::verdict::Verdict;
use geodesy::LonLat;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

use crate::format::{round_field, xml_text};
use crate::handout::{CAUTION, Handout, OutputError};
use crate::layers::{self, Cell, Column, Layer, Row, Shape};
use crate::mark;

type Xml = Writer<Vec<u8>>;

/// The whole study as one document.
pub fn kml(handout: &Handout<'_>) -> Result<Vec<u8>, OutputError> {
    let mut xml = Writer::new_with_indent(Vec::new(), b' ', 1);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    xml.create_element("kml")
        .with_attribute(("xmlns", "http://www.opengis.net/kml/2.2"))
        .write_inner_content(|xml| {
            xml.create_element("Document")
                .write_inner_content(|xml| document(xml, handout))?;
            Ok(())
        })?;
    let mut bytes = xml.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn document(xml: &mut Xml, handout: &Handout<'_>) -> io::Result<()> {
    text(xml, "name", &handout.network.name)?;
    text(xml, "description", CAUTION)?;
    for verdict in mark::VERDICTS {
        premises_style(xml, verdict)?;
    }
    wedge_style(xml)?;
    let wedges = layers::sector_wedges(handout);
    folder(xml, &wedges, |row| (row_text(&wedges, row, "id"), "sector"))?;
    let links = layers::links(handout);
    folder(xml, &links, |row| {
        let ends = ["sector", "premises"].map(|c| row_text(&links, row, c));
        (
            ends.join(" → "),
            verdict_id(&row_text(&links, row, "verdict")),
        )
    })?;
    let premises = layers::premises(handout);
    folder(xml, &premises, |row| {
        let verdict = row_text(&premises, row, "verdict");
        let id = row_text(&premises, row, "id");
        (format!("{} {id}", glyph(&verdict)), verdict_id(&verdict))
    })
}

fn row_text(layer: &Layer, row: usize, column: &str) -> String {
    match layer.cell(row, column) {
        Some(Cell::Text(text)) => text.clone(),
        _ => String::new(),
    }
}

fn verdict_id(name: &str) -> &'static str {
    mark::VERDICTS
        .into_iter()
        .map(Verdict::name)
        .find(|v| *v == name)
        .unwrap_or("unserved")
}

fn glyph(name: &str) -> &'static str {
    mark::VERDICTS
        .into_iter()
        .find(|v| v.name() == name)
        .map_or("", mark::glyph)
}

/// `#rrggbb` as KML writes it: opacity, blue, green, red.
fn kml_colour(colour: &str, opacity: u8) -> String {
    let hex = colour.trim_start_matches('#');
    let part = |range| hex.get(range).unwrap_or("00");
    format!("{opacity:02x}{}{}{}", part(4..6), part(2..4), part(0..2))
}

fn premises_style(xml: &mut Xml, verdict: Verdict) -> io::Result<()> {
    let colour = mark::colour(verdict);
    style(xml, verdict.name(), |xml| {
        group(xml, "IconStyle", |xml| {
            text(xml, "color", &kml_colour(colour, 0xff))?;
            text(xml, "scale", "0.8")
        })?;
        group(xml, "LabelStyle", |xml| text(xml, "scale", "0.7"))?;
        group(xml, "LineStyle", |xml| {
            text(xml, "color", &kml_colour(colour, 0xc0))?;
            text(xml, "width", "1.5")
        })
    })
}

fn wedge_style(xml: &mut Xml) -> io::Result<()> {
    style(xml, "sector", |xml| {
        group(xml, "LineStyle", |xml| {
            text(xml, "color", &kml_colour("#0072b2", 0xff))?;
            text(xml, "width", "2")
        })?;
        group(xml, "PolyStyle", |xml| {
            text(xml, "color", &kml_colour("#0072b2", 0x30))
        })
    })
}

fn style(
    xml: &mut Xml,
    id: &str,
    content: impl FnOnce(&mut Xml) -> io::Result<()>,
) -> io::Result<()> {
    xml.create_element("Style")
        .with_attribute(("id", id))
        .write_inner_content(content)?;
    Ok(())
}

fn folder(
    xml: &mut Xml,
    layer: &Layer,
    name_and_style: impl Fn(usize) -> (String, &'static str),
) -> io::Result<()> {
    group(xml, "Folder", |xml| {
        text(xml, "name", layer.title)?;
        for (i, row) in layer.rows.iter().enumerate() {
            let (name, style) = name_and_style(i);
            group(xml, "Placemark", |xml| {
                text(xml, "name", &name)?;
                text(xml, "styleUrl", &format!("#{style}"))?;
                fields(xml, &layer.columns, row)?;
                geometry(xml, &row.shape)
            })?;
        }
        Ok(())
    })
}

fn fields(xml: &mut Xml, columns: &[Column], row: &Row) -> io::Result<()> {
    group(xml, "ExtendedData", |xml| {
        for (column, cell) in columns.iter().zip(&row.cells) {
            let value = match cell {
                Cell::Text(text) => text.clone(),
                Cell::Number(value) => round_field(column.name, *value).to_string(),
                Cell::Count(value) => value.to_string(),
                Cell::Flag(value) => value.to_string(),
                Cell::Empty => continue,
            };
            xml.create_element("Data")
                .with_attribute(("name", column.name))
                .write_inner_content(|xml| text(xml, "value", &value))?;
        }
        Ok(())
    })
}

fn geometry(xml: &mut Xml, shape: &Shape) -> io::Result<()> {
    match shape {
        Shape::Point(place) => group(xml, "Point", |xml| coordinates(xml, &[*place])),
        Shape::Line(ends) => group(xml, "LineString", |xml| {
            text(xml, "tessellate", "1")?;
            coordinates(xml, ends)
        }),
        Shape::Area(ring) => group(xml, "Polygon", |xml| {
            text(xml, "tessellate", "1")?;
            group(xml, "outerBoundaryIs", |xml| {
                group(xml, "LinearRing", |xml| coordinates(xml, ring))
            })
        }),
    }
}

fn coordinates(xml: &mut Xml, places: &[LonLat]) -> io::Result<()> {
    let list: Vec<String> = places
        .iter()
        .map(|p| format!("{:.7},{:.7}", p.lon_deg(), p.lat_deg()))
        .collect();
    text(xml, "coordinates", &list.join(" "))
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
