//! Climate: written values, maps, defaults by latitude, and what is told of them.
//!
//! The ITU's maps may not be committed: the grids here are synthetic.

use std::sync::Arc;

use design::{
    ClimateGrid, ClimateQuantity, ProjectSources, SourceText, minimal_design, premises_from_csv,
    read,
};
use geodesy::LonLat;
use model::{Finding, Network, Severity};

fn at(lon_deg: f64, lat_deg: f64) -> LonLat {
    LonLat::new(lon_deg, lat_deg).expect("a place")
}

/// A grid filled by a formula of latitude and longitude, in the layout of a first point.
fn grid(step_deg: f64, first: (f64, f64), of: impl Fn(f64, f64) -> f64) -> ClimateGrid {
    let rows = (180.0 / step_deg) as usize + 1;
    let columns = (360.0 / step_deg) as usize + 1;
    let down = -first.0.signum() * step_deg;
    let value = |r: usize, c: usize| {
        let lon_deg = first.1 + step_deg * (c % (columns - 1)) as f64;
        of(first.0 + down * r as f64, lon_deg)
    };
    let values = (0..rows).flat_map(|r| (0..columns).map(move |c| (r, c)));
    ClimateGrid::new(columns, values.map(|(r, c)| value(r, c)).collect()).expect("a grid")
}

const LAYOUTS: [(f64, f64); 3] = [(90.0, 0.0), (-90.0, -180.0), (90.0, -180.0)];

#[test]
fn exact_rows_run_the_way_that_each_map_is_published() {
    for first in LAYOUTS {
        let grid = grid(1.5, first, |lat, _| lat);
        let laid = grid.laid_over(first.0, first.1).expect("square cells");
        for lat in [-90.0, -89.3, -37.77, 0.0, 12.34, 47.15, 89.99, 90.0] {
            for lon in [-180.0, -0.1, 0.0, 9.45, 179.999] {
                let value = laid.at(at(lon, lat));
                assert!((value - lat).abs() < 1e-9, "{first:?} {lon} {lat}: {value}");
            }
        }
    }
}

/// Bilinear reading is exact on a field that is linear in both, within the turn of the columns.
#[test]
fn exact_linear_fields_are_read_exactly() {
    for first in LAYOUTS {
        let grid = grid(1.5, first, |lat, lon| 300.0 + 0.7 * lat - 0.3 * lon);
        let laid = grid.laid_over(first.0, first.1).expect("square cells");
        for (lon, lat) in [(9.45, 47.15), (0.4, -33.3), (178.2, 89.9), (101.7, 1.1)] {
            let expected = 300.0 + 0.7 * lat - 0.3 * lon;
            assert!((laid.at(at(lon, lat)) - expected).abs() < 1e-9, "{first:?}");
        }
    }
}

#[test]
fn exact_columns_close_around_the_earth() {
    // A field that is continuous around the Earth, and not symmetric.
    let field = |_: f64, lon: f64| (lon.to_radians() + 0.3).sin();
    for first in LAYOUTS {
        let grid = grid(1.5, first, field);
        let laid = grid.laid_over(first.0, first.1).expect("square cells");
        for seam_deg in [-180.0_f64, 0.0, 180.0] {
            let values: Vec<f64> = [-1e-6, 0.0, 1e-6]
                .iter()
                .map(|d: &f64| laid.at(at((seam_deg + d).clamp(-180.0, 180.0), 10.0)))
                .collect();
            for value in values {
                assert!((value - field(0.0, seam_deg)).abs() < 1e-6, "{seam_deg}");
            }
        }
        assert_eq!(laid.at(at(-180.0, 5.0)), laid.at(at(180.0, 5.0)));
        // East is east: three degrees on, the field has moved on.
        let (a, b) = (laid.at(at(-100.5, 0.0)), laid.at(at(-97.5, 0.0)));
        assert!((a - field(0.0, -100.5)).abs() < 1e-9 && (b - field(0.0, -97.5)).abs() < 1e-9);
    }
}

#[test]
fn exact_a_grid_without_some_rows_is_refused() {
    let whole = grid(1.5, (90.0, 0.0), |lat, _| lat);
    let (rows, columns) = whole.size();
    assert_eq!((rows, columns), (121, 241));
    let short = ClimateGrid::new(columns, vec![1.0; columns * (rows - 3)]).expect("a grid");
    let message = short.laid_over(90.0, 0.0).expect_err("not square");
    assert!(message.contains("118 rows of 241"), "{message}");
    assert!(whole.laid_over(0.0, 0.0).is_err(), "no height at all");
    assert!(ClimateGrid::new(4, vec![1.0; 7]).is_none());
    assert!(ClimateGrid::new(1, vec![1.0; 7]).is_none());
    assert!(ClimateGrid::new(2, vec![1.0, 2.0, f64::NAN, 4.0]).is_none());
}

