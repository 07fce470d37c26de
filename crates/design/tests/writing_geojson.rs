//! Edits into premises kept as GeoJSON, and files that are named in the texts.

use std::sync::Arc;

use design::write::{
    PatternCard, RasterRole, WriteError, add_pattern_card, apply_geojson_edits, name_raster,
};
use design::{ProjectSources, SourceText};
use geodesy::LonLat;
use model::equipment::CutPoint;
use model::{Edit, PlanId, PremisesId, SectorId};

const COLLECTION: &str = "{\n  \"type\": \"FeatureCollection\",\n  \"name\": \"made elsewhere\",\n  \"features\": [\n    { \"type\": \"Feature\", \"id\": 7, \"properties\": { \"zone\": 1.50, \"plan\": \"home\", \"note\": \"a \\\"b\\\"\" }, \"geometry\": { \"type\": \"Point\", \"coordinates\": [ 9.1000, 47.2, 431.0 ] } },\n    {\n      \"type\": \"Feature\",\n      \"properties\": {\n        \"id\": \"b\",\n        \"weight\": 1e3\n      },\n      \"geometry\": {\"type\":\"Polygon\",\"coordinates\":[[[9,47],[9.1,47],[9.1,47.1],[9,47]]]}\n    },\n    {\"type\":\"Feature\",\"properties\":null,\"id\":\"c\",\"geometry\":{\"type\":\"Point\",\"coordinates\":[9.2,47.3]}}\n  ]\n}\n";

fn id(id: &str) -> PremisesId {
    PremisesId::new(id)
}

fn plan(premises: &str, plan: &str) -> Edit {
    Edit::PremisesPlan {
        premises: id(premises),
        plan: PlanId::new(plan),
    }
}

#[test]
fn exact_only_the_edited_members_change() {
    let edits = [
        plan("7", "work"),
        Edit::PremisesMountHeight {
            premises: id("b"),
            mount_height_agl_m: 8.5,
        },
        Edit::PremisesSector {
            premises: id("c"),
            sector: Some(SectorId::new("s\"1")),
        },
        Edit::MovePremises {
            premises: id("7"),
            position: LonLat::new(9.25, 47.125).expect("a place"),
        },
    ];
    let expected = COLLECTION
        .replace("\"home\"", "\"work\"")
        .replace("[ 9.1000, 47.2, 431.0 ]", "[ 9.25, 47.125, 431.0 ]")
        .replace(
            "\"weight\": 1e3\n",
            "\"weight\": 1e3,\n        \"mount_height_agl_m\": 8.5\n",
        )
        .replace(
            "\"properties\":null",
            "\"properties\":{\"sector\": \"s\\\"1\"}",
        );
    assert_eq!(
        apply_geojson_edits(COLLECTION, &edits).as_deref(),
        Ok(&*expected)
    );
    assert_eq!(
        apply_geojson_edits(COLLECTION, &[]).as_deref(),
        Ok(COLLECTION)
    );
}

#[test]
fn exact_features_go_and_the_rest_is_as_it_was() {
    let gone = |premises: &str| {
        let edit = Edit::RemovePremises {
            premises: id(premises),
        };
        apply_geojson_edits(COLLECTION, &[edit]).expect("it goes")
    };
    for (premises, others) in [("7", ["b", "c"]), ("b", ["7", "c"]), ("c", ["7", "b"])] {
        let text = gone(premises);
        let document: serde_json::Value = serde_json::from_str(&text).expect("valid JSON");
        let left = document["features"].as_array().expect("a list");
        assert_eq!(left.len(), 2, "{text}");
        assert_eq!(document["name"], "made elsewhere");
        for other in others {
            assert!(apply_geojson_edits(&text, &[plan(other, "x")]).is_ok());
        }
        let unknown = apply_geojson_edits(&text, &[plan(premises, "x")]);
        assert_eq!(unknown, Err(WriteError::UnknownPremises(id(premises))));
    }
    let all = ["7", "b", "c"].map(|premises| Edit::RemovePremises {
        premises: id(premises),
    });
    let empty = apply_geojson_edits(COLLECTION, &all).expect("all go");
    let document: serde_json::Value = serde_json::from_str(&empty).expect("valid JSON");
    assert_eq!(document["features"], serde_json::json!([]));
}

