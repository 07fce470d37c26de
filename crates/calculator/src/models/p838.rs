//! ITU-R P.838.

use physics::rain::{RainLaw, warnings};

use super::RAIN_FREQUENCY;
use crate::cases::Case;
use crate::columns::{Column, column, number};
use crate::model::{Model, Outcome};

const OUTPUTS: &[Column] = &[
    column("k", "dB/km", "factor of the rain law"),
    column("alpha", "", "exponent of the rain law"),
    column("gamma_dbkm", "dB/km", "specific attenuation"),
];

pub(super) static P838: Model = Model {
    name: "p838",
    title: "ITU-R P.838-3 (03/2005), specific attenuation by rain",
    range: "1 to 1000 GHz; rain rate averaged over a minute",
    inputs: &[
        RAIN_FREQUENCY,
        number(
            column("elevation_deg", "deg", "inclination of the path"),
            -90.0,
            90.0,
        ),
        number(
            column(
                "tau_deg",
                "deg",
                "tilt of the field: 0 horizontal, 90 vertical, 45 circular",
            ),
            -360.0,
            360.0,
        ),
        number(column("rain_mmh", "mm/h", "rain rate"), 0.0, 1000.0),
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let (f_ghz, rain) = (case.number("f_ghz"), case.number("rain_mmh"));
    let law = RainLaw::inclined(f_ghz, case.number("elevation_deg"), case.number("tau_deg"));
    Outcome {
        warnings: warnings(f_ghz, rain),
        ..Outcome::of_numbers(
            OUTPUTS,
            &[law.k, law.alpha, law.attenuation_db_per_km(rain)],
        )
    }
}
