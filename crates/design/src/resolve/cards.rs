//! Cards as written to cards as meant.

mod hop_radio;
mod rules;

use std::collections::BTreeMap;
use std::sync::Arc;

use model::air_interface::{FrameStructure, MimoRules};
use model::equipment::BackOff;
use model::{
    AirInterface, Antenna, BaseStation, EquipmentId, Finding, FrameSplit, Mcs, Modulation,
    Oscillator, PatternSpec, Severity, Terminal,
};

use super::{id_of, lookup};
use crate::catalogue::Catalogue;
use crate::schema::*;
use crate::sources::PatternTable;
use crate::text::suggestion;
use crate::written::At;

/// Resolves built-in cards and a project's own, which replace those of the same id.
pub(crate) fn resolve_cards(
    built_in: &[CardsText],
    own: &[CardsText],
    patterns: &BTreeMap<String, PatternTable>,
    findings: &mut Vec<Finding>,
) -> Catalogue {
    let mut catalogue = Catalogue::default();
    // Terminals name antennas, so all antennas come first.
    for cards in [built_in, own] {
        let mut layer = Layer::new(findings);
        for text in cards {
            layer.add(&mut catalogue.antennas, &text.antenna, |card, findings| {
                antenna(card, patterns, findings)
            });
            layer.add(
                &mut catalogue.base_stations,
                &text.base_station,
                base_station,
            );
            layer.add(
                &mut catalogue.hop_radios,
                &text.hop_radio,
                hop_radio::hop_radio,
            );
            layer.add(
                &mut catalogue.air_interfaces,
                &text.air_interface,
                air_interface,
            );
            layer.add(&mut catalogue.rule_sets, &text.rule_set, rules::rule_set);
            layer.add(&mut catalogue.legends, &text.legend, |card, _| {
                rules::legend(card)
            });
        }
    }
    let antennas = catalogue.antennas.clone();
    for cards in [built_in, own] {
        let mut layer = Layer::new(findings);
        for text in cards {
            layer.add(
                &mut catalogue.terminals,
                &text.terminal,
                |card, findings| terminal(card, &antennas, findings),
            );
        }
    }
    catalogue
}

/// Cards of one origin, in which an id stands once per kind.
struct Layer<'f> {
    findings: &'f mut Vec<Finding>,
    seen: BTreeMap<(&'static str, String), At<String>>,
}

impl<'f> Layer<'f> {
    fn new(findings: &'f mut Vec<Finding>) -> Self {
        Self {
            findings,
            seen: BTreeMap::new(),
        }
    }

    fn add<C: Card, T>(
        &mut self,
        into: &mut BTreeMap<String, Arc<T>>,
        cards: &Option<At<Vec<At<C>>>>,
        resolve: impl Fn(&C, &mut Vec<Finding>) -> Option<T>,
    ) {
        for card in cards.iter().flat_map(|list| &list.value) {
            let Some(id) = id_of(card.value.id(), C::KIND, self.findings) else {
                continue;
            };
            let key = (C::KIND, id.value.clone());
            if let Some(first) = self.seen.get(&key) {
                self.findings.push(super::duplicate(C::KIND, id, first));
                continue;
            }
            self.seen.insert(key, id.clone());
            if let Some(resolved) = resolve(&card.value, self.findings) {
                into.insert(id.value.clone(), Arc::new(resolved));
            }
        }
    }
}

trait Card {
    const KIND: &'static str;
    fn id(&self) -> &Option<At<String>>;
}

macro_rules! card {
    ($($text:ty => $kind:literal),* $(,)?) => {
        $(impl Card for $text {
            const KIND: &'static str = $kind;
            fn id(&self) -> &Option<At<String>> {
                &self.id
            }
        })*
    };
}
card! {
    AntennaText => "antenna",
    BaseStationText => "base station",
    TerminalText => "terminal",
    HopRadioText => "hop radio",
    AirInterfaceText => "air interface",
    RuleSetText => "rule set",
    LegendText => "legend",
}

/// Value of a key that may be absent.
fn value<T: Clone>(field: &Option<At<T>>) -> Option<T> {
    field.as_ref().map(|at| at.value.clone())
}

