//! The list of models.

mod itm;
mod itm_area;
mod p1411;
mod p1812;
mod p2108;
mod p2109;
mod p452;
mod p525;
mod p526;
mod p530;
mod p676;
mod p833;
mod p838;

use physics::path_loss::Polarization;

use crate::cases::Case;
use crate::columns::{Input, column, number};
use crate::model::Model;

/// Every model, in the order a list shows them.
pub static MODELS: &[&Model] = &[
    &p1812::P1812,
    &p1812::LOCATION,
    &p1812::INVERSE_NORMAL,
    &p452::P452,
    &p525::P525,
    &p526::DELTA_BULLINGTON,
    &p526::KNIFE_EDGE,
    &p526::FIRST_TERM,
    &p526::SPHERICAL,
    &p676::P676,
    &p838::P838,
    &p530::HOP_AVAILABILITY,
    &p530::MULTIPATH,
    &p530::RAIN_FADE,
    &p530::RAIN_SCALING,
    &p530::CROSS_POLAR,
    &p530::OBSTRUCTION,
    &itm::ITM,
    &itm_area::ITM_AREA,
    &p2108::HEIGHT_GAIN,
    &p2108::TERRESTRIAL,
    &p2108::EARTH_SPACE,
    &p2109::P2109,
    &p833::P833,
    &p833::FOLIAGE,
    &p1411::BELOW_ROOFTOP,
    &p1411::ABOVE_ROOFTOP,
    &p1411::LOW_HEIGHT,
];

/// Recommendations with several tables: the plain name and what it stands for.
pub static FAMILIES: &[(&str, &[&Model])] = &[
    (
        "p1812",
        &[&p1812::P1812, &p1812::LOCATION, &p1812::INVERSE_NORMAL],
    ),
    (
        "p526",
        &[
            &p526::DELTA_BULLINGTON,
            &p526::KNIFE_EDGE,
            &p526::FIRST_TERM,
            &p526::SPHERICAL,
        ],
    ),
    (
        "p530",
        &[
            &p530::HOP_AVAILABILITY,
            &p530::MULTIPATH,
            &p530::RAIN_FADE,
            &p530::RAIN_SCALING,
            &p530::CROSS_POLAR,
            &p530::OBSTRUCTION,
        ],
    ),
    (
        "p2108",
        &[
            &p2108::HEIGHT_GAIN,
            &p2108::TERRESTRIAL,
            &p2108::EARTH_SPACE,
        ],
    ),
    ("p833", &[&p833::P833, &p833::FOLIAGE]),
    (
        "p1411",
        &[
            &p1411::BELOW_ROOFTOP,
            &p1411::ABOVE_ROOFTOP,
            &p1411::LOW_HEIGHT,
        ],
    ),
];

/// The model of a name.
#[must_use]
pub fn model(name: &str) -> Option<&'static Model> {
    MODELS.iter().copied().find(|m| m.name == name)
}

/// Frequency of the models of rain and of hops.
const RAIN_FREQUENCY: Input = number(column("f_ghz", "GHz", "frequency"), 0.1, 1000.0);

/// Polarization of a case.
fn polarization(case: &Case<'_>) -> Polarization {
    if case.word("pol") == "h" {
        Polarization::Horizontal
    } else {
        Polarization::Vertical
    }
}
