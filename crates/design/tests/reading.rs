//! Reading whole projects from text.

use design::{ProjectSources, SourceText, minimal_design, premises_from_csv, read};
use model::{Finding, Network, Severity};

/// Sources of a design, with the minimal project's plans and given premises.
fn sources(design: &str, premises: &str) -> ProjectSources {
    let minimal = minimal_design("test");
    let plans = minimal.iter().find(|(file, _)| file == "plans.toml");
    let (premises, findings) = premises_from_csv(&SourceText::new("premises.csv", premises));
    ProjectSources {
        design: Some(SourceText::new("mastwright.toml", design)),
        plans: plans.map(|(file, text)| SourceText::new(file.as_str(), text.as_str())),
        premises,
        findings,
        ..ProjectSources::default()
    }
}

fn minimal(file: &str) -> String {
    let files = minimal_design("test");
    files
        .into_iter()
        .find(|(name, _)| name == file)
        .expect("the minimal design has it")
        .1
}

fn read_minimal_with(from: &str, to: &str) -> (Option<Network>, Vec<Finding>) {
    let text = minimal("mastwright.toml");
    assert!(text.contains(from), "`{from}` stands in the minimal design");
    read(&sources(
        &text.replacen(from, to, 1),
        &minimal("premises.csv"),
    ))
}

fn find<'f>(findings: &'f [Finding], code: &str) -> &'f Finding {
    findings
        .iter()
        .find(|finding| finding.code == code)
        .unwrap_or_else(|| panic!("no `{code}` among {findings:#?}"))
}

#[test]
fn exact_minimal_design_reads_clean() {
    let (network, findings) = read(&sources(
        &minimal("mastwright.toml"),
        &minimal("premises.csv"),
    ));
    let network = network.expect("the minimal design makes a network");
    assert_eq!(network.name, "test");
    assert_eq!(
        (
            network.masts.len(),
            network.sectors.len(),
            network.premises.len()
        ),
        (1, 2, 2)
    );
    assert_eq!(network.premises[0].mount_height_agl_m, 6.0);
    assert_eq!(network.premises[1].mount_height_agl_m, 8.0);
    assert_eq!(network.sectors[0].height_agl_m, 30.0);
    assert_eq!(network.sectors[0].tx_power_per_chain_dbm, 27.0);
    assert_eq!(network.sectors[0].channel.width_mhz, 10.0);
    assert_eq!(network.territory.working_plane_epsg, 32626);
    // Only what the design invites to fill in is told: terrain and climate.
    let codes: Vec<_> = findings.iter().map(|f| (f.severity, f.code)).collect();
    let invited = [
        (Severity::Warning, "no-terrain"),
        (Severity::Note, "climate-assumed"),
    ];
    assert_eq!(codes, invited);
}

#[test]
fn exact_misspelt_key_names_file_line_text_and_the_nearest_key() {
    let (network, findings) = read_minimal_with("azimuth_deg = 0", "azimut_deg = 0");
    let finding = find(&findings, "unknown-key");
    let place = finding.place.as_ref().expect("it stands in the text");
    let line = minimal("mastwright.toml")
        .lines()
        .position(|l| l == "azimuth_deg = 0");
    assert_eq!(&*place.file, "mastwright.toml");
    assert_eq!(Some(place.line - 1), line);
    assert_eq!((place.column, place.text.as_str()), (1, "azimut_deg"));
    assert_eq!(finding.message, "unknown key `azimut_deg` in `sector`");
    assert_eq!(finding.hint, "did you mean `azimuth_deg`?");
    // The sector is left out, the other stays.
    assert_eq!(network.expect("a network").sectors.len(), 1);
}

