//! ITU-R P.452.

use physics::path_loss::{Model as PathModel, PathInput};

use super::p1812::{MECHANISMS, PATH, WHAT, WHERE, path_input, path_outcome};
use crate::cases::Case;
use crate::columns::{Column, Input, column, joined, number};
use crate::model::{Model, Outcome};

const INPUTS: &[Input] = &joined::<_, 18>(&[
    WHAT,
    WHERE,
    &[
        number(
            column(
                "gt_dbi",
                "dBi",
                "gain of the transmitting antenna towards its horizon",
            ),
            -100.0,
            100.0,
        ),
        number(
            column(
                "gr_dbi",
                "dBi",
                "gain of the receiving antenna towards its horizon",
            ),
            -100.0,
            100.0,
        ),
        number(
            column("press_hpa", "hPa", "pressure of dry air"),
            100.0,
            1200.0,
        ),
        number(column("temp_c", "°C", "air temperature"), -100.0, 100.0),
    ],
]);

const OUTPUTS: &[Column] = &joined::<_, 50>(&[
    PATH,
    &[
        column("gamma_o_dbkm", "dB/km", "dry air on the path"),
        column("gamma_w_dbkm", "dB/km", "water vapour on the path"),
        column("lbfsg_db", "dB", "free-space loss with gases"),
    ],
    MECHANISMS,
    &[column("lb_db", "dB", "basic transmission loss")],
]);

pub(super) static P452: Model = Model {
    name: "p452",
    title: "ITU-R P.452-18 (08/2023), interference between stations on the ground, clear air",
    range: "0.1 to 50 GHz, up to 10 000 km, time 0.001 to 50 %; gases at the given dry pressure and \
            temperature, no scatter by rain",
    inputs: INPUTS,
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let Some(profile) = case.profile().and_then(|p| p.borrow().ok()) else {
        return Outcome::of_numbers(OUTPUTS, &[f64::NAN; OUTPUTS.len()]);
    };
    let input = PathInput {
        tx_horizon_gain_dbi: case.number("gt_dbi"),
        rx_horizon_gain_dbi: case.number("gr_dbi"),
        dry_pressure_hpa: case.number("press_hpa"),
        temperature_c: case.number("temp_c"),
        ..path_input(case, profile)
    };
    path_outcome(PathModel::P452, &input, OUTPUTS)
}
