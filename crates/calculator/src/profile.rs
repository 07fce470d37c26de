//! Terrain profiles as text, and where they come from.

use physics::path_loss::{PathProfile, Zone};

use crate::problem::{
    Fault, MAX_PROFILE_POINTS, MAX_TEXT_BYTES, Place, Problem, Problems, Unavailable, shortened,
};
use crate::table::{Row, Table, number};

/// Gives the CSV text of a profile by name. A closure will do.
///
/// Columns: `d_km` from the transmitter and `h_m` above mean sea level; where
/// present, `clutter_m` above ground and `zone` (`inland`, `coastal`, `sea`);
/// without them there is no clutter and all is inland. A model that takes
/// heights at equal steps reads the column `h_m` alone.
pub trait ProfileSource {
    /// Text of the profile `name`, a plain name without folders.
    ///
    /// # Errors
    /// [`Unavailable`] where there is none.
    fn profile(&mut self, name: &str) -> Result<String, Unavailable>;
}

impl<F: FnMut(&str) -> Result<String, Unavailable>> ProfileSource for F {
    fn profile(&mut self, name: &str) -> Result<String, Unavailable> {
        self(name)
    }
}

/// A profile with its own columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// Distance from the transmitter. \[km\]
    pub d_km: Vec<f64>,
    /// Ground above mean sea level. \[m\]
    pub h_m: Vec<f64>,
    /// Clutter above ground. \[m\]
    pub clutter_m: Vec<f64>,
    /// Radio-climatic zones.
    pub zone: Vec<Zone>,
}

/// What a profile text was read as.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Ground {
    /// Distances, heights, clutter and zones.
    Profile(Profile),
    /// Heights at equal steps above mean sea level. \[m\]
    Heights(Vec<f64>),
}

/// Words of the column `zone`.
const ZONES: &[&str] = &["inland", "coastal", "sea"];

impl Profile {
    /// Reads the CSV text of a profile.
    ///
    /// # Errors
    /// Every problem of the text.
    pub fn read(name: &str, text: &str) -> Result<Self, Problems> {
        let (place, table) = table_of(name, text)?;
        let mut problems = Vec::new();
        let mut needed = |name, meaning| {
            numbers(&table, name, &mut problems).unwrap_or_else(|| {
                problems.push(missing(&place, name, meaning));
                Vec::new()
            })
        };
        let d_km = needed("d_km", "distance from the transmitter");
        let h_m = needed("h_m", "ground above mean sea level");
        let clutter_m = numbers(&table, "clutter_m", &mut problems)
            .unwrap_or_else(|| vec![0.0; table.rows.len()]);
        let zone = zones(&table, &mut problems);
        Problems::none_of(problems)?;
        let profile = Self {
            d_km,
            h_m,
            clutter_m,
            zone,
        };
        match profile.borrow() {
            Ok(_) => Ok(profile),
            Err(error) => Err(problem(&place, Fault::BadProfile(error)).into()),
        }
    }

    /// The profile as the path models take it.
    ///
    /// # Errors
    /// As [`PathProfile::new`]; never after [`Self::read`].
    pub fn borrow(&self) -> Result<PathProfile<'_>, physics::path_loss::ProfileError> {
        PathProfile::new(&self.d_km, &self.h_m, &self.clutter_m, &self.zone)
    }
}

/// Reads the column `h_m` of a profile whose heights stand at equal steps.
///
/// # Errors
/// Every problem of the text.
pub(crate) fn read_heights(name: &str, text: &str) -> Result<Vec<f64>, Problems> {
    let (place, table) = table_of(name, text)?;
    let mut problems = Vec::new();
    let Some(h_m) = numbers(&table, "h_m", &mut problems) else {
        return Err(missing(&place, "h_m", "ground above mean sea level").into());
    };
    Problems::none_of(problems)?;
    // Distances of one step and no clutter pass; what is left to refuse is
    // too few heights and a height too large.
    let d_km: Vec<f64> = (0u32..).take(h_m.len()).map(f64::from).collect();
    let (none, inland) = (vec![0.0; h_m.len()], vec![Zone::Inland; h_m.len()]);
    match PathProfile::new(&d_km, &h_m, &none, &inland) {
        Ok(_) => Ok(h_m),
        Err(error) => Err(problem(&place, Fault::BadProfile(error)).into()),
    }
}

/// The table in a profile text, of a size that can be handled.
fn table_of(name: &str, text: &str) -> Result<(Place, Table), Problems> {
    let place = Place::Profile(name.to_owned());
    if text.len() > MAX_TEXT_BYTES {
        return Err(problem(&place, Fault::TooLarge).into());
    }
    let table = Table::read(&place, text)?;
    if table.rows.len() > MAX_PROFILE_POINTS {
        return Err(problem(&place, Fault::TooManyPoints).into());
    }
    Ok((place, table))
}

/// The numbers of a column, 0 where a problem was told; `None` without the column.
fn numbers(table: &Table, name: &str, problems: &mut Vec<Problem>) -> Option<Vec<f64>> {
    let index = table.column(name)?;
    let cells = table.rows.iter().map(|row| {
        number(table, row, index).unwrap_or_else(|p| {
            problems.push(p);
            0.0
        })
    });
    Some(cells.collect())
}

fn missing(place: &Place, column: &str, meaning: &'static str) -> Problem {
    Problem {
        column: column.to_owned(),
        ..problem(place, Fault::MissingColumn { meaning })
    }
}

fn problem(place: &Place, fault: Fault) -> Problem {
    Problem {
        place: place.clone(),
        line: 0,
        column: String::new(),
        text: String::new(),
        fault,
    }
}

fn zones(table: &Table, problems: &mut Vec<Problem>) -> Vec<Zone> {
    let Some(index) = table.column("zone") else {
        return vec![Zone::Inland; table.rows.len()];
    };
    let mut zone = |row: &Row| match row.cells.get(index).unwrap_or("") {
        "inland" => Zone::Inland,
        "coastal" => Zone::CoastalLand,
        "sea" => Zone::Sea,
        other => {
            problems.push(table.problem(row, index, Fault::NotOneOf(ZONES), &shortened(other)));
            Zone::Inland
        }
    };
    table.rows.iter().map(&mut zone).collect()
}

/// True for a name that cannot lead out of a folder.
pub(crate) fn is_plain_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 200
        && !name.starts_with('.')
        && name
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | '.'))
}