#[test]
fn exact_what_cannot_be_written_is_refused() {
    let to = LonLat::new(9.0, 47.0).expect("a place");
    let area = Edit::MovePremises {
        premises: id("b"),
        position: to,
    };
    assert_eq!(
        apply_geojson_edits(COLLECTION, &[area]),
        Err(WriteError::NoPoint(id("b")))
    );
    for bad in [
        "",
        "[]",
        "{}",
        "{\"features\": 1}",
        "{\"type\": \"Feature\"}",
        "{\"features\": [1,]}",
    ] {
        assert!(
            matches!(
                apply_geojson_edits(bad, &[]),
                Err(WriteError::Syntax { .. })
            ),
            "{bad}"
        );
    }
}

#[test]
fn exact_a_raster_is_named_wherever_the_list_stands() {
    let named = |text: &str| name_raster(text, RasterRole::Terrain, "terrain/b.tif");
    for (text, expected) in [
        (
            "[ground]\nterrain = [\"a.tif\"] # mine\nlegend = \"x\"\n",
            "[ground]\nterrain = [\"a.tif\", \"terrain/b.tif\"] # mine\nlegend = \"x\"\n",
        ),
        (
            "[ground]\nterrain = [\n  \"a.tif\",\n]\n",
            "[ground]\nterrain = [\n  \"a.tif\", \"terrain/b.tif\",\n]\n",
        ),
        (
            "[ground]\nterrain = []\n",
            "[ground]\nterrain = [\"terrain/b.tif\"]\n",
        ),
        (
            "[ground]\r\nlegend = \"x\" # y\r\n[other]\r\n",
            "[ground]\r\nlegend = \"x\" # y\r\nterrain = [\"terrain/b.tif\"]\r\n[other]\r\n",
        ),
        (
            "ground = { legend = \"x\" }\n",
            "ground = { legend = \"x\", terrain = [\"terrain/b.tif\"] }\n",
        ),
        (
            "[project]\nname = \"p\"\n",
            "[project]\nname = \"p\"\n\n[ground]\nterrain = [\"terrain/b.tif\"]\n",
        ),
        (
            "[project]\nname = \"p\"\n\n[ground]\n# nothing yet\n\n[other]\na = 1\n",
            "[project]\nname = \"p\"\n\n[ground]\nterrain = [\"terrain/b.tif\"]\n# nothing yet\n\n[other]\na = 1\n",
        ),
    ] {
        assert_eq!(named(text).as_deref(), Ok(expected));
    }
    assert!(matches!(
        named("[ground]\nterrain = \"a\"\n"),
        Err(WriteError::InlineTable(_))
    ));
    assert!(matches!(
        named("ground = 1\n"),
        Err(WriteError::InlineTable(_))
    ));
    assert!(matches!(named("[ground\n"), Err(WriteError::Syntax { .. })));
}

/// Falls off evenly to 20 dB behind.
fn cuts() -> design::PatternTable {
    let points = (-4..=4).map(|i| CutPoint {
        angle_deg: 45.0 * f64::from(i),
        loss_db: 5.0 * f64::from(i).abs(),
    });
    let cut: Vec<CutPoint> = points.collect();
    design::PatternTable {
        horizontal: cut.clone(),
        vertical: cut,
    }
}

#[test]
fn exact_a_pattern_card_is_read_again() {
    let card = |id| PatternCard {
        id,
        name: "Panel \"A\"",
        gain_dbi: 17.0,
        pattern_file: "equipment/patterns/a.csv",
        source: "brought in from a.csv",
    };
    let text = add_pattern_card(&add_pattern_card("", &card("panel-a")), &card("panel-b"));
    let sources = ProjectSources {
        equipment: vec![SourceText::new("equipment/brought-in.toml", &text)],
        patterns: [("equipment/patterns/a.csv".to_owned(), cuts())].into(),
        files: vec![Arc::from("equipment/patterns/a.csv")],
        ..ProjectSources::default()
    };
    let cards = design::catalogue::of(&sources);
    for id in ["panel-a", "panel-b"] {
        let antenna = cards
            .antennas
            .get(id)
            .unwrap_or_else(|| panic!("{id} is not there: {text}"));
        assert_eq!(
            (antenna.gain_dbi, antenna.name.as_str()),
            (17.0, "Panel \"A\"")
        );
    }
}
