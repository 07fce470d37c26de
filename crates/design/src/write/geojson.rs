//! Edits of premises, into a GeoJSON feature collection (RFC 7946).
//!
//! Each feature is a piece of text; only those of edited premises change, and
//! in them only the members that are edited.

use std::collections::BTreeMap;
use std::fmt;

use model::{Edit, Premises, PremisesId};
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde_json::value::RawValue;

use super::premises::optional_cells;
use super::{Splice, WriteError, number_text, spliced};

/// The text of `premises.geojson` with the edits of premises written into it,
/// in their order; edits of masts and sectors are left alone. Other members,
/// their order and spelling stay as they are.
///
/// # Errors
/// [`WriteError`]: no feature collection, an unknown premises, a premises that
/// is no point and would have to be moved.
pub fn apply_geojson_edits(text: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mut collection = Collection::read(text)?;
    for edit in edits {
        collection.apply(edit)?;
    }
    Ok(collection.text())
}

/// The features of a collection, piece by piece.
struct Collection {
    /// Up to the first feature.
    head: String,
    features: Vec<Feature>,
    /// From behind the last feature.
    tail: String,
    /// Place of a feature by the id of its premises; the first where two have the same.
    places: BTreeMap<String, usize>,
}

/// One feature and what stands between it and the next.
struct Feature {
    raw: String,
    gap: String,
}

/// Members of an object in their order.
struct Members<'t>(Vec<(String, &'t RawValue)>);

impl<'de> Deserialize<'de> for Members<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Members<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Members(members))
            }
        }
        deserializer.deserialize_map(InOrder)
    }
}

impl<'t> Members<'t> {
    fn read(text: &'t str) -> Result<Self, WriteError> {
        serde_json::from_str(text).map_err(|error| syntax(&error))
    }

    fn get(&self, name: &str) -> Option<&'t str> {
        let mut members = self.0.iter();
        let found = members.find(|(own, _)| own == name);
        found.map(|(_, value)| value.get())
    }
}

fn syntax(error: &serde_json::Error) -> WriteError {
    WriteError::Syntax {
        line: error.line(),
        message: error.to_string(),
    }
}

fn no_collection() -> WriteError {
    WriteError::Syntax {
        line: 1,
        message: "the file is no feature collection".to_owned(),
    }
}

/// Where a piece of a text stands in it.
fn place_of(text: &str, piece: &str) -> std::ops::Range<usize> {
    let start = piece.as_ptr() as usize - text.as_ptr() as usize;
    start..start + piece.len()
}

