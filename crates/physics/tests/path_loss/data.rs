//! Tables of reference cases: the shared folder and the fixtures committed here.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use physics::path_loss::{PathProfile, Zone};

/// Folder of the propagation reference data, or `None` with a plain note.
#[expect(
    clippy::disallowed_methods,
    reason = "tests find the shared data by environment"
)]
pub(crate) fn shared(topic: &str) -> Option<PathBuf> {
    let root = std::env::var("MASTWRIGHT_SHARED").map_or_else(
        |_| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared"),
        PathBuf::from,
    );
    let folder = root.join("reference/propagation").join(topic);
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: {topic}, the shared reference data is not here");
    None
}

/// Folder of the fixtures committed beside the tests.
pub(crate) fn fixture(topic: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(topic)
}

/// One row of a table: column name to text.
pub(crate) struct Row(HashMap<String, String>);

impl Row {
    pub(crate) fn text(&self, column: &str) -> &str {
        self.0
            .get(column)
            .unwrap_or_else(|| panic!("no column `{column}`"))
    }

    pub(crate) fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse()
            .unwrap_or_else(|_| panic!("`{text}` in `{column}` is not a number"))
    }

    pub(crate) fn has(&self, column: &str) -> bool {
        self.0.get(column).is_some_and(|text| !text.is_empty())
    }
}

/// All rows of a CSV table.
#[expect(clippy::disallowed_methods, reason = "tests read reference tables")]
pub(crate) fn table(path: &Path) -> Vec<Row> {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<Row> = reader
        .deserialize()
        .map(|r| Row(r.expect("a row")))
        .collect();
    assert!(!rows.is_empty(), "{} has no rows", path.display());
    rows
}

/// A profile that owns its columns.
#[derive(Debug)]
pub(crate) struct Profile {
    pub(crate) d_km: Vec<f64>,
    pub(crate) h_m: Vec<f64>,
    pub(crate) clutter_m: Vec<f64>,
    pub(crate) zone: Vec<Zone>,
}

impl Profile {
    /// The same ground seen from the other end.
    pub(crate) fn turned(&self) -> Self {
        let length_km = self.d_km[self.d_km.len() - 1];
        let back = |v: &[f64]| v.iter().rev().copied().collect::<Vec<f64>>();
        Self {
            d_km: self.d_km.iter().rev().map(|d| length_km - d).collect(),
            h_m: back(&self.h_m),
            clutter_m: back(&self.clutter_m),
            zone: self.zone.iter().rev().copied().collect(),
        }
    }

    pub(crate) fn read(path: &Path) -> Self {
        let rows = table(path);
        let column = |name| rows.iter().map(|r| r.number(name)).collect::<Vec<f64>>();
        let or_zero = |name| {
            rows.iter()
                .map(move |r| if r.has(name) { r.number(name) } else { 0.0 })
        };
        let zone = |r: &Row| match r.has("zone").then(|| r.text("zone")) {
            None | Some("inland") => Zone::Inland,
            Some("coastal") => Zone::CoastalLand,
            Some("sea") => Zone::Sea,
            Some(other) => panic!("zone `{other}`"),
        };
        Self {
            d_km: column("d_km"),
            h_m: column("h_m"),
            clutter_m: or_zero("clutter_m").collect(),
            zone: rows.iter().map(zone).collect(),
        }
    }

    pub(crate) fn borrow(&self) -> PathProfile<'_> {
        PathProfile::new(&self.d_km, &self.h_m, &self.clutter_m, &self.zone)
            .expect("a usable profile")
    }
}

/// Profiles of a folder, read once each.
pub(crate) struct Profiles {
    folder: PathBuf,
    read: HashMap<String, Profile>,
}

impl Profiles {
    pub(crate) fn of(folder: &Path) -> Self {
        Self {
            folder: folder.join("profiles"),
            read: HashMap::new(),
        }
    }

    pub(crate) fn get(&mut self, name: &str) -> &Profile {
        let path = self.folder.join(format!("{name}.csv"));
        self.read
            .entry(name.to_owned())
            .or_insert_with(|| Profile::read(&path))
    }
}

/// Greatest difference per column, and where it stood.
#[derive(Default)]
pub(crate) struct Worst(BTreeMap<String, (f64, String, usize)>);

impl Worst {
    /// Notes one comparison; a difference that is not a number is infinite.
    pub(crate) fn note(&mut self, column: &str, case: &str, got: f64, expected: f64) {
        let difference = (got - expected).abs();
        let difference = if difference.is_nan() {
            f64::INFINITY
        } else {
            difference
        };
        let worst = self
            .0
            .entry(column.to_owned())
            .or_insert((-1.0, String::new(), 0));
        worst.2 += 1;
        if difference > worst.0 {
            (worst.0, worst.1) = (difference, case.to_owned());
        }
    }

    /// Prints the worst of each column and fails where one exceeds `tolerance(column)`.
    pub(crate) fn check(&self, title: &str, tolerance: impl Fn(&str) -> f64) {
        assert!(!self.0.is_empty(), "{title}: nothing compared");
        println!("{title}: greatest difference per column");
        for (column, (difference, case, count)) in &self.0 {
            println!("  {column:<16} {difference:9.2e}  of {count} at {case}");
        }
        for (column, (difference, case, _)) in &self.0 {
            let allowed = tolerance(column);
            assert!(
                *difference <= allowed,
                "{title}: `{column}` of {case} differs by {difference}, allowed {allowed}"
            );
        }
    }
}
