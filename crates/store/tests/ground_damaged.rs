//! Damaged, cut and hostile files: an error or a grid, never a panic. The
//! files are small and made here.

use std::io::Write;
use std::path::Path;

use proptest::prelude::*;
use raster::CellWindow;
use store::ground::{GroundError, OpenOptions, RasterFile, Reading};

const SIDE: u32 = 20;

/// Elevations of the small rasters: different in every cell.
fn elevation(i: u32) -> i16 {
    (i * 3) as i16 + 100
}

/// A little-endian TIFF of one image from its tags, each with a type, its
/// values as bytes, and block data; tags of block offsets are filled in.
struct Tiff {
    tags: Vec<(u16, u16, Vec<u8>)>,
    blocks: Vec<Vec<u8>>,
}

impl Tiff {
    fn shorts(&mut self, tag: u16, values: &[u16]) -> &mut Self {
        let bytes = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.tags.push((tag, 3, bytes));
        self
    }

    fn doubles(&mut self, tag: u16, values: &[f64]) -> &mut Self {
        let bytes = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.tags.push((tag, 12, bytes));
        self
    }

    fn longs(&mut self, tag: u16, values: &[u32]) -> &mut Self {
        let bytes = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.tags.push((tag, 4, bytes));
        self
    }

    /// The file; `offsets` and `counts` are the tags of the block tables.
    fn bytes(&mut self, offsets: u16, counts: u16) -> Vec<u8> {
        let mut file = b"II*\0\0\0\0\0".to_vec();
        let mut starts = Vec::new();
        let sizes: Vec<u32> = self.blocks.iter().map(|b| b.len() as u32).collect();
        for block in &self.blocks {
            starts.push(file.len() as u32);
            file.extend(block);
        }
        self.longs(offsets, &starts).longs(counts, &sizes);
        self.tags.sort_by_key(|t| t.0);
        let mut places = Vec::new();
        for (_, _, values) in &self.tags {
            places.push(file.len() as u32);
            if values.len() > 4 {
                file.extend(values);
            }
        }
        let directory = file.len() as u32;
        file[4..8].copy_from_slice(&directory.to_le_bytes());
        file.extend((self.tags.len() as u16).to_le_bytes());
        for ((tag, kind, values), place) in self.tags.iter().zip(places) {
            let size = match kind {
                3 => 2,
                4 => 4,
                12 => 8,
                _ => 1,
            };
            file.extend(tag.to_le_bytes());
            file.extend(kind.to_le_bytes());
            file.extend(((values.len() / size) as u32).to_le_bytes());
            let mut field = [0; 4];
            if values.len() > 4 {
                field = place.to_le_bytes();
            } else {
                field[..values.len()].copy_from_slice(values);
            }
            file.extend(field);
        }
        file.extend([0; 4]);
        file
    }
}

/// Tags that all the small TIFFs share: 20 x 20 cells of 16 bits, 30 m, UTM.
fn tags(compression: u16, predictor: u16) -> Tiff {
    let mut tiff = Tiff {
        tags: Vec::new(),
        blocks: Vec::new(),
    };
    tiff.shorts(256, &[SIDE as u16])
        .shorts(257, &[SIDE as u16])
        .shorts(258, &[16]);
    tiff.shorts(259, &[compression])
        .shorts(262, &[1])
        .shorts(277, &[1]);
    tiff.shorts(317, &[predictor]).shorts(339, &[2]);
    tiff.doubles(33_550, &[30.0, 30.0, 0.0]);
    tiff.doubles(33_922, &[0.0, 0.0, 0.0, 290_000.0, 4_870_000.0, 0.0]);
    let keys = [1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 32_612];
    tiff.shorts(34_735, &keys);
    tiff.tags.push((42_113, 2, b"-9999\0".to_vec()));
    tiff
}

