//! A territory of some tiles: killed among the losses and again among the
//! tiles, it ends as one that nobody disturbed, in memory that does not follow
//! its size.

#![cfg(target_os = "linux")]

use std::fmt::Write as _;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::Duration;

use geodesy::{Crs, LonLat, MapXy};
use raster::{Affine, Georeference};
use serde_json::Value;
use store::geotiff_out::{
    Band, CellType, Overviews, RasterDescription, Rows, TileSide, write_file,
};
use tempfile::TempDir;

use crate::program::command;

const EPSG: u32 = 32_632;
const CELL_M: f64 = 45.0;
const SIDE_M: f64 = 60e3;
const MASTS_ACROSS: u32 = 3;
/// Quantities that a tile holds.
const LAYERS: f64 = 14.0;
/// South-western corner.
const CORNER_M: [f64; 2] = [400_000.0, 5_200_000.0];

struct Territory {
    folder: TempDir,
}

/// What a run came to.
struct Ran {
    told: Value,
    peak_mib: f64,
}

impl Territory {
    /// Hills, a mast on each square of 20 km.
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        write_terrain(&folder.path().join("terrain.tif"));
        fs::write(folder.path().join("mastwright.toml"), design()).unwrap();
        fs::write(folder.path().join("plans.toml"), PLAN).unwrap();
        fs::write(folder.path().join("premises.csv"), "id,lon,lat\n").unwrap();
        Self { folder }
    }

    fn path(&self, file: &str) -> PathBuf {
        self.folder.path().join(file)
    }

    fn cover(&self) -> Child {
        let answer = File::create(self.path("answer.json")).unwrap();
        let mut command = command();
        command.arg("cover").arg(self.folder.path());
        command.args(["--cell-m", "45", "--what", "server,rate-down"]);
        command.args(["--threads", "2", "--json"]);
        command.stdout(answer).stderr(Stdio::null());
        command.spawn().unwrap()
    }

    /// To the end.
    fn covered(&self) -> Ran {
        let mut child = self.cover();
        let status = PathBuf::from(format!("/proc/{}/status", child.id()));
        let mut peak_kib = 0.0_f64;
        // The kernel keeps the high-water mark: the last look before the end counts.
        while child.try_wait().unwrap().is_none() {
            peak_kib = peak_kib.max(high_water_kib(&status).unwrap_or(0.0));
            std::thread::sleep(Duration::from_millis(5));
        }
        let answer = fs::read(self.path("answer.json")).unwrap();
        Ran {
            told: serde_json::from_slice(&answer).unwrap(),
            peak_mib: peak_kib / 1024.0,
        }
    }

    /// Killed as soon as so many results are kept.
    fn killed_at(&self, kept: usize) {
        let mut child = self.cover();
        while self.kept() < kept {
            assert!(
                child.try_wait().unwrap().is_none(),
                "too short to be killed"
            );
            std::thread::sleep(Duration::from_millis(2));
        }
        child.kill().unwrap();
        child.wait().unwrap();
        assert!(!self.path("results/coverage/best_server.tif").exists());
    }

    fn kept(&self) -> usize {
        let Ok(entries) = fs::read_dir(self.path("results/cache")) else {
            return 0;
        };
        let names = entries.map(|e| e.unwrap().path());
        names
            .filter(|p| p.extension().is_some_and(|e| e == "layers"))
            .count()
    }

    fn rasters(&self) -> [Vec<u8>; 2] {
        ["best_server", "downlink_ethernet_rate_mbps"]
            .map(|name| fs::read(self.path(&format!("results/coverage/{name}.tif"))).unwrap())
    }
}

