//! An invented valley: formula terrain, one mast, two sectors and a few
//! premises, evaluated by the real engine.

#![allow(
    dead_code,
    reason = "every test target takes only what it needs of the valley"
)]

use std::collections::BTreeMap;
use std::sync::Arc;

use engine::explain::{Company, PathReport, explain};
use engine::mapped_ground::{LandCover, MappedGround};
use engine::{DataSource, RunControl, StudyResult, study};
use geodesy::{Hemisphere, LocalXy, LonLat, MapXy, WorkingPlane};
use model::air_interface::{AirInterface, FrameSplit, FrameStructure, Mcs, MimoRules, Modulation};
use model::equipment::{
    Antenna, BaseStation, Oscillator, PatternSpec, PolarizationPair, SideLobes, Terminal,
};
use model::finding::{Finding, Severity, Subject, TextPlace};
use model::ids::{EquipmentId, MastId, PlanId, PremisesId, RuleId, SectorId};
use model::network::{Channel, Mast, Network, Premises, Sector, Territory};
use model::plan::{SchedulingClass, ServicePlan};
use model::rules::{Role, RuleSet, SpectrumRule};
use model::settings::{
    BestEffortSharing, ClutterClass, ClutterTable, GroundSources, ModelChoice, PropagationSettings,
    StudySettings, Surface,
};
use outputs::Handout;
use raster::{Affine, Georeference, Grid, Mosaic};

/// A name that must never reach a page as markup.
pub(crate) const HOSTILE_NAME: &str = r#"<script>alert("x")</script> & 'Söhne' ]]>"#;

/// South-west corner of the valley in its working plane, and its sides.
const WEST_M: f64 = 495_000.0;
const SOUTH_M: f64 = 5_200_000.0;
const WIDTH_M: f64 = 12_000.0;
const HEIGHT_M: f64 = 9_000.0;
const CELL_M: f64 = 30.0;

/// Everything a handout borrows from.
pub(crate) struct Valley {
    pub(crate) network: Network,
    pub(crate) ground: MappedGround,
    pub(crate) study: StudyResult,
    pub(crate) cross_sections: Vec<PathReport>,
    pub(crate) data_sources: Vec<DataSource>,
    pub(crate) findings: Vec<Finding>,
}

impl Valley {
    /// Five premises.
    pub(crate) fn small() -> Self {
        Self::evaluate(network(five_premises()), 2)
    }

    /// Many premises, for the eye.
    pub(crate) fn settled(count: usize) -> Self {
        Self::evaluate(network(scattered(count)), 5)
    }

    fn evaluate(network: Network, most_sections: usize) -> Self {
        let ground = ground();
        let run = RunControl::unwatched();
        let study = study(&network, &ground, &run).unwrap();
        let cross_sections = outputs::worst_links(&study, most_sections)
            .iter()
            .map(|(sector, premises)| {
                let link = (sector.as_str(), premises.as_str());
                explain(&network, &ground, link, (Company::WholeNetwork, &run)).unwrap()
            })
            .collect();
        let mut findings = vec![
            Finding::new(
                Severity::Warning,
                "unknown-key",
                "`azimut_deg` is no key of a sector",
            )
            .at(TextPlace {
                file: "mastwright.toml".into(),
                line: 42,
                column: 3,
                text: "azimut_deg".to_owned(),
            })
            .about(Subject::Sector(SectorId::new("hill-north")))
            .hint("did you mean `azimuth_deg`?"),
        ];
        findings.extend(study.findings.iter().cloned());
        Self {
            network,
            ground,
            study,
            cross_sections,
            data_sources: vec![DataSource {
                kind: "terrain",
                file: "terrain/valley.tif".to_owned(),
                description: "EPSG:32632, cells of 30 m, a formula".to_owned(),
            }],
            findings,
        }
    }

    /// What the exporters are given.
    pub(crate) fn handout(&self) -> Handout<'_> {
        Handout {
            version: "0.0.0-test",
            written_at: "2026-05-01T12:00:00Z",
            network: &self.network,
            study: &self.study,
            findings: &self.findings,
            data_sources: &self.data_sources,
            surroundings: Some(&self.ground),
            cross_sections: &self.cross_sections,
        }
    }
}

fn plane() -> WorkingPlane {
    WorkingPlane::new(32, Hemisphere::North).unwrap()
}

/// A place in metres from the valley's south-west corner.
pub(crate) fn place(east_m: f64, north_m: f64) -> LonLat {
    let at = LocalXy {
        x_m: WEST_M + east_m,
        y_m: SOUTH_M + north_m,
    };
    plane().to_lonlat(at).unwrap()
}