fn name_or_id(name: &Option<At<String>>, id: &str) -> String {
    value(name).unwrap_or_else(|| id.to_owned())
}

fn source(note: &Option<At<SourceNote>>) -> String {
    note.as_ref()
        .map_or(String::new(), |note| note.value.0.clone())
}

fn antenna(
    text: &AntennaText,
    patterns: &BTreeMap<String, PatternTable>,
    findings: &mut Vec<Finding>,
) -> Option<Antenna> {
    let id = value(&text.id)?;
    let pattern = match (&text.pattern, &text.pattern_file) {
        (Some(pattern), None) if text.is_sound => formula(pattern, findings)?,
        (None, Some(path)) if text.is_sound => {
            let near_symmetric = value(&text.near_symmetric)?;
            cuts(path, near_symmetric, patterns, findings)?
        }
        (Some(_), Some(both)) => {
            findings.push(
                both.pin(Finding::new(
                    Severity::Error,
                    "two-patterns",
                    format!("antenna `{id}` has both a `pattern` and a `pattern_file`"),
                ))
                .hint("keep the one that is measured and remove the other"),
            );
            return None;
        }
        (None, None) if text.is_sound => {
            let at = text.id.as_ref()?;
            findings.push(
                at.pin(Finding::new(
                    Severity::Error,
                    "missing-key",
                    format!("antenna `{id}` has neither a `pattern` nor a `pattern_file`"),
                ))
                .hint("add `pattern_file = \"patterns/…\"` or a table `[antenna.pattern]`"),
            );
            return None;
        }
        _ => return None,
    };
    Some(Antenna {
        name: name_or_id(&text.name, &id),
        id: EquipmentId::new(id),
        gain_dbi: value(&text.gain_dbi)?,
        pattern,
        polarization: value(&text.polarization)?,
        cross_polar_discrimination_db: value(&text.cross_polar_discrimination_db)?,
        source: source(&text.source),
    })
}

fn cuts(
    path: &At<String>,
    near_symmetric: bool,
    patterns: &BTreeMap<String, PatternTable>,
    findings: &mut Vec<Finding>,
) -> Option<PatternSpec> {
    let Some(table) = patterns.get(&path.value) else {
        findings.push(
            path.pin(Finding::new(
                Severity::Error,
                "no-such-file",
                format!(
                    "pattern file `{}` is not in the project or cannot be read",
                    path.value
                ),
            ))
            .hint("paths are relative to the project folder, with `/`"),
        );
        return None;
    };
    let (horizontal, vertical) = match (table.horizontal.is_empty(), table.vertical.is_empty()) {
        (false, false) => (&table.horizontal, &table.vertical),
        // The same cut serves every plane of a dish or panel.
        (false, true) if near_symmetric => (&table.horizontal, &table.horizontal),
        (true, false) if near_symmetric => (&table.vertical, &table.vertical),
        _ => {
            let message = format!("pattern file `{}` lacks a cut", path.value);
            findings.push(
                path.pin(Finding::new(Severity::Error, "missing-cut", message))
                    .hint("a sector needs a horizontal and a vertical cut; for a dish or panel set `near_symmetric = true`"),
            );
            return None;
        }
    };
    Some(PatternSpec::Cuts {
        horizontal: horizontal.clone(),
        vertical: vertical.clone(),
        near_symmetric,
    })
}

