//! What the rules and the equipment allow, applied before anything else is
//! computed. Every reduction is a finding.
//!
//! A rule set is a dated planning aid: the regulator's text, the licence and
//! the equipment's certification decide.

use model::backhaul::{Hop, HopEnd};
use model::equipment::Terminal;
use model::finding::{Finding, Severity, Subject};
use model::ids::RuleId;
use model::network::{Channel, Network, Sector};
use model::rules::{Role, RuleSet, SpectrumRule};
use physics::antenna::{MountedAntenna, PreparedPattern};
use physics::levels;
use physics::radio_power::{
    self, AntennaSide, BindingLimit, ElevationLimit, GainReduction, PowerLimits,
};
use serde::Serialize;

use crate::frame;

/// The power a radio is left with.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AllowedPower {
    /// Power of one chain that the design asks for.
    pub requested_per_chain_dbm: f64,
    /// Power of one chain after equipment and rules.
    pub per_chain_dbm: f64,
    /// EIRP of all chains on the antenna's axis at that power.
    pub eirp_dbm: f64,
    /// The rule that binds; `None` where the request stands.
    pub bound_by: Option<RuleId>,
    /// How much the rule takes away.
    pub reduction_db: f64,
    /// Whether the rules of the set cover the channel; where they do not, the design's own check tells.
    pub covered: bool,
}

/// A radio as the rules see it.
struct Station<'a> {
    role: Role,
    subject: Subject,
    channel: &'a Channel,
    chains: u8,
    gain_dbi: f64,
    feeder_loss_db: f64,
    requested_per_chain_dbm: f64,
    lowest_per_chain_dbm: f64,
    height_agl_m: Option<f64>,
    /// Largest gain at or above an elevation, as mounted.
    sky_gain_dbi: &'a dyn Fn(f64) -> f64,
}

/// Power of a sector after its equipment and the rules.
pub fn base_power(
    rules: &RuleSet,
    sector: &Sector,
    antenna: &MountedAntenna,
) -> (AllowedPower, Vec<Finding>) {
    let subject = Subject::Sector(sector.id.clone());
    let mut findings = Vec::new();
    let base = &sector.base_station;
    let requested_dbm = sector.tx_power_per_chain_dbm;
    let range_dbm = (
        base.min_tx_power_per_chain_dbm,
        base.max_tx_power_per_chain_dbm,
    );
    let able_dbm = requested_dbm.min(range_dbm.1).max(range_dbm.0);
    if able_dbm != requested_dbm {
        findings.push(
            Finding::new(
                Severity::Warning,
                "equipment-power",
                format!(
                    "sector `{}` asks for `{requested_dbm:.1} dBm` per chain, base station `{}` gives `{:.1}` to `{:.1} dBm`; `{able_dbm:.1} dBm` is used",
                    sector.id, base.id, range_dbm.0, range_dbm.1
                ),
            )
            .about(subject.clone())
            .hint("set `tx_power_per_chain_dbm` within the radio's range"),
        );
    }
    if !base.tunes_to(&sector.channel) {
        findings.push(
            Finding::new(
                Severity::Error,
                "equipment-band",
                format!(
                    "sector `{}` uses `{:.3}` to `{:.3} MHz`, base station `{}` tunes to `{}` to `{} MHz`",
                    sector.id,
                    sector.channel.lower_mhz(),
                    sector.channel.upper_mhz(),
                    base.id,
                    base.lower_mhz,
                    base.upper_mhz
                ),
            )
            .about(subject.clone())
            .hint("choose a radio of the band, or move `channel_mhz` into the radio's range"),
        );
    }
    let station = Station {
        role: Role::Base,
        subject,
        channel: &sector.channel,
        chains: base.chains,
        gain_dbi: sector.antenna.gain_dbi,
        feeder_loss_db: sector.feeder_loss_db,
        requested_per_chain_dbm: able_dbm,
        lowest_per_chain_dbm: base.min_tx_power_per_chain_dbm,
        height_agl_m: Some(sector.height_agl_m),
        sky_gain_dbi: &|above_deg| {
            sky_gain_dbi(above_deg, |azimuth_deg, elevation_deg| {
                antenna.gain_toward_dbi(azimuth_deg, elevation_deg)
            })
        },
    };
    let (mut power, more) = apply(rules, &station);
    power.requested_per_chain_dbm = requested_dbm;
    findings.extend(more);
    (power, findings)
}