/// Cells in whose middle a value stands, rather than at whose corner: the poles lie beyond the outermost row.
#[test]
fn exact_the_poles_take_the_outermost_row() {
    let rows = 180;
    let values = (0..rows).flat_map(|r| vec![89.5 - f64::from(r); 361]);
    let cells = ClimateGrid::new(361, values.collect()).expect("a grid");
    let laid = cells.laid_over(89.5, 0.0).expect("square cells");
    assert_eq!(laid.at(at(12.0, 90.0)), 89.5);
    assert_eq!(laid.at(at(12.0, -90.0)), -89.5);
    assert!((laid.at(at(12.0, 47.2)) - 47.2).abs() < 1e-9);
}

/// The minimal design with lines put before its defaults, and maps by path.
fn network(lines: &str, maps: &[(&str, Option<ClimateGrid>)]) -> (Network, Vec<Finding>) {
    let file = |name: &str| {
        let files = minimal_design("test");
        let found = files.into_iter().find(|(file, _)| file == name);
        found.expect("a file of every project").1
    };
    let text = file("mastwright.toml").replace("[defaults]", &format!("{lines}\n[defaults]"));
    let (premises, _) = premises_from_csv(&SourceText::new("premises.csv", file("premises.csv")));
    let sources = ProjectSources {
        design: Some(SourceText::new("mastwright.toml", text)),
        plans: Some(SourceText::new("plans.toml", file("plans.toml"))),
        premises,
        climate_maps: maps
            .iter()
            .map(|(path, grid)| ((*path).to_owned(), grid.clone().map(Arc::new)))
            .collect(),
        ..ProjectSources::default()
    };
    let (network, findings) = read(&sources);
    (network.expect("a network"), findings)
}

fn told<'f>(findings: &'f [Finding], code: &str) -> Vec<&'f Finding> {
    findings.iter().filter(|f| f.code == code).collect()
}

/// A territory around 9.45° E, 47.15° N.
const HERE: &str = "[territory]\nsouth_west = [9.3, 47.0]\nnorth_east = [9.6, 47.3]\n";
const LAPSE_MAP: &str =
    "[[climate.map]]\nquantity = \"refractivity-lapse\"\nfile = \"itu/DN50.TXT\"\n";
const RAIN_MAP: &str = "[[climate.map]]\nquantity = \"rain-001\"\nfile = \"itu/R001.TXT\"\n";

#[test]
fn exact_without_anything_the_latitude_decides_and_is_told_once() {
    let (network, findings) = network("", &[]);
    let p = &network.propagation;
    assert_eq!(p.refractivity_lapse_n_per_km, 45.0);
    assert_eq!(p.surface_refractivity_n, 325.0);
    assert_eq!(network.climate.rain_001_mm_per_h, 42.0);
    assert_eq!(network.climate.gradient_1pct_n_per_km, -200.0);
    assert_eq!(network.climate.multipath_map, None);
    let notes = told(&findings, "climate-assumed");
    let [note] = notes[..] else {
        panic!("{findings:#?}")
    };
    assert_eq!(note.severity, Severity::Note, "no rain below 5 GHz");
    assert!(note.message.contains("by latitude (temperate)"));
    assert!(note.message.contains("`rain_001_mm_per_h` is `42 mm/h`"));
    assert!(note.place.as_ref().is_some_and(|p| p.line > 0));
}

#[test]
fn exact_belts_meet_where_the_page_says() {
    let rain = |lat: f64| {
        let box_text = format!(
            "[territory]\nsouth_west = [9.0, {}]\nnorth_east = [9.6, {}]\n",
            lat - 0.1,
            lat + 0.1
        );
        network(&box_text, &[]).0.climate.rain_001_mm_per_h
    };
    let found: Vec<f64> = [0.0, 23.4, 23.6, -34.9, -35.1, 59.9, 60.1, -80.0]
        .map(rain)
        .into();
    assert_eq!(found, [95.0, 95.0, 60.0, 60.0, 42.0, 42.0, 22.0, 22.0]);
}

