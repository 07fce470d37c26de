//! What holds a premises back.

use model::ids::SectorId;
use serde::Serialize;

use crate::frame::Direction;
use crate::interference::Scene;
use crate::link::levels_of;
use crate::load::admission::{Candidates, Room};
use crate::load::flow;
use crate::matrix::{self, PathState};
use crate::path::{ClutterUse, PathConditions, PathEnd, PathError, PathEvaluator};
use crate::service::{allowed, margin_without_interference_db};
use crate::surroundings::{CrossSection, Surroundings};

/// The answer for one premises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Its plan is met with the probability that the plan asks for.
    Served,
    /// Its plan is met on the median, but less surely than the plan asks for.
    Doubtful,
    /// Its plan is not met.
    Unserved,
}

impl Verdict {
    /// What a person reads.
    pub fn name(self) -> &'static str {
        match self {
            Verdict::Served => "served",
            Verdict::Doubtful => "doubtful",
            Verdict::Unserved => "unserved",
        }
    }
}

/// What holds a premises back: the one thing whose absence would let it be served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitingCause {
    /// No sector within reach or guard range, or too far even over clear ground.
    OutOfReach,
    /// The ground stands in the way.
    Terrain,
    /// What stands on the ground is in the way.
    Clutter,
    /// The power that the rules take away would have been enough.
    RuleLimit,
    /// Other sectors, or their terminals, drown it.
    Interference,
    /// The sector has no airtime left at the busy hour.
    Airtime,
    /// The sector's radio holds no more terminals or traffic.
    SectorFull,
    /// No step of the air interface gives the plan's rate.
    PlanRate,
    /// The terminal stands below the roofs or indoors; on the roof it would do.
    Mounting,
    /// The ground along every path is unknown.
    UnknownGround,
    /// It stands at the mast itself, where no path can be judged.
    AtTheMast,
}

impl LimitingCause {
    /// Every cause, in the order in which a table shows them.
    pub const ALL: [Self; 11] = [
        Self::OutOfReach,
        Self::Terrain,
        Self::Clutter,
        Self::RuleLimit,
        Self::Interference,
        Self::Airtime,
        Self::SectorFull,
        Self::PlanRate,
        Self::Mounting,
        Self::UnknownGround,
        Self::AtTheMast,
    ];

    /// What a person reads.
    pub fn name(self) -> &'static str {
        match self {
            Self::OutOfReach => "out of reach",
            Self::Terrain => "terrain",
            Self::Clutter => "clutter",
            Self::RuleLimit => "rule limit",
            Self::Interference => "interference",
            Self::Airtime => "airtime",
            Self::SectorFull => "sector full",
            Self::PlanRate => "plan rate",
            Self::Mounting => "mounting",
            Self::UnknownGround => "unknown ground",
            Self::AtTheMast => "at the mast",
        }
    }
}

/// What holds a premises back, and by how much at which sector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// The cause.
    pub cause: LimitingCause,
    /// The sector that comes closest; `None` where there is none.
    pub sector: Option<SectorId>,
    /// How far that sector's link falls short of the plan; 0 where signal is not what is lacking.
    pub shortfall_db: f64,
}

/// Finds what holds an unserved premises back.
pub fn limit(
    scene: &Scene<'_>,
    surroundings: &dyn Surroundings,
    premises: usize,
    candidates: &Candidates,
) -> Limit {
    let id = |sector: usize| Some(scene.ready.sectors[sector].sector.id.clone());
    if let Some(room) = candidates.refused {
        let sector = candidates.links.first().and_then(|(s, _)| id(*s));
        let cause = match room {
            Room::Airtime => LimitingCause::Airtime,
            Room::Equipment => LimitingCause::SectorFull,
        };
        return Limit {
            cause,
            sector,
            shortfall_db: 0.0,
        };
    }
    let Some((sector, link)) = candidates.links.first() else {
        return Limit {
            cause: no_path(scene, premises),
            sector: None,
            shortfall_db: 0.0,
        };
    };
    let shortfall_db = link.margin_db().map_or(0.0, |m| (-m).max(0.0));
    let cause = if link.margin_db().is_none() {
        LimitingCause::PlanRate
    } else {
        of_signal(scene, surroundings, premises, *sector)
    };
    Limit {
        cause,
        sector: id(*sector),
        shortfall_db,
    }
}

