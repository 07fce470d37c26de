//! Cloud-optimised files: what comes back here and in a general-purpose
//! raster program, overviews, several bands, large offsets.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "tests write files, fail where something is not there, and say what they skip"
)]

use std::path::{Path, PathBuf};
use std::process::Command;

use geodesy::{Crs, MapXy};
use proptest::prelude::*;
use raster::{Affine, Georeference, Grid};
use store::geotiff_out::{
    Band, CellType, GeoTiffError, Overviews, RasterDescription, TileSide, encode_bands, rows_of,
    write, write_file,
};
use store::ground::{OpenOptions, RasterFile};

/// A loss that grows with the distance from a corner, void beyond a circle.
fn loss(width: usize, height: usize) -> Grid {
    let value = |i: usize| {
        let (col, row) = ((i % width) as f32, (i / width) as f32);
        let distance = col.hypot(row);
        if distance > 0.9 * (width.max(height) as f32) {
            f32::NAN
        } else {
            80.0 + 0.05 * distance + ((i * 7919) % 13) as f32 * 0.1
        }
    };
    grid(width, height, (0..width * height).map(value).collect())
}

fn grid(width: usize, height: usize, cells: Vec<f32>) -> Grid {
    let crs = Crs::from_epsg(32_626).unwrap();
    let origin = MapXy {
        x: 408_000.0,
        y: 4_884_000.0,
    };
    let affine = Affine::north_up(origin, 30.0, 30.0).unwrap();
    let georeference = Georeference::new(crs, affine, width, height);
    Grid::new(georeference, width, height, cells).unwrap()
}

fn described(grid: &Grid, cells: CellType) -> RasterDescription {
    let band = Band::new("path loss, 50 % of time", "dB");
    RasterDescription {
        tile: TileSide::Cells256,
        ..RasterDescription::of(grid, cells, band, Overviews::Average)
    }
}

fn read_band(bytes: &[u8], band: usize) -> Grid {
    let options = OpenOptions {
        band,
        ..OpenOptions::classes()
    };
    let path = Path::new("x.tif");
    let mut file = RasterFile::from_bytes(path, bytes.to_vec(), None, &options).unwrap();
    assert!(file.warnings().is_empty(), "{:?}", file.warnings());
    file.read_all().unwrap().grid
}

fn assert_within(written: &Grid, read: &Grid, tolerance: f32) {
    assert_eq!(written.georeference(), read.georeference());
    assert_eq!(written.cells().len(), read.cells().len());
    for (a, b) in written.cells().iter().zip(read.cells()) {
        let is_same = (a - b).abs() <= tolerance || (a.is_nan() && b.is_nan());
        assert!(is_same, "{a} became {b}");
    }
}

#[test]
fn exact_tiles_and_overviews_leave_the_cells_as_they_are() {
    for big_tiff in [false, true] {
        let grid = loss(700, 530);
        let description = RasterDescription {
            big_tiff,
            ..described(&grid, CellType::Float32)
        };
        let bytes = encode_bands(&description, &[&grid]).unwrap();
        assert_eq!(bytes[2], if big_tiff { 43 } else { 42 });
        assert_within(&grid, &read_band(&bytes, 0), 0.0);
        assert_eq!(bytes, encode_bands(&description, &[&grid]).unwrap());
    }
}

#[test]
fn exact_scaled_cells_come_back_within_half_a_step() {
    let grid = loss(300, 280);
    let mut description = described(&grid, CellType::Unsigned16);
    description.bands[0].scale = 0.01;
    description.bands[0].offset = 50.0;
    let bytes = encode_bands(&description, &[&grid]).unwrap();
    // Half a step, and what 32 bits leave of it.
    assert_within(&grid, &read_band(&bytes, 0), 0.005_01);
}

#[test]
fn exact_bands_keep_apart() {
    let one = loss(300, 280);
    let two = grid(300, 280, one.cells().iter().map(|v| 200.0 - v).collect());
    let three = grid(300, 280, vec![f32::NAN; 300 * 280]);
    for cells in [CellType::Float32, CellType::Signed16, CellType::Unsigned8] {
        let mut description = described(&one, cells);
        let band = |name| Band::new(name, "dB");
        description.bands = vec![band("one"), band("two"), band("three")];
        let bytes = encode_bands(&description, &[&one, &two, &three]).unwrap();
        let tolerance = if cells == CellType::Float32 { 0.0 } else { 0.5 };
        for (i, written) in [&one, &two, &three].into_iter().enumerate() {
            assert_within(written, &read_band(&bytes, i), tolerance);
        }
    }
}

