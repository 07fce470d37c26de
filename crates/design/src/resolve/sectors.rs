//! Masts and sectors.

use std::collections::BTreeMap;

use geodesy::LonLat;
use model::air_interface::FrameStructure;
use model::{
    AirInterface, BaseStation, Channel, Finding, FrameSplit, Mast, MastId, Sector, SectorId,
    Severity, Subject,
};

use super::hops::MastList;
use super::{Context, duplicate, given, id_of, lookup, spoiled};
use crate::check::Places;
use crate::schema::{DesignText, MastText, SectorText};
use crate::written::{At, Pair};

/// Masts, in the order of the design.
pub(super) fn masts(
    design: &DesignText,
    places: &mut Places,
    findings: &mut Vec<Finding>,
) -> Vec<Mast> {
    let mut masts = Vec::new();
    let mut seen: BTreeMap<String, At<String>> = BTreeMap::new();
    for at in design.mast.iter().flat_map(|list| &list.value) {
        let Some(id) = id_of(&at.value.id, "mast", findings) else {
            continue;
        };
        if let Some(first) = seen.get(&id.value) {
            findings.push(duplicate("mast", id, first));
            continue;
        }
        seen.insert(id.value.clone(), id.clone());
        let subject = Subject::Mast(MastId::new(id.value.as_str()));
        match mast(&at.value, id) {
            Some(mast) => {
                places.note(&subject, "id", &at.value.id);
                places.note(&subject, "lon", &at.value.lon);
                places.note(&subject, "height_agl_m", &at.value.height_agl_m);
                masts.push(mast);
            }
            None => findings.push(spoiled("mast", id, subject)),
        }
    }
    if masts.is_empty() {
        findings.push(
            Finding::new(
                Severity::Warning,
                "no-masts",
                "the design has no usable mast",
            )
            .hint("add a `[[mast]]` table with `id`, `lon`, `lat` and `height_agl_m`"),
        );
    }
    masts
}

fn mast(text: &MastText, id: &At<String>) -> Option<Mast> {
    if !text.is_sound {
        return None;
    }
    let number = |field: &Option<At<f64>>| field.as_ref().map(|at| at.value);
    Some(Mast {
        id: MastId::new(id.value.as_str()),
        name: text
            .name
            .as_ref()
            .map_or_else(|| id.value.clone(), |name| name.value.clone()),
        position: LonLat::new(number(&text.lon)?, number(&text.lat)?).ok()?,
        height_agl_m: number(&text.height_agl_m)?,
        ground_amsl_m: number(&text.ground_amsl_m),
    })
}

/// Sectors, in the order of the design.
pub(super) fn sectors(
    design: &DesignText,
    context: &Context<'_>,
    masts: &[Mast],
    places: &mut Places,
    findings: &mut Vec<Finding>,
) -> Vec<Sector> {
    let resolver = SectorResolver {
        context,
        masts: MastList::new(design, masts),
        air_interface: design
            .spectrum
            .as_ref()
            .and_then(|spectrum| spectrum.value.air_interface.as_ref()),
    };
    let mut sectors = Vec::new();
    let mut seen: BTreeMap<String, At<String>> = BTreeMap::new();
    for at in design.sector.iter().flat_map(|list| &list.value) {
        let Some(id) = id_of(&at.value.id, "sector", findings) else {
            continue;
        };
        if let Some(first) = seen.get(&id.value) {
            findings.push(duplicate("sector", id, first));
            continue;
        }
        seen.insert(id.value.clone(), id.clone());
        let subject = Subject::Sector(SectorId::new(id.value.as_str()));
        match resolver.sector(&at.value, id, findings) {
            Some(sector) => {
                note_places(&at.value, &subject, places);
                sectors.push(sector);
            }
            None => findings.push(spoiled("sector", id, subject)),
        }
    }
    sectors
}

fn note_places(text: &SectorText, subject: &Subject, places: &mut Places) {
    places.note(subject, "id", &text.id);
    places.note(subject, "height_agl_m", &text.height_agl_m);
    places.note(subject, "channel_mhz", &text.channel_mhz);
    places.note(subject, "azimuth_deg", &text.azimuth_deg);
    places.note(subject, "split", &text.split);
}

