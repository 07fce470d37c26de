//! The network as JSON with every card once: a sector, premises or hop names
//! the cards it uses by id, and [`Cards`] holds them.
//!
//! Each struct of the model is taken apart whole, so that a field that it gains
//! cannot be forgotten here. Fields keep the model's names.

use std::collections::BTreeMap;

use geodesy::LonLat;
use model::air_interface::FrameSplit;
use model::backhaul::{Hop, HopEnd, HopModulation, HopPolarization, HopRadio};
use model::climate::FadingClimate;
use model::equipment::{BackOff, BaseStation};
use model::network::{Channel, Mast, Mounting, PlaceDefaults, Premises, Sector, Territory};
use model::settings::{GroundSources, PropagationSettings, StudySettings};
use model::{
    AirInterface, Antenna, EquipmentId, HopId, MastId, Network, PlanId, PremisesId, RuleId,
    RuleSet, SectorId, ServicePlan, Terminal,
};
use serde::Serialize;

/// The network; what it is made of stands under `cards`.
#[derive(Serialize)]
pub(super) struct NetworkView<'a> {
    name: &'a str,
    territory: &'a Territory,
    rule_set: &'a RuleId,
    masts: &'a [Mast],
    sectors: Vec<SectorView<'a>>,
    backhaul: BackhaulView<'a>,
    premises: Vec<PremisesView<'a>>,
    place_defaults: Option<PlaceDefaultsView<'a>>,
    propagation: &'a PropagationSettings,
    climate: &'a FadingClimate,
    study: &'a StudySettings,
    ground: &'a GroundSources,
    cards: Cards<'a>,
}

/// Every card that the network uses, by its id.
#[derive(Default, Serialize)]
struct Cards<'a> {
    antennas: BTreeMap<&'a EquipmentId, &'a Antenna>,
    base_stations: BTreeMap<&'a EquipmentId, &'a BaseStation>,
    terminals: BTreeMap<&'a EquipmentId, TerminalView<'a>>,
    air_interfaces: BTreeMap<&'a EquipmentId, &'a AirInterface>,
    hop_radios: BTreeMap<&'a EquipmentId, &'a HopRadio>,
    plans: BTreeMap<&'a PlanId, &'a ServicePlan>,
    rule_sets: BTreeMap<&'a RuleId, &'a RuleSet>,
}

impl<'a> Cards<'a> {
    fn of(network: &'a Network) -> Self {
        let mut cards = Self::default();
        cards.rule_set(&network.rule_set);
        for plan in network.plans.values() {
            cards.plans.insert(&plan.id, plan);
        }
        for s in &network.sectors {
            cards.antennas.insert(&s.antenna.id, &s.antenna);
            cards
                .base_stations
                .insert(&s.base_station.id, &s.base_station);
            cards
                .air_interfaces
                .insert(&s.air_interface.id, &s.air_interface);
        }
        for p in &network.premises {
            cards.end(&p.terminal, &p.plan);
        }
        if let Some(p) = &network.place_defaults {
            cards.end(&p.terminal, &p.plan);
        }
        for h in &network.backhaul.hops {
            cards.hop_radios.insert(&h.radio.id, &h.radio);
            cards.rule_set(&h.rule_set);
            for end in [&h.from, &h.to] {
                cards.antennas.insert(&end.antenna.id, &end.antenna);
            }
        }
        cards
    }

    fn rule_set(&mut self, rule_set: &'a RuleSet) {
        self.rule_sets.insert(&rule_set.id, rule_set);
    }

    fn end(&mut self, terminal: &'a Terminal, plan: &'a ServicePlan) {
        let antenna = &terminal.antenna;
        self.antennas.insert(&antenna.id, antenna);
        self.terminals.insert(&terminal.id, terminal.into());
        self.plans.insert(&plan.id, plan);
    }
}

