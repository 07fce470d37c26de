//! Rules over the whole network, apart from reading it: the same rules hold
//! for a design that was just read and for one that was just edited.

mod hops;

use std::collections::BTreeMap;

use model::{Finding, Network, Role, RuleSet, Sector, Severity, Subject, TextPlace};

use crate::written::At;

/// Where the parts of a network stand in the text, by subject and key.
#[derive(Debug, Clone, Default)]
pub struct Places {
    by_key: BTreeMap<(String, &'static str), TextPlace>,
}

impl Places {
    pub(crate) fn note<T>(&mut self, subject: &Subject, key: &'static str, at: &Option<At<T>>) {
        if let Some(place) = at.as_ref().and_then(|at| at.place.clone()) {
            self.note_at(subject, key, place);
        }
    }

    pub(crate) fn note_at(&mut self, subject: &Subject, key: &'static str, place: TextPlace) {
        self.by_key.insert((name(subject), key), place);
    }

    fn pin(&self, mut finding: Finding, subject: Subject, key: &'static str) -> Finding {
        let of = name(&subject);
        let place = self.by_key.get(&(of.clone(), key));
        finding.place = place.or_else(|| self.by_key.get(&(of, "id"))).cloned();
        finding.about(subject)
    }
}

fn name(subject: &Subject) -> String {
    match subject {
        Subject::Design => String::new(),
        Subject::Mast(id) => format!("mast {id}"),
        Subject::Sector(id) => format!("sector {id}"),
        Subject::Hop(id) => format!("hop {id}"),
        Subject::Premises(id) => format!("premises {id}"),
        Subject::Plan(id) => format!("plan {id}"),
        Subject::Equipment(id) => format!("equipment {id}"),
    }
}

/// Everything that is wrong or doubtful about a network as a whole. Findings
/// have no place in the text; [`crate::read`] pins its own.
pub fn check(network: &Network) -> Vec<Finding> {
    with_places(network, &Places::default())
}

pub(crate) fn with_places(network: &Network, places: &Places) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut tell = |finding: Finding, subject: Subject, key: &'static str| {
        findings.push(places.pin(finding, subject, key));
    };
    masts(network, &mut tell);
    for sector in &network.sectors {
        heights(network, sector, &mut tell);
        spectrum(network, sector, &mut tell);
    }
    synchronisation(network, &mut tell);
    hops::hops(network, &mut tell);
    premises(network, &mut tell);
    findings
}

type Tell<'t> = dyn FnMut(Finding, Subject, &'static str) + 't;

fn is_inside(network: &Network, place: geodesy::LonLat) -> bool {
    let territory = &network.territory;
    geodesy::LonLatBox::new(territory.south_west, territory.north_east).contains(place)
}

fn masts(network: &Network, tell: &mut Tell<'_>) {
    for mast in &network.masts {
        if !is_inside(network, mast.position) {
            let swapped = geodesy::LonLat::new(mast.position.lat_deg(), mast.position.lon_deg());
            let hint = if swapped.is_ok_and(|place| is_inside(network, place)) {
                "`lon` and `lat` look swapped: `lon` is east-west, `lat` north-south"
            } else {
                "check `lon` and `lat`, or widen `[territory]`"
            };
            tell(
                Finding::new(
                    Severity::Warning,
                    "outside-territory",
                    format!(
                        "mast `{}` at `{}` lies outside the territory",
                        mast.id, mast.position
                    ),
                )
                .hint(hint),
                Subject::Mast(mast.id.clone()),
                "lon",
            );
        }
    }
}

fn heights(network: &Network, sector: &Sector, tell: &mut Tell<'_>) {
    let Some(mast) = network.mast(&sector.mast) else {
        return;
    };
    if sector.height_agl_m > mast.height_agl_m {
        tell(
            Finding::new(
                Severity::Error,
                "above-mast",
                format!(
                    "sector `{}` stands at `{}` m, above the top of mast `{}` at `{}` m",
                    sector.id, sector.height_agl_m, mast.id, mast.height_agl_m
                ),
            )
            .hint("lower `height_agl_m`, or correct the mast's; extending a structure is a matter for its engineer"),
            Subject::Sector(sector.id.clone()),
            "height_agl_m",
        );
    }
}

