//! Pattern files: the three layouts, what readers put up with, what they refuse.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use store::pattern_file::{
    CutPlane, ErrorKind, LevelUnit, PatternError, PatternFile, Warning, WarningKind, parse,
};

const SECTOR: &str = include_str!("reference/pattern_files/sector_tagged.txt");
const DISH: &str = include_str!("reference/pattern_files/dish_1989.txt");
const PANEL: &str = include_str!("reference/pattern_files/panel.csv");

/// Decimal logarithm conversion as the caller hands it in.
fn amplitude_to_db(ratio: f64) -> f64 {
    8.685_889_638_065_037 * ratio.ln()
}

fn read(text: &str) -> (PatternFile, Vec<WarningKind>) {
    let (file, warnings) = parse(text).expect("readable");
    (file, warnings.into_iter().map(|w| w.kind).collect())
}

fn refused(text: &str) -> PatternError {
    parse(text).expect_err("unreadable")
}

#[test]
fn exact_tagged_sample_reads_without_a_word() {
    let (file, warnings) = read(SECTOR);
    assert_eq!(warnings, []);
    assert_eq!(file.maker.as_deref(), Some("Example Antennas"));
    assert_eq!(file.model.as_deref(), Some("EX-90-17"));
    assert_eq!(
        (file.gain_dbi, file.low_mhz, file.high_mhz),
        (Some(16.8), Some(3300.0), Some(3800.0))
    );
    assert_eq!(
        (file.beamwidth_h_deg, file.beamwidth_v_deg),
        (Some(90.0), Some(7.0))
    );
    assert_eq!(
        (file.electrical_downtilt_deg, file.front_to_back_db),
        (Some(5.0), Some(30.0))
    );
    assert_eq!(file.envelope, Some(false));
    assert_eq!(file.cuts.len(), 3);
    let (horizontal, vertical) = file.plane_cuts(3600.0).expect("both planes");
    assert_eq!((horizontal.points.len(), vertical.points.len()), (20, 14));
    assert_eq!(vertical.peak().map(|p| p.angle_deg), Some(-5.0));
    assert_eq!(horizontal.losses_db(amplitude_to_db)[7], (-45.0, 3.0));
    let cross = &file.cuts[2];
    assert!(!cross.co_polar && cross.polarization == "SLR/SLL" && cross.f_mhz == Some(3550.0));
}

#[test]
fn exact_older_sample_reads_without_a_word() {
    let (file, warnings) = read(DISH);
    assert_eq!(warnings, []);
    assert_eq!(
        (file.gain_dbi, file.low_mhz, file.high_mhz),
        (Some(29.0), Some(5725.0), Some(5875.0))
    );
    assert_eq!(file.cuts.len(), 3);
    let planes: Vec<_> = file
        .cuts
        .iter()
        .map(|c| (c.plane, c.co_polar, c.points.len()))
        .collect();
    assert_eq!(
        planes,
        [
            (CutPlane::Horizontal, true, 14),
            (CutPlane::Horizontal, false, 4),
            (CutPlane::Vertical, true, 9)
        ]
    );
}

#[test]
fn exact_table_sample_reads_without_a_word() {
    let (file, warnings) = read(PANEL);
    assert_eq!(warnings, []);
    let (horizontal, vertical) = file.plane_cuts(5800.0).expect("both planes");
    assert_eq!((horizontal.points.len(), vertical.points.len()), (12, 12));
    assert_eq!(file.gain_dbi, None);
}

#[test]
fn exact_habits_of_real_files_are_put_up_with() {
    let loose = SECTOR
        .replace("\r\n", "\n")
        .replace("ATVSWR:,1.5", "ATVSWR:1.5\n\nNEWTAG:,7")
        .replace("150,-28.5,\nPATCUT:", "150,-28.5\n180, -29.5\nPATCUT:")
        .replace("PATCUT:,EL", "patcut:, el ! elevation")
        .replace("NUPOIN:,20", "NUPOIN:,361")
        .replace("FSTLST:,-180,150\n", "")
        .replace("ENDFIL:,EOF\n", "");
    let (file, warnings) = read(&format!("\u{feff}{loose}"));
    assert_eq!(
        warnings,
        [
            WarningKind::MissingComma,
            WarningKind::UnknownTag,
            WarningKind::PointCount {
                stated: 361,
                found: 21
            },
            WarningKind::MissingEnd,
            WarningKind::RepeatedDirection { angle_deg: 180.0 },
        ]
    );
    // The two ends are one direction: −30.0 and −29.5, the stronger counts.
    assert_eq!(file.cuts[0].points[0].level, -29.5);
    assert_eq!(file.cuts[0].points.len(), 20);
    assert_eq!(file.cuts[1].points, read(SECTOR).0.cuts[1].points);
}

