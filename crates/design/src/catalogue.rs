//! The cards that ship inside the program: antennas, radios, air
//! interfaces, rule sets and legends, each with its sources.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use model::{
    AirInterface, Antenna, BaseStation, ClutterTable, Finding, HopRadio, RuleSet, Terminal,
};

use crate::resolve::cards::resolve_cards;
use crate::schema::CardsText;
use crate::sources::PatternTable;
use crate::text::SourceText;

/// Cards by id.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Catalogue {
    /// Antennas.
    pub antennas: BTreeMap<String, Arc<Antenna>>,
    /// Radios at the mast.
    pub base_stations: BTreeMap<String, Arc<BaseStation>>,
    /// Radios and antennas at the premises.
    pub terminals: BTreeMap<String, Arc<Terminal>>,
    /// Radios of hops.
    pub hop_radios: BTreeMap<String, Arc<HopRadio>>,
    /// Air interfaces.
    pub air_interfaces: BTreeMap<String, Arc<AirInterface>>,
    /// Rule sets.
    pub rule_sets: BTreeMap<String, Arc<RuleSet>>,
    /// Land cover legends.
    pub legends: BTreeMap<String, Arc<ClutterTable>>,
}

/// The texts of the built-in cards; a project's `equipment/*.toml` has the same shape.
pub fn built_in_texts() -> Vec<SourceText> {
    [
        (
            "built-in/antennas.toml",
            include_str!("../../../data/antennas.toml"),
        ),
        (
            "built-in/base_stations.toml",
            include_str!("../../../data/base_stations.toml"),
        ),
        (
            "built-in/terminals.toml",
            include_str!("../../../data/terminals.toml"),
        ),
        (
            "built-in/hop_radios.toml",
            include_str!("../../../data/hop_radios.toml"),
        ),
        (
            "built-in/air_interfaces.toml",
            include_str!("../../../data/air_interfaces.toml"),
        ),
        (
            "built-in/rule_sets.toml",
            include_str!("../../../data/rule_sets.toml"),
        ),
        (
            "built-in/legends.toml",
            include_str!("../../../data/legends.toml"),
        ),
    ]
    .into_iter()
    .map(|(file, text)| SourceText::new(file, text))
    .collect()
}

/// The built-in cards alone.
pub fn built_in() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| with_project(&[], &BTreeMap::new(), &mut Vec::new()))
}

/// The built-in cards with those of a project's equipment, which replace those
/// of the same id. What is wrong with a card is told by [`crate::read`].
pub fn of(sources: &crate::ProjectSources) -> Catalogue {
    with_project(&sources.equipment, &sources.patterns, &mut Vec::new())
}

/// The built-in cards with a project's own, which replace those of the same id.
pub(crate) fn with_project(
    equipment: &[SourceText],
    patterns: &BTreeMap<String, PatternTable>,
    findings: &mut Vec<Finding>,
) -> Catalogue {
    let own: Vec<CardsText> = equipment
        .iter()
        .filter_map(|text| crate::written::read_toml(text, findings))
        .collect();
    resolve_cards(built_in_cards(), &own, patterns, findings)
}