/// Valley floor rising to both sides, a ridge across the east and small hills.
fn ground_amsl_m(east_m: f64, north_m: f64) -> f64 {
    let floor = 420.0 + 0.01 * east_m;
    let sides = 90.0 * ((north_m - 4_500.0) / 2_600.0).powi(2);
    let ridge = 210.0 * (-((east_m - 8_200.0) / 650.0).powi(2)).exp();
    let hill = 95.0
        * (-((east_m - 3_000.0) / 900.0).powi(2) - ((north_m - 4_800.0) / 900.0).powi(2)).exp();
    let ripple = 14.0 * (east_m / 410.0).sin() * (north_m / 530.0).cos();
    floor + sides + ridge + hill + ripple
}

/// Woods in patches.
fn class_code(east_m: f64, north_m: f64) -> f32 {
    let woods = (east_m / 700.0).sin() + (north_m / 900.0).cos() > 0.85;
    if woods { 10.0 } else { 30.0 }
}

fn ground() -> MappedGround {
    let classes = Mosaic::new(vec![grid(class_code)]);
    let elevation = Mosaic::new(vec![grid(|e, n| ground_amsl_m(e, n) as f32)]);
    let clutter = clutter();
    MappedGround::new(elevation, Some(LandCover { classes, clutter }))
}

fn grid(value: impl Fn(f64, f64) -> f32) -> Grid {
    let (width, height) = ((WIDTH_M / CELL_M) as usize, (HEIGHT_M / CELL_M) as usize);
    let origin = MapXy {
        x: WEST_M,
        y: SOUTH_M + HEIGHT_M,
    };
    let affine = Affine::north_up(origin, CELL_M, CELL_M).unwrap();
    let cells = (0..width * height)
        .map(|i| {
            let east_m = ((i % width) as f64 + 0.5) * CELL_M;
            let north_m = HEIGHT_M - ((i / width) as f64 + 0.5) * CELL_M;
            value(east_m, north_m)
        })
        .collect();
    let georeference = Georeference::new(plane().crs().clone(), affine, width, height);
    Grid::new(georeference, width, height, cells).unwrap()
}

fn clutter() -> ClutterTable {
    let class = |code, name: &str, height_m| ClutterClass {
        code,
        name: name.to_owned(),
        height_m,
        surface: Surface::Inland,
        source: "invented".to_owned(),
    };
    ClutterTable {
        legend: "worldcover".to_owned(),
        classes: vec![class(10, "tree cover", 15.0), class(30, "grassland", 0.0)],
    }
}

fn network(premises: Vec<Premises>) -> Network {
    let plan = plan();
    Network {
        name: "Invented valley".to_owned(),
        territory: Territory {
            south_west: place(200.0, 200.0),
            north_east: place(WIDTH_M - 200.0, HEIGHT_M - 200.0),
            working_plane_epsg: 32_632,
        },
        rule_set: Arc::new(rule_set()),
        masts: vec![Mast {
            id: MastId::new("hill"),
            name: "Hill".to_owned(),
            position: place(3_000.0, 4_800.0),
            height_agl_m: 30.0,
            ground_amsl_m: None,
        }],
        sectors: vec![
            sector("hill-north", 45.0, 3_655.0),
            sector("hill-south", 165.0, 3_665.0),
        ],
        backhaul: model::Backhaul::default(),
        premises,
        plans: BTreeMap::from([(plan.id.clone(), plan)]),
        place_defaults: None,
        propagation: PropagationSettings {
            time_pct: 50.0,
            interference_time_pct: 10.0,
            refractivity_lapse_n_per_km: 45.0,
            surface_refractivity_n: 325.0,
            location_area_m: 30.0,
            model_error_db: 3.4,
            service_model: ModelChoice::P1812,
            interference_model: ModelChoice::P1812,
            profile_step_m: None,
            reach_km: 8.5,
            interference_reach_km: 60.0,
        },
        climate: model::FadingClimate {
            rain_001_mm_per_h: 42.0,
            gradient_1pct_n_per_km: -200.0,
            multipath_map: None,
        },
        study: StudySettings {
            mount_height_agl_m: 6.0,
            max_airtime_frac: 0.8,
            fade_margin_db: 3.0,
            interferer_activity_frac: 0.6,
            best_effort_sharing: BestEffortSharing::EqualAirtime,
            call_blocking_frac: 0.01,
            growth_years: 10,
            phase_limit_us: 1.5,
        },
        ground: GroundSources {
            terrain: Vec::new(),
            land_cover: Vec::new(),
            canopy: Vec::new(),
            canopy_unit_m: 1.0,
            buildings: model::BuildingSources::default(),
            clutter: clutter(),
        },
    }
}

