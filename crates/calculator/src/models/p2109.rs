//! Building entry loss, ITU-R P.2109.

use physics::building_entry::{Building, building_entry, building_entry_warnings};

use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, column, number, word};
use crate::model::{Model, Outcome};

const OUTPUTS: &[Column] = &[
    column("l_h_db", "dB", "median loss of horizontal paths"),
    column("l_e_db", "dB", "addition for elevation"),
    column("mu1_db", "dB", "mean of the first distribution"),
    column(
        "sigma1_db",
        "dB",
        "standard deviation of the first distribution",
    ),
    column("mu2_db", "dB", "mean of the second distribution"),
    column(
        "sigma2_db",
        "dB",
        "standard deviation of the second distribution",
    ),
    column("loss_db", "dB", "building entry loss"),
];

pub(super) static P2109: Model = Model {
    name: "p2109",
    title: "ITU-R P.2109-1 (08/2019), building entry loss",
    range: "0.08 to 100 GHz, over places inside and buildings of a kind",
    inputs: &[
        FREQUENCY,
        number(
            column("p_pct", "%", "probability that the loss is not exceeded"),
            1e-6,
            99.999_999,
        ),
        word(
            column("building", "", "kind of building"),
            &["traditional", "thermally_efficient"],
        ),
        number(
            column("elevation_deg", "deg", "elevation at the facade"),
            -90.0,
            90.0,
        ),
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let building = match case.word("building") {
        "thermally_efficient" => Building::ThermallyEfficient,
        _ => Building::Traditional,
    };
    let [f, theta, p] = ["f_ghz", "elevation_deg", "p_pct"].map(|c| case.number(c));
    let loss = building_entry(building, f, theta, p);
    Outcome {
        warnings: building_entry_warnings(f, theta, p),
        ..Outcome::of_numbers(
            OUTPUTS,
            &[
                loss.l_h_db,
                loss.l_e_db,
                loss.mu1_db,
                loss.sigma1_db,
                loss.mu2_db,
                loss.sigma2_db,
                loss.loss_db,
            ],
        )
    }
}
