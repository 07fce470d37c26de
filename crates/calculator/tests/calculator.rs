//! The calculator over the reference tables, over faulty tables, over junk.

#![expect(
    clippy::print_stdout,
    reason = "a run prints the worst difference per column"
)]
#![expect(clippy::disallowed_methods, reason = "tests read reference tables")]

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use calculator::{
    Fault, MODELS, Place, Problems, Unavailable, choose, explain, family, model, run,
};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// Folder of the propagation reference data, or `None` with a plain note.
fn shared(topic: &str) -> Option<PathBuf> {
    let root = std::env::var("MASTWRIGHT_SHARED").map_or_else(
        |_| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared"),
        PathBuf::from,
    );
    let folder = root.join("reference/propagation").join(topic);
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: {topic}, the shared reference data is not here");
    None
}

/// Fixture committed with the crate that holds the models.
fn fixture(topic: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../physics/tests/reference")
        .join(topic)
}

fn rows(text: &str) -> Vec<HashMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader
        .deserialize()
        .map(|row| row.expect("a row"))
        .collect()
}

fn from_folder(folder: &Path) -> impl FnMut(&str) -> Result<String, Unavailable> + use<> {
    let profiles = folder.join("profiles");
    move |name: &str| {
        std::fs::read_to_string(profiles.join(format!("{name}.csv")))
            .map_err(|_| Unavailable::Unknown)
    }
}

/// Runs a reference table and compares every output column the table has.
///
/// Both sides carry 12 significant digits: they may differ by one unit of the
/// last digit each, 1e-11 of the value, and losses near zero by rounding (1e-9 dB).
fn check(model_name: &str, folder: &Path, file: &str) {
    check_within(model_name, folder, file, 1.1e-11);
}

/// As [`check`] with a tolerance of its own, of 100 or the value.
fn check_within(model_name: &str, folder: &Path, file: &str, tolerance: f64) {
    let table = std::fs::read_to_string(folder.join(file)).expect("the table");
    let model = model(model_name).expect("a model");
    let results = run(model, &table, &mut from_folder(folder)).unwrap_or_else(|p| panic!("{p}"));
    let (got, expected) = (rows(&results.csv), rows(&table));
    assert_eq!(got.len(), expected.len());
    assert_eq!(results.cases, expected.len());
    let mut worst: BTreeMap<&str, (f64, usize)> = BTreeMap::new();
    for (got, expected) in got.iter().zip(&expected) {
        if let Some(case) = expected.get("case") {
            assert_eq!(&got["case"], case);
        }
        for column in model.outputs {
            let Some(text) = expected.get(column.name) else {
                continue;
            };
            match (got[column.name].parse::<f64>(), text.parse::<f64>()) {
                (Ok(a), Ok(b)) => {
                    let entry = worst.entry(column.name).or_default();
                    *entry = (entry.0.max((a - b).abs() / b.abs().max(100.0)), entry.1 + 1);
                }
                _ => assert_eq!(
                    &got[column.name], text,
                    "{} of {}",
                    column.name, got["case"]
                ),
            }
        }
    }
    println!(
        "{model_name} over {file}, {} cases: greatest difference, of 100 or the value",
        got.len()
    );
    for (column, (difference, count)) in &worst {
        println!("  {column:<16} {difference:8.1e} of {count}");
        assert!(*difference <= tolerance, "{column}: {difference}");
    }
    assert!(
        !worst.is_empty() && (worst.len() >= model.outputs.len() / 2 || model.outputs.len() < 8),
        "only {} columns compared",
        worst.len()
    );
}

/// Source: reference tables of ITU-R P.1812, 12 significant digits.
#[test]
fn ref_p1812_tables() {
    let Some(folder) = shared("p1812") else {
        return;
    };
    check("p1812", &folder, "cases_generated.csv");
    check("p1812", &folder, "cases_published.csv");
    check(
        "p1812-location",
        &folder,
        "location_variability_generated.csv",
    );
    check(
        "p1812-inverse-normal",
        &folder,
        "inverse_normal_generated.csv",
    );
}

