//! Changes as they come over the wire, to edits of the network.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

use geodesy::LonLat;
use pipeline::model::edit::SectorField;
use pipeline::model::{
    Channel, Edit, Mast, MastId, Mounting, Network, PlanId, Premises, PremisesId, Sector, SectorId,
};

use super::scene::Scene;
use crate::api::Place;
use crate::api::change::{Change, NewMast, NewPremises, NewSector, SectorNumber};
use crate::api::problem::Problem;

/// Changes in one request.
const MOST_CHANGES: usize = 200_000;
/// Letters of an id or a name.
const MOST_LETTERS: usize = 200;

/// Turns changes into edits of a scene's network.
pub(crate) fn edits(scene: &Scene, changes: &[Change]) -> Result<Vec<Edit>, Problem> {
    if changes.len() > MOST_CHANGES {
        return Err(Problem::unusable(format!(
            "`{}` changes are too many at once\nhint: at most {MOST_CHANGES}",
            changes.len()
        )));
    }
    let network = scene.network()?;
    let mut resolver = Resolver {
        scene,
        network,
        added: BTreeMap::new(),
        masts: network.masts.len(),
        sectors: network.sectors.len(),
        premises: network.premises.len(),
    };
    changes.iter().map(|change| resolver.edit(change)).collect()
}

struct Resolver<'a> {
    scene: &'a Scene,
    network: &'a Network,
    /// Height of masts that the list itself puts up.
    added: BTreeMap<String, f64>,
    masts: usize,
    sectors: usize,
    premises: usize,
}

