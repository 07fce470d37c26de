//! ITU-R P.530: line-of-sight hops.

use physics::hop::{
    C0Reading, CrossPolarRadio, Geoclimate, Hop, Margins, Multipath, RainCrossPolar, RainFade,
    RainHop, Unavailability, average_terrain_fade, scaled_attenuation_db, year_offset_db,
};

use super::{RAIN_FREQUENCY, polarization};
use crate::cases::Case;
use crate::columns::{Column, Input, POLARIZATION, column, joined, number};
use crate::model::{Model, Outcome};

const LENGTH: Input = number(column("d_km", "km", "path length"), 0.01, 500.0);
const RAIN: Input = number(
    column(
        "r001_mmh",
        "mm/h",
        "rain rate exceeded for 0.01 % of the year",
    ),
    0.0,
    1000.0,
);

/// Geometry and refraction of a hop.
const HOP: &[Input] = &[
    LENGTH,
    RAIN_FREQUENCY,
    number(
        column("he_masl", "m", "transmitting antenna above sea level"),
        -500.0,
        9000.0,
    ),
    number(
        column("hr_masl", "m", "receiving antenna above sea level"),
        -500.0,
        9000.0,
    ),
    number(
        column(
            "ht_masl",
            "m",
            "mean terrain along the path above sea level",
        ),
        -500.0,
        9000.0,
    ),
    number(
        column("log_k", "", "decimal logarithm of the geoclimatic factor"),
        -12.0,
        0.0,
    ),
    number(
        column("dn75", "N/km", "empirical refractivity gradient"),
        0.0,
        1000.0,
    ),
    number(
        column("lat_deg", "deg", "latitude of the path"),
        -90.0,
        90.0,
    ),
];

fn hop(case: &Case<'_>) -> (Hop, Geoclimate) {
    let hop = Hop {
        d_km: case.number("d_km"),
        f_ghz: case.number("f_ghz"),
        tx_amsl_m: case.number("he_masl"),
        rx_amsl_m: case.number("hr_masl"),
        mean_terrain_amsl_m: case.number("ht_masl"),
    };
    let geoclimate = Geoclimate::Maps {
        log_k: case.number("log_k"),
        dn75: case.number("dn75"),
    };
    (hop, geoclimate)
}

fn rain_hop(case: &Case<'_>) -> RainHop {
    RainHop {
        d_km: case.number("d_km"),
        f_ghz: case.number("f_ghz"),
        polarization: polarization(case),
        rain001_mm_per_h: case.number("r001_mmh"),
    }
}

const HOP_OUTPUTS: &[Column] = &[
    column("p0_pct", "%", "multipath occurrence factor, worst month"),
    column(
        "a001_db",
        "dB",
        "rain attenuation exceeded for 0.01 % of the year",
    ),
    column("delta_g_db", "dB", "worst month less average year"),
    column(
        "multipath_worst_month_pct",
        "%",
        "multipath, average worst month",
    ),
    column("multipath_year_pct", "%", "multipath, average year"),
    column("rain_year_pct", "%", "attenuation by rain, average year"),
    column("year_pct", "%", "unavailability, average year"),
    column("availability_pct", "%", "availability, average year"),
    column("minutes_per_year", "min", "minutes down in an average year"),
];

pub(super) static HOP_AVAILABILITY: Model = Model {
    name: "p530",
    title: "ITU-R P.530-18 (09/2021), unavailability of a line-of-sight hop by multipath and rain",
    range: "one direction, one polarization, flat fading; no multipath on paths under 5 km; no \
            diversity, wet snow or equipment failure",
    inputs: &joined::<_, 11>(&[
        HOP,
        &[
            POLARIZATION,
            RAIN,
            number(
                column("margin_db", "dB", "clear-air level less threshold"),
                -100.0,
                200.0,
            ),
        ],
    ]),
    outputs: HOP_OUTPUTS,
    run: run_hop,
};

fn run_hop(case: &Case<'_>) -> Outcome {
    let ((hop, geoclimate), rain_hop) = (hop(case), rain_hop(case));
    let multipath = Multipath::of(&hop, &geoclimate);
    let rain = RainFade::of(&rain_hop, C0Reading::default());
    let margins = Margins::both(case.number("margin_db"));
    let down = Unavailability::of(&hop, &multipath, case.number("lat_deg"), &rain, margins);
    let numbers = [
        multipath.p0_pct,
        rain.a001_db,
        down.delta_g_db,
        down.multipath_worst_month_pct,
        down.multipath_year_pct,
        down.rain_year_pct,
        down.year_pct,
        down.availability_pct(),
        down.minutes_per_year(),
    ];
    Outcome {
        warnings: Unavailability::warnings(&hop, &geoclimate, &rain_hop, &rain, margins),
        ..Outcome::of_numbers(HOP_OUTPUTS, &numbers)
    }
}

