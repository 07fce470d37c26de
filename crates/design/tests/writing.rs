//! Edits go back into the text, and nothing else changes.

use design::write::{WriteError, apply_edits, apply_premises_edits};
use design::{ProjectSources, SourceText, minimal_design, premises_from_csv, read};
use model::edit::SectorField;
use model::{Edit, PlanId, PremisesId, SectorId};
use proptest::prelude::*;

fn text_of(file: &str) -> String {
    let files = minimal_design("test");
    files
        .into_iter()
        .find(|(name, _)| name == file)
        .expect("it is written")
        .1
}

fn turn(sector: &str, value: f64) -> Edit {
    set(sector, SectorField::AzimuthDeg, value)
}

fn set(sector: &str, field: SectorField, value: f64) -> Edit {
    Edit::Sector {
        sector: SectorId::new(sector),
        field,
        value,
    }
}

fn changed_lines<'t>(before: &'t str, after: &'t str) -> Vec<(&'t str, &'t str)> {
    assert_eq!(before.matches('\n').count(), after.matches('\n').count());
    before
        .split('\n')
        .zip(after.split('\n'))
        .filter(|(a, b)| a != b)
        .collect()
}

#[test]
fn exact_a_changed_azimuth_changes_one_line() {
    let text = text_of("mastwright.toml")
        .replace("azimuth_deg = 180", "azimuth_deg =  180.0  # over the lake");
    for text in [
        text.clone(),
        text.replace('\n', "\r\n"),
        format!("\u{feff}{text}"),
    ] {
        let after = apply_edits(&text, &[turn("hill-south", 175.0)]).expect("it can be written");
        let changed = changed_lines(&text, &after);
        let trimmed: Vec<_> = changed
            .iter()
            .map(|(a, b)| (a.trim_end(), b.trim_end()))
            .collect();
        assert_eq!(
            trimmed,
            [(
                "azimuth_deg =  180.0  # over the lake",
                "azimuth_deg =  175.0  # over the lake"
            )]
        );
    }
}

#[test]
fn exact_an_inherited_key_is_added_below_the_id() {
    let text = "[[sector]]\r\n  id = \"a\" # first\r\n  mast = \"m\"\r\n";
    let edits = [
        set("a", SectorField::HeightAglM, 12.5),
        set("a", SectorField::ElectricalDowntiltDeg, 2.0),
    ];
    assert_eq!(
        apply_edits(text, &edits).expect("it can be written"),
        "[[sector]]\r\n  id = \"a\" # first\r\n  electrical_downtilt_deg = 2\r\n  height_agl_m = 12.5\r\n  mast = \"m\"\r\n"
    );
    let inline = "sector = [{ id = \"a\", mast = \"m\" }]";
    assert_eq!(
        apply_edits(inline, &[turn("a", -0.0)]).expect("it can be written"),
        "sector = [{ id = \"a\", azimuth_deg = 0, mast = \"m\" }]"
    );
    let last = "[[sector]]\nid = 'a'";
    assert_eq!(
        apply_edits(last, &[turn("a", 7.0)]).expect("it can be written"),
        "[[sector]]\nid = 'a'\nazimuth_deg = 7"
    );
}

#[test]
fn exact_what_cannot_be_written_is_an_error() {
    let text = text_of("mastwright.toml");
    assert_eq!(
        apply_edits(&text, &[turn("nobody", 1.0)]),
        Err(WriteError::UnknownSector(SectorId::new("nobody")))
    );
    assert_eq!(
        apply_edits(&text, &[turn("hill-north", f64::NAN)]),
        Err(WriteError::NotFinite { key: "azimuth_deg" })
    );
    assert!(matches!(
        apply_edits("a = 1\nb = \n", &[turn("x", 1.0)]),
        Err(WriteError::Syntax { line: 2, .. })
    ));
}

#[test]
fn exact_premises_edits_change_their_own_line() {
    let text = "id;lon;lat;plan;mount_height_agl_m\r\n\r\np1;9.1;47.0;home;\r\np2;9.2;47.0;\"a;b\"\r\np3;9.3;47.0;home;8.5\r\n";
    let height = |id: &str, mount_height_agl_m| Edit::PremisesMountHeight {
        premises: PremisesId::new(id),
        mount_height_agl_m,
    };
    let plan = Edit::PremisesPlan {
        premises: PremisesId::new("p1"),
        plan: PlanId::new("office"),
    };
    let edits = [
        height("p1", 9.0),
        height("p2", 4.0),
        height("p3", 10.0),
        plan,
        turn("x", 1.0),
    ];
    assert_eq!(
        apply_premises_edits(text, &edits).expect("it can be written"),
        "id;lon;lat;plan;mount_height_agl_m\r\n\r\np1;9.1;47.0;office;9\r\np2;9.2;47.0;\"a;b\";4\r\np3;9.3;47.0;home;10.0\r\n"
    );
    assert_eq!(
        apply_premises_edits("id,lon,lat\np1,1,2\np2,1,2\n", &[height("p1", 9.0)]),
        Ok("id,lon,lat,mount_height_agl_m\np1,1,2,9\np2,1,2\n".to_owned())
    );
    assert_eq!(
        apply_premises_edits("lon,lat\n1,2\n", &[height("p1", 9.0)]),
        Err(WriteError::UnknownPremises(PremisesId::new("p1")))
    );
    assert_eq!(
        apply_premises_edits(text, &[height("p9", 9.0)]),
        Err(WriteError::UnknownPremises(PremisesId::new("p9")))
    );
}