#[test]
fn exact_units_are_brought_to_the_peak() {
    let positive = SECTOR
        .replace(",-", ",")
        .replace("FSTLST:,180", "FSTLST:,-180");
    let (file, warnings) = read(&positive);
    assert_eq!(warnings, [WarningKind::PositiveLosses]);
    assert_eq!(file.cuts[0].points, read(SECTOR).0.cuts[0].points);
    let dipole = SECTOR.replace("GUNITS:,DBI/DBR", "GUNITS:,DBD/DBR");
    assert!((read(&dipole).0.gain_dbi.expect("stated") - 18.95).abs() < 1e-9);
    let table = "REVNUM:,X\nGUNITS:,<unit>\nMDGAIN:,14\nPATCUT:,H\n0,PEAK\n90,SIDE\n-90,SIDE\nPATCUT:,V\n0,PEAK\nENDFIL:,EOF\n";
    let with = |unit: &str, peak: &str, side: &str| {
        let text = table
            .replace("<unit>", unit)
            .replace("PEAK", peak)
            .replace("SIDE", side);
        read(&text)
    };
    let (file, warnings) = with("DBI/DBI", "14", "-6");
    // The points run 0, 90, −90.
    assert_eq!(warnings, [WarningKind::AnglesOutOfOrder]);
    let losses = file.cuts[0].losses_db(amplitude_to_db);
    assert_eq!(losses, [(-90.0, 20.0), (0.0, 0.0), (90.0, 20.0)]);
    let (file, _) = with("DBI/DBD", "11.85", "-8.15");
    assert!((file.cuts[0].losses_db(amplitude_to_db)[0].1 - 20.0).abs() < 1e-9);
    let (file, _) = with("DBI/LIN", "1", "0.1");
    assert_eq!(file.cuts[0].unit, LevelUnit::VoltageRatio);
    assert!((file.cuts[0].losses_db(amplitude_to_db)[0].1 - 20.0).abs() < 1e-9);
    let (file, _) = with("DBI/LIN", "1", "0");
    assert_eq!(file.cuts[0].losses_db(amplitude_to_db)[0].1, 200.0);
}

#[test]
fn exact_upside_down_vertical_cut_is_told_and_turned() {
    let tilted_up = SECTOR.replace("ELTILT:,5", "ELTILT:,-5");
    let (mut file, warnings) = read(&tilted_up);
    assert_eq!(
        warnings,
        [WarningKind::VerticalSign {
            peak_deg: -5.0,
            downtilt_deg: -5.0
        }]
    );
    file.flip_vertical();
    let vertical = file
        .co_polar_cut(CutPlane::Vertical, 3550.0)
        .expect("there");
    assert_eq!(vertical.peak().map(|p| p.angle_deg), Some(5.0));
    assert!(
        vertical
            .points
            .windows(2)
            .all(|pair| pair[0].angle_deg < pair[1].angle_deg)
    );
}

#[test]
fn exact_one_cut_serves_a_dish_only() {
    let (mut file, _) = read(DISH);
    file.cuts.truncate(2);
    assert_eq!(
        file.plane_cuts(5800.0).map_err(|missing| missing.0),
        Err(CutPlane::Vertical)
    );
    let (horizontal, vertical) = file.dish_cuts(5800.0).expect("one cut");
    assert_eq!(horizontal, vertical);
    assert!(
        file.plane_cuts(5800.0)
            .expect_err("missing")
            .to_string()
            .contains("hint:")
    );
}

#[test]
fn exact_nearest_frequency_is_taken() {
    let block = "PATCUT:,H\nPOLARI:,V/V\n0,0\n90,-LEVEL\n";
    let mut text = String::from("REVNUM:,X\nGUNITS:,DBI/DBR\nMDGAIN:,10\n");
    for (f_mhz, level) in [(3300, 11), (3600, 12), (3800, 13)] {
        text += &format!(
            "PATFRE:,{f_mhz}\n{}",
            block.replace("LEVEL", &level.to_string())
        );
    }
    let (file, _) = read(&(text + "ENDFIL:,EOF\n"));
    for (f_mhz, level) in [(1000.0, -11.0), (3550.0, -12.0), (3790.0, -13.0)] {
        let cut = file
            .co_polar_cut(CutPlane::Horizontal, f_mhz)
            .expect("there");
        assert_eq!(cut.points[1].level, level);
    }
}

fn refused_at(text: &str, (line, shown): (usize, &str), kind: ErrorKind) {
    let error = refused(text);
    assert_eq!(
        (error.line, error.text.as_str(), error.kind),
        (line, shown, kind)
    );
    assert!(error.to_string().contains("\nhint: "), "{error}");
}

