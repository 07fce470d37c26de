//! A ring of four hops of which one fails: the traffic goes the other way round.

#![expect(
    clippy::unwrap_used,
    reason = "tests fail where something is not there"
)]

mod formula_world;

use std::collections::BTreeMap;

use formula_world::{FormulaGround, TextWorld, design, sector};
use pipeline::engine::RunControl;
use pipeline::engine::hop::load::HopFailure;
use pipeline::engine::hop::routes::RouteMethod;
use pipeline::model::{Finding, Subject};
use pipeline::{Completeness, Evaluation, evaluate};

const HEAD: &str = r#"
[backhaul]
core = "m1"
radio = "hop-fdd-11000"
antenna = "hop-dish-60cm-11000"
rule_set = "demo-coordinated-hops"
channel_width_mhz = 40
rain_001_mm_per_h = 32
pointing_error_deg = 0

[[mast]]
id = "m3"
lon = 9.5
lat = 47.25
height_agl_m = 40

[[mast]]
id = "m4"
lon = 9.58
lat = 47.15
height_agl_m = 40
"#;

/// Round from the core and back to it: `b` is the shortest, `c` the longest.
const HOPS: [(&str, &str, &str, u32); 4] = [
    ("a", "m1", "m2", 11_200),
    ("b", "m2", "m3", 11_240),
    ("c", "m3", "m4", 11_280),
    ("d", "m4", "m1", 11_320),
];

/// One premises beside mast m2, two beside m3, three beside m4, each with 0.8
/// Mb/s down and 0.1 up at the busy hour.
const PREMISES: &str = "id,lon,lat,plan\np,9.45,47.26,large\nq,9.5,47.26,large\nr,9.501,47.26,large\ns,9.58,47.16,large\nt,9.581,47.16,large\nu,9.579,47.16,large\n";

/// The ring without some hops, one of them with a channel of its own width.
fn ring(without: &[&str], (narrow, width_mhz): (&str, f64)) -> Evaluation {
    let mut text = HEAD.to_owned();
    for (id, from, to, mhz) in HOPS.iter().filter(|(id, ..)| !without.contains(id)) {
        text += &format!(
            "\n[[hop]]\nid = \"{id}\"\nfrom = \"{from}\"\nto = \"{to}\"\nchannel_mhz = {mhz}\n"
        );
        if *id == narrow {
            text += &format!("channel_width_mhz = {width_mhz}\n");
        }
    }
    for (mast, channel_mhz) in [("m2", 3_580.0), ("m3", 3_620.0), ("m4", 3_660.0)] {
        text += &sector(&format!("s-{mast}"), mast, 0.0, channel_mhz);
    }
    let world = TextWorld::new(&design(&text), PREMISES, FormulaGround::flat(400.0));
    evaluate(&world, Completeness::Whole, &RunControl::unwatched()).unwrap()
}

fn whole() -> Evaluation {
    ring(&[], ("none", 0.0))
}

/// Downlink load by hop, and its share of the guaranteed rate.
fn carried(evaluation: &Evaluation) -> BTreeMap<String, (f64, f64)> {
    let hops = evaluation.study.backhaul.hops.iter();
    hops.map(|hop| {
        let guaranteed_mbps = hop.evaluation.as_ref().unwrap().guaranteed_mbps;
        let share = hop.load.downlink_mbps / guaranteed_mbps;
        assert!((hop.busy_frac.unwrap() - share).abs() < 1e-12);
        (hop.id.as_str().to_owned(), (hop.load.downlink_mbps, share))
    })
    .collect()
}

fn failure<'a>(evaluation: &'a Evaluation, hop: &str) -> &'a HopFailure {
    let mut failures = evaluation.study.backhaul.failures.iter();
    failures.find(|f| f.hop.as_str() == hop).unwrap()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn exact_traffic_takes_the_surer_way_round_while_the_ring_is_whole() {
    let evaluation = whole();
    let carried = carried(&evaluation);
    // m2 and m3 over a, m3 over b as well, m4 over d, nobody over c.
    for (hop, mbps) in [("a", 2.4), ("b", 1.6), ("c", 0.0), ("d", 2.4)] {
        assert!(near(carried[hop].0, mbps), "{hop}: {carried:?}");
    }
    let backhaul = &evaluation.study.backhaul;
    let routes: Vec<String> = backhaul
        .routes
        .iter()
        .map(|r| r.hops.iter().map(|hop| hop.as_str()).collect())
        .collect();
    assert_eq!(routes, ["", "a", "ba", "d"]);
    // Cut off from both sides at once, by independent outages.
    let out: Vec<f64> = backhaul
        .hops
        .iter()
        .map(|h| 1.0 - h.evaluation.as_ref().unwrap().availability_year_pct / 100.0)
        .collect();
    let any = |hops: &[usize]| 1.0 - hops.iter().map(|h| 1.0 - out[*h]).product::<f64>();
    let sides: [(usize, &[usize], &[usize]); 3] = [
        (1, &[0], &[1, 2, 3]),
        (2, &[0, 1], &[2, 3]),
        (3, &[3], &[0, 1, 2]),
    ];
    for (mast, one, other) in sides {
        let route = &backhaul.routes[mast];
        assert_eq!(route.method, RouteMethod::Exact);
        let up_pct = 100.0 * (1.0 - any(one) * any(other));
        assert!(
            near(route.availability_year_pct.unwrap(), up_pct),
            "{route:?}"
        );
        assert!(route.availability_year_pct.unwrap() > 100.0 * (1.0 - any(one)));
    }
}

