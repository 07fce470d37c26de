//! One link taken apart.

use pipeline::engine::explain::{self, PathReport};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Place;
use super::consequence::PremisesState;

/// A question about one link.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WhyQuestion {
    /// A premises of the design; this or `place`.
    #[serde(default)]
    pub premises: Option<String>,
    /// Any place, with the design's default terminal and plan.
    #[serde(default)]
    pub place: Option<Place>,
    /// Height of the terminal's antenna above ground; `null` is the premises' or the design's.
    #[serde(default)]
    #[schema(minimum = 0.5, maximum = 100)]
    pub mount_height_agl_m: Option<f64>,
    /// Id of a terminal card; `null` is the premises' or the design's.
    #[serde(default)]
    pub terminal: Option<String>,
    /// Sector at the near end; `null` is the one that serves or comes closest.
    #[serde(default)]
    pub sector: Option<String>,
    /// Whether the rest of the network counts.
    #[serde(default)]
    pub company: Company,
}

/// Whether the rest of the network is evaluated for its interference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Company {
    /// The link alone in its channel: quick.
    Alone,
    /// With the interference of the whole network.
    #[default]
    WholeNetwork,
}

/// One link taken apart.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Why {
    /// Revision of the design.
    pub revision: String,
    /// The premises; `null` for a bare place.
    pub premises: Option<PremisesFacts>,
    /// Where the far end stands.
    pub place: Place,
    /// How it fares, by the study; `null` for a bare place, or before the first study.
    pub answer: Option<PremisesState>,
    /// What holds it back, in a sentence; empty where nothing does.
    pub limiting_cause: String,
    /// How far the closest link falls short.
    pub shortfall_db: f64,
    /// The sector at the near end.
    pub sector: String,
    /// Its mast.
    pub mast: String,
    /// Where that stands.
    pub mast_place: Place,
    /// Other sectors in falling order of margin.
    pub alternatives: Vec<SectorChoice>,
    /// Whether the rest of the network counts.
    pub company: Company,
    /// Carrier.
    pub frequency_mhz: f64,
    /// Name and edition of the path-loss model.
    pub model: String,
    /// Geometry and clearance.
    pub geometry: Geometry,
    /// What the drawing says of the obstacle, in a sentence.
    pub obstacle: String,
    /// Ground, clutter and ray, for a drawing.
    pub section: Section,
    /// Every term of the path loss.
    pub loss_terms: Vec<LossTerm>,
    /// Where the inputs leave the range that the model is stated for.
    pub loss_warnings: Vec<String>,
    /// Budget from the base station.
    pub downlink: Vec<BudgetTerm>,
    /// Budget from the terminal.
    pub uplink: Vec<BudgetTerm>,
    /// Unwanted signals at the terminal, strongest first.
    pub downlink_interferers: Vec<Interferer>,
    /// Unwanted signals at the base station, strongest first.
    pub uplink_interferers: Vec<Interferer>,
    /// Margins, rates and how sure they are.
    pub link: LinkFacts,
}

/// A premises as designed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PremisesFacts {
    /// Id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// Plan.
    pub plan: String,
    /// Height of the terminal's antenna above ground.
    pub mount_height_agl_m: f64,
    /// `open`, `below-roofs`, `indoor-traditional` or `indoor-efficient`.
    pub mounting: String,
    /// Terminal card.
    pub terminal: String,
    /// Higher is kept first.
    pub priority: i32,
    /// The only sector that may serve; `null` where any may.
    pub fixed_sector: Option<String>,
}

/// A sector that could serve instead.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SectorChoice {
    /// The sector.
    pub sector: String,
    /// Its margin; `null` where it cannot give the plan's rate at all.
    pub margin_db: Option<f64>,
}

