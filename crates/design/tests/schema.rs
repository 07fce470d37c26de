//! The JSON Schema is fresh, and every key is documented.
#![expect(
    clippy::disallowed_methods,
    reason = "the test compares files of the repository"
)]

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::Value;

fn repository(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .join(path)
}

/// Rewritten by `MASTWRIGHT_BLESS=1`; the difference is then read by a person.
#[test]
fn gold_schema_is_fresh() {
    let path = repository("schemas/design.schema.json");
    let fresh = design::schema_json();
    if std::env::var("MASTWRIGHT_BLESS").is_ok() {
        std::fs::write(&path, &fresh).expect("the schema can be written");
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        committed == fresh,
        "schemas/design.schema.json is stale: run this test with MASTWRIGHT_BLESS=1"
    );
}

/// Every table's keys, as `(table, key)`, and every word of a choice.
fn keys_and_choices() -> (BTreeSet<(String, String)>, BTreeSet<String>) {
    let schema: Value = serde_json::from_str(&design::schema_json()).expect("it is JSON");
    let (mut keys, mut choices) = (BTreeSet::new(), BTreeSet::new());
    let mut tables: Vec<(String, &Value)> = vec![("design".to_owned(), &schema)];
    let defs = schema["$defs"].as_object().expect("it has definitions");
    tables.extend(defs.iter().map(|(name, table)| (name.clone(), table)));
    for (name, table) in tables {
        for (key, value) in table["properties"].as_object().expect("a table has keys") {
            keys.insert((name.clone(), key.clone()));
            for choice in value["enum"].as_array().into_iter().flatten() {
                choices.insert(choice.as_str().expect("a word").to_owned());
            }
        }
    }
    (keys, choices)
}

#[test]
fn exact_schema_has_the_tables() {
    let (keys, choices) = keys_and_choices();
    assert!(keys.len() > 150, "{}", keys.len());
    assert!(keys.contains(&("SectorText".to_owned(), "azimuth_deg".to_owned())));
    assert!(choices.contains("rtPS") && choices.contains("f1336-sector"));
}

#[test]
fn exact_every_key_and_choice_is_documented() {
    let reference =
        std::fs::read_to_string(repository("docs/design-file.md")).expect("the reference");
    let (keys, choices) = keys_and_choices();
    let names = keys.into_iter().map(|(_, key)| key).chain(choices);
    let columns = design::PREMISES_COLUMNS
        .iter()
        .map(|column| (*column).to_owned());
    let missing: BTreeSet<_> = names
        .chain(columns)
        .filter(|name| !reference.contains(&format!("`{name}`")))
        .collect();
    assert!(
        missing.is_empty(),
        "not in docs/design-file.md: {missing:?}"
    );
}

/// Every range and default of the schema that the reference's tables state, they state as the schema has it.
#[test]
fn exact_documented_ranges_and_defaults_are_the_schemas() {
    let reference =
        std::fs::read_to_string(repository("docs/design-file.md")).expect("the reference");
    let schema: Value = serde_json::from_str(&design::schema_json()).expect("it is JSON");
    let mut table = String::new();
    let mut compared = 0;
    for line in reference.lines() {
        if let Some(name) = line
            .strip_prefix("<!-- ")
            .and_then(|l| l.strip_suffix(" -->"))
        {
            table = name.to_owned();
        }
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [key, _, range, default, ..] = cells[..] else {
            continue;
        };
        let properties = match table.as_str() {
            "DesignText" => &schema["properties"],
            name => &schema["$defs"][name]["properties"],
        };
        let Some(key) = properties.get(key.trim_matches('`')) else {
            continue;
        };
        if let (Some(min), Some(max)) = (key["minimum"].as_f64(), key["maximum"].as_f64()) {
            assert_eq!(range, format!("{min} to {max}"), "{line}");
            compared += 1;
        }
        match &key["default"] {
            Value::Null => {}
            Value::String(text) => assert_eq!(default, format!("`{text}`"), "{line}"),
            Value::Number(number) => {
                assert_eq!(default.parse().ok(), number.as_f64(), "{line}");
            }
            other => assert_eq!(default, other.to_string(), "{line}"),
        }
    }
    assert!(compared > 60, "{compared}");
}

#[test]
fn exact_every_built_in_card_is_listed() {
    let reference =
        std::fs::read_to_string(repository("docs/design-file.md")).expect("the reference");
    let cards = design::catalogue::built_in();
    let ids = (cards.antennas.keys())
        .chain(cards.base_stations.keys())
        .chain(cards.terminals.keys())
        .chain(cards.hop_radios.keys())
        .chain(cards.air_interfaces.keys())
        .chain(cards.rule_sets.keys())
        .chain(cards.legends.keys());
    for id in ids {
        assert!(
            reference.contains(&format!("`{id}`")),
            "{id} is not in docs/design-file.md"
        );
    }
}
