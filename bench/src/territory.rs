//! A territory of 200 × 200 km at 30 m with 100 masts: seconds and the most
//! memory that the program takes, at first and when all losses are kept.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::{Context, ensure};
use geodesy::{Crs, LonLat, MapXy};
use raster::{Affine, Georeference};
use store::geotiff_out::{Band, CellType, Overviews, RasterDescription, TileSide, write_file};

use crate::Figure;

const CELL_M: f64 = 30.0;
pub(crate) const EPSG: u32 = 32_632;
/// Easting and northing of the territory's south-western corner.
pub(crate) const CORNER_M: [f64; 2] = [400_000.0, 5_200_000.0];
/// Masts along a side, as far apart as the side divided by them.
const MASTS_ACROSS: usize = 10;

pub(crate) fn measure() -> anyhow::Result<Vec<Figure>> {
    let program = std::env::current_exe()?.with_file_name("mastwright");
    if !program.exists() {
        println!("territory: left out, {} is not built", program.display());
        return Ok(Vec::new());
    }
    let side_m: f64 = match std::env::var("MASTWRIGHT_TERRITORY_KM") {
        Ok(km) => 1e3 * km.parse::<f64>().context("MASTWRIGHT_TERRITORY_KM")?,
        Err(_) => 200e3,
    };
    let folder = tempfile::tempdir()?;
    let start = Instant::now();
    write_terrain(folder.path(), side_m)?;
    write_design(folder.path(), side_m)?;
    println!("territory: made in {:.0?}", start.elapsed());
    let first = Ran::of(&program, folder.path())?;
    let again = Ran::of(&program, folder.path())?;
    ensure!(
        again.swept == 0,
        "the second run found {} losses missing",
        again.swept
    );
    let cells = first.cells;
    Ok(vec![
        Figure::plain("territory_cells", cells, "cells"),
        Figure::plain("territory_launch_points", first.launch_points, ""),
        Figure::plain("territory_first_s", first.wall_s, "s"),
        Figure::at_most("territory_first_peak_gib", first.peak_gib, "GiB", 4.0),
        Figure::plain("territory_kept_s", again.wall_s, "s"),
        Figure::at_most("territory_kept_peak_gib", again.peak_gib, "GiB", 4.0),
        Figure::plain("territory_cache_gb", cache_gb(folder.path())?, "GB"),
    ])
}

/// What a run of the program took.
struct Ran {
    wall_s: f64,
    peak_gib: f64,
    cells: f64,
    launch_points: f64,
    swept: u64,
}

impl Ran {
    fn of(program: &Path, folder: &Path) -> anyhow::Result<Self> {
        // A file: a pipe that nobody empties would hold the program up.
        let answer = folder.join("answer.json");
        let start = Instant::now();
        let mut child = Command::new(program)
            .arg("cover")
            .arg(folder)
            .args(["--cell-m", "30", "--what", "server,rate-down", "--json"])
            .stdout(File::create(&answer)?)
            .spawn()?;
        let status = PathBuf::from(format!("/proc/{}/status", child.id()));
        let mut peak_kib = 0.0_f64;
        while child.try_wait()?.is_none() {
            // The kernel keeps the high-water mark: the last look before the end counts.
            peak_kib = peak_kib.max(high_water_kib(&status).unwrap_or(0.0));
            std::thread::sleep(Duration::from_millis(20));
        }
        let wall_s = start.elapsed().as_secs_f64();
        let status = child.wait()?;
        let told: serde_json::Value = serde_json::from_slice(&fs::read(&answer)?)
            .with_context(|| format!("the program ended with {status}"))?;
        let number = |value: &serde_json::Value| value.as_f64().context("a figure is missing");
        Ok(Self {
            wall_s,
            peak_gib: peak_kib / f64::from(1 << 20),
            cells: number(&told["columns"])? * number(&told["rows"])?,
            launch_points: number(&told["reuse"]["launch_points"])?,
            swept: told["reuse"]["swept_launch_points"]
                .as_u64()
                .unwrap_or(u64::MAX),
        })
    }
}

