//! Who deafens whom, against the arithmetic of the profile and worked levels.

mod formula_world;

use formula_world::{FormulaGround, TextWorld, design, sector};
use pipeline::design::catalogue;
use pipeline::engine::RunControl;
use pipeline::engine::frame;
use pipeline::engine::study::StudyResult;
use pipeline::engine::timing::{TimingCause, collision, hold_over_s};
use pipeline::model::{FrameSplit, Oscillator};
use pipeline::{Completeness, evaluate};

fn times(downlink_symbols: u32, uplink_symbols: u32) -> frame::FrameTimes {
    let cards = &catalogue::built_in().air_interfaces;
    let card = cards.get("ofdma-10").expect("ships with the program");
    frame::times(
        card,
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        },
    )
}

/// The downlink's tail meets a distant uplink beyond c·TTG: 31.7 km at 105.7 µs
/// (IEEE 802.16 profile of 10 MHz, gaps from memory).
#[test]
fn ref_distance_at_which_aligned_frames_collide() {
    let own = times(29, 18);
    assert!(collision((&own, true), (&own, true), 31_600.0).is_none());
    let (cause, hit_frac) = collision((&own, true), (&own, true), 31_800.0).expect("too far");
    assert_eq!(cause, TimingCause::Distance);
    assert!(hit_frac < 0.001);
}

#[test]
fn exact_other_splits_and_loose_frames_collide() {
    let (own, other) = (times(29, 18), times(35, 12));
    // Six symbols more of downlink fall on the uplink, less the gap.
    let (cause, hit_frac) = collision((&own, true), (&other, true), 0.0).expect("they collide");
    let symbol_us = 102.857;
    assert_eq!(cause, TimingCause::Split);
    assert!((hit_frac - (6.0 * symbol_us - 105.714) / (18.0 * symbol_us)).abs() < 1e-4);
    // The other way round nothing is hit: its uplink begins later.
    assert!(collision((&other, true), (&own, true), 0.0).is_none());
    let (cause, hit_frac) = collision((&own, false), (&own, true), 0.0).expect("they slide");
    assert_eq!(cause, TimingCause::NotSynchronised);
    assert!((hit_frac - 29.0 * symbol_us / 5000.0).abs() < 1e-4);
}

/// 1.5 µs at an error of 10⁻⁹ lasts 1500 s, at 10⁻¹⁰ 4.2 h.
#[test]
fn ref_hold_over() {
    let steady = |offset_ppb| Oscillator {
        offset_ppb,
        ageing_ppb_per_day: 0.0,
    };
    assert!((hold_over_s(&steady(1.0), 1.5) - 1500.0).abs() < 1e-6);
    assert!((hold_over_s(&steady(0.1), 1.5) / 3600.0 - 4.2).abs() < 0.05);
    let ageing = Oscillator {
        offset_ppb: 0.0,
        ageing_ppb_per_day: 1.0,
    };
    // ½·a·t² = limit.
    let t = hold_over_s(&ageing, 1.5);
    assert!((0.5 * 1e-9 / 86_400.0 * t * t - 1.5e-6).abs() < 1e-15);
}

fn study(sectors: &str) -> StudyResult {
    let world = TextWorld::new(
        &design(sectors),
        "id,lon,lat\np,9.45,47.17\n",
        FormulaGround::flat(400.0),
    );
    // Different splits on one mast are an error of the design; what stands is evaluated all the same.
    evaluate(&world, Completeness::WhatStands, &RunControl::unwatched())
        .expect("enough of the design stands")
        .study
}

/// One chain at its allowed power through two feeders and 60 dB of isolation, in the same channel.
#[test]
fn exact_sectors_of_one_mast_with_different_splits() {
    let other = sector("t", "m1", 180.0, 3620.0) + "split = [35, 12]\n";
    let result = study(&(sector("s", "m1", 0.0, 3620.0) + &other));
    let conflicts = &result.timing.conflicts;
    assert_eq!(conflicts.len(), 1, "{conflicts:?}");
    let c = &conflicts[0];
    assert_eq!((c.victim.as_str(), c.interferer.as_str()), ("s", "t"));
    let power_dbm = result.sectors[1].power.per_chain_dbm;
    assert!(
        (c.level_dbm - (power_dbm - 1.0 - 60.0)).abs() < 1e-9,
        "{c:?}"
    );
    let told = result.findings.iter().filter(|f| f.code == "deafened");
    assert_eq!(told.count(), 1);
}

#[test]
fn exact_alike_sectors_do_not_hear_each_other_until_one_slides() {
    let alike = sector("s", "m1", 0.0, 3620.0) + &sector("t", "m1", 180.0, 3620.0);
    assert!(study(&alike).timing.conflicts.is_empty());
    let loose = sector("s", "m1", 0.0, 3620.0)
        + &sector("t", "m1", 180.0, 3620.0)
        + "synchronised = false\n";
    let result = study(&loose);
    assert_eq!(result.timing.conflicts.len(), 2);
    assert!(
        result
            .timing
            .conflicts
            .iter()
            .all(|c| c.cause == TimingCause::NotSynchronised)
    );
    // The loose one has no common time to lose.
    assert_eq!(result.timing.hold_over.len(), 1);
}