/// A string or number as the reader of the file takes it for an id.
fn id_text(raw: &str) -> Option<String> {
    match serde_json::from_str::<serde_json::Value>(raw).ok()? {
        serde_json::Value::String(text) => Some(text.trim().to_owned()),
        serde_json::Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

fn id_of(feature: &str) -> Option<String> {
    let members = Members::read(feature).ok()?;
    let properties = members.get("properties").unwrap_or("null");
    let own = Members::read(properties).ok();
    let own = own.and_then(|own| id_text(own.get("id")?));
    own.or_else(|| id_text(members.get("id")?))
}

impl Collection {
    fn read(text: &str) -> Result<Self, WriteError> {
        let mark = text.len() - text.trim_start_matches('\u{feff}').len();
        let body = &text[mark..];
        let members = Members::read(body)?;
        let list = members.get("features").ok_or_else(no_collection)?;
        let list_at = place_of(text, list);
        let raws: Vec<&RawValue> = serde_json::from_str(list).map_err(|_| no_collection())?;
        let places: Vec<_> = raws.iter().map(|raw| place_of(text, raw.get())).collect();
        // An empty list is cut behind its bracket.
        let first = places.first().map_or(list_at.start + 1, |at| at.start);
        let last = places.last().map_or(first, |at| at.end);
        let next = places.iter().skip(1).map(|at| at.start).chain([last]);
        let features = places.iter().zip(next).map(|(at, next)| Feature {
            raw: text[at.clone()].to_owned(),
            gap: text[at.end..next.max(at.end)].to_owned(),
        });
        let mut collection = Self {
            head: text[..first].to_owned(),
            features: features.collect(),
            tail: text[last..].to_owned(),
            places: BTreeMap::new(),
        };
        collection.index();
        Ok(collection)
    }

    fn index(&mut self) {
        self.places.clear();
        for (place, feature) in self.features.iter().enumerate() {
            if let Some(id) = id_of(&feature.raw) {
                self.places.entry(id).or_insert(place);
            }
        }
    }

    fn text(&self) -> String {
        let mut text = self.head.clone();
        let last = self.features.len().saturating_sub(1);
        for (place, feature) in self.features.iter().enumerate() {
            text.push_str(&feature.raw);
            if place != last {
                text.push_str(&feature.gap);
            }
        }
        text.push_str(&self.tail);
        text
    }

    fn place(&self, id: &PremisesId) -> Result<usize, WriteError> {
        let place = self.places.get(id.as_str()).copied();
        place.ok_or_else(|| WriteError::UnknownPremises(id.clone()))
    }

    fn apply(&mut self, edit: &Edit) -> Result<(), WriteError> {
        match edit {
            Edit::PremisesMountHeight {
                premises,
                mount_height_agl_m,
            } => {
                let key = "mount_height_agl_m";
                self.set(premises, key, &number(key, *mount_height_agl_m)?)
            }
            Edit::PremisesPlan { premises, plan } => {
                self.set(premises, "plan", &quoted(plan.as_str()))
            }
            Edit::PremisesTerminal { premises, terminal } => {
                self.set(premises, "terminal", &quoted(terminal.id.as_str()))
            }
            Edit::PremisesSector { premises, sector } => {
                let value = sector
                    .as_ref()
                    .map_or("null".to_owned(), |s| quoted(s.as_str()));
                self.set(premises, "sector", &value)
            }
            Edit::MovePremises { premises, position } => {
                let place = self.place(premises)?;
                let at = [
                    number("lon", position.lon_deg())?,
                    number("lat", position.lat_deg())?,
                ];
                let raw = &self.features[place].raw;
                self.features[place].raw = moved(raw, &at, premises)?;
                Ok(())
            }
            Edit::AddPremises { index, premises } => self.add(*index, premises),
            Edit::RemovePremises { premises } => {
                let place = self.place(premises)?;
                self.features.remove(place);
                self.index();
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn set(&mut self, id: &PremisesId, key: &str, value: &str) -> Result<(), WriteError> {
        let place = self.place(id)?;
        self.features[place].raw = with_property(&self.features[place].raw, key, value)?;
        Ok(())
    }

    fn add(&mut self, index: usize, premises: &Premises) -> Result<(), WriteError> {
        let at = premises.position;
        let (lon, lat) = (number("lon", at.lon_deg())?, number("lat", at.lat_deg())?);
        let mut properties = format!("\"id\": {}", quoted(premises.id.as_str()));
        for (key, value) in optional_cells(premises) {
            let is_number = matches!(key, "mount_height_agl_m" | "priority" | "people");
            let value = if is_number { value } else { quoted(&value) };
            properties.push_str(&format!(", \"{key}\": {value}"));
        }
        let raw = format!(
            "{{\"type\": \"Feature\", \"geometry\": {{\"type\": \"Point\", \"coordinates\": [{lon}, {lat}]}}, \"properties\": {{{properties}}}}}"
        );
        let count = self.features.len();
        // As the others stand apart.
        let gap = match self.features.first() {
            Some(first) if count > 1 => first.gap.clone(),
            _ => ",\n".to_owned(),
        };
        if index >= count {
            if let Some(last) = self.features.last_mut() {
                last.gap.clone_from(&gap);
            }
            let id = premises.id.as_str().to_owned();
            self.places.entry(id).or_insert(count);
            self.features.push(Feature { raw, gap });
        } else {
            self.features.insert(index, Feature { raw, gap });
            self.index();
        }
        Ok(())
    }
}

fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

fn number(key: &'static str, value: f64) -> Result<String, WriteError> {
    if value.is_finite() {
        Ok(number_text(value, ""))
    } else {
        Err(WriteError::NotFinite { key })
    }
}

/// A feature with a property set, among the others or behind them.
fn with_property(feature: &str, key: &str, value: &str) -> Result<String, WriteError> {
    let members = Members::read(feature)?;
    let entry = format!("{}: {value}", quoted(key));
    let Some(properties) = members.get("properties") else {
        let end = feature.rfind('}').ok_or_else(no_collection)?;
        let text = format!(", \"properties\": {{{entry}}}");
        return Ok(put(feature, end..end, text));
    };
    let at = place_of(feature, properties);
    let Ok(own) = Members::read(properties) else {
        // `null`, or what is no object.
        return Ok(put(feature, at, format!("{{{entry}}}")));
    };
    if let Some(old) = own.get(key) {
        return Ok(put(feature, place_of(feature, old), value.to_owned()));
    }
    match own.0.last() {
        Some((_, last)) => {
            let end = place_of(feature, last.get()).end;
            // Each member on its own line, where the last one is.
            let line = before_key(feature, end, last.get().len());
            Ok(put(feature, end..end, format!(",{line}{entry}")))
        }
        None => Ok(put(feature, at, format!("{{{entry}}}"))),
    }
}

/// The blank between the member before the last and the last one's name.
fn before_key(text: &str, end: usize, value_len: usize) -> &str {
    let before_value = text[..end - value_len].trim_end();
    let before_value = before_value.strip_suffix(':').unwrap_or(before_value);
    // The name ends with a quote; its first one is found by the escape-free shape of names.
    let name_end = before_value.trim_end();
    let Some(open) = name_end[..name_end.len().saturating_sub(1)].rfind('"') else {
        return " ";
    };
    let blank_start = name_end[..open].trim_end().len();
    &name_end[blank_start..open]
}

fn put(text: &str, range: std::ops::Range<usize>, with: String) -> String {
    spliced(text, vec![Splice { range, text: with }])
}

/// A feature whose point lies elsewhere; further coordinates, such as a height, stay.
fn moved(feature: &str, at: &[String; 2], id: &PremisesId) -> Result<String, WriteError> {
    let no_point = || WriteError::NoPoint(id.clone());
    let members = Members::read(feature)?;
    let geometry = Members::read(members.get("geometry").ok_or_else(no_point)?);
    let geometry = geometry.map_err(|_| no_point())?;
    let coordinates = geometry.get("coordinates").ok_or_else(no_point)?;
    if geometry.get("type") != Some("\"Point\"") {
        return Err(no_point());
    }
    let numbers: Vec<&RawValue> = serde_json::from_str(coordinates).map_err(|_| no_point())?;
    let [lon, lat, ..] = numbers.as_slice() else {
        return Err(no_point());
    };
    let splices = [lon, lat].into_iter().zip(at).map(|(old, new)| Splice {
        range: place_of(feature, old.get()),
        text: new.clone(),
    });
    Ok(spliced(feature, splices.collect()))
}
