//! Where a GeoTIFF lies, and what its numbers mean.
//!
//! Source: OGC 19-008r4, OGC GeoTIFF Standard 1.1; the tags 42112 and 42113
//! are a widespread convention beyond it.

use std::path::Path;

use geodesy::MapXy;
use geodesy::crs::geo_keys::{GeoKeyValue, GeoKeys};
use raster::{Affine, Georeference};
use tiff::tags::Tag;

use super::directory::Directories;
use super::layout::Layout;
use crate::ground::error::{GroundError, GroundWarning};
use crate::ground::{Input, OpenOptions, info};

const PIXEL_SCALE: Tag = Tag::ModelPixelScaleTag;
const TIE_POINTS: Tag = Tag::ModelTiepointTag;
const TRANSFORMATION: Tag = Tag::ModelTransformationTag;
const GEO_KEYS: Tag = Tag::GeoKeyDirectoryTag;
const GEO_DOUBLES: Tag = Tag::GeoDoubleParamsTag;
const GEO_TEXT: Tag = Tag::GeoAsciiParamsTag;
const METADATA: Tag = Tag::Unknown(42_112);
const NODATA: Tag = Tag::GdalNodata;

/// The georeferencing tags of one image, as stored.
pub(super) struct Tags {
    scale: Vec<f64>,
    tie_points: Vec<f64>,
    transformation: Vec<f64>,
    keys: GeoKeys,
    nodata: Option<String>,
    band_scale: f64,
    band_offset: f64,
    band_unit: Option<String>,
}

/// What one unit of height is.
pub(super) struct HeightUnit {
    pub(super) metres: f64,
    pub(super) name: &'static str,
}

const METRE: HeightUnit = HeightUnit {
    metres: 1.0,
    name: "metre",
};
const FOOT: HeightUnit = HeightUnit {
    metres: 0.3048,
    name: "foot",
};
const US_SURVEY_FOOT: HeightUnit = HeightUnit {
    metres: 1200.0 / 3937.0,
    name: "US survey foot",
};

impl Tags {
    pub(super) fn read(
        directories: &mut Directories,
        image: usize,
        band: usize,
        path: &Path,
    ) -> Result<Self, GroundError> {
        let mut tags = Self {
            scale: directories.doubles(image, PIXEL_SCALE, path)?,
            tie_points: directories.doubles(image, TIE_POINTS, path)?,
            transformation: directories.doubles(image, TRANSFORMATION, path)?,
            keys: geo_keys(directories, image, path)?,
            nodata: directories.text(image, NODATA, path)?,
            band_scale: 1.0,
            band_offset: 0.0,
            band_unit: None,
        };
        if let Some(xml) = directories.text(image, METADATA, path)? {
            tags.read_metadata(&xml, band);
        }
        Ok(tags)
    }

    /// Scale, offset and unit of the band from the metadata text; text that
    /// is not well-formed says nothing.
    fn read_metadata(&mut self, xml: &str, band: usize) {
        let Ok(document) = roxmltree::Document::parse(xml) else {
            return;
        };
        for item in document.descendants().filter(|n| n.has_tag_name("Item")) {
            let sample = item.attribute("sample").and_then(|s| s.parse().ok());
            if sample.unwrap_or(0) != band {
                continue;
            }
            let text = item.text().unwrap_or("").trim();
            let number = text.parse::<f64>().ok().filter(|v| v.is_finite());
            match item.attribute("role") {
                Some("scale") => self.band_scale = number.filter(|s| *s != 0.0).unwrap_or(1.0),
                Some("offset") => self.band_offset = number.unwrap_or(0.0),
                Some("unittype") if !text.is_empty() => self.band_unit = Some(text.to_owned()),
                _ => {}
            }
        }
    }

    pub(super) fn scale_offset(&self) -> (f64, f64) {
        (self.band_scale, self.band_offset)
    }

    pub(super) fn georeference(
        &self,
        input: &Input,
        options: &OpenOptions,
        image: &Layout,
    ) -> Result<(Georeference, Option<GroundWarning>), GroundError> {
        let affine = self.affine(&input.path)?;
        let affine = affine.or_else(|| input.world.as_deref().and_then(info::world_file_affine));
        let affine = affine.ok_or_else(|| GroundError::NoGeoreference {
            path: input.path.clone(),
        })?;
        let (crs, warning) = info::choose_crs(input, options, self.keys.horizontal_crs())?;
        let size = (image.width, image.height);
        Ok((info::georeference(input, crs, affine, size)?, warning))
    }

    /// Cells to map coordinates, in terms of outer corners.
    fn affine(&self, path: &Path) -> Result<Option<Affine>, GroundError> {
        let bad = |e: raster::RasterError| GroundError::corrupt(path, e.to_string());
        let affine = match (
            &self.transformation[..],
            &self.scale[..],
            &self.tie_points[..],
        ) {
            ([a, b, _, x, c, d, _, y, ..], _, _) => {
                let origin = MapXy { x: *x, y: *y };
                Affine::new(origin, [*a, *b, *c, *d]).map_err(bad)?
            }
            (_, [scale_x, scale_y, ..], [col, row, _, x, y, _, ..]) => {
                let tie = MapXy { x: *x, y: *y };
                let at_tie = Affine::new(tie, [*scale_x, 0.0, 0.0, -*scale_y]).map_err(bad)?;
                at_tie.shifted(-*col, -*row)
            }
            (_, [], [_, _, _, _, _, _, _, ..]) => {
                let hint = "warp it to a map grid first";
                let what = "it is placed by scattered tie points";
                return Err(GroundError::unsupported(path, what, hint));
            }
            _ => return Ok(None),
        };
        // With pixel-is-point the tags place the centre of a pixel.
        let is_point = self.keys.short(1025) == Some(2);
        Ok(Some(if is_point {
            affine.shifted(-0.5, -0.5)
        } else {
            affine
        }))
    }