fn high_water_kib(status: &Path) -> Option<f64> {
    let text = fs::read_to_string(status).ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

fn cache_gb(folder: &Path) -> anyhow::Result<f64> {
    let mut bytes = 0;
    for entry in fs::read_dir(folder.join("results/cache"))? {
        bytes += entry?.metadata()?.len();
    }
    Ok(bytes as f64 / 1e9)
}

/// Ridges and valleys of several sizes, a margin beyond the territory.
pub(crate) fn write_terrain(folder: &Path, side_m: f64) -> anyhow::Result<()> {
    const MARGIN_M: f64 = 6_000.0;
    let cells = ((side_m + 2.0 * MARGIN_M) / CELL_M).ceil() as usize;
    let origin = MapXy {
        x: CORNER_M[0] - MARGIN_M,
        y: CORNER_M[1] + side_m + MARGIN_M,
    };
    let affine = Affine::north_up(origin, CELL_M, CELL_M)?;
    let description = RasterDescription {
        georeference: Georeference::new(Crs::from_epsg(EPSG)?, affine, cells, cells),
        width: cells,
        height: cells,
        cells: CellType::Signed16,
        bands: vec![Band::new("made-up heights", "m")],
        overviews: Overviews::Average,
        palette: None,
        notes: Vec::new(),
        tile: TileSide::default(),
        big_tiff: false,
    };
    let height_m = |x: f64, y: f64| {
        let wave = |length_m: f64, turn: f64| {
            let (sin, cos) = f64::sin_cos(turn);
            let u = (x * cos + y * sin) / length_m;
            let v = (y * cos - x * sin) / (1.7 * length_m);
            u.sin() * (v + 0.6 * u.cos()).cos()
        };
        let broad = 160.0 * wave(5_300.0, 0.4) + 90.0 * wave(1_900.0, 1.3);
        let fine = 35.0 * wave(610.0, 2.2) + 9.0 * wave(170.0, 0.9) + 3.0 * wave(61.0, 2.9);
        (600.0 + broad + fine) as f32
    };
    let rows = |rows: store::geotiff_out::Rows, to: &mut [f32]| {
        for (i, cell) in to.iter_mut().enumerate() {
            let (col, row) = (i % cells, rows.first + i / cells);
            *cell = height_m(col as f64 * CELL_M, row as f64 * CELL_M).round();
        }
        Ok(())
    };
    Ok(write_file(&description, rows, &folder.join("terrain.tif"))?)
}

fn write_design(folder: &Path, side_m: f64) -> anyhow::Result<()> {
    let crs = Crs::from_epsg(EPSG)?;
    let place = |east_m: f64, north_m: f64| {
        let x = CORNER_M[0] + east_m;
        let y = CORNER_M[1] + north_m;
        crs.to_lonlat(MapXy { x, y })
    };
    let (south_west, north_east) = (place(0.0, 0.0)?, place(side_m, side_m)?);
    let corner = |p: LonLat| format!("[{:.6}, {:.6}]", p.lon_deg(), p.lat_deg());
    let mut text = HEAD
        .replace("SOUTH_WEST", &corner(south_west))
        .replace("NORTH_EAST", &corner(north_east));
    let apart_m = side_m / MASTS_ACROSS as f64;
    for mast in 0..MASTS_ACROSS * MASTS_ACROSS {
        let (col, row) = (mast % MASTS_ACROSS, mast / MASTS_ACROSS);
        let at = place((col as f64 + 0.5) * apart_m, (row as f64 + 0.5) * apart_m)?;
        let (lon, lat) = (at.lon_deg(), at.lat_deg());
        write!(
            text,
            "\n[[mast]]\nid = \"m{mast}\"\nname = \"M{mast}\"\nlon = {lon:.6}\nlat = {lat:.6}\nheight_agl_m = 45\n"
        )?;
        let channel_mhz = 3_600 + 20 * ((col + 2 * row) % 4);
        for azimuth_deg in [0, 120, 240] {
            write!(
                text,
                "\n[[sector]]\nid = \"m{mast}-{azimuth_deg}\"\nmast = \"m{mast}\"\nazimuth_deg = {azimuth_deg}\nheight_agl_m = 40\nchannel_mhz = {channel_mhz}\n"
            )?;
        }
    }
    fs::write(folder.join("mastwright.toml"), text)?;
    fs::write(folder.join("plans.toml"), PLAN)?;
    Ok(fs::write(folder.join("premises.csv"), "id,lon,lat\n")?)
}

const HEAD: &str = r#"[project]
name = "large"

[territory]
south_west = SOUTH_WEST
north_east = NORTH_EAST

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain.tif"]

[propagation]
reach_km = 15
interference_reach_km = 30

[climate]
refractivity_lapse_n_per_km = 45
surface_refractivity_n = 325
rain_001_mm_per_h = 42
gradient_1pct_n_per_km = -200

[defaults]
antenna = "sector-90-3500"
base_station = "base-2x2-3500"
terminal = "terminal-panel-18-3500"
plan = "small"
mount_height_agl_m = 6
"#;

pub(crate) const PLAN: &str = r#"[[plan]]
id = "small"
name = "Small 2/0.2"
scheduling_class = "BE"
downlink_mbps = 2
uplink_mbps = 0.2
busy_hour_downlink_mbps = 0.4
busy_hour_uplink_mbps = 0.05
target_probability_frac = 0.9
"#;
