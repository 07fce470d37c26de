//! A network on the Santa Ana Mountains: real 30 m terrain and land cover
//! (LANDFIRE, public domain), invented masts, sectors and premises.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

/// Masts: id, longitude, latitude. The first two stand on hills, the others in valleys.
const MASTS: [(&str, f64, f64); 4] = [
    ("ridge", -117.5437505, 33.7739753),
    ("basin", -117.4504429, 33.8365829),
    ("lake", -117.3500, 33.6900),
    ("north", -117.6000, 33.9000),
];

/// Premises of the project.
pub const PREMISES: usize = 1_000;

/// Sectors of the project: four a mast.
pub const SECTORS: usize = 16;

/// Writes the project folder: design, plans, premises and the two rasters
/// copied from `shared`.
pub fn write_project(dir: &Path, shared: &Path) -> io::Result<()> {
    let geodata = shared.join("geodata/santa-ana");
    for (folder, file) in [("terrain", "dem.tif"), ("landcover", "fbfm40.tif")] {
        fs::create_dir_all(dir.join(folder))?;
        fs::copy(geodata.join(file), dir.join(folder).join(file))?;
    }
    fs::write(dir.join("mastwright.toml"), design())?;
    fs::write(dir.join("plans.toml"), PLANS)?;
    fs::write(dir.join("premises.csv"), premises_csv(PREMISES))
}

/// The design: four sectors a mast, each on a channel of its own; the ten
/// channels of the band come round again between masts.
pub fn design() -> String {
    let mut text = String::from(HEAD);
    for (m, (mast, lon, lat)) in MASTS.into_iter().enumerate() {
        let _ = write!(
            text,
            "\n[[mast]]\nid = \"{mast}\"\nname = \"Mast {mast}\"\nlon = {lon}\nlat = {lat}\nheight_agl_m = 30\n"
        );
        for (i, azimuth_deg) in [0, 90, 180, 270].into_iter().enumerate() {
            let channel_mhz = 3560 + 20 * ((4 * m + i) % 10);
            let _ = write!(
                text,
                "\n[[sector]]\nid = \"{mast}-{azimuth_deg}\"\nmast = \"{mast}\"\nazimuth_deg = {azimuth_deg}\nmechanical_downtilt_deg = 1\nheight_agl_m = 28\nchannel_mhz = {channel_mhz}\n"
            );
        }
    }
    text
}

/// Premises by a seeded rule: most within 8 km of a mast, every tenth anywhere
/// in the territory, mount heights from 4 to 10 m.
pub fn premises_csv(count: usize) -> String {
    let mut dice = Dice(0x5eed);
    let mut text = String::from("id,lon,lat,plan,mount_height_agl_m\n");
    for i in 0..count {
        let (lon, lat) = if i % 10 == 9 {
            (-117.72 + 0.44 * dice.share(), 33.61 + 0.37 * dice.share())
        } else {
            let (_, lon, lat) = MASTS[dice.below(MASTS.len())];
            // Uniform over the disc: the root keeps the middle from crowding.
            let (radius_deg, angle_rad) = (
                0.072 * dice.share().sqrt(),
                std::f64::consts::TAU * dice.share(),
            );
            (
                lon + radius_deg * angle_rad.sin() / 0.83,
                lat + radius_deg * angle_rad.cos(),
            )
        };
        let plan = ["home", "home", "farm", "office"][dice.below(4)];
        let mount_m = 4 + dice.below(7);
        let _ = writeln!(text, "p{i:04},{lon:.6},{lat:.6},{plan},{mount_m}");
    }
    text
}

/// SplitMix64: the same numbers on every machine.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

const HEAD: &str = r#"# Real terrain and land cover, invented network.
[project]
name = "Ridge and basin"

[territory]
south_west = [-117.74, 33.60]
north_east = [-117.26, 34.00]

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain/dem.tif"]
land_cover = ["landcover/fbfm40.tif"]
legend = "fbfm40"

[propagation]
reach_km = 20

[defaults]
antenna = "sector-90-3500"
base_station = "base-2x2-3500"
terminal = "terminal-panel-18-3500"
mount_height_agl_m = 6
# One symbol less than the frame holds lengthens the gap: cells of 23 km.
split = [28, 18]
"#;

const PLANS: &str = r#"[[plan]]
id = "home"
name = "Home 10/1"
scheduling_class = "BE"
downlink_mbps = 10
uplink_mbps = 1
busy_hour_downlink_mbps = 0.25
busy_hour_uplink_mbps = 0.03
target_probability_frac = 0.9

[[plan]]
id = "farm"
name = "Farm 4/0.5"
scheduling_class = "BE"
downlink_mbps = 4
uplink_mbps = 0.5
busy_hour_downlink_mbps = 0.1
busy_hour_uplink_mbps = 0.02
target_probability_frac = 0.9

[[plan]]
id = "office"
name = "Office 15/2"
scheduling_class = "rtPS"
downlink_mbps = 15
uplink_mbps = 2
guaranteed_downlink_mbps = 0.3
guaranteed_uplink_mbps = 0.1
busy_hour_downlink_mbps = 0.4
busy_hour_uplink_mbps = 0.08
target_probability_frac = 0.95
"#;