impl<'a> From<&'a Network> for NetworkView<'a> {
    fn from(network: &'a Network) -> Self {
        let Network {
            name,
            territory,
            rule_set,
            masts,
            sectors,
            backhaul,
            premises,
            plans: _,
            place_defaults,
            propagation,
            climate,
            study,
            ground,
        } = network;
        Self {
            name,
            territory,
            rule_set: &rule_set.id,
            masts,
            sectors: sectors.iter().map(SectorView::from).collect(),
            backhaul: BackhaulView {
                core: &backhaul.core,
                hops: backhaul.hops.iter().map(HopView::from).collect(),
            },
            premises: premises.iter().map(PremisesView::from).collect(),
            place_defaults: place_defaults.as_ref().map(PlaceDefaultsView::from),
            propagation,
            climate,
            study,
            ground,
            cards: Cards::of(network),
        }
    }
}

#[derive(Serialize)]
struct SectorView<'a> {
    id: &'a SectorId,
    mast: &'a MastId,
    height_agl_m: f64,
    azimuth_deg: f64,
    mechanical_downtilt_deg: f64,
    electrical_downtilt_deg: f64,
    antenna: &'a EquipmentId,
    base_station: &'a EquipmentId,
    air_interface: &'a EquipmentId,
    split: &'a FrameSplit,
    synchronised: bool,
    channel: Channel,
    tx_power_per_chain_dbm: f64,
    feeder_loss_db: f64,
}

impl<'a> From<&'a Sector> for SectorView<'a> {
    fn from(of: &'a Sector) -> Self {
        let Sector {
            id,
            mast,
            height_agl_m,
            azimuth_deg,
            mechanical_downtilt_deg,
            electrical_downtilt_deg,
            antenna,
            base_station,
            air_interface,
            split,
            synchronised,
            channel,
            tx_power_per_chain_dbm,
            feeder_loss_db,
        } = of;
        Self {
            id,
            mast,
            height_agl_m: *height_agl_m,
            azimuth_deg: *azimuth_deg,
            mechanical_downtilt_deg: *mechanical_downtilt_deg,
            electrical_downtilt_deg: *electrical_downtilt_deg,
            antenna: &antenna.id,
            base_station: &base_station.id,
            air_interface: &air_interface.id,
            split,
            synchronised: *synchronised,
            channel: *channel,
            tx_power_per_chain_dbm: *tx_power_per_chain_dbm,
            feeder_loss_db: *feeder_loss_db,
        }
    }
}

#[derive(Serialize)]
struct PremisesView<'a> {
    id: &'a PremisesId,
    name: &'a str,
    position: LonLat,
    mount_height_agl_m: f64,
    mounting: Mounting,
    plan: &'a PlanId,
    terminal: &'a EquipmentId,
    priority: i32,
    fixed_sector: Option<&'a SectorId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    people: Option<f64>,
}

impl<'a> From<&'a Premises> for PremisesView<'a> {
    fn from(of: &'a Premises) -> Self {
        let Premises {
            id,
            name,
            position,
            mount_height_agl_m,
            mounting,
            plan,
            terminal,
            priority,
            fixed_sector,
            people,
        } = of;
        Self {
            id,
            name,
            position: *position,
            mount_height_agl_m: *mount_height_agl_m,
            mounting: *mounting,
            plan: &plan.id,
            terminal: &terminal.id,
            priority: *priority,
            fixed_sector: fixed_sector.as_ref(),
            people: *people,
        }
    }
}

#[derive(Serialize)]
struct PlaceDefaultsView<'a> {
    terminal: &'a EquipmentId,
    plan: &'a PlanId,
}

impl<'a> From<&'a PlaceDefaults> for PlaceDefaultsView<'a> {
    fn from(of: &'a PlaceDefaults) -> Self {
        let PlaceDefaults { terminal, plan } = of;
        Self {
            terminal: &terminal.id,
            plan: &plan.id,
        }
    }
}

