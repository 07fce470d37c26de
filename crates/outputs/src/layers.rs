//! The tables behind every vector and table format: one list of columns per
//! layer. A column is named as the Rust field it comes from, with the name of
//! the part it lies in before it (`downlink_rsl_dbm`), unit suffix included.

use engine::availability::LinkAvailability;
use engine::link::{Link, LinkDirection};
use engine::study::{PremisesResult, SectorResult};
use geodesy::LonLat;
use model::network::{Network, Sector};

use crate::handout::Handout;
use crate::wedge;

/// One value of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Text.
    Text(String),
    /// A number in the unit of its column's name.
    Number(f64),
    /// A whole number.
    Count(i64),
    /// Yes or no.
    Flag(bool),
    /// There is no value.
    Empty,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Numbers.
    Number,
    /// Whole numbers.
    Count,
    /// Yes or no.
    Flag,
}

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Field name with its unit suffix.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// What it means.
    pub meaning: &'static str,
}

/// Where a row lies.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A place.
    Point(LonLat),
    /// A straight connection.
    Line([LonLat; 2]),
    /// A closed ring, counterclockwise.
    Area(Vec<LonLat>),
}

/// One thing of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Where it lies.
    pub shape: Shape,
    /// One value per column.
    pub cells: Vec<Cell>,
}

/// A table whose rows have a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// Name in files.
    pub name: &'static str,
    /// What a person reads.
    pub title: &'static str,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows.
    pub rows: Vec<Row>,
}

struct Field<F> {
    column: Column,
    value: F,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Cell::Text(text.to_owned())
    }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        if value.is_finite() {
            Cell::Number(value)
        } else {
            Cell::Empty
        }
    }
}

impl From<usize> for Cell {
    fn from(value: usize) -> Self {
        Cell::Count(i64::try_from(value).unwrap_or(i64::MAX))
    }
}

impl From<u32> for Cell {
    fn from(value: u32) -> Self {
        Cell::Count(i64::from(value))
    }
}

impl From<bool> for Cell {
    fn from(value: bool) -> Self {
        Cell::Flag(value)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Cell::Empty, Into::into)
    }
}

macro_rules! fields {
    ($name:ident: $row:ty; $($kind:ident $column:literal $meaning:literal = |$r:ident| $value:expr;)*) => {
        const $name: &[Field<fn(&$row) -> Cell>] = &[
            $(Field {
                column: Column { name: $column, kind: Kind::$kind, meaning: $meaning },
                value: |$r| Cell::from($value),
            },)*
        ];
    };
}

mod hops;

pub use hops::hops;

fn link<'a, T>(p: &'a PremisesResult, value: impl Fn(&'a Link) -> T) -> Option<T> {
    p.link.as_ref().map(value)
}

fn available(p: &PremisesResult, value: impl Fn(&LinkAvailability) -> f64) -> Option<f64> {
    Some(value(p.link.as_ref()?.availability.as_ref()?))
}

fn mode(direction: &LinkDirection) -> Option<&'static str> {
    direction.mode().map(engine::adaptation::MimoMode::name)
}

