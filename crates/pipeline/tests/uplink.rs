//! Power control, uplink interference and admission, against what must follow.

mod formula_world;

use formula_world::{FormulaGround, TextWorld, design, sector};
use pipeline::engine::RunControl;
use pipeline::engine::link::Link;
use pipeline::engine::verdict::LimitingCause;
use pipeline::{Completeness, Evaluation, evaluate};

fn study(design: &str, premises_csv: &str) -> Evaluation {
    let world = TextWorld::new(design, premises_csv, FormulaGround::flat(400.0));
    evaluate(&world, Completeness::Whole, &RunControl::unwatched()).expect("the design is sound")
}

fn link<'a>(evaluation: &'a Evaluation, id: &str) -> &'a Link {
    let all = &evaluation.study.premises;
    let found = all.iter().find(|p| p.id.as_str() == id);
    found
        .and_then(|p| p.link.as_ref())
        .expect("named in the test and linked")
}

/// Two sectors back to back on one channel; one terminal each.
fn back_to_back(more: &str) -> Evaluation {
    let sectors = sector("n", "m1", 0.0, 3620.0) + &sector("s", "m1", 180.0, 3620.0);
    let text = design(&sectors).replace("[propagation]", &format!("{more}\n[propagation]"));
    study(&text, "id,lon,lat\nnear-n,9.45,47.165\nfar-s,9.45,47.10\n")
}

#[test]
fn exact_power_control_leaves_what_the_step_asks_for() {
    let evaluation = back_to_back("");
    let near = link(&evaluation, "near-n");
    let step = near.uplink.busy_step.expect("a clear link");
    let surplus_db = near.uplink.sinr_db - step.required_sinr_db;
    assert!(surplus_db > 0.0, "1.7 km in the clear has some to spare");
    let highest_dbm = near.uplink.levels.tx_power_per_chain_dbm;
    let lowest_dbm = evaluation.network.premises[0]
        .terminal
        .min_tx_power_per_chain_dbm;
    let expected_dbm = (highest_dbm - surplus_db).max(lowest_dbm);
    assert!((near.controlled_power_per_chain_dbm - expected_dbm).abs() < 1e-9);
    let change_db = near.controlled_uplink_rsl_dbm - near.uplink.rsl_dbm;
    assert!((change_db - (expected_dbm - highest_dbm)).abs() < 1e-9);
}

#[test]
fn exact_half_the_activity_is_three_decibels_less_interference() {
    let (full, half) = (
        back_to_back("[study]\ninterferer_activity_frac = 1.0"),
        back_to_back("[study]\ninterferer_activity_frac = 0.5"),
    );
    for id in ["near-n", "far-s"] {
        let downlink = |e: &Evaluation| link(e, id).downlink.interference_dbm.expect("a neighbour");
        assert!(
            (downlink(&full) - downlink(&half) - 3.0103).abs() < 1e-4,
            "{id}"
        );
    }
}

#[test]
fn exact_uplink_interference_adds_up_by_hand() {
    let evaluation = back_to_back("");
    let far = link(&evaluation, "far-s");
    let (north, south) = (
        &evaluation.network.sectors[0],
        &evaluation.network.sectors[1],
    );
    assert_eq!(far.sector, south.id);
    // One terminal, aimed at the mast that carries the victim too: it reaches the
    // victim's antenna over the same path as its own, less the back of the antenna.
    // Share of time: all of it, if it spreads over the whole channel.
    let step = far.uplink.busy_step.expect("a clear link");
    let own_gain_dbi = far.uplink.levels.rx_gain_dbi;
    let ready = pipeline::engine::radio::ReadyNetwork::new(&evaluation.network);
    let back_gain_dbi = ready.sectors[0]
        .antenna
        .gain_toward_dbi(far.azimuth_deg, -0.5);
    assert_eq!(north.antenna, south.antenna);
    let expected_dbm = far.controlled_uplink_rsl_dbm - own_gain_dbi + back_gain_dbi
        - pipeline::engine::levels::ratio_to_db(step.bandwidth_frac);
    let found_dbm = evaluation.study.sectors[0]
        .uplink_interference_dbm
        .expect("one neighbour");
    // The study's paths for interference hold for 10 % of the time, its pointing
    // loss is not counted against others, and one chain of a dual-slant terminal
    // is half in each port: a few decibels between them, told apart from a slip.
    assert!(
        (found_dbm - expected_dbm).abs() < 5.0,
        "{found_dbm} against {expected_dbm}"
    );
}

#[test]
fn exact_priority_is_kept_when_airtime_runs_out() {
    let rows: String = (0..120)
        .map(|i| {
            let priority = i32::from(i % 6 == 0) * 5;
            format!(
                "p{i},{:.5},47.18,large,{priority}\n",
                9.43 + 0.0003 * f64::from(i)
            )
        })
        .collect();
    let evaluation = study(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        &format!("id,lon,lat,plan,priority\n{rows}"),
    );
    let refused = |priority: i32| {
        let premises = evaluation
            .network
            .premises
            .iter()
            .zip(&evaluation.study.premises);
        premises
            .filter(|(p, _)| p.priority == priority)
            .filter(|(_, r)| {
                r.limit
                    .as_ref()
                    .is_some_and(|l| l.cause == LimitingCause::Airtime)
            })
            .count()
    };
    assert_eq!(refused(5), 0);
    assert!(refused(0) > 0);
}

#[test]
fn exact_a_fixed_sector_binds() {
    let sectors = sector("n", "m1", 0.0, 3620.0) + &sector("x", "m2", 180.0, 3660.0);
    let evaluation = study(
        &design(&sectors),
        "id,lon,lat,sector\nfree,9.45,47.17,\nbound,9.451,47.19,x\n",
    );
    assert_eq!(link(&evaluation, "free").sector.as_str(), "n");
    assert_eq!(link(&evaluation, "bound").sector.as_str(), "x");
}

#[test]
fn exact_what_is_beyond_service_still_disturbs() {
    let sectors = sector("near", "m1", 0.0, 3620.0) + &sector("far", "m2", 180.0, 3620.0);
    let with_reach = |reach_km: f64| {
        let text = design(&sectors).replace("reach_km = 40", &format!("reach_km = {reach_km}"));
        study(&text, "id,lon,lat\np,9.45,47.17\n")
    };
    let (short, long) = (with_reach(3.0), with_reach(40.0));
    let interference = |e: &Evaluation| link(e, "p").downlink.interference_dbm;
    assert!(
        interference(&short).is_some(),
        "8.9 km away and on the same channel"
    );
    assert_eq!(interference(&short), interference(&long));
}