fn formula(text: &At<PatternText>, findings: &mut Vec<Finding>) -> Option<PatternSpec> {
    let pattern = &text.value;
    if !pattern.is_sound {
        return None;
    }
    let formula = pattern.formula.as_ref()?;
    let mut need = |field: &Option<At<f64>>, key: &str| {
        if field.is_none() {
            findings.push(
                text.pin(Finding::new(
                    Severity::Error,
                    "missing-key",
                    format!("`{key}` is missing in `pattern`"),
                ))
                .hint(format!("this formula needs `{key} = …`, in degrees")),
            );
        }
        value(field)
    };
    Some(match formula.value {
        PatternFormula::Isotropic => PatternSpec::Isotropic,
        PatternFormula::F1336Sector => {
            let h = need(&pattern.beamwidth_h_deg, "beamwidth_h_deg");
            let v = need(&pattern.beamwidth_v_deg, "beamwidth_v_deg");
            PatternSpec::F1336Sector {
                beamwidth_h_deg: h?,
                beamwidth_v_deg: v?,
                side_lobes: value(&pattern.side_lobes)?,
                improved: value(&pattern.improved)?,
            }
        }
        PatternFormula::F1336Omni => PatternSpec::F1336Omni {
            beamwidth_v_deg: need(&pattern.beamwidth_v_deg, "beamwidth_v_deg")?,
            side_lobes: value(&pattern.side_lobes)?,
            improved: value(&pattern.improved)?,
        },
        PatternFormula::Tr38901Element => {
            let h = need(&pattern.beamwidth_h_deg, "beamwidth_h_deg");
            let v = need(&pattern.beamwidth_v_deg, "beamwidth_v_deg");
            PatternSpec::Tr38901Element {
                beamwidth_h_deg: h?,
                beamwidth_v_deg: v?,
                side_lobe_limit_db: value(&pattern.side_lobe_limit_db)?,
                front_to_back_db: value(&pattern.front_to_back_db)?,
            }
        }
        PatternFormula::F1245Dish => PatternSpec::F1245Dish {
            diameter_wavelengths: value(&pattern.diameter_wavelengths),
        },
        PatternFormula::F699Dish => PatternSpec::F699Dish {
            diameter_wavelengths: value(&pattern.diameter_wavelengths),
        },
    })
}

const MODULATIONS: [Modulation; 4] = [
    Modulation::Qpsk,
    Modulation::Qam16,
    Modulation::Qam64,
    Modulation::Qam256,
];

fn back_off(
    table: &Option<At<BTreeMap<String, At<f64>>>>,
    findings: &mut Vec<Finding>,
) -> Vec<BackOff> {
    let mut rows = Vec::new();
    for (key, back_off) in table.iter().flat_map(|table| &table.value) {
        let Some(&modulation) = MODULATIONS.iter().find(|m| m.name() == key) else {
            findings.push(
                back_off
                    .pin(Finding::new(
                        Severity::Error,
                        "unknown-key",
                        format!("`{key}` is not a modulation"),
                    ))
                    .hint(suggestion(key, MODULATIONS.map(Modulation::name))),
            );
            continue;
        };
        if !(0.0..=30.0).contains(&back_off.value) {
            findings.push(
                back_off
                    .pin(Finding::new(
                        Severity::Error,
                        "out-of-range",
                        format!(
                            "back-off for `{key}` is `{}`, outside 0 to 30",
                            back_off.value
                        ),
                    ))
                    .hint("write the reduction of the power in dB, a positive number"),
            );
            continue;
        }
        rows.push(BackOff {
            modulation,
            back_off_db: back_off.value,
        });
    }
    rows.sort_by_key(|row| row.modulation);
    rows
}

/// Whether a radio's lowest power lies above its highest, with the finding.
fn is_power_upside_down(
    id: &str,
    min: &Option<At<f64>>,
    max: &Option<At<f64>>,
    findings: &mut Vec<Finding>,
) -> bool {
    let (Some(min), Some(max)) = (min, max) else {
        return true;
    };
    if min.value <= max.value {
        return false;
    }
    let message = format!(
        "the lowest power of `{id}` is `{}` dBm, above its highest of `{}` dBm",
        min.value, max.value
    );
    let at = if min.place.is_some() { min } else { max };
    findings.push(
        at.pin(Finding::new(Severity::Error, "out-of-range", message))
            .hint("lower `min_tx_power_per_chain_dbm`"),
    );
    true
}

