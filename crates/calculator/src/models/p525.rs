//! Free space.

use physics::free_space::{free_space_loss_db, wavelength_m};

use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, column, number};
use crate::model::{Model, Outcome};

const OUTPUTS: &[Column] = &[
    column("lambda_m", "m", "wavelength"),
    column("lbfs_db", "dB", "free-space basic transmission loss"),
];

pub(super) static P525: Model = Model {
    name: "p525",
    title: "ITU-R P.525-4 (08/2019), free-space loss between isotropic antennas",
    range: "far field of both antennas; no terrain, gas or rain",
    inputs: &[
        FREQUENCY,
        number(column("d_km", "km", "distance"), 1e-6, 1e9),
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let (f_ghz, d_km) = (case.number("f_ghz"), case.number("d_km"));
    Outcome::of_numbers(
        OUTPUTS,
        &[wavelength_m(f_ghz), free_space_loss_db(f_ghz, d_km)],
    )
}
