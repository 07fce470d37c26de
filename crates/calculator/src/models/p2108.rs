//! Clutter around one end of a path, ITU-R P.2108.

use physics::clutter::ClutterClass;
use physics::terminal_clutter::{
    ClutteredTerminal, earth_space, earth_space_warnings, height_gain_correction_db,
    height_gain_warnings, terrestrial, terrestrial_warnings,
};

use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, Input, column, number, word};
use crate::model::{Model, Outcome};

const LOCATIONS: Input = number(
    column("p_pct", "%", "locations for which the loss is not exceeded"),
    1e-6,
    99.999_999,
);

const HEIGHT_GAIN_OUTPUTS: &[Column] = &[column(
    "ah_db",
    "dB",
    "loss beyond that of the path to the clutter's height",
)];

pub(super) static HEIGHT_GAIN: Model = Model {
    name: "p2108-height-gain",
    title: "ITU-R P.2108-1 (09/2021), section 3.1, height-gain terminal correction",
    range: "0.03 to 3 GHz; an end below clutter of known height that the path does not hold already",
    inputs: &[
        FREQUENCY,
        number(column("h_m", "m", "antenna above ground"), 0.01, 1e5),
        number(
            column("ws_m", "m", "street width, 27 where unknown"),
            0.1,
            1e4,
        ),
        number(
            column("r_m", "m", "representative clutter height"),
            0.01,
            1e3,
        ),
        word(
            column("clutter", "", "kind of clutter"),
            &[
                "suburban",
                "urban",
                "dense_urban",
                "trees_forest",
                "open_rural",
                "water_sea",
            ],
        ),
    ],
    outputs: HEIGHT_GAIN_OUTPUTS,
    run: run_height_gain,
};

fn run_height_gain(case: &Case<'_>) -> Outcome {
    let terminal = ClutteredTerminal {
        f_ghz: case.number("f_ghz"),
        antenna_agl_m: case.number("h_m"),
        clutter_m: case.number("r_m"),
        street_width_m: case.number("ws_m"),
        class: match case.word("clutter") {
            "urban" => ClutterClass::Urban,
            "dense_urban" => ClutterClass::DenseUrban,
            "trees_forest" => ClutterClass::Trees,
            "open_rural" => ClutterClass::Open,
            "water_sea" => ClutterClass::Water,
            _ => ClutterClass::Suburban,
        },
    };
    Outcome {
        warnings: height_gain_warnings(&terminal),
        ..Outcome::of_numbers(HEIGHT_GAIN_OUTPUTS, &[height_gain_correction_db(&terminal)])
    }
}

const TERRESTRIAL_OUTPUTS: &[Column] = &[
    column("l_l_db", "dB", "part that grows with frequency only"),
    column("l_s_db", "dB", "part that grows with distance"),
    column("sigma_cb_db", "dB", "standard deviation over locations"),
    column(
        "l_ctt_db",
        "dB",
        "clutter loss of one end, exact inverse normal",
    ),
];

pub(super) static TERRESTRIAL: Model = Model {
    name: "p2108-terrestrial",
    title: "ITU-R P.2108-1 (09/2021), section 3.2, statistical clutter loss of terrestrial paths",
    range: "0.5 to 67 GHz, 0.25 km and more, one end well below the roofs; both ends from 1 km",
    inputs: &[
        FREQUENCY,
        number(column("d_km", "km", "path length"), 1e-3, 1e5),
        LOCATIONS,
    ],
    outputs: TERRESTRIAL_OUTPUTS,
    run: run_terrestrial,
};

fn run_terrestrial(case: &Case<'_>) -> Outcome {
    let [f, d, p] = ["f_ghz", "d_km", "p_pct"].map(|c| case.number(c));
    let loss = terrestrial(f, d, p);
    Outcome {
        warnings: terrestrial_warnings(f, d, p),
        ..Outcome::of_numbers(
            TERRESTRIAL_OUTPUTS,
            &[loss.l_l_db, loss.l_s_db, loss.sigma_cb_db, loss.l_ctt_db],
        )
    }
}

const EARTH_SPACE_OUTPUTS: &[Column] = &[
    column("k1", "", "frequency factor"),
    column("elevation_db", "dB", "part by elevation and locations"),
    column("l_ces_db", "dB", "clutter loss, exact inverse normal"),
];

pub(super) static EARTH_SPACE: Model = Model {
    name: "p2108-earth-space",
    title: "ITU-R P.2108-1 (09/2021), section 3.3, statistical clutter loss of slant paths",
    range: "10 to 100 GHz, elevations 0 to 90 degrees at the ground end",
    inputs: &[
        FREQUENCY,
        number(column("theta_deg", "deg", "elevation"), 0.0, 90.0),
        LOCATIONS,
    ],
    outputs: EARTH_SPACE_OUTPUTS,
    run: run_earth_space,
};

fn run_earth_space(case: &Case<'_>) -> Outcome {
    let [f, theta, p] = ["f_ghz", "theta_deg", "p_pct"].map(|c| case.number(c));
    let loss = earth_space(f, theta, p);
    Outcome {
        warnings: earth_space_warnings(f, theta, p),
        ..Outcome::of_numbers(
            EARTH_SPACE_OUTPUTS,
            &[loss.k1, loss.elevation_db, loss.l_ces_db],
        )
    }
}