fn plan() -> Arc<ServicePlan> {
    Arc::new(ServicePlan {
        id: PlanId::new("home-8"),
        name: "Home 8".to_owned(),
        scheduling_class: SchedulingClass::BestEffort,
        downlink_mbps: 8.0,
        uplink_mbps: 1.0,
        guaranteed_downlink_mbps: 0.0,
        guaranteed_uplink_mbps: 0.0,
        busy_hour_downlink_mbps: 0.35,
        busy_hour_uplink_mbps: 0.05,
        growth_pct_per_year: 12.0,
        mean_packet_bytes: 362.0,
        delay_bound_ms: None,
        loss_bound_pct: None,
        voice: None,
        circuits: None,
        dscp: 0,
        priority: 0,
        weight: 1.0,
        target_probability_frac: 0.95,
        price_per_month: 0.0,
    })
}

/// Premises in the open, behind the ridge, in the woods, and out of reach.
fn five_premises() -> Vec<Premises> {
    vec![
        premises("farm-1", HOSTILE_NAME, (4_400.0, 5_900.0)),
        premises("farm-2", "Behind the ridge", (9_000.0, 6_000.0)),
        premises("farm-3", "In the woods", (5_400.0, 5_500.0)),
        premises("farm-4", "=SUM(1,2)", (3_600.0, 2_400.0)),
        premises("farm-5", "", (11_700.0, 1_000.0)),
    ]
}

/// Places spread by the golden ratio: even, and the same everywhere.
fn scattered(count: usize) -> Vec<Premises> {
    (0..count)
        .map(|i| {
            let share = |ratio: f64| (0.5 + ratio * i as f64).fract();
            let east_m = 400.0 + (WIDTH_M - 800.0) * share(0.754_877_666);
            let north_m = 400.0 + (HEIGHT_M - 800.0) * share(0.569_840_291);
            premises(&format!("p-{:03}", i + 1), "", (east_m, north_m))
        })
        .collect()
}

fn premises(id: &str, name: &str, (east_m, north_m): (f64, f64)) -> Premises {
    Premises {
        id: PremisesId::new(id),
        name: name.to_owned(),
        position: place(east_m, north_m),
        mount_height_agl_m: 6.0,
        mounting: model::network::Mounting::Open,
        plan: plan(),
        terminal: Arc::new(Terminal {
            id: EquipmentId::new("outdoor-panel"),
            name: "Outdoor terminal with panel".to_owned(),
            antenna: antenna("panel-15", 15.0, 30.0),
            lower_mhz: 10.0,
            upper_mhz: 100_000.0,
            max_tx_power_per_chain_dbm: 24.0,
            min_tx_power_per_chain_dbm: -20.0,
            tx_chains: 1,
            rx_chains: 2,
            back_off: Vec::new(),
            noise_figure_db: 6.0,
            feeder_loss_db: 0.5,
            pointing_error_deg: 3.0,
            roll_error_deg: 3.0,
            adjacent_channel_rejection_db: 30.0,
            price: 0.0,
            source: "invented".to_owned(),
        }),
        priority: 0,
        fixed_sector: None,
        people: None,
    }
}

fn antenna(id: &str, gain_dbi: f64, beamwidth_h_deg: f64) -> Arc<Antenna> {
    Arc::new(Antenna {
        id: EquipmentId::new(id),
        name: format!("{gain_dbi} dBi, {beamwidth_h_deg} degrees"),
        gain_dbi,
        pattern: PatternSpec::F1336Sector {
            beamwidth_h_deg,
            beamwidth_v_deg: 8.0,
            side_lobes: SideLobes::Average,
            improved: true,
        },
        polarization: PolarizationPair::DualSlant,
        cross_polar_discrimination_db: 25.0,
        source: "invented".to_owned(),
    })
}

fn sector(id: &str, azimuth_deg: f64, centre_mhz: f64) -> Sector {
    let split = FrameSplit::Symbols {
        downlink_symbols: 29,
        uplink_symbols: 18,
    };
    Sector {
        id: SectorId::new(id),
        mast: MastId::new("hill"),
        height_agl_m: 28.0,
        azimuth_deg,
        mechanical_downtilt_deg: 0.0,
        electrical_downtilt_deg: 2.0,
        antenna: antenna("sector-90", 16.0, 90.0),
        base_station: Arc::new(base_station()),
        air_interface: Arc::new(air_interface(split)),
        split,
        synchronised: true,
        channel: Channel {
            centre_mhz,
            width_mhz: 10.0,
        },
        tx_power_per_chain_dbm: 27.0,
        feeder_loss_db: 0.5,
    }
}

