//! Sectors and terminals made ready: patterns prepared, powers reduced to
//! what the rules allow, noise worked out.

use std::collections::BTreeMap;
use std::sync::Arc;

use model::air_interface::AirInterface;
use model::equipment::{Antenna, PatternSpec, SideLobes as SpecSideLobes, Terminal};
use model::finding::{Finding, Severity, Subject};
use model::network::{Mast, Network, Sector};
use physics::antenna::{
    self, Combination, CutPattern, CutPoint, DishMask, Envelope, MountedAntenna, Mounting, Pattern,
    PreparedPattern, SectorBand, SideLobes,
};
use physics::noise;

use crate::adaptation::{LinkKind, StepTable};
use crate::compliance::{self, AllowedPower};
use crate::frame;
use crate::frame::Direction;
use crate::path::PathEnd;
use crate::polarization::PortMatch;

/// A network made ready for evaluation, index by index like the network's own lists.
#[derive(Debug)]
pub struct ReadyNetwork<'a> {
    /// The network as designed.
    pub network: &'a Network,
    /// One per sector, in the network's order.
    pub sectors: Vec<ReadySector<'a>>,
    /// One per distinct terminal card.
    pub terminals: Vec<ReadyTerminal>,
    /// Index into `terminals` by premises.
    pub terminal_of: Vec<usize>,
    /// What the rules and the equipment forced.
    pub findings: Vec<Finding>,
}

/// A sector made ready.
#[derive(Debug)]
pub struct ReadySector<'a> {
    /// The sector as designed.
    pub sector: &'a Sector,
    /// Its mast.
    pub mast: &'a Mast,
    /// Antenna on its mount.
    pub antenna: MountedAntenna,
    /// Power after the rules.
    pub power: AllowedPower,
    /// Noise of one receive chain over the channel, noise figure included.
    pub noise_dbm: f64,
    /// Farthest terminal that the frame's guard time allows.
    pub guard_range_m: f64,
    /// How its ports meet those of each terminal (index into [`ReadyNetwork::terminals`]).
    pub ports: Vec<PortMatch>,
    /// Downlink steps by terminal.
    pub downlink: Vec<StepTable>,
    /// Uplink steps by terminal.
    pub uplink: Vec<StepTable>,
}

impl ReadySector<'_> {
    /// The sector's end of a path.
    pub fn path_end(&self) -> PathEnd {
        PathEnd {
            position: self.mast.position,
            agl_m: self.sector.height_agl_m,
            ground_amsl_m: self.mast.ground_amsl_m,
        }
    }
}

/// A kind of terminal made ready.
#[derive(Debug)]
pub struct ReadyTerminal {
    /// The card.
    pub terminal: Arc<Terminal>,
    /// Antenna, not aimed yet.
    pub pattern: PreparedPattern,
    /// Gain lost by the stated pointing error.
    pub pointing_loss_db: f64,
    /// Power after the rules, by sector: channels differ.
    pub power: Vec<AllowedPower>,
    /// Noise of one receive chain over the channel, by sector.
    pub noise_dbm: Vec<f64>,
}

impl<'a> ReadyNetwork<'a> {
    /// Makes a network ready. What cannot be used as designed is replaced by
    /// the nearest thing that can, and told in `findings`.
    pub fn new(network: &'a Network) -> Self {
        let mut findings = Vec::new();
        let (cards, terminal_of) = distinct_terminals(network);
        let masts: BTreeMap<_, _> = network.masts.iter().map(|m| (&m.id, m)).collect();
        let mut sectors: Vec<ReadySector<'a>> = network
            .sectors
            .iter()
            .filter_map(|s| Some((s, *masts.get(&s.mast)?)))
            .map(|(sector, mast)| ready_sector(network, sector, mast, &mut findings))
            .collect();
        let terminals: Vec<ReadyTerminal> = cards
            .into_iter()
            .map(|card| ready_terminal(network, card, &sectors, &mut findings))
            .collect();
        for (index, sector) in sectors.iter_mut().enumerate() {
            sector.ports = terminals
                .iter()
                .map(|t| PortMatch::of(sector.sector, &t.terminal))
                .collect();
            findings.extend(port_findings(sector, &terminals));
            sector.downlink =
                step_tables(network, (index, sector), &terminals, Direction::Downlink);
            sector.uplink = step_tables(network, (index, sector), &terminals, Direction::Uplink);
        }
        findings.extend(compliance::timing_findings(network));
        Self {
            network,
            sectors,
            terminals,
            terminal_of,
            findings,
        }
    }
}

