//! The Irregular Terrain Model against published and generated cases of its
//! reference program, and what must hold for every path.

#![expect(
    clippy::print_stdout,
    reason = "a run prints the worst difference per column"
)]

#[path = "path_loss/data.rs"]
#[expect(dead_code, reason = "shared with the tests of the other path models")]
mod data;

use std::collections::HashMap;
use std::path::Path;

use data::{Row, Worst, shared, table};
use physics::diffraction::Ground;
use physics::path_loss::itm::{
    Area, Climate, Link, Settings, Siting, Terms, Terrain, Variability, area, point_to_point,
};
use physics::path_loss::{Model, PathInput, PathProfile, Polarization, Zone, itm};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "code numbers of the tables"
)]
fn code(row: &Row, column: &str) -> u8 {
    row.number(column) as u8
}

fn link_and_settings(row: &Row) -> (Link, Settings) {
    let [time_pct, location_pct, situation_pct] = match row.text("mode_of_variability") {
        "tls" => ["time_pct", "location_pct", "situation_pct"].map(|c| row.number(c)),
        "cr" => [
            row.number("reliability_pct"),
            50.0,
            row.number("confidence_pct"),
        ],
        other => panic!("mode of variability `{other}`"),
    };
    let link = Link {
        tx_agl_m: row.number("h_tx_m"),
        rx_agl_m: row.number("h_rx_m"),
        f_mhz: row.number("f_mhz"),
        polarization: match row.text("pol") {
            "h" => Polarization::Horizontal,
            _ => Polarization::Vertical,
        },
        n0: row.number("n_0"),
        time_pct,
        location_pct,
    };
    let settings = Settings {
        climate: Climate::from_code(code(row, "climate")).expect("a climate"),
        ground: Ground {
            permittivity: row.number("epsilon"),
            conductivity_s_per_m: row.number("sigma"),
        },
        variability: Variability::from_code(code(row, "mdvar")).expect("a mode"),
        situation_pct,
    };
    (link, settings)
}

/// Heights of the profiles of a folder, read once each.
fn heights<'a>(known: &'a mut HashMap<String, Vec<f64>>, folder: &Path, name: &str) -> &'a [f64] {
    known.entry(name.to_owned()).or_insert_with(|| {
        let path = folder.join("profiles").join(format!("{name}.csv"));
        table(&path).iter().map(|r| r.number("h_m")).collect()
    })
}

/// Compares every column. In the rows marked by `edge_db` the reference itself
/// moves by that much when its inputs change by 1e-9: only the loss is compared there.
fn note(worst: &mut Worst, row: &Row, terms: &Terms) {
    let case = row.text("case");
    let edge_db = if row.has("edge_db") {
        row.number("edge_db")
    } else {
        0.0
    };
    if edge_db > 0.0 {
        let share = (terms.a_db - row.number("a_db")).abs() / (1.5 * edge_db + 1e-6);
        worst.note("edge", case, share, 0.0);
    } else {
        for term in terms.list() {
            if row.has(term.name) {
                worst.note(term.name, case, term.value, row.number(term.name));
            }
        }
        worst.note(
            "warnings",
            case,
            f64::from(terms.flags()),
            row.number("warnings"),
        );
        let mode = f64::from(u8::from(terms.prop_mode.word() != row.text("prop_mode")));
        worst.note("prop_mode", case, mode, 0.0);
    }
    if row.has("a_pub_db") {
        worst.note("a_pub_db", case, terms.a_db, row.number("a_pub_db"));
    }
}

/// 12 significant digits in the tables: lengths up to 1e5 m are given to 5e-7.
fn tolerance(column: &str, published_db: f64) -> f64 {
    match column {
        "a_pub_db" => published_db,
        "edge" => 1.0,
        "warnings" | "prop_mode" => 0.0,
        "d_hzn_tx_m" | "d_hzn_rx_m" => 2e-6,
        _ => 1e-6,
    }
}

fn check_point_to_point(file: &str, rows_expected: usize) {
    let Some(folder) = shared("itm") else { return };
    let rows = table(&folder.join(file));
    assert_eq!(rows.len(), rows_expected, "{file}");
    let (mut worst, mut known) = (Worst::default(), HashMap::new());
    for row in &rows {
        let terrain = Terrain {
            h_m: heights(&mut known, &folder, row.text("profile")),
            spacing_m: row.number("spacing_m"),
        };
        assert_eq!((terrain.h_m.len() - 1) as f64, row.number("n_intervals"));
        let (link, settings) = link_and_settings(row);
        note(&mut worst, row, &point_to_point(&terrain, &link, &settings));
    }
    // Published values are rounded to 0.01 dB.
    worst.check(file, |column| tolerance(column, 0.01));
}