    /// The no-data value, with a warning where it cannot occur.
    pub(super) fn nodata_value(
        &self,
        image: &Layout,
        path: &Path,
        warnings: &mut Vec<GroundWarning>,
    ) -> Option<f64> {
        let text = self.nodata.as_deref()?.trim();
        let value = parse_nodata(text);
        if value.is_none_or(|v| !v.is_nan() && !image.pixel.can_hold(v)) {
            warnings.push(GroundWarning::NodataCannotOccur {
                path: path.to_owned(),
                stated: text.chars().take(40).collect(),
            });
        }
        value
    }

    /// The unit of heights above sea level; other heights are refused.
    pub(super) fn height_unit(&self, path: &Path) -> Result<HeightUnit, GroundError> {
        let ellipsoidal = |stated: String| GroundError::EllipsoidalHeights {
            path: path.to_owned(),
            stated,
        };
        // Three-dimensional geographic systems: WGS 84, ETRS89, NAD83(2011).
        if let Some(code @ (4979 | 4937 | 6319)) = self.keys.short(2048) {
            return Err(ellipsoidal(format!("EPSG:{code}")));
        }
        let by_system = match self.keys.short(4096) {
            None | Some(0 | 32_767) => None,
            Some(code @ (4979 | 4937 | 6319 | 5001..=5033)) => {
                return Err(ellipsoidal(format!("EPSG:{code}")));
            }
            Some(6360 | 5702) => Some(US_SURVEY_FOOT),
            Some(8228 | 5754) => Some(FOOT),
            Some(6357 | 6358 | 5715 | 5706 | 5831 | 5861..=5872) => {
                return self.unknown_heights(path, "a depth");
            }
            Some(_) if self.citation_has_feet() => {
                return self.unknown_heights(path, "a height in feet");
            }
            Some(_) => Some(METRE),
        };
        let by_key = match self.keys.short(4099) {
            None | Some(0) => None,
            Some(9001) => Some(METRE),
            Some(9002) => Some(FOOT),
            Some(9003) => Some(US_SURVEY_FOOT),
            Some(code) => return self.unknown_heights(path, &format!("vertical unit {code}")),
        };
        let by_band = match self
            .band_unit
            .as_deref()
            .map(str::to_ascii_lowercase)
            .as_deref()
        {
            None => None,
            Some("m" | "metre" | "meter" | "metres" | "meters") => Some(METRE),
            Some("ft" | "foot" | "feet" | "international foot") => Some(FOOT),
            Some("us-ft" | "ftus" | "us survey foot" | "us_survey_foot" | "foot_us") => {
                Some(US_SURVEY_FOOT)
            }
            Some(other) => return self.unknown_heights(path, other),
        };
        // The band's own unit is the nearest to the numbers.
        Ok(by_band.or(by_key).or(by_system).unwrap_or(METRE))
    }

    fn unknown_heights(&self, path: &Path, stated: &str) -> Result<HeightUnit, GroundError> {
        Err(GroundError::Heights {
            path: path.to_owned(),
            stated: stated.chars().take(80).collect(),
        })
    }

    /// Whether the file's own words for its system speak of feet of height.
    fn citation_has_feet(&self) -> bool {
        let texts = [1026, 4097].into_iter().filter_map(|k| self.keys.text(k));
        let mut heights = texts.flat_map(|t| t.split('+').skip(1).chain(t.split('|').skip(1)));
        heights.any(|t| {
            let t = t.to_ascii_lowercase();
            t.contains("(ft") || t.contains("foot") || t.contains("feet")
        })
    }
}

/// A no-data text: a number, or one of the ways to write NaN.
fn parse_nodata(text: &str) -> Option<f64> {
    let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0');
    let number = text.parse().ok();
    number.or_else(|| {
        text.to_ascii_lowercase()
            .contains("nan")
            .then_some(f64::NAN)
    })
}

/// The geo keys of an image.
fn geo_keys(
    directories: &mut Directories,
    image: usize,
    path: &Path,
) -> Result<GeoKeys, GroundError> {
    let mut keys = GeoKeys::default();
    let entries = directories.numbers(image, GEO_KEYS, path)?;
    let doubles = directories.doubles(image, GEO_DOUBLES, path)?;
    let text = directories.text(image, GEO_TEXT, path)?.unwrap_or_default();
    let text = text.as_bytes();
    let (entries, _) = entries.as_chunks::<4>();
    for [number, location, count, value] in entries.iter().skip(1).copied() {
        let number = number as u16;
        let (from, past) = (value as usize, (value + count) as usize);
        if location == 0 {
            keys.insert(number, GeoKeyValue::Short(value as u16));
        } else if location == u64::from(GEO_DOUBLES.to_u16()) {
            let values = doubles.get(from..past).unwrap_or(&[]).to_vec();
            keys.insert(number, GeoKeyValue::Double(values));
        } else if location == u64::from(GEO_TEXT.to_u16()) {
            let words = text.get(from..past.min(text.len())).unwrap_or(&[]);
            let words = String::from_utf8_lossy(words);
            keys.insert(
                number,
                GeoKeyValue::Ascii(words.trim_end_matches('|').to_owned()),
            );
        }
    }
    Ok(keys)
}