/// Why there is no path to judge: unknown ground, the mast itself, or nothing but distance.
fn no_path(scene: &Scene<'_>, premises: usize) -> LimitingCause {
    let p = &scene.ready.network.premises[premises];
    let any = |wanted: fn(&PathError) -> bool| {
        (0..scene.ready.sectors.len())
            .filter(|s| allowed(scene, p, *s))
            .any(|s| matches!(scene.paths.state(premises, s), PathState::Unknown(e) if wanted(e)))
    };
    if any(|e| matches!(e, PathError::UnknownGround { .. })) {
        LimitingCause::UnknownGround
    } else if any(|e| matches!(e, PathError::SamePlace)) {
        LimitingCause::AtTheMast
    } else {
        LimitingCause::OutOfReach
    }
}

/// Takes away one obstacle after the other, the cheapest to blame first.
fn of_signal(
    scene: &Scene<'_>,
    surroundings: &dyn Surroundings,
    premises: usize,
    sector: usize,
) -> LimitingCause {
    let Some(alone_db) = margin_without_interference_db(scene, premises, sector) else {
        return LimitingCause::OutOfReach;
    };
    if alone_db >= 0.0 {
        return LimitingCause::Interference;
    }
    if margin_at_requested_power_db(scene, premises, sector).is_some_and(|m| m >= 0.0) {
        return LimitingCause::RuleLimit;
    }
    let Some(path) = scene.paths.state(premises, sector).known() else {
        return LimitingCause::OutOfReach;
    };
    let near_db = path.near_end.loss_db();
    if near_db > 0.0 && alone_db + near_db >= 0.0 {
        return LimitingCause::Mounting;
    }
    if alone_db + near_db + (path.loss_db - path.free_space_db) < 0.0 {
        return LimitingCause::OutOfReach;
    }
    match bare_ground_loss_db(scene, surroundings, premises, sector) {
        Some(bare_db) if alone_db + near_db + (path.loss_db - bare_db) >= 0.0 => {
            LimitingCause::Clutter
        }
        _ => LimitingCause::Terrain,
    }
}

/// Margin if both ends could send what they were asked to.
fn margin_at_requested_power_db(scene: &Scene<'_>, premises: usize, sector: usize) -> Option<f64> {
    let path = scene.paths.state(premises, sector).known()?;
    let ready = scene.ready;
    let s = &ready.sectors[sector];
    let kind = ready.terminal_of[premises];
    let plan = &ready.network.premises[premises].plan;
    let (down, up) = levels_of(ready, premises, sector, path);
    let down_db = down.snr_db() + s.power.reduction_db
        - s.downlink[kind].required_for_db(flow::sold_mbps(plan, Direction::Downlink))?;
    let up_db = up.snr_db() + ready.terminals[kind].power[sector].reduction_db
        - s.uplink[kind].required_for_db(flow::sold_mbps(plan, Direction::Uplink))?;
    Some(down_db.min(up_db))
}

/// Loss of the path with everything that stands on the ground taken away.
fn bare_ground_loss_db(
    scene: &Scene<'_>,
    surroundings: &dyn Surroundings,
    premises: usize,
    sector: usize,
) -> Option<f64> {
    let network = scene.ready.network;
    let p = &network.premises[premises];
    let s = &scene.ready.sectors[sector];
    let from = s.path_end();
    let to = PathEnd {
        position: p.position,
        agl_m: p.mount_height_agl_m,
        ground_amsl_m: None,
    };
    let mut section = CrossSection::default();
    let step_m = network.propagation.profile_step_m;
    surroundings.trace(from.position, to.position, step_m, &mut section);
    let conditions = PathConditions {
        clutter: ClutterUse::Removed,
        ..matrix::conditions(PathConditions::wanted(&network.propagation), s.sector)
    };
    PathEvaluator::default()
        .evaluate(
            &section,
            (&from, &to),
            s.sector.channel.centre_mhz,
            &conditions,
        )
        .ok()
        .map(|path| path.loss.loss_db)
}
