//! A sector's frame, terminals and links as the simulator takes them.

use model::PremisesId;
use model::air_interface::FrameStructure;
use model::settings::BestEffortSharing;
use simulator::scene::{
    Adaptation, BestEffortShare, BlockErrors, Fading, Framing, Policy, RadioLink, Step, Terminal,
};
use simulator::{FrameModel, Scene};

use super::flows;
use crate::adaptation::StepTable;
use crate::frame::{self, Direction};
use crate::link::{Link, LinkDirection};
use crate::load::frame_budget::{Bursts, FrameBudget};
use crate::radio::{ReadyNetwork, ReadySector};
use crate::study::StudyResult;
use crate::verdict::Verdict;

/// A slow swing of fixed outdoor links, trees in the wind and passing traffic. Common practice, no source.
const FADING: Fading = Fading {
    deviation_db: 1.5,
    correlation_s: 2.0,
};

/// Slots of a frame of a radio that its card describes by shares: fine enough to share out.
const SHARES_SLOTS: u32 = 1000;

/// A sector's scene, and whose the terminals are.
#[derive(Debug, Clone, PartialEq)]
pub struct SectorScene {
    /// What the simulator runs.
    pub scene: Scene,
    /// Premises by terminal.
    pub premises: Vec<PremisesId>,
}

/// The scene of a sector with the customers that a study gave it.
pub fn sector_scene(ready: &ReadyNetwork<'_>, study: &StudyResult, sector: usize) -> SectorScene {
    let own = &ready.sectors[sector];
    let mut made = SectorScene {
        scene: Scene {
            frame: frame_model(own),
            ladders: Vec::new(),
            terminals: Vec::new(),
            flows: Vec::new(),
            voice_lines: Vec::new(),
            policy: policy(ready, own),
        },
        premises: Vec::new(),
    };
    let mut ladders = Ladders::default();
    for (p, result) in study.premises.iter().enumerate() {
        let served = result.verdict != Verdict::Unserved;
        let Some(link) = result
            .link
            .as_ref()
            .filter(|l| served && l.sector == own.sector.id)
        else {
            continue;
        };
        let kind = ready.terminal_of[p];
        let terminal = terminal((ready, own), (kind, link), &mut ladders);
        let index = made.scene.terminals.len();
        made.scene.terminals.push(terminal);
        made.premises.push(result.id.clone());
        flows::add(&mut made.scene, index, &ready.network.premises[p].plan);
    }
    made.scene.ladders = ladders.made;
    made
}

fn frame_model(sector: &ReadySector<'_>) -> FrameModel {
    let (card, split) = (&sector.sector.air_interface, sector.sector.split);
    match &card.frame {
        FrameStructure::OfdmaPusc {
            map_repetition,
            uplink_control_symbols,
            ..
        } => FrameModel::Ofdma {
            numerology: frame::numerology(card),
            split: frame::symbol_split(card, split),
            map_repetition: *map_repetition,
            uplink_control_symbols: *uplink_control_symbols,
        },
        FrameStructure::GenericTdd { .. } => FrameModel::Fixed {
            frame_ms: card.frame_ms,
            downlink_slots: SHARES_SLOTS,
            uplink_slots: SHARES_SLOTS,
            downlink_frac: frame::share_frac(card, split, Direction::Downlink),
        },
    }
}

fn policy(ready: &ReadyNetwork<'_>, sector: &ReadySector<'_>) -> Policy {
    let budget = FrameBudget::new(&sector.sector.air_interface, sector.sector.split);
    let usual = Policy::default();
    let framing = if budget.has_slots() {
        Framing::default()
    } else {
        // A card of shares has headers in its efficiency.
        Framing {
            header_bytes: 0,
            crc_bytes: 0,
            subheader_bytes: 0,
            ..Framing::default()
        }
    };
    Policy {
        best_effort: match ready.network.study.best_effort_sharing {
            BestEffortSharing::EqualAirtime => BestEffortShare::EqualAirtime,
            BestEffortSharing::EqualRate => BestEffortShare::EqualRate,
            BestEffortSharing::Weighted => BestEffortShare::Weighted,
        },
        framing,
        adaptation: Adaptation {
            errors: BlockErrors {
                at_threshold_frac: budget.block_error_frac(),
                ..BlockErrors::default()
            },
            ..usual.adaptation
        },
        ..usual
    }
}

/// Ladders in use, each once.
#[derive(Debug, Default)]
struct Ladders {
    made: Vec<Vec<Step>>,
}

impl Ladders {
    fn index(&mut self, ladder: Vec<Step>) -> usize {
        self.made
            .iter()
            .position(|l| *l == ladder)
            .unwrap_or_else(|| {
                self.made.push(ladder);
                self.made.len() - 1
            })
    }
}

fn terminal(
    (ready, sector): (&ReadyNetwork<'_>, &ReadySector<'_>),
    (kind, link): (usize, &Link),
    ladders: &mut Ladders,
) -> Terminal {
    let mut radio = |direction, link: &LinkDirection, table: &StepTable| {
        let bandwidth_frac = link.busy_step.map_or(1.0, |s| s.bandwidth_frac);
        let ladder = ladder((ready, sector), (direction, bandwidth_frac), table);
        RadioLink {
            ladder: ladders.index(ladder),
            mean_sinr_db: link.sinr_db,
            slots_max: slots_max(sector, direction, bandwidth_frac),
        }
    };
    Terminal {
        downlink: radio(Direction::Downlink, &link.downlink, &sector.downlink[kind]),
        uplink: radio(Direction::Uplink, &link.uplink, &sector.uplink[kind]),
        fading: FADING,
    }
}

/// Slots that a terminal with its power in a share of the channel can fill.
fn slots_max(sector: &ReadySector<'_>, direction: Direction, bandwidth_frac: f64) -> u32 {
    let budget = FrameBudget::new(&sector.sector.air_interface, sector.sector.split);
    let slots = if budget.has_slots() {
        budget.data_slots(direction, Bursts::default())
    } else {
        f64::from(SHARES_SLOTS)
    };
    (slots * bandwidth_frac).floor().max(1.0) as u32
}

/// The steps of a direction at one concentration, slow to fast, each faster than all that ask for less.
///
/// The simulator fades links itself, so the study's fade margin is taken off.
fn ladder(
    (ready, sector): (&ReadyNetwork<'_>, &ReadySector<'_>),
    (direction, bandwidth_frac): (Direction, f64),
    table: &StepTable,
) -> Vec<Step> {
    let budget = FrameBudget::new(&sector.sector.air_interface, sector.sector.split);
    let slots = if budget.has_slots() {
        1.0
    } else {
        f64::from(SHARES_SLOTS)
    };
    let margin_db = ready.network.study.fade_margin_db;
    let mut steps: Vec<Step> = table
        .steps()
        .iter()
        .filter(|s| s.bandwidth_frac == bandwidth_frac)
        .map(|s| Step {
            bits_per_slot: (budget.bits_per_slot(s, direction)
                / f64::from(s.mode.streams())
                / slots)
                .round() as u32,
            streams: s.mode.streams(),
            sinr_threshold_db: s.required_sinr_db - margin_db,
        })
        .collect();
    steps.sort_by(|a, b| {
        let order = a.sinr_threshold_db.total_cmp(&b.sinr_threshold_db);
        order.then(b.slot_bits().cmp(&a.slot_bits()))
    });
    let mut fastest_bits = 0;
    steps.retain(|s| {
        let is_faster = s.slot_bits() > fastest_bits;
        fastest_bits = fastest_bits.max(s.slot_bits());
        is_faster
    });
    steps
}
