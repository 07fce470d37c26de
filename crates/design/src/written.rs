//! Values as they stand in a TOML file, each with its place.
//!
//! A table of the file format is declared once with [`written_table!`]: the
//! declaration gives the struct, the reader with its findings, and the JSON
//! Schema. A key that cannot be read becomes a finding; reading goes on.

use std::collections::BTreeSet;

use model::{Finding, Severity, TextPlace};
use schemars::{Schema, SchemaGenerator, json_schema};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::text::{Lines, SourceText, shorten, suggestion};

mod values;

pub use values::{Names, Pair, Ratio};

/// A value and the place where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct At<T> {
    /// What was read.
    pub value: T,
    /// Where; `None` for a default, which stands nowhere.
    pub place: Option<TextPlace>,
}

impl<T> At<T> {
    /// A value that no file gives.
    pub(crate) fn by_default(value: T) -> Self {
        Self { value, place: None }
    }

    /// The finding, pinned to this value's place.
    pub(crate) fn pin(&self, finding: Finding) -> Finding {
        match &self.place {
            Some(place) => finding.at(place.clone()),
            None => finding,
        }
    }
}

/// Something that a TOML value can hold.
pub(crate) trait Written: Sized {
    /// What the file must hold, as in `a number`.
    const WANTED: &'static str;

    /// Reads a value; on failure the finding has been made.
    fn read(value: &Spanned<DeValue<'_>>, reader: &mut Reader<'_>) -> Option<Self>;

    /// JSON Schema of the value.
    fn schema(generator: &mut SchemaGenerator) -> Schema;

    /// Whether a number lies in a range; anything else does.
    fn within(&self, _range: (f64, f64)) -> bool {
        true
    }
}

/// A key of a table: its name, whether it must be there and its range.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Key {
    pub(crate) name: &'static str,
    pub(crate) is_required: bool,
    pub(crate) range: Option<(f64, f64)>,
}

impl Key {
    pub(crate) const fn required(name: &'static str) -> Self {
        Self {
            name,
            is_required: true,
            range: None,
        }
    }

    pub(crate) const fn optional(name: &'static str) -> Self {
        Self {
            name,
            is_required: false,
            range: None,
        }
    }

    pub(crate) const fn between(self, min: f64, max: f64) -> Self {
        Self {
            range: Some((min, max)),
            ..self
        }
    }
}

/// Declares a table of the file format.
macro_rules! written_table {
    (
        $(#[doc = $doc:literal])*
        pub struct $name:ident {
            $(
                $(#[doc = $field_doc:literal])*
                $field:ident : $need:ident $ty:ty $([$min:literal, $max:literal])? $(= $default:expr)? ;
            )*
        }
    ) => {
        $(#[doc = $doc])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name {
            /// Whether every key that stands in the text could be read.
            pub is_sound: bool,
            $( $(#[doc = $field_doc])* pub $field: Option<$crate::written::At<$ty>>, )*
        }

        impl Default for $name {
            fn default() -> Self {
                Self {
                    is_sound: true,
                    $( $field: None$(.or(Some($crate::written::At::by_default(<$ty>::from($default)))))?, )*
                }
            }
        }

        impl $crate::written::Written for $name {
            const WANTED: &'static str = "a table";

            fn read(
                value: &toml::Spanned<toml::de::DeValue<'_>>,
                reader: &mut $crate::written::Reader<'_>,
            ) -> Option<Self> {
                const KEYS: &[&str] = &[$(stringify!($field)),*];
                let blank = Self::default();
                let mut table = reader.table(value, KEYS)?;
                Some(Self {
                    $( $field: table.take(
                        $crate::written::Key::$need(stringify!($field))$(.between($min, $max))?,
                    ).or(blank.$field), )*
                    is_sound: table.is_sound,
                })
            }

            fn schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                generator.subschema_for::<Self>()
            }
        }

        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                let mut table = $crate::written::TableSchema::new(&[$($doc),*]);
                $( table.key(
                    $crate::written::Key::$need(stringify!($field))$(.between($min, $max))?,
                    <$ty as $crate::written::Written>::schema(generator),
                    &[$($field_doc),*],
                    None::<serde_json::Value>$(.or(Some(serde_json::json!($default))))?,
                ); )*
                table.done()
            }
        }
    };
}
pub(crate) use written_table;

/// Declares how the file writes the cases of an enum of the model.
macro_rules! written_choice {
    ($name:ty { $($text:literal => $case:expr),* $(,)? }) => {
        impl $crate::written::Written for $name {
            const WANTED: &'static str = "a word in quotes";

            fn read(
                value: &toml::Spanned<toml::de::DeValue<'_>>,
                reader: &mut $crate::written::Reader<'_>,
            ) -> Option<Self> {
                let text = <String as $crate::written::Written>::read(value, reader)?;
                match text.as_str() {
                    $( $text => Some($case), )*
                    _ => {
                        reader.unknown_choice(&text, value, &[$($text),*]);
                        None
                    }
                }
            }

            fn schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "enum": [$($text),*] })
            }
        }
    };
}
pub(crate) use written_choice;