const MULTIPATH_OUTPUTS: &[Column] = &[
    column("eps_p_mrad", "mrad", "inclination of the path"),
    column("hc_m", "m", "height of the path above the mean terrain"),
    column("h_l_m", "m", "lower antenna above sea level"),
    column("vsr", "", "roughness of refraction over the terrain"),
    column("p0_pct", "%", "multipath occurrence factor, worst month"),
    column("at_db", "dB", "depth from which the deep-fade line holds"),
    column(
        "pw_single_pct",
        "%",
        "fade exceeded, deep-fade line, worst month",
    ),
    column("pw_all_pct", "%", "fade exceeded, any depth, worst month"),
    column(
        "pw_enhancement_not_exceeded_pct",
        "%",
        "enhancement not exceeded, worst month",
    ),
    column("delta_g_db", "dB", "worst month less average year"),
    column(
        "p_annual_single_pct",
        "%",
        "fade exceeded, deep-fade line, average year",
    ),
    column(
        "p_annual_all_pct",
        "%",
        "fade exceeded, any depth, average year",
    ),
];

pub(super) static MULTIPATH: Model = Model {
    name: "p530-multipath",
    title: "ITU-R P.530-18 (09/2021), sections 2.3.1 to 2.3.4, multipath fading and enhancement",
    range: "paths over 5 km, above 15/d GHz, inclined up to 100 mrad; `log_k` and `dn75` are values \
            of the ITU's maps",
    inputs: &joined::<_, 10>(&[
        HOP,
        &[
            number(column("a_db", "dB", "fade depth"), 1e-3, 200.0),
            number(column("e_db", "dB", "enhancement"), 0.0, 200.0),
        ],
    ]),
    outputs: MULTIPATH_OUTPUTS,
    run: run_multipath,
};

fn run_multipath(case: &Case<'_>) -> Outcome {
    let (hop, geoclimate) = hop(case);
    let (a_db, e_db) = (case.number("a_db"), case.number("e_db"));
    let m = Multipath::of(&hop, &geoclimate);
    let delta_g_db = year_offset_db(case.number("lat_deg"), hop.d_km, m.eps_p_mrad);
    let numbers = [
        m.eps_p_mrad,
        m.hc_m,
        m.h_l_m,
        m.vsr,
        m.p0_pct,
        m.at_db,
        m.deep_fade_pct(a_db),
        m.fade_pct(a_db),
        m.enhancement_not_exceeded_pct(e_db),
        delta_g_db,
        m.annual_deep_fade_pct(a_db, delta_g_db),
        m.annual_fade_pct(a_db, delta_g_db),
    ];
    Outcome {
        warnings: Multipath::warnings(&hop, &geoclimate),
        ..Outcome::of_numbers(MULTIPATH_OUTPUTS, &numbers)
    }
}

const RAIN_OUTPUTS: &[Column] = &[
    column(
        "gamma_r_dbkm",
        "dB/km",
        "specific attenuation at the rain rate of 0.01 %",
    ),
    column("alpha", "", "exponent of the rain law"),
    column("r_factor", "", "effective over true path length"),
    column("r_capped", "", "1 where that was limited to 2.5"),
    column(
        "a001_db",
        "dB",
        "attenuation exceeded for 0.01 % of the year",
    ),
    column("ap_db", "dB", "attenuation exceeded for the asked time"),
    column(
        "ap_alt_c0_db",
        "dB",
        "the same, C0 read as 0.12 + 0.4 (log10(f/10))^0.8",
    ),
];

pub(super) static RAIN_FADE: Model = Model {
    name: "p530-rain",
    title: "ITU-R P.530-18 (09/2021), section 2.4.1, attenuation by rain on a hop",
    range: "1 to 100 GHz, up to 60 km, time 0.001 to 1 %; C0 is read as 0.12 + 0.4 log10((f/10)^0.8)",
    inputs: &[
        RAIN_FREQUENCY,
        LENGTH,
        RAIN,
        number(
            column("p_pct", "%", "time for which the attenuation is exceeded"),
            1e-4,
            100.0,
        ),
        POLARIZATION,
    ],
    outputs: RAIN_OUTPUTS,
    run: run_rain,
};

fn run_rain(case: &Case<'_>) -> Outcome {
    let (hop, p_pct) = (rain_hop(case), case.number("p_pct"));
    let rain = RainFade::of(&hop, C0Reading::default());
    let other = RainFade::of(&hop, C0Reading::PowerOfLog);
    let numbers = [
        rain.gamma_r_db_per_km,
        rain.alpha,
        rain.r_factor,
        f64::from(u8::from(rain.r_capped)),
        rain.a001_db,
        rain.attenuation_db(p_pct),
        other.attenuation_db(p_pct),
    ];
    Outcome {
        warnings: RainFade::warnings(&hop, p_pct),
        ..Outcome::of_numbers(RAIN_OUTPUTS, &numbers)
    }
}