#[test]
fn exact_each_mistake_has_its_finding() {
    let cases = [
        (
            "rule_set = \"demo-lightly",
            "rule_set = \"demo-lightlyx",
            "unknown-reference",
        ),
        (
            "antenna = \"sector-90-3500\"",
            "antenna = \"sector-90-350\"",
            "unknown-reference",
        ),
        ("mast = \"hill\"", "mast = \"hil\"", "unknown-reference"),
        ("azimuth_deg = 0", "azimuth_deg = \"0\"", "wrong-type"),
        ("azimuth_deg = 0", "azimuth_deg = 361", "out-of-range"),
        ("azimuth_deg = 0", "azimuth_deg = nan", "not-finite"),
        ("azimuth_deg = 0", "azimuth_deg = inf", "not-finite"),
        ("azimuth_deg = 0", "azimuth_deg = 4,5", "syntax"),
        ("azimuth_deg = 0\n", "", "missing-key"),
        ("lat = 43.95", "lat = 143.95", "out-of-range"),
        ("height_agl_m = 30", "height_agl_m = -3", "out-of-range"),
        (
            "channel_mhz = 3620",
            "channel_mhz = 3540",
            "channel-outside-rules",
        ),
        (
            "channel_mhz = 3620",
            "channel_mhz = 3620\nchannel_width_mhz = 20",
            "channel-width",
        ),
        (
            "azimuth_deg = 0",
            "azimuth_deg = 0\nheight_agl_m = 31",
            "above-mast",
        ),
        (
            "azimuth_deg = 0",
            "azimuth_deg = 0\nsplit = [40, 18]",
            "frame-split",
        ),
        (
            "azimuth_deg = 0",
            "azimuth_deg = 0\nsplit = [28, 18]",
            "frames-differ",
        ),
        (
            "azimuth_deg = 0",
            "azimuth_deg = 0\ntx_power_per_chain_dbm = 40",
            "out-of-range",
        ),
        ("id = \"hill-south\"", "id = \"hill-north\"", "duplicate-id"),
        ("id = \"hill-south\"", "id = \"\"", "bad-id"),
        (
            "azimuth_deg = 0",
            "azimuth_deg = 0\nazimuth_deg = 1",
            "syntax",
        ),
        (
            "# terrain = [\"terrain/*\"]",
            "terrain = \"terrain/*\"",
            "wrong-type",
        ),
        (
            "# terrain = [\"terrain/*\"]",
            "terrain = [\"terrain/*\"]",
            "no-such-file",
        ),
        (
            "terminal = \"terminal-panel-18-3500\"",
            "terminal = \"x\"",
            "unknown-reference",
        ),
        ("plan = \"home\"", "plan = \"hom\"", "unknown-reference"),
    ];
    for (from, to, code) in cases {
        let (_, findings) = read_minimal_with(from, to);
        let finding = find(&findings, code);
        assert!(
            finding.place.as_ref().is_some_and(|p| p.line > 0),
            "{finding:?}"
        );
        assert!(!finding.hint.is_empty(), "{finding:?}");
        assert!(!finding.message.ends_with('.'), "{finding:?}");
    }
}

#[test]
fn exact_decimal_comma_is_explained() {
    let (_, findings) = read_minimal_with("lat = 43.95", "lat = 43,95");
    let finding = find(&findings, "syntax");
    assert!(finding.hint.contains("`43.95`"), "{finding:?}");
}

/// One design with fifty mistakes of many kinds: one reading tells them all.
#[test]
fn exact_fifty_mistakes_are_all_told_at_once() {
    let mut text = minimal("mastwright.toml");
    for i in 0..50 {
        let mistake = match i % 5 {
            0 => "azimuth_deg = 400\nchannel_mhz = 3620",
            1 => "azimuth_deg = \"north\"\nchannel_mhz = 3620",
            2 => "azimuth_deg = 10\nchannel_mhz = 3620\nantena = \"x\"",
            3 => "azimuth_deg = 10\nchannel_mhz = 3620\nbase_station = \"x\"",
            _ => "azimuth_deg = 10",
        };
        text.push_str(&format!(
            "\n[[sector]]\nid = \"s{i}\"\nmast = \"hill\"\n{mistake}\n"
        ));
    }
    let (network, findings) = read(&sources(&text, &minimal("premises.csv")));
    let errors: Vec<_> = findings
        .iter()
        .filter(|f| f.severity == Severity::Error)
        .collect();
    assert_eq!(errors.len(), 50, "{errors:#?}");
    let mut lines: Vec<_> = errors
        .iter()
        .map(|f| f.place.as_ref().map(|p| p.line))
        .collect();
    lines.dedup();
    assert_eq!(lines.len(), 50, "each at its own line");
    // The two sound ones, and the ten whose only mistake is a key too many.
    assert_eq!(network.expect("a network").sectors.len(), 12);
}

