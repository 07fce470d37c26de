//! ITU-R P.1812.

use physics::clutter::{location_height_factor, location_sigma_db};
use physics::inverse_normal::inverse_normal;
use physics::path_loss::{
    Model as PathModel, PathEnds, PathInput, PathProfile, path_centre_lat_deg,
};

use super::polarization;
use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, Input, POLARIZATION, PROFILE, column, joined, number};
use crate::model::{Model, Outcome, Value};

/// Profile, frequency and time.
pub(super) const WHAT: &[Input] = &[
    PROFILE,
    FREQUENCY,
    number(
        column("p_pct", "%", "time for which the loss is not exceeded"),
        0.001,
        50.0,
    ),
];

/// Antennas and climate.
pub(super) const WHERE: &[Input] = &[
    POLARIZATION,
    number(
        column("htg_m", "m", "transmitting antenna above ground"),
        0.01,
        1e5,
    ),
    number(
        column("hrg_m", "m", "receiving antenna above ground"),
        0.01,
        1e5,
    ),
    number(
        column("phi_t_deg", "deg", "latitude of the transmitter"),
        -90.0,
        90.0,
    ),
    number(
        column("lam_t_deg", "deg", "longitude of the transmitter"),
        -360.0,
        360.0,
    ),
    number(
        column("phi_r_deg", "deg", "latitude of the receiver"),
        -90.0,
        90.0,
    ),
    number(
        column("lam_r_deg", "deg", "longitude of the receiver"),
        -360.0,
        360.0,
    ),
    number(
        column("dn", "N/km", "median refractivity lapse rate, positive"),
        -500.0,
        150.0,
    ),
    number(
        column("n0", "N", "sea-level surface refractivity"),
        0.0,
        1000.0,
    ),
    number(
        column(
            "dct_km",
            "km",
            "transmitter to coast over land, 500 for none",
        ),
        0.0,
        1e5,
    ),
    number(
        column("dcr_km", "km", "receiver to coast over land, 500 for none"),
        0.0,
        1e5,
    ),
];

const INPUTS: &[Input] = &joined::<_, 16>(&[
    WHAT,
    &[
        number(
            column(
                "pl_pct",
                "%",
                "locations for which the loss is not exceeded",
            ),
            0.0001,
            99.9999,
        ),
        number(
            column("sigma_l_db", "dB", "standard deviation over locations"),
            0.0,
            100.0,
        ),
    ],
    WHERE,
]);

/// What both models find about the path.
pub(super) const PATH: &[Column] = &[
    column("d_km", "km", "path length"),
    column("phi_path_deg", "deg", "latitude of the path centre"),
    column("ae_km", "km", "median effective Earth radius"),
    column("omega", "", "fraction of the path over sea"),
    column("dtm_km", "km", "longest section over land"),
    column("dlm_km", "km", "longest section inland"),
    column("b0_pct", "%", "time with ducting at a point"),
    column("hts_m", "m", "transmitting antenna above sea level"),
    column("hrs_m", "m", "receiving antenna above sea level"),
    column("path_type", "", "`los` or `transhorizon`"),
    column("dlt_km", "km", "transmitter to its horizon"),
    column("dlr_km", "km", "receiver to its horizon"),
    column(
        "theta_t_mrad",
        "mrad",
        "horizon elevation at the transmitter",
    ),
    column("theta_r_mrad", "mrad", "horizon elevation at the receiver"),
    column("theta_mrad", "mrad", "angular distance"),
    column("hst_n_m", "m", "fitted surface at the transmitter"),
    column("hsr_n_m", "m", "fitted surface at the receiver"),
    column("hst_m", "m", "surface at the transmitter, ducting"),
    column("hsr_m", "m", "surface at the receiver, ducting"),
    column("hstd_m", "m", "surface at the transmitter, diffraction"),
    column("hsrd_m", "m", "surface at the receiver, diffraction"),
    column("hte_m", "m", "transmitting antenna above the surface"),
    column("hre_m", "m", "receiving antenna above the surface"),
    column("hm_m", "m", "terrain roughness"),
    column("fi", "", "interpolation between the two radii"),
    column("fj", "", "interpolation by angular distance"),
    column("fk", "", "interpolation by distance"),
];

/// The mechanisms and how they are joined.
pub(super) const MECHANISMS: &[Column] = &[
    column("lb0p_db", "dB", "line-of-sight loss, time asked"),
    column("lb0b_db", "dB", "line-of-sight loss, b0 of the time"),
    column(
        "lbulla50_db",
        "dB",
        "Bullington loss, actual profile, median radius",
    ),
    column(
        "lbulls50_db",
        "dB",
        "Bullington loss, smooth profile, median radius",
    ),
    column("ldsph50_db", "dB", "spherical-Earth loss, median radius"),
    column("ld50_db", "dB", "diffraction loss, median radius"),
    column(
        "lbullab_db",
        "dB",
        "Bullington loss, actual profile, b0 radius",
    ),
    column(
        "lbullsb_db",
        "dB",
        "Bullington loss, smooth profile, b0 radius",
    ),
    column("ldsphb_db", "dB", "spherical-Earth loss, b0 radius"),
    column("ldb_db", "dB", "diffraction loss, b0 radius"),
    column("ldp_db", "dB", "diffraction loss, time asked"),
    column("lbd50_db", "dB", "free space and diffraction, median"),
    column("lbd_db", "dB", "free space and diffraction, time asked"),
    column(
        "lminb0p_db",
        "dB",
        "least loss, line of sight and diffraction",
    ),
    column("lba_db", "dB", "ducting loss"),
    column("lminbap_db", "dB", "least loss, line of sight and ducting"),
    column("lbda_db", "dB", "diffraction joined with ducting"),
    column("lbam_db", "dB", "joined with line of sight"),
    column("lbs_db", "dB", "troposcatter loss"),
];