fn check_area(file: &str, rows_expected: usize) {
    let Some(folder) = shared("itm") else { return };
    let rows = table(&folder.join(file));
    assert_eq!(rows.len(), rows_expected, "{file}");
    let mut worst = Worst::default();
    let siting = |row: &Row, column| Siting::from_code(code(row, column)).expect("a siting");
    for row in &rows {
        let path = Area {
            d_km: row.number("d_km_in"),
            delta_h_m: row.number("delta_h_m_in"),
            tx_siting: siting(row, "tx_siting"),
            rx_siting: siting(row, "rx_siting"),
        };
        let (link, settings) = link_and_settings(row);
        note(&mut worst, row, &area(&path, &link, &settings));
    }
    // Published values are rounded to 0.1 dB.
    worst.check(file, |column| tolerance(column, 0.06));
}

/// Source: test cases published with NTIA/itm, commit 183ad95.
#[test]
fn ref_published_point_to_point() {
    check_point_to_point("p2p_published.csv", 3);
}

/// Source: NTIA/itm, commit 183ad95, run over sections of published profiles.
#[test]
fn ref_generated_point_to_point() {
    check_point_to_point("p2p_generated.csv", 624);
}

/// Source: test cases published with NTIA/itm, commit 183ad95.
#[test]
fn ref_published_area() {
    check_area("area_published.csv", 3);
}

/// Source: NTIA/itm, commit 183ad95.
#[test]
fn ref_generated_area() {
    check_area("area_generated.csv", 400);
}

/// One synthetic case: profile and step; antennas and MHz; polarization and
/// mode; time and situation; irregularity, reference attenuation, loss.
struct Synthetic {
    h_m: Vec<f64>,
    spacing_m: f64,
    antennas_and_mhz: [f64; 3],
    polarization: Polarization,
    mdvar: u8,
    time_situation_pct: [f64; 2],
    expected: [f64; 3],
}

fn synthetic(
    name: &str,
    polarization: Polarization,
    mdvar: u8,
    pct: [f64; 2],
    expected: [f64; 3],
) -> Synthetic {
    type Shape = fn(f64) -> f64;
    let (points, spacing_m, antennas_and_mhz, shape): (u32, f64, [f64; 3], Shape) = match name {
        "P1" => (101, 100.0, [30.0, 6.0, 5800.0], |_| 0.0),
        "P2" => (151, 200.0, [30.0, 10.0, 2400.0], |i| {
            50.0 + 40.0 * (i / 7.0).sin() + 20.0 * (i / 3.0).cos()
        }),
        "P3" => (121, 100.0, [30.0, 10.0, 3600.0], |i| {
            100.0 * (-((0.1 * i - 6.0) / 1.5).powi(2)).exp()
        }),
        _ => (401, 1000.0, [100.0, 50.0, 900.0], |i| {
            100.0 + 30.0 * (i / 5.0).sin()
        }),
    };
    Synthetic {
        h_m: (0..points).map(|i| shape(f64::from(i))).collect(),
        spacing_m,
        antennas_and_mhz,
        polarization,
        mdvar,
        time_situation_pct: pct,
        expected,
    }
}

