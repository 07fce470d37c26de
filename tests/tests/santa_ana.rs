//! A whole study on real terrain and land cover: four masts, sixteen sectors,
//! a thousand premises. The answers are not known, so they are held against
//! what must be true of any.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test fails where something is not there; the run is timed and says how long it took"
)]

use std::sync::Arc;
use std::time::Instant;

use engine::coverage::{GroundPieces, uplink_interference_dbm};
use engine::path::{PathConditions, PathEnd, PathEvaluator};
use engine::verdict::{LimitingCause, Verdict};
use engine::{CrossSection, RunControl, Surroundings};
use geodesy::LonLatBox;
use model::{Network, Severity};
use pipeline::{Completeness, Evaluation, World, evaluate};
use store::world::FolderWorld;
use tests::santa_ana::{PREMISES, SECTORS, write_project};

/// The study and its world, or a line saying that it was skipped.
fn study() -> Option<(FolderWorld, Evaluation, tempfile::TempDir)> {
    let Some(shared) = tests::shared_dir() else {
        println!("skipped: the study on real terrain, the shared reference data is not here");
        return None;
    };
    let dir = tempfile::tempdir().unwrap();
    write_project(dir.path(), &shared).unwrap();
    let start = Instant::now();
    let project = store::project::open(dir.path()).unwrap();
    let world = FolderWorld::new(dir.path(), project.sources);
    let evaluation = evaluate(&world, Completeness::Whole, &RunControl::unwatched()).unwrap();
    println!(
        "study of {PREMISES} premises and {SECTORS} sectors: {:.2} s, {} paths",
        start.elapsed().as_secs_f64(),
        evaluation.study.summary.evaluated_paths
    );
    Some((world, evaluation, dir))
}

#[test]
fn exact_the_study_on_real_terrain_is_sound() {
    let Some((world, evaluation, _dir)) = study() else {
        return;
    };
    counts_add_up(&evaluation);
    clear_paths_are_free_space(&evaluation);
    blocked_paths_lose_more(&evaluation);
    sectors_stay_within_their_limits(&evaluation);
    paths_are_reciprocal_and_gain_with_height(&world, &evaluation);
}

fn counts_add_up(evaluation: &Evaluation) {
    let summary = &evaluation.study.summary;
    assert_eq!(summary.premises, PREMISES);
    assert_eq!(
        summary.served + summary.doubtful + summary.unserved,
        PREMISES
    );
    let by_cause: usize = summary.unserved_by_cause.iter().map(|c| c.premises).sum();
    assert_eq!(by_cause, summary.unserved);
    println!("{summary:#?}");
    assert!(summary.served > PREMISES / 10, "some are served");
    assert!(summary.unserved > PREMISES / 10, "mountains hide some");
    let of = |cause| summary.unserved_by_cause.iter().any(|c| c.cause == cause);
    assert!(of(LimitingCause::Terrain));
    // The rasters cover the whole territory: nothing may rest on unknown ground.
    assert!(!of(LimitingCause::UnknownGround));
    assert!(
        evaluation
            .findings
            .iter()
            .all(|f| f.severity < Severity::Error)
    );
}

/// With six tenths of the first Fresnel zone clear, P.1812 adds nothing to
/// free space but a part of a decibel of diffraction.
fn clear_paths_are_free_space(evaluation: &Evaluation) {
    let clear: Vec<f64> = evaluation
        .study
        .premises
        .iter()
        .filter_map(|p| p.link.as_ref())
        .filter(|l| l.clearance_ratio >= 0.6)
        .map(|l| l.excess_loss_db)
        .collect();
    let worst_db = clear.iter().copied().fold(0.0, f64::max);
    println!(
        "{} clear paths, worst excess over free space {worst_db:.3} dB",
        clear.len()
    );
    assert!(clear.len() > 50);
    assert!(worst_db < 1.0);
}

/// A ray that grazes a knife edge loses 6 dB (P.526, ν = 0); none that is
/// blocked may lose less.
fn blocked_paths_lose_more(evaluation: &Evaluation) {
    let blocked: Vec<_> = evaluation
        .study
        .premises
        .iter()
        .filter_map(|p| p.link.as_ref())
        .filter(|l| l.clearance_ratio < 0.0)
        .collect();
    assert!(blocked.len() > 50);
    for link in &blocked {
        assert!(
            link.excess_loss_db > 6.0,
            "{}: {}",
            link.premises,
            link.excess_loss_db
        );
    }
}

