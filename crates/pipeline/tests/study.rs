//! The whole way from text to verdicts, over ground whose answer is known.

mod formula_world;

use std::sync::Arc;

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::LonLat;
use pipeline::engine::RunControl;
use pipeline::engine::study::PremisesResult;
use pipeline::engine::verdict::{LimitingCause, Verdict};
use pipeline::{Completeness, Evaluation, evaluate};

fn study(world: &TextWorld) -> Evaluation {
    evaluate(world, Completeness::Whole, &RunControl::unwatched()).expect("the design is sound")
}

fn premises<'a>(evaluation: &'a Evaluation, id: &str) -> &'a PremisesResult {
    evaluation
        .study
        .premises
        .iter()
        .find(|p| p.id.as_str() == id)
        .expect("named in the test")
}

fn cause(evaluation: &Evaluation, id: &str) -> Option<LimitingCause> {
    premises(evaluation, id).limit.as_ref().map(|l| l.cause)
}

/// Free-space loss, ITU-R P.525: 32.45 + 20 log f + 20 log d with the
/// constant of P.1812 (92.4 with GHz).
fn free_space_db(f_ghz: f64, d_km: f64) -> f64 {
    92.4 + 20.0 * (f_ghz * d_km).log10()
}

#[test]
fn exact_line_of_sight_is_free_space_plus_known_terms() {
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        "id,lon,lat\np,9.45,47.17\n",
        FormulaGround::flat(400.0),
    );
    let evaluation = study(&world);
    let link = premises(&evaluation, "p").link.clone().expect("a link");
    let network = &evaluation.network;
    let (s, p) = (&network.sectors[0], &network.premises[0]);
    assert!(link.clearance_ratio > 0.6);
    let slant_km = ((link.distance_m / 1e3).powi(2) + (29.0_f64 / 1e3).powi(2)).sqrt();
    assert!((link.downlink.levels.path_loss_db - free_space_db(3.62, slant_km)).abs() < 1e-6);
    // The levels add up, with the power that the study reports.
    let l = &link.downlink.levels;
    let expected_dbm = evaluation.study.sectors[0].power.per_chain_dbm - s.feeder_loss_db
        + l.tx_gain_dbi
        - l.path_loss_db
        + p.terminal.antenna.gain_dbi
        - l.pointing_loss_db
        - l.polarization_loss_db
        - p.terminal.feeder_loss_db;
    assert!((link.downlink.rsl_dbm - expected_dbm).abs() < 1e-9);
    // On the axis, slightly below the horizon: the antenna gives nearly all of its gain.
    assert!(s.antenna.gain_dbi - l.tx_gain_dbi < 1.0);
    assert_eq!(premises(&evaluation, "p").verdict, Verdict::Served);
}

#[test]
fn exact_path_loss_is_the_same_in_both_directions() {
    let ridge = FormulaGround(Arc::new(|p: LonLat| {
        (
            400.0 + 80.0 * (-((p.lat_deg() - 47.2) / 0.01).powi(2)).exp(),
            0.0,
        )
    }));
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        "id,lon,lat\np,9.45,47.215\n",
        ridge,
    );
    let evaluation = study(&world);
    let link = premises(&evaluation, "p").link.clone().expect("a link");
    assert_eq!(
        link.downlink.levels.path_loss_db,
        link.uplink.levels.path_loss_db
    );
    assert!(link.excess_loss_db > 10.0);
}

/// Ground that falls away from the second mast and a wall of each kind.
fn obstacles() -> FormulaGround {
    FormulaGround(Arc::new(|p: LonLat| {
        let (lon, lat) = (p.lon_deg(), p.lat_deg());
        let ridge = if lon < 9.44 && (47.165..47.17).contains(&lat) {
            300.0
        } else {
            0.0
        };
        let wood = if lon > 9.47 && (47.17..47.185).contains(&lat) {
            30.0
        } else {
            0.0
        };
        (400.0 + ridge, wood)
    }))
}

#[test]
fn exact_each_obstacle_names_its_own_cause() {
    let world = TextWorld::new(
        &design(&(sector("s", "m1", 0.0, 3620.0))),
        "id,lon,lat,plan\nnear,9.45,47.17,large\nridge,9.38,47.20,small\nwood,9.49,47.187,large\nfar,9.45,47.50,large\nbehind-guard,9.45,47.26,small\n",
        obstacles(),
    );
    let evaluation = study(&world);
    assert_eq!(cause(&evaluation, "near"), None);
    assert_eq!(cause(&evaluation, "ridge"), Some(LimitingCause::Terrain));
    assert_eq!(cause(&evaluation, "wood"), Some(LimitingCause::Clutter));
    assert_eq!(cause(&evaluation, "far"), Some(LimitingCause::OutOfReach));
    // 12.2 km: clear, but beyond the 8.35 km of the 10 MHz profile's gap.
    assert_eq!(
        cause(&evaluation, "behind-guard"),
        Some(LimitingCause::OutOfReach)
    );
}

#[test]
fn exact_facing_sectors_on_one_channel_disturb_each_other() {
    let premises_csv = "id,lon,lat,plan\na,9.45,47.197,large\n";
    let facing = |other_mhz: f64| {
        let sectors = sector("s1", "m1", 0.0, 3620.0) + &sector("s2", "m2", 180.0, other_mhz);
        study(&TextWorld::new(
            &design(&sectors),
            premises_csv,
            FormulaGround::flat(400.0),
        ))
    };
    let (same, apart) = (facing(3620.0), facing(3660.0));
    let sinr_db = |e: &Evaluation| {
        premises(e, "a")
            .link
            .as_ref()
            .expect("a link")
            .downlink
            .sinr_db
    };
    let rsl_dbm = |e: &Evaluation| {
        premises(e, "a")
            .link
            .as_ref()
            .expect("a link")
            .downlink
            .rsl_dbm
    };
    assert!(sinr_db(&apart) - sinr_db(&same) > 10.0);
    assert!((rsl_dbm(&apart) - rsl_dbm(&same)).abs() < 0.2);
    let link = premises(&apart, "a").link.clone().expect("a link");
    assert_eq!(link.downlink.interference_dbm, None);
    assert_eq!(link.downlink.sinr_db, link.downlink.snr_db);
}