struct SectorResolver<'a> {
    context: &'a Context<'a>,
    masts: MastList<'a>,
    air_interface: Option<&'a At<String>>,
}

impl SectorResolver<'_> {
    fn sector(
        &self,
        text: &SectorText,
        id: &At<String>,
        findings: &mut Vec<Finding>,
    ) -> Option<Sector> {
        let defaults = &self.context.defaults;
        let cards = self.context.catalogue;
        // Every reference is looked at before the first one that fails decides.
        let mast = self.masts.find(text.mast.as_ref(), findings);
        let antenna_id = named(&text.antenna, &defaults.antenna, "antenna", id, findings);
        let antenna = lookup(&cards.antennas, antenna_id, "antenna", findings);
        let radio_id = named(
            &text.base_station,
            &defaults.base_station,
            "base_station",
            id,
            findings,
        );
        let base_station = lookup(&cards.base_stations, radio_id, "base station", findings);
        let air_id = text.air_interface.as_ref().or(self.air_interface);
        let air_id = or_missing(air_id, "air_interface", id, findings);
        let air_interface = lookup(&cards.air_interfaces, air_id, "air interface", findings);
        let power = base_station
            .as_deref()
            .and_then(|radio| self.power_dbm(text, radio, findings));
        let split = air_interface
            .as_deref()
            .and_then(|air| self.split(text, air, findings));
        let channel = air_interface
            .as_deref()
            .and_then(|air| channel(text, air, findings));
        if !text.is_sound {
            return None;
        }
        let mast = mast?;
        let or_default = |own: &Option<At<f64>>, default: &Option<At<f64>>| {
            own.as_ref().map_or_else(|| given(default), |at| at.value)
        };
        Some(Sector {
            id: SectorId::new(id.value.as_str()),
            mast: mast.id.clone(),
            height_agl_m: text
                .height_agl_m
                .as_ref()
                .map_or(mast.height_agl_m, |at| at.value),
            azimuth_deg: text.azimuth_deg.as_ref()?.value,
            mechanical_downtilt_deg: or_default(
                &text.mechanical_downtilt_deg,
                &defaults.mechanical_downtilt_deg,
            ),
            electrical_downtilt_deg: or_default(
                &text.electrical_downtilt_deg,
                &defaults.electrical_downtilt_deg,
            ),
            antenna: antenna?,
            base_station: base_station?,
            air_interface: air_interface?,
            split: split?,
            synchronised: given(&text.synchronised),
            channel: channel?,
            tx_power_per_chain_dbm: power?,
            feeder_loss_db: or_default(&text.feeder_loss_db, &defaults.feeder_loss_db),
        })
    }

    fn power_dbm(
        &self,
        text: &SectorText,
        radio: &BaseStation,
        findings: &mut Vec<Finding>,
    ) -> Option<f64> {
        let own = text.tx_power_per_chain_dbm.as_ref();
        let Some(at) = own.or(self.context.defaults.tx_power_per_chain_dbm.as_ref()) else {
            return Some(radio.max_tx_power_per_chain_dbm);
        };
        let (min, max) = (
            radio.min_tx_power_per_chain_dbm,
            radio.max_tx_power_per_chain_dbm,
        );
        if (min..=max).contains(&at.value) {
            return Some(at.value);
        }
        let message = format!(
            "`tx_power_per_chain_dbm` is `{}`, outside the `{min}` to `{max}` dBm of `{}`",
            at.value, radio.id
        );
        findings.push(
            at.pin(Finding::new(Severity::Error, "out-of-range", message))
                .hint(format!("write a power between {min} and {max} dBm")),
        );
        None
    }

    fn split(
        &self,
        text: &SectorText,
        air: &AirInterface,
        findings: &mut Vec<Finding>,
    ) -> Option<FrameSplit> {
        let own = text.split.as_ref();
        match own.or(self.context.defaults.split.as_ref()) {
            Some(split) => frame_split(split, &air.frame, findings),
            None => Some(air.default_split),
        }
    }
}