/// Highest power of a terminal on a channel.
///
/// A terminal is taken to look at the horizon: masts stand a few degrees above it.
pub fn terminal_power(
    rules: &RuleSet,
    terminal: &Terminal,
    pattern: &PreparedPattern,
    channel: &Channel,
) -> (AllowedPower, Vec<Finding>) {
    apply(
        rules,
        &Station {
            role: Role::Terminal,
            subject: Subject::Equipment(terminal.id.clone()),
            channel,
            chains: terminal.tx_chains,
            gain_dbi: terminal.antenna.gain_dbi,
            feeder_loss_db: terminal.feeder_loss_db,
            requested_per_chain_dbm: terminal.max_tx_power_per_chain_dbm,
            lowest_per_chain_dbm: terminal.min_tx_power_per_chain_dbm,
            height_agl_m: None,
            sky_gain_dbi: &|above_deg| {
                sky_gain_dbi(above_deg, |azimuth_deg, elevation_deg| {
                    pattern.gain_dbi(azimuth_deg, elevation_deg)
                })
            },
        },
    )
}

/// Power of one end of a hop after its equipment and the rules.
///
/// A hop's antenna is taken to look at the horizon, near which the other mast stands.
pub fn hop_power(
    hop: &Hop,
    end: &HopEnd,
    pattern: &PreparedPattern,
) -> (AllowedPower, Vec<Finding>) {
    let station = Station {
        role: Role::PointToPoint,
        subject: Subject::Hop(hop.id.clone()),
        channel: &hop.channel,
        chains: 1,
        gain_dbi: end.antenna.gain_dbi,
        feeder_loss_db: end.feeder_loss_db,
        requested_per_chain_dbm: hop.tx_power_dbm.min(hop.radio.max_tx_power_dbm()),
        // A hop's card states no lowest power.
        lowest_per_chain_dbm: f64::NEG_INFINITY,
        height_agl_m: Some(end.height_agl_m),
        sky_gain_dbi: &|above_deg| {
            sky_gain_dbi(above_deg, |azimuth_deg, elevation_deg| {
                pattern.gain_dbi(azimuth_deg, elevation_deg)
            })
        },
    };
    let (mut power, findings) = apply(&hop.rule_set, &station);
    power.requested_per_chain_dbm = hop.tx_power_dbm;
    (power, findings)
}

fn apply(rules: &RuleSet, station: &Station<'_>) -> (AllowedPower, Vec<Finding>) {
    let channel = station.channel;
    let chains_db = levels::ratio_to_db(f64::from(station.chains.max(1)));
    let mut findings = Vec::new();
    let covered = rules.covers(station.role, channel.lower_mhz(), channel.upper_mhz());
    let binding = rules
        .binding(station.role, channel.lower_mhz(), channel.upper_mhz())
        .map(|rule| {
            findings.extend(too_high(rule, station));
            (rule, allowed_by(rule, station, chains_db))
        })
        .min_by(|a, b| a.1.conducted_dbm.total_cmp(&b.1.conducted_dbm));
    let requested_dbm = station.requested_per_chain_dbm;
    let allowed_dbm = binding.as_ref().map_or(f64::INFINITY, |(_, allowed)| {
        allowed.conducted_dbm - chains_db
    });
    let per_chain_dbm = requested_dbm.min(allowed_dbm);
    let bound = binding.filter(|_| allowed_dbm < requested_dbm);
    if let Some((rule, allowed)) = &bound {
        findings.push(reduced(rule, allowed.binding, station, per_chain_dbm));
    }
    if per_chain_dbm < station.lowest_per_chain_dbm {
        findings.push(too_weak(station, per_chain_dbm));
    }
    let power = AllowedPower {
        requested_per_chain_dbm: requested_dbm,
        per_chain_dbm,
        eirp_dbm: per_chain_dbm + chains_db - station.feeder_loss_db + station.gain_dbi,
        bound_by: bound.as_ref().map(|(rule, _)| rule.id.clone()),
        reduction_db: requested_dbm - per_chain_dbm,
        covered,
    };
    (power, findings)
}

fn allowed_by(
    rule: &SpectrumRule,
    station: &Station<'_>,
    chains_db: f64,
) -> radio_power::AllowedPower {
    let limits = PowerLimits {
        eirp_dbm: rule.eirp_dbm,
        eirp_dbm_per_mhz: rule.eirp_dbm_per_mhz,
        conducted_dbm: rule.conducted_dbm,
        conducted_dbm_per_mhz: rule.conducted_dbm_per_mhz,
        gain_free: rule.gain_free_dbi.map(|gain_free_dbi| GainReduction {
            gain_free_dbi,
            slope_db_per_db: rule.gain_slope_db_per_db,
        }),
        elevation: rule.elevation_limit.map(|limit| ElevationLimit {
            above_deg: limit.above_deg,
            eirp_dbm: limit.eirp_dbm,
        }),
    };
    let counted_db = if rule.count_array_gain {
        chains_db
    } else {
        0.0
    };
    let antenna = AntennaSide {
        gain_dbi: station.gain_dbi + counted_db,
        feeder_loss_db: station.feeder_loss_db,
        gain_above_elevation_dbi: rule
            .elevation_limit
            .map(|limit| (station.sky_gain_dbi)(limit.above_deg) + counted_db),
    };
    radio_power::allowed_power(&limits, &antenna, station.channel.width_mhz)
}

