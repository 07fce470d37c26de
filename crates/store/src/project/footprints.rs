//! Footprints of buildings from GeoJSON and GeoPackage.

use std::path::Path;
use std::sync::Arc;

use geodesy::crs::MapXy;
use geojson::{Feature, GeoJson, JsonValue};
use model::settings::BuildingSources;
use model::{Finding, Severity};
use pipeline::engine::buildings::Footprint;

use super::centroid::Shape;
use super::{file_place, files, geojson as premises_geojson, geopackage};

/// Most footprints that are read from one file.
const MOST_FOOTPRINTS: usize = 5_000_000;

/// Tallest building that is believed.
const TALLEST_M: f64 = 1_000.0;

/// What a file of footprints holds.
#[derive(Debug, Default, PartialEq)]
pub struct FootprintsRead {
    /// Those that have an area and a height.
    pub footprints: Vec<Footprint>,
    /// How many features there are.
    pub features: usize,
    /// What is worth telling.
    pub findings: Vec<Finding>,
}

/// Reads the footprints of a file, by its name's ending: `.gpkg` is a
/// GeoPackage, anything else GeoJSON.
pub fn read_footprints(folder: &Path, file: &str, sources: &BuildingSources) -> FootprintsRead {
    let mut gathered = Gathered::new(file, sources);
    if file.to_ascii_lowercase().ends_with(".gpkg") {
        gathered.geopackage(&folder.join(file));
    } else {
        gathered.geojson(folder);
    }
    gathered.finish()
}

struct Gathered<'a> {
    file: &'a str,
    sources: &'a BuildingSources,
    read: FootprintsRead,
    without_height: usize,
    without_area: usize,
}

impl<'a> Gathered<'a> {
    fn new(file: &'a str, sources: &'a BuildingSources) -> Self {
        Self {
            file,
            sources,
            read: FootprintsRead::default(),
            without_height: 0,
            without_area: 0,
        }
    }

    fn tell(&mut self, severity: Severity, code: &'static str, message: String, hint: &str) {
        let finding = Finding::new(severity, code, message).at(file_place(self.file));
        self.read.findings.push(finding.hint(hint));
    }

    fn geojson(&mut self, folder: &Path) {
        let bytes = match files::read(&folder.join(self.file), files::LARGEST_TABLE_BYTES) {
            Ok(bytes) => bytes,
            Err(error) => {
                let message = format!("`{}` cannot be read: {error}", self.file);
                let hint = "check that the file may be read, and its size";
                return self.tell(Severity::Error, "unreadable-file", message, hint);
            }
        };
        let (source, finding) = files::decode(self.file, bytes);
        self.read.findings.extend(finding);
        let text = source.text.trim_start_matches('\u{feff}');
        let features = match text.parse::<GeoJson>() {
            Ok(GeoJson::FeatureCollection(collection)) => {
                let members = collection.foreign_members.as_ref();
                let file: Arc<str> = Arc::from(self.file);
                premises_geojson::check_crs(&file, members, &mut self.read.findings);
                collection.features
            }
            Ok(GeoJson::Feature(feature)) => vec![feature],
            Ok(GeoJson::Geometry(_)) => Vec::new(),
            Err(error) => {
                let message = format!("not valid GeoJSON: {error}");
                let hint = "footprints are GeoJSON by RFC 7946 or a GeoPackage: save them as one of the two";
                return self.tell(Severity::Error, "syntax", message, hint);
            }
        };
        for feature in &features {
            let shape = feature.geometry.as_ref();
            let shape = shape.map(|g| premises_geojson::shape(&g.value));
            let height = property(feature, &self.sources.height_field);
            let names = [property(feature, "name"), property(feature, "id")];
            self.add(shape.unwrap_or_default(), &height, &names);
        }
    }

    fn geopackage(&mut self, path: &Path) {
        let read = geopackage::features(self.file, path, &mut |feature| {
            let (crs, value) = (feature.crs, feature.value);
            let Ok(mut shape) = feature.shape else {
                self.add(Shape::default(), "", &[]);
                return true;
            };
            let placed = shape.areas.iter_mut().flatten().flatten().all(|corner| {
                let [x, y] = *corner;
                let place = crs.to_lonlat(MapXy { x, y });
                place.is_ok_and(|at| {
                    *corner = [at.lon_deg(), at.lat_deg()];
                    true
                })
            });
            let shape = if placed { shape } else { Shape::default() };
            let names = [value("name"), value("id")];
            self.add(shape, &value(&self.sources.height_field), &names);
            self.read.features < MOST_FOOTPRINTS
        });
        if let Err(finding) = read {
            self.read.findings.push(*finding);
        }
    }

    fn add(&mut self, shape: Shape, height: &str, names: &[String]) {
        self.read.features += 1;
        if shape.areas.is_empty() {
            self.without_area += 1;
            return;
        }
        let told_m = height.trim().parse::<f64>().ok();
        let told_m = told_m.filter(|height_m| *height_m > 0.0 && *height_m <= TALLEST_M);
        self.without_height += usize::from(told_m.is_none());
        let Some(height_m) = told_m.or(self.sources.default_height_m) else {
            return;
        };
        let name = names.iter().map(|name| plain(name)).find(|n| !n.is_empty());
        let name = name.unwrap_or_else(|| format!("feature {}", self.read.features));
        self.read.footprints.push(Footprint {
            name: name.into(),
            rings: shape.areas.into_iter().flatten().collect(),
            height_m,
        });
    }

    fn finish(mut self) -> FootprintsRead {
        let (file, features) = (self.file, self.read.features);
        if self.without_area > 0 {
            let message = format!(
                "`{}` of the `{features}` features in `{file}` are no areas",
                self.without_area
            );
            let hint = "a building is an area; points and lines are left out";
            self.tell(Severity::Warning, "no-footprint", message, hint);
        }
        if self.without_height > 0 {
            let what = format!(
                "`{}` of the `{features}` footprints in `{file}` have no `{}` between 0 and 1000 m",
                self.without_height, self.sources.height_field
            );
            match self.sources.default_height_m {
                Some(height_m) => {
                    let message = format!("{what}: they count as `{height_m}` m");
                    let hint = "heights of their own make the paths beside them surer";
                    self.tell(Severity::Note, "building-height", message, hint);
                }
                None => {
                    let message = format!("{what}: they are left out");
                    let hint = "say under `[buildings]` which property it is with `height_field`, or what to take with `default_height_m`";
                    self.tell(Severity::Warning, "building-height", message, hint);
                }
            }
        }
        self.read
    }
}

/// A name on one line, not too long for a message.
fn plain(name: &str) -> String {
    const LONGEST: usize = 60;
    let shown = name.trim().chars().filter(|c| !c.is_control());
    shown.take(LONGEST).collect()
}

fn property(feature: &Feature, name: &str) -> String {
    let property = feature.properties.as_ref().and_then(|all| all.get(name));
    match property {
        Some(JsonValue::String(text)) => text.clone(),
        Some(JsonValue::Number(number)) => number.to_string(),
        _ => String::new(),
    }
}
