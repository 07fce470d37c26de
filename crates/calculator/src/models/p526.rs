//! Diffraction of ITU-R P.526: a profile, one edge, the smooth Earth.

use physics::diffraction::{
    DiffractionPath, Ground, SmoothSurface, SphericalEarth, delta_bullington, knife_edge_exact_db,
    knife_edge_loss_db, smooth_surface,
};
use physics::path_loss::{Polarization, p1812::wavelength_m};

use super::polarization;
use crate::cases::Case;
use crate::columns::{Column, FREQUENCY, Input, POLARIZATION, PROFILE, column, number};
use crate::model::{Model, Outcome};

const RADIUS: Input = number(column("ap_km", "km", "effective Earth radius"), 1.0, 1e9);
const OMEGA: Input = number(
    column("omega", "", "fraction of the path over sea"),
    0.0,
    1.0,
);
const DISTANCE: Input = number(column("d_km", "km", "distance"), 1e-6, 1e5);
const TX_ABOVE: Input = number(
    column("hte_m", "m", "transmitting antenna above the surface"),
    1e-3,
    1e6,
);
const RX_ABOVE: Input = number(
    column("hre_m", "m", "receiving antenna above the surface"),
    1e-3,
    1e6,
);

const PROFILE_OUTPUTS: &[Column] = &[
    column("hts_m", "m", "transmitting antenna above sea level"),
    column("hrs_m", "m", "receiving antenna above sea level"),
    column("hstd_m", "m", "smooth surface at the transmitter"),
    column("hsrd_m", "m", "smooth surface at the receiver"),
    column("lbulla_db", "dB", "Bullington loss, actual profile"),
    column("lbulls_db", "dB", "Bullington loss, smooth profile"),
    column("ldsph_db", "dB", "spherical-Earth loss"),
    column("ld_db", "dB", "delta-Bullington diffraction loss"),
];

pub(super) static DELTA_BULLINGTON: Model = Model {
    name: "p526",
    title: "ITU-R P.526-15 (10/2019), section 4.5.2, delta-Bullington diffraction over a profile",
    range: "one effective Earth radius, no variability in time; wavelength 0.2998/f",
    inputs: &[
        PROFILE,
        FREQUENCY,
        POLARIZATION,
        number(
            column("htg_m", "m", "transmitting antenna above ground"),
            0.01,
            1e6,
        ),
        number(
            column("hrg_m", "m", "receiving antenna above ground"),
            0.01,
            1e6,
        ),
        RADIUS,
        OMEGA,
    ],
    outputs: PROFILE_OUTPUTS,
    run: run_profile,
};

fn run_profile(case: &Case<'_>) -> Outcome {
    let Some(profile) = case.profile() else {
        return Outcome::of_numbers(PROFILE_OUTPUTS, &[f64::NAN; 8]);
    };
    let ground = |h: Option<&f64>| h.copied().unwrap_or(f64::NAN);
    let path = DiffractionPath {
        d_km: &profile.d_km,
        h_m: &profile.h_m,
        clutter_m: &profile.clutter_m,
        bare_ends_km: 0.0,
        tx_amsl_m: ground(profile.h_m.first()) + case.number("htg_m"),
        rx_amsl_m: ground(profile.h_m.last()) + case.number("hrg_m"),
        f_ghz: case.number("f_ghz"),
        lambda_m: wavelength_m(case.number("f_ghz")),
    };
    let (hstd_m, hsrd_m) = smooth_surface(&path);
    let omega = case.number("omega");
    let surface = SmoothSurface {
        hstd_m,
        hsrd_m,
        omega,
        polarization: polarization(case),
    };
    let [loss] = delta_bullington(&path, &surface, [case.number("ap_km")]);
    Outcome::of_numbers(
        PROFILE_OUTPUTS,
        &[
            path.tx_amsl_m,
            path.rx_amsl_m,
            hstd_m,
            hsrd_m,
            loss.lbulla_db,
            loss.lbulls_db,
            loss.ldsph_db,
            loss.ld_db,
        ],
    )
}

const EDGE_OUTPUTS: &[Column] = &[
    column("j_db", "dB", "knife-edge loss, approximation"),
    column("j_exact_db", "dB", "knife-edge loss, Fresnel integrals"),
];