/// Source: reference tables of ITU-R P.526, 12 significant digits.
#[test]
fn ref_p526_tables() {
    let Some(folder) = shared("p526") else { return };
    check("p526", &folder, "delta_bullington_generated.csv");
    check("p526-knife-edge", &folder, "knife_edge.csv");
    check("p526-first-term", &folder, "first_term.csv");
    check("p526-spherical", &folder, "spherical_earth.csv");
}

/// Source: NTIA/itm, commit 183ad95; published cases and cases run through it.
/// Rows marked by `edge_db` too: distances are rounded as the program does.
#[test]
fn ref_itm_tables() {
    let Some(folder) = shared("itm") else { return };
    for file in ["p2p_generated.csv", "p2p_published.csv"] {
        check("itm", &folder, file);
    }
    for file in ["area_generated.csv", "area_published.csv"] {
        check("itm-area", &folder, file);
    }
}

/// Source: reference tables of ITU-R P.2108, P.2109, P.833 and P.1411.
#[test]
fn ref_terminal_tables() {
    let Some(folder) = shared("p2108") else {
        return;
    };
    check("p2108-height-gain", &folder, "height_gain_generated.csv");
    // The columns `l_ctt_db` and `l_ces_db` of the tables rest on an
    // approximated inverse normal distribution, ours on the exact one: 0.005 dB.
    check_within(
        "p2108-terrestrial",
        &folder,
        "terrestrial_generated.csv",
        5e-5,
    );
    check_within(
        "p2108-earth-space",
        &folder,
        "earth_space_generated.csv",
        5e-5,
    );
    let Some(folder) = shared("p2109") else {
        return;
    };
    check("p2109", &folder, "building_entry_generated.csv");
    // Published to 0.001 dB.
    check_within("p2109", &folder, "building_entry_published.csv", 5.01e-6);
    let Some(folder) = shared("p833") else { return };
    check("p833", &folder, "woodland_terminal_equation.csv");
    let Some(folder) = shared("p1411") else {
        return;
    };
    check(
        "p1411-below-rooftop",
        &folder,
        "below_rooftop_generated.csv",
    );
    check(
        "p1411-above-rooftop",
        &folder,
        "above_rooftop_generated.csv",
    );
    check("p1411-low-height", &folder, "low_height_generated.csv");
}

const ITM_HEADER: &str = "profile,spacing_m,h_tx_m,h_rx_m,f_mhz,pol,climate,n_0,epsilon,sigma,mdvar,\
     mode_of_variability,time_pct,location_pct,situation_pct,confidence_pct,reliability_pct";

/// Percentages are asked for only where the case's own form needs them.
#[test]
fn exact_idle_cells_may_stay_empty() {
    let model = model("itm").expect("a model");
    let mut hill = |_: &str| Ok("h_m\n100\n130\n110\n".to_owned());
    let head = "hill,1000,30,6,3650,v,5,301,15,0.005,12";
    let both = format!("{ITM_HEADER}\n{head},tls,90,50,80,,\n{head},cr,,,,80,90\n");
    let results = run(model, &both, &mut hill).unwrap_or_else(|p| panic!("{p}"));
    let rows = rows(&results.csv);
    assert_eq!(rows[0]["a_db"], rows[1]["a_db"]);
    assert_eq!(rows[0]["d_km"], "2");
    let swapped = format!("{ITM_HEADER}\n{head},cr,90,50,80,,\n");
    let problems = run(model, &swapped, &mut hill).expect_err("problems");
    let told: Vec<&str> = problems.list().iter().map(|p| p.column.as_str()).collect();
    assert_eq!(told, ["confidence_pct", "reliability_pct"]);
}

/// Profiles at equal steps have their own demands.
#[test]
fn exact_unusable_heights() {
    let model = model("itm").expect("a model");
    let table = format!("{ITM_HEADER}\nhill,1000,30,6,3650,v,5,301,15,0.005,12,tls,50,50,50,,\n");
    for (text, expected) in [
        ("h_m\n1\n2\n", "at least 3 points"),
        ("d_km\n0\n1\n2\n", "column `h_m`"),
        ("h_m\n1\nhigh\n2\n", "`high` is not a number"),
    ] {
        let problems =
            run(model, &table, &mut |_: &str| Ok(text.to_owned())).expect_err("problems");
        assert!(problems.to_string().contains(expected), "{problems}");
    }
}

