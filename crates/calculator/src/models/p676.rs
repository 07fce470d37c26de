//! ITU-R P.676.

use physics::gas::{Air, specific_attenuation, warnings};

use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, column, number};
use crate::model::{Model, Outcome};

const OUTPUTS: &[Column] = &[
    column("gamma_o_dbkm", "dB/km", "dry air"),
    column("gamma_w_dbkm", "dB/km", "water vapour"),
    column("gamma_dbkm", "dB/km", "both together"),
];

pub(super) static P676: Model = Model {
    name: "p676",
    title: "ITU-R P.676-13 (08/2022), Annex 1, gases of the air line by line",
    range: "1 to 1000 GHz; `p_dry_hpa` is total pressure less that of the water vapour",
    inputs: &[
        FREQUENCY,
        number(
            column("p_dry_hpa", "hPa", "pressure of dry air"),
            0.01,
            1200.0,
        ),
        number(column("t_k", "K", "temperature"), 100.0, 400.0),
        number(
            column("rho_gm3", "g/m³", "water-vapour density"),
            0.0,
            200.0,
        ),
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let f_ghz = case.number("f_ghz");
    let air = Air {
        dry_pressure_hpa: case.number("p_dry_hpa"),
        temperature_k: case.number("t_k"),
        vapour_g_per_m3: case.number("rho_gm3"),
    };
    let got = specific_attenuation(f_ghz, &air);
    let numbers = [
        got.oxygen_db_per_km,
        got.vapour_db_per_km,
        got.total_db_per_km(),
    ];
    Outcome {
        warnings: warnings(f_ghz, &air),
        ..Outcome::of_numbers(OUTPUTS, &numbers)
    }
}
