//! The kinds of value that the files hold.

use std::collections::BTreeMap;

use schemars::{Schema, SchemaGenerator, json_schema};
use toml::Spanned;
use toml::de::DeValue;

use super::{At, Reader, Written};

impl Written for String {
    const WANTED: &'static str = "text in quotes";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let Some(text) = value.get_ref().as_str() else {
            reader.wrong_type(value, Self::WANTED);
            return None;
        };
        Some(text.to_owned())
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string" })
    }
}

impl Written for bool {
    const WANTED: &'static str = "`true` or `false`";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let read = value.get_ref().as_bool();
        if read.is_none() {
            reader.wrong_type(value, Self::WANTED);
        }
        read
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "boolean" })
    }
}

/// A number that is written as a whole one or with a decimal point.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(_) => whole(value).map(|n| n as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

fn whole(value: &DeValue<'_>) -> Option<i64> {
    let integer = value.as_integer()?;
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}

impl Written for f64 {
    const WANTED: &'static str = "a number";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let Some(read) = number(value.get_ref()) else {
            reader.wrong_type(value, Self::WANTED);
            return None;
        };
        if !read.is_finite() {
            let key = reader.within.last().cloned().unwrap_or_default();
            reader.fault(
                "not-finite",
                format!("`{key}` is not a finite number"),
                value.span(),
                "write a number, or remove the key to take its default".to_owned(),
            );
            return None;
        }
        Some(read)
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "number" })
    }

    fn within(&self, (min, max): (f64, f64)) -> bool {
        (min..=max).contains(self)
    }
}

macro_rules! written_whole_number {
    ($name:ty) => {
        impl Written for $name {
            const WANTED: &'static str = "a whole number";

            fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
                let read = whole(value.get_ref()).and_then(|n| <$name>::try_from(n).ok());
                if read.is_none() {
                    reader.wrong_type(value, Self::WANTED);
                }
                read
            }

            fn schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "integer" })
            }

            fn within(&self, (min, max): (f64, f64)) -> bool {
                (min..=max).contains(&f64::from(*self))
            }
        }
    };
}
written_whole_number!(u32);
written_whole_number!(i32);

/// A number, or a fraction in quotes such as `"5/6"`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio(pub f64);

impl Written for Ratio {
    const WANTED: &'static str = "a number or a fraction in quotes such as `\"5/6\"`";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let fraction = |text: &str| {
            let (over, under) = text.split_once('/')?;
            let (over, under): (f64, f64) = (over.trim().parse().ok()?, under.trim().parse().ok()?);
            Some(over / under).filter(|ratio| ratio.is_finite())
        };
        let read = match value.get_ref() {
            DeValue::String(text) => fraction(text),
            other => number(other).filter(|n| n.is_finite()),
        };
        if read.is_none() {
            reader.wrong_type(value, Self::WANTED);
        }
        read.map(Ratio)
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["number", "string"] })
    }

    fn within(&self, range: (f64, f64)) -> bool {
        self.0.within(range)
    }
}

/// One name, or a list of names.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Names(pub Vec<At<String>>);

impl Written for Names {
    const WANTED: &'static str = "text in quotes, or a list of such";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        match value.get_ref() {
            DeValue::String(_) => {
                let name = String::read(value, reader)?;
                Some(Names(vec![reader.at(name, value)]))
            }
            DeValue::Array(_) => Vec::read(value, reader).map(Names),
            _ => {
                reader.wrong_type(value, Self::WANTED);
                None
            }
        }
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "array"], "items": { "type": "string" } })
    }
}

/// Two numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair(pub f64, pub f64);

impl Written for Pair {
    const WANTED: &'static str = "a list of two numbers";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        match value.get_ref().as_array().map(|list| &list[..]) {
            Some([first, second]) => {
                let first = f64::read(first, reader);
                let second = f64::read(second, reader);
                Some(Pair(first?, second?))
            }
            _ => {
                reader.wrong_type(value, Self::WANTED);
                None
            }
        }
    }

    fn schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "array", "items": { "type": "number" }, "minItems": 2, "maxItems": 2,
        })
    }
}

impl<T: Written> Written for Vec<At<T>> {
    const WANTED: &'static str = "a list";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let Some(list) = value.get_ref().as_array() else {
            let name = reader.within.last().cloned().unwrap_or_default();
            let wanted = match T::WANTED {
                "a table" => format!("a list of tables, each under `[[{name}]]`"),
                other => format!("a list: `[…]` of {other}"),
            };
            reader.wrong_type(value, &wanted);
            return None;
        };
        // One bad element is reported and left out; the others stay.
        Some(
            list.iter()
                .filter_map(|element| {
                    Some(At {
                        value: T::read(element, reader)?,
                        place: Some(reader.lines.place(element.span())),
                    })
                })
                .collect(),
        )
    }

    fn schema(generator: &mut SchemaGenerator) -> Schema {
        let items = T::schema(generator);
        json_schema!({ "type": "array", "items": items })
    }
}

impl<T: Written> Written for BTreeMap<String, At<T>> {
    const WANTED: &'static str = "a table";

    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self> {
        let Some(table) = value.get_ref().as_table() else {
            reader.wrong_type(value, Self::WANTED);
            return None;
        };
        let mut read = BTreeMap::new();
        for (key, value) in table {
            if reader.is_broken(&key.span()) {
                continue;
            }
            reader.within.push(key.get_ref().to_string());
            if let Some(element) = T::read(value, reader) {
                let place = Some(reader.lines.place(key.span().start..value.span().end));
                read.insert(
                    key.get_ref().to_string(),
                    At {
                        value: element,
                        place,
                    },
                );
            }
            reader.within.pop();
        }
        Some(read)
    }

    fn schema(generator: &mut SchemaGenerator) -> Schema {
        let values = T::schema(generator);
        json_schema!({ "type": "object", "additionalProperties": values })
    }
}
