//! Vegetation: woodland of ITU-R P.833, and the fits for a stand of trees.

use physics::vegetation::{FoliageFit, specific_attenuation_db_per_m, woodland_excess_db};

use crate::cases::Case;
use crate::columns::{Column, Input, column, number};
use crate::model::{Model, Outcome};

const DEPTH: Input = number(
    column("depth_m", "m", "length of the path in the trees"),
    0.0,
    1e5,
);

const OUTPUTS: &[Column] = &[column("a_ev_db", "dB", "excess loss of the woodland")];

pub(super) static P833: Model = Model {
    name: "p833",
    title: "ITU-R P.833-9 (09/2016), section 2.1, a terminal in woodland",
    range: "0.03 to 30 GHz; at most the loss of the way over the trees",
    inputs: &[
        DEPTH,
        number(
            column("gamma_dbm", "dB/m", "specific attenuation of short paths"),
            0.0,
            1e3,
        ),
        number(column("am_db", "dB", "greatest excess loss"), 1e-3, 1e4),
    ],
    outputs: OUTPUTS,
    run,
};

fn run(case: &Case<'_>) -> Outcome {
    let [d, gamma, am] = ["depth_m", "gamma_dbm", "am_db"].map(|c| case.number(c));
    Outcome::of_numbers(OUTPUTS, &[woodland_excess_db(d, gamma, am)])
}

/// The specific attenuation, then the fits in the order of [`FoliageFit::ALL`].
const FOLIAGE_OUTPUTS: &[Column] = &[
    column("gamma_dbm", "dB/m", "specific attenuation in woodland"),
    column("weissberger_db", "dB", "Weissberger, 0.23 to 95 GHz"),
    column("early_itu_db", "dB", "early ITU-R, 0.2 to 95 GHz"),
    column(
        "fitted_itu_in_leaf_db",
        "dB",
        "fitted ITU-R in leaf, 11 to 20 GHz",
    ),
    column(
        "fitted_itu_out_of_leaf_db",
        "dB",
        "fitted ITU-R out of leaf, 11 to 20 GHz",
    ),
    column(
        "cost235_in_leaf_db",
        "dB",
        "COST 235 in leaf, 9.6 to 57.6 GHz",
    ),
    column(
        "cost235_out_of_leaf_db",
        "dB",
        "COST 235 out of leaf, 9.6 to 57.6 GHz",
    ),
];

pub(super) static FOLIAGE: Model = Model {
    name: "p833-foliage",
    title: "ITU-R P.833-9 (09/2016), Figure 2, with other fits of the loss through trees",
    range: "each fit has its own range; up to 400 m of trees",
    inputs: &[
        number(column("f_mhz", "MHz", "frequency"), 30.0, 100_000.0),
        DEPTH,
    ],
    outputs: FOLIAGE_OUTPUTS,
    run: run_foliage,
};

fn run_foliage(case: &Case<'_>) -> Outcome {
    let (f_mhz, depth_m) = (case.number("f_mhz"), case.number("depth_m"));
    let fits = FoliageFit::ALL.map(|fit| fit.loss_db(f_mhz, depth_m));
    let numbers = [&[specific_attenuation_db_per_m(f_mhz)], &fits[..]].concat();
    Outcome {
        // The ranges of the others stand in their columns.
        warnings: FoliageFit::Weissberger.warnings(f_mhz, depth_m),
        ..Outcome::of_numbers(FOLIAGE_OUTPUTS, &numbers)
    }
}