fn sectors_stay_within_their_limits(evaluation: &Evaluation) {
    let most_frac = evaluation.network.study.max_airtime_frac;
    for s in &evaluation.study.sectors {
        assert!(s.load.downlink_airtime_frac <= most_frac, "{}", s.id);
        assert!(s.load.uplink_airtime_frac <= most_frac, "{}", s.id);
        assert!(s.farthest_served_m <= s.guard_range_m, "{}", s.id);
        assert_eq!(s.served + s.doubtful, s.load.terminals as usize, "{}", s.id);
        assert!(
            s.power.per_chain_dbm <= s.power.requested_per_chain_dbm,
            "{}",
            s.id
        );
    }
    for p in &evaluation.study.premises {
        let served = p.verdict != Verdict::Unserved;
        let margin_db = p.link.as_ref().and_then(engine::link::Link::margin_db);
        assert_eq!(served, p.limit.is_none(), "{}", p.id);
        if served {
            assert!(margin_db.is_some_and(|m| m >= 0.0), "{}", p.id);
        }
    }
}

/// The loss from mast to premises is the loss from premises to mast, and an
/// antenna raised above a blocking ridge loses less.
fn paths_are_reciprocal_and_gain_with_height(world: &FolderWorld, evaluation: &Evaluation) {
    let network = &evaluation.network;
    let ground = world.ground(network);
    let conditions = PathConditions::wanted(&network.propagation);
    let mut evaluator = PathEvaluator::default();
    let mut section = CrossSection::default();
    let mut loss_db = |from: PathEnd, to: PathEnd| {
        ground
            .surroundings
            .trace(from.position, to.position, Some(30.0), &mut section);
        let path = evaluator
            .evaluate(&section, (&from, &to), 3620.0, &conditions)
            .unwrap();
        (path.loss.loss_db, path.geometry.clearance_ratio)
    };
    let end = |position, agl_m| PathEnd {
        position,
        agl_m,
        ground_amsl_m: None,
    };
    let mast = end(network.masts[0].position, 28.0);
    let (mut worst_reverse_db, mut worst_height_db, mut blocked) = (0.0_f64, 0.0_f64, 0);
    for p in network.premises.iter().step_by(3) {
        let low = end(p.position, 6.0);
        let (forth_db, clearance_ratio) = loss_db(mast, low);
        let (back_db, _) = loss_db(low, mast);
        worst_reverse_db = worst_reverse_db.max((forth_db - back_db).abs());
        if clearance_ratio < 0.0 {
            blocked += 1;
            let (high_db, _) = loss_db(mast, end(p.position, 12.0));
            worst_height_db = worst_height_db.max(high_db - forth_db);
        }
    }
    println!(
        "reverse path differs by at most {worst_reverse_db:.2e} dB; of {blocked} blocked paths none loses more than {worst_height_db:.3} dB by going up 6 m"
    );
    assert!(worst_reverse_db < 0.01);
    // Bullington's equivalent edge may move as the antenna rises, so a small
    // loss is in the method; a whole decibel is not.
    assert!(worst_height_db < 1.0);
}

/// The same network with the canopy heights beside the land cover.
fn with_canopy() -> Option<(FolderWorld, tempfile::TempDir)> {
    let Some(shared) = tests::shared_dir() else {
        println!("skipped: the study among real trees, the shared reference data is not here");
        return None;
    };
    let dir = tempfile::tempdir().unwrap();
    write_project(dir.path(), &shared).unwrap();
    std::fs::create_dir_all(dir.path().join("canopy")).unwrap();
    let heights = shared.join("geodata/santa-ana/ch.tif");
    std::fs::copy(heights, dir.path().join("canopy/ch.tif")).unwrap();
    let design = tests::santa_ana::design().replace(
        "legend = \"fbfm40\"\n",
        "legend = \"fbfm40\"\ncanopy = [\"canopy/ch.tif\"]\ncanopy_unit_m = 0.1\n",
    );
    std::fs::write(dir.path().join("mastwright.toml"), design).unwrap();
    let project = store::project::open(dir.path()).unwrap();
    Some((FolderWorld::new(dir.path(), project.sources), dir))
}

#[test]
fn exact_real_trees_count_where_they_stand_and_nowhere_else() {
    let (Some((bare, without, _dir)), Some((wooded, _other))) = (study(), with_canopy()) else {
        return;
    };
    let run = RunControl::unwatched();
    let with = evaluate(&wooded, Completeness::Whole, &run).unwrap();
    let losses = |e: &Evaluation| -> Vec<Option<f64>> {
        let links = e.study.premises.iter().map(|p| p.link.as_ref());
        links
            .map(|l| l.map(|l| l.downlink.levels.path_loss_db))
            .collect()
    };
    assert!(losses(&with).iter().flatten().all(|loss| loss.is_finite()));
    assert_eq!(losses(&with).len(), losses(&without).len());
    let found = compare_trees(&bare, &wooded, &with);
    println!(
        "{} premises below the crowns of their woods, at most {:.0} m deep and {:.1} dB; {} paths without a tree, {} past trees",
        found.below, found.deepest_m, found.greatest_db, found.treeless, found.past
    );
    assert!(found.below > 0, "some premises stand in mapped woods");
    assert!(found.treeless > 0, "and some paths pass no tree");
}

