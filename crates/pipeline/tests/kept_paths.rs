//! Paths kept from an earlier study change the time that the next one takes, never its answer.

mod formula_world;

use std::sync::Arc;

use formula_world::{FormulaGround, TextWorld, design, sector};
use pipeline::engine::RunControl;
use pipeline::engine::explain::{Company, explain, explain_again};
use pipeline::engine::study::{study, study_again};
use pipeline::model::edit::SectorField;
use pipeline::model::{Edit, MastId, PremisesId, SectorId};
use pipeline::{Consequence, World, compare, compare_premises, read};

fn world(ground: FormulaGround) -> TextWorld {
    world_in_channels(ground, [3620.0, 3640.0])
}

fn world_in_channels(ground: FormulaGround, [s_mhz, t_mhz]: [f64; 2]) -> TextWorld {
    let sectors = sector("s", "m1", 0.0, s_mhz) + &sector("t", "m1", 180.0, t_mhz);
    let rows: String = (0..12)
        .map(|i| format!("p{i},9.4{i},47.1{}\n", i % 7))
        .collect();
    TextWorld::new(&design(&sectors), &format!("id,lon,lat\n{rows}"), ground)
}

fn hills() -> FormulaGround {
    FormulaGround(Arc::new(|at| {
        (
            400.0 + 60.0 * (at.lon_deg() * 300.0).sin() * (at.lat_deg() * 200.0).cos(),
            3.0,
        )
    }))
}

#[test]
fn exact_kept_paths_give_the_same_answer_after_any_edit() {
    let world = world(hills());
    let network = read(&world).network.expect("a network");
    let ground = world.ground(&network);
    let run = RunControl::unwatched();
    let surroundings = ground.surroundings.as_ref();
    let (_, kept) = study_again(&network, surroundings, None, &run).expect("it runs");
    let set = |field, value| Edit::Sector {
        sector: SectorId::new("s"),
        field,
        value,
    };
    let mast = network.masts[0].clone();
    let edits = [
        set(SectorField::AzimuthDeg, 77.0),
        set(SectorField::HeightAglM, 12.0),
        set(SectorField::ChannelCentreMhz, 3640.0),
        Edit::MoveMast {
            mast: MastId::new(mast.id.as_str()),
            position: network.premises[3].position,
        },
        Edit::PremisesMountHeight {
            premises: PremisesId::new("p1"),
            mount_height_agl_m: 14.0,
        },
        Edit::RemovePremises {
            premises: PremisesId::new("p2"),
        },
        Edit::RemoveSector {
            sector: SectorId::new("s"),
        },
    ];
    for edit in edits {
        let mut changed = network.clone();
        edit.apply(&mut changed).expect("it can be made");
        let anew = study(&changed, surroundings, &run).expect("it runs");
        let (again, _) =
            study_again(&changed, surroundings, Some(&kept.paths), &run).expect("it runs");
        assert!(again == anew, "{edit:?}");
    }
}

#[test]
fn exact_a_link_is_explained_the_same_from_what_a_study_has_kept() {
    let world = world_in_channels(hills(), [3620.0; 2]);
    let network = read(&world).network.expect("a network");
    let ground = world.ground(&network);
    let run = RunControl::unwatched();
    let surroundings = ground.surroundings.as_ref();
    let (studied, kept) = study_again(&network, surroundings, None, &run).expect("it runs");
    let heard = |from: &Vec<_>| !from.is_empty();
    assert!(
        kept.uplink.iter().any(heard),
        "no sector hears another's terminals"
    );
    for premises in &studied.premises {
        for sector in ["s", "t"] {
            let link = (sector, premises.id.as_str());
            for company in [Company::WholeNetwork, Company::Alone] {
                let how = (company, &run);
                let anew = explain(&network, surroundings, link, how);
                let again = explain_again(&network, surroundings, (link, &kept), how);
                // One of the premises stands at the foot of the mast: the same error.
                assert!(again == anew, "{link:?} {company:?}");
                let served = premises.link.as_ref();
                if company == Company::WholeNetwork
                    && let Ok(again) = again
                    && let Some(link) = served.filter(|link| link.sector.as_str() == sector)
                {
                    assert_eq!(*link, again.link, "as the study has it");
                }
            }
        }
    }
}

#[test]
fn exact_a_consequence_counts_every_premises_that_comes_or_goes() {
    let world = world(FormulaGround::flat(400.0));
    let network = read(&world).network.expect("a network");
    let ground = world.ground(&network);
    let run = RunControl::unwatched();
    let of = |network: &_| study(network, ground.surroundings.as_ref(), &run).expect("it runs");
    let before = of(&network);
    assert!(compare(&before, &before).is_nothing());
    let mut changed = network.clone();
    let gone = Edit::RemoveSector {
        sector: SectorId::new("s"),
    };
    gone.apply(&mut changed).expect("it can be made");
    let after = of(&changed);
    let linked = |c: &pipeline::engine::study::Summary| c.served + c.doubtful;
    let balance =
        |c: &Consequence| linked(&c.after) + c.lost.len() == linked(&c.before) + c.gained.len();
    let (forth, back) = (compare(&before, &after), compare(&after, &before));
    assert!(balance(&forth) && balance(&back));
    assert!(
        forth
            .sectors
            .iter()
            .any(|s| s.id.as_str() == "s" && s.after.is_none())
    );
    let ids = |list: &[pipeline::compare::PremisesChange]| {
        let mut ids: Vec<String> = list.iter().map(|p| p.id.to_string()).collect();
        ids.sort();
        ids
    };
    assert_eq!(ids(&forth.lost), ids(&back.gained));
    assert_eq!(ids(&forth.degraded), ids(&back.improved));
    assert!(compare_premises(&before, &after, "p1").is_some());
    assert!(compare_premises(&before, &after, "nobody").is_none());
}