const SCALING_OUTPUTS: &[Column] = &[column("a2_db", "dB", "attenuation at the second frequency")];

pub(super) static RAIN_SCALING: Model = Model {
    name: "p530-rain-scaling",
    title: "ITU-R P.530-18 (09/2021), section 2.4.3, rain attenuation carried to another frequency",
    range: "7 to 50 GHz, same path and percentage of time",
    inputs: &[
        number(column("f1_ghz", "GHz", "first frequency"), 1.0, 100.0),
        number(
            column("a1_db", "dB", "attenuation at the first frequency"),
            0.0,
            200.0,
        ),
        number(column("f2_ghz", "GHz", "second frequency"), 1.0, 100.0),
    ],
    outputs: SCALING_OUTPUTS,
    run: run_scaling,
};

fn run_scaling(case: &Case<'_>) -> Outcome {
    let [a1_db, f1_ghz, f2_ghz] = ["a1_db", "f1_ghz", "f2_ghz"].map(|c| case.number(c));
    Outcome::of_numbers(
        SCALING_OUTPUTS,
        &[scaled_attenuation_db(a1_db, f1_ghz, f2_ghz)],
    )
}

const CROSS_POLAR_OUTPUTS: &[Column] = &[
    column(
        "a001_db",
        "dB",
        "attenuation exceeded for 0.01 % of the year",
    ),
    column("u_db", "dB", "U of the cross-polarization law"),
    column("v_db", "dB", "V of the cross-polarization law"),
    column("ap_db", "dB", "attenuation at which the radio fails"),
    column("m", "", "m, at most 40"),
    column("n", "", "n, meant for -3 to 0"),
    column("p_xpr", "", "probability of outage in the average year"),
];

pub(super) static CROSS_POLAR: Model = Model {
    name: "p530-xpd-rain",
    title: "ITU-R P.530-18 (09/2021), section 4.2, outage by cross-polarization in rain",
    range: "8 to 35 GHz, two polarizations on one channel",
    inputs: &[
        RAIN_FREQUENCY,
        LENGTH,
        RAIN,
        POLARIZATION,
        number(
            column(
                "c0_over_i_db",
                "dB",
                "carrier to interference at which the radio fails",
            ),
            -50.0,
            100.0,
        ),
        number(
            column("u0_db", "dB", "coefficient U0, 15 on average"),
            0.0,
            50.0,
        ),
        number(
            column("xpif_db", "dB", "improvement by a canceller, 0 without"),
            0.0,
            100.0,
        ),
    ],
    outputs: CROSS_POLAR_OUTPUTS,
    run: run_cross_polar,
};

fn run_cross_polar(case: &Case<'_>) -> Outcome {
    let hop = rain_hop(case);
    let rain = RainFade::of(&hop, C0Reading::default());
    let radio = CrossPolarRadio {
        c0_over_i_db: case.number("c0_over_i_db"),
        u0_db: case.number("u0_db"),
        xpif_db: case.number("xpif_db"),
    };
    let got = RainCrossPolar::of(&radio, hop.f_ghz, &rain);
    let numbers = [
        rain.a001_db,
        got.u_db,
        got.v_db,
        got.ap_db,
        got.m,
        got.n,
        got.outage_frac,
    ];
    Outcome {
        warnings: RainCrossPolar::warnings(hop.f_ghz),
        ..Outcome::of_numbers(CROSS_POLAR_OUTPUTS, &numbers)
    }
}

const OBSTRUCTION_OUTPUTS: &[Column] = &[
    column("f1_m", "m", "first Fresnel zone"),
    column("ad_db", "dB", "loss over average terrain"),
];

pub(super) static OBSTRUCTION: Model = Model {
    name: "p530-diffraction",
    title: "ITU-R P.530-18 (09/2021), section 2.2.1, diffraction over average terrain",
    range: "losses above about 15 dB, below that an indication; the clearance is that at the k in question",
    inputs: &[
        number(
            column("h_m", "m", "ray above the obstacle, negative where blocked"),
            -1e4,
            1e4,
        ),
        RAIN_FREQUENCY,
        number(
            column("d1_km", "km", "obstacle to the transmitter"),
            1e-3,
            1e3,
        ),
        number(column("d2_km", "km", "obstacle to the receiver"), 1e-3, 1e3),
    ],
    outputs: OBSTRUCTION_OUTPUTS,
    run: run_obstruction,
};

fn run_obstruction(case: &Case<'_>) -> Outcome {
    let [h_m, f_ghz, d1_km, d2_km] = ["h_m", "f_ghz", "d1_km", "d2_km"].map(|c| case.number(c));
    let got = average_terrain_fade(h_m, f_ghz, d1_km, d2_km);
    Outcome::of_numbers(OBSTRUCTION_OUTPUTS, &[got.f1_m, got.ad_db])
}