#[test]
fn exact_rows_are_asked_for_once_from_top_to_bottom() {
    let grid = loss(300, 600);
    let description = described(&grid, CellType::Float32);
    let mut asked = Vec::new();
    let bands = [&grid];
    let mut rows = rows_of(&bands);
    let mut bytes = Vec::new();
    let by_rows = |wanted: store::geotiff_out::Rows, cells: &mut [f32]| {
        asked.push((wanted.first, wanted.count));
        rows(wanted, cells)
    };
    write(&description, by_rows, &mut bytes).unwrap();
    assert_eq!(asked, [(0, 256), (256, 256), (512, 88)]);
    assert_eq!(bytes, encode_bands(&description, &[&grid]).unwrap());
}

#[test]
fn exact_failing_rows_leave_the_old_file() {
    let folder = Folder::new("old-file");
    let path = folder.0.join("loss.tif");
    std::fs::write(&path, "as it was").unwrap();
    let grid = loss(40, 40);
    let fail = |_, _: &mut [f32]| Err(std::io::Error::other("interrupted"));
    let error = write_file(&described(&grid, CellType::Float32), fail, &path).unwrap_err();
    assert!(error.to_string().contains("interrupted"), "{error}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "as it was");
    assert_eq!(std::fs::read_dir(&folder.0).unwrap().count(), 1);
}

#[test]
fn exact_nonsense_is_refused() {
    let grid = loss(10, 10);
    let plain = described(&grid, CellType::Float32);
    let mut no_band = plain.clone();
    no_band.bands.clear();
    let mut no_scale = plain.clone();
    no_scale.bands[0].scale = 0.0;
    let no_rows = RasterDescription { height: 0, ..plain };
    for description in [no_band, no_scale, no_rows] {
        let error = encode_bands(&description, &[&grid]).unwrap_err();
        assert!(matches!(error, GeoTiffError::Shape { .. }), "{error}");
    }
}

/// More tile rows than one level's spool keeps in memory.
#[test]
fn exact_noise_larger_than_the_memory_kept_comes_back() {
    let (width, height) = (4600, 4200);
    let noise = |i: usize| {
        let mixed = (i as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        // Every pattern of bits but those of infinities and NaN.
        f32::from_bits((mixed >> 32) as u32 & 0x7eff_ffff)
    };
    let grid = grid(width, height, (0..width * height).map(noise).collect());
    let description = described(&grid, CellType::Float32);
    let bytes = encode_bands(&description, &[&grid]).unwrap();
    assert!(bytes.len() > 64 << 20, "{} bytes", bytes.len());
    assert_within(&grid, &read_band(&bytes, 0), 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_any_shape_comes_back(
        width in 1usize..600,
        height in 1usize..600,
        cells in prop_oneof![
            Just(CellType::Float32), Just(CellType::Signed16),
            Just(CellType::Unsigned16), Just(CellType::Unsigned8),
        ],
        void_every in 2usize..40,
        overviews in prop_oneof![Just(Overviews::Average), Just(Overviews::Nearest)],
    ) {
        let value = |i: usize| if i.is_multiple_of(void_every) { f32::NAN } else { (i % 251) as f32 };
        let grid = grid(width, height, (0..width * height).map(value).collect());
        let description = RasterDescription { overviews, ..described(&grid, cells) };
        let bytes = encode_bands(&description, &[&grid]).unwrap();
        assert_within(&grid, &read_band(&bytes, 0), 0.0);
    }
}

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let folder = format!("geotiff-cog-{name}-{}", std::process::id());
        let folder = std::env::temp_dir().join(folder);
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }

    fn file(&self, name: &str, description: &RasterDescription, bands: &[&Grid]) -> PathBuf {
        let path = self.0.join(name);
        write_file(description, rows_of(bands), &path).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).unwrap();
    }
}

/// What a program of the GDAL package says; `None` where it is not installed.
fn said(program: &str, arguments: &[&str], file: &Path) -> Option<String> {
    let output = Command::new(program).args(arguments).arg(file).output();
    let Ok(output) = output else {
        println!("skipped: reading a written GeoTIFF with GDAL, {program} is not installed");
        return None;
    };
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(complaint.is_empty(), "{program}: {complaint}");
    assert!(output.status.success());
    Some(String::from_utf8_lossy(&output.stdout).into_owned())
}

fn assert_says(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "no `{part}` in:\n{text}");
    }
}

