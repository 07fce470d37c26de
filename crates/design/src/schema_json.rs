//! The JSON Schema of the design's files.

use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

use crate::schema::{CardsText, DesignText, PlansText};

/// JSON Schema (draft 2020-12) of `mastwright.toml`, with those of
/// `plans.toml` and `equipment/*.toml` under `$defs` as `PlansText` and `CardsText`.
pub fn schema_json() -> String {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    generator.subschema_for::<PlansText>();
    generator.subschema_for::<CardsText>();
    let mut root = generator.into_root_schema_for::<DesignText>();
    root.insert("title".to_owned(), json!("mastwright.toml"));
    let mut text = format!("{:#}", Value::from(root));
    text.push('\n');
    text
}
