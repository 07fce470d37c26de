//! Digital maps of climate that the design names: rows of numbers as text.

use std::collections::BTreeMap;
use std::sync::Arc;

use model::{Finding, Severity, TextPlace};
use pipeline::design::{ClimateGrid, SourceText, climate_map_files};

use super::{Reader, file_place};

/// Largest map: the finest published one has about 60 MB.
const LARGEST_MAP_BYTES: u64 = 120 << 20;
/// Letters of a mistake that are shown.
const MOST_SHOWN: usize = 40;

/// Reads every climate map that the design names and that is there, in the folder or outside.
pub(super) fn read(
    design: Option<&SourceText>,
    reader: &mut Reader<'_>,
) -> BTreeMap<String, Option<Arc<ClimateGrid>>> {
    let mut maps = BTreeMap::new();
    for path in design.map_or(Vec::new(), climate_map_files) {
        let on_disk = reader.folder.join(&path);
        if !on_disk.metadata().is_ok_and(|data| data.is_file()) {
            continue;
        }
        let grid = reader.bytes(&path, LARGEST_MAP_BYTES).and_then(|bytes| {
            grid(&bytes)
                .map_err(|mistake| reader.findings.push(mistake.finding(&path)))
                .ok()
        });
        maps.insert(path, grid.map(Arc::new));
    }
    maps
}

/// What is wrong with a map, and in which line; 0 for the whole.
struct Mistake {
    line: usize,
    text: String,
    message: String,
}

impl Mistake {
    fn finding(self, file: &str) -> Finding {
        Finding::new(Severity::Error, "climate-map", self.message)
            .at(TextPlace {
                line: self.line,
                text: self.text,
                ..file_place(file)
            })
            .hint("a map is rows of numbers, separated by blanks or commas, with as many numbers in each row; use the file as it was published")
    }
}

/// The numbers of a map's text.
fn grid(bytes: &[u8]) -> Result<ClimateGrid, Mistake> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut values: Vec<f64> = Vec::new();
    let mut columns = 0;
    for (index, line) in bytes.split(|b| *b == b'\n').enumerate() {
        let before = values.len();
        let numbers = line
            .split(|b| b.is_ascii_whitespace() || *b == b',')
            .filter(|number| !number.is_empty());
        for written in numbers {
            values.push(number(written).ok_or_else(|| Mistake {
                line: index + 1,
                text: shown(written),
                message: format!("`{}` is not a number", shown(written)),
            })?);
        }
        let found = values.len() - before;
        if columns == 0 {
            columns = found;
        }
        if found != 0 && found != columns {
            return Err(Mistake {
                line: index + 1,
                text: shown(line),
                message: format!("a row of `{found}` numbers where the first has `{columns}`"),
            });
        }
    }
    let rows = values.len().checked_div(columns).unwrap_or(0);
    ClimateGrid::new(columns, values).ok_or_else(|| Mistake {
        line: 0,
        text: String::new(),
        message: format!("`{rows}` rows of `{columns}` numbers are no map"),
    })
}

fn number(written: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(written).ok()?;
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

fn shown(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes)
        .trim()
        .chars()
        .filter(|c| !c.is_control())
        .take(MOST_SHOWN)
        .collect()
}
