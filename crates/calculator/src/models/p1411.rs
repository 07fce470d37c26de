//! Outdoor short-range paths, ITU-R P.1411.

use physics::path_loss::short_range::{SiteGeneral, StreetLevel, low_height, low_height_warnings};

use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, Input, column, number, word};
use crate::model::{Model, Outcome};

const DISTANCE: Input = number(column("d_m", "m", "distance"), 0.1, 1e6);

const OUTPUTS: &[Column] = &[
    column("sigma_db", "dB", "standard deviation over places"),
    column("loss_db", "dB", "median basic transmission loss"),
];

pub(super) static BELOW_ROOFTOP: Model = Model {
    name: "p1411-below-rooftop",
    title: "ITU-R P.1411-11 (09/2021), section 4.1.1, site-general, both ends below the roofs",
    range: "0.8 to 73 GHz, 5 to 715 m, by surroundings",
    inputs: &[
        FREQUENCY,
        DISTANCE,
        word(
            column("environment", "", "surroundings"),
            &[
                "los_urban_suburban",
                "nlos_urban_high_rise",
                "nlos_urban_low_rise_suburban",
                "nlos_residential",
            ],
        ),
    ],
    outputs: OUTPUTS,
    run: |case| {
        site_general(
            case,
            match case.word("environment") {
                "nlos_urban_high_rise" => SiteGeneral::BelowRoofNlosHighRise,
                "nlos_urban_low_rise_suburban" => SiteGeneral::BelowRoofNlosLowRise,
                "nlos_residential" => SiteGeneral::BelowRoofNlosResidential,
                _ => SiteGeneral::BelowRoofLos,
            },
        )
    },
};

pub(super) static ABOVE_ROOFTOP: Model = Model {
    name: "p1411-above-rooftop",
    title: "ITU-R P.1411-11 (09/2021), section 4.2.1, site-general, one end above the roofs",
    range: "2.2 to 73 GHz, 55 to 1200 m, by surroundings",
    inputs: &[
        FREQUENCY,
        DISTANCE,
        word(
            column("environment", "", "surroundings"),
            &["los", "nlos_urban_high_rise"],
        ),
    ],
    outputs: OUTPUTS,
    run: |case| {
        site_general(
            case,
            match case.word("environment") {
                "nlos_urban_high_rise" => SiteGeneral::AboveRoofNlosHighRise,
                _ => SiteGeneral::AboveRoofLos,
            },
        )
    },
};

fn site_general(case: &Case<'_>, around: SiteGeneral) -> Outcome {
    let (f_ghz, d_m) = (case.number("f_ghz"), case.number("d_m"));
    Outcome {
        warnings: around.warnings(f_ghz, d_m),
        ..Outcome::of_numbers(
            OUTPUTS,
            &[around.sigma_db(), around.median_loss_db(f_ghz, d_m)],
        )
    }
}

const LOW_OUTPUTS: &[Column] = &[
    column("l_los_db", "dB", "loss in sight at this distance"),
    column("l_nlos_db", "dB", "loss out of sight at this distance"),
    column("d_los_m", "m", "distance to which the places are in sight"),
    column("loss_db", "dB", "basic transmission loss"),
];

pub(super) static LOW_HEIGHT: Model = Model {
    name: "p1411-low-height",
    title: "ITU-R P.1411-11 (09/2021), section 4.3.1, terminals from below roof height to near \
            street level, UHF",
    range: "300 to 3000 MHz, up to 3000 m, antennas 1.9 to 3 m above the street",
    inputs: &[
        number(column("f_mhz", "MHz", "frequency"), 1.0, 1e6),
        DISTANCE,
        word(
            column("environment", "", "surroundings"),
            &["suburban", "urban", "dense_urban_high_rise"],
        ),
        number(
            column("p_pct", "%", "locations for which the loss is not exceeded"),
            1e-3,
            99.999,
        ),
    ],
    outputs: LOW_OUTPUTS,
    run: run_low_height,
};

fn run_low_height(case: &Case<'_>) -> Outcome {
    let around = match case.word("environment") {
        "urban" => StreetLevel::Urban,
        "dense_urban_high_rise" => StreetLevel::DenseUrbanHighRise,
        _ => StreetLevel::Suburban,
    };
    let [f, d, p] = ["f_mhz", "d_m", "p_pct"].map(|c| case.number(c));
    let loss = low_height(around, f, d, p);
    Outcome {
        warnings: low_height_warnings(f, d, p),
        ..Outcome::of_numbers(
            LOW_OUTPUTS,
            &[loss.l_los_db, loss.l_nlos_db, loss.d_los_m, loss.loss_db],
        )
    }
}