/// The synthetic profiles P1 to P4 of which the reference program's results
/// are printed to 4 digits. Source: NTIA/itm, commit 183ad95.
#[test]
fn ref_synthetic_profiles() {
    let (h, v) = (Polarization::Horizontal, Polarization::Vertical);
    let cases = [
        synthetic("P1", v, 12, [50.0, 50.0], [0.0, 0.0, 127.6818]),
        synthetic("P1", v, 12, [90.0, 90.0], [0.0, 0.0, 137.5329]),
        synthetic("P2", v, 12, [50.0, 50.0], [151.2789, 33.8873, 163.2613]),
        synthetic("P2", h, 1, [99.0, 50.0], [151.2789, 33.9038, 167.0248]),
        synthetic("P3", h, 12, [50.0, 50.0], [243.9913, 66.2670, 191.4020]),
        synthetic("P4", v, 12, [50.0, 50.0], [56.9114, 72.7115, 214.6324]),
    ];
    let mut worst = Worst::default();
    for s in &cases {
        let [tx_agl_m, rx_agl_m, f_mhz] = s.antennas_and_mhz;
        let link = Link {
            tx_agl_m,
            rx_agl_m,
            f_mhz,
            polarization: s.polarization,
            n0: 301.0,
            time_pct: s.time_situation_pct[0],
            location_pct: 50.0,
        };
        let settings = Settings {
            ground: Ground {
                permittivity: 15.0,
                conductivity_s_per_m: 0.008,
            },
            variability: Variability::from_code(s.mdvar).expect("a mode"),
            situation_pct: s.time_situation_pct[1],
            ..Settings::default()
        };
        let terrain = Terrain {
            h_m: &s.h_m,
            spacing_m: s.spacing_m,
        };
        let terms = point_to_point(&terrain, &link, &settings);
        let case = format!("{f_mhz} MHz");
        let got = [terms.delta_h_m, terms.a_ref_db, terms.a_db];
        for ((column, got), expected) in ["delta_h_m", "a_ref_db", "a_db"]
            .into_iter()
            .zip(got)
            .zip(s.expected)
        {
            worst.note(column, &case, got, expected);
        }
    }
    worst.check("synthetic profiles", |_| 5.01e-5);
}