fn high_water_kib(status: &Path) -> Option<f64> {
    let text = fs::read_to_string(status).ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// The program took 136 MiB where this was written, 56 of which are the layers
/// of one tile. A machine's allocator may add some; all layers of all tiles and
/// all losses together, which nothing may hold, would add more.
const MOST_MIB: f64 = 170.0;

#[test]
fn exact_a_large_territory_is_taken_up_again_and_stays_small_in_memory() {
    let reuse = |ran: &Ran, what: &str| ran.told["reuse"][what].as_u64().unwrap();
    let whole = Territory::new();
    let ran = whole.covered();
    let (masts, tiles) = (reuse(&ran, "launch_points"), reuse(&ran, "tiles"));
    let cells = [&ran.told["columns"], &ran.told["rows"]].map(|n| n.as_f64().unwrap());
    let all_mib = cells[0] * cells[1] * 4.0 * LAYERS / f64::from(1 << 20);
    println!(
        "{masts} launch points, {tiles} tiles, {all_mib:.0} MiB of results, at most {:.0} MiB in memory",
        ran.peak_mib
    );
    assert!(
        ran.peak_mib > 1.0 && ran.peak_mib < MOST_MIB,
        "{} MiB",
        ran.peak_mib
    );
    // Losses for service, losses for interference and what their elevations are, mast by mast;
    // then the tiles.
    let among_tiles = 3 * masts as usize + 2;
    assert_eq!(whole.kept(), 3 * masts as usize + tiles as usize);
    let resumed = Territory::new();
    resumed.killed_at(4);
    resumed.killed_at(among_tiles);
    let ran = resumed.covered();
    assert_eq!(reuse(&ran, "swept_launch_points"), 0);
    let composed = reuse(&ran, "composed_tiles");
    assert!((1..=tiles - 2).contains(&composed), "{composed} of {tiles}");
    assert!(resumed.rasters() == whole.rasters());
}

fn write_terrain(path: &Path) {
    const MARGIN_M: f64 = 4_500.0;
    let cells = ((SIDE_M + 2.0 * MARGIN_M) / CELL_M).ceil() as usize;
    let origin = MapXy {
        x: CORNER_M[0] - MARGIN_M,
        y: CORNER_M[1] + SIDE_M + MARGIN_M,
    };
    let affine = Affine::north_up(origin, CELL_M, CELL_M).unwrap();
    let description = RasterDescription {
        georeference: Georeference::new(Crs::from_epsg(EPSG).unwrap(), affine, cells, cells),
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
    let rows = |rows: Rows, to: &mut [f32]| {
        for (i, cell) in to.iter_mut().enumerate() {
            let (x, y) = ((i % cells) as f32, (rows.first + i / cells) as f32);
            let hills = 90.0 * (x / 31.0).sin() * (y / 43.0 + 0.4 * (x / 70.0).cos()).cos();
            *cell = (600.0 + hills + 12.0 * (x / 5.3).sin() * (y / 7.1).sin()).round();
        }
        Ok(())
    };
    write_file(&description, rows, path).unwrap();
}

fn design() -> String {
    let crs = Crs::from_epsg(EPSG).unwrap();
    let place = |east_m: f64, north_m: f64| {
        let (x, y) = (CORNER_M[0] + east_m, CORNER_M[1] + north_m);
        crs.to_lonlat(MapXy { x, y }).unwrap()
    };
    let corner = |p: LonLat| format!("[{:.6}, {:.6}]", p.lon_deg(), p.lat_deg());
    let mut text = HEAD
        .replace("SOUTH_WEST", &corner(place(0.0, 0.0)))
        .replace("NORTH_EAST", &corner(place(SIDE_M, SIDE_M)));
    let apart_m = SIDE_M / f64::from(MASTS_ACROSS);
    for mast in 0..MASTS_ACROSS * MASTS_ACROSS {
        let (col, row) = (mast % MASTS_ACROSS, mast / MASTS_ACROSS);
        let middle = |n: u32| (f64::from(n) + 0.5) * apart_m;
        let at = place(middle(col), middle(row));
        let (lon, lat) = (at.lon_deg(), at.lat_deg());
        write!(
            text,
            "\n[[mast]]\nid = \"m{mast}\"\nname = \"M{mast}\"\nlon = {lon:.6}\nlat = {lat:.6}\nheight_agl_m = 45\n"
        )
        .unwrap();
        for azimuth_deg in [0, 180] {
            write!(
                text,
                "\n[[sector]]\nid = \"m{mast}-{azimuth_deg}\"\nmast = \"m{mast}\"\nazimuth_deg = {azimuth_deg}\nheight_agl_m = 40\nchannel_mhz = {}\n",
                3_600 + 20 * ((col + row) % 2)
            )
            .unwrap();
        }
    }
    text
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
reach_km = 10
interference_reach_km = 15

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

const PLAN: &str = r#"[[plan]]
id = "small"
name = "Small 2/0.2"
scheduling_class = "BE"
downlink_mbps = 2
uplink_mbps = 0.2
busy_hour_downlink_mbps = 0.4
busy_hour_uplink_mbps = 0.05
target_probability_frac = 0.9
"#;
