//! The projects that are served.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use demo::DemoContent;
use geodesy::{Crs, MapXy};
use store::geotiff_out::{CellType, encode};

use crate::territory::{CORNER_M, EPSG, PLAN, write_terrain};

/// Farthest that the one mast serves: 1.4 million cells of 30 m.
const RADIUS_M: f64 = 20e3;

pub(super) fn write_demo(folder: &Path) -> anyhow::Result<()> {
    for file in demo::files() {
        let path = folder.join(file.path);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        let bytes = match file.content {
            DemoContent::Text(text) => text.into_bytes(),
            DemoContent::Elevation(grid) => encode(&grid, CellType::Float32)?,
            DemoContent::Classes(grid) => encode(&grid, CellType::Unsigned8)?,
        };
        fs::write(path, bytes)?;
    }
    Ok(())
}

/// Three sectors on one mast, hills around it as far as they serve.
pub(super) fn write_around_a_mast(folder: &Path, premises: usize) -> anyhow::Result<()> {
    fs::create_dir_all(folder)?;
    write_terrain(folder, 2.0 * RADIUS_M)?;
    let crs = Crs::from_epsg(EPSG)?;
    let place = |east_m: f64, north_m: f64| {
        let (x, y) = (CORNER_M[0] + east_m, CORNER_M[1] + north_m);
        crs.to_lonlat(MapXy { x, y })
    };
    let (south_west, north_east) = (place(0.0, 0.0)?, place(2.0 * RADIUS_M, 2.0 * RADIUS_M)?);
    let mast = place(RADIUS_M, RADIUS_M)?;
    let corner = |p: geodesy::LonLat| format!("[{:.6}, {:.6}]", p.lon_deg(), p.lat_deg());
    let mut design = HEAD
        .replace("SOUTH_WEST", &corner(south_west))
        .replace("NORTH_EAST", &corner(north_east));
    let (lon, lat) = (mast.lon_deg(), mast.lat_deg());
    write!(
        design,
        "\n[[mast]]\nid = \"m\"\nname = \"M\"\nlon = {lon:.6}\nlat = {lat:.6}\nheight_agl_m = 45\n"
    )?;
    for (azimuth_deg, channel_mhz) in [(0, 3_600), (120, 3_620), (240, 3_600)] {
        write!(
            design,
            "\n[[sector]]\nid = \"m-{azimuth_deg}\"\nmast = \"m\"\nazimuth_deg = {azimuth_deg}\nheight_agl_m = 40\nchannel_mhz = {channel_mhz}\nmechanical_downtilt_deg = 1\n"
        )?;
    }
    fs::write(folder.join("mastwright.toml"), design)?;
    fs::write(folder.join("plans.toml"), PLAN)?;
    let mut table = "id,lon,lat,name,plan,mount_height_agl_m\n".to_owned();
    for i in 0..premises {
        // Turning by the golden angle spreads them evenly.
        let share = ((i as f64 + 0.5) / premises as f64).sqrt();
        let (sin, cos) = (i as f64 * 2.399_963).sin_cos();
        let away_m = 0.9 * RADIUS_M * share;
        let at = place(RADIUS_M + away_m * sin, RADIUS_M + away_m * cos)?;
        let (lon, lat) = (at.lon_deg(), at.lat_deg());
        writeln!(table, "p{i:05},{lon:.6},{lat:.6},House {i},small,6")?;
    }
    Ok(fs::write(folder.join("premises.csv"), table)?)
}

const HEAD: &str = r#"[project]
name = "around a mast"

[territory]
south_west = SOUTH_WEST
north_east = NORTH_EAST

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain.tif"]

[propagation]
reach_km = 20
interference_reach_km = 20

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