fields! { PREMISES: PremisesResult;
    Text "id" "premises id" = |p| p.id.as_str();
    Text "name" "what a person calls it" = |p| p.name.as_str();
    Number "lon_deg" "longitude, WGS 84" = |p| p.position.lon_deg();
    Number "lat_deg" "latitude, WGS 84" = |p| p.position.lat_deg();
    Text "plan" "service plan" = |p| p.plan.as_str();
    Number "mount_height_agl_m" "terminal antenna above ground" = |p| p.mount_height_agl_m;
    Text "verdict" "served, doubtful or unserved" = |p| p.verdict.name();
    Text "limit_cause" "what holds an unserved premises back" = |p| p.limit.as_ref().map(|l| l.cause.name());
    Number "limit_shortfall_db" "how far the closest link falls short" = |p| p.limit.as_ref().map(|l| l.shortfall_db);
    Text "sector" "sector that serves, or comes closest" = |p| link(p, |l| l.sector.as_str());
    Number "distance_m" "length of the path along the ground" = |p| link(p, |l| l.distance_m);
    Number "azimuth_deg" "true azimuth from the mast" = |p| link(p, |l| l.azimuth_deg);
    Number "back_azimuth_deg" "true azimuth from the premises: where the installer points" = |p| link(p, |l| l.back_azimuth_deg);
    Number "to_elevation_deg" "elevation from the premises" = |p| link(p, |l| l.to_elevation_deg);
    Number "clearance_ratio" "least clearance as a share of the first Fresnel zone; negative when blocked" = |p| link(p, |l| l.clearance_ratio);
    Number "path_loss_db" "loss of the path" = |p| link(p, |l| l.downlink.levels.path_loss_db);
    Number "excess_loss_db" "loss in excess of free space" = |p| link(p, |l| l.excess_loss_db);
    Number "location_sigma_db" "standard deviation of the loss over locations" = |p| link(p, |l| l.location_sigma_db);
    Number "margin_db" "smaller margin of the two directions" = |p| p.link.as_ref().and_then(Link::margin_db);
    Number "probability_frac" "probability that the installation meets its plan" = |p| link(p, |l| l.probability_frac);
    Number "fade_depth_db" "fade that the plan bears: margin plus fade margin" = |p| available(p, |a| a.fade_depth_db);
    Number "availability_year_pct" "share of an average year without a deeper fade, by propagation alone; empty where the ray is blocked" = |p| available(p, |a| a.availability_year_pct);
    Number "availability_worst_month_pct" "the same of an average worst month" = |p| available(p, |a| a.availability_worst_month_pct);
    Number "outage_multipath_year_pct" "share of an average year with a deeper fade by multipath" = |p| available(p, |a| a.outage.multipath_year_pct);
    Number "outage_rain_year_pct" "share of an average year with a deeper fade by rain" = |p| available(p, |a| a.outage.rain_year_pct);
    Number "downlink_tx_power_per_chain_dbm" "base station power of one chain" = |p| link(p, |l| l.downlink.levels.tx_power_per_chain_dbm);
    Number "downlink_eirp_dbm" "EIRP towards the premises, all chains" = |p| link(p, |l| l.downlink.eirp_dbm);
    Number "downlink_rsl_dbm" "received level per chain at the terminal" = |p| link(p, |l| l.downlink.rsl_dbm);
    Number "downlink_interference_dbm" "interference at the terminal" = |p| p.link.as_ref().and_then(|l| l.downlink.interference_dbm);
    Number "downlink_snr_db" "signal over noise at the terminal" = |p| link(p, |l| l.downlink.snr_db);
    Number "downlink_sinr_db" "signal over noise and interference at the terminal" = |p| link(p, |l| l.downlink.sinr_db);
    Number "downlink_required_sinr_db" "SINR that the plan asks for" = |p| p.link.as_ref().and_then(|l| l.downlink.required_sinr_db);
    Number "downlink_margin_db" "SINR above what the plan asks for" = |p| p.link.as_ref().and_then(|l| l.downlink.margin_db);
    Text "downlink_mcs_name" "modulation and coding" = |p| p.link.as_ref().and_then(|l| l.downlink.mcs_name.as_deref());
    Text "downlink_mode" "MIMO mode" = |p| p.link.as_ref().and_then(|l| mode(&l.downlink));
    Number "downlink_ethernet_rate_mbps" "rate at the Ethernet port, the sector otherwise idle" = |p| link(p, |l| l.downlink.ethernet_rate_mbps());
    Number "uplink_tx_power_per_chain_dbm" "terminal power of one chain" = |p| link(p, |l| l.uplink.levels.tx_power_per_chain_dbm);
    Number "uplink_eirp_dbm" "EIRP towards the mast, all chains" = |p| link(p, |l| l.uplink.eirp_dbm);
    Number "uplink_rsl_dbm" "received level per chain at the base station" = |p| link(p, |l| l.uplink.rsl_dbm);
    Number "uplink_interference_dbm" "interference at the base station" = |p| p.link.as_ref().and_then(|l| l.uplink.interference_dbm);
    Number "uplink_snr_db" "signal over noise at the base station" = |p| link(p, |l| l.uplink.snr_db);
    Number "uplink_sinr_db" "signal over noise and interference at the base station" = |p| link(p, |l| l.uplink.sinr_db);
    Number "uplink_required_sinr_db" "SINR that the plan asks for" = |p| p.link.as_ref().and_then(|l| l.uplink.required_sinr_db);
    Number "uplink_margin_db" "SINR above what the plan asks for" = |p| p.link.as_ref().and_then(|l| l.uplink.margin_db);
    Text "uplink_mcs_name" "modulation and coding" = |p| p.link.as_ref().and_then(|l| l.uplink.mcs_name.as_deref());
    Text "uplink_mode" "MIMO mode" = |p| p.link.as_ref().and_then(|l| mode(&l.uplink));
    Number "uplink_ethernet_rate_mbps" "rate at the Ethernet port, the sector otherwise idle" = |p| link(p, |l| l.uplink.ethernet_rate_mbps());
    Text "alternative_sector" "next best sector" = |p| p.alternatives.first().map(|a| a.sector.as_str());
    Number "alternative_margin_db" "margin of the next best sector" = |p| p.alternatives.first().and_then(|a| a.margin_db);
}

