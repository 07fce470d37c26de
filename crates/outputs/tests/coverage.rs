//! Grids of coverage as pictures, outlines, overlays and figures.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "tests write files, fail where something is not there, and say what they skip"
)]

mod island;

use std::io::{Cursor, Read};
use std::process::Command;

use geodesy::{Crs, LonLat, MapXy};
use outputs::coverage::quantities::{self, Direction};
use outputs::coverage::*;
use outputs::layers::Cell;
use raster::{Affine, Georeference, Grid};

fn utm(epsg: u32, origin: (f64, f64), cell_m: f64, rows: &[&[f32]]) -> Grid {
    let (width, height) = (rows[0].len(), rows.len());
    let origin = MapXy {
        x: origin.0,
        y: origin.1,
    };
    let affine = Affine::north_up(origin, cell_m, cell_m).unwrap();
    let georeference = Georeference::new(Crs::from_epsg(epsg).unwrap(), affine, width, height);
    Grid::new(georeference, width, height, rows.concat()).unwrap()
}

const NONE: f32 = f32::NAN;

/// Levels around a hole without data.
fn small() -> Grid {
    let rows: [&[f32]; 4] = [
        &[-92.0, -92.0, -92.0, NONE],
        &[-92.0, NONE, -72.0, -72.0],
        &[-92.0, -72.0, -72.0, -52.0],
        &[-92.0, -72.0, -72.0, -52.0],
    ];
    utm(32_633, (500_000.0, 5_000_000.0), 100.0, &rows)
}

fn level() -> Quantity {
    quantities::received_level(Direction::Downlink)
}

fn decoded(png: &[u8]) -> (usize, usize, Vec<[u8; 4]>) {
    let mut decoder = png::Decoder::new(Cursor::new(png));
    decoder.set_transformations(png::Transformations::EXPAND | png::Transformations::ALPHA);
    let mut reader = decoder.read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    let pixels = bytes.as_chunks::<4>().0.to_vec();
    (info.width as usize, info.height as usize, pixels)
}

#[test]
fn exact_picture_has_one_pixel_a_cell_and_leaves_out_what_is_unknown() {
    let (grid, level) = (small(), level());
    let (width, height, pixels) = decoded(&map_png(&grid, &level).unwrap());
    assert_eq!((width, height), (4, 4));
    for (pixel, value) in pixels.iter().zip(grid.cells()) {
        match level.class_of(*value) {
            None => assert_eq!(pixel[3], 0),
            Some(class) => {
                let [r, g, b] = level.classes[class].colour;
                assert_eq!(*pixel, [r, g, b, 255]);
            }
        }
    }
}

#[test]
fn exact_world_file_names_the_middle_of_the_first_cell() {
    let text = world_file(small().georeference());
    assert_eq!(text, "100\n0\n0\n-100\n500050\n4999950\n");
}

/// On the central meridian a map metre is 1/0.9996 true metres either way.
/// Source: the scale of UTM, NGA.SIG.0012 (2014), section 7.
#[test]
fn ref_areas_are_true_ones() {
    let figures = statistics(&small(), &level(), &[]).unwrap();
    let cells_km2 = 14.0 * 0.01 / (0.9996 * 0.9996);
    assert!(
        (figures.area_km2 - cells_km2).abs() < 1e-7 * cells_km2,
        "{}",
        figures.area_km2
    );
    assert!((figures.area_factor_least - 1.000_800_48).abs() < 1e-7);
    assert_eq!(figures.unknown.cells, 2);
}

/// A grid in degrees has cells of many sizes. Source: the area of the
/// ellipsoid's quadrangle from 0 to 1 degree of latitude and longitude,
/// 12 308.46 km² (closed form by authalic latitude, J. P. Snyder, USGS
/// Professional Paper 1395, equation 3-12).
#[test]
fn ref_degree_cells_add_up_to_the_quadrangle() {
    let affine = Affine::north_up(MapXy { x: 10.0, y: 1.0 }, 0.01, 0.01).unwrap();
    let georeference = Georeference::new(Crs::wgs84(), affine, 100, 100);
    let grid = Grid::new(georeference, 100, 100, vec![-60.0; 10_000]).unwrap();
    let (a_km, e2) = (6378.137_f64, 0.006_694_379_990_14_f64);
    let e = e2.sqrt();
    let sine = 1f64.to_radians().sin();
    let q = (1.0 - e2) * (sine / (1.0 - e2 * sine * sine) + (e * sine).atanh() / e);
    let expected_km2 = a_km * a_km * 1f64.to_radians() * q / 2.0;
    let figures = statistics(&grid, &level(), &[]).unwrap();
    assert!(
        (figures.area_km2 / expected_km2 - 1.0).abs() < 2e-6,
        "{} {expected_km2}",
        figures.area_km2
    );
}