fn plain_strips() -> Vec<u8> {
    let mut tiff = tags(1, 1);
    tiff.shorts(278, &[7]);
    for strip in (0..SIDE * SIDE)
        .collect::<Vec<_>>()
        .chunks((7 * SIDE) as usize)
    {
        tiff.blocks.push(
            strip
                .iter()
                .flat_map(|i| elevation(*i).to_le_bytes())
                .collect(),
        );
    }
    tiff.bytes(273, 279)
}

fn deflated_tiles() -> Vec<u8> {
    let mut tiff = tags(8, 2);
    tiff.shorts(322, &[16]).shorts(323, &[16]);
    for (top, left) in [(0, 0), (0, 16), (16, 0), (16, 16)] {
        let mut raw = Vec::new();
        for row in top..top + 16 {
            let mut before = 0_i16;
            for col in left..left + 16 {
                let inside = row < SIDE && col < SIDE;
                let value = if inside {
                    elevation(row * SIDE + col)
                } else {
                    0
                };
                raw.extend(value.wrapping_sub(before).to_le_bytes());
                before = value;
            }
        }
        let mut encoder =
            flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
        encoder.write_all(&raw).expect("a vector takes all");
        tiff.blocks
            .push(encoder.finish().expect("a vector takes all"));
    }
    tiff.bytes(324, 325)
}

fn packed_strip(compression: u16) -> Vec<u8> {
    let mut tiff = tags(compression, 1);
    let raw: Vec<u8> = (0..SIDE * SIDE)
        .flat_map(|i| elevation(i).to_le_bytes())
        .collect();
    tiff.blocks.push(match compression {
        5 => weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8)
            .encode(&raw)
            .expect("LZW takes any bytes"),
        50_000 => zstd::encode_all(&raw[..], 3).expect("a vector takes all"),
        // PackBits: literal runs of up to 128 bytes.
        _ => raw
            .chunks(100)
            .flat_map(|c| [&[c.len() as u8 - 1], c].concat())
            .collect(),
    });
    tiff.bytes(273, 279)
}

const PRJ: &str = r#"PROJCS["UTM 12N",GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",-111.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]"#;

fn ascii() -> Vec<u8> {
    let mut text = String::from(
        "ncols 20\nnrows 20\nxllcorner 290000\nyllcorner 4869400\ncellsize 30\nNODATA_value -9999\n",
    );
    for i in 0..SIDE * SIDE {
        text += &format!(
            "{}{}",
            elevation(i),
            if i % SIDE == SIDE - 1 { "\n" } else { " " }
        );
    }
    text.into_bytes()
}

fn open(name: &str, bytes: Vec<u8>) -> Result<Reading, GroundError> {
    let prj = name.ends_with(".asc").then(|| PRJ.to_owned());
    let mut file = RasterFile::from_bytes(Path::new(name), bytes, prj, &OpenOptions::elevation())?;
    file.read_all()
}

fn small_files() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("strips.tif", plain_strips()),
        ("tiles.tif", deflated_tiles()),
        ("lzw.tif", packed_strip(5)),
        ("zstd.tif", packed_strip(50_000)),
        ("packbits.tif", packed_strip(32_773)),
        ("grid.asc", ascii()),
    ]
}

#[test]
fn exact_small_files_are_read() {
    for (name, bytes) in small_files() {
        let grid = open(name, bytes)
            .unwrap_or_else(|e| panic!("{name}: {e}"))
            .grid;
        assert_eq!((grid.width(), grid.height()), (20, 20), "{name}");
        let expected = (0..SIDE * SIDE).map(|i| f32::from(elevation(i)));
        assert!(grid.cells().iter().copied().eq(expected), "{name}");
        let origin = grid.georeference().affine().origin();
        assert_eq!((origin.x, origin.y), (290_000.0, 4_870_000.0), "{name}");
    }
}