#[test]
fn exact_a_map_comes_before_the_latitude_and_a_written_value_before_the_map() {
    let maps = [
        (
            "itu/DN50.TXT",
            Some(grid(1.5, (90.0, 0.0), |lat, lon| 30.0 + lat / 10.0 + lon)),
        ),
        (
            "itu/R001.TXT",
            Some(grid(2.5, (-90.0, -180.0), |lat, _| 100.0 - lat)),
        ),
    ];
    let (by_map, findings) = network(&format!("{HERE}{LAPSE_MAP}{RAIN_MAP}"), &maps);
    let middle = at(9.45, 47.15);
    let lapse = by_map.propagation.refractivity_lapse_n_per_km;
    let rain = by_map.climate.rain_001_mm_per_h;
    assert!((lapse - (30.0 + middle.lat_deg() / 10.0 + middle.lon_deg())).abs() < 1e-9);
    assert!((rain - (100.0 - middle.lat_deg())).abs() < 1e-9);
    let note = &told(&findings, "climate-assumed")[0].message;
    assert!(note.contains("from `itu/DN50.TXT`") && note.contains("from `itu/R001.TXT`"));
    assert!(
        note.contains("`surface_refractivity_n` is `325 N`"),
        "{note}"
    );

    let both = format!("[climate]\nrain_001_mm_per_h = 33\n{LAPSE_MAP}{RAIN_MAP}");
    let (written, findings) = network(&both, &maps);
    assert_eq!(written.climate.rain_001_mm_per_h, 33.0);
    let unused = told(&findings, "climate-map-unused");
    assert_eq!(unused.len(), 1, "{findings:#?}");
    assert!(unused[0].message.contains("`itu/R001.TXT`"));
}

#[test]
fn exact_all_written_leaves_nothing_to_tell() {
    let (network, findings) = network(
        "[climate]\nrefractivity_lapse_n_per_km = 50\nsurface_refractivity_n = 340\nrain_001_mm_per_h = 30\nlog_k = -4.2\ngradient_75_n_per_km = 61\n",
        &[],
    );
    assert_eq!(network.propagation.refractivity_lapse_n_per_km, 50.0);
    let map = network.climate.multipath_map.expect("both are written");
    assert_eq!((map.log_k, map.gradient_75_n_per_km), (-4.2, 61.0));
    assert!(
        told(&findings, "climate-assumed").is_empty(),
        "{findings:#?}"
    );
}

#[test]
fn exact_mistakes_are_told_with_their_place() {
    let odd = Some(ClimateGrid::new(3, vec![1.0; 30]).expect("a grid"));
    let world = |value: f64| Some(grid(1.5, (90.0, 0.0), move |_, _| value));
    let cases: [(&str, Option<Option<ClimateGrid>>, &str, &str); 6] = [
        (LAPSE_MAP, None, "no-such-file", "itu/DN50.TXT"),
        (LAPSE_MAP, Some(odd), "climate-map", "not square"),
        (LAPSE_MAP, Some(world(-45.0)), "climate-map", "cannot be"),
        (
            "[climate]\nlog_k = -4\n",
            None,
            "missing-key",
            "`gradient_75_n_per_km`",
        ),
        (
            "[climate]\nrain_001_mm_per_h = 301\n",
            None,
            "out-of-range",
            "301",
        ),
        (
            "[[climate.map]]\nquantity = \"rain\"\nfile = \"x\"\n",
            None,
            "unknown-choice",
            "`rain`",
        ),
    ];
    for (lines, map, code, part) in cases {
        let maps: Vec<_> = map.into_iter().map(|m| ("itu/DN50.TXT", m)).collect();
        let (network, findings) = network(lines, &maps);
        let found = told(&findings, code);
        let one = found.iter().find(|f| f.message.contains(part));
        let one = one.unwrap_or_else(|| panic!("{code} {part}: {findings:#?}"));
        assert!(one.place.as_ref().is_some_and(|p| p.line > 0), "{one:?}");
        assert!(!one.hint.is_empty(), "{one:?}");
        assert_eq!(network.propagation.refractivity_lapse_n_per_km, 45.0);
    }
    let twice = format!("{LAPSE_MAP}{LAPSE_MAP}");
    let (_, findings) = network(&twice, &[("itu/DN50.TXT", world(44.0))]);
    assert_eq!(told(&findings, "climate-map").len(), 1);
    // A file that could not be read was told by who read it.
    let (_, findings) = network(LAPSE_MAP, &[("itu/DN50.TXT", None)]);
    assert!(told(&findings, "no-such-file").is_empty(), "{findings:#?}");
}

#[test]
fn exact_every_quantity_has_its_own_key() {
    let keys: std::collections::BTreeSet<_> =
        ClimateQuantity::ALL.iter().map(|q| q.key()).collect();
    assert_eq!(keys.len(), ClimateQuantity::ALL.len());
}