/// Builds the JSON Schema of a table.
pub(crate) struct TableSchema {
    description: String,
    properties: serde_json::Map<String, serde_json::Value>,
    required: Vec<&'static str>,
}

impl TableSchema {
    pub(crate) fn new(doc: &[&str]) -> Self {
        Self {
            description: joined(doc),
            properties: serde_json::Map::new(),
            required: Vec::new(),
        }
    }

    pub(crate) fn key(
        &mut self,
        key: Key,
        mut schema: Schema,
        doc: &[&str],
        default: Option<serde_json::Value>,
    ) {
        schema.insert("description".to_owned(), joined(doc).into());
        if let Some((min, max)) = key.range {
            schema.insert("minimum".to_owned(), min.into());
            schema.insert("maximum".to_owned(), max.into());
        }
        if let Some(default) = default {
            schema.insert("default".to_owned(), default);
        }
        if key.is_required {
            self.required.push(key.name);
        }
        self.properties.insert(key.name.to_owned(), schema.into());
    }

    pub(crate) fn done(self) -> Schema {
        json_schema!({
            "type": "object",
            "description": self.description,
            "properties": self.properties,
            "required": self.required,
            "additionalProperties": false,
        })
    }
}

fn joined(doc: &[&str]) -> String {
    doc.iter()
        .map(|line| line.trim())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Reads one TOML file and collects what is wrong with it.
#[derive(Debug)]
pub(crate) struct Reader<'a> {
    lines: Lines<'a>,
    /// Lines on which the TOML itself is broken: whatever was recovered there is not trusted.
    broken_lines: BTreeSet<usize>,
    within: Vec<String>,
    findings: &'a mut Vec<Finding>,
}

/// Reads a whole file as a table of type `T`; `None` where it holds nothing.
pub(crate) fn read_toml<T: Written>(source: &SourceText, findings: &mut Vec<Finding>) -> Option<T> {
    let text = match source.text.strip_prefix('\u{feff}') {
        Some(text) => {
            findings.push(
                Finding::new(
                    Severity::Note,
                    "byte-order-mark",
                    format!("`{}` starts with a byte order mark", source.file),
                )
                .at(crate::text::file_place(&source.file))
                .hint("save the file as UTF-8 without byte order mark; it is read all the same"),
            );
            text
        }
        None => source.text.as_str(),
    };
    let lines = Lines::new(source.file.clone(), text);
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut broken_lines = BTreeSet::new();
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        broken_lines.insert(lines.line(span.start));
        findings.push(syntax_finding(error, &lines, text));
    }
    let mut reader = Reader {
        lines,
        broken_lines,
        within: Vec::new(),
        findings,
    };
    let span = document.span();
    let document = Spanned::new(span, DeValue::Table(document.into_inner()));
    T::read(&document, &mut reader)
}

fn syntax_finding(error: &toml::de::Error, lines: &Lines<'_>, text: &str) -> Finding {
    let span = error.span().unwrap_or(0..0);
    let mut place = lines.place(span.clone());
    let line = text.lines().nth(place.line - 1).unwrap_or("").trim();
    if place.text.is_empty() {
        place.text = crate::text::shorten(line);
    }
    let message = error.message().replace('\n', ", ");
    Finding::new(
        Severity::Error,
        "syntax",
        format!("not valid TOML: {message}"),
    )
    .at(place)
    .hint(syntax_hint(line, &message))
}

fn syntax_hint(line: &str, message: &str) -> String {
    let value = line.split_once('=').map_or("", |(_, value)| value.trim());
    let (whole, rest) = value.split_once(',').unwrap_or((value, ""));
    let is_number = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    if is_number(whole.trim_start_matches('-')) && is_number(rest) {
        return format!("write the decimal point as `.`: `{whole}.{rest}`");
    }
    if message.contains("duplicate key") {
        return "a key stands once in a table; remove one of the two".to_owned();
    }
    if value.starts_with(|c: char| c.is_alphabetic()) {
        return format!("text stands in quotes: `\"{value}\"`");
    }
    "a line is `key = value`, `[table]`, `[[table]]` or a `# comment`".to_owned()
}

impl<'a> Reader<'a> {
    fn is_broken(&self, span: &std::ops::Range<usize>) -> bool {
        self.broken_lines.contains(&self.lines.line(span.start))
    }

    fn context(&self) -> String {
        match self.within.last() {
            Some(name) => format!(" in `{name}`"),
            None => String::new(),
        }
    }

    /// A value with its place.
    pub(crate) fn at<T>(&self, value: T, written: &Spanned<DeValue<'_>>) -> At<T> {
        At {
            value,
            place: Some(self.lines.place(written.span())),
        }
    }

    /// Makes an error finding at a value.
    pub(crate) fn fault(
        &mut self,
        code: &'static str,
        message: String,
        span: std::ops::Range<usize>,
        hint: String,
    ) {
        self.findings.push(
            Finding::new(Severity::Error, code, message)
                .at(self.lines.place(span))
                .hint(hint),
        );
    }