#[test]
fn exact_a_failed_hop_sends_its_traffic_the_other_way_round() {
    let evaluation = whole();
    let before = carried(&evaluation);
    // Busier hops and what they then carry; the one that carries less is not among them.
    let expected: [(&str, &[(&str, f64)]); 4] = [
        ("a", &[("c", 2.4), ("d", 4.8)]),
        ("b", &[("c", 1.6), ("d", 4.0)]),
        ("c", &[]),
        ("d", &[("a", 4.8), ("b", 4.0), ("c", 2.4)]),
    ];
    for (failed, busier) in expected {
        let told = failure(&evaluation, failed);
        assert!(told.cut_off.is_empty(), "{told:?}");
        let found: Vec<_> = told.busier.iter().map(|b| b.hop.as_str()).collect();
        let hops: Vec<_> = busier.iter().map(|(hop, _)| *hop).collect();
        assert_eq!(found, hops, "{failed} fails");
        // The failure as it is foretold is the ring that lacks the hop.
        let lacking = ring(&[failed], ("none", 0.0));
        let after = carried(&lacking);
        for (foretold, (hop, mbps)) in told.busier.iter().zip(busier) {
            assert!(near(foretold.load.downlink_mbps, *mbps), "{foretold:?}");
            assert!(near(foretold.load.uplink_mbps, mbps / 8.0), "{foretold:?}");
            assert!(near(after[*hop].0, *mbps), "{after:?}");
            assert!(near(after[*hop].1, foretold.use_frac.unwrap()), "{after:?}");
        }
        for (hop, (mbps, _)) in after {
            let is_busier = hops.contains(&hop.as_str());
            assert!(is_busier || mbps <= before[&hop].0 + 1e-9, "{hop}");
        }
    }
    // All of it fits over 40 MHz.
    let code = |f: &&Finding| f.code == "failure-overloads";
    assert_eq!(evaluation.findings.iter().filter(code).count(), 0);
}

#[test]
fn exact_a_narrow_hop_is_told_for_the_failures_that_overload_it() {
    // Wide enough for 2.4 and 4.0 Mb/s, not for 4.8.
    let evaluation = ring(&[], ("d", 0.6));
    let hop = &evaluation.study.backhaul.hops[3];
    let guaranteed_mbps = hop.evaluation.as_ref().unwrap().guaranteed_mbps;
    println!("hop d carries {guaranteed_mbps:.2} Mb/s for its share of the year");
    assert!((4.0..4.8).contains(&guaranteed_mbps));
    assert!(hop.busy_frac.unwrap() < 1.0);
    let told: Vec<_> = evaluation
        .findings
        .iter()
        .filter(|f| f.code == "failure-overloads")
        .collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(matches!(&told[0].subject, Subject::Hop(hop) if hop.as_str() == "a"));
    assert!(
        told[0].message.contains("`d` would carry `4.8 Mb/s`"),
        "{}",
        told[0].message
    );
    // Without its hop the same network is overloaded as it stands.
    let lacking = ring(&["a"], ("d", 0.6));
    let overloaded = lacking
        .findings
        .iter()
        .filter(|f| f.code == "hop-overloaded");
    assert_eq!(overloaded.count(), 1);
}

#[test]
fn exact_a_second_break_cuts_off_what_lies_between() {
    let evaluation = ring(&["c"], ("none", 0.0));
    let cut_off = |hop: &str| -> Vec<String> {
        let told = &failure(&evaluation, hop).cut_off;
        told.iter().map(|m| m.as_str().to_owned()).collect()
    };
    assert_eq!(cut_off("a"), ["m2", "m3"]);
    assert_eq!(cut_off("b"), ["m3"]);
    assert_eq!(cut_off("d"), ["m4"]);
    assert!(failure(&evaluation, "a").busier.is_empty());
}