pub(super) static KNIFE_EDGE: Model = Model {
    name: "p526-knife-edge",
    title: "ITU-R P.526-15 (10/2019), section 4.1, single knife edge",
    range: "the approximation is 0 up to nu = -0.78 and within 0.12 dB from -0.7 to 10",
    inputs: &[number(column("nu", "", "diffraction parameter"), -1e6, 1e6)],
    outputs: EDGE_OUTPUTS,
    run: run_edge,
};

fn run_edge(case: &Case<'_>) -> Outcome {
    let nu = case.number("nu");
    Outcome::of_numbers(
        EDGE_OUTPUTS,
        &[knife_edge_loss_db(nu), knife_edge_exact_db(nu)],
    )
}

const FIRST_TERM_OUTPUTS: &[Column] = &[
    column(
        "ldft_h_db",
        "dB",
        "first-term loss, horizontal polarization",
    ),
    column("ldft_v_db", "dB", "first-term loss, vertical polarization"),
    column("k_h", "", "surface admittance, horizontal polarization"),
    column("k_v", "", "surface admittance, vertical polarization"),
];

pub(super) static FIRST_TERM: Model = Model {
    name: "p526-first-term",
    title: "ITU-R P.526-15 (10/2019), section 3.1.1, first-term diffraction over the smooth Earth",
    range: "beyond the horizon; short of it the value may be negative and means nothing",
    inputs: &[
        FREQUENCY,
        DISTANCE,
        TX_ABOVE,
        RX_ABOVE,
        RADIUS,
        number(
            column("epsr", "", "relative permittivity of the ground"),
            1.001,
            1e4,
        ),
        number(
            column("sigma_sm", "S/m", "conductivity of the ground"),
            0.0,
            1e6,
        ),
    ],
    outputs: FIRST_TERM_OUTPUTS,
    run: run_first_term,
};

fn sphere(case: &Case<'_>) -> SphericalEarth {
    SphericalEarth {
        d_km: case.number("d_km"),
        hte_m: case.number("hte_m"),
        hre_m: case.number("hre_m"),
        f_ghz: case.number("f_ghz"),
        radius_km: case.number("ap_km"),
    }
}

fn run_first_term(case: &Case<'_>) -> Outcome {
    let sphere = sphere(case);
    let ground = Ground {
        permittivity: case.number("epsr"),
        conductivity_s_per_m: case.number("sigma_sm"),
    };
    let both = [Polarization::Horizontal, Polarization::Vertical];
    let [loss_h, loss_v] = both.map(|pol| sphere.first_term_db(ground, pol));
    let [k_h, k_v] = both.map(|pol| ground.admittance(pol, sphere.f_ghz, sphere.radius_km));
    Outcome::of_numbers(FIRST_TERM_OUTPUTS, &[loss_h, loss_v, k_h, k_v])
}

const SPHERICAL_OUTPUTS: &[Column] = &[
    column(
        "dlos_km",
        "km",
        "distance at which the ray grazes the surface",
    ),
    column("ldsph_h_db", "dB", "loss, horizontal polarization"),
    column("ldsph_v_db", "dB", "loss, vertical polarization"),
];

pub(super) static SPHERICAL: Model = Model {
    name: "p526-spherical",
    title: "ITU-R P.526-15 (10/2019), section 3.2, smooth Earth at any distance",
    range: "average land and sea water mixed by `omega`; wavelength 0.2998/f",
    inputs: &[FREQUENCY, DISTANCE, TX_ABOVE, RX_ABOVE, RADIUS, OMEGA],
    outputs: SPHERICAL_OUTPUTS,
    run: run_spherical,
};

fn run_spherical(case: &Case<'_>) -> Outcome {
    let (sphere, omega) = (sphere(case), case.number("omega"));
    let lambda_m = wavelength_m(sphere.f_ghz);
    let [h, v] = [Polarization::Horizontal, Polarization::Vertical]
        .map(|pol| sphere.loss_db(omega, pol, lambda_m));
    Outcome::of_numbers(SPHERICAL_OUTPUTS, &[sphere.marginal_los_km(), h, v])
}