#[test]
fn exact_errors_name_line_text_and_cure() {
    use ErrorKind as Kind;
    for (text, line, shown, kind) in [
        (
            SECTOR.replace("-45,-3.0", "-45,-3.o"),
            33,
            "-3.o",
            Kind::NotANumber,
        ),
        (
            SECTOR.replace("-45,-3.0", "-45"),
            33,
            "-45,",
            Kind::NotANumber,
        ),
        (
            SECTOR.replace("-45,-3.0", "-450,-3.0"),
            33,
            "-450",
            Kind::OutOfRange,
        ),
        (
            SECTOR.replace("DBI/DBR", "DBI"),
            10,
            "DBI",
            Kind::UnknownUnit,
        ),
        (
            SECTOR.replace("PATCUT:,EL", "PATCUT:,E"),
            46,
            "E",
            Kind::UnknownPlane,
        ),
        (
            SECTOR.replace("PATCUT:,AZ\r\n", ""),
            25,
            "-180,-30.0,",
            Kind::PointOutsideCut,
        ),
        (
            SECTOR
                .replace("DBI/DBR", "DBI/DBI")
                .replace("MDGAIN", "LWGAIN"),
            22,
            "",
            Kind::GainNeeded,
        ),
        (
            SECTOR.replace("DBR", "LIN"),
            22,
            "-180,-30",
            Kind::NegativeRatio,
        ),
        ("REVNUM:,X\nENDFIL:,EOF".into(), 0, "", Kind::NoCuts),
    ] {
        refused_at(&text, (line, shown), kind);
    }
    let shown = refused(&SECTOR.replace("-45,-3.0", "-45,-3.o")).to_string();
    assert!(
        shown.starts_with("line 33: not a number: `-3.o`\nhint: "),
        "{shown}"
    );
}

#[test]
fn exact_errors_of_the_other_layouts_name_line_text_and_cure() {
    use ErrorKind as Kind;
    for (text, line, shown, kind) in [
        (
            PANEL.replace("angle_deg", "angle"),
            2,
            "angle_deg",
            Kind::MissingColumn,
        ),
        (PANEL.replace("H,0,0", "Q,0,0"), 9, "Q", Kind::UnknownPlane),
        (PANEL.replace("H,0,0", "H,0"), 9, "H,0", Kind::BadRow),
        (
            PANEL.replace("H,0,0", "H,0,nan"),
            9,
            "nan",
            Kind::NotANumber,
        ),
        (DISH.replace("29.0", "loud"), 9, "loud", Kind::ShortHeader),
        (
            DISH.replace("HH      14", "QQ      14"),
            11,
            "QQ      14",
            Kind::PointOutsideCut,
        ),
        (String::new(), 1, "", Kind::ShortHeader),
        ("hello".into(), 1, "hello", Kind::ShortHeader),
    ] {
        refused_at(&text, (line, shown), kind);
    }
}

fn finite_and_ordered(file: &PatternFile, warnings: &[Warning]) -> bool {
    warnings
        .iter()
        .all(|warning| !warning.to_string().is_empty())
        && file.cuts.iter().all(|cut| {
            !cut.points.is_empty()
                && cut
                    .points
                    .iter()
                    .all(|p| p.angle_deg.is_finite() && p.level.is_finite())
                && cut
                    .points
                    .windows(2)
                    .all(|pair| pair[0].angle_deg < pair[1].angle_deg)
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, rng_seed: RngSeed::Fixed(1699), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_junk_never_panics(text in "\\PC{0,200}|([A-Z]{6}:,?[-0-9.A-Z/,]{0,12}\n){0,30}|(-?[0-9]{1,3}[ ,]-?[0-9.]{1,5}\n){0,20}") {
        if let Ok((file, warnings)) = parse(&text) {
            prop_assert!(finite_and_ordered(&file, &warnings));
        }
    }

    #[test]
    fn exact_damaged_files_never_panic(
        which in 0..3_usize,
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<char>(), 0..3_u8), 1..12),
    ) {
        let mut letters: Vec<char> = [SECTOR, DISH, PANEL][which].chars().collect();
        for (place, letter, how) in damage {
            let at = place.index(letters.len());
            match how {
                0 => letters[at] = letter,
                1 => { letters.remove(at); }
                _ => letters.insert(at, letter),
            }
        }
        let text: String = letters.into_iter().collect();
        match parse(&text) {
            Ok((file, warnings)) => prop_assert!(finite_and_ordered(&file, &warnings)),
            Err(error) => prop_assert!(error.to_string().contains("hint: ")),
        }
    }

    #[test]
    fn exact_cut_short_files_never_panic(which in 0..3_usize, cut in any::<prop::sample::Index>()) {
        let text = [SECTOR, DISH, PANEL][which];
        let end = cut.index(text.len());
        if let Ok((file, warnings)) = parse(&text[..end]) {
            prop_assert!(finite_and_ordered(&file, &warnings));
            // A tagged file without its end record is told as such.
            prop_assert!(which != 0 || warnings.iter().any(|w| w.kind == WarningKind::MissingEnd) || text[..end].contains("ENDFIL:"));
        }
    }
}