fn base_station() -> BaseStation {
    BaseStation {
        id: EquipmentId::new("two-chain-base"),
        name: "Two-chain base station".to_owned(),
        lower_mhz: 10.0,
        upper_mhz: 100_000.0,
        max_tx_power_per_chain_dbm: 30.0,
        min_tx_power_per_chain_dbm: 0.0,
        chains: 2,
        back_off: Vec::new(),
        noise_figure_db: 4.0,
        adjacent_channel_rejection_db: 35.0,
        max_terminals: 120,
        max_aggregate_mbps: 80.0,
        max_packets_per_s: 50_000.0,
        oscillator: Oscillator {
            offset_ppb: 1.0,
            ageing_ppb_per_day: 0.5,
        },
        source: "invented".to_owned(),
    }
}

/// Figures of the OFDMA card for 10 MHz that ships with the program, fewer steps.
fn air_interface(split: FrameSplit) -> AirInterface {
    let mcs = |name: &str, modulation, code_rate, sinr_threshold_db| Mcs {
        name: name.to_owned(),
        modulation,
        code_rate,
        repetition: 1,
        sinr_threshold_db,
    };
    AirInterface {
        id: EquipmentId::new("ofdma-10"),
        name: "IEEE 802.16 OFDMA TDD, 10 MHz".to_owned(),
        standard: "IEEE 802.16-2009 clause 8.4".to_owned(),
        channel_width_mhz: 10.0,
        frame_ms: 5.0,
        frame: FrameStructure::OfdmaPusc {
            fft_size: 1024,
            sampling_factor: (28, 25),
            cyclic_prefix_frac: 0.125,
            subchannels_downlink: 30,
            subchannels_uplink: 35,
            used_subcarriers: 840,
            symbols_per_frame: 47,
            transmit_transition_gap_us: 105.714,
            receive_transition_gap_us: 60.0,
            terminal_turnaround_us: 50.0,
            uplink_control_symbols: 3,
            map_repetition: 4,
        },
        default_split: split,
        splits: vec![split],
        block_error_frac: 0.01,
        mcs: vec![
            mcs("QPSK 1/2", Modulation::Qpsk, 0.5, 3.0),
            mcs("QPSK 3/4", Modulation::Qpsk, 0.75, 5.95),
            mcs("16QAM 1/2", Modulation::Qam16, 0.5, 7.86),
            mcs("16QAM 3/4", Modulation::Qam16, 0.75, 11.84),
            mcs("64QAM 2/3", Modulation::Qam64, 2.0 / 3.0, 15.41),
            mcs("64QAM 5/6", Modulation::Qam64, 5.0 / 6.0, 19.15),
        ],
        implementation_margin_db: 2.0,
        mimo: MimoRules {
            space_time_coding_gain_db: 0.0,
            uplink_spatial_multiplexing: false,
            spatial_multiplexing_min_sinr_db: 10.0,
            stream_cancellation_db: 25.0,
        },
        mac_overhead_frac: 0.08,
        min_uplink_subchannels: 1,
        source: "invented".to_owned(),
    }
}

fn rule_set() -> RuleSet {
    let rule = |id: &str, role, eirp_dbm| SpectrumRule {
        id: RuleId::new(id),
        role,
        lower_mhz: 3_650.0,
        upper_mhz: 3_700.0,
        eirp_dbm: Some(eirp_dbm),
        eirp_dbm_per_mhz: None,
        conducted_dbm: None,
        conducted_dbm_per_mhz: None,
        gain_free_dbi: None,
        gain_slope_db_per_db: 0.0,
        elevation_limit: None,
        count_array_gain: false,
        max_height_agl_m: None,
        conditions: vec!["registered".to_owned()],
        source: "invented".to_owned(),
        certainty: "computed".to_owned(),
    };
    RuleSet {
        id: RuleId::new("valley"),
        title: "Invented valley rules".to_owned(),
        date_checked: "2026-04".to_owned(),
        caution: "Invented for tests; no legal advice.".to_owned(),
        rules: vec![
            rule("base", Role::Base, 42.0),
            rule("terminal", Role::Terminal, 39.0),
        ],
    }
}