fn distinct_terminals(network: &Network) -> (Vec<Arc<Terminal>>, Vec<usize>) {
    let mut cards: Vec<Arc<Terminal>> = Vec::new();
    let index = network
        .premises
        .iter()
        .map(|p| {
            cards
                .iter()
                .position(|c| Arc::ptr_eq(c, &p.terminal) || c.id == p.terminal.id)
                .unwrap_or_else(|| {
                    cards.push(Arc::clone(&p.terminal));
                    cards.len() - 1
                })
        })
        .collect();
    (cards, index)
}

fn ready_sector<'a>(
    network: &Network,
    sector: &'a Sector,
    mast: &'a Mast,
    findings: &mut Vec<Finding>,
) -> ReadySector<'a> {
    let pattern = prepare(&sector.antenna, sector.channel.centre_mhz, findings);
    let mounting = Mounting {
        azimuth_deg: sector.azimuth_deg,
        mechanical_downtilt_deg: sector.mechanical_downtilt_deg,
        electrical_downtilt_deg: sector.electrical_downtilt_deg,
    };
    let antenna = MountedAntenna::new(pattern, mounting);
    let (power, told) = compliance::base_power(&network.rule_set, sector, &antenna);
    findings.extend(told);
    ReadySector {
        sector,
        mast,
        antenna,
        power,
        noise_dbm: noise_dbm(&sector.air_interface, sector.base_station.noise_figure_db),
        guard_range_m: frame::guard_range_m(&sector.air_interface, sector.split),
        ports: Vec::new(),
        downlink: Vec::new(),
        uplink: Vec::new(),
    }
}

