//! The list of models.

mod p1812;
mod p525;
mod p526;

use physics::path_loss::Polarization;

use crate::cases::Case;
use crate::model::Model;

/// Every model, in the order a list shows them.
pub static MODELS: [&Model; 7] = [
    &p1812::P1812,
    &p1812::LOCATION,
    &p525::P525,
    &p526::DELTA_BULLINGTON,
    &p526::KNIFE_EDGE,
    &p526::FIRST_TERM,
    &p526::SPHERICAL,
];

/// The model of a name.
#[must_use]
pub fn model(name: &str) -> Option<&'static Model> {
    MODELS.iter().copied().find(|m| m.name == name)
}

/// Polarization of a case.
fn polarization(case: &Case<'_>) -> Polarization {
    if case.word("pol") == "h" {
        Polarization::Horizontal
    } else {
        Polarization::Vertical
    }
}
