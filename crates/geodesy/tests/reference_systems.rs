//! Reference systems against coordinates by PROJ.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests fail the test, and say what was skipped"
)]

use std::path::PathBuf;

use geodesy::{Crs, CrsError, LonLat, MapXy, inverse};

/// The folder of shared reference data, if it is here.
fn shared(what: &str) -> Option<PathBuf> {
    #[expect(
        clippy::disallowed_methods,
        reason = "tests may be told where the shared data is"
    )]
    let root = std::env::var("MASTWRIGHT_SHARED").map_or_else(
        |_| PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared")),
        PathBuf::from,
    );
    let path = root.join(what);
    if !path.exists() {
        println!("skipped: {what}, the shared reference data is not here");
        return None;
    }
    Some(path)
}

/// Rows of a CSV file without quoted commas in the first columns.
fn rows(path: &std::path::Path) -> Vec<Vec<String>> {
    #[expect(clippy::disallowed_methods, reason = "tests read their reference data")]
    let text = std::fs::read_to_string(path).unwrap();
    let lines = text.lines().skip(1);
    lines
        .map(|l| l.split(',').map(str::to_owned).collect())
        .collect()
}

fn check_spots(file: &str, crs: &Crs, tolerance: f64) {
    let Some(path) = shared(file) else { return };
    let mut worst: f64 = 0.0;
    let mut count = 0;
    for row in rows(&path) {
        let number = |i: usize| row[i].parse::<f64>().ok();
        let (Some(lon), Some(lat), Some(x), Some(y)) = (number(1), number(2), number(3), number(4))
        else {
            continue;
        };
        let place = LonLat::new(lon, lat).unwrap();
        let at = crs.to_map(place).unwrap();
        worst = worst.max((at.x - x).hypot(at.y - y));
        // And back: within the rounding of the eighth decimal of a degree.
        let back = crs.to_lonlat(MapXy { x, y }).unwrap();
        assert!(
            inverse(back, place).distance_m < tolerance.max(0.01) + 0.001,
            "{file} {lon} {lat}"
        );
        count += 1;
    }
    println!("{file}: {count} spots, worst {worst:.6}");
    assert!(count > 3 && worst <= tolerance, "{file}: worst {worst}");
}

/// The x and y columns are by PROJ 9.5 from longitudes with 8 decimals,
/// which are worth 1 mm; map units are metres.
#[test]
fn ref_spots_of_every_area() {
    for (file, code) in [
        ("geodata/santa-ana/spots.csv", 32_611),
        ("geodata/mackay/spots.csv", 32_612),
        ("geodata/lolo-landscape/spots.csv", 32_611),
        ("geodata/liechtenstein/spots_landcover.csv", 32_632),
        ("geodata/zion-nlcd/spots_nlcd.csv", 26_912),
    ] {
        check_spots(file, &Crs::from_epsg(code).unwrap(), 0.002);
    }
}

/// The published shifts of MGI differ by 1.1 m and have an accuracy of
/// 1.5 m, hence the 2 m; without a shift it would be 70 m.
#[test]
fn ref_austrian_datum_shift() {
    let wkt = concat!(
        r#"PROJCS["MGI_Austria_Lambert",GEOGCS["GCS_MGI",DATUM["D_MGI",SPHEROID["Bessel_1841",6377397.155,299.1528128]],"#,
        r#"PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic"],"#,
        r#"PARAMETER["False_Easting",400000.0],PARAMETER["False_Northing",400000.0],"#,
        r#"PARAMETER["Central_Meridian",13.3333333333333],PARAMETER["Standard_Parallel_1",49.0],"#,
        r#"PARAMETER["Standard_Parallel_2",46.0],PARAMETER["Latitude_Of_Origin",47.5],UNIT["Meter",1.0]]"#,
    );
    for crs in [Crs::from_epsg(31_287).unwrap(), Crs::from_wkt(wkt).unwrap()] {
        check_spots("geodata/tirol-lcc/spots.csv", &crs, 2.0);
        check_spots("geodata/tirol-lcc/spots_avaAlr.csv", &crs, 2.0);
    }
}

/// Every system of the format variants, over all points of their value
/// table (PROJ through GDAL; 4 decimals of a map unit).
#[test]
fn ref_systems_of_the_format_variants() {
    let Some(path) = shared("geodata/format-variants/values.csv") else {
        return;
    };
    for (file, crs, tolerance) in [
        ("crs-epsg32611-utm-next-zone.tif", "EPSG:32611", 0.001),
        ("crs-epsg26912-nad83-utm.tif", "EPSG:26912", 0.001),
        ("crs-epsg3857-web-mercator.tif", "EPSG:3857", 0.001),
        ("crs-albers-epsg5070.tif", "EPSG:5070", 0.001),
        ("crs-epsg2242-us-survey-foot.tif", "EPSG:2242", 0.003),
        ("crs-epsg31287-austria-lcc.tif", "EPSG:31287", 2.0),
    ] {
        let crs = Crs::parse(crs).unwrap();
        let (mut worst, mut count): (f64, usize) = (0.0, 0);
        for row in rows(&path).iter().filter(|r| r[0] == file) {
            let number = |i: usize| row[i].parse::<f64>().unwrap();
            let at = crs
                .to_map(LonLat::new(number(7), number(8)).unwrap())
                .unwrap();
            worst = worst.max((at.x - number(5)).hypot(at.y - number(6)));
            count += 1;
        }
        println!("{file}: {count} points, worst {worst:.6}");
        assert!(count > 0 && worst <= tolerance, "{file}: worst {worst}");
    }
}

#[test]
fn exact_unusable_systems_are_named() {
    assert_eq!(
        Crs::from_epsg(29_999),
        Err(CrsError::UnknownEpsg { code: 29_999 })
    );
    assert!(matches!(
        Crs::from_epsg(4267),
        Err(CrsError::NeedsShiftGrid { .. })
    ));
    assert!(matches!(
        Crs::from_proj("+proj=utm +zone=33 +ellps=bessel"),
        Err(CrsError::UnknownDatum { .. })
    ));
    assert!(matches!(
        Crs::from_epsg(4978),
        Err(CrsError::Unsupported { .. })
    ));
    for text in [
        "",
        "EPSG:",
        "epsg:x",
        "+proj=nonsense",
        "utm 32",
        "PROJCS[",
        "PROJCS[\"a\"",
        "é",
    ] {
        let error = Crs::parse(text).unwrap_err();
        assert!(error.to_string().contains("hint:"), "{error}");
    }
    let deep = "[".repeat(100_000);
    assert!(Crs::parse(&deep).is_err());
}

#[test]
fn exact_positions_out_of_reach_are_errors() {
    let utm = Crs::from_epsg(32_632).unwrap();
    assert!(
        utm.to_lonlat(MapXy {
            x: f64::NAN,
            y: 0.0
        })
        .is_err()
    );
    assert!(utm.to_lonlat(MapXy { x: 1e300, y: 1e300 }).is_err());
    let degrees = Crs::wgs84();
    assert!(degrees.to_lonlat(MapXy { x: 0.0, y: 91.0 }).is_err());
    assert!(
        degrees
            .to_lonlat(MapXy { x: 190.0, y: 1.0 })
            .unwrap()
            .lon_deg()
            == -170.0
    );
}