/// Geometry of a path; `from` is the mast, `to` the terminal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Geometry {
    /// Length along the ground.
    pub distance_m: f64,
    /// Azimuth at the mast, clockwise from true north.
    pub azimuth_deg: f64,
    /// Azimuth at the terminal back to the mast.
    pub back_azimuth_deg: f64,
    /// Antenna at the mast above ground.
    pub from_agl_m: f64,
    /// Antenna of the terminal above ground.
    pub to_agl_m: f64,
    /// Antenna at the mast above sea level.
    pub from_amsl_m: f64,
    /// Antenna of the terminal above sea level.
    pub to_amsl_m: f64,
    /// Direction in which the ray leaves the mast.
    pub from_elevation_deg: f64,
    /// Direction in which the ray leaves the terminal.
    pub to_elevation_deg: f64,
    /// Least clearance as a share of the first Fresnel zone; negative when blocked.
    pub clearance_ratio: f64,
    /// Distance of the closest thing below the ray from the mast.
    pub obstacle_distance_m: f64,
    /// Height of the ray above it; negative when blocked.
    pub obstacle_clearance_m: f64,
    /// Height of the clutter on it.
    pub obstacle_clutter_m: f64,
}

/// Ground, clutter and ray along a path, from the mast; equal lengths. Add the
/// Earth's bulge to the ground.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Section {
    /// Distance from the mast.
    pub distance_m: Vec<f64>,
    /// Ground above sea level.
    pub ground_amsl_m: Vec<f64>,
    /// Clutter above the ground, as the path loss counts it.
    pub clutter_m: Vec<f64>,
    /// Mapped clutter that the path loss leaves out.
    pub set_aside_clutter_m: Vec<f64>,
    /// Height by which the curved Earth rises above the chord, median refraction.
    pub earth_bulge_m: Vec<f64>,
    /// Straight ray above sea level.
    pub ray_amsl_m: Vec<f64>,
    /// Radius of the first Fresnel zone.
    pub fresnel_radius_m: Vec<f64>,
}

/// One quantity of the path-loss model.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LossTerm {
    /// Name with its unit.
    pub name: String,
    /// What it is.
    pub meaning: String,
    /// Value; `null` where it does not apply.
    pub value: Option<f64>,
    /// Unit.
    pub unit: String,
}

/// One line of a budget.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BudgetTerm {
    /// Name with its unit.
    pub name: String,
    /// What a person reads.
    pub label: String,
    /// Value; losses are negative, so that a column adds up.
    pub value: Option<f64>,
    /// Unit.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
    /// Whether the line is a sum of those above it.
    pub is_subtotal: bool,
}

/// One unwanted signal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Interferer {
    /// Sector that sends it, or whose terminals do.
    pub sector: String,
    /// Mean level at one port.
    pub level_dbm: f64,
}

/// Margins, rates and how sure they are.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LinkFacts {
    /// Smaller margin of the two directions; `null` where the plan's rate is out of reach.
    pub margin_db: Option<f64>,
    /// Probability that the installation meets its plan.
    pub probability_frac: f64,
    /// Standard deviation of the whole prediction.
    pub prediction_sigma_db: f64,
    /// Share of an average year without a fade too deep; `null` for the reason beside.
    pub availability_year_pct: Option<f64>,
    /// Why there is no availability; empty where there is one.
    pub no_availability: String,
    /// From the base station.
    pub downlink: DirectionFacts,
    /// From the terminal.
    pub uplink: DirectionFacts,
}

/// One direction of a link.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DirectionFacts {
    /// Received level of one stream at one port.
    pub rsl_dbm: f64,
    /// Signal over noise.
    pub snr_db: f64,
    /// Signal over noise and interference.
    pub sinr_db: f64,
    /// SINR that the plan's rate asks for.
    pub required_sinr_db: Option<f64>,
    /// SINR above that.
    pub margin_db: Option<f64>,
    /// Modulation and coding.
    pub mcs_name: Option<String>,
    /// MIMO mode.
    pub mode: Option<String>,
    /// Rate at the Ethernet port, the sector otherwise idle.
    pub ethernet_rate_mbps: f64,
}

