//! The lines of a link budget, top to bottom.

use model::equipment::PolarizationPair;
use serde::Serialize;

use crate::compliance::AllowedPower;
use crate::frame::Direction;
use crate::link::{Levels, LinkDirection};
use crate::path::path_model;
use crate::radio::ReadyNetwork;
use crate::woodland::Woodland;

/// One line of a budget.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BudgetTerm {
    /// Name with its unit, as in the result files.
    pub name: &'static str,
    /// What a person reads.
    pub label: String,
    /// Value; losses are negative, so that a column adds up.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
    /// Where the value comes from.
    pub source: String,
    /// Whether the line is a sum of those above it.
    pub subtotal: bool,
}

/// Names of the cards that a budget's values come from.
pub(super) struct Names {
    base_station: String,
    sector_antenna: String,
    terminal: String,
    terminal_antenna: String,
    base_power: String,
    terminal_power: String,
    air_interface: String,
    pointing: String,
    polarization: String,
    conditions: String,
    trees: Option<Trees>,
}

/// What the trees around the terminal change, and where that comes from.
struct Trees {
    loss_db: f64,
    source: String,
}

impl From<Woodland> for Trees {
    fn from(w: Woodland) -> Self {
        Self {
            loss_db: w.combined_loss_db - w.over_loss_db,
            source: format!(
                "{:.0} m through the canopy, ITU-R P.833, beside the way over it",
                w.depth_m
            ),
        }
    }
}

impl Names {
    pub(super) fn new(
        ready: &ReadyNetwork<'_>,
        (sector, premises): (usize, usize),
        woodland: Option<Woodland>,
    ) -> Self {
        let s = &ready.sectors[sector];
        let t = &ready.terminals[ready.terminal_of[premises]];
        let power = |allowed: &AllowedPower, asked_by: &str| match &allowed.bound_by {
            Some(rule) => format!(
                "rule `{rule}`; {asked_by} asks for {:.1} dBm",
                allowed.requested_per_chain_dbm
            ),
            None => asked_by.to_owned(),
        };
        let propagation = &ready.network.propagation;
        Self {
            base_station: format!("base station `{}`", s.sector.base_station.id),
            sector_antenna: format!("antenna `{}` as aimed and tilted", s.sector.antenna.id),
            terminal: format!("terminal `{}`", t.terminal.id),
            terminal_antenna: format!("antenna `{}` aimed at the mast", t.terminal.antenna.id),
            base_power: power(&s.power, "the design"),
            terminal_power: power(&t.power[sector], &format!("terminal `{}`", t.terminal.id)),
            air_interface: format!("air interface `{}`", s.sector.air_interface.id),
            pointing: format!("terminal aimed {:.1}° off", t.terminal.pointing_error_deg),
            polarization: format!(
                "{} at the mast, {} at the premises",
                pair_name(s.sector.antenna.polarization),
                pair_name(t.terminal.antenna.polarization)
            ),
            conditions: format!(
                "{}, {} % of the time, median location",
                path_model(propagation.service_model, s.sector.channel.centre_mhz).name(),
                propagation.time_pct
            ),
            trees: woodland.map(Trees::from),
        }
    }
}

/// What a direction's lines are called and where their values come from.
struct Ends<'a> {
    tx_power: &'a str,
    tx_radio: &'a str,
    tx_antenna: &'a str,
    rx_antenna: &'a str,
    rx_radio: &'a str,
}

impl Names {
    fn ends(&self, which: Direction) -> Ends<'_> {
        match which {
            Direction::Downlink => Ends {
                tx_power: &self.base_power,
                tx_radio: &self.base_station,
                tx_antenna: &self.sector_antenna,
                rx_antenna: &self.terminal_antenna,
                rx_radio: &self.terminal,
            },
            Direction::Uplink => Ends {
                tx_power: &self.terminal_power,
                tx_radio: &self.terminal,
                tx_antenna: &self.terminal_antenna,
                rx_antenna: &self.sector_antenna,
                rx_radio: &self.base_station,
            },
        }
    }
}

/// The lines of one direction's budget.
pub(super) fn budget(
    direction: &LinkDirection,
    which: Direction,
    names: &Names,
) -> Vec<BudgetTerm> {
    let mut lines = level_lines(&direction.levels, &names.ends(which), names);
    lines.push(sum(
        "rsl_dbm",
        "received level per chain",
        (direction.rsl_dbm, "dBm"),
    ));
    lines.extend(quality_lines(direction, &names.ends(which), names));
    lines
}

