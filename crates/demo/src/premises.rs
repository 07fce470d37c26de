//! Who lives on the island: hamlets in the valleys and along the coast,
//! scattered farms between them.

use std::fmt::Write as _;

use raster::{Cell, Grid};

use crate::dice::Dice;
use crate::island::{CELL_M, CELLS, MapKm};

/// A home, farm or business.
#[derive(Debug, Clone, PartialEq)]
pub struct Home {
    /// Id in the table.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Where it stands.
    pub at: MapKm,
    /// Id of the plan it would buy.
    pub plan: &'static str,
    /// Height of the terminal, where it differs from the design's default.
    pub mount_height_agl_m: Option<f64>,
    /// Terminal card, where it differs from the design's default.
    pub terminal: Option<&'static str>,
    /// Sector that somebody has chosen for it.
    pub sector: Option<&'static str>,
}

/// A hamlet: a line along a valley or shore with houses on both sides.
pub(crate) struct Hamlet {
    code: &'static str,
    name: &'static str,
    pub(crate) centre: MapKm,
    /// Half its length along the valley, east and north.
    stretch: MapKm,
    homes: usize,
}

const fn hamlet(
    (code, name): (&'static str, &'static str),
    centre: (f64, f64),
    stretch: (f64, f64),
    homes: usize,
) -> Hamlet {
    Hamlet {
        code,
        name,
        centre: MapKm::new(centre.0, centre.1),
        stretch: MapKm::new(stretch.0, stretch.1),
        homes,
    }
}

/// Every hamlet. Hathrend lies behind its spur, Outer Skarle on the islet:
/// both are there to be hopeless.
pub(crate) const HAMLETS: [Hamlet; 13] = [
    hamlet(("TV", "Tarvane"), (8.9, 9.4), (0.9, -0.5), 46),
    hamlet(("QM", "Quillmere"), (15.6, 13.2), (0.9, 0.7), 46),
    hamlet(("DS", "Dunsprey"), (4.6, 9.4), (0.3, 0.9), 38),
    hamlet(("VS", "Velstow"), (9.3, 4.6), (0.9, 0.1), 46),
    hamlet(("PW", "Pellwyn"), (16.2, 5.3), (0.8, 0.4), 40),
    hamlet(("SW", "Sorrowin"), (12.7, 15.4), (0.7, -0.4), 40),
    hamlet(("BK", "Brackle"), (19.0, 10.9), (0.4, 0.7), 36),
    hamlet(("TH", "Thackmoor"), (12.2, 8.6), (0.7, 0.1), 30),
    hamlet(("FN", "Fennick Strand"), (4.0, 7.9), (0.2, 0.4), 22),
    hamlet(("MN", "Marl Ness"), (17.1, 4.2), (0.3, 0.1), 18),
    hamlet(("UN", "Unnock"), (14.4, 17.7), (0.2, 0.4), 20),
    hamlet(("HR", "Hathrend"), (8.4, 18.9), (0.8, 0.3), 22),
    hamlet(("SK", "Outer Skarle"), (1.7, 22.3), (0.3, 0.3), 7),
];

/// A hamlet that was promised a sector, before anybody looked at the channels.
const PROMISED: (&str, &str) = ("TV", "saddle-w");

/// Farms between the hamlets.
const FARMS: usize = 110;
/// Nobody builds higher than this.
const HIGHEST_M: f32 = 230.0;
const FARM_FIRST: [&str; 14] = [
    "Umber", "Wether", "Kestin", "Hollin", "Sallow", "Gorsen", "Thrift", "Murk", "Bramwen",
    "Ousel", "Tansock", "Lapwin", "Cobb", "Harl",
];
const FARM_LAST: [&str; 12] = [
    "rigg", "garth", "sike", "fold", "brack", "holt", "mire", "stead", "wick", "law", "hope",
    "shaw",
];

