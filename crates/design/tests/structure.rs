//! Masts, sectors and premises come and go in the text as they do in the network.

use std::sync::Arc;

use design::write::{apply_edits, apply_premises_edits};
use design::{ProjectSources, SourceText, minimal_design, premises_from_csv, read};
use geodesy::LonLat;
use model::{Edit, EditError, MastId, Network, PremisesId, SectorId};
use proptest::prelude::*;

fn file(name: &str) -> String {
    let files = minimal_design("test");
    let found = files.into_iter().find(|(file, _)| file == name);
    found.expect("it is written").1
}

/// Design and premises as text.
#[derive(Debug, Clone, PartialEq)]
struct Texts {
    design: String,
    premises: String,
}

impl Texts {
    fn new() -> Self {
        let design = file("mastwright.toml")
            + "\n# Over the lake.\n[[sector]]\nid = \"low\" # below the top\nmast = \"hill\"\nazimuth_deg = 90\nheight_agl_m = 12\nchannel_mhz = 3630\n\n# The second site.\n[[mast]]\nid = \"silo\"\nlon = -28.0\nlat = 43.9\nheight_agl_m = 22\n";
        let rows: String = (0..6)
            .map(|i| format!("p{i},-28.0{i},43.9{i},\"Farm, {i}\",home,,keep {i}\n"))
            .collect();
        Self {
            design,
            premises: format!("id,lon,lat,name,plan,mount_height_agl_m,remark\n{rows}"),
        }
    }

    fn network(&self) -> Network {
        let premises = SourceText::new("premises.csv", self.premises.as_str());
        let sources = ProjectSources {
            design: Some(SourceText::new("mastwright.toml", self.design.as_str())),
            plans: Some(SourceText::new("plans.toml", file("plans.toml"))),
            premises: premises_from_csv(&premises).0,
            ..ProjectSources::default()
        };
        let (network, findings) = read(&sources);
        let errors = findings
            .iter()
            .filter(|f| f.severity == model::Severity::Error);
        assert_eq!(errors.count(), 0, "{findings:#?}\n{self:#?}");
        network.expect("a network")
    }

    fn with(&self, edits: &[Edit]) -> Self {
        Self {
            design: apply_edits(&self.design, edits).expect("it can be written"),
            premises: apply_premises_edits(&self.premises, edits).expect("it can be written"),
        }
    }
}

/// The same but for what follows from where everything stands.
fn comparable(network: &Network) -> Network {
    let other = Texts::new().network();
    Network {
        territory: other.territory,
        climate: other.climate,
        propagation: other.propagation,
        place_defaults: other.place_defaults,
        ..network.clone()
    }
}

