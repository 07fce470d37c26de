//! A link taken apart adds up to the link of the study.

mod formula_world;

use std::sync::Arc;

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::LonLat;
use pipeline::engine::explain::{BudgetTerm, Company, PathReport};
use pipeline::engine::second_opinion::second_opinion;
use pipeline::engine::{CrossSection, RunControl, Surroundings};
use pipeline::model::ModelChoice;
use pipeline::{Completeness, PipelineError, Target, evaluate, explain, read};

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
    assert_eq!(report.company.caption(), None);
}

/// Flat ground with trees of 20 m from 47.188° N on, where the terminal is.
struct Woods;

impl Surroundings for Woods {
    fn trace(&self, from: LonLat, to: LonLat, step_m: Option<f64>, section: &mut CrossSection) {
        let trees = |p: LonLat| if p.lat_deg() > 47.188 { 20.0 } else { 0.0 };
        FormulaGround(Arc::new(move |p| (400.0, trees(p)))).trace(from, to, step_m, section);
        section.canopy_m.clone_from(&section.clutter_m);
    }

    fn ground_amsl_m(&self, _: LonLat) -> Option<f64> {
        Some(400.0)
    }
}

#[test]
fn exact_trees_are_a_line_of_every_budget_and_a_part_of_a_second_opinion() {
    let network = read(&world()).network.expect("sound");
    let run = RunControl::unwatched();
    let company = (Company::Alone, &run);
    let link = ("s1", "p");
    let report = pipeline::engine::explain::explain(&network, &Woods, link, company);
    let report = report.expect("a path");
    let trees = report.woodland.expect("an antenna below the crowns");
    let tree_loss_db = trees.combined_loss_db - trees.over_loss_db;
    assert!(tree_loss_db.abs() > 0.1, "{trees:?}");
    let path_loss_db = report.link.downlink.levels.path_loss_db;
    for lines in [&report.downlink, &report.uplink] {
        assert!((value(lines, "tree_loss_db") + tree_loss_db).abs() < 1e-9);
        assert!((value(lines, "path_loss_db") + trees.over_loss_db).abs() < 1e-9);
        let both_db = value(lines, "path_loss_db") + value(lines, "tree_loss_db");
        assert!((both_db + path_loss_db).abs() < 1e-9);
        let level = lines.iter().take_while(|l| !l.subtotal).map(|l| l.value);
        assert!((level.sum::<f64>() - value(lines, "rsl_dbm")).abs() < 1e-9);
    }
    let opinion = second_opinion(&network, &Woods, link, ModelChoice::P452).expect("a path");
    let part = |name: &str| opinion.parts.iter().find(|p| p.name == name);
    let first_db = |name: &str| part(name).expect("a part").first_db;
    assert!((first_db("whole loss") - path_loss_db).abs() < 1e-9);
    assert!((first_db("trees around the terminal") - tree_loss_db).abs() < 1e-9);
    assert!((opinion.first.loss_db - path_loss_db).abs() < 1e-9);
}

fn told(design: &str, premises: &str, ground: FormulaGround) -> PathReport {
    let run = RunControl::unwatched();
    let world = TextWorld::new(design, premises, ground);
    let target = Target::Premises("p".into());
    let company = (Company::Alone, &run);
    let explained = explain(&world, ("s1", &target), company);
    explained.expect("a path").answer
}

#[test]
fn exact_the_drawing_stands_on_surveyed_ground() {
    let text = design(&sector("s1", "m1", 0.0, 3620.0));
    let surveyed = text.replacen(
        "height_agl_m = 40\n",
        "height_agl_m = 40\nground_amsl_m = 500\n",
        1,
    );
    let premises = "id,lon,lat\np,9.45,47.19\n";
    let report = told(&surveyed, premises, FormulaGround::flat(400.0));
    let section = &report.section;
    assert_eq!(report.geometry.from_agl_m, 35.0);
    assert_eq!(section.ground_amsl_m[0], 500.0);
    assert_eq!(section.ray_amsl_m[0], 535.0);
    // Only the end is surveyed.
    assert!(section.ground_amsl_m[1..].iter().all(|m| *m == 400.0));
}

/// ITU-R P.2108, section 3.2, stands for the last 250 m before a terminal below the roofs.
#[test]
fn exact_clutter_that_another_term_stands_for_is_set_aside() {
    let text = design(&sector("s1", "m1", 0.0, 3620.0));
    let houses = || FormulaGround(Arc::new(|_: LonLat| (400.0, 9.0)));
    let below = told(
        &text,
        "id,lon,lat,mounting\np,9.45,47.19,below-roofs\n",
        houses(),
    );
    let section = &below.section;
    let length_m = below.geometry.distance_m;
    for (i, d_m) in section.distance_m.iter().enumerate() {
        let expected = if *d_m < length_m - 250.0 {
            [9.0, 0.0]
        } else {
            [0.0, 9.0]
        };
        assert_eq!(
            [section.clutter_m[i], section.set_aside_clutter_m[i]],
            expected,
            "{d_m}"
        );
    }
    assert!(section.set_aside_clutter_m.contains(&9.0));
    let open = told(&text, "id,lon,lat\np,9.45,47.19\n", houses());
    assert!(open.section.set_aside_clutter_m.iter().all(|m| *m == 0.0));
}

#[test]
fn exact_alone_there_is_no_interference() {
    let run = RunControl::unwatched();
    let target = Target::Place(LonLat::new(9.45, 47.18).expect("a place"));
    let report = explain(&world(), ("s1", &target), (Company::Alone, &run))
        .expect("a path")
        .answer;
    assert!(report.downlink_interferers.is_empty());
    let caption = report.company.caption();
    assert_eq!(caption, Some("this link alone, without interference"));
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