/// Source: reference tables of ITU-R P.452, P.676, P.838 and P.530, 12
/// significant digits. The published cases of P.452 were computed with map
/// values that the table gives to 6 decimals; those of P.838 have 8 decimals.
#[test]
fn ref_radio_link_tables() {
    if let Some(folder) = shared("p452") {
        check("p452", &folder, "cases_generated.csv");
        check_within("p452", &folder, "cases_published.csv", 3e-8);
    }
    if let Some(folder) = shared("p676") {
        check("p676", &folder, "gamma_generated.csv");
        check("p676", &folder, "gamma_published.csv");
    }
    if let Some(folder) = shared("p838") {
        check("p838", &folder, "specific_attenuation_generated.csv");
        check_within(
            "p838",
            &folder,
            "specific_attenuation_published.csv",
            5.1e-11,
        );
    }
    if let Some(folder) = shared("p530") {
        check("p530-multipath", &folder, "multipath_generated.csv");
        check("p530-rain", &folder, "rain_generated.csv");
        check(
            "p530-rain-scaling",
            &folder,
            "rain_frequency_scaling_generated.csv",
        );
        check(
            "p530-diffraction",
            &folder,
            "diffraction_fading_generated.csv",
        );
    }
}

/// Source: reference table of ITU-R P.530, section 4.2, 12 significant digits.
#[test]
fn ref_cross_polar_table() {
    let Some(folder) = shared("p530") else { return };
    let table =
        std::fs::read_to_string(folder.join("xpd_precipitation_generated.csv")).expect("the table");
    let model = model("p530-xpd-rain").expect("a model");
    let results = run(model, &table, &mut no_profiles).expect("results");
    for (got, expected) in rows(&results.csv).iter().zip(rows(&table)) {
        let [got, expected] =
            [got, &expected].map(|r| r["p_xpr"].parse::<f64>().expect("a number"));
        assert!((got / expected - 1.0).abs() < 1.1e-11, "{got} {expected}");
    }
}

/// The availability of a hop is what its parts make, and says when it is asked too much.
#[test]
fn exact_hop_availability_table() {
    let table = "d_km,f_ghz,he_masl,hr_masl,ht_masl,log_k,dn75,lat_deg,pol,r001_mmh,margin_db\n\
                 20,18,120,90,40,-4.2,40,50,v,42,40\n3,18,120,90,40,-4.2,40,50,v,42,40\n3,18,120,90,40,-4.2,40,50,v,42,0.2\n";
    let results = run(model("p530").expect("a model"), table, &mut no_profiles).expect("results");
    let rows = rows(&results.csv);
    let value = |i: usize, c: &str| rows[i][c].parse::<f64>().expect("a number");
    let parts = value(0, "multipath_year_pct") + value(0, "rain_year_pct");
    assert!(
        (value(0, "year_pct") / parts - 1.0).abs() < 1e-11 && value(0, "multipath_year_pct") > 0.0
    );
    assert!((value(0, "minutes_per_year") / (value(0, "year_pct") * 5259.6) - 1.0).abs() < 1e-11);
    assert_eq!(value(1, "multipath_year_pct"), 0.0);
    assert_eq!(results.warnings.len(), 1, "{:?}", results.warnings);
    assert_eq!(results.warnings[0].line, 4);
}

/// Source: the fixture's own SOURCE.md.
#[test]
fn ref_fixture_table() {
    check("p452", &fixture("p452"), "cases.csv");
    check("p1812", &fixture("p1812"), "cases.csv");
}

/// Source: ITU-R P.525, 92.45 dB at 1 GHz and 1 km; 103.70 dB at 3.65 GHz.
#[test]
fn exact_free_space_table() {
    let model = model("p525").expect("a model");
    let results = run(model, "f_ghz,d_km\n1,1\n3.65,1\n", &mut no_profiles).expect("results");
    let rows = rows(&results.csv);
    let loss = |i: usize| rows[i]["lbfs_db"].parse::<f64>().expect("a number");
    assert!((loss(0) - 92.4478).abs() < 5e-5);
    assert!((loss(1) - 103.6936).abs() < 5e-5);
    assert_eq!(rows[1]["case"], "2");
}

