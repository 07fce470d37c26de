//! Terms beside the path loss, the choice of model, shares of time, climate
//! and availability, from the design's text to the budget.

mod formula_world;

use std::sync::Arc;

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::LonLat;
use physics::building_entry::{Building, building_entry};
use physics::terminal_clutter::terrestrial;
use physics::vegetation;
use pipeline::engine::availability::NoAvailability;
use pipeline::engine::explain::{Company, PathReport};
use pipeline::engine::hop::fading::{Fading, FadingPath};
use pipeline::engine::link::Link;
use pipeline::engine::path::{PathConditions, PathEnd, PathEvaluator, RadioPath};
use pipeline::engine::{CrossSection, RunControl, Surroundings};
use pipeline::model::settings::ModelChoice;
use pipeline::model::{FadingClimate, Network};
use pipeline::{Completeness, Target, evaluate, explain, read, second_opinion};

const ONE: &str = "id,lon,lat\np,9.45,47.19\n";

fn one_sector(f_mhz: f64) -> String {
    design(&sector("s", "m1", 0.0, f_mhz))
}

fn report(world: &TextWorld, premises: &str) -> PathReport {
    let run = RunControl::unwatched();
    let target = Target::Premises(premises.into());
    explain(world, ("s", &target), (Company::Alone, &run))
        .expect("a path")
        .answer
}

fn link(design: &str, ground: FormulaGround) -> Link {
    report(&TextWorld::new(design, ONE, ground), "p").link
}