#[test]
fn exact_more_power_than_the_rules_allow_changes_nothing() {
    let with_power = |dbm: f64| {
        let sectors = sector("s", "m1", 0.0, 3620.0) + &format!("tx_power_per_chain_dbm = {dbm}\n");
        study(&TextWorld::new(
            &design(&sectors),
            "id,lon,lat\np,9.45,47.17\n",
            FormulaGround::flat(400.0),
        ))
    };
    let (a, b) = (with_power(26.0), with_power(27.0));
    let rule = |e: &Evaluation| e.study.sectors[0].power.bound_by.clone();
    assert!(
        rule(&a).is_some(),
        "the demo's rule set binds at 26 dBm per chain"
    );
    assert_eq!(
        a.study.sectors[0].power.per_chain_dbm,
        b.study.sectors[0].power.per_chain_dbm
    );
    assert!(b.findings.iter().any(|f| f.code == "rule-limit"));
    let quiet = with_power(10.0);
    assert!(rule(&quiet).is_none());
    let rsl = |e: &Evaluation| {
        premises(e, "p")
            .link
            .as_ref()
            .expect("a link")
            .downlink
            .rsl_dbm
    };
    let power = |e: &Evaluation| e.study.sectors[0].power.per_chain_dbm;
    assert!((rsl(&a) - rsl(&quiet) - (power(&a) - power(&quiet))).abs() < 1e-9);
}

#[test]
fn exact_a_full_sector_turns_premises_away_for_airtime() {
    let rows: String = (0..150)
        .map(|i| {
            format!(
                "p{i},{:.5},{:.5},large\n",
                9.43 + 0.0003 * f64::from(i),
                47.18
            )
        })
        .collect();
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        &format!("id,lon,lat,plan\n{rows}"),
        FormulaGround::flat(400.0),
    );
    let evaluation = study(&world);
    let full = evaluation
        .study
        .premises
        .iter()
        .filter(|p| {
            p.limit
                .as_ref()
                .is_some_and(|l| l.cause == LimitingCause::Airtime)
        })
        .count();
    let load = &evaluation.study.sectors[0].load;
    let most_frac = evaluation.network.study.max_airtime_frac;
    assert!(full > 0 && full < 150, "{full} turned away");
    assert!(load.downlink_airtime_frac.max(load.uplink_airtime_frac) <= most_frac);
    assert_eq!(load.terminals as usize + full, 150);
}

#[test]
fn exact_results_do_not_depend_on_the_thread_count() {
    let rows: String = (0..60)
        .map(|i| {
            format!(
                "p{i},{:.4},{:.4}\n",
                9.40 + 0.002 * f64::from(i),
                47.12 + 0.002 * f64::from(i % 17)
            )
        })
        .collect();
    let sectors = sector("s1", "m1", 0.0, 3620.0)
        + &sector("s2", "m2", 180.0, 3620.0)
        + &sector("s3", "m1", 180.0, 3640.0);
    let world = TextWorld::new(
        &design(&sectors),
        &format!("id,lon,lat\n{rows}"),
        obstacles(),
    );
    let run = |threads| {
        let control = RunControl {
            threads,
            ..RunControl::unwatched()
        };
        evaluate(&world, Completeness::Whole, &control).expect("the design is sound")
    };
    assert_eq!(run(1), run(2));
    assert_eq!(run(1), run(7));
}

#[test]
fn exact_unknown_ground_is_never_taken_as_flat() {
    let ground = FormulaGround(Arc::new(|p: LonLat| {
        (if p.lat_deg() > 47.18 { f64::NAN } else { 400.0 }, 0.0)
    }));
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        "id,lon,lat\nknown,9.45,47.17\nunknown,9.45,47.19\n",
        ground,
    );
    let evaluation = study(&world);
    assert_eq!(cause(&evaluation, "known"), None);
    assert_eq!(
        cause(&evaluation, "unknown"),
        Some(LimitingCause::UnknownGround)
    );
    assert!(
        evaluation
            .findings
            .iter()
            .any(|f| f.code == "unknown-ground")
    );
}

#[test]
fn exact_a_higher_mount_never_loses_signal_behind_a_ridge() {
    // Behind a single ridge the diffraction angle falls as the antenna rises.
    let ridge = FormulaGround(Arc::new(|p: LonLat| {
        (
            400.0 + 60.0 * (-((p.lat_deg() - 47.2) / 0.004).powi(2)).exp(),
            0.0,
        )
    }));
    let rows: String = (2..20).map(|h| format!("h{h},9.45,47.22,{h}\n")).collect();
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        &format!("id,lon,lat,mount_height_agl_m\n{rows}"),
        ridge,
    );
    let evaluation = study(&world);
    let losses: Vec<f64> = (2..20)
        .map(|h| {
            premises(&evaluation, &format!("h{h}"))
                .link
                .as_ref()
                .expect("a link")
                .downlink
                .levels
                .path_loss_db
        })
        .collect();
    assert!(losses.windows(2).all(|w| w[1] <= w[0] + 1e-9), "{losses:?}");
}