fn no_profiles(_: &str) -> Result<String, Unavailable> {
    Err(Unavailable::Unknown)
}

const HEADER: &str = "case,profile,f_ghz,pol,htg_m,hrg_m,ap_km,omega";

fn faults(table: &str, profiles: &mut dyn calculator::ProfileSource) -> Problems {
    run(model("p526").expect("a model"), table, profiles).expect_err("problems")
}

/// All problems of a table come at once, each with its place and a hint.
#[test]
fn exact_problems_are_told_together() {
    let table = format!(
        "{HEADER}\na,hill,3.6 GHz,h,30,6,8500,0\nb,none,3.6,x,30,6,8500,0\nc,../etc,3.6,v,-3,6,8500,\n"
    );
    let mut source = |name: &str| match name {
        "hill" => Ok("d_km,h_m,zone\n0,1,inland\n1,x,lake\n2,5,sea\n".to_owned()),
        _ => Err(Unavailable::Unknown),
    };
    let problems = faults(&table, &mut source);
    let told: Vec<(u64, &str)> = problems
        .list()
        .iter()
        .map(|p| (p.line, p.column.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            (3, "h_m"),
            (3, "zone"),
            (2, "f_ghz"),
            (3, "profile"),
            (3, "pol"),
            (4, "profile"),
            (4, "htg_m"),
            (4, "omega")
        ]
    );
    assert_eq!(problems.list()[0].place, Place::Profile("hill".into()));
    let text = problems.to_string();
    assert!(
        text.contains("table, line 2, column `f_ghz`: `3.6 GHz` is not a number\n  hint: "),
        "{text}"
    );
    assert!(
        text.contains("profile `hill`, line 3, column `zone`: `lake` is not a word"),
        "{text}"
    );
}

#[test]
fn exact_missing_columns_and_cases() {
    let problems = faults("case,profile,f_ghz\n", &mut no_profiles);
    let missing: Vec<&str> = problems.list().iter().map(|p| p.column.as_str()).collect();
    assert_eq!(missing, ["pol", "htg_m", "hrg_m", "ap_km", "omega"]);
    assert_eq!(
        faults(&format!("{HEADER}\n"), &mut no_profiles).list()[0].fault,
        Fault::NoCases
    );
    let twice = format!("{HEADER},pol\na,b,1,h,1,1,8500,0,h\n");
    assert_eq!(
        faults(&twice, &mut no_profiles).list()[0].fault,
        Fault::DoubleColumn
    );
}

#[test]
fn exact_unusable_profiles() {
    let table = format!("{HEADER}\na,p,3.6,h,30,6,8500,0\nb,p,3.6,h,30,6,8500,0\n");
    for (text, expected) in [
        ("d_km,h_m\n0,1\n1,1\n", "at least 3 points"),
        ("d_km,h_m\n0,1\n1,1\n1,2\n", "not farther"),
        ("d_km,h_m\n1,1\n2,1\n3,2\n", "starts at distance 0"),
        ("d_km\n0\n1\n2\n", "column `h_m`"),
    ] {
        let problems = faults(&table, &mut |_: &str| Ok(text.to_owned()));
        assert_eq!(problems.list().len(), 1, "told once: {problems}");
        assert!(problems.to_string().contains(expected), "{problems}");
    }
}

/// A case outside the stated range is computed and told.
#[test]
fn exact_out_of_range_is_a_warning() {
    let folder = fixture("p1812");
    let table = std::fs::read_to_string(folder.join("cases.csv")).expect("the table");
    let model = model("p1812").expect("a model");
    assert_eq!(
        run(model, &table, &mut from_folder(&folder))
            .expect("results")
            .warnings,
        []
    );
    let mut lines = table.lines();
    let header = lines.next().expect("a header");
    let last = lines.last().expect("a case");
    let fast = last.replacen(",1.5,", ",7,", 1);
    assert_ne!(fast, last);
    let results = run(
        model,
        &format!("{header}\n{fast}\n"),
        &mut from_folder(&folder),
    )
    .expect("results");
    assert_eq!(results.warnings.len(), 1, "{fast}");
    assert!(
        results.warnings[0]
            .warning
            .to_string()
            .contains("`f_ghz` is 7")
    );
}