/// A change of something that exists, picked by numbers.
fn pick(network: &Network, (kind, which, value): (u8, usize, f64)) -> Option<Edit> {
    let at = |length: usize| (length > 0).then(|| which % length.max(1));
    let place = LonLat::new(-28.0 - value / 1000.0, 43.9).ok()?;
    let sector = || network.sectors.get(at(network.sectors.len())?);
    let mast = || network.masts.get(at(network.masts.len())?);
    let premises = || network.premises.get(at(network.premises.len())?);
    // No lower than any sector: a sector above its mast is an error.
    let height_agl_m = (value + 31.0).round();
    Some(match kind {
        0 => {
            let mut new = sector()?.clone();
            new.id = SectorId::new(format!("s{}", network.sectors.len() + which));
            Edit::AddSector {
                index: which % (network.sectors.len() + 1),
                sector: Box::new(new),
            }
        }
        1 => Edit::RemoveSector {
            sector: sector()?.id.clone(),
        },
        2 => {
            let mut new = mast()?.clone();
            new.id = MastId::new(format!("m{}", network.masts.len() + which));
            Edit::AddMast {
                index: which % (network.masts.len() + 1),
                mast: new,
            }
        }
        3 => Edit::RemoveMast {
            mast: mast()?.id.clone(),
        },
        4 => Edit::MoveMast {
            mast: mast()?.id.clone(),
            position: place,
        },
        5 => {
            let mast = mast()?;
            let at_top = network.sectors.iter().filter(|s| {
                s.mast == mast.id && s.height_agl_m == mast.height_agl_m && which % 2 == 0
            });
            Edit::MastHeight {
                mast: mast.id.clone(),
                height_agl_m,
                top_sectors: at_top.map(|s| s.id.clone()).collect(),
            }
        }
        6 => {
            let mut new = premises()?.clone();
            new.id = PremisesId::new(format!("q{}", network.premises.len() + which));
            new.name = "a \"new\" one; here, now".to_owned();
            new.priority = 3;
            Edit::AddPremises {
                index: which % (network.premises.len() + 1),
                premises: Box::new(new),
            }
        }
        7 => Edit::RemovePremises {
            premises: premises()?.id.clone(),
        },
        8 => Edit::MovePremises {
            premises: premises()?.id.clone(),
            position: place,
        },
        9 => Edit::PremisesSector {
            premises: premises()?.id.clone(),
            sector: (value > 5.0).then(sector).flatten().map(|s| s.id.clone()),
        },
        _ => Edit::PremisesTerminal {
            premises: premises()?.id.clone(),
            terminal: Arc::clone(&premises()?.terminal),
        },
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, rng_seed: prop::test_runner::RngSeed::Fixed(11), ..ProptestConfig::default() })]

    /// Written and read is applied; the inverse brings the old network back; a
    /// comment inside what stays, and a column that nobody reads, survive.
    #[test]
    fn exact_what_comes_and_goes_in_the_text_does_in_the_network(
        picks in prop::collection::vec((0u8..11, 0usize..9, 0.0..20.0f64), 1..10),
        is_crlf in any::<bool>(),
    ) {
        let mut texts = Texts::new();
        if is_crlf {
            texts.design = texts.design.replace('\n', "\r\n");
            texts.premises = texts.premises.replace('\n', "\r\n");
        }
        let before = texts.network();
        let mut expected = before.clone();
        let mut edits = Vec::new();
        let mut inverse = Vec::new();
        for one in picks {
            let Some(edit) = pick(&expected, one) else { continue };
            match edit.apply(&mut expected) {
                Ok(undo) => {
                    inverse.push(undo);
                    edits.push(edit);
                }
                Err(EditError::MastInUse { .. } | EditError::SectorInUse { .. } | EditError::Taken { .. }) => {}
                Err(other) => prop_assert!(false, "{other}"),
            }
        }
        let written = texts.with(&edits);
        prop_assert_eq!(comparable(&written.network()), comparable(&expected));
        prop_assert!(written.design.contains("# What may be radiated"));
        for p in expected.premises.iter().filter(|p| p.id.as_str().starts_with('p')) {
            let remark = p.id.as_str().replace('p', "keep ");
            prop_assert!(written.premises.contains(&remark));
        }
        inverse.reverse();
        let back = written.with(&inverse);
        prop_assert_eq!(comparable(&back.network()), comparable(&before));
    }
}

#[test]
fn exact_a_removed_sector_takes_its_own_lines_only() {
    let texts = Texts::new();
    let edit = Edit::RemoveSector {
        sector: SectorId::new("low"),
    };
    let after = texts.with(&[edit]).design;
    assert!(!after.contains("below the top"));
    assert!(after.contains("# Over the lake.") && after.contains("# The second site."));
    let removed = texts.design.lines().count() - after.lines().count();
    assert_eq!(removed, 7);
}

#[test]
fn exact_a_list_is_applied_whole_or_not_at_all() {
    let mut network = Texts::new().network();
    let before = network.clone();
    let edits = [
        Edit::MoveMast {
            mast: MastId::new("silo"),
            position: LonLat::new(-28.01, 43.91).expect("a place"),
        },
        Edit::RemoveMast {
            mast: MastId::new("hill"),
        },
    ];
    let refused = Edit::apply_all(&edits, &mut network);
    assert!(matches!(refused, Err(EditError::MastInUse { .. })));
    assert_eq!(network, before);
    let undo = Edit::apply_all(&edits[..1], &mut network).expect("it can be moved");
    assert_ne!(network, before);
    Edit::apply_all(&undo, &mut network).expect("it can be moved back");
    assert_eq!(network, before);
}
