//! What is the same for every path, as the program reads it.

use physics::clutter;
use physics::diffraction::Ground as Soil;
use physics::free_space;
use physics::inverse_normal::inverse_normal;
use physics::levels::ratio_to_db;
use physics::path_loss::{Zone, p1812};
use physics::refractivity::{EARTH_RADIUS_KM, effective_radius_km};
use sweep::Conditions;
use sweep::tables::{Fit, NODES, OwnBearingTables, RAY_TERMS};

use crate::pieces::Piece;

/// One word of the program's `Request`.
#[derive(Debug, Clone, Copy)]
enum Word {
    Whole(u32),
    Real(f64),
}
use Word::{Real, Whole};

/// `Request` of the program, word by word.
pub(crate) struct Constants(Vec<(&'static str, Word)>);

impl Constants {
    /// * `elevation`, `cover`: the pieces of the rasters that are uploaded.
    pub(crate) fn new(
        (tables, conditions): (&OwnBearingTables<'_>, &Conditions),
        mast_lat_deg: f64,
        [elevation, cover]: [&Piece; 2],
    ) -> Self {
        let mut words = cells_and_rasters(tables, [elevation, cover]);
        words.extend(heights(tables, conditions));
        words.extend(carrier_and_time(conditions));
        words.extend(place_and_spread(conditions, mast_lat_deg));
        words.push(("mast_zone", Whole(zone_code(tables.mast_zone))));
        Self(words)
    }

    pub(crate) fn bytes(&self) -> Vec<u8> {
        let word = |word: &Word| match word {
            Whole(n) => n.to_le_bytes(),
            Real(x) => (*x as f32).to_le_bytes(),
        };
        self.0.iter().flat_map(|(_, w)| word(w)).collect()
    }
}

/// The last two bits of a cell of land cover.
pub(crate) fn zone_code(zone: Zone) -> u32 {
    match zone {
        Zone::Inland => 0,
        Zone::CoastalLand => 1,
        Zone::Sea => 2,
    }
}

type Words = Vec<(&'static str, Word)>;

fn cells_and_rasters(tables: &OwnBearingTables<'_>, [elevation, cover]: [&Piece; 2]) -> Words {
    // Cells of the finer raster by step, at most: what x·hi may amount to.
    let samples = (tables.radius_km / tables.step_km).ceil() + 1.0;
    let per_step = elevation.cells_per_km.max(cover.cells_per_km) * tables.step_km;
    // The exact part of a step has places left so that its products with
    // samples fit into the 24 of single precision.
    let places = 23.0 - (samples * per_step.max(1.0)).log2().ceil();
    let split = places.clamp(0.0, 23.0).exp2();
    vec![
        ("first_column", Whole(tables.columns.start as u32)),
        ("columns", Whole(tables.columns.len() as u32)),
        ("first_row", Whole(tables.rows.start as u32)),
        ("least_steps", Whole(sweep::tables::LEAST_STEPS as u32)),
        ("elevation_column", Real((elevation.mast[0] - 0.5).floor())),
        ("elevation_row", Real((elevation.mast[1] - 0.5).floor())),
        ("cover_column", Real(cover.mast[0].floor())),
        ("cover_row", Real(cover.mast[1].floor())),
        ("per_width", Real(1.0 / elevation.width as f64)),
        ("per_height", Real(1.0 / elevation.height as f64)),
        ("cover_width", Whole(cover.width as u32)),
        ("cover_height", Whole(cover.height as u32)),
        ("split", Real(split)),
        ("split_inverse", Real(1.0 / split)),
    ]
}

fn heights(tables: &OwnBearingTables<'_>, conditions: &Conditions) -> Words {
    let hts = tables.mast_ground_amsl_m + conditions.mast_agl_m;
    let nearest = f64::from(hts as f32);
    vec![
        ("mast_amsl", Real(nearest)),
        ("mast_amsl_rest", Real(hts - nearest)),
        ("receiver_agl", Real(conditions.receiver_agl_m)),
        ("mast_ground", Real(-conditions.mast_agl_m)),
    ]
}

fn carrier_and_time(conditions: &Conditions) -> Words {
    let f_ghz = conditions.frequency_mhz / 1e3;
    let lambda_m = p1812::wavelength_m(f_ghz);
    let radius_km = effective_radius_km(conditions.refractivity_lapse_n_per_km);
    let radius_beta_km = 3.0 * EARTH_RADIUS_KM;
    let root_f = f_ghz.cbrt();
    let carrier_db = ratio_to_db(f_ghz);
    let half_db = ratio_to_db(0.5 * f_ghz);
    let lf_db = 2.5 * carrier_db - 0.025 * half_db * half_db; // (45)
    let rarity = (0.1 * ratio_to_db(50.0 / conditions.time_pct)).max(0.0);
    let scatter_db =
        190.1 + lf_db - 0.15 * conditions.surface_refractivity_n - 10.125 * rarity.powf(0.7);
    let alf_db = if f_ghz < 0.5 {
        45.375 - 137.0 * f_ghz + 92.5 * f_ghz * f_ghz
    } else {
        0.0
    }; // (47a)
    let admittance = |soil: Soil| soil.admittance(conditions.polarization, f_ghz, 1.0);
    vec![
        ("bulge", Real(500.0 / radius_km)),
        ("bulge_beta", Real(500.0 / radius_beta_km)),
        ("radius", Real(radius_km)),
        ("radius_beta", Real(radius_beta_km)),
        ("f_ghz", Real(f_ghz)),
        ("lambda", Real(lambda_m)),
        ("free_space_db", Real(92.4 + 2.0 * carrier_db)),
        ("scatter_db", Real(scatter_db)),
        ("duct_db", Real(102.45 + 2.0 * carrier_db + alf_db)),
        ("gamma_d", Real(5e-5 * radius_km * root_f)),
        ("root_f", Real(root_f)),
        ("time_pct", Real(conditions.time_pct)),
        ("log_time", Real(0.1 * ratio_to_db(conditions.time_pct))),
        (
            "deviation",
            Real(inverse_normal(conditions.time_pct / 100.0)),
        ),
        ("admittance_land", Real(admittance(Soil::LAND))),
        ("admittance_sea", Real(admittance(Soil::SEA))),
    ]
}

fn place_and_spread(conditions: &Conditions, mast_lat_deg: f64) -> Words {
    let f_ghz = conditions.frequency_mhz / 1e3;
    // Half the path as an angle on the sphere, by kilometre of path.
    let half_rad = 0.5 / EARTH_RADIUS_KM;
    let tan = mast_lat_deg.clamp(-89.0, 89.0).to_radians().tan();
    let spread_db = clutter::location_sigma_db(f_ghz, conditions.location_area_m);
    vec![
        ("latitude", Real(mast_lat_deg)),
        ("half_km_deg", Real(half_rad.to_degrees())),
        (
            "bend_deg",
            Real((0.5 * half_rad * half_rad * tan).to_degrees()),
        ),
        ("sigma_db", Real(spread_db)),
        (
            "per_zone",
            Real(1.0 / (1e3 * free_space::wavelength_m(f_ghz))),
        ),
    ]
}

/// `fixed` of the program.
pub(crate) fn fixed(tables: &OwnBearingTables<'_>, [elevation, cover]: [&Piece; 2]) -> Vec<f64> {
    let of_elevation = &tables.elevation.from_azimuthal;
    let of_cover = tables.cover.as_ref().map(|(c, _)| &c.from_azimuthal);
    let of_cover = of_cover.unwrap_or(of_elevation);
    let mut all = vec![
        tables.radius_km,
        tables.step_km,
        of_elevation.per_unit[0],
        tables.to_azimuthal.centre[0],
        tables.to_azimuthal.per_unit[0],
        sweep::tables::SAME_PLACE_KM,
        of_cover.per_unit[0],
        0.0,
    ];
    for (fit, piece) in [(of_elevation, elevation), (of_cover, cover)] {
        for (axis, terms) in fit.terms.iter().enumerate() {
            for n in 0..RAY_TERMS {
                all.extend((0..=n).map(|i| terms[i][n - i]));
                if n == 0 {
                    // Counted from the edge of the piece.
                    if let Some(start) = all.last_mut() {
                        *start -= piece.first[axis] as f64;
                    }
                }
            }
        }
    }
    all
}

/// `by_row` of the program: the polynomials of one row of cells.
pub(crate) fn row_terms(
    tables: &OwnBearingTables<'_>,
    row: usize,
    pieces: [&Piece; 2],
) -> Vec<f64> {
    let at = row as f64 + 0.5;
    let mut all: Vec<f64> = Vec::with_capacity(6 * NODES);
    all.extend(tables.to_azimuthal.along_first(at).as_flattened());
    let [elevation, cover] = pieces;
    let mut to_cells = |fit: &Fit, piece: &Piece| {
        for (terms, first) in fit.along_first(at).iter().zip(piece.first) {
            all.push(terms[0] - first as f64);
            all.extend(&terms[1..]);
        }
    };
    to_cells(&tables.elevation.from_target, elevation);
    if let Some((of_cover, _)) = &tables.cover
        && cover.is_own_lattice
    {
        to_cells(&of_cover.from_target, cover);
    }
    all
}

#[cfg(test)]
mod tests {
    /// The program reads its words in the order in which they are written here.
    #[test]
    fn exact_words_are_those_of_the_program() {
        let here = include_str!("constants.rs");
        let here = &here[..here.find("/// `fixed` of the program.").unwrap()];
        let is_name = |text: &str| text.chars().all(|c| c.is_ascii_lowercase() || c == '_');
        let quoted = here.split('"').skip(1).step_by(2);
        let written: Vec<&str> = quoted.filter(|text| is_name(text)).collect();
        let program = include_str!("own_bearing.wgsl");
        let request = program.split("struct Request {").nth(1).unwrap();
        let request = request.split('}').next().unwrap();
        let code = request.lines().map(|line| line.split("//").next().unwrap());
        let read: Vec<&str> = code
            .filter_map(|line| Some(line.split_once(':')?.0.trim()))
            .collect();
        // `mast_zone` is pushed last and stands first in the text.
        let mut written = written;
        let zone = written.remove(0);
        written.push(zone);
        assert_eq!(zone, "mast_zone");
        assert_eq!(read, written);
    }

    /// The floor under ducting takes the variability in time (53) to grow with
    /// the rarity of ducting.
    #[test]
    fn exact_variability_in_time_falls_with_beta() {
        let ap_db = |log_beta: f64, dt: f64, log_p: f64| {
            let lb = log_beta;
            let gamma = 1.076 / (2.0058 - lb).powf(1.012)
                * (-(9.51 - 4.8 * lb + 0.198 * lb * lb) * 1e-6 * dt.powf(1.13)).exp();
            let x = log_p - lb;
            (1.2 + 3.7e-3 * dt) * x
                + 12.0 * (gamma * x * std::f64::consts::LN_2 * std::f64::consts::LOG2_10).exp()
        };
        for dt in [0.3, 5.0, 20.0, 50.0, 100.0, 200.0] {
            for log_p in [0.0, 1.0, 1.698_97] {
                let mut before = f64::NEG_INFINITY;
                for i in 0..6_000 {
                    let log_beta = 1.67 - 0.05 * f64::from(i);
                    let now = ap_db(log_beta, dt, log_p);
                    assert!(
                        now >= before - 1e-9,
                        "{dt} km, p 10^{log_p}, β 10^{log_beta}"
                    );
                    before = now;
                }
            }
        }
    }
}