#[test]
fn exact_explain_lists_every_term() {
    let folder = fixture("p1812");
    let table = std::fs::read_to_string(folder.join("cases.csv")).expect("the table");
    let model = model("p1812").expect("a model");
    let told = explain(model, &table, "g006-01", &mut from_folder(&folder)).expect("terms");
    let expected = rows(&table)
        .into_iter()
        .find(|r| r["case"] == "g006-01")
        .expect("the case");
    let mut found = 0;
    for term in &told.terms {
        assert!(!term.meaning.is_empty());
        if let Some(text) = expected.get(term.name) {
            let value: f64 = text.parse().expect("a number");
            assert!((term.value - value).abs() < 5.1e-8, "{}", term.name);
            found += 1;
        }
    }
    assert!(
        found > 45 && told.terms.len() > 70,
        "{found} of {}",
        told.terms.len()
    );
    let none = explain(model, &table, "nobody", &mut from_folder(&folder)).expect_err("no case");
    assert_eq!(none.list()[0].fault, Fault::NoSuchCase);
}

/// A plain name takes the table whose columns and words are there.
#[test]
fn exact_plain_names_choose_by_columns() {
    for (name, table, expected) in [
        (
            "p2108",
            "f_ghz,d_km,p_pct,pub_db\n1,1,50,0\n",
            "p2108-terrestrial",
        ),
        ("p2108", "f_ghz,theta_deg,p_pct\n", "p2108-earth-space"),
        (
            "p1411",
            "f_ghz,d_m,environment\n5,80,los\n",
            "p1411-above-rooftop",
        ),
        (
            "p1411",
            "f_ghz,d_m,environment\n5,80,nlos_residential\n",
            "p1411-below-rooftop",
        ),
        // Both tables of P.833 fit: the woodland reads more of the columns.
        ("p833", "f_mhz,depth_m,gamma_dbm,am_db\n", "p833"),
        ("p833", "f_mhz,depth_m\n", "p833-foliage"),
        // A family of one is taken whatever the table.
        ("p838", "nothing\n", "p838"),
        ("p2108-height-gain", "nothing\n", "p2108-height-gain"),
    ] {
        let chosen = choose(&family(name), table).unwrap_or_else(|p| panic!("{p}"));
        assert_eq!(chosen.name, expected);
    }
    assert!(family("p0").is_empty());
}

/// Where no table or more than one fits, the columns of each are told.
#[test]
fn exact_unclear_tables_are_told_with_their_columns() {
    let told = |name: &str, table: &str| {
        choose(&family(name), table)
            .expect_err("no choice")
            .to_string()
    };
    let none = told("p2108", "f_ghz,distance,p_pct\n1,1,50\n");
    assert!(
        none.contains("`p2108-terrestrial` reads f_ghz, d_km, p_pct; "),
        "{none}"
    );
    let both = told(
        "p1411",
        "f_ghz,d_m,environment\n5,80,nlos_urban_high_rise\n",
    );
    assert!(
        both.contains("`p1411-below-rooftop` reads") && both.contains("`p1411-above-rooftop`"),
        "{both}"
    );
    let mixed = told(
        "p1411",
        "f_ghz,d_m,environment\n5,80,los\n5,80,nlos_residential\n",
    );
    assert!(mixed.contains("`p1411-low-height`"), "{mixed}");
}