impl Resolver<'_> {
    fn edit(&mut self, change: &Change) -> Result<Edit, Problem> {
        Ok(match change {
            Change::SetSectorNumber {
                sector,
                field,
                value,
            } => {
                let (field, range) = sector_field(*field);
                Edit::Sector {
                    sector: SectorId::new(sector.as_str()),
                    field,
                    value: within(field.key(), *value, range)?,
                }
            }
            Change::AddSector { sector } => self.add_sector(sector)?,
            Change::RemoveSector { sector } => {
                self.sectors = self.sectors.saturating_sub(1);
                Edit::RemoveSector {
                    sector: SectorId::new(sector.as_str()),
                }
            }
            Change::AddMast { mast } => self.add_mast(mast)?,
            Change::RemoveMast { mast } => {
                self.masts = self.masts.saturating_sub(1);
                Edit::RemoveMast {
                    mast: MastId::new(mast.as_str()),
                }
            }
            Change::MoveMast { mast, position } => Edit::MoveMast {
                mast: MastId::new(mast.as_str()),
                position: place(*position)?,
            },
            Change::SetMastHeight { mast, height_agl_m } => {
                self.mast_height(mast, *height_agl_m)?
            }
            Change::AddPremises { premises } => self.add_premises(premises)?,
            Change::RemovePremises { premises } => {
                self.premises = self.premises.saturating_sub(1);
                Edit::RemovePremises {
                    premises: PremisesId::new(premises.as_str()),
                }
            }
            Change::MovePremises { premises, position } => Edit::MovePremises {
                premises: PremisesId::new(premises.as_str()),
                position: place(*position)?,
            },
            Change::SetMountHeight {
                premises,
                mount_height_agl_m,
            } => Edit::PremisesMountHeight {
                premises: PremisesId::new(premises.as_str()),
                mount_height_agl_m: mount_height(*mount_height_agl_m)?,
            },
            Change::SetPlan { premises, plan } => Edit::PremisesPlan {
                premises: PremisesId::new(premises.as_str()),
                plan: PlanId::new(plan.as_str()),
            },
            Change::SetTerminal { premises, terminal } => Edit::PremisesTerminal {
                premises: PremisesId::new(premises.as_str()),
                terminal: card(&self.scene.catalogue.terminals, terminal, "terminal")?,
            },
            Change::SetServingSector { premises, sector } => Edit::PremisesSector {
                premises: PremisesId::new(premises.as_str()),
                sector: sector.as_deref().map(SectorId::new),
            },
        })
    }

    /// Sectors at the very top of a mast go along with it.
    fn mast_height(&self, mast: &str, height_agl_m: f64) -> Result<Edit, Problem> {
        let id = MastId::new(mast);
        let known = self.network.mast(&id);
        let top_sectors = known.map_or(Vec::new(), |mast| {
            let own = self.network.sectors.iter().filter(|s| s.mast == mast.id);
            let at_top = own.filter(|s| s.height_agl_m == mast.height_agl_m);
            at_top.map(|s| s.id.clone()).collect()
        });
        Ok(Edit::MastHeight {
            mast: id,
            height_agl_m: within("height_agl_m", height_agl_m, 1.0..=700.0)?,
            top_sectors,
        })
    }

    fn add_mast(&mut self, new: &NewMast) -> Result<Edit, Problem> {
        let name = if new.name.trim().is_empty() {
            &new.id
        } else {
            &new.name
        };
        let mast = Mast {
            id: MastId::new(id(&new.id)?),
            name: text("name", name)?,
            position: place(new.position)?,
            height_agl_m: within("height_agl_m", new.height_agl_m, 1.0..=700.0)?,
            ground_amsl_m: new
                .ground_amsl_m
                .map(|m| within("ground_amsl_m", m, -500.0..=9000.0))
                .transpose()?,
        };
        let index = new.index.unwrap_or(self.masts).min(self.masts);
        self.masts += 1;
        self.added.insert(new.id.clone(), mast.height_agl_m);
        Ok(Edit::AddMast { index, mast })
    }

    fn add_sector(&mut self, new: &NewSector) -> Result<Edit, Problem> {
        let mast = MastId::new(new.mast.as_str());
        let known = self.network.mast(&mast).map(|mast| mast.height_agl_m);
        let top_m = known
            .or_else(|| self.added.get(&new.mast).copied())
            .ok_or_else(|| Problem::unusable(format!("no mast `{}` in the design", new.mast)))?;
        let sectors = &self.network.sectors;
        let own = sectors.iter().find(|sector| sector.mast == mast);
        let like = own.or(sectors.first());
        let cards = &self.scene.catalogue;
        let antenna = named(
            &cards.antennas,
            &new.antenna,
            like.map(|s| &s.antenna),
            "antenna",
        )?;
        let base_station = named(
            &cards.base_stations,
            &new.base_station,
            like.map(|s| &s.base_station),
            "base_station",
        )?;
        let air_interface = named(
            &cards.air_interfaces,
            &new.air_interface,
            like.map(|s| &s.air_interface),
            "air_interface",
        )?;
        let same_air = like.filter(|s| s.air_interface == air_interface);
        let same_radio = like.filter(|s| s.base_station == base_station);
        let most_dbm = base_station.max_tx_power_per_chain_dbm;
        let power_dbm = new.tx_power_per_chain_dbm;
        let power_dbm = power_dbm.or(same_radio.map(|s| s.tx_power_per_chain_dbm));
        let tilt = |key, own: Option<f64>, like: Option<f64>| {
            within(key, own.or(like).unwrap_or(0.0), -30.0..=30.0)
        };
        let loss_db = new.feeder_loss_db.or(like.map(|s| s.feeder_loss_db));
        let centre_mhz = new.channel_centre_mhz;
        let sector = Sector {
            id: SectorId::new(id(&new.id)?),
            mast,
            height_agl_m: within(
                "height_agl_m",
                new.height_agl_m.unwrap_or(top_m),
                1.0..=700.0,
            )?,
            azimuth_deg: within("azimuth_deg", new.azimuth_deg, 0.0..=360.0)?,
            mechanical_downtilt_deg: tilt(
                "mechanical_downtilt_deg",
                new.mechanical_downtilt_deg,
                like.map(|s| s.mechanical_downtilt_deg),
            )?,
            electrical_downtilt_deg: tilt(
                "electrical_downtilt_deg",
                new.electrical_downtilt_deg,
                like.map(|s| s.electrical_downtilt_deg),
            )?,
            channel: Channel {
                centre_mhz: within("channel_centre_mhz", centre_mhz, 30.0..=100_000.0)?,
                width_mhz: air_interface.channel_width_mhz,
            },
            synchronised: like.is_none_or(|s| s.synchronised),
            split: same_air.map_or(air_interface.default_split, |s| s.split),
            tx_power_per_chain_dbm: within(
                "tx_power_per_chain_dbm",
                power_dbm.unwrap_or(most_dbm),
                -60.0..=60.0,
            )?,
            feeder_loss_db: within("feeder_loss_db", loss_db.unwrap_or(0.5), 0.0..=30.0)?,
            antenna,
            base_station,
            air_interface,
        };
        let index = new.index.unwrap_or(self.sectors).min(self.sectors);
        self.sectors += 1;
        Ok(Edit::AddSector {
            index,
            sector: Box::new(sector),
        })
    }

    fn add_premises(&mut self, new: &NewPremises) -> Result<Edit, Problem> {
        let defaults = self.network.place_defaults.as_ref();
        let plan = match &new.plan {
            Some(plan) => {
                let found = self.network.plans.get(&PlanId::new(plan.as_str()));
                found.ok_or_else(|| Problem::unusable(format!("no plan `{plan}` in the design")))?
            }
            None => &defaults.ok_or_else(|| no_default("plan"))?.plan,
        };
        let terminal = named(
            &self.scene.catalogue.terminals,
            &new.terminal,
            defaults.map(|d| &d.terminal),
            "terminal",
        )?;
        let height_m = new.mount_height_agl_m;
        let premises = Premises {
            id: PremisesId::new(id(&new.id)?),
            name: text("name", &new.name)?,
            position: place(new.position)?,
            mount_height_agl_m: mount_height(
                height_m.unwrap_or(self.network.study.mount_height_agl_m),
            )?,
            mounting: mounting(new.mounting.as_deref())?,
            plan: Arc::clone(plan),
            terminal,
            priority: new.priority.unwrap_or(0),
            fixed_sector: new.sector.as_deref().map(SectorId::new),
            people: None,
        };
        let index = new.index.unwrap_or(self.premises).min(self.premises);
        self.premises += 1;
        Ok(Edit::AddPremises {
            index,
            premises: Box::new(premises),
        })
    }
}

