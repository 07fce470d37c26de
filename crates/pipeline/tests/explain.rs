//! A link taken apart adds up to the link of the study.

mod formula_world;

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::LonLat;
use pipeline::engine::RunControl;
use pipeline::engine::explain::{BudgetTerm, Company};
use pipeline::{Completeness, PipelineError, Target, evaluate, explain};

fn world() -> TextWorld {
    let sectors = sector("s1", "m1", 0.0, 3620.0) + &sector("s2", "m2", 180.0, 3620.0);
    TextWorld::new(
        &design(&sectors),
        "id,lon,lat\np,9.45,47.19\nq,9.46,47.21\n",
        FormulaGround::flat(400.0),
    )
}

fn value(lines: &[BudgetTerm], name: &str) -> f64 {
    lines
        .iter()
        .find(|l| l.name == name)
        .expect("a line of every budget")
        .value
}

#[test]
fn exact_the_lines_add_up() {
    let run = RunControl::unwatched();
    let target = Target::Premises("p".into());
    let report = explain(&world(), ("s1", &target), (Company::WholeNetwork, &run))
        .expect("a path")
        .answer;
    for lines in [&report.downlink, &report.uplink] {
        let up_to_level: f64 = lines
            .iter()
            .take_while(|l| !l.subtotal)
            .map(|l| l.value)
            .sum();
        assert!((up_to_level - value(lines, "rsl_dbm")).abs() < 1e-9);
        let snr_db = value(lines, "rsl_dbm") - value(lines, "noise_dbm");
        assert!((snr_db - value(lines, "snr_db")).abs() < 1e-9);
        assert!(value(lines, "sinr_db") < value(lines, "snr_db"));
        let margin_db = value(lines, "sinr_db") - value(lines, "required_sinr_db");
        assert!((margin_db - value(lines, "margin_db")).abs() < 1e-9);
    }
    assert_eq!(report.downlink_interferers[0].sector, "s2");
}

#[test]
fn exact_it_is_the_link_of_the_study() {
    let run = RunControl::unwatched();
    let study = evaluate(&world(), Completeness::Whole, &run)
        .expect("sound")
        .study;
    let link = study.premises[0].link.clone().expect("a link");
    let target = Target::Premises("p".into());
    let sector = link.sector.to_string();
    let report = explain(&world(), (&sector, &target), (Company::WholeNetwork, &run))
        .expect("a path")
        .answer;
    assert_eq!(report.link, link);
}

#[test]
fn exact_alone_there_is_no_interference() {
    let run = RunControl::unwatched();
    let target = Target::Place(LonLat::new(9.45, 47.18).expect("a place"));
    let report = explain(&world(), ("s1", &target), (Company::Alone, &run))
        .expect("a path")
        .answer;
    assert!(report.downlink_interferers.is_empty());
    assert_eq!(report.link.downlink.sinr_db, report.link.downlink.snr_db);
    assert_eq!(
        report.section.distance_m.len(),
        report.section.ray_amsl_m.len()
    );
    assert!(report.loss_terms.iter().any(|t| t.name == "ldp_db"));
}

#[test]
fn exact_unknown_names_are_told() {
    let run = RunControl::unwatched();
    let target = Target::Premises("nobody".into());
    let error =
        explain(&world(), ("s1", &target), (Company::Alone, &run)).expect_err("no such premises");
    assert!(matches!(error, PipelineError::Explain(_)));
    assert!(error.to_string().contains("nobody"));
}