/// In the order of the reference tables.
const OUTPUTS: &[Column] = &joined::<_, 51>(&[
    PATH,
    &[column("lbfs_db", "dB", "free-space loss")],
    MECHANISMS,
    &[
        column(
            "lbc_db",
            "dB",
            "joined with troposcatter, 50 % of locations",
        ),
        column("lloc_db", "dB", "correction for locations"),
        column("lb_db", "dB", "basic transmission loss"),
        column("ep_dbuvm", "dB(µV/m)", "field strength for 1 kW e.r.p."),
    ],
]);

pub(super) static P1812: Model = Model {
    name: "p1812",
    title: "ITU-R P.1812-8 (09/2025), path-specific point-to-area prediction",
    range: "0.03 to 6 GHz, 0.25 to 3000 km, antennas 1 to 3000 m above ground, time 1 to 50 %, \
            locations 1 to 99 %; no building entry loss, no gas or rain",
    inputs: INPUTS,
    outputs: OUTPUTS,
    run,
};

/// The input of a case, from the columns both models read.
pub(super) fn path_input<'a>(case: &Case<'_>, profile: PathProfile<'a>) -> PathInput<'a> {
    let ends = PathEnds {
        tx_lat_deg: case.number("phi_t_deg"),
        tx_lon_deg: case.number("lam_t_deg"),
        rx_lat_deg: case.number("phi_r_deg"),
        rx_lon_deg: case.number("lam_r_deg"),
    };
    PathInput {
        time_pct: case.number("p_pct"),
        polarization: polarization(case),
        tx_agl_m: case.number("htg_m"),
        rx_agl_m: case.number("hrg_m"),
        path_centre_lat_deg: path_centre_lat_deg(&ends, profile.length_km()),
        delta_n_per_km: case.number("dn"),
        n0: case.number("n0"),
        tx_coast_km: case.number("dct_km"),
        rx_coast_km: case.number("dcr_km"),
        ..PathInput::median(profile, case.number("f_ghz"))
    }
}

/// Every output column by the term of its name.
pub(super) fn path_outcome(model: PathModel, input: &PathInput<'_>, outputs: &[Column]) -> Outcome {
    let loss = model.predict(input);
    let terms = loss.list();
    let path_type = if loss.is_transhorizon() {
        "transhorizon"
    } else {
        "los"
    };
    let value = |column: &Column| match terms.iter().find(|t| t.name == column.name) {
        Some(term) => Value::Number(term.value),
        None if column.name == "path_type" => Value::Word(path_type),
        None => Value::Number(f64::NAN),
    };
    Outcome {
        values: outputs.iter().map(value).collect(),
        terms,
        warnings: model.warnings(input),
    }
}

fn run(case: &Case<'_>) -> Outcome {
    let Some(profile) = case.profile().and_then(|p| p.borrow().ok()) else {
        return Outcome::of_numbers(OUTPUTS, &[f64::NAN; OUTPUTS.len()]);
    };
    let input = PathInput {
        location_pct: case.number("pl_pct"),
        sigma_loc_db: case.number("sigma_l_db"),
        ..path_input(case, profile)
    };
    path_outcome(PathModel::P1812, &input, OUTPUTS)
}

const LOCATION_OUTPUTS: &[Column] = &[
    column("u", "", "share left at the height of the antenna"),
    column("sigma_l_db", "dB", "standard deviation over locations"),
];

pub(super) static LOCATION: Model = Model {
    name: "p1812-location",
    title: "ITU-R P.1812-8 (09/2025), section 4.8, spread of loss over locations outdoors",
    range: "0.03 to 6 GHz, areas of 50 to 1000 m; 0 at sea",
    inputs: &[
        FREQUENCY,
        number(
            column("h_m", "m", "receiving antenna above ground"),
            0.0,
            1e5,
        ),
        number(
            column("r_m", "m", "representative clutter height at the receiver"),
            0.0,
            1e3,
        ),
        number(column("wa_m", "m", "side of the square area"), 1e-3, 1e5),
    ],
    outputs: LOCATION_OUTPUTS,
    run: run_location,
};

fn run_location(case: &Case<'_>) -> Outcome {
    let u = location_height_factor(case.number("h_m"), case.number("r_m"));
    let sigma_db = location_sigma_db(case.number("f_ghz"), case.number("wa_m"));
    Outcome::of_numbers(LOCATION_OUTPUTS, &[u, u * sigma_db])
}

const INVERSE_NORMAL_OUTPUTS: &[Column] = &[column(
    "i_x",
    "",
    "standard deviations that are exceeded with this probability",
)];

pub(super) static INVERSE_NORMAL: Model = Model {
    name: "p1812-inverse-normal",
    title: "ITU-R P.1812-8 (09/2025), equations (96) and (97), inverse of the normal distribution",
    range: "an approximation for probabilities from 1e-6 to 1 - 1e-6, held at these beyond",
    inputs: &[number(
        column("x", "", "probability of being exceeded"),
        1e-12,
        1.0 - 1e-12,
    )],
    outputs: INVERSE_NORMAL_OUTPUTS,
    run: |case| Outcome::of_numbers(INVERSE_NORMAL_OUTPUTS, &[inverse_normal(case.number("x"))]),
};