impl From<explain::Company> for Company {
    fn from(company: explain::Company) -> Self {
        match company {
            explain::Company::Alone => Self::Alone,
            explain::Company::WholeNetwork => Self::WholeNetwork,
        }
    }
}

impl From<Company> for explain::Company {
    fn from(company: Company) -> Self {
        match company {
            Company::Alone => Self::Alone,
            Company::WholeNetwork => Self::WholeNetwork,
        }
    }
}

impl From<&PathReport> for Geometry {
    fn from(report: &PathReport) -> Self {
        let g = &report.geometry;
        Self {
            distance_m: g.distance_m,
            azimuth_deg: g.azimuth_deg,
            back_azimuth_deg: g.back_azimuth_deg,
            from_agl_m: g.from_agl_m,
            to_agl_m: g.to_agl_m,
            from_amsl_m: g.from_amsl_m,
            to_amsl_m: g.to_amsl_m,
            from_elevation_deg: g.from_elevation_deg,
            to_elevation_deg: g.to_elevation_deg,
            clearance_ratio: g.clearance_ratio,
            obstacle_distance_m: g.obstacle.distance_m,
            obstacle_clearance_m: g.obstacle.clearance_m,
            obstacle_clutter_m: g.obstacle.clutter_m,
        }
    }
}

impl From<explain::SectionView> for Section {
    fn from(view: explain::SectionView) -> Self {
        Self {
            distance_m: view.distance_m,
            ground_amsl_m: view.ground_amsl_m,
            clutter_m: view.clutter_m,
            set_aside_clutter_m: view.set_aside_clutter_m,
            earth_bulge_m: view.earth_bulge_m,
            ray_amsl_m: view.ray_amsl_m,
            fresnel_radius_m: view.fresnel_radius_m,
        }
    }
}

impl From<explain::LossTerm> for LossTerm {
    fn from(term: explain::LossTerm) -> Self {
        Self {
            name: term.name.to_owned(),
            meaning: term.meaning.to_owned(),
            value: finite(term.value),
            unit: term.unit.to_owned(),
        }
    }
}

impl From<explain::BudgetTerm> for BudgetTerm {
    fn from(term: explain::BudgetTerm) -> Self {
        Self {
            name: term.name.to_owned(),
            label: term.label,
            value: finite(term.value),
            unit: term.unit.to_owned(),
            source: term.source,
            is_subtotal: term.subtotal,
        }
    }
}

impl From<explain::InterfererLine> for Interferer {
    fn from(line: explain::InterfererLine) -> Self {
        Self {
            sector: line.sector,
            level_dbm: line.level_dbm,
        }
    }
}

impl From<&pipeline::engine::link::LinkDirection> for DirectionFacts {
    fn from(direction: &pipeline::engine::link::LinkDirection) -> Self {
        Self {
            rsl_dbm: direction.rsl_dbm,
            snr_db: direction.snr_db,
            sinr_db: direction.sinr_db,
            required_sinr_db: direction.required_sinr_db,
            margin_db: direction.margin_db,
            mcs_name: direction.mcs_name.clone(),
            mode: direction.mode().map(|mode| mode.name().to_owned()),
            ethernet_rate_mbps: direction.ethernet_rate_mbps(),
        }
    }
}

impl From<&pipeline::engine::link::Link> for LinkFacts {
    fn from(link: &pipeline::engine::link::Link) -> Self {
        Self {
            margin_db: link.margin_db(),
            probability_frac: link.probability_frac,
            prediction_sigma_db: link.prediction_sigma_db,
            availability_year_pct: link.availability.map(|a| a.availability_year_pct),
            no_availability: link
                .no_availability
                .map_or(String::new(), |reason| reason.meaning().to_owned()),
            downlink: (&link.downlink).into(),
            uplink: (&link.uplink).into(),
        }
    }
}

/// JSON has no infinities.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