#[test]
fn exact_every_cut_is_refused() {
    for (name, bytes) in small_files() {
        // A text may lose its last line end.
        let last = if name == "grid.asc" {
            bytes.len() - 5
        } else {
            bytes.len() - 1
        };
        for length in 0..last {
            let error = open(name, bytes[..length].to_vec()).expect_err(name);
            assert!(
                error.to_string().contains("hint:"),
                "{name} at {length}: {error}"
            );
        }
    }
}

#[test]
fn exact_hgt_tile_of_three_seconds() {
    let posts = (0..1201_u32 * 1201).flat_map(|i| ((i % 3000) as i16).to_be_bytes());
    let mut bytes: Vec<u8> = posts.collect();
    bytes[..2].copy_from_slice(&i16::MIN.to_be_bytes());
    let grid = open("N47E009.hgt", bytes.clone()).expect("a tile").grid;
    assert!(grid.cells()[0].is_nan());
    let corner = geodesy::LonLat::new(10.0, 47.0).expect("a place");
    // The last post, on the degree lines but for their rounding.
    let last = f64::from((1201 * 1201 - 1) % 3000);
    assert!((grid.bilinear(corner) - last).abs() < 1e-6);
    bytes.pop();
    assert!(matches!(
        open("N47E009.hgt", bytes),
        Err(GroundError::HgtSize { .. })
    ));
}

#[test]
fn exact_ascii_that_is_not_understood() {
    let text = |from: &str, to: &str| {
        let text = String::from_utf8(ascii()).expect("text");
        open("grid.asc", text.replacen(from, to, 1).into_bytes())
    };
    assert!(text("ncols 20", "ncols 20").is_ok());
    assert!(text("ncols 20", "NCOLS\r\n20").is_ok());
    for (from, to) in [
        ("ncols 20", "ncols 0"),
        ("ncols 20", "ncols 2e9"),
        ("ncols 20", "ncols 20\nncols 20"),
        ("ncols 20", "ncols 19"),
        ("ncols 20", "columns 20"),
        ("cellsize 30", "cellsize -30"),
        ("cellsize 30", ""),
        (" 103 ", " 103,5 "),
        (" 103 ", " x "),
        (" 103 ", " "),
        (" 103 ", " 103 104 "),
    ] {
        let error = text(from, to).expect_err(to);
        assert!(error.to_string().contains("hint:"), "{to}: {error}");
    }
}

/// Opens and reads whatever the bytes are; what comes out must be whole.
fn survive(name: &str, bytes: Vec<u8>) {
    let prj = name.ends_with(".asc").then(|| PRJ.to_owned());
    let file = RasterFile::from_bytes(Path::new(name), bytes, prj, &OpenOptions::elevation());
    let Ok(mut file) = file else { return };
    let window = CellWindow {
        col: 0,
        row: 0,
        width: 64,
        height: 64,
    };
    if let Ok(reading) = file.read_window(window) {
        let grid = reading.grid;
        assert_eq!(grid.cells().len(), grid.width() * grid.height());
        let plausible = |v: &f32| v.is_nan() || (-500.0..=9000.0).contains(v);
        assert!(grid.cells().iter().all(plausible), "{name}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_mutations_never_panic(
        which in 0..6_usize,
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), any::<bool>()), 1..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let (name, mut bytes) = small_files().swap_remove(which);
        // Half of the edits fall into the directory, where they do most.
        let directory = bytes.len().saturating_sub(420);
        for (at, value, anywhere) in edits {
            let at = if anywhere { at.index(bytes.len()) } else { directory + at.index(bytes.len() - directory) };
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        survive(name, bytes);
    }

    #[test]
    fn exact_random_bytes_never_panic(
        head in prop::sample::select(vec![&b"II*\0"[..], b"MM\0*", b"II+\0\x08\0\0\0", b"PK\x03\x04", b"ncols 3 nrows 3 ", b""]),
        tail in prop::collection::vec(any::<u8>(), 0..300),
        name in prop::sample::select(vec!["a.tif", "grid.asc", "N00E000.hgt"]),
    ) {
        survive(name, [head, &tail].concat());
    }
}
