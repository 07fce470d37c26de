//! The Irregular Terrain Model over a profile.

use physics::diffraction::Ground;
use physics::path_loss::itm::{
    Climate, Link, Settings, Terms, Terrain, Variability, point_to_point,
};

use super::polarization;
use crate::cases::Case;
use crate::columns::{Column, HEIGHTS, Input, POLARIZATION, column, number, only_for, word};
use crate::model::{Model, Outcome, Value};

pub(super) const TX_HEIGHT: Input = number(
    column("h_tx_m", "m", "transmitting antenna above ground"),
    0.5,
    3000.0,
);
pub(super) const RX_HEIGHT: Input = number(
    column("h_rx_m", "m", "receiving antenna above ground"),
    0.5,
    3000.0,
);
pub(super) const F_MHZ: Input = number(column("f_mhz", "MHz", "frequency"), 20.0, 20_000.0);
pub(super) const CLIMATE: Input = word(
    column(
        "climate",
        "",
        "radio climate: 1 equatorial, 2 continental subtropical, 3 maritime subtropical, 4 desert, \
         5 continental temperate, 6 maritime temperate over land, 7 over sea",
    ),
    &["1", "2", "3", "4", "5", "6", "7"],
);
pub(super) const N0: Input = number(
    column("n_0", "N", "sea-level surface refractivity"),
    250.0,
    400.0,
);
pub(super) const EPSILON: Input = number(
    column("epsilon", "", "relative permittivity of the ground"),
    1.001,
    1e4,
);
pub(super) const SIGMA: Input = number(
    column("sigma", "S/m", "conductivity of the ground"),
    1e-9,
    1e4,
);
pub(super) const MDVAR: Input = word(
    column(
        "mdvar",
        "",
        "mode of variability: 0 single message, 1 individual, 2 mobile, 3 broadcast; 10 more \
         without locations, 20 more without situations; 12 for fixed links",
    ),
    &[
        "12", "0", "1", "2", "3", "10", "11", "13", "20", "21", "22", "23", "30", "31", "32", "33",
    ],
);
const MODE: &str = "mode_of_variability";
pub(super) const STATISTICS: Input = word(
    column(
        MODE,
        "",
        "`tls` time, location, situation, or `cr` confidence, reliability",
    ),
    &["tls", "cr"],
);
pub(super) const TIME: Input = percentage("time_pct", "time the loss is not exceeded", "tls");
pub(super) const LOCATION: Input =
    percentage("location_pct", "locations the loss is not exceeded", "tls");
pub(super) const SITUATION: Input = percentage(
    "situation_pct",
    "like situations the loss is not exceeded",
    "tls",
);
pub(super) const CONFIDENCE: Input = percentage("confidence_pct", "confidence", "cr");
pub(super) const RELIABILITY: Input = percentage("reliability_pct", "reliability", "cr");

const fn percentage(name: &'static str, meaning: &'static str, form: &'static str) -> Input {
    only_for(
        number(column(name, "%", meaning), 0.0001, 99.9999),
        MODE,
        form,
    )
}

/// In the order of the reference tables.
pub(super) const OUTPUTS: &[Column] = &[
    column("rtn", "", "1 where a flag is set, 0 otherwise"),
    column("warnings", "", "flags of the reference program, as a sum"),
    column("a_db", "dB", "basic transmission loss"),
    column("a_ref_db", "dB", "reference attenuation beyond free space"),
    column("a_fs_db", "dB", "free-space loss"),
    column(
        "theta_hzn_tx_rad",
        "rad",
        "horizon elevation at the transmitter",
    ),
    column(
        "theta_hzn_rx_rad",
        "rad",
        "horizon elevation at the receiver",
    ),
    column("d_hzn_tx_m", "m", "transmitter to its horizon"),
    column("d_hzn_rx_m", "m", "receiver to its horizon"),
    column(
        "h_e_tx_m",
        "m",
        "effective height of the transmitting antenna",
    ),
    column("h_e_rx_m", "m", "effective height of the receiving antenna"),
    column("n_s", "N", "refractivity at the mean height"),
    column("delta_h_m", "m", "terrain irregularity"),
    column("d_km", "km", "path length"),
    column("prop_mode", "", "`los`, `diffraction` or `troposcatter`"),
];

/// Range of both forms of the model.
pub(super) const RANGE: &str = "20 MHz to 20 GHz, made for 40 MHz to 10 GHz; 1 to 2000 km, \
                                antennas 1 to 1000 m above ground; no clutter, gas or rain";

pub(super) static ITM: Model = Model {
    name: "itm",
    title: "Irregular Terrain Model 1.4 (Longley-Rice; NTIA/ITS), point to point",
    range: RANGE,
    inputs: &[
        HEIGHTS,
        number(
            column("spacing_m", "m", "step between two heights of the profile"),
            0.1,
            1e5,
        ),
        TX_HEIGHT,
        RX_HEIGHT,
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
    let Some((h_m, (link, settings))) = case.heights_m().zip(question(case)) else {
        return Outcome::of_numbers(OUTPUTS, &[f64::NAN; OUTPUTS.len()]);
    };
    let terrain = Terrain {
        h_m,
        spacing_m: case.number("spacing_m"),
    };
    outcome(&point_to_point(&terrain, &link, &settings))
}

/// Antennas, percentages and settings of a case.
pub(super) fn question(case: &Case<'_>) -> Option<(Link, Settings)> {
    let code = |column| case.word(column).parse::<u8>().ok();
    let [time_pct, location_pct, situation_pct] = if case.word(MODE) == "cr" {
        [
            case.number("reliability_pct"),
            50.0,
            case.number("confidence_pct"),
        ]
    } else {
        ["time_pct", "location_pct", "situation_pct"].map(|c| case.number(c))
    };
    let link = Link {
        tx_agl_m: case.number("h_tx_m"),
        rx_agl_m: case.number("h_rx_m"),
        f_mhz: case.number("f_mhz"),
        polarization: polarization(case),
        n0: case.number("n_0"),
        time_pct,
        location_pct,
    };
    let settings = Settings {
        climate: Climate::from_code(code("climate")?)?,
        ground: Ground {
            permittivity: case.number("epsilon"),
            conductivity_s_per_m: case.number("sigma"),
        },
        variability: Variability::from_code(code("mdvar")?)?,
        situation_pct,
    };
    Some((link, settings))
}

/// The terms as the columns of the tables.
pub(super) fn outcome(result: &Terms) -> Outcome {
    let terms = result.list();
    let flags = result.flags();
    let value = |column: &Column| match column.name {
        "rtn" => Value::Number(f64::from(u8::from(flags != 0))),
        "warnings" => Value::Number(f64::from(flags)),
        "prop_mode" => Value::Word(result.prop_mode.word()),
        name => Value::Number(
            terms
                .iter()
                .find(|t| t.name == name)
                .map_or(f64::NAN, |t| t.value),
        ),
    };
    Outcome {
        values: OUTPUTS.iter().map(value).collect(),
        terms,
        warnings: result.warnings(),
    }
}