fn seeded() -> ProptestConfig {
    ProptestConfig {
        cases: 1500,
        rng_seed: RngSeed::Fixed(1968),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

prop_compose! {
    /// Inputs over the whole accepted range.
    fn questions()(antennas in prop::array::uniform2(0.5f64..3000.0), f_mhz in 20.0f64..20_000.0, h in any::<bool>(),
                   n0 in 250.0f64..400.0, pct in prop::array::uniform3(0.01f64..99.99), climate in 1u8..8,
                   ground in (1.5f64..81.0, 1e-4f64..5.0), mode in 0u8..4, tens in 0u8..4) -> (Link, Settings) {
        let link = Link {
            tx_agl_m: antennas[0], rx_agl_m: antennas[1], f_mhz, n0, time_pct: pct[0], location_pct: pct[1],
            polarization: if h { Polarization::Horizontal } else { Polarization::Vertical },
        };
        let settings = Settings {
            climate: Climate::from_code(climate).expect("a climate"),
            ground: Ground { permittivity: ground.0, conductivity_s_per_m: ground.1 },
            variability: Variability::from_code(10 * tens + mode).expect("a mode"),
            situation_pct: pct[2],
        };
        (link, settings)
    }
}

/// Heights from flat to absurdly rough.
fn profiles() -> impl Strategy<Value = Vec<f64>> {
    let roughness = prop_oneof![Just(0.0), Just(1.0), Just(30.0), Just(2500.0)];
    (prop::collection::vec(-0.02f64..1.0, 3..300), roughness)
        .prop_map(|(h, m)| h.into_iter().map(|h| h * m).collect())
}

/// Every code number and back.
#[test]
fn exact_codes() {
    for code in 0..60u8 {
        let known = Variability::from_code(code);
        assert_eq!(
            known.map(Variability::code),
            (code < 40 && code % 10 < 4).then_some(code)
        );
        assert_eq!(
            Climate::from_code(code).map(Climate::code),
            (1..8).contains(&code).then_some(code)
        );
    }
    assert!(Siting::from_code(2).is_some() && Siting::from_code(3).is_none());
}

/// A short clear path over smooth ground loses no more than free space in the median.
#[test]
fn exact_clear_path_is_free_space() {
    let (d_km, h_m): (Vec<f64>, Vec<f64>) = (0..51).map(|i| (f64::from(i) * 0.1, 100.0)).unzip();
    let (clutter, zone) = (vec![0.0; 51], vec![Zone::Inland; 51]);
    let profile = PathProfile::new(&d_km, &h_m, &clutter, &zone).expect("a profile");
    let input = PathInput::median(profile, 3.65);
    let settings = Settings::default();
    let terms = itm::predict(&input, &settings);
    let loss = Model::Itm(settings).predict(&input);
    assert_eq!(
        (loss.loss_db, loss.free_space_db()),
        (terms.a_db, terms.a_fs_db)
    );
    assert_eq!(loss.is_transhorizon(), terms.transhorizon);
    assert_eq!(terms.a_ref_db, 0.0);
    assert!((terms.a_db - terms.a_fs_db).abs() < 0.1, "{}", terms.a_db);
    assert!(!terms.transhorizon);
    assert_eq!(itm::warnings(&input, &settings), []);
    let bent: Vec<f64> = d_km.iter().map(|d| d * (1.0 + 0.01 * d)).collect();
    let profile = PathProfile::new(&bent, &h_m, &clutter, &zone).expect("a profile");
    let told = itm::warnings(&PathInput { profile, ..input }, &settings);
    assert!(
        told.iter().any(|w| w.to_string().contains("`step_km`")),
        "{told:?}"
    );
}

/// Fields of [`Terms`] a person reads are finite, whatever the path.
fn all_finite(terms: &Terms) -> Result<(), TestCaseError> {
    for term in terms.list() {
        prop_assert!(
            term.value.is_finite(),
            "{} = {} of {terms:?}",
            term.name,
            term.value
        );
    }
    Ok(())
}

proptest! {
    #![proptest_config(seeded())]

    /// No term is anything but a number, and nothing panics.
    #[test]
    fn exact_every_term_is_finite(h_m in profiles(), spacing_m in 1.0f64..3000.0, (link, settings) in questions()) {
        let terrain = Terrain { h_m: &h_m, spacing_m };
        let terms = point_to_point(&terrain, &link, &settings);
        all_finite(&terms)?;
        prop_assert!(terms.a_ref_db >= 0.0 && terms.delta_h_m >= 0.0);
    }

    #[test]
    fn exact_every_area_term_is_finite(d_km in 0.1f64..2000.0, delta_h_m in 0.0f64..3000.0, siting in prop::array::uniform2(0u8..3),
                                       (link, settings) in questions()) {
        let [tx_siting, rx_siting] = siting.map(|s| Siting::from_code(s).expect("a siting"));
        all_finite(&area(&Area { d_km, delta_h_m, tx_siting, rx_siting }, &link, &settings))?;
    }

    /// More confidence costs more loss.
    #[test]
    fn exact_loss_grows_with_situations(h_m in profiles(), spacing_m in 10.0f64..3000.0, (link, settings) in questions(), more in 0.1f64..20.0) {
        let terrain = Terrain { h_m: &h_m, spacing_m };
        let settings = Settings { variability: Variability::FIXED_LINK, ..settings };
        let surer = Settings { situation_pct: (settings.situation_pct + more).min(99.995), ..settings };
        let (a, b) = (point_to_point(&terrain, &link, &settings), point_to_point(&terrain, &link, &surer));
        prop_assert!(b.a_db >= a.a_db - 1e-9, "{} then {}", a.a_db, b.a_db);
    }

    /// More time or more locations cost more loss.
    #[test]
    fn exact_loss_grows_with_time_and_locations(h_m in profiles(), spacing_m in 10.0f64..3000.0, (link, settings) in questions(), more in 0.1f64..20.0) {
        let terrain = Terrain { h_m: &h_m, spacing_m };
        let settings = Settings { variability: Variability::FIXED_LINK, ..settings };
        let here = point_to_point(&terrain, &link, &settings).a_db;
        let longer = Link { time_pct: (link.time_pct + more).min(99.995), ..link };
        let wider = Link { location_pct: (link.location_pct + more).min(99.995), ..link };
        for other in [longer, wider] {
            let there = point_to_point(&terrain, &other, &settings).a_db;
            prop_assert!(there >= here - 1e-9, "{here} then {there}");
        }
    }

    /// Near enough the same from either end. Not to the last digit: the model
    /// cuts distances to whole steps of the profile, counted from the
    /// transmitter, so turned round a part of the ground may fall beside.
    #[test]
    fn exact_reciprocal_but_for_steps(h_m in profiles(), spacing_m in 10.0f64..3000.0, (link, settings) in questions()) {
        let turned: Vec<f64> = h_m.iter().rev().copied().collect();
        let back = Link { tx_agl_m: link.rx_agl_m, rx_agl_m: link.tx_agl_m, ..link };
        let a = point_to_point(&Terrain { h_m: &h_m, spacing_m }, &link, &settings).a_db;
        let b = point_to_point(&Terrain { h_m: &turned, spacing_m }, &back, &settings).a_db;
        prop_assert!((a - b).abs() < 1.0, "{a} {b}");
    }
}