/// A sector as designed and as studied.
struct SectorRow<'a> {
    designed: Option<&'a Sector>,
    result: &'a SectorResult,
}

fields! { SECTORS: SectorRow<'_>;
    Text "id" "sector id" = |s| s.result.id.as_str();
    Text "mast" "mast that carries it" = |s| s.result.mast.as_str();
    Number "lon_deg" "longitude, WGS 84" = |s| s.result.position.lon_deg();
    Number "lat_deg" "latitude, WGS 84" = |s| s.result.position.lat_deg();
    Number "height_agl_m" "antenna above ground" = |s| s.result.height_agl_m;
    Number "azimuth_deg" "aim, clockwise from true north" = |s| s.result.azimuth_deg;
    Number "mechanical_downtilt_deg" "positive below the horizon" = |s| s.designed.map(|d| d.mechanical_downtilt_deg);
    Number "electrical_downtilt_deg" "positive below the horizon" = |s| s.designed.map(|d| d.electrical_downtilt_deg);
    Text "antenna" "antenna card" = |s| s.designed.map(|d| d.antenna.id.as_str());
    Text "base_station" "base station card" = |s| s.designed.map(|d| d.base_station.id.as_str());
    Text "air_interface" "air interface card" = |s| s.designed.map(|d| d.air_interface.id.as_str());
    Number "channel_centre_mhz" "middle of the channel" = |s| s.result.channel.centre_mhz;
    Number "channel_width_mhz" "width of the channel" = |s| s.result.channel.width_mhz;
    Number "power_requested_per_chain_dbm" "power of one chain that the design asks for" = |s| s.result.power.requested_per_chain_dbm;
    Number "power_per_chain_dbm" "power of one chain after equipment and rules" = |s| s.result.power.per_chain_dbm;
    Number "power_eirp_dbm" "EIRP of all chains on the antenna's axis" = |s| s.result.power.eirp_dbm;
    Text "power_bound_by" "rule that binds" = |s| s.result.power.bound_by.as_ref().map(|r| r.as_str());
    Number "power_reduction_db" "power that the rule takes away" = |s| s.result.power.reduction_db;
    Flag "power_covered" "whether the rule set covers the channel" = |s| s.result.power.covered;
    Count "load_terminals" "terminals served" = |s| s.result.load.terminals;
    Number "load_downlink_airtime_frac" "share of the downlink in use at the busy hour" = |s| s.result.load.downlink_airtime_frac;
    Number "load_uplink_airtime_frac" "share of the uplink in use at the busy hour" = |s| s.result.load.uplink_airtime_frac;
    Number "load_downlink_mbps" "traffic towards the customers at the busy hour" = |s| s.result.load.downlink_mbps;
    Number "load_uplink_mbps" "traffic from the customers at the busy hour" = |s| s.result.load.uplink_mbps;
    Count "served" "premises whose plan is met surely enough" = |s| s.result.served;
    Count "doubtful" "premises whose plan is met on the median only" = |s| s.result.doubtful;
    Number "farthest_served_m" "farthest premises served" = |s| s.result.farthest_served_m;
    Number "guard_range_m" "farthest terminal that the guard time allows" = |s| s.result.guard_range_m;
    Number "uplink_interference_dbm" "mean uplink interference at one port" = |s| s.result.uplink_interference_dbm;
    Number "uplink_noise_dbm" "noise of one receive chain" = |s| s.result.uplink_noise_dbm;
}

/// A link with the answer for its premises.
struct LinkRow<'a> {
    premises: &'a PremisesResult,
    link: &'a Link,
}