/// The list itself: names once, columns once, every column described.
#[test]
fn exact_list_of_models() {
    for (i, m) in MODELS.iter().enumerate() {
        assert!(MODELS[..i].iter().all(|other| other.name != m.name));
        let publisher = ["ITU-R P.", "Irregular Terrain Model"];
        assert!(
            publisher.iter().any(|p| m.title.starts_with(p)),
            "{}",
            m.title
        );
        let columns: Vec<_> = m
            .inputs
            .iter()
            .map(|i| i.column)
            .chain(m.outputs.iter().copied())
            .collect();
        for c in &columns {
            assert!(!c.meaning.is_empty(), "{} of {}", c.name, m.name);
        }
        for (k, c) in m.outputs.iter().enumerate() {
            assert!(
                m.outputs[..k].iter().all(|other| other.name != c.name),
                "{}",
                c.name
            );
        }
    }
}

fn seeded() -> ProptestConfig {
    ProptestConfig {
        cases: 300,
        rng_seed: RngSeed::Fixed(526),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Cells from sound to absurd.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        Just("h".to_owned()),
        Just("p".to_owned()),
        any::<f64>().prop_map(|x| x.to_string()),
        (-1e3f64..1e3).prop_map(|x| x.to_string()),
        (0.01f64..5.0).prop_map(|x| x.to_string()),
        "[\\x00-\\x7f]{0,6}",
        "\\PC{0,4}",
    ]
}

proptest! {
    #![proptest_config(seeded())]

    /// Any text is a table or a list of problems, never a panic.
    #[test]
    fn exact_any_text_is_answered(text in "(?s).{0,200}", profile in "(?s).{0,80}") {
        for model in MODELS {
            let _ = run(model, &text, &mut |_: &str| Ok(profile.clone()));
        }
    }

    /// Any cells under the right header, likewise; results hold numbers only.
    #[test]
    fn exact_any_cells_are_answered(cells in prop::collection::vec(prop::collection::vec(cell(), 20), 1..4),
                                    points in prop::collection::vec((0.0f64..3.0, -1e4f64..1e4), 0..6)) {
        let mut d_km = 0.0;
        let mut profile = "d_km,h_m\n".to_owned();
        for (step, h) in points {
            profile += &format!("{d_km},{h}\n");
            d_km += step;
        }
        for model in MODELS {
            let mut text = model.inputs.iter().map(|i| i.column.name).collect::<Vec<_>>().join(",") + "\n";
            for row in &cells {
                text += &(row[..model.inputs.len()].join(",") + "\n");
            }
            match run(model, &text, &mut |_: &str| Ok(profile.clone())) {
                Ok(results) => prop_assert!(!results.csv.contains("NaN") && !results.csv.contains("inf,")),
                Err(problems) => prop_assert!(!problems.to_string().is_empty()),
            }
        }
    }

    /// Numbers inside the accepted ranges, corners included, always give results.
    #[test]
    fn exact_accepted_numbers_are_computed(shares in prop::collection::vec(prop_oneof![Just(0.0f64), Just(1.0), 0.0f64..1.0], 20),
                                           heights in prop::collection::vec(-100.0f64..3000.0, 3..9)) {
        let mut profile = "d_km,h_m,clutter_m,zone\n".to_owned();
        for (i, h) in heights.iter().enumerate() {
            profile += &format!("{},{h},{},{}\n", i as f64 * 0.7, i % 3 * 10, ["sea", "coastal", "inland"][i % 3]);
        }
        for model in MODELS {
            let value = |i: &calculator::Input, share: f64| match i.kind {
                // Ranges over many decades are walked by decades.
                calculator::Kind::Number { min, max } if min > 0.0 => (min * (max / min).powf(share)).clamp(min, max).to_string(),
                calculator::Kind::Number { min, max } => (min + share * (max - min)).clamp(min, max).to_string(),
                calculator::Kind::Word(words) => words[0].to_owned(),
                calculator::Kind::Profile | calculator::Kind::Heights => "p".to_owned(),
            };
            let names: Vec<_> = model.inputs.iter().map(|i| i.column.name).collect();
            let cells: Vec<_> = model.inputs.iter().zip(&shares).map(|(i, s)| value(i, *s)).collect();
            let text = format!("{}\n{}\n", names.join(","), cells.join(","));
            let results = run(model, &text, &mut |_: &str| Ok(profile.clone()));
            prop_assert!(results.is_ok(), "{}: {}\n{text}", model.name, results.unwrap_err());
        }
    }
}
