//! The Irregular Terrain Model where only the kind of country is known.

use physics::path_loss::itm::{Area, Siting, area};

use super::itm::{
    CLIMATE, CONFIDENCE, EPSILON, F_MHZ, LOCATION, MDVAR, N0, OUTPUTS, RANGE, RELIABILITY,
    RX_HEIGHT, SIGMA, SITUATION, STATISTICS, TIME, TX_HEIGHT, outcome, question,
};
use crate::cases::Case;
use crate::columns::{Input, POLARIZATION, column, number, word};
use crate::model::{Model, Outcome};

const fn siting(name: &'static str, meaning: &'static str) -> Input {
    word(column(name, "", meaning), &["0", "1", "2"])
}

pub(super) static ITM_AREA: Model = Model {
    name: "itm-area",
    title: "Irregular Terrain Model 1.4 (Longley-Rice; NTIA/ITS), area",
    range: RANGE,
    inputs: &[
        TX_HEIGHT,
        RX_HEIGHT,
        siting(
            "tx_siting",
            "transmitter placed at 0 random, 1 with care, 2 with great care",
        ),
        siting(
            "rx_siting",
            "receiver placed at 0 random, 1 with care, 2 with great care",
        ),
        number(column("d_km_in", "km", "path length"), 0.1, 1e4),
        number(
            column("delta_h_m_in", "m", "terrain irregularity"),
            0.0,
            3000.0,
        ),
        F_MHZ,
        POLARIZATION,
        CLIMATE,
        N0,
        EPSILON,
        SIGMA,
        MDVAR,
        STATISTICS,
        TIME,
        LOCATION,
        SITUATION,
        CONFIDENCE,
        RELIABILITY,
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let siting = |column| Siting::from_code(case.word(column).parse().ok()?);
    let sitings = siting("tx_siting").zip(siting("rx_siting"));
    let Some(((tx_siting, rx_siting), (link, settings))) = sitings.zip(question(case)) else {
        return Outcome::of_numbers(OUTPUTS, &[f64::NAN; OUTPUTS.len()]);
    };
    let path = Area {
        d_km: case.number("d_km_in"),
        delta_h_m: case.number("delta_h_m_in"),
        tx_siting,
        rx_siting,
    };
    outcome(&area(&path, &link, &settings))
}