#[test]
fn exact_premises_and_people_are_counted_where_they_are() {
    let grid = small();
    let at = |col, row| {
        let middle = grid.centre(raster::Cell { col, row }).unwrap();
        move |people| Occupied {
            position: middle,
            people,
        }
    };
    let far = Occupied {
        position: LonLat::new(0.0, 0.0).unwrap(),
        people: Some(9.0),
    };
    let occupied = [
        at(0, 0)(Some(2.0)),
        at(3, 3)(Some(3.5)),
        at(3, 2)(None),
        at(1, 1)(Some(1.0)),
        far,
    ];
    let figures = statistics(&grid, &level(), &occupied).unwrap();
    let best = &figures.classes[0];
    assert_eq!(
        (best.label.as_str(), best.premises, best.people),
        ("−55 and above", 2, Some(3.5))
    );
    assert_eq!(
        (figures.unknown.premises, figures.unknown.people),
        (2, Some(10.0))
    );
    assert_eq!((figures.premises, figures.premises_without_people), (5, 1));
    let last = figures.classes.last().unwrap();
    assert_eq!(
        (last.premises_or_better, last.people_or_better),
        (Some(3), Some(5.5))
    );
    let shares: f64 = figures.classes.iter().map(|c| c.area_frac).sum();
    assert!((shares - 1.0).abs() < 1e-12);
    let csv = String::from_utf8(figures.csv().unwrap()).unwrap();
    assert!(
        csv.starts_with("label,from_value,to_value,cells,area_km2,"),
        "{csv}"
    );
    assert_eq!(csv.lines().count(), 1 + 10 + 1);
    let json: serde_json::Value = serde_json::from_str(&figures.json().unwrap()).unwrap();
    assert_eq!(json["quantity"], "downlink_rsl_dbm");
    assert_eq!(json["classes"][0]["premises"], 2);
}

/// The shoelace area in UTM of what came out in degrees is that of the cells.
#[test]
fn exact_areas_cover_their_cells() {
    let (grid, level) = (small(), level());
    let layer = class_areas(&grid, &level).unwrap();
    assert_eq!(layer.rows.len(), 3);
    let crs = grid.georeference().crs();
    let mut cells = 0.0;
    for (_, geometry) in &layer.rows {
        let Geometry::Areas(areas) = geometry else {
            panic!("areas are no lines");
        };
        for ring in areas.iter().flatten() {
            let points: Vec<MapXy> = ring.iter().map(|p| crs.to_map(*p).unwrap()).collect();
            let cross = |p: &[MapXy]| p[0].x * p[1].y - p[1].x * p[0].y;
            cells += points.windows(2).map(cross).sum::<f64>() / 2e4;
        }
    }
    assert!((cells - 14.0).abs() < 1e-4, "{cells}");
    assert_eq!(layer.rows[0].0[2], Cell::from("−55 and above"));
}

/// Along a slope of one unit a cell the line of a value lies where it should.
#[test]
fn exact_contour_lines_lie_between_cell_centres() {
    let row: Vec<f32> = (0..12).map(|c| -90.3 + 1.0 * c as f32).collect();
    let mut rows = vec![row.as_slice(); 8];
    let gap: Vec<f32> = vec![NONE; 12];
    rows[4] = &gap;
    let grid = utm(32_633, (500_000.0, 5_000_000.0), 100.0, &rows);
    let layer = contour_lines(&grid, &level()).unwrap();
    let values: Vec<_> = layer
        .rows
        .iter()
        .map(|(cells, _)| cells[1].clone())
        .collect();
    assert_eq!(
        values,
        [
            Cell::Number(-90.0),
            Cell::Number(-85.0),
            Cell::Number(-80.0)
        ]
    );
    let crs = grid.georeference().crs();
    for ((cells, geometry), expected) in layer.rows.iter().zip([0.8, 5.8, 10.8]) {
        let Geometry::Lines(lines) = geometry else {
            panic!("lines are no areas: {cells:?}");
        };
        assert_eq!(lines.len(), 2, "the gap parts the line");
        for place in lines.iter().flatten() {
            let col = (crs.to_map(*place).unwrap().x - 500_000.0) / 100.0;
            assert!((col - expected).abs() < 1e-4, "{col} is not {expected}");
        }
    }
}

#[test]
fn exact_names_have_no_contour_lines() {
    let names = ["a".to_owned(), "b".to_owned()];
    let layer = contour_lines(&small(), &quantities::best_server(&names)).unwrap();
    assert!(layer.rows.is_empty());
}