fn ready_terminal(
    network: &Network,
    card: Arc<Terminal>,
    sectors: &[ReadySector<'_>],
    findings: &mut Vec<Finding>,
) -> ReadyTerminal {
    // The pattern of a terminal is that of the band it tunes to.
    let frequency_mhz = sectors
        .iter()
        .map(|s| &s.sector.channel)
        .find(|channel| card.tunes_to(channel))
        .map_or(0.5 * (card.lower_mhz + card.upper_mhz), |c| c.centre_mhz);
    let pattern = prepare(&card.antenna, frequency_mhz, findings);
    let pointing_loss_db = antenna::pointing_loss_db(&pattern, card.pointing_error_deg, 0.0);
    let mut told: Vec<Finding> = Vec::new();
    let power = sectors
        .iter()
        .map(|s| {
            let (power, new) =
                compliance::terminal_power(&network.rule_set, &card, &pattern, &s.sector.channel);
            for finding in new {
                if !told.contains(&finding) {
                    told.push(finding);
                }
            }
            power
        })
        .collect();
    findings.append(&mut told);
    let noise_dbm = sectors
        .iter()
        .map(|s| noise_dbm(&s.sector.air_interface, card.noise_figure_db))
        .collect();
    ReadyTerminal {
        terminal: card,
        pattern,
        pointing_loss_db,
        power,
        noise_dbm,
    }
}

fn noise_dbm(air_interface: &AirInterface, noise_figure_db: f64) -> f64 {
    noise::noise_floor_dbm(frame::occupied_mhz(air_interface), noise_figure_db)
}

fn step_tables(
    network: &Network,
    (index, sector): (usize, &ReadySector<'_>),
    terminals: &[ReadyTerminal],
    direction: Direction,
) -> Vec<StepTable> {
    let base = &sector.sector.base_station;
    terminals
        .iter()
        .enumerate()
        .map(|(kind, ready)| {
            let terminal = &ready.terminal;
            let (tx_chains, rx_chains, back_off) = match direction {
                Direction::Downlink => (base.chains, terminal.rx_chains, &base.back_off),
                Direction::Uplink => (terminal.tx_chains, base.chains, &terminal.back_off),
            };
            let power_headroom_db = match direction {
                Direction::Downlink => base.max_tx_power_per_chain_dbm - sector.power.per_chain_dbm,
                Direction::Uplink => {
                    terminal.max_tx_power_per_chain_dbm - ready.power[index].per_chain_dbm
                }
            };
            StepTable::new(&LinkKind {
                air_interface: &sector.sector.air_interface,
                split: sector.sector.split,
                direction,
                tx_chains,
                rx_chains,
                back_off,
                power_headroom_db,
                ports: sector.ports[kind],
                fade_margin_db: network.study.fade_margin_db,
            })
        })
        .collect()
}

/// Ends that were not built for each other work, but lose level and streams.
fn port_findings(sector: &ReadySector<'_>, terminals: &[ReadyTerminal]) -> Vec<Finding> {
    terminals
        .iter()
        .zip(&sector.ports)
        .filter(|(_, ports)| !ports.same_pair)
        .map(|(t, ports)| {
            Finding::new(
                Severity::Warning,
                "polarization-differs",
                format!(
                    "sector `{}` and terminal `{}` are polarized differently: each stream loses `{:.1} dB` at its port",
                    sector.sector.id, t.terminal.id, ports.loss_db
                ),
            )
            .about(Subject::Sector(sector.sector.id.clone()))
            .hint("choose antennas with the same pair of polarizations at both ends")
        })
        .collect()
}

/// The pattern of a card, ready to be asked; isotropic with a finding where
/// the card's figures make no pattern.
pub(crate) fn prepare(
    card: &Antenna,
    frequency_mhz: f64,
    findings: &mut Vec<Finding>,
) -> PreparedPattern {
    pattern(card, frequency_mhz)
        .prepare(card.gain_dbi)
        .unwrap_or_else(|error| {
            findings.push(
                Finding::new(
                    Severity::Error,
                    "antenna-pattern",
                    format!(
                        "the pattern of antenna `{}` cannot be used: {error}",
                        card.id
                    ),
                )
                .about(Subject::Equipment(card.id.clone()))
                .hint(
                    "its gain is taken as the same in every direction until the card is corrected",
                ),
            );
            isotropic(card.gain_dbi)
        })
}

fn isotropic(gain_dbi: f64) -> PreparedPattern {
    Pattern::Isotropic
        .prepare(gain_dbi)
        .or_else(|_| Pattern::Isotropic.prepare(0.0))
        .expect("an isotropic pattern of 0 dBi has no figure that could be wrong")
}

fn envelope(side_lobes: SpecSideLobes) -> Envelope {
    match side_lobes {
        SpecSideLobes::Peak => Envelope::Peak,
        SpecSideLobes::Average => Envelope::Average,
    }
}

/// F.1336 gives one mask up to 6 GHz and another above.
fn band(f_ghz: f64) -> SectorBand {
    if f_ghz <= 6.0 {
        SectorBand::Below6Ghz
    } else {
        SectorBand::Above6Ghz
    }
}

fn quality(improved: bool) -> SideLobes {
    if improved {
        SideLobes::Improved
    } else {
        SideLobes::Typical
    }
}

fn pattern(card: &Antenna, frequency_mhz: f64) -> Pattern {
    let f_ghz = frequency_mhz / 1e3;
    match &card.pattern {
        PatternSpec::Isotropic => Pattern::Isotropic,
        PatternSpec::F1336Sector {
            beamwidth_h_deg,
            beamwidth_v_deg,
            side_lobes,
            improved,
        } => Pattern::Sector {
            band: band(f_ghz),
            envelope: envelope(*side_lobes),
            side_lobes: quality(*improved),
            beamwidth_h_deg: *beamwidth_h_deg,
            beamwidth_v_deg: *beamwidth_v_deg,
        },
        PatternSpec::F1336Omni {
            beamwidth_v_deg,
            side_lobes,
            improved,
        } => Pattern::Omni {
            envelope: envelope(*side_lobes),
            // F.1336: k = 0.7 for typical antennas up to 3 GHz, 0 for improved ones and above.
            side_lobe_k: if *improved || f_ghz >= 3.0 { 0.0 } else { 0.7 },
            beamwidth_v_deg: *beamwidth_v_deg,
        },
        PatternSpec::Tr38901Element {
            beamwidth_h_deg,
            beamwidth_v_deg,
            side_lobe_limit_db,
            front_to_back_db,
        } => Pattern::Parabolic {
            beamwidth_h_deg: *beamwidth_h_deg,
            beamwidth_v_deg: *beamwidth_v_deg,
            max_attenuation_db: *front_to_back_db,
            side_lobe_attenuation_db: *side_lobe_limit_db,
        },
        PatternSpec::F1245Dish {
            diameter_wavelengths,
        } => Pattern::Dish {
            mask: DishMask::F1245Average,
            f_ghz,
            diameter_wavelengths: *diameter_wavelengths,
        },
        PatternSpec::F699Dish {
            diameter_wavelengths,
        } => Pattern::Dish {
            mask: DishMask::F699Peak,
            f_ghz,
            diameter_wavelengths: *diameter_wavelengths,
        },
        PatternSpec::Cuts {
            horizontal,
            vertical,
            near_symmetric,
        } => Pattern::Cuts(CutPattern {
            horizontal: cut(horizontal),
            vertical: cut(vertical),
            combination: if *near_symmetric {
                Combination::Roll
            } else {
                Combination::Compression
            },
        }),
    }
}

fn cut(points: &[model::equipment::CutPoint]) -> Vec<CutPoint> {
    points
        .iter()
        .map(|p| CutPoint {
            angle_deg: p.angle_deg,
            loss_db: p.loss_db,
        })
        .collect()
}