/// From the transmitter to the receiver's port.
fn level_lines(l: &Levels, ends: &Ends<'_>, names: &Names) -> Vec<BudgetTerm> {
    let line = |name, label, value, source: &str| term(name, label, value, source.to_owned());
    let (tree_loss_db, trees_source) = names
        .trees
        .as_ref()
        .map_or((0.0, ""), |t| (t.loss_db, t.source.as_str()));
    let mut lines = vec![
        line(
            "tx_power_per_chain_dbm",
            "transmit power per chain",
            (l.tx_power_per_chain_dbm, "dBm"),
            ends.tx_power,
        ),
        line(
            "tx_feeder_loss_db",
            "transmit feeder",
            (-l.tx_feeder_loss_db, "dB"),
            ends.tx_radio,
        ),
        line(
            "tx_gain_dbi",
            "transmit antenna, this direction",
            (l.tx_gain_dbi, "dBi"),
            ends.tx_antenna,
        ),
        line(
            "path_loss_db",
            "path loss",
            (tree_loss_db - l.path_loss_db, "dB"),
            &names.conditions,
        ),
        line(
            "tree_loss_db",
            "trees around the terminal",
            (-tree_loss_db, "dB"),
            trees_source,
        ),
        line(
            "near_clutter_loss_db",
            "clutter around the terminal",
            (-l.near_clutter_loss_db, "dB"),
            "ITU-R P.2108-1 section 3.2, median",
        ),
        line(
            "entry_loss_db",
            "building entry loss",
            (-l.entry_loss_db, "dB"),
            "ITU-R P.2109, median",
        ),
        line(
            "rx_gain_dbi",
            "receive antenna, this direction",
            (l.rx_gain_dbi, "dBi"),
            ends.rx_antenna,
        ),
        line(
            "pointing_loss_db",
            "pointing error",
            (-l.pointing_loss_db, "dB"),
            &names.pointing,
        ),
        line(
            "polarization_loss_db",
            "polarization and mounting rotation",
            (-l.polarization_loss_db, "dB"),
            &names.polarization,
        ),
        line(
            "rx_feeder_loss_db",
            "receive feeder",
            (-l.rx_feeder_loss_db, "dB"),
            ends.rx_radio,
        ),
    ];
    // Most terminals stand in the open: no line for what is not there.
    let may_be_absent = ["near_clutter_loss_db", "entry_loss_db"];
    lines.retain(|l| l.value != 0.0 || !may_be_absent.contains(&l.name));
    lines.retain(|l| names.trees.is_some() || l.name != "tree_loss_db");
    lines
}

/// From the received level to the rate.
fn quality_lines(direction: &LinkDirection, ends: &Ends<'_>, names: &Names) -> Vec<BudgetTerm> {
    let mut lines = vec![
        term(
            "noise_dbm",
            "noise of one chain",
            (direction.levels.noise_dbm, "dBm"),
            format!(
                "kTB over the occupied width, noise figure of {}",
                ends.rx_radio
            ),
        ),
        sum("snr_db", "signal over noise", (direction.snr_db, "dB")),
    ];
    if let Some(interference_dbm) = direction.interference_dbm {
        lines.push(term(
            "interference_dbm",
            "interference",
            (interference_dbm, "dBm"),
            "sum of every co- and adjacent-channel sector".to_owned(),
        ));
    }
    lines.push(sum(
        "sinr_db",
        "signal over noise and interference",
        (direction.sinr_db, "dB"),
    ));
    if let Some(required_db) = direction.required_sinr_db {
        lines.push(term(
            "required_sinr_db",
            "needed for the plan's rate, fade margin included",
            (required_db, "dB"),
            names.air_interface.clone(),
        ));
    }
    if let Some(margin_db) = direction.margin_db {
        lines.push(sum("margin_db", "margin", (margin_db, "dB")));
    }
    if let (Some(step), Some(mcs)) = (&direction.step, &direction.mcs_name) {
        lines.push(term(
            "ethernet_rate_mbps",
            &format!("{mcs}, {}", step.mode.name()),
            (step.ethernet_rate_mbps, "Mb/s"),
            format!("{}, the sector otherwise idle", names.air_interface),
        ));
    }
    lines
}

pub(crate) fn term(
    name: &'static str,
    label: &str,
    (value, unit): (f64, &'static str),
    source: String,
) -> BudgetTerm {
    BudgetTerm {
        name,
        label: label.to_owned(),
        value,
        unit,
        source,
        subtotal: false,
    }
}

pub(crate) fn sum(name: &'static str, label: &str, value: (f64, &'static str)) -> BudgetTerm {
    BudgetTerm {
        subtotal: true,
        ..term(name, label, value, "sum of the lines above".to_owned())
    }
}

fn pair_name(pair: PolarizationPair) -> &'static str {
    match pair {
        PolarizationPair::HorizontalVertical => "horizontal and vertical",
        PolarizationPair::DualSlant => "dual slant",
        PolarizationPair::VerticalOnly => "vertical",
        PolarizationPair::HorizontalOnly => "horizontal",
    }
}
