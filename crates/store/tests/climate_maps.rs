//! Digital maps of climate, read from the files that a design names.
#![expect(clippy::disallowed_methods, reason = "the test writes folders to read")]

use std::fmt::Write as _;
use std::path::Path;

use model::{Finding, Network};
use pipeline::design::{self, minimal_design};
use store::project;

/// A project whose design names a map, and the map's text where there is one.
fn read(file: &str, map: Option<&[u8]>) -> (Network, Vec<Finding>) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in minimal_design("orchard") {
        let lines = format!(
            "[territory]\nsouth_west = [9.3, 47.0]\nnorth_east = [9.6, 47.3]\n[[climate.map]]\nquantity = \"refractivity-lapse\"\nfile = \"{file}\"\n"
        );
        let text = text.replace("[defaults]", &format!("{lines}\n[defaults]"));
        std::fs::write(folder.path().join(name), text).expect("it can be written");
    }
    if let Some(bytes) = map {
        let path = folder.path().join(file);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(path, bytes).expect("it can be written");
    }
    let (network, findings) =
        design::read(&project::open(folder.path()).expect("it opens").sources);
    (network.expect("a network"), findings)
}

/// Rows from the north, columns from Greenwich: the latitude over ten on top of 40.
fn map(between: &str, end: &str) -> String {
    let mut text = String::new();
    for row in 0..121 {
        let value = 40.0 + (90.0 - 1.5 * f64::from(row)) / 10.0;
        let row = vec![format!("{value:.7e}"); 241].join(between);
        let _ = write!(text, "  {row}{end}");
    }
    text
}

fn told(findings: &[Finding]) -> Option<&Finding> {
    findings.iter().find(|f| f.code == "climate-map")
}

#[test]
fn exact_blanks_commas_and_every_line_end_are_read() {
    for (between, end) in [("   ", "\n"), (",", "\r\n"), (", ", " \n\n"), ("\t", "\n")] {
        let (network, findings) = read("itu/DN50.TXT", Some(map(between, end).as_bytes()));
        assert_eq!(told(&findings), None, "{between:?} {end:?}");
        let lapse = network.propagation.refractivity_lapse_n_per_km;
        assert!((lapse - 44.715).abs() < 1e-9, "{lapse}");
    }
}

#[test]
fn exact_a_map_may_lie_outside_the_folder() {
    let outside = tempfile::tempdir().expect("a temporary folder");
    let path = outside.path().join("DN50.TXT");
    std::fs::write(&path, map(" ", "\n")).expect("it can be written");
    let (network, findings) = read(&path.display().to_string(), None);
    assert_eq!(told(&findings), None);
    assert!((network.propagation.refractivity_lapse_n_per_km - 44.715).abs() < 1e-9);
    assert!(!Path::new("DN50.TXT").exists());
}

#[test]
fn exact_junk_is_told_by_line_and_the_default_is_taken() {
    let sound = map(" ", "\n");
    let lines: Vec<&str> = sound.lines().collect();
    let with = |line: usize, text: &str| {
        let mut lines = lines.clone();
        lines[line - 1] = text;
        lines.join("\n").into_bytes()
    };
    let fewer = lines[..118].join("\n").into_bytes();
    let cases: [(Vec<u8>, usize, &str); 8] = [
        (with(7, "1 2 3"), 7, "`3` numbers where the first has `241`"),
        (with(9, "12 north 3"), 9, "`north` is not a number"),
        (with(9, "nan"), 9, "`nan` is not a number"),
        (with(121, "\u{0}\u{1b}[2J"), 121, "is not a number"),
        (vec![0xff, 0xfe, 0x00, 0x31, b'\n'], 1, "is not a number"),
        (Vec::new(), 0, "no map"),
        (b"5 5 5\n".to_vec(), 0, "`1` rows of `3`"),
        (fewer, 0, "118 rows of 241"),
    ];
    for (bytes, line, part) in cases {
        let (network, findings) = read("itu/DN50.TXT", Some(&bytes));
        let one = told(&findings).unwrap_or_else(|| panic!("{part}: {findings:#?}"));
        assert!(one.message.contains(part), "{part}: {one:?}");
        let place = one.place.as_ref().expect("a place");
        // Missing rows are seen where the design lays the map over the Earth.
        if !part.starts_with("118") {
            assert_eq!((&*place.file, place.line), ("itu/DN50.TXT", line), "{part}");
        }
        assert!(!one.hint.is_empty());
        assert_eq!(network.propagation.refractivity_lapse_n_per_km, 45.0);
        assert!(findings.iter().all(|f| f.code != "no-such-file"));
    }
}