#[derive(Default)]
struct Trees {
    below: usize,
    past: usize,
    treeless: usize,
    deepest_m: f64,
    greatest_db: f64,
}

/// Every premises' path from the nearest mast, without the trees and with them.
fn compare_trees(bare: &FolderWorld, wooded: &FolderWorld, of: &Evaluation) -> Trees {
    let network = &of.network;
    let grounds = [
        bare.ground(network).surroundings,
        wooded.ground(network).surroundings,
    ];
    let conditions = PathConditions::wanted(&network.propagation);
    let mut evaluator = PathEvaluator::default();
    let mut sections = [CrossSection::default(), CrossSection::default()];
    let mut found = Trees::default();
    for p in &network.premises {
        let to = PathEnd {
            position: p.position,
            agl_m: p.mount_height_agl_m,
            ground_amsl_m: None,
        };
        let nearest = network.masts.iter().map(|m| m.position).min_by(|a, b| {
            let to_m = |m: &geodesy::LonLat| geodesy::inverse(*m, p.position).distance_m;
            to_m(a).total_cmp(&to_m(b))
        });
        let from = PathEnd {
            position: nearest.unwrap(),
            agl_m: 28.0,
            ground_amsl_m: None,
        };
        for (ground, section) in grounds.iter().zip(&mut sections) {
            ground.trace(from.position, to.position, Some(30.0), section);
        }
        let [without, with] = [0, 1].map(|i| {
            let ends = (&from, &to);
            let path = evaluator.evaluate(&sections[i], ends, 3620.0, &conditions);
            path.unwrap()
        });
        let trees = &sections[1].canopy_m;
        assert!(trees.iter().all(|h| (0.0..100.0).contains(h)), "decimetres");
        assert!(with.loss_db().is_finite());
        // Away from the trees nothing has changed.
        assert_eq!(sections[0].ground_amsl_m, sections[1].ground_amsl_m);
        for (i, height_m) in trees.iter().enumerate() {
            let mapped_m = [*height_m, sections[0].clutter_m[i]][usize::from(*height_m == 0.0)];
            assert_eq!(sections[1].clutter_m[i], mapped_m);
        }
        let inside = *trees.last().unwrap() > p.mount_height_agl_m;
        assert_eq!(with.woodland.is_some(), inside, "{}", p.id);
        if let Some(wood) = with.woodland {
            found.below += 1;
            found.deepest_m = found.deepest_m.max(wood.depth_m);
            found.greatest_db = found.greatest_db.max(wood.through_db);
            // Never more than through the trees, never less than without them,
            // and two equal ways gain 3 dB at most.
            let cleared_db = wood.through_loss_db - wood.through_db;
            let least_db = wood.over_loss_db.min(wood.through_loss_db);
            assert!(wood.through_db > 0.0, "{}", p.id);
            assert!(with.loss_db() <= wood.through_loss_db + 1e-9, "{}", p.id);
            assert!(with.loss_db() >= cleared_db - 1e-9, "{}", p.id);
            assert!(with.loss_db() >= least_db - 3.0103, "{}", p.id);
        } else if trees.iter().all(|h| *h == 0.0) {
            found.treeless += 1;
            assert_eq!(with.loss_db(), without.loss_db(), "{}", p.id);
        } else {
            found.past += 1;
        }
    }
    found
}

/// Coverage reads the ground around one mast at a time for what terminals put
/// into the sectors; a study reads it whole.
#[test]
fn exact_uplink_interference_is_the_same_over_ground_by_the_piece() {
    let Some((world, evaluation, _dir)) = study() else {
        return;
    };
    let pieces = Pieces(&world, &evaluation.network);
    let run = RunControl::unwatched();
    let found = uplink_interference_dbm(&evaluation.network, &pieces, &run);
    let found = found.unwrap().unwrap();
    let mut disturbed = 0;
    for (sector, found_dbm) in evaluation.study.sectors.iter().zip(&found) {
        match sector.uplink_interference_dbm {
            // A piece's cells are counted from another corner: the last digits differ.
            Some(expected_dbm) => {
                assert!((found_dbm - expected_dbm).abs() < 1e-6, "{}", sector.id);
                disturbed += 1;
            }
            None => assert_eq!(*found_dbm, f64::NEG_INFINITY),
        }
    }
    assert!(disturbed > SECTORS / 2, "{disturbed} sectors are disturbed");
}

struct Pieces<'a>(&'a FolderWorld, &'a Network);

impl GroundPieces for Pieces<'_> {
    fn piece(&self, extent: &LonLatBox) -> Option<Arc<dyn Surroundings>> {
        let ground = self.0.ground_piece(self.1, extent);
        Some(Arc::from(ground.surroundings))
    }
}