fn sector_field(field: SectorNumber) -> (SectorField, RangeInclusive<f64>) {
    match field {
        SectorNumber::AzimuthDeg => (SectorField::AzimuthDeg, 0.0..=360.0),
        SectorNumber::MechanicalDowntiltDeg => (SectorField::MechanicalDowntiltDeg, -30.0..=30.0),
        SectorNumber::ElectricalDowntiltDeg => (SectorField::ElectricalDowntiltDeg, -30.0..=30.0),
        SectorNumber::HeightAglM => (SectorField::HeightAglM, 1.0..=700.0),
        SectorNumber::TxPowerPerChainDbm => (SectorField::TxPowerPerChainDbm, -60.0..=60.0),
        SectorNumber::ChannelCentreMhz => (SectorField::ChannelCentreMhz, 30.0..=100_000.0),
    }
}

fn within(key: &str, value: f64, range: RangeInclusive<f64>) -> Result<f64, Problem> {
    if range.contains(&value) {
        // Adding zero turns a negative zero into a plain one.
        return Ok(value + 0.0);
    }
    Err(Problem::unusable(format!(
        "`{key}` is `{value}`, outside {} to {}\nhint: choose a value between the two",
        range.start(),
        range.end()
    )))
}

fn mount_height(value: f64) -> Result<f64, Problem> {
    within("mount_height_agl_m", value, 0.5..=100.0)
}

/// A place on Earth.
pub(crate) fn place(place: Place) -> Result<LonLat, Problem> {
    within("lon_deg", place.lon_deg, -180.0..=180.0)?;
    within("lat_deg", place.lat_deg, -90.0..=90.0)?;
    LonLat::new(place.lon_deg, place.lat_deg).map_err(|error| Problem::unusable(error.to_string()))
}

fn mounting(name: Option<&str>) -> Result<Mounting, Problem> {
    let Some(name) = name else {
        return Ok(Mounting::default());
    };
    let known = Mounting::NAMES.iter().find(|(known, _)| *known == name);
    known.map(|(_, mounting)| *mounting).ok_or_else(|| {
        let names: Vec<_> = Mounting::NAMES.iter().map(|(name, _)| *name).collect();
        Problem::unusable(format!(
            "`{name}` is no mounting\nhint: choose one of {}",
            names.join(", ")
        ))
    })
}

fn text(key: &str, value: &str) -> Result<String, Problem> {
    let value = value.trim();
    if value.chars().count() > MOST_LETTERS || value.chars().any(char::is_control) {
        return Err(Problem::unusable(format!(
            "`{key}` is too long or has control characters\nhint: at most {MOST_LETTERS} letters in one line"
        )));
    }
    Ok(value.to_owned())
}

fn id(value: &str) -> Result<String, Problem> {
    let id = text("id", value)?;
    if id.is_empty() {
        return Err(Problem::unusable(
            "`id` is empty\nhint: give it an id of its own",
        ));
    }
    Ok(id)
}

fn card<T>(cards: &BTreeMap<String, Arc<T>>, id: &str, kind: &str) -> Result<Arc<T>, Problem> {
    let found = cards.get(id).map(Arc::clone);
    found.ok_or_else(|| {
        Problem::unusable(format!(
            "there is no {kind} `{id}`\nhint: see the catalogue"
        ))
    })
}

/// The card that is named, or the one of the nearest thing alike.
fn named<T>(
    cards: &BTreeMap<String, Arc<T>>,
    id: &Option<String>,
    like: Option<&Arc<T>>,
    kind: &str,
) -> Result<Arc<T>, Problem> {
    match id {
        Some(id) => card(cards, id, kind),
        None => like.map(Arc::clone).ok_or_else(|| no_default(kind)),
    }
}

fn no_default(key: &str) -> Problem {
    Problem::unusable(format!(
        "`{key}` is missing\nhint: the design gives none, name one"
    ))
}