/// A ridge of a height across the path at 47.17° N.
fn ridge(height_m: f64) -> FormulaGround {
    FormulaGround(Arc::new(move |p: LonLat| {
        let from_crest = (p.lat_deg() - 47.17) / 0.004;
        (400.0 + height_m * (-from_crest * from_crest).exp(), 0.0)
    }))
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

// What stands around the terminal.

const MOUNTINGS: &str = "id,lon,lat,mounting\n\
    open,9.45,47.19,open\n\
    roofs,9.45,47.19,below-roofs\n\
    old,9.45,47.19,indoor-traditional\n\
    new,9.45,47.19,indoor-efficient\n";

/// Houses of 9 m that reach from the terminal 200 m towards the mast.
fn houses() -> FormulaGround {
    FormulaGround(Arc::new(|p: LonLat| {
        let clutter_m = if p.lat_deg() > 47.1882 { 9.0 } else { 0.0 };
        (400.0, clutter_m)
    }))
}

#[test]
fn exact_each_mounting_has_its_own_term_and_counts_clutter_once() {
    let text = one_sector(3620.0);
    let town = TextWorld::new(&text, MOUNTINGS, houses());
    let bare = TextWorld::new(&text, MOUNTINGS, FormulaGround::flat(400.0));
    let levels = |world: &TextWorld, id: &str| report(world, id).link.downlink.levels;
    let open = levels(&town, "open");
    let in_the_open = levels(&bare, "open").path_loss_db;
    assert!(open.path_loss_db > in_the_open + 3.0, "the houses are felt");
    assert_eq!((open.near_clutter_loss_db, open.entry_loss_db), (0.0, 0.0));

    let below = report(&town, "roofs");
    let roofs = below.link.downlink.levels;
    let d_km = below.link.distance_m / 1e3;
    assert!(near(
        roofs.near_clutter_loss_db,
        terrestrial(3.62, d_km, 50.0).l_ctt_db
    ));
    assert!(roofs.near_clutter_loss_db > 10.0);
    assert!(
        near(roofs.path_loss_db, in_the_open),
        "the mapped houses are gone"
    );
    assert_eq!(roofs.entry_loss_db, 0.0);

    for (id, building) in [
        ("old", Building::Traditional),
        ("new", Building::ThermallyEfficient),
    ] {
        let indoors = report(&town, id);
        let levels = indoors.link.downlink.levels;
        let up_deg = indoors.geometry.to_elevation_deg;
        assert!(near(
            levels.entry_loss_db,
            building_entry(building, 3.62, up_deg, 50.0).loss_db
        ));
        assert!(
            near(levels.path_loss_db, open.path_loss_db),
            "houses outside still stand"
        );
        assert_eq!(levels.near_clutter_loss_db, 0.0);
    }
}

#[test]
fn exact_the_terms_stand_in_the_budget_and_add_up() {
    let town = TextWorld::new(&one_sector(3620.0), MOUNTINGS, houses());
    for (id, name) in [
        ("open", None),
        ("roofs", Some("near_clutter_loss_db")),
        ("old", Some("entry_loss_db")),
        ("new", Some("entry_loss_db")),
    ] {
        let report = report(&town, id);
        for (lines, direction) in [
            (&report.downlink, &report.link.downlink),
            (&report.uplink, &report.link.uplink),
        ] {
            let of_near_end: Vec<_> = lines
                .iter()
                .filter(|l| ["near_clutter_loss_db", "entry_loss_db"].contains(&l.name))
                .collect();
            assert_eq!(of_near_end.len(), usize::from(name.is_some()), "{id}");
            for line in of_near_end {
                assert_eq!(Some(line.name), name);
                assert!(line.value < 0.0);
            }
            let sum: f64 = lines
                .iter()
                .take_while(|l| !l.subtotal)
                .map(|l| l.value)
                .sum();
            assert!(near(sum, direction.rsl_dbm), "{id}");
        }
    }
}

// Woodland.

/// Flat ground from a mast of 35 m to a terminal, with trees of 20 m for the last `depth_m`.
fn among_trees(depth_m: f64, terminal_agl_m: f64) -> (CrossSection, RadioPath) {
    let place = |lat| LonLat::new(9.45, lat).expect("a place");
    let (from, to) = (place(47.15), place(47.19));
    let mut section = CrossSection::default();
    FormulaGround::flat(400.0).trace(from, to, Some(10.0), &mut section);
    for i in 0..section.points() {
        if section.length_m - section.distance_m[i] <= depth_m {
            section.canopy_m[i] = 20.0;
            section.clutter_m[i] = 20.0;
        }
    }
    let path = loss_over(&section, terminal_agl_m);
    (section, path)
}

fn loss_over(section: &CrossSection, terminal_agl_m: f64) -> RadioPath {
    let end = |lat, agl_m| PathEnd {
        position: LonLat::new(9.45, lat).expect("a place"),
        agl_m,
        ground_amsl_m: None,
    };
    let network = network(&one_sector(3620.0));
    let conditions = PathConditions::wanted(&network.propagation);
    PathEvaluator::default()
        .evaluate(
            section,
            (&end(47.15, 35.0), &end(47.19, terminal_agl_m)),
            3620.0,
            &conditions,
        )
        .expect("known ground")
}

fn network(text: &str) -> Network {
    let world = TextWorld::new(text, ONE, FormulaGround::flat(400.0));
    read(&world).network.expect("a network")
}

#[test]
fn exact_deeper_woods_cost_more_and_never_more_than_the_way_over_them() {
    let mut before_db = among_trees(0.0, 6.0).1.loss_db();
    for depth_m in [20.0, 50.0, 100.0, 200.0, 400.0, 800.0] {
        let (section, path) = among_trees(depth_m, 6.0);
        let trees = path.woodland.expect("an antenna below the crowns");
        assert!(
            (trees.depth_m - depth_m).abs() < 15.0,
            "{depth_m}: {trees:?}"
        );
        let now_db = path.loss_db();
        assert!(now_db > before_db, "{depth_m}: {now_db} after {before_db}");
        before_db = now_db;
        // The two ways add as powers: no more than either, at most 3 dB below the lesser.
        let least_db = trees.over_loss_db.min(trees.through_loss_db);
        assert!(
            now_db <= least_db && now_db >= least_db - 3.0103,
            "{depth_m}"
        );
        // Through the trees their stretch is clear ground plus the excess of P.833, no tree twice.
        let mut cleared = section.clone();
        cleared.canopy_m.fill(0.0);
        cleared.clutter_m.fill(0.0);
        let cleared_db = loss_over(&cleared, 6.0).loss_db();
        assert!(near(trees.through_loss_db, cleared_db + trees.through_db));
        let excess_db = vegetation::woodland_excess_db(
            trees.depth_m,
            vegetation::specific_attenuation_db_per_m(3620.0),
            vegetation::Woodland::MixedForest.max_excess_db(3620.0),
        );
        assert!(near(trees.through_db, excess_db));
        assert!(near(trees.over_loss_db, path.loss.loss_db));
    }
}

#[test]
fn exact_an_antenna_above_the_trees_has_no_woodland() {
    let (mut section, above) = among_trees(200.0, 25.0);
    assert_eq!(above.woodland, None);
    // The crowns still stand in the way as clutter: the same as without the knowledge that they are trees.
    section.canopy_m.fill(0.0);
    assert_eq!(above.loss_db(), loss_over(&section, 25.0).loss_db());
}

// Choice of model.

fn with(key: &str, value: &str, text: &str) -> String {
    text.replace(
        "[propagation]\n",
        &format!("[propagation]\n{key} = {value}\n"),
    )
}

#[test]
fn exact_the_model_follows_the_frequency_unless_the_design_says_so() {
    let title = |text: &str| {
        let world = TextWorld::new(text, ONE, ridge(60.0));
        report(&world, "p").model
    };
    // A channel that no rule opens is told and still explained.
    assert!(title(&one_sector(3620.0)).contains("P.1812"));
    assert!(title(&one_sector(5900.0)).contains("P.1812"));
    // The rule set for 6 GHz that ships reaches beyond the range of P.1812.
    let six = one_sector(6600.0).replace("demo-lightly-licensed-3600", "us-6000-standard-power");
    assert!(title(&six).contains("P.452"));
    assert!(title(&one_sector(10_000.0)).contains("P.452"));
    let itm = with("service_model", "\"itm\"", &one_sector(10_000.0));
    assert!(title(&itm).contains("Irregular Terrain Model"));
    let loss_db = |text: &str| link(text, ridge(60.0)).downlink.levels.path_loss_db;
    let p452 = with("service_model", "\"p452\"", &one_sector(3620.0));
    let itm = with("service_model", "\"itm\"", &one_sector(3620.0));
    let losses = [&one_sector(3620.0), &p452, &itm].map(|text| loss_db(text));
    assert!((losses[0] - losses[2]).abs() > 0.1, "{losses:?}");
    // P.1812 and P.452 share their ways over an obstacle.
    assert!((losses[0] - losses[1]).abs() < 3.0, "{losses:?}");
}

#[test]
fn exact_a_second_opinion_adds_up_part_by_part() {
    let world = TextWorld::new(&one_sector(3620.0), ONE, ridge(60.0));
    let target = Target::Premises("p".into());
    for other in [ModelChoice::Itm, ModelChoice::P452] {
        let opinion = second_opinion(&world, ("s", &target), other).expect("a path");
        let (whole, parts) = opinion.parts.split_last().expect("parts");
        let sum = |of: fn(&pipeline::engine::second_opinion::ComparedPart) -> f64| {
            parts.iter().map(of).sum::<f64>()
        };
        assert!((sum(|p| p.first_db) - opinion.first.loss_db).abs() < 1e-9);
        assert!((sum(|p| p.second_db) - opinion.second.loss_db).abs() < 1e-9);
        assert!((sum(|p| p.difference_db) - whole.difference_db).abs() < 1e-9);
        assert_ne!(opinion.first.model, opinion.second.model);
        assert!(whole.difference_db.abs() > 1e-3);
    }
}

// Shares of time.

#[test]
fn exact_interference_of_a_smaller_share_of_time_is_stronger() {
    let sectors = sector("s", "m1", 0.0, 3620.0) + &sector("far", "m2", 180.0, 3620.0);
    // The unwanted signal comes over a hill; the wanted one does not.
    let hill = || {
        FormulaGround(Arc::new(|p: LonLat| {
            let from_crest = (p.lat_deg() - 47.225) / 0.004;
            (400.0 + 90.0 * (-from_crest * from_crest).exp(), 0.0)
        }))
    };
    let levels: Vec<f64> = ["50", "20", "5", "1", "0.1"]
        .map(|pct| {
            let text = with("interference_time_pct", pct, &design(&sectors));
            let world = TextWorld::new(&text, ONE, hill());
            let run = RunControl::unwatched();
            let study = evaluate(&world, Completeness::Whole, &run)
                .expect("sound")
                .study;
            let link = study.premises[0].link.clone().expect("a link");
            assert_eq!(link.sector.as_str(), "s");
            link.downlink.interference_dbm.expect("a neighbour")
        })
        .into();
    assert!(
        levels.windows(2).all(|pair| pair[1] >= pair[0]),
        "{levels:?}"
    );
    assert!(levels[4] > levels[0] + 0.1, "{levels:?}");
}

// Climate.

#[test]
fn exact_a_greater_lapse_bends_the_ray_over_the_ridge() {
    let losses: Vec<f64> = ["20", "45", "70", "120"]
        .map(|lapse| {
            let text = one_sector(3620.0)
                .replace("_n_per_km = 45", &format!("_n_per_km = {lapse}"))
                .replace("= 47.15", "= 46.95");
            link(&text, ridge(25.0)).excess_loss_db
        })
        .into();
    assert!(
        losses.windows(2).all(|pair| pair[1] < pair[0]),
        "{losses:?}"
    );
    assert!(losses[0] > losses[3] + 0.5, "{losses:?}");
}

// Availability.

/// A terminal `lat` degrees north, 3.6 GHz or another carrier, flat ground.
fn clear_link(lat: f64, f_mhz: f64) -> Link {
    let premises = format!("id,lon,lat,mount_height_agl_m\np,9.45,{lat},40\n");
    let world = TextWorld::new(&one_sector(f_mhz), &premises, FormulaGround::flat(400.0));
    report(&world, "p").link
}

#[test]
fn exact_the_availability_is_that_of_the_margin_and_the_fade_margin() {
    let link = clear_link(47.25, 3620.0);
    let found = link.availability.expect("a clear ray");
    assert!(link.clearance_ratio >= 0.0 && link.no_availability.is_none());
    let margin_db = link.margin_db().expect("a margin");
    assert!(
        near(found.fade_depth_db, margin_db + 5.0),
        "5 dB is the default"
    );
    // By hand through the published method: 11.1 km, both antennas known, no rain below 5 GHz.
    let path = FadingPath {
        geometry: physics::hop::Hop {
            d_km: link.distance_m / 1e3,
            f_ghz: 3.62,
            tx_amsl_m: 435.0,
            rx_amsl_m: 440.0,
            mean_terrain_amsl_m: 400.0,
        },
        polarization: physics::path_loss::Polarization::Vertical,
        lat_deg: 47.2,
    };
    let climate = FadingClimate {
        rain_001_mm_per_h: 0.0,
        gradient_1pct_n_per_km: -200.0,
        multipath_map: None,
    };
    let by_hand = Fading::new(&path, &climate).outage(found.fade_depth_db);
    assert!(by_hand.multipath_worst_month_pct > 0.0);
    assert!((found.outage.year_pct / by_hand.year_pct - 1.0).abs() < 1e-9);
    assert_eq!(found.outage.rain_year_pct, 0.0);
    assert!(near(found.availability_year_pct, 100.0 - by_hand.year_pct));
    assert!(found.availability_year_pct >= found.availability_worst_month_pct);
}

#[test]
fn exact_longer_links_are_up_less_and_rain_counts_above_five_gigahertz() {
    let down = |lat| {
        let outage = clear_link(lat, 3620.0).availability.expect("clear").outage;
        outage.multipath_worst_month_pct
    };
    let found = [47.17, 47.21, 47.27, 47.33].map(down);
    assert_eq!(found[0], 0.0, "2 km: no multipath is counted");
    assert!(found.windows(2).all(|pair| pair[1] > pair[0]), "{found:?}");
    let high = clear_link(47.17, 10_500.0);
    let outage = high.availability.expect("clear").outage;
    assert!(outage.rain_year_pct > 0.0 && outage.rain_worst_month_pct >= outage.rain_year_pct);
}

#[test]
fn exact_no_availability_without_a_clear_ray() {
    let why = |text: &str, premises: &str, ground: FormulaGround| {
        let link = report(&TextWorld::new(text, premises, ground), "p").link;
        assert!(link.availability.is_some() != link.no_availability.is_some());
        link.no_availability
    };
    let text = one_sector(3620.0);
    assert_eq!(why(&text, ONE, FormulaGround::flat(400.0)), None);
    assert_eq!(
        why(&text, ONE, ridge(33.0)),
        Some(NoAvailability::NotLineOfSight)
    );
    assert_eq!(
        why(&text, ONE, ridge(300.0)),
        Some(NoAvailability::PlanNotMet)
    );
    let roofs = "id,lon,lat,mounting\np,9.45,47.17,below-roofs\n";
    let reason = why(&text, roofs, FormulaGround::flat(400.0));
    assert_eq!(reason, Some(NoAvailability::AroundTerminal));
}
