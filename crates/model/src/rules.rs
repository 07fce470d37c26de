//! Rule sets: what may be radiated, as dated and editable data.
//!
//! A rule set is a starting point for a planning check, never legal advice;
//! every report says so and names the rule set's date.

use serde::Serialize;

use crate::ids::RuleId;

/// Which end of a link a rule limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// A base station of a point-to-multipoint sector.
    Base,
    /// A terminal at a premises.
    Terminal,
    /// Either end of a fixed point-to-point hop.
    PointToPoint,
}

/// One limit for one role in one part of the spectrum. A limit that is `None` does not exist.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpectrumRule {
    /// Rule id within its set.
    pub id: RuleId,
    /// Which end it limits.
    pub role: Role,
    /// Lower edge.
    pub lower_mhz: f64,
    /// Upper edge.
    pub upper_mhz: f64,
    /// Highest EIRP, all transmitters together.
    pub eirp_dbm: Option<f64>,
    /// Highest EIRP density, all transmitters together.
    pub eirp_dbm_per_mhz: Option<f64>,
    /// Highest conducted power, all transmitters together.
    pub conducted_dbm: Option<f64>,
    /// Highest conducted power density, all transmitters together.
    pub conducted_dbm_per_mhz: Option<f64>,
    /// Antenna gain up to which the conducted limit stands unreduced.
    pub gain_free_dbi: Option<f64>,
    /// Reduction of the conducted limit per decibel of gain beyond that.
    pub gain_slope_db_per_db: f64,
    /// Highest EIRP above an elevation angle.
    pub elevation_limit: Option<ElevationLimit>,
    /// Whether the transmitters of one base count with their array gain, 10·log10(number).
    pub count_array_gain: bool,
    /// Highest antenna height above ground.
    pub max_height_agl_m: Option<f64>,
    /// What else the rule asks for, in words.
    pub conditions: Vec<String>,
    /// The text it comes from, with its date or edition.
    pub source: String,
    /// How sure the figures are: `compared with the text cited`, `compared with the text in part: confirm before use`,
    /// `not compared with the text: confirm before use`, `computed` or `invented`.
    pub certainty: String,
}

/// A limit on what is radiated upwards.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ElevationLimit {
    /// Elevation above which it holds.
    pub above_deg: f64,
    /// Highest EIRP there.
    pub eirp_dbm: f64,
}

/// A rule set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RuleSet {
    /// Name by which a design refers to it.
    pub id: RuleId,
    /// What a person calls it.
    pub title: String,
    /// When its figures were last compared with their sources.
    pub date_checked: String,
    /// What a reader must be told before relying on it.
    pub caution: String,
    /// The limits.
    pub rules: Vec<SpectrumRule>,
}

impl RuleSet {
    /// Rules that bind `role` anywhere between `lower_mhz` and `upper_mhz`.
    pub fn binding(
        &self,
        role: Role,
        lower_mhz: f64,
        upper_mhz: f64,
    ) -> impl Iterator<Item = &SpectrumRule> {
        self.rules
            .iter()
            .filter(move |r| r.role == role && r.lower_mhz < upper_mhz && lower_mhz < r.upper_mhz)
    }

    /// Whether the rules for `role` cover the whole of a channel.
    pub fn covers(&self, role: Role, lower_mhz: f64, upper_mhz: f64) -> bool {
        let mut reached_mhz = lower_mhz;
        let mut rules: Vec<_> = self.binding(role, lower_mhz, upper_mhz).collect();
        rules.sort_by(|a, b| a.lower_mhz.total_cmp(&b.lower_mhz));
        for rule in rules {
            if rule.lower_mhz <= reached_mhz {
                reached_mhz = reached_mhz.max(rule.upper_mhz);
            }
        }
        reached_mhz >= upper_mhz
    }
}