/// A count, none, nobody, and two that are no count.
#[test]
fn exact_people_are_counted_where_somebody_has() {
    let premises = "id,lon,lat,people\na,-28.06,43.96,4\nb,-28.05,43.96,\nc,-28.04,43.96,0\nd,-28.03,43.96,2.3\ne,-28.02,43.96,-1\nf,-28.01,43.96,many\n";
    let (network, findings) = read(&sources(&minimal("mastwright.toml"), premises));
    let network = network.expect("a network");
    let people: Vec<_> = network.premises.iter().map(|p| p.people).collect();
    assert_eq!(people, [Some(4.0), None, Some(0.0), Some(2.3)]);
    let told = findings.iter().filter(|f| f.severity == Severity::Error);
    let told: Vec<_> = told
        .map(|f| (f.place.as_ref().map(|p| p.line), f.code))
        .collect();
    assert_eq!(told, [(Some(6), "out-of-range"), (Some(7), "wrong-type")]);
}

#[test]
fn exact_premises_mistakes_are_told_by_line() {
    let premises = "\
id,lon,lat,name,plan,mount_height_agl_m,priority,terminal,sector
a,-28.06,43.96,,,,,,
,-28.06,43.97,,,,,,
c,43.95,-28.06,,,,,,
d,-28.06,143.9,,,,,,
e,nan,43.9,,,,,,
f,\"-28,06\",43.9,,,,,,
a,-28.05,43.96,,,,,,
h,-28.05,43.96,,hom,,,,
i,-28.05,43.96,,,-2,,,
j,-28.05,43.96,,,,high,,
k,-28.05,43.96,,,,,dish,
l,-28.05,43.96,,,,,,hill-nort
m,-28.06,43.96,,,,,,
n,-27.51,44.79,,,,,,
o,-28,06,43,96,,,,,,
";
    let text = minimal("mastwright.toml").replace(
        "# [territory]\n# south_west = [-28.21, 43.80]   # longitude, latitude\n# north_east = [-27.91, 44.10]",
        "[territory]\nsouth_west = [-28.21, 43.80]\nnorth_east = [-27.91, 44.10]",
    );
    let (network, findings) = read(&sources(&text, premises));
    let told: Vec<_> = findings
        .iter()
        .filter_map(|f| {
            Some((
                f.place
                    .as_ref()
                    .filter(|p| &*p.file == "premises.csv")?
                    .line,
                f.code,
            ))
        })
        .collect();
    for expected in [
        (3, "missing-cell"),
        (4, "swapped-lonlat"),
        (5, "out-of-range"),
        (6, "not-finite"),
        (7, "decimal-comma"),
        (8, "duplicate-id"),
        (9, "unknown-reference"),
        (10, "out-of-range"),
        (11, "wrong-type"),
        (12, "unknown-reference"),
        (13, "unknown-reference"),
        (14, "same-position"),
        (15, "outside-territory"),
        (16, "row-length"),
    ] {
        assert!(told.contains(&expected), "{expected:?} is not in {told:?}");
    }
    let ids: Vec<_> = network
        .expect("a network")
        .premises
        .iter()
        .map(|p| p.id.to_string())
        .collect();
    assert_eq!(ids, ["a", "l", "m", "n"]);
}

#[test]
fn exact_semicolon_table_is_read_with_a_note() {
    let premises = "id;lon;lat;Plan\np1;-28.06;43.96;home\n";
    let (network, findings) = read(&sources(&minimal("mastwright.toml"), premises));
    assert_eq!(network.expect("a network").premises.len(), 1);
    assert_eq!(find(&findings, "delimiter").severity, Severity::Note);
    assert_eq!(
        find(&findings, "unknown-column").hint,
        "did you mean `plan`?"
    );
}

#[test]
fn exact_byte_order_mark_and_windows_line_ends_are_read() {
    let text = format!(
        "\u{feff}{}",
        minimal("mastwright.toml").replace('\n', "\r\n")
    );
    let (network, findings) = read(&sources(&text, &minimal("premises.csv")));
    assert_eq!(network.expect("a network").sectors.len(), 2);
    assert_eq!(find(&findings, "byte-order-mark").severity, Severity::Note);
}