/// The sector's own name for a card, or the default's.
fn named<'t>(
    own: &'t Option<At<String>>,
    default: &'t Option<At<String>>,
    key: &str,
    sector: &At<String>,
    findings: &mut Vec<Finding>,
) -> Option<&'t At<String>> {
    or_missing(own.as_ref().or(default.as_ref()), key, sector, findings)
}

fn or_missing<'t>(
    written: Option<&'t At<String>>,
    key: &str,
    sector: &At<String>,
    findings: &mut Vec<Finding>,
) -> Option<&'t At<String>> {
    if written.is_none() {
        let table = if key == "air_interface" {
            "spectrum"
        } else {
            "defaults"
        };
        findings.push(
            sector
                .pin(Finding::new(
                    Severity::Error,
                    "missing-key",
                    format!("sector `{}` names no `{key}`", sector.value),
                ))
                .hint(format!(
                    "add `{key} = …` to the sector, or to `[{table}]` for all of them"
                )),
        );
    }
    written
}

fn channel(text: &SectorText, air: &AirInterface, findings: &mut Vec<Finding>) -> Option<Channel> {
    let width_mhz = air.channel_width_mhz;
    if let Some(written) = &text.channel_width_mhz
        && (written.value - width_mhz).abs() > 1e-6
    {
        let message = format!(
            "`channel_width_mhz` is `{}`, but air interface `{}` is `{width_mhz}` MHz wide",
            written.value, air.id
        );
        findings.push(
            written
                .pin(Finding::new(Severity::Error, "channel-width", message))
                .hint("name an air interface of this width, or remove `channel_width_mhz`"),
        );
        return None;
    }
    Some(Channel {
        centre_mhz: text.channel_mhz.as_ref()?.value,
        width_mhz,
    })
}

/// What two numbers mean as the split of a frame.
pub(crate) fn frame_split(
    split: &At<Pair>,
    frame: &FrameStructure,
    findings: &mut Vec<Finding>,
) -> Option<FrameSplit> {
    let Pair(downlink, uplink) = split.value;
    let mut fault = |message: String, hint: String| {
        let finding = Finding::new(Severity::Error, "frame-split", message);
        findings.push(split.pin(finding).hint(hint));
        None
    };
    match frame {
        FrameStructure::OfdmaPusc {
            symbols_per_frame,
            uplink_control_symbols,
            ..
        } => {
            let is_whole = |n: f64| n.fract() == 0.0 && (1.0..=1000.0).contains(&n);
            if !is_whole(downlink) || !is_whole(uplink) {
                return fault(
                    format!("split `[{downlink}, {uplink}]` is not in whole symbols"),
                    "write downlink and uplink symbols, as in `split = [29, 18]`".to_owned(),
                );
            }
            let (downlink_symbols, uplink_symbols) = (downlink as u32, uplink as u32);
            let sum = downlink_symbols + uplink_symbols;
            if sum > *symbols_per_frame {
                return fault(
                    format!(
                        "split `[{downlink}, {uplink}]` takes `{sum}` symbols of a frame of `{symbols_per_frame}`"
                    ),
                    format!(
                        "let the two add up to {symbols_per_frame}, or fewer for a longer guard"
                    ),
                );
            }
            if downlink_symbols < 2 || uplink_symbols <= *uplink_control_symbols {
                return fault(
                    format!("split `[{downlink}, {uplink}]` leaves no symbol for data"),
                    format!(
                        "the downlink has one preamble symbol, the uplink `{uplink_control_symbols}` of control"
                    ),
                );
            }
            Some(FrameSplit::Symbols {
                downlink_symbols,
                uplink_symbols,
            })
        }
        FrameStructure::GenericTdd { guard_frac, .. } => {
            let is_share = |n: f64| (0.0..=1.0).contains(&n);
            // Shares are written with a few digits: a thousandth over is rounding.
            if !is_share(downlink) || !is_share(uplink) || downlink + uplink + guard_frac > 1.001 {
                return fault(
                    format!(
                        "split `[{downlink}, {uplink}]` does not fit into a frame with guard `{guard_frac}`"
                    ),
                    "write shares of the frame, as in `split = [0.74, 0.23]`".to_owned(),
                );
            }
            Some(FrameSplit::Fractions {
                downlink_frac: downlink,
                uplink_frac: uplink,
            })
        }
    }
}