fn base_station(text: &BaseStationText, findings: &mut Vec<Finding>) -> Option<BaseStation> {
    let id = value(&text.id)?;
    let (min, max) = (
        &text.min_tx_power_per_chain_dbm,
        &text.max_tx_power_per_chain_dbm,
    );
    let back_off = back_off(&text.back_off_db, findings);
    if !text.is_sound || is_power_upside_down(&id, min, max, findings) {
        return None;
    }
    Some(BaseStation {
        name: name_or_id(&text.name, &id),
        id: EquipmentId::new(id),
        lower_mhz: value(&text.lower_mhz)?,
        upper_mhz: value(&text.upper_mhz)?,
        max_tx_power_per_chain_dbm: value(max)?,
        min_tx_power_per_chain_dbm: value(min)?,
        chains: u8::try_from(value(&text.chains)?).ok()?,
        back_off,
        noise_figure_db: value(&text.noise_figure_db)?,
        adjacent_channel_rejection_db: value(&text.adjacent_channel_rejection_db)?,
        max_terminals: value(&text.max_terminals)?,
        max_aggregate_mbps: value(&text.max_aggregate_mbps)?,
        max_packets_per_s: value(&text.max_packets_per_s)?,
        oscillator: Oscillator {
            offset_ppb: value(&text.oscillator_offset_ppb)?,
            ageing_ppb_per_day: value(&text.oscillator_ageing_ppb_per_day)?,
        },
        source: source(&text.source),
    })
}

fn terminal(
    text: &TerminalText,
    antennas: &BTreeMap<String, Arc<Antenna>>,
    findings: &mut Vec<Finding>,
) -> Option<Terminal> {
    let id = value(&text.id)?;
    let antenna = lookup(antennas, text.antenna.as_ref(), "antenna", findings);
    let (min, max) = (
        &text.min_tx_power_per_chain_dbm,
        &text.max_tx_power_per_chain_dbm,
    );
    let back_off = back_off(&text.back_off_db, findings);
    if !text.is_sound || is_power_upside_down(&id, min, max, findings) {
        return None;
    }
    Some(Terminal {
        name: name_or_id(&text.name, &id),
        id: EquipmentId::new(id),
        antenna: antenna?,
        lower_mhz: value(&text.lower_mhz)?,
        upper_mhz: value(&text.upper_mhz)?,
        max_tx_power_per_chain_dbm: value(max)?,
        min_tx_power_per_chain_dbm: value(min)?,
        tx_chains: u8::try_from(value(&text.tx_chains)?).ok()?,
        rx_chains: u8::try_from(value(&text.rx_chains)?).ok()?,
        back_off,
        noise_figure_db: value(&text.noise_figure_db)?,
        feeder_loss_db: value(&text.feeder_loss_db)?,
        pointing_error_deg: value(&text.pointing_error_deg)?,
        roll_error_deg: value(&text.roll_error_deg)?,
        adjacent_channel_rejection_db: value(&text.adjacent_channel_rejection_db)?,
        price: value(&text.price)?,
        source: source(&text.source),
    })
}

fn air_interface(text: &AirInterfaceText, findings: &mut Vec<Finding>) -> Option<AirInterface> {
    let id = value(&text.id)?;
    if !text.is_sound {
        return None;
    }
    let frame = match (&text.ofdma_pusc, &text.generic_tdd) {
        (Some(frame), None) => ofdma_pusc(&frame.value)?,
        (None, Some(frame)) => generic_tdd(&frame.value)?,
        _ => {
            let at = text.id.as_ref()?;
            findings.push(
                at.pin(Finding::new(
                    Severity::Error,
                    "frame-structure",
                    format!("air interface `{id}` must have one of `ofdma_pusc` and `generic_tdd`"),
                ))
                .hint("add the table that describes its frame, and only that one"),
            );
            return None;
        }
    };
    let split = super::sectors::frame_split(text.default_split.as_ref()?, &frame, findings)?;
    let splits = splits(text, split, (&frame, findings))?;
    let mimo = value(&text.mimo).unwrap_or_default();
    Some(AirInterface {
        name: name_or_id(&text.name, &id),
        id: EquipmentId::new(id),
        standard: value(&text.standard)?,
        channel_width_mhz: value(&text.channel_width_mhz)?,
        frame_ms: value(&text.frame_ms)?,
        frame,
        default_split: split,
        splits,
        block_error_frac: value(&text.block_error_frac)?,
        mcs: mcs_list(text.mcs.as_ref()?, findings)?,
        implementation_margin_db: value(&text.implementation_margin_db)?,
        mimo: MimoRules {
            space_time_coding_gain_db: value(&mimo.space_time_coding_gain_db)?,
            uplink_spatial_multiplexing: value(&mimo.uplink_spatial_multiplexing)?,
            spatial_multiplexing_min_sinr_db: value(&mimo.spatial_multiplexing_min_sinr_db)?,
            stream_cancellation_db: value(&mimo.stream_cancellation_db)?,
        },
        mac_overhead_frac: value(&text.mac_overhead_frac)?,
        min_uplink_subchannels: value(&text.min_uplink_subchannels)?,
        source: source(&text.source),
    })
}