#[test]
fn exact_empty_and_absent_files_are_told() {
    let (network, findings) = read(&ProjectSources::default());
    assert!(network.is_none());
    for code in ["no-such-file", "no-plans"] {
        find(&findings, code);
    }
    let (network, findings) = read(&sources(" \n", "\n"));
    assert!(network.is_none());
    let empty: Vec<_> = findings.iter().filter(|f| f.code == "empty-file").collect();
    assert_eq!(empty.len(), 2, "{findings:#?}");
}

#[test]
fn exact_a_project_card_replaces_a_built_in_one() {
    let mut sources = sources(&minimal("mastwright.toml"), &minimal("premises.csv"));
    sources.equipment.push(SourceText::new(
        "equipment/own.toml",
        "[[antenna]]\nid = \"sector-90-3500\"\ngain_dbi = 15\nsource = \"data sheet\"\n\
         [antenna.pattern]\nformula = \"f1336-sector\"\nbeamwidth_h_deg = 90\nbeamwidth_v_deg = 7\n",
    ));
    let (network, findings) = read(&sources);
    assert_eq!(findings.len(), 2, "{findings:#?}");
    let network = network.expect("a network");
    assert_eq!(network.sectors[0].antenna.gain_dbi, 15.0);
    assert_eq!(network.sectors[0].antenna.source, "data sheet");
}

#[test]
fn exact_rasters_take_their_own_settings() {
    let design = minimal("mastwright.toml").replace(
        "# terrain = [\"terrain/*\"]",
        "terrain = [\"terrain/*\"]\nland_cover = [\"cover/a.tif\"]\nlegend = \"worldcover\"\n\
         clutter_height_m = { 10 = 18.5, 11 = 3 }\nraster = [{ file = \"cover/*\", band = 4, assumed_crs = \"EPSG:32632\" }]",
    );
    let mut sources = sources(&design, &minimal("premises.csv"));
    sources.files = [
        "cover/a.tif",
        "terrain/N47E009.hgt",
        "terrain/readme.md",
        "terrain/x/y.tif",
    ]
    .map(Into::into)
    .to_vec();
    let (network, findings) = read(&sources);
    let ground = network.expect("a network").ground;
    let terrain: Vec<_> = ground.terrain.iter().map(|r| (&*r.path, r.band)).collect();
    assert_eq!(terrain, [("terrain/N47E009.hgt", 1)]);
    assert_eq!(ground.land_cover[0].band, 4);
    assert_eq!(
        ground.land_cover[0].assumed_crs.as_deref(),
        Some("EPSG:32632")
    );
    assert_eq!(ground.clutter.class(10).map(|c| c.height_m), Some(18.5));
    assert_eq!(
        find(&findings, "unknown-reference").message,
        "legend `worldcover` has no class `11`"
    );
}

#[test]
fn exact_territory_across_the_antimeridian_and_exchanged_corners() {
    let with = |corners: &str| {
        let text =
            minimal("mastwright.toml").replace("# [territory]", &format!("[territory]\n{corners}"));
        read(&sources(
            &text,
            "id,lon,lat\na,179.9,-16.2\nb,-179.9,-16.2\n",
        ))
    };
    let (network, findings) = with("south_west = [179.5, -17.0]\nnorth_east = [-179.5, -16.0]");
    assert_eq!(
        network.expect("a network").territory.working_plane_epsg % 100,
        1
    );
    let outside = findings
        .iter()
        .filter(|f| f.code == "outside-territory")
        .count();
    assert_eq!(outside, 1, "the mast, not the premises: {findings:#?}");
    let (_, findings) = with("south_west = [-27.9, 44.1]\nnorth_east = [-28.2, 43.8]");
    find(&findings, "bad-territory");
    let (_, findings) = with("south_west = [43.8, -28.2]\nnorth_east = [44.1, -27.9]");
    assert!(
        find(&findings, "outside-territory")
            .hint
            .contains("swapped"),
        "{findings:#?}"
    );
}