/// Source: `gdalinfo` of whatever GDAL version is installed reads the file
/// without a warning; the checksums are of the cells, so they must be those of
/// the same file without overviews in another layout.
#[test]
fn ref_gdal_reads_a_quantity_cleanly() {
    let folder = Folder::new("quantity");
    let grid = loss(700, 530);
    for big_tiff in [false, true] {
        let mut description = described(&grid, CellType::Float32);
        description.big_tiff = big_tiff;
        description.notes = vec![("MODEL".into(), "P.1812 <50 %> & \"more\"".into())];
        let file = folder.file("loss.tif", &description, &[&grid]);
        let Some(text) = said("gdalinfo", &["-checksum"], &file) else {
            return;
        };
        assert_says(
            &text,
            &[
                "Size is 700, 530",
                "ID[\"EPSG\",32626]",
                "Pixel Size = (30.000000000000000,-30.000000000000000)",
                "MODEL=P.1812 <50 %> & \"more\"",
                "LAYOUT=COG",
                "COMPRESSION=DEFLATE",
                "PREDICTOR=3",
                "Block=256x256 Type=Float32",
                "Description = path loss, 50 % of time",
                "Unit Type: dB",
                "NoData Value=nan",
                "Overviews: 350x265, 175x133",
                "STATISTICS_MINIMUM=80",
            ],
        );
        let json = said("gdalinfo", &["-json"], &file).unwrap();
        assert_says(&json, &["\"unit\":\"dB\"", "\"LAYOUT\":\"COG\""]);
    }
}

#[test]
fn ref_gdal_reads_scaled_bands_and_coloured_classes() {
    let folder = Folder::new("bands");
    let grid = loss(700, 530);
    let mut two = described(&grid, CellType::Signed16);
    two.bands.push(Band {
        scale: 0.01,
        offset: 100.0,
        ..Band::new("second", "dBm")
    });
    let file = folder.file("two.tif", &two, &[&grid, &grid]);
    let Some(text) = said("gdalinfo", &["-stats"], &file) else {
        return;
    };
    assert_says(
        &text,
        &[
            "INTERLEAVE=PIXEL",
            "LAYOUT=COG",
            "PREDICTOR=2",
            "NoData Value=-32768",
            "Description = second",
            "Unit Type: dBm",
            "Offset: 100,   Scale:0.01",
        ],
    );
    let classes = self::grid(700, 530, (0..700 * 530).map(|i| (i % 3) as f32).collect());
    let mut coloured = described(&classes, CellType::Unsigned8);
    coloured.overviews = Overviews::Nearest;
    coloured.palette = Some(vec![[1, 2, 3], [40, 50, 60], [255, 254, 253]]);
    let file = folder.file("classes.tif", &coloured, &[&classes]);
    let text = said("gdalinfo", &[], &file).unwrap();
    assert_says(
        &text,
        &[
            "ColorInterp=Palette",
            "1: 40,50,60,255",
            "2: 255,254,253,255",
            "NoData Value=255",
        ],
    );
}

/// The overviews hold what they say: the mean of the valid cells, or the
/// upper left one. Source: `gdallocationinfo` reads them.
#[test]
fn ref_gdal_reads_the_overviews() {
    let folder = Folder::new("overviews");
    let mut cells = vec![1.0; 300 * 300];
    cells[..2].copy_from_slice(&[5.0, f32::NAN]);
    cells[300..302].copy_from_slice(&[f32::NAN, 8.0]);
    let grid = grid(300, 300, cells);
    for (overviews, expected) in [(Overviews::Average, "6.5"), (Overviews::Nearest, "5")] {
        let description = RasterDescription {
            overviews,
            ..described(&grid, CellType::Float32)
        };
        let file = folder.file("small.tif", &description, &[&grid]);
        let place = ["-valonly", "-overview", "1"];
        let output = Command::new("gdallocationinfo")
            .args(place)
            .arg(&file)
            .args(["0", "0"])
            .output();
        let Ok(output) = output else {
            println!("skipped: reading overviews with GDAL, gdallocationinfo is not installed");
            return;
        };
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), expected);
    }
}

/// Source: the validator that GDAL's Python package brings, after OGC 21-026.
#[test]
fn ref_validator_finds_nothing() {
    let folder = Folder::new("validator");
    let module = "osgeo_utils.samples.validate_cloud_optimized_geotiff";
    let grid = loss(1500, 900);
    for (big_tiff, cells) in [(false, CellType::Float32), (true, CellType::Unsigned8)] {
        let mut description = described(&grid, cells);
        description.big_tiff = big_tiff;
        let file = folder.file("valid.tif", &description, &[&grid]);
        let run = |python: &str| {
            let output = Command::new(python)
                .args(["-m", module])
                .arg(&file)
                .output();
            let output = output.ok()?;
            let text = [&output.stdout[..], &output.stderr[..]].concat();
            let text = String::from_utf8_lossy(&text).into_owned();
            (!text.contains("No module named")).then_some((output.status.success(), text))
        };
        let Some((is_valid, text)) = run("python3").or_else(|| run("/usr/bin/python3")) else {
            println!("skipped: validating a written GeoTIFF, Python's GDAL module is not here");
            return;
        };
        let has_complaint = text.contains("warning") || text.contains("error");
        assert!(is_valid && !has_complaint, "{text}");
        assert!(
            text.contains("is a valid cloud optimized GeoTIFF"),
            "{text}"
        );
    }
}