/// Each pixel of the overlay shows the cell that its middle lies in.
#[test]
fn exact_overlay_shows_the_cell_below_each_pixel() {
    let (grid, level) = (island::loss(), quantities::path_loss());
    let overlay = Overlay::new(&grid, &level).unwrap();
    let (width, height, pixels) = decoded(&overlay.png);
    assert_eq!((width, height), (overlay.width, overlay.height));
    let (mut looked, mut differ) = (0, 0);
    for (i, pixel) in pixels.iter().enumerate().step_by(37) {
        let share = |i: usize, count: usize| (i as f64 + 0.5) / count as f64;
        let lon_deg =
            overlay.west_deg + (overlay.east_deg - overlay.west_deg) * share(i % width, width);
        let lat_deg =
            overlay.north_deg - (overlay.north_deg - overlay.south_deg) * share(i / width, height);
        let value = grid.nearest(LonLat::new(lon_deg, lat_deg).unwrap());
        let expected = match level.class_of(value) {
            Some(class) => {
                let [r, g, b] = level.classes[class].colour;
                [r, g, b, 255]
            }
            None => [0; 4],
        };
        let is_same = *pixel == expected || (pixel[3] == 0 && expected[3] == 0);
        (looked, differ) = (looked + 1, differ + usize::from(!is_same));
    }
    // Between nodes the projection is linear; a middle within a hundredth of
    // a pixel of a cell's edge may fall on its other side.
    println!("{differ} of {looked} pixels differ");
    assert!(differ * 1000 <= looked, "{differ} of {looked}");
}

/// Source: OGC 07-147r2, clauses 11.2 and 11.7; APPNOTE.TXT of the archive
/// format is left to the library.
#[test]
fn ref_archive_holds_a_document_and_its_pictures() {
    let caption = Caption {
        subtitle: "Sector <north> & co",
        notes: &["P.1812, 50 % of time"],
    };
    let bytes = kmz(&small(), &level(), &caption).unwrap();
    assert_eq!(bytes, kmz(&small(), &level(), &caption).unwrap());
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let names: Vec<_> = archive
        .file_names()
        .map(|n| n.unwrap().into_owned())
        .collect();
    assert_eq!(names, ["doc.kml", "coverage.png", "legend.png"]);
    let mut text = String::new();
    archive
        .by_index(0)
        .unwrap()
        .read_to_string(&mut text)
        .unwrap();
    let document = roxmltree::Document::parse(&text).unwrap();
    let number = |name: &str| -> f64 {
        let node = document
            .descendants()
            .find(|n| n.has_tag_name(name))
            .unwrap();
        node.text().unwrap().parse().unwrap()
    };
    assert!(number("north") > number("south") && number("east") > number("west"));
    assert!((number("west") - 15.0).abs() < 1e-6);
    assert!(text.contains("Sector &lt;north&gt; &amp; co"), "{text}");
    for href in ["coverage.png", "legend.png"] {
        let mut png = Vec::new();
        archive
            .by_name(href)
            .unwrap()
            .read_to_end(&mut png)
            .unwrap();
        assert!(decoded(&png).0 > 0);
    }
}

#[test]
fn exact_legend_grows_with_its_classes_and_survives_long_names() {
    let caption = Caption::default();
    let names = |count: usize| -> Vec<String> {
        let long = "a sector with a name that fits on no legend at all".to_owned();
        (0..count).map(|i| format!("{i} {long}")).collect()
    };
    let height = |count: usize| {
        let quantity = quantities::best_server(&names(count));
        decoded(&legend_png(&quantity, &caption, None).unwrap()).1
    };
    assert_eq!(height(5) - height(2), 3 * 27);
    // A long list ends with how many are left out.
    assert_eq!(height(300), height(90));
}