fn comment() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "[ -~äß]{0,20}".prop_map(|text| format!(" # {text}"))
    ]
}

/// A random design: sectors with random layout, and premises.
fn design() -> impl Strategy<Value = (String, usize)> {
    let sector = (comment(), comment(), 0.0..360.0f64, " {0,3}", any::<bool>());
    (prop::collection::vec(sector, 1..6), any::<bool>()).prop_map(|(sectors, is_crlf)| {
        let mut text = text_of("mastwright.toml");
        let count = sectors.len();
        for (i, (first, second, azimuth, pad, has_tilt)) in sectors.into_iter().enumerate() {
            text.push_str(&format!(
                "\n{pad}[[sector]]{first}\nid = \"r{i}\"{second}\nmast = \"hill\"\n"
            ));
            text.push_str(&format!(
                "{pad}azimuth_deg{pad}={pad}{azimuth:.3}{first}\nchannel_mhz = 3630\n"
            ));
            if has_tilt {
                text.push_str("electrical_downtilt_deg = 2 # from the data sheet\n");
            }
        }
        let text = if is_crlf {
            text.replace('\n', "\r\n")
        } else {
            text
        };
        (text, count)
    })
}

fn network(text: &str) -> model::Network {
    let premises = SourceText::new("premises.csv", text_of("premises.csv"));
    let sources = ProjectSources {
        design: Some(SourceText::new("mastwright.toml", text)),
        plans: Some(SourceText::new("plans.toml", text_of("plans.toml"))),
        premises: premises_from_csv(&premises).0,
        ..ProjectSources::default()
    };
    let (network, findings) = read(&sources);
    assert!(
        findings.iter().all(|f| f.severity < model::Severity::Error),
        "{findings:#?}"
    );
    network.expect("a network")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: prop::test_runner::RngSeed::Fixed(7), ..ProptestConfig::default() })]

    /// Writing an edit into the text and reading it is the same as applying the edit to the network;
    /// the inverse edit brings the old network back.
    #[test]
    fn exact_writing_then_reading_is_applying(
        (text, count) in design(),
        picks in prop::collection::vec((0usize..6, 0usize..5, 0.0..30.0f64), 1..8),
    ) {
        let mut expected = network(&text);
        let fields = [
            SectorField::AzimuthDeg,
            SectorField::MechanicalDowntiltDeg,
            SectorField::ElectricalDowntiltDeg,
            SectorField::HeightAglM,
            SectorField::TxPowerPerChainDbm,
        ];
        let edits: Vec<Edit> = picks
            .iter()
            .map(|(sector, field, value)| {
                // In range for every field: heights from 1 m, powers up to 27 dBm.
                let value = (value.clamp(1.0, 27.0) * 100.0).round() / 100.0;
                set(&format!("r{}", sector % count), fields[*field], value)
            })
            .collect();
        let before = expected.clone();
        let mut inverse = Vec::new();
        for edit in &edits {
            inverse.push(edit.apply(&mut expected).expect("the sector exists"));
        }
        let written = apply_edits(&text, &edits).expect("it can be written");
        prop_assert_eq!(network(&written), expected);
        inverse.reverse();
        let back = apply_edits(&written, &inverse).expect("it can be written back");
        prop_assert_eq!(network(&back), before);
    }

    /// An existing number changes one line and leaves every other byte alone.
    #[test]
    fn exact_an_azimuth_changes_one_line_of_any_design((text, count) in design(), azimuth in 0.0..360.0f64) {
        let edit = turn(&format!("r{}", count - 1), azimuth);
        let written = apply_edits(&text, &[edit]).expect("it can be written");
        prop_assert!(changed_lines(&text, &written).len() <= 1);
    }

    /// No text makes reading or writing panic.
    #[test]
    fn exact_junk_is_no_panic(text in "\\PC{0,200}", lines in prop::collection::vec("[\\[\\]{}=\",.#a-z0-9_\n\r -]{0,40}", 0..12)) {
        for text in [text, lines.join("\n")] {
            let _ = apply_edits(&text, &[turn("a", 1.0)]);
            let edit = Edit::PremisesMountHeight { premises: PremisesId::new("a"), mount_height_agl_m: 2.0 };
            let _ = apply_premises_edits(&text, &[edit]);
            let source = SourceText::new("x", text);
            let (premises, findings) = premises_from_csv(&source);
            let sources = ProjectSources {
                design: Some(source.clone()),
                plans: Some(source.clone()),
                equipment: vec![source],
                premises,
                findings,
                ..ProjectSources::default()
            };
            let (_, findings) = read(&sources);
            prop_assert!(!findings.is_empty());
        }
    }
}