#[derive(Serialize)]
struct BackhaulView<'a> {
    core: &'a [MastId],
    hops: Vec<HopView<'a>>,
}

#[derive(Serialize)]
struct HopView<'a> {
    id: &'a HopId,
    from: HopEndView<'a>,
    to: HopEndView<'a>,
    channel: Channel,
    polarization: HopPolarization,
    radio: &'a EquipmentId,
    modulation: HopModulation,
    tx_power_dbm: f64,
    pointing_error_deg: f64,
    rule_set: &'a RuleId,
    climate: &'a FadingClimate,
    availability_target_pct: f64,
}

impl<'a> From<&'a Hop> for HopView<'a> {
    fn from(of: &'a Hop) -> Self {
        let Hop {
            id,
            from,
            to,
            channel,
            polarization,
            radio,
            modulation,
            tx_power_dbm,
            pointing_error_deg,
            rule_set,
            climate,
            availability_target_pct,
        } = of;
        Self {
            id,
            from: from.into(),
            to: to.into(),
            channel: *channel,
            polarization: *polarization,
            radio: &radio.id,
            modulation: *modulation,
            tx_power_dbm: *tx_power_dbm,
            pointing_error_deg: *pointing_error_deg,
            rule_set: &rule_set.id,
            climate,
            availability_target_pct: *availability_target_pct,
        }
    }
}

#[derive(Serialize)]
struct HopEndView<'a> {
    mast: &'a MastId,
    height_agl_m: f64,
    antenna: &'a EquipmentId,
    feeder_loss_db: f64,
}

impl<'a> From<&'a HopEnd> for HopEndView<'a> {
    fn from(of: &'a HopEnd) -> Self {
        let HopEnd {
            mast,
            height_agl_m,
            antenna,
            feeder_loss_db,
        } = of;
        Self {
            mast,
            height_agl_m: *height_agl_m,
            antenna: &antenna.id,
            feeder_loss_db: *feeder_loss_db,
        }
    }
}

#[derive(Serialize)]
struct TerminalView<'a> {
    id: &'a EquipmentId,
    name: &'a str,
    antenna: &'a EquipmentId,
    lower_mhz: f64,
    upper_mhz: f64,
    max_tx_power_per_chain_dbm: f64,
    min_tx_power_per_chain_dbm: f64,
    tx_chains: u8,
    rx_chains: u8,
    back_off: &'a [BackOff],
    noise_figure_db: f64,
    feeder_loss_db: f64,
    pointing_error_deg: f64,
    roll_error_deg: f64,
    adjacent_channel_rejection_db: f64,
    price: f64,
    source: &'a str,
}

impl<'a> From<&'a Terminal> for TerminalView<'a> {
    fn from(of: &'a Terminal) -> Self {
        let Terminal {
            id,
            name,
            antenna,
            lower_mhz,
            upper_mhz,
            max_tx_power_per_chain_dbm,
            min_tx_power_per_chain_dbm,
            tx_chains,
            rx_chains,
            back_off,
            noise_figure_db,
            feeder_loss_db,
            pointing_error_deg,
            roll_error_deg,
            adjacent_channel_rejection_db,
            price,
            source,
        } = of;
        Self {
            id,
            name,
            antenna: &antenna.id,
            lower_mhz: *lower_mhz,
            upper_mhz: *upper_mhz,
            max_tx_power_per_chain_dbm: *max_tx_power_per_chain_dbm,
            min_tx_power_per_chain_dbm: *min_tx_power_per_chain_dbm,
            tx_chains: *tx_chains,
            rx_chains: *rx_chains,
            back_off,
            noise_figure_db: *noise_figure_db,
            feeder_loss_db: *feeder_loss_db,
            pointing_error_deg: *pointing_error_deg,
            roll_error_deg: *roll_error_deg,
            adjacent_channel_rejection_db: *adjacent_channel_rejection_db,
            price: *price,
            source,
        }
    }
}