/// Places every premises on dry, buildable land.
pub fn settle(terrain: &Grid) -> Vec<Home> {
    let mut dice = Dice::new(1907);
    let mut homes = Vec::new();
    for hamlet in &HAMLETS {
        for number in 1..=hamlet.homes {
            let at = in_hamlet(hamlet, terrain, &mut dice);
            homes.push(house(hamlet, number, at, &mut dice));
        }
    }
    for number in 1..=FARMS {
        let at = in_the_open(terrain, &mut dice);
        homes.push(farm(number, at, &mut dice));
    }
    homes
}

fn house(hamlet: &Hamlet, number: usize, at: MapKm, dice: &mut Dice) -> Home {
    let pick = dice.roll();
    let (plan, terminal) = match pick {
        p if p < 0.09 => ("voice", None),
        p if p < 0.17 => ("business", Some("ossorel-high-gain")),
        _ => ("home", None),
    };
    let mount_height_agl_m = (dice.roll() < 0.25).then(|| 5.0 + dice.below(9) as f64 * 0.5);
    Home {
        id: format!("{}-{number:03}", hamlet.code),
        name: format!("{} {number}", hamlet.name),
        at,
        plan,
        mount_height_agl_m,
        terminal,
        sector: (hamlet.code == PROMISED.0).then_some(PROMISED.1),
    }
}

fn farm(number: usize, at: MapKm, dice: &mut Dice) -> Home {
    let first = FARM_FIRST[dice.below(FARM_FIRST.len())];
    let last = FARM_LAST[dice.below(FARM_LAST.len())];
    Home {
        id: format!("FM-{number:03}"),
        name: format!("{first}{last}"),
        at,
        plan: "farm",
        mount_height_agl_m: Some(7.0 + dice.below(7) as f64 * 0.5),
        terminal: Some("ossorel-high-gain"),
        sector: None,
    }
}

fn in_hamlet(hamlet: &Hamlet, terrain: &Grid, dice: &mut Dice) -> MapKm {
    first_dry(terrain, || {
        let along = dice.around_zero();
        let (aside_x, aside_y) = (dice.around_zero(), dice.around_zero());
        MapKm {
            x_km: hamlet.centre.x_km + along * hamlet.stretch.x_km + 0.28 * aside_x,
            y_km: hamlet.centre.y_km + along * hamlet.stretch.y_km + 0.28 * aside_y,
        }
    })
}

fn in_the_open(terrain: &Grid, dice: &mut Dice) -> MapKm {
    let side_km = CELLS as f64 * CELL_M / 1e3;
    first_dry(terrain, || MapKm {
        x_km: 2.5 + dice.roll() * (side_km - 5.0),
        y_km: 1.5 + dice.roll() * (side_km - 4.5),
    })
}

/// The first place of a series that is dry and not too high.
fn first_dry(terrain: &Grid, mut next: impl FnMut() -> MapKm) -> MapKm {
    /// A hamlet at sea would be a mistake in this file; its tests would tell.
    const TRIES: usize = 2_000;
    let mut at = next();
    for _ in 0..TRIES {
        let height_m = height_m(terrain, at);
        if height_m > 3.0 && height_m < HIGHEST_M {
            break;
        }
        at = next();
    }
    at
}

/// Height of the cell at a place.
pub(crate) fn height_m(terrain: &Grid, at: MapKm) -> f32 {
    let col = (at.x_km * 1e3 / CELL_M) as usize;
    let from_south = (at.y_km * 1e3 / CELL_M) as usize;
    terrain.value(Cell {
        col,
        row: (CELLS - 1).saturating_sub(from_south),
    })
}

/// The table of premises as the design reads it.
pub fn table(homes: &[Home]) -> String {
    let mut text =
        String::from("id,lon,lat,name,plan,mount_height_agl_m,priority,terminal,sector\n");
    for home in homes {
        let at = home.at.lonlat();
        let mount = home
            .mount_height_agl_m
            .map_or(String::new(), |m| format!("{m}"));
        let priority = i32::from(home.plan == "business");
        writeln!(
            text,
            "{},{:.6},{:.6},{},{},{mount},{priority},{},{}",
            home.id,
            at.lon_deg(),
            at.lat_deg(),
            home.name,
            home.plan,
            home.terminal.unwrap_or(""),
            home.sector.unwrap_or(""),
        )
        .expect("text grows as long as there is memory");
    }
    text
}