fields! { LINKS: LinkRow<'_>;
    Text "premises" "premises id" = |l| l.link.premises.as_str();
    Text "sector" "sector that serves, or comes closest" = |l| l.link.sector.as_str();
    Text "verdict" "served, doubtful or unserved" = |l| l.premises.verdict.name();
    Text "limit_cause" "what holds an unserved premises back" = |l| l.premises.limit.as_ref().map(|x| x.cause.name());
    Number "distance_m" "length of the path along the ground" = |l| l.link.distance_m;
    Number "azimuth_deg" "true azimuth from the mast" = |l| l.link.azimuth_deg;
    Number "clearance_ratio" "least clearance as a share of the first Fresnel zone; negative when blocked" = |l| l.link.clearance_ratio;
    Number "excess_loss_db" "loss in excess of free space" = |l| l.link.excess_loss_db;
    Number "downlink_rsl_dbm" "received level per chain at the terminal" = |l| l.link.downlink.rsl_dbm;
    Number "uplink_rsl_dbm" "received level per chain at the base station" = |l| l.link.uplink.rsl_dbm;
    Number "margin_db" "smaller margin of the two directions" = |l| l.link.margin_db();
    Number "probability_frac" "probability that the installation meets its plan" = |l| l.link.probability_frac;
}

fn columns<F>(fields: &[Field<F>]) -> Vec<Column> {
    fields.iter().map(|f| f.column).collect()
}

/// Premises as points: the ledger.
pub fn premises(handout: &Handout<'_>) -> Layer {
    let row = |p: &PremisesResult| Row {
        shape: Shape::Point(p.position),
        cells: PREMISES.iter().map(|f| (f.value)(p)).collect(),
    };
    Layer {
        name: "premises",
        title: "Premises with their verdict",
        columns: columns(PREMISES),
        rows: handout.study.premises.iter().map(row).collect(),
    }
}

/// Sectors as points at their masts.
pub fn sectors(handout: &Handout<'_>) -> Layer {
    Layer {
        name: "sectors",
        title: "Sectors with power and load",
        columns: columns(SECTORS),
        rows: sector_rows(handout, |row| Shape::Point(row.result.position)),
    }
}

/// Radius by which a sector that serves nobody is drawn.
const IDLE_RADIUS_M: f64 = 1000.0;

/// Sectors as wedges: half-power beam out to the farthest premises served.
pub fn sector_wedges(handout: &Handout<'_>) -> Layer {
    let outline = |row: &SectorRow<'_>| {
        let radius_m = match row.result.farthest_served_m {
            r if r > 0.0 => r,
            _ => IDLE_RADIUS_M,
        };
        let width_deg = row.designed.map_or(360.0, wedge::width_deg);
        Shape::Area(wedge::ring(
            row.result.position,
            row.result.azimuth_deg,
            width_deg,
            radius_m,
        ))
    };
    Layer {
        name: "sector_wedges",
        title: "Sectors drawn as half-power beam to the farthest premises served; not coverage",
        columns: columns(SECTORS),
        rows: sector_rows(handout, outline),
    }
}

fn sector_rows(handout: &Handout<'_>, shape: impl Fn(&SectorRow<'_>) -> Shape) -> Vec<Row> {
    let row = |result: &SectorResult| {
        let row = SectorRow {
            designed: handout.network.sector(&result.id),
            result,
        };
        Row {
            shape: shape(&row),
            cells: SECTORS.iter().map(|f| (f.value)(&row)).collect(),
        }
    };
    handout.study.sectors.iter().map(row).collect()
}

/// Links as lines from mast to premises: the one that serves, or comes closest.
pub fn links(handout: &Handout<'_>) -> Layer {
    let row = |premises| {
        let p: &PremisesResult = premises;
        let link = p.link.as_ref()?;
        let row = LinkRow { premises: p, link };
        Some(Row {
            shape: Shape::Line([mast_of(handout.network, link)?, p.position]),
            cells: LINKS.iter().map(|f| (f.value)(&row)).collect(),
        })
    };
    Layer {
        name: "links",
        title: "Links from mast to premises",
        columns: columns(LINKS),
        rows: handout.study.premises.iter().filter_map(row).collect(),
    }
}

fn mast_of(network: &Network, link: &Link) -> Option<LonLat> {
    let sector = network.sector(&link.sector)?;
    Some(network.mast(&sector.mast)?.position)
}

/// Every layer, in the order in which a map draws them from below; hops where there are any.
pub fn all(handout: &Handout<'_>) -> Vec<Layer> {
    let mut layers = vec![
        sector_wedges(handout),
        links(handout),
        sectors(handout),
        premises(handout),
    ];
    if !handout.study.backhaul.hops.is_empty() {
        layers.insert(2, hops(handout));
    }
    layers
}

impl Layer {
    /// The value of a column in a row.
    pub fn cell(&self, row: usize, column: &str) -> Option<&Cell> {
        let index = self.columns.iter().position(|c| c.name == column)?;
        self.rows.get(row)?.cells.get(index)
    }
}