/// Largest gain at or above an elevation, looked for on a grid of 5° by 1°.
fn sky_gain_dbi(above_deg: f64, gain_dbi: impl Fn(f64, f64) -> f64) -> f64 {
    let rows = (90.0 - above_deg).max(0.0).ceil() as usize;
    (0..=rows)
        .flat_map(|row| (0..72).map(move |column| (column, row)))
        .map(|(column, row)| {
            let elevation_deg = (above_deg + row as f64).min(90.0);
            gain_dbi(f64::from(column) * 5.0, elevation_deg)
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

fn limit_name(limit: Option<BindingLimit>) -> &'static str {
    match limit {
        Some(BindingLimit::Conducted) => "conducted power",
        Some(BindingLimit::ConductedDensity) => "conducted power density",
        Some(BindingLimit::Eirp) => "EIRP",
        Some(BindingLimit::EirpDensity) => "EIRP density",
        Some(BindingLimit::Elevation) => "EIRP towards the sky",
        None => "power",
    }
}

fn subject_name(subject: &Subject) -> String {
    match subject {
        Subject::Sector(id) => format!("sector `{id}`"),
        Subject::Hop(id) => format!("hop `{id}`"),
        Subject::Equipment(id) => format!("terminal `{id}`"),
        _ => "the radio".to_owned(),
    }
}

fn reduced(
    rule: &SpectrumRule,
    limit: Option<BindingLimit>,
    station: &Station<'_>,
    per_chain_dbm: f64,
) -> Finding {
    Finding::new(
        Severity::Warning,
        "rule-limit",
        format!(
            "{} asks for `{:.1} dBm` per chain; the {} limit of rule `{}` leaves `{per_chain_dbm:.1} dBm` in a `{} MHz` channel",
            subject_name(&station.subject),
            station.requested_per_chain_dbm,
            limit_name(limit),
            rule.id,
            station.channel.width_mhz,
        ),
    )
    .about(station.subject.clone())
    .hint(format!(
        "the study uses the lower power; source of the limit: {} ({})",
        rule.source, rule.certainty
    ))
}

fn too_weak(station: &Station<'_>, per_chain_dbm: f64) -> Finding {
    Finding::new(
        Severity::Error,
        "rule-below-radio",
        format!(
            "{} may send `{per_chain_dbm:.1} dBm` per chain, less than the `{:.1} dBm` that its radio can be set to",
            subject_name(&station.subject),
            station.lowest_per_chain_dbm,
        ),
    )
    .about(station.subject.clone())
    .hint("a smaller antenna, a narrower channel or another radio keeps within the rule")
}

fn too_high(rule: &SpectrumRule, station: &Station<'_>) -> Option<Finding> {
    let (limit_m, height_m) = (rule.max_height_agl_m?, station.height_agl_m?);
    (height_m > limit_m).then(|| {
        Finding::new(
            Severity::Error,
            "rule-height",
            format!(
                "{} stands `{height_m:.1} m` above ground; rule `{}` allows `{limit_m:.1} m`",
                subject_name(&station.subject),
                rule.id
            ),
        )
        .about(station.subject.clone())
        .hint(format!(
            "source of the limit: {} ({})",
            rule.source, rule.certainty
        ))
    })
}

/// Findings on frame timing: the guard time bounds the reach.
pub fn timing_findings(network: &Network) -> Vec<Finding> {
    let mut findings = Vec::new();
    for a in &network.sectors {
        let range_km = frame::guard_range_m(&a.air_interface, a.split) / 1e3;
        if range_km < network.propagation.reach_km {
            findings.push(
                Finding::new(
                    Severity::Note,
                    "guard-range",
                    format!(
                        "the guard time of sector `{}` serves terminals up to `{range_km:.1} km`; the design looks `{:.1} km` far",
                        a.id, network.propagation.reach_km
                    ),
                )
                .about(Subject::Sector(a.id.clone()))
                .hint("take a symbol out of the split to lengthen the gap, or accept the range"),
            );
        }
    }
    findings
}
