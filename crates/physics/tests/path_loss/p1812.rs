//! ITU-R P.1812-8 against the cases published with it and cases run through
//! its public reference program.

use std::path::Path;

use physics::clutter::outdoor_location_sigma_db;
use physics::inverse_normal::inverse_normal;
use physics::path_loss::{
    Model, PathEnds, PathInput, PathLoss, Polarization, Terms, path_centre_lat_deg,
};

use crate::data::{Profile, Profiles, Row, Worst, fixture, shared, table};

/// Columns that are inputs in the tables although the list of terms has them too.
const INPUT_COLUMNS: [&str; 2] = ["dct_km", "dcr_km"];

/// The tables carry 12 significant digits, so values up to 999 (km, m) are
/// given to 5e-10, heights of 1000 m and more to 5e-9.
fn tolerance(column: &str) -> f64 {
    match column {
        "lb_pub_db" => 1e-6, // published with 6 to 10 digits after the point
        "path_type" => 0.0,
        "ae_km" => 5.01e-8, // five digits before the point
        _ => 6e-9,
    }
}

pub(crate) fn polarization(row: &Row) -> Polarization {
    match row.text("pol") {
        "h" => Polarization::Horizontal,
        "v" => Polarization::Vertical,
        other => panic!("polarization `{other}`"),
    }
}

fn predict(row: &Row, profile: &Profile) -> PathLoss {
    let profile = profile.borrow();
    let ends = PathEnds {
        tx_lat_deg: row.number("phi_t_deg"),
        tx_lon_deg: row.number("lam_t_deg"),
        rx_lat_deg: row.number("phi_r_deg"),
        rx_lon_deg: row.number("lam_r_deg"),
    };
    Model::P1812.predict(&PathInput {
        time_pct: row.number("p_pct"),
        location_pct: row.number("pl_pct"),
        sigma_loc_db: row.number("sigma_l_db"),
        polarization: polarization(row),
        tx_agl_m: row.number("htg_m"),
        rx_agl_m: row.number("hrg_m"),
        path_centre_lat_deg: path_centre_lat_deg(&ends, profile.length_km()),
        delta_n_per_km: row.number("dn"),
        n0: row.number("n0"),
        tx_coast_km: row.number("dct_km"),
        rx_coast_km: row.number("dcr_km"),
        ..PathInput::median(profile, row.number("f_ghz"))
    })
}

fn check(folder: &Path, file: &str, rows_expected: usize) {
    let mut profiles = Profiles::of(folder);
    let rows = table(&folder.join(file));
    assert_eq!(rows.len(), rows_expected, "{file}");
    let mut worst = Worst::default();
    for row in &rows {
        let case = row.text("case");
        let loss = predict(row, profiles.get(row.text("profile")));
        for term in loss.list() {
            if row.has(term.name) && !INPUT_COLUMNS.contains(&term.name) {
                worst.note(term.name, case, term.value, row.number(term.name));
            }
        }
        let is_transhorizon = row.text("path_type") == "transhorizon";
        let differs = f64::from(u8::from(is_transhorizon != loss.is_transhorizon()));
        worst.note("path_type", case, differs, 0.0);
        if row.has("lb_pub_db") {
            worst.note("lb_pub_db", case, loss.loss_db, row.number("lb_pub_db"));
        }
    }
    worst.check(file, tolerance);
}

/// Source: ITU-R P.1812-6 validation cases of ITU-R Study Group 3, all terms.
#[test]
fn ref_published_cases() {
    if let Some(folder) = shared("p1812") {
        check(&folder, "cases_published.csv", 33);
    }
}

/// Source: the public reference program of P.1812-8 (see the data's own notes), all terms.
#[test]
fn ref_generated_cases() {
    if let Some(folder) = shared("p1812") {
        check(&folder, "cases_generated.csv", 788);
    }
}

/// Source: `tests/reference/p1812/SOURCE.md`; a few of the above, kept here.
#[test]
fn ref_fixture_cases() {
    check(&fixture("p1812"), "cases.csv", 12);
}

/// Source: ITU-R P.1812-8, equations (96) and (97), by the reference program.
#[test]
fn ref_inverse_normal() {
    let Some(folder) = shared("p1812") else {
        return;
    };
    let mut worst = Worst::default();
    for row in table(&folder.join("inverse_normal_generated.csv")) {
        worst.note(
            "i_x",
            row.text("x"),
            inverse_normal(row.number("x")),
            row.number("i_x"),
        );
    }
    worst.check("inverse_normal", |_| 1e-10);
}

/// Source: ITU-R P.1812-8, equations (64) to (66), by the reference program.
#[test]
fn ref_location_variability() {
    let Some(folder) = shared("p1812") else {
        return;
    };
    let mut worst = Worst::default();
    for row in table(&folder.join("location_variability_generated.csv")) {
        let [f, wa, h, r] = ["f_ghz", "wa_m", "h_m", "r_m"].map(|c| row.number(c));
        worst.note(
            "sigma_l_db",
            &format!("{f} GHz {h} m"),
            outdoor_location_sigma_db(f, wa, h, r),
            row.number("sigma_l_db"),
        );
    }
    worst.check("location_variability", |_| 1e-10);
}

/// Synthetic profiles A to D: values printed to 4 or 5 digits after the point.
/// Source: `tests/reference/p1812/SOURCE.md`.
#[test]
fn ref_synthetic_cases() {
    let mut worst = Worst::default();
    for row in table(&fixture("p1812").join("synthetic.csv")) {
        let case = row.text("case");
        let (profile, tx_agl_m, rx_agl_m, coast) = crate::synthetic::profile(case);
        let input = PathInput {
            time_pct: row.number("p_pct"),
            polarization: polarization(&row),
            tx_agl_m,
            rx_agl_m,
            path_centre_lat_deg: row.number("phi_path_deg"),
            tx_coast_km: coast.0,
            rx_coast_km: coast.1,
            ..PathInput::median(profile.borrow(), row.number("f_ghz"))
        };
        let loss = Model::P1812.predict(&input);
        assert!(Model::P1812.warnings(&input).is_empty());
        assert!(matches!(loss.terms, Terms::P1812(_)));
        for term in loss.list() {
            if row.has(term.name) && term.name != "phi_path_deg" {
                worst.note(term.name, case, term.value, row.number(term.name));
            }
        }
    }
    // Half a unit of the last digit the source prints.
    worst.check("synthetic profiles", |_| 5.01e-5);
}