/// Layers are read, and every area is valid, in a general-purpose program.
/// Source: `ogrinfo` of whatever GDAL version is installed; validity by GEOS.
#[test]
fn ref_gdal_reads_the_outlines() {
    let folder = std::env::temp_dir().join(format!("coverage-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let (grid, quantity) = (island::loss(), quantities::path_loss());
    let layers = [
        class_areas(&grid, &quantity).unwrap(),
        contour_lines(&grid, &quantity).unwrap(),
    ];
    let package = folder.join("coverage.gpkg");
    let bytes = geopackage(&layers, "2026-05-01T12:00:00Z").unwrap();
    assert_eq!(bytes, geopackage(&layers, "2026-05-01T12:00:00Z").unwrap());
    std::fs::write(&package, bytes).unwrap();
    let json = folder.join("areas.geojson");
    std::fs::write(&json, geojson(&layers[0]).unwrap()).unwrap();
    let say = |arguments: &[&str], file: &std::path::Path| {
        let output = Command::new("ogrinfo")
            .args(arguments)
            .arg(file)
            .output()
            .ok()?;
        let text = [&output.stdout[..], &output.stderr[..]].concat();
        Some(String::from_utf8_lossy(&text).into_owned())
    };
    let valid = "SELECT COUNT(*) AS good, SUM(ST_IsValid(geom)) AS valid FROM path_loss_db_classes";
    let said = [
        say(&["-ro", "-so", "-al"], &package),
        say(&["-ro", "-so", "-al"], &json),
        say(&["-ro", "-dialect", "SQLite", "-sql", valid], &package),
    ];
    std::fs::remove_dir_all(&folder).unwrap();
    let [Some(package), Some(json), Some(valid)] = said else {
        println!("skipped: reading outlines with GDAL, ogrinfo is not installed");
        return;
    };
    for part in [
        "Geometry: Multi Polygon",
        "Geometry: Multi Line String",
        "WGS 84",
    ] {
        assert!(package.contains(part), "no `{part}` in:\n{package}");
    }
    assert!(
        !package.contains("Warning") && !json.contains("Warning"),
        "{package}{json}"
    );
    assert!(
        json.contains("Multi Polygon") && json.contains("area_km2: Real"),
        "{json}"
    );
    if valid.contains("no such function") {
        println!("skipped: validity of areas, this GDAL has no spatial functions");
        return;
    }
    let count = |name: &str| {
        let line = valid
            .lines()
            .find(|l| l.contains(&format!("{name} (Integer)")))
            .unwrap();
        line.rsplit('=').next().unwrap().trim().to_owned()
    };
    assert_eq!(count("good"), count("valid"), "{valid}");
}

/// Writes every output for the eye, where `MASTWRIGHT_LOOK` names a folder.
#[test]
fn gold_everything_for_the_eye() {
    let Ok(folder) = std::env::var("MASTWRIGHT_LOOK") else {
        println!("skipped: nobody looks, MASTWRIGHT_LOOK names no folder");
        return;
    };
    let folder = std::path::Path::new(&folder);
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.join(name), bytes).unwrap();
    let ground = island::Ground::new();
    let (loss, server) = island::loss_and_server();
    let masts = island::masts();
    let names: Vec<String> = masts.iter().map(|m| m.label.clone()).collect();
    let notes = [
        "Made-up loss over the example island: free space and the highest obstacle.",
        "Terminal 5 m above ground. 5815 MHz.",
    ];
    let caption = Caption {
        subtitle: "Ossorel, all masts",
        notes: &notes,
    };
    let homes = island::homes();
    let cells = loss.cells().iter().map(|l| 36.0 + 18.0 - l).collect();
    let rsl = Grid::new(
        loss.georeference().clone(),
        loss.width(),
        loss.height(),
        cells,
    )
    .unwrap();
    for (grid, quantity) in [
        (&loss, quantities::path_loss()),
        (&rsl, level()),
        (&server, quantities::best_server(&names)),
    ] {
        let figures = statistics(grid, &quantity, &homes).unwrap();
        let cells = (grid.width(), grid.height());
        let relief = Backdrop::new(grid.georeference(), cells, &ground).unwrap();
        let around = Around {
            relief: relief.as_ref(),
            marks: &masts,
            statistics: Some(&figures),
        };
        let name = quantity.name;
        let sheet = sheet_png(grid, &quantity, &caption, &around).unwrap();
        write(&format!("{name}-sheet.png"), &sheet);
        let plain = sheet_png(grid, &quantity, &caption, &Around::default()).unwrap();
        write(&format!("{name}-plain.png"), &plain);
        write(&format!("{name}.png"), &map_png(grid, &quantity).unwrap());
        write(
            &format!("{name}-legend.png"),
            &legend_png(&quantity, &caption, None).unwrap(),
        );
        write(
            &format!("{name}.kmz"),
            &kmz(grid, &quantity, &caption).unwrap(),
        );
        let areas = class_areas(grid, &quantity).unwrap();
        write(
            &format!("{name}.geojson"),
            geojson(&areas).unwrap().as_bytes(),
        );
        let lines = contour_lines(grid, &quantity).unwrap();
        let package = geopackage(&[areas, lines], "2026-05-01T12:00:00Z").unwrap();
        write(&format!("{name}.gpkg"), &package);
        write(&format!("{name}.txt"), figures.text().as_bytes());
    }
}