fn spectrum(network: &Network, sector: &Sector, tell: &mut Tell<'_>) {
    let (lower, upper) = (sector.channel.lower_mhz(), sector.channel.upper_mhz());
    for (role, who) in [(Role::Base, "base stations"), (Role::Terminal, "terminals")] {
        if network.rule_set.covers(role, lower, upper) {
            continue;
        }
        let hint = bands(&network.rule_set, role, who);
        tell(
            Finding::new(
                Severity::Error,
                "channel-outside-rules",
                format!(
                    "channel `{lower}` to `{upper}` MHz of sector `{}` lies outside the rules for {who}",
                    sector.id
                ),
            )
            .hint(format!("{hint}; move the channel or name another rule set, for no limit can be applied here")),
            Subject::Sector(sector.id.clone()),
            "channel_mhz",
        );
    }
}

/// The bands that a rule set opens for a role, in words.
fn bands(rule_set: &RuleSet, role: Role, who: &str) -> String {
    let mut bands: Vec<_> = rule_set
        .rules
        .iter()
        .filter(|rule| rule.role == role)
        .map(|rule| format!("{} to {} MHz", rule.lower_mhz, rule.upper_mhz))
        .collect();
    bands.dedup();
    if bands.is_empty() {
        format!("rule set `{}` has no rule for {who}", rule_set.id)
    } else {
        format!("`{}` has rules for {}", rule_set.id, bands.join(", "))
    }
}

/// Sectors that hear each other and whose frames do not match: one transmits
/// while the other receives.
fn synchronisation(network: &Network, tell: &mut Tell<'_>) {
    for (index, sector) in network.sectors.iter().enumerate() {
        let other = network.sectors[..index]
            .iter()
            .find(|other| frames_differ(other, sector) && within_hearing(network, other, sector));
        if let Some(other) = other {
            tell(
                Finding::new(
                    Severity::Error,
                    "frames-differ",
                    format!(
                        "sectors `{}` on mast `{}` and `{}` on mast `{}` differ in frame length or split: one transmits while the other receives",
                        other.id, other.mast, sector.id, sector.mast
                    ),
                )
                .hint("give every sector on or beside this channel within range the same frame length and the same `split`; a partial study takes it that they have"),
                Subject::Sector(sector.id.clone()),
                "split",
            );
        }
    }
}

fn frames_differ(a: &Sector, b: &Sector) -> bool {
    a.split != b.split || (a.air_interface.frame_ms - b.air_interface.frame_ms).abs() > 1e-9
}

/// Carriers on one mast closer than this reach each other's receivers whatever
/// their channels: no filter tells them apart. Common practice, no source.
const ONE_BAND_MHZ: f64 = 200.0;

/// Whether two sectors hear each other: on one mast in one band, or on the same
/// or neighbouring channels within the distance up to which interference is counted.
fn within_hearing(network: &Network, a: &Sector, b: &Sector) -> bool {
    let near = || {
        let (Some(one), Some(other)) = (network.mast(&a.mast), network.mast(&b.mast)) else {
            return false;
        };
        let distance_m = geodesy::inverse(one.position, other.position).distance_m;
        distance_m <= network.propagation.interference_reach_km * 1e3
    };
    let apart_mhz = (a.channel.centre_mhz - b.channel.centre_mhz).abs();
    (a.mast == b.mast && apart_mhz < ONE_BAND_MHZ) || (a.channel.touches(&b.channel) && near())
}

fn premises(network: &Network, tell: &mut Tell<'_>) {
    let mut seen = BTreeMap::new();
    for premises in &network.premises {
        let subject = || Subject::Premises(premises.id.clone());
        if !is_inside(network, premises.position) {
            tell(
                Finding::new(
                    Severity::Warning,
                    "outside-territory",
                    format!(
                        "premises `{}` at `{}` lies outside the territory",
                        premises.id, premises.position
                    ),
                )
                .hint("check `lon` and `lat`, or widen `[territory]`"),
                subject(),
                "lon",
            );
        }
        let key = (
            premises.position.lon_deg().to_bits(),
            premises.position.lat_deg().to_bits(),
        );
        if let Some(first) = seen.get(&key) {
            tell(
                Finding::new(
                    Severity::Note,
                    "same-position",
                    format!(
                        "premises `{}` and `{first}` have the same position",
                        premises.id
                    ),
                )
                .hint("right for flats in one building; otherwise remove one"),
                subject(),
                "id",
            );
        } else {
            seen.insert(key, premises.id.clone());
        }
    }
}
