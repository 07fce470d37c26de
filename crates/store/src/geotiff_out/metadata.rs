//! What a file says about itself: geo keys, and the names, units and
//! statistics of its bands.

use quick_xml::escape::escape;
use raster::{Affine, Georeference};

use super::{Band, GeoTiffError, RasterDescription};

/// The geo key directory: version, then four numbers a key.
///
/// Source: OGC 19-008r4, clause 7.
pub(super) fn geo_keys(georeference: &Georeference) -> Result<Vec<u16>, GeoTiffError> {
    const MODEL_TYPE: u16 = 1024;
    const RASTER_TYPE: u16 = 1025;
    const GEODETIC_CRS: u16 = 2048;
    const PROJECTED_CRS: u16 = 3072;
    const PIXEL_IS_AREA: u16 = 1;
    let crs = georeference.crs();
    let code = crs.epsg().and_then(|code| u16::try_from(code).ok());
    let code = code.ok_or_else(|| GeoTiffError::NoEpsgCode {
        crs: crs.to_string(),
    })?;
    let (model_type, crs_key) = if crs.is_geographic() {
        (2, GEODETIC_CRS)
    } else {
        (1, PROJECTED_CRS)
    };
    Ok([
        [1, 1, 0, 3],
        [MODEL_TYPE, 0, 1, model_type],
        [RASTER_TYPE, 0, 1, PIXEL_IS_AREA],
        [crs_key, 0, 1, code],
    ]
    .concat())
}

/// Cells to map coordinates as tags hold them.
pub(super) enum Placement {
    /// Cell sizes and one tie point.
    NorthUp { scale: [f64; 3], tie: [f64; 6] },
    /// A matrix of four by four.
    Matrix([f64; 16]),
}

pub(super) fn placement(affine: &Affine) -> Placement {
    let origin = affine.origin();
    let [x_col, x_row, y_col, y_row] = affine.steps();
    if x_row == 0.0 && y_col == 0.0 && x_col > 0.0 && y_row < 0.0 {
        return Placement::NorthUp {
            scale: [x_col, -y_row, 0.0],
            tie: [0.0, 0.0, 0.0, origin.x, origin.y, 0.0],
        };
    }
    let mut matrix = [0.0; 16];
    matrix[..4].copy_from_slice(&[x_col, x_row, 0.0, origin.x]);
    matrix[4..8].copy_from_slice(&[y_col, y_row, 0.0, origin.y]);
    matrix[15] = 1.0;
    Placement::Matrix(matrix)
}

/// Statistics of the stored numbers of a band.
#[derive(Debug, Clone, Copy)]
pub(super) struct Statistics {
    cells: u64,
    valid: u64,
    least: f64,
    greatest: f64,
    mean: f64,
    /// Sum of the squared distances from the mean.
    spread: f64,
}

impl Statistics {
    pub(super) const NONE: Self = Self {
        cells: 0,
        valid: 0,
        least: f64::INFINITY,
        greatest: f64::NEG_INFINITY,
        mean: 0.0,
        spread: 0.0,
    };

    /// Takes a stored number into account; `None` is void.
    ///
    /// Source: B. P. Welford, "Note on a method for calculating corrected
    /// sums of squares and products", Technometrics 4(3), 1962.
    pub(super) fn add(&mut self, stored: Option<f64>) {
        self.cells += 1;
        let Some(stored) = stored else { return };
        self.valid += 1;
        self.least = self.least.min(stored);
        self.greatest = self.greatest.max(stored);
        let away = stored - self.mean;
        self.mean += away / self.valid as f64;
        self.spread += away * (stored - self.mean);
    }

    /// Names and texts; none where every cell is void.
    fn items(&self) -> Vec<(&'static str, String)> {
        if self.valid == 0 {
            return Vec::new();
        }
        let deviation = (self.spread / self.valid as f64).sqrt();
        let valid_pct = 100.0 * self.valid as f64 / self.cells as f64;
        vec![
            ("STATISTICS_MAXIMUM", self.greatest.to_string()),
            ("STATISTICS_MEAN", self.mean.to_string()),
            ("STATISTICS_MINIMUM", self.least.to_string()),
            ("STATISTICS_STDDEV", deviation.to_string()),
            ("STATISTICS_VALID_PERCENT", format!("{valid_pct:.2}")),
        ]
    }
}

/// The text of the metadata tag.
pub(super) fn document(description: &RasterDescription, statistics: &[Statistics]) -> String {
    let mut xml = String::from("<GDALMetadata>\n");
    for (name, text) in &description.notes {
        item(&mut xml, name, "", text);
    }
    for (sample, band) in description.bands.iter().enumerate() {
        for (name, role, text) in band_items(band) {
            let place = format!(" sample=\"{sample}\" role=\"{role}\"");
            item(&mut xml, name, &place, &text);
        }
        let items = statistics
            .get(sample)
            .map_or_else(Vec::new, Statistics::items);
        for (name, text) in items {
            item(&mut xml, name, &format!(" sample=\"{sample}\""), &text);
        }
    }
    xml.push_str("</GDALMetadata>\n");
    xml
}

fn band_items(band: &Band) -> Vec<(&'static str, &'static str, String)> {
    let mut items = Vec::new();
    if !band.description.is_empty() {
        items.push(("DESCRIPTION", "description", band.description.clone()));
    }
    if band.is_scaled() {
        items.push(("OFFSET", "offset", band.offset.to_string()));
        items.push(("SCALE", "scale", band.scale.to_string()));
    }
    if !band.unit.is_empty() {
        items.push(("UNITTYPE", "unittype", band.unit.clone()));
    }
    items
}

fn item(xml: &mut String, name: &str, place: &str, text: &str) {
    // No XML document and no text of a tag may hold these.
    let printable = |text: &str| text.replace(|c: char| c.is_control() && c != '\n', " ");
    let (name, text) = (printable(name), printable(text));
    let (name, text) = (escape(&name), escape(&text));
    // The convention has the text escaped on its own before it becomes XML.
    let text = escape(text);
    xml.push_str(&format!("  <Item name=\"{name}\"{place}>{text}</Item>\n"));
}
