//! Hops in every format, read back by a reader that is not ours.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot be set up has failed"
)]

mod valley;

use std::sync::Arc;

use engine::{RunControl, study};
use model::FadingClimate;
use model::backhaul::{
    Backhaul, Hop, HopEnd, HopModulation, HopPolarization, HopRadio, HopStep, HopThreshold,
};
use model::equipment::{Antenna, PatternSpec};
use model::ids::{EquipmentId, HopId, MastId};
use model::network::{Channel, Mast};
use rusqlite::{Connection, MAIN_DB};
use valley::{HOSTILE_NAME, Valley, place};

fn end(mast: &str) -> HopEnd {
    HopEnd {
        mast: MastId::new(mast),
        height_agl_m: 28.0,
        antenna: Arc::new(Antenna {
            id: EquipmentId::new("dish"),
            name: "Dish".to_owned(),
            gain_dbi: 34.0,
            pattern: PatternSpec::F699Dish {
                diameter_wavelengths: None,
            },
            polarization: model::PolarizationPair::HorizontalVertical,
            cross_polar_discrimination_db: 30.0,
            source: "invented".to_owned(),
        }),
        feeder_loss_db: 0.5,
    }
}

fn step(name: &str, required_snr_db: f64, rate_mbps_per_mhz: f64) -> HopStep {
    HopStep {
        name: name.to_owned(),
        threshold: HopThreshold::Snr { required_snr_db },
        rate_mbps_per_mhz,
        max_tx_power_dbm: 20.0,
    }
}

/// The valley with a hop from its mast to a second one, named to break pages.
fn joined_valley() -> Valley {
    let mut valley = Valley::small();
    valley.network.masts.push(Mast {
        id: MastId::new("barn"),
        name: "Barn".to_owned(),
        position: place(6_000.0, 7_800.0),
        height_agl_m: 30.0,
        ground_amsl_m: None,
    });
    let hop = Hop {
        id: HopId::new(HOSTILE_NAME),
        from: end("barn"),
        to: end("hill"),
        channel: Channel {
            centre_mhz: 11_200.0,
            width_mhz: 40.0,
        },
        polarization: HopPolarization::Vertical,
        radio: Arc::new(HopRadio {
            id: EquipmentId::new("radio"),
            name: "Radio".to_owned(),
            lower_mhz: 10_700.0,
            upper_mhz: 11_700.0,
            noise_figure_db: 6.0,
            adaptive: true,
            steps: vec![step("QPSK", 8.0, 1.0), step("64QAM", 24.0, 4.0)],
            source: "invented".to_owned(),
        }),
        modulation: HopModulation::Adaptive,
        tx_power_dbm: 20.0,
        pointing_error_deg: 0.2,
        rule_set: Arc::clone(&valley.network.rule_set),
        climate: FadingClimate {
            rain_001_mm_per_h: 32.0,
            gradient_1pct_n_per_km: -200.0,
            multipath_map: None,
        },
        availability_target_pct: 99.99,
    };
    valley.network.backhaul = Backhaul {
        core: vec![MastId::new("barn")],
        hops: vec![hop],
    };
    valley.study = study(&valley.network, &valley.ground, &RunControl::unwatched()).unwrap();
    valley
}

#[test]
fn exact_geopackage_has_the_hops_as_lines() {
    let valley = joined_valley();
    let bytes = outputs::geopackage::geopackage(&valley.handout()).unwrap();
    let mut db = Connection::open_in_memory().unwrap();
    let copy = std::io::Cursor::new(&bytes);
    db.deserialize_read_exact(MAIN_DB, copy, bytes.len(), true)
        .unwrap();
    let (id, distance_m, up_pct): (String, f64, f64) = db
        .query_row(
            "SELECT id, distance_m, availability_year_pct FROM hops",
            [],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
        )
        .unwrap();
    let hop = &valley.study.backhaul.hops[0];
    let of = hop.evaluation.as_ref().unwrap();
    assert_eq!(id, HOSTILE_NAME);
    assert_eq!(
        (distance_m, up_pct),
        (of.path.distance_m, of.availability_year_pct)
    );
    let kind: String = db
        .query_row(
            "SELECT geometry_type_name FROM gpkg_geometry_columns WHERE table_name = 'hops'",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(kind, "LINESTRING");
    // The mast of the sectors hangs on the hop, and so does their load.
    assert_eq!(valley.study.backhaul.routes[0].hops.len(), 1);
    let load = valley.study.sectors.iter().map(|s| s.load.downlink_mbps);
    assert!((hop.load.downlink_mbps - load.sum::<f64>()).abs() < 1e-12);
}

#[test]
fn exact_json_has_the_hops_by_their_field_names() {
    let valley = joined_valley();
    let text = outputs::json::study(&valley.handout()).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let hop = &json["backhaul"]["hops"][0];
    let of = &valley.study.backhaul.hops[0];
    assert_eq!(hop["id"], HOSTILE_NAME);
    let of = of.evaluation.as_ref().unwrap();
    assert_eq!(hop["evaluation"]["guaranteed_mbps"], of.guaranteed_mbps);
    assert_eq!(hop["evaluation"]["steps"][1]["name"], "64QAM");
    assert_eq!(hop["evaluation"]["budget"][0]["name"], "tx_power_dbm");
    assert_eq!(json["backhaul"]["routes"][0]["method"], "exact");
    // Its cards stand once, and their ids resolve.
    let network = &json["network"];
    let hop = &network["backhaul"]["hops"][0];
    let card = |kind: &str, id: &serde_json::Value| {
        assert_eq!(&network["cards"][kind][id.as_str().unwrap()]["id"], id);
    };
    card("hop_radios", &hop["radio"]);
    card("antennas", &hop["from"]["antenna"]);
    card("rule_sets", &hop["rule_set"]);
    assert_eq!(hop["from"]["height_agl_m"], 28.0);
}

#[test]
fn exact_the_page_shows_the_hops_and_the_routes() {
    let valley = joined_valley();
    let text = outputs::report::report(&valley.handout()).unwrap();
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..roxmltree::ParsingOptions::default()
    };
    let page = roxmltree::Document::parse_with_options(&text, options).unwrap();
    let heading = |name: &str| {
        page.descendants()
            .any(|n| matches!(n.tag_name().name(), "h2" | "h3") && n.text() == Some(name))
    };
    assert!(heading("Backhaul") && heading("Routes to the core"));
    assert!(!text.contains(HOSTILE_NAME), "a hop's name is text");
    assert!(text.contains("64QAM"));
    // The hop bears the rarest rain that the method tells: a bound, not a figure.
    let of = valley.study.backhaul.hops[0].evaluation.as_ref().unwrap();
    assert!(of.availability_is_bound);
    assert!(text.contains("at least 99.9"));
    assert!(text.contains(" at k = 0.50"));
    let without = outputs::report::report(&Valley::small().handout()).unwrap();
    assert!(!without.contains("Backhaul"));
}
