//! A project in memory over ground given by a formula.

#![expect(unreachable_pub, reason = "each test file includes this module whole")]

use std::sync::Arc;

use geodesy::LonLat;
use physics::path_loss::Zone;
use pipeline::design::{ProjectSources, SourceText, premises_from_csv};
use pipeline::engine::{CrossSection, Surroundings};
use pipeline::model::Network;
use pipeline::{Ground, World};

/// Height and clutter at a place, metres.
pub type Formula = dyn Fn(LonLat) -> (f64, f64) + Send + Sync;

/// Ground by formula.
#[derive(Clone)]
pub struct FormulaGround(pub Arc<Formula>);

impl FormulaGround {
    /// Flat and bare, at a height above sea level.
    pub fn flat(height_m: f64) -> Self {
        Self(Arc::new(move |_| (height_m, 0.0)))
    }
}

impl Surroundings for FormulaGround {
    fn trace(&self, from: LonLat, to: LonLat, step_m: Option<f64>, section: &mut CrossSection) {
        let path = geodesy::inverse(from, to);
        let steps = (path.distance_m / step_m.unwrap_or(30.0)).ceil().max(4.0) as usize;
        let places = path.points(steps + 1);
        section.length_m = path.distance_m;
        section.azimuth_deg = path.azimuth_deg;
        section.back_azimuth_deg = path.back_azimuth_deg;
        section.distance_m = (0..=steps)
            .map(|i| path.distance_m * i as f64 / steps as f64)
            .collect();
        section.ground_amsl_m = places.iter().map(|p| self.0(*p).0).collect();
        section.clutter_m = places.iter().map(|p| self.0(*p).1).collect();
        section.canopy_m = vec![0.0; steps + 1];
        section.zone = vec![Zone::Inland; steps + 1];
        section.class_code = vec![None; steps + 1];
        section.unknown_cover_points = 0;
    }

    fn ground_amsl_m(&self, at: LonLat) -> Option<f64> {
        let height_m = self.0(at).0;
        (!height_m.is_nan()).then_some(height_m)
    }
}

/// A project of texts.
pub struct TextWorld {
    sources: ProjectSources,
    ground: FormulaGround,
}

impl TextWorld {
    pub fn new(design: &str, premises_csv: &str, ground: FormulaGround) -> Self {
        let (premises, findings) =
            premises_from_csv(&SourceText::new("premises.csv", premises_csv));
        let sources = ProjectSources {
            design: Some(SourceText::new("mastwright.toml", design)),
            plans: Some(SourceText::new("plans.toml", PLANS)),
            premises,
            files: vec!["terrain/formula.tif".into()],
            findings,
            ..ProjectSources::default()
        };
        Self { sources, ground }
    }
}

impl World for TextWorld {
    fn sources(&self) -> &ProjectSources {
        &self.sources
    }

    fn ground(&self, _: &Network) -> Ground {
        Ground {
            surroundings: Box::new(self.ground.clone()),
            data_sources: Vec::new(),
            findings: Vec::new(),
        }
    }
}

/// Two plans, one that any link gives and one that only a good link gives.
pub const PLANS: &str = r#"
[[plan]]
id = "small"
name = "Small 2/0.2"
scheduling_class = "BE"
downlink_mbps = 2
uplink_mbps = 0.2
busy_hour_downlink_mbps = 0.4
busy_hour_uplink_mbps = 0.05
target_probability_frac = 0.9

[[plan]]
id = "large"
name = "Large 25/3"
scheduling_class = "BE"
downlink_mbps = 25
uplink_mbps = 3
busy_hour_downlink_mbps = 0.8
busy_hour_uplink_mbps = 0.1
target_probability_frac = 0.9
"#;

/// A design with one mast at 9.45 E, 47.15 N and the sectors given.
pub fn design(sectors: &str) -> String {
    format!(
        r#"
[project]
name = "formula"

[territory]
south_west = [8.8, 46.8]
north_east = [10.1, 47.6]

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain/formula.tif"]

[propagation]
reach_km = 40

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

[[mast]]
id = "m1"
name = "first"
lon = 9.45
lat = 47.15
height_agl_m = 40

[[mast]]
id = "m2"
name = "second"
lon = 9.45
lat = 47.25
height_agl_m = 40
{sectors}
"#
    )
}

/// A sector table.
pub fn sector(id: &str, mast: &str, azimuth_deg: f64, channel_mhz: f64) -> String {
    format!(
        "\n[[sector]]\nid = \"{id}\"\nmast = \"{mast}\"\nazimuth_deg = {azimuth_deg}\nheight_agl_m = 35\nchannel_mhz = {channel_mhz}\n"
    )
}