    /// Says that a value is of the wrong type.
    pub(crate) fn wrong_type(&mut self, value: &Spanned<DeValue<'_>>, wanted: &str) {
        let key = self.within.last().cloned().unwrap_or_default();
        let hint = match value.get_ref() {
            DeValue::String(text) if wanted.contains("number") => {
                match text.trim().replace(',', ".").parse::<f64>() {
                    Ok(_) => format!(
                        "write the number without quotes: `{key} = {}`",
                        text.trim().replace(',', ".")
                    ),
                    Err(_) => format!("write {wanted}, without quotes"),
                }
            }
            DeValue::Integer(_) | DeValue::Float(_) if wanted.contains("text") => {
                "put the text in quotes".to_owned()
            }
            _ => format!("write {wanted}"),
        };
        let message = format!("`{key}` is {}, not {wanted}", kind(value.get_ref()));
        self.fault("wrong-type", message, value.span(), hint);
    }

    /// Says that a word is none of the choices.
    pub(crate) fn unknown_choice(
        &mut self,
        text: &str,
        value: &Spanned<DeValue<'_>>,
        choices: &[&str],
    ) {
        let key = self.within.last().cloned().unwrap_or_default();
        self.fault(
            "unknown-choice",
            format!("`{text}` is not a choice for `{key}`"),
            value.span(),
            suggestion(text, choices.iter().copied()),
        );
    }

    /// Starts reading a table, and reports the keys that it must not have.
    pub(crate) fn table<'r, 't, 'i>(
        &'r mut self,
        value: &'t Spanned<DeValue<'i>>,
        keys: &[&str],
    ) -> Option<TableReader<'r, 'a, 't, 'i>> {
        let DeValue::Table(table) = value.get_ref() else {
            self.wrong_type(value, "a table");
            return None;
        };
        for key in table.keys() {
            let name = key.get_ref().as_ref();
            if !keys.contains(&name) && !self.is_broken(&key.span()) {
                let message = format!("unknown key `{}`{}", shorten(name), self.context());
                let hint = suggestion(name, keys.iter().copied());
                self.fault("unknown-key", message, key.span(), hint);
            }
        }
        Some(TableReader {
            table,
            span: value.span(),
            is_sound: true,
            reader: self,
        })
    }
}

/// Reads the keys of one table.
pub(crate) struct TableReader<'r, 'a, 't, 'i> {
    table: &'t DeTable<'i>,
    span: std::ops::Range<usize>,
    /// Whether every key so far could be read.
    pub(crate) is_sound: bool,
    reader: &'r mut Reader<'a>,
}

impl TableReader<'_, '_, '_, '_> {
    /// The value of a key; `None` where it is absent or has been reported.
    pub(crate) fn take<T: Written>(&mut self, key: Key) -> Option<At<T>> {
        let Some((written, value)) = self.table.get_key_value(key.name) else {
            if key.is_required {
                self.missing(key);
            }
            return None;
        };
        let taken = self.read(key, written.span(), value);
        self.is_sound &= taken.is_some();
        taken
    }

    fn read<T: Written>(
        &mut self,
        key: Key,
        key_span: std::ops::Range<usize>,
        value: &Spanned<DeValue<'_>>,
    ) -> Option<At<T>> {
        if self.reader.is_broken(&key_span) || self.reader.is_broken(&value.span()) {
            return None;
        }
        self.reader.within.push(key.name.to_owned());
        let read = T::read(value, self.reader);
        self.reader.within.pop();
        let read = read?;
        if let Some(range) = key.range
            && !read.within(range)
        {
            self.out_of_range(key.name, range, value);
            return None;
        }
        Some(At {
            value: read,
            place: Some(self.reader.lines.place(value.span())),
        })
    }

    fn missing(&mut self, key: Key) {
        self.is_sound = false;
        let context = self.reader.context();
        if self.reader.is_broken(&self.span) {
            return;
        }
        self.reader.fault(
            "missing-key",
            format!("`{}` is missing{context}", key.name),
            self.span.clone(),
            match key.range {
                Some((min, max)) => format!("add `{} = …`, between {min} and {max}", key.name),
                None => format!("add `{} = …`", key.name),
            },
        );
    }

    fn out_of_range(&mut self, name: &str, range: (f64, f64), value: &Spanned<DeValue<'_>>) {
        let written = self.reader.lines.place(value.span()).text;
        self.reader.fault(
            "out-of-range",
            format!(
                "`{name}` is `{written}`, outside {} to {}",
                range.0, range.1
            ),
            value.span(),
            range_hint(name, range),
        );
    }
}

fn range_hint(name: &str, (min, max): (f64, f64)) -> String {
    let unit = crate::unit::of_key(name);
    if unit.is_empty() {
        format!("write a value between {min} and {max}")
    } else {
        format!("write a value between {min} and {max} {unit}")
    }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