/// The splits of a card, the default among them.
fn splits(
    text: &AirInterfaceText,
    default: FrameSplit,
    (frame, findings): (&FrameStructure, &mut Vec<Finding>),
) -> Option<Vec<FrameSplit>> {
    let mut splits = Vec::new();
    for split in text.splits.iter().flat_map(|list| &list.value) {
        splits.push(super::sectors::frame_split(split, frame, findings)?);
    }
    if !splits.contains(&default) {
        splits.insert(0, default);
    }
    Some(splits)
}

fn mcs_list(list: &At<Vec<At<McsText>>>, findings: &mut Vec<Finding>) -> Option<Vec<Mcs>> {
    if list.value.iter().any(|mcs| !mcs.value.is_sound) {
        return None;
    }
    let mut steps = Vec::new();
    for mcs in &list.value {
        steps.push(Mcs {
            name: value(&mcs.value.name)?,
            modulation: value(&mcs.value.modulation)?,
            code_rate: value(&mcs.value.code_rate)?.0,
            repetition: u8::try_from(value(&mcs.value.repetition)?).ok()?,
            sinr_threshold_db: value(&mcs.value.sinr_threshold_db)?,
        });
    }
    if steps.is_empty() {
        findings.push(
            list.pin(Finding::new(
                Severity::Error,
                "empty-list",
                "`mcs` has no steps",
            ))
            .hint("list at least one modulation and coding step"),
        );
        return None;
    }
    steps.sort_by(|a, b| a.sinr_threshold_db.total_cmp(&b.sinr_threshold_db));
    Some(steps)
}

fn ofdma_pusc(text: &OfdmaPuscText) -> Option<FrameStructure> {
    if !text.is_sound {
        return None;
    }
    let factor = value(&text.sampling_factor)?;
    Some(FrameStructure::OfdmaPusc {
        fft_size: value(&text.fft_size)?,
        sampling_factor: (factor.0 as u32, factor.1 as u32),
        cyclic_prefix_frac: value(&text.cyclic_prefix_frac)?.0,
        subchannels_downlink: value(&text.subchannels_downlink)?,
        subchannels_uplink: value(&text.subchannels_uplink)?,
        used_subcarriers: value(&text.used_subcarriers)?,
        symbols_per_frame: value(&text.symbols_per_frame)?,
        transmit_transition_gap_us: value(&text.transmit_transition_gap_us)?,
        receive_transition_gap_us: value(&text.receive_transition_gap_us)?,
        terminal_turnaround_us: value(&text.terminal_turnaround_us)?,
        uplink_control_symbols: value(&text.uplink_control_symbols)?,
        map_repetition: value(&text.map_repetition)?,
    })
}

fn generic_tdd(text: &GenericTddText) -> Option<FrameStructure> {
    if !text.is_sound {
        return None;
    }
    Some(FrameStructure::GenericTdd {
        occupied_frac: value(&text.occupied_frac)?,
        guard_frac: value(&text.guard_frac)?,
        overhead_frac: value(&text.overhead_frac)?,
        guard_period_us: value(&text.guard_period_us)?,
        terminal_turnaround_us: value(&text.terminal_turnaround_us)?,
        mac_efficiency_frac: value(&text.mac_efficiency_frac)?,
    })
}