/// The built-in cards as written.
fn built_in_cards() -> &'static [CardsText] {
    static CARDS: OnceLock<Vec<CardsText>> = OnceLock::new();
    CARDS.get_or_init(|| {
        // A fault in a built-in card is caught by a test, not told to a user.
        let mut unheard = Vec::new();
        built_in_texts()
            .iter()
            .filter_map(|text| crate::written::read_toml(text, &mut unheard))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_built_in_cards_have_no_finding() {
        let mut findings = Vec::new();
        for text in built_in_texts() {
            crate::written::read_toml::<CardsText>(&text, &mut findings);
        }
        resolve_cards(built_in_cards(), &[], &BTreeMap::new(), &mut findings);
        assert_eq!(findings, []);
        let cards = built_in();
        assert!(cards.antennas.len() >= 18 && cards.terminals.len() >= 9);
        assert!(cards.rule_sets.len() >= 15 && cards.legends.len() == 4);
    }

    #[test]
    fn exact_every_built_in_card_names_its_sources() {
        let cards = built_in();
        let sources = cards
            .antennas
            .values()
            .map(|c| &c.source)
            .chain(cards.base_stations.values().map(|c| &c.source))
            .chain(cards.terminals.values().map(|c| &c.source))
            .chain(cards.hop_radios.values().map(|c| &c.source))
            .chain(cards.air_interfaces.values().map(|c| &c.source));
        for source in sources {
            // `others` covers every figure that the note does not name.
            assert!(source.contains("others: "), "{source}");
        }
        for class in cards.legends.values().flat_map(|l| &l.classes) {
            assert!(!class.source.is_empty());
        }
        for rule in cards.rule_sets.values().flat_map(|s| &s.rules) {
            assert!(!rule.source.is_empty() && !rule.certainty.is_empty());
        }
    }

    /// IEEE 802.16 system profiles: symbols and gaps fill the frame exactly
    /// (arithmetic closure of the OFDMA frame, IEEE 802.16-2009 clause 8.4.2.3).
    #[test]
    fn exact_ofdma_frames_close() {
        for id in ["ofdma-5", "ofdma-7", "ofdma-10"] {
            let card = &built_in().air_interfaces[id];
            let model::air_interface::FrameStructure::OfdmaPusc {
                fft_size,
                sampling_factor: (over, under),
                cyclic_prefix_frac,
                symbols_per_frame,
                transmit_transition_gap_us,
                receive_transition_gap_us,
                ..
            } = card.frame
            else {
                panic!("{id} is an OFDMA card")
            };
            let factor = f64::from(over) / f64::from(under);
            let sampling_mhz = (factor * card.channel_width_mhz * 1e6 / 8000.0).floor() * 8e-3;
            let symbol_us = f64::from(fft_size) / sampling_mhz * (1.0 + cyclic_prefix_frac);
            let frame_us = symbol_us * f64::from(symbols_per_frame)
                + transmit_transition_gap_us
                + receive_transition_gap_us;
            assert!(
                (frame_us - card.frame_ms * 1000.0).abs() < 0.01,
                "{id}: {frame_us}"
            );
        }
    }

    /// 3GPP TS 38.214 Table 5.2.2.1-2: spectral efficiency is bits times code rate.
    #[test]
    fn ref_cqi_efficiencies() {
        let card = &built_in().air_interfaces["tdd-ofdm-20"];
        let efficiencies = [
            0.1523, 0.2344, 0.3770, 0.6016, 0.8770, 1.1758, 1.4766, 1.9141, 2.4063, 2.7305, 3.3223,
            3.9023, 4.5234, 5.1152, 5.5547,
        ];
        for (mcs, published) in card.mcs.iter().zip(efficiencies) {
            // The table prints four decimals.
            assert!(
                (mcs.efficiency_bit_per_symbol() - published).abs() < 6e-5,
                "{}",
                mcs.name
            );
        }
    }

    /// Densities of the Federal Communications Commission's Part 90 and Part 96 limits on a 10 MHz channel:
    /// 40.00 dBm (47 CFR 90.1321) and 47 dBm (47 CFR 96.41, Category B).
    #[test]
    fn ref_limits_on_ten_megahertz() {
        for (id, eirp_dbm) in [("us-3650-legacy", 40.0), ("us-cbrs-b", 47.0)] {
            let set = &built_in().rule_sets[id];
            let rule = set
                .binding(model::Role::Base, 3660.0, 3670.0)
                .next()
                .expect("a base rule");
            let density = rule.eirp_dbm_per_mhz.expect("a density limit");
            // Ten megahertz hold ten times one megahertz: 10 dB.
            let limit = (density + 10.0).min(rule.eirp_dbm.unwrap_or(f64::INFINITY));
            assert!((limit - eirp_dbm).abs() < 1e-9, "{id}: {limit}");
        }
    }
}
