//! How much ground, how many premises and how many people lie in each class.

use geodesy::{LonLat, inverse};
use raster::{CellXy, Georeference};
use serde::Serialize;

use super::CoverageError;
use super::quantity::Quantity;
use super::rows::{CellRows, Downward, containing};
use crate::format;
use crate::handout::OutputError;

/// A place where somebody lives or works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Occupied {
    /// Where.
    pub position: LonLat,
    /// How many people; `None` where nobody has counted.
    pub people: Option<f64>,
}

/// One class, or what has no class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassStatistics {
    /// What a person reads, without the unit.
    pub label: String,
    /// Least value that belongs to it; for names the code.
    pub from_value: Option<f64>,
    /// Least value that no longer does; for names the code.
    pub to_value: Option<f64>,
    /// Cells of the grid.
    pub cells: usize,
    /// Area on the ellipsoid.
    pub area_km2: f64,
    /// Share of the area that has a class.
    pub area_frac: f64,
    /// Premises in these cells.
    pub premises: usize,
    /// People there; `None` where no premises has a count.
    pub people: Option<f64>,
    /// Area of this class and all better ones; `None` without an order.
    pub area_or_better_km2: Option<f64>,
    /// Premises of this class and all better ones.
    pub premises_or_better: Option<usize>,
    /// People of this class and all better ones.
    pub people_or_better: Option<f64>,
}

/// The figures of a grid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoverageStatistics {
    /// Name of the quantity, with its unit.
    pub quantity: &'static str,
    /// What a person reads.
    pub title: String,
    /// Unit of the values.
    pub unit: &'static str,
    /// Unit of the labels.
    pub label_unit: &'static str,
    /// The best class first.
    pub classes: Vec<ClassStatistics>,
    /// Cells without data, and premises in them or outside the grid.
    pub unknown: ClassStatistics,
    /// Area that has a class.
    pub area_km2: f64,
    /// Premises in all.
    pub premises: usize,
    /// Premises without a count of people; they count as nobody.
    pub premises_without_people: usize,
    /// People in all.
    pub people: Option<f64>,
    /// True area of a cell over its area on the map, at least. In UTM the
    /// map's scale is 0.9996 on the central meridian, so that this is 1.0008
    /// there and 0.998 at the edge of a zone on the equator.
    pub area_factor_least: f64,
    /// The same, at most.
    pub area_factor_greatest: f64,
}

/// Counts cells, ground, premises and people by class. A premises belongs to
/// the class of the cell that it lies in.
pub fn statistics(
    grid: &dyn CellRows,
    quantity: &Quantity,
    occupied: &[Occupied],
) -> Result<CoverageStatistics, CoverageError> {
    let count = quantity.classes.len();
    // The last one is unknown.
    let mut tallies = vec![Tally::default(); count + 1];
    let areas = CellAreas::new(grid)?;
    let mut places = Places::new(grid, occupied);
    let mut down = Downward::new(grid);
    for row in 0..grid.height() {
        let cells = down.row(row)?;
        for (col, value) in cells.iter().enumerate() {
            let tally = &mut tallies[quantity.class_of(*value).unwrap_or(count)];
            tally.cells += 1;
            tally.area_m2 += areas.of_cell_m2(col, row);
        }
        places.note(row, cells);
    }
    for (place, value) in occupied.iter().zip(&places.values) {
        let tally = &mut tallies[quantity.class_of(*value).unwrap_or(count)];
        tally.premises += 1;
        tally.people += place.people.unwrap_or(0.0);
    }
    let (least, greatest) = areas.factors(grid);
    let counted = occupied.iter().filter(|p| p.people.is_some()).count();
    let has_people = counted > 0;
    let known = tallies[..count].iter().fold(Tally::default(), Tally::plus);
    let row = |tally: &Tally| tally.row(known.area_m2, has_people);
    Ok(CoverageStatistics {
        quantity: quantity.name,
        title: quantity.title.clone(),
        unit: quantity.unit,
        label_unit: quantity.shown_unit(),
        classes: rows(quantity, &tallies, row),
        unknown: ClassStatistics {
            label: "no data".to_owned(),
            area_frac: 0.0,
            ..row(&tallies[count])
        },
        area_km2: known.area_m2 / 1e6,
        premises: occupied.len(),
        premises_without_people: occupied.len() - counted,
        people: has_people.then_some(known.people + tallies[count].people),
        area_factor_least: least,
        area_factor_greatest: greatest,
    })
}

/// Values of the cells that places lie in, noted row by row.
struct Places {
    /// Row, column and place, from the last row to the first.
    left: Vec<(usize, usize, usize)>,
    /// By place; NaN outside.
    values: Vec<f32>,
}

impl Places {
    fn new(grid: &dyn CellRows, occupied: &[Occupied]) -> Self {
        let cell = |place: &Occupied| {
            let at = grid.georeference().to_cell(place.position).ok()?;
            containing(grid, at)
        };
        let places = occupied.iter().enumerate();
        let places = places.filter_map(|(i, place)| cell(place).map(|c| (c.row, c.col, i)));
        let mut left: Vec<_> = places.collect();
        left.sort_unstable_by(|a, b| b.cmp(a));
        Self {
            left,
            values: vec![f32::NAN; occupied.len()],
        }
    }

    fn note(&mut self, row: usize, cells: &[f32]) {
        while let Some((_, col, place)) = self.left.pop_if(|(first, ..)| *first == row) {
            self.values[place] = cells[col];
        }
    }
}

fn rows(
    quantity: &Quantity,
    tallies: &[Tally],
    row: impl Fn(&Tally) -> ClassStatistics,
) -> Vec<ClassStatistics> {
    let mut sum = Tally::default();
    let best_first = quantity.best_first().into_iter();
    best_first
        .map(|class| {
            let described = &quantity.classes[class];
            sum = sum.plus(&tallies[class]);
            let or_better = quantity.better.map(|_| row(&sum));
            let or_better = or_better.as_ref();
            ClassStatistics {
                label: described.label.clone(),
                from_value: described.from,
                to_value: described.to,
                area_or_better_km2: or_better.map(|b| b.area_km2),
                premises_or_better: or_better.map(|b| b.premises),
                people_or_better: or_better.and_then(|b| b.people),
                ..row(&tallies[class])
            }
        })
        .collect()
}

#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    cells: usize,
    area_m2: f64,
    premises: usize,
    people: f64,
}

impl Tally {
    fn plus(self, other: &Self) -> Self {
        Self {
            cells: self.cells + other.cells,
            area_m2: self.area_m2 + other.area_m2,
            premises: self.premises + other.premises,
            people: self.people + other.people,
        }
    }

    fn row(&self, known_m2: f64, has_people: bool) -> ClassStatistics {
        ClassStatistics {
            label: String::new(),
            from_value: None,
            to_value: None,
            cells: self.cells,
            area_km2: self.area_m2 / 1e6,
            area_frac: if known_m2 > 0.0 {
                self.area_m2 / known_m2
            } else {
                0.0
            },
            premises: self.premises,
            people: has_people.then_some(self.people),
            area_or_better_km2: None,
            premises_or_better: None,
            people_or_better: None,
        }
    }
}

/// Areas of cells on the ellipsoid: measured at nodes, linear between them.
struct CellAreas {
    columns: usize,
    nodes_m2: Vec<f64>,
}

/// Cells between two nodes. The scale of a map changes so slowly that over 16
/// cells the straight line between nodes is 1e-8 off in UTM with cells of 100
/// m, and 1e-6 off in degrees with cells of a hundredth.
const NODE_CELLS: usize = 16;

impl CellAreas {
    fn new(grid: &dyn CellRows) -> Result<Self, CoverageError> {
        let columns = grid.width() / NODE_CELLS + 2;
        let rows = grid.height() / NODE_CELLS + 2;
        let mut nodes_m2 = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for col in 0..columns {
                let (col, row) = ((col * NODE_CELLS) as f64, (row * NODE_CELLS) as f64);
                let beyond = measured_m2(grid.georeference(), CellXy { col, row });
                // Where there is no place beyond the border, the border's own.
                let border = CellXy {
                    col: col.min(grid.width() as f64),
                    row: row.min(grid.height() as f64),
                };
                nodes_m2.push(beyond.or_else(|_| measured_m2(grid.georeference(), border))?);
            }
        }
        Ok(Self { columns, nodes_m2 })
    }

    fn of_cell_m2(&self, col: usize, row: usize) -> f64 {
        let (left, top) = (col / NODE_CELLS, row / NODE_CELLS);
        let share = |i: usize| ((i % NODE_CELLS) as f64 + 0.5) / NODE_CELLS as f64;
        let node = |c: usize, r: usize| self.nodes_m2[r * self.columns + c];
        let along = |r: usize| node(left, r) + (node(left + 1, r) - node(left, r)) * share(col);
        along(top) + (along(top + 1) - along(top)) * share(row)
    }

    /// Least and greatest true area over area on the map. For a grid in
    /// degrees the map has no area to compare with: 1 and 1 there.
    fn factors(&self, grid: &dyn CellRows) -> (f64, f64) {
        let crs = grid.georeference().crs();
        if crs.is_geographic() {
            return (1.0, 1.0);
        }
        let [x_col, x_row, y_col, y_row] = grid.georeference().affine().steps();
        let unit_m = crs.metres_per_unit().unwrap_or(1.0);
        let map_m2 = (x_col * y_row - x_row * y_col).abs() * unit_m * unit_m;
        let some = |count: usize| (0..count).step_by(NODE_CELLS).chain([count - 1]);
        let cells = some(grid.height()).flat_map(|r| some(grid.width()).map(move |c| (c, r)));
        let factors = cells.map(|(col, row)| self.of_cell_m2(col, row) / map_m2);
        factors.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), f| {
            (low.min(f), high.max(f))
        })
    }
}

/// The area of a cell around a position, from the diagonals of the diamond
/// whose corners lie half a cell away: half their product times the sine
/// between them is half a cell.
fn measured_m2(georeference: &Georeference, at: CellXy) -> Result<f64, CoverageError> {
    let near = |d_col: f64, d_row: f64| {
        georeference.to_lonlat(CellXy {
            col: at.col + d_col,
            row: at.row + d_row,
        })
    };
    let along = inverse(near(-0.5, 0.0)?, near(0.5, 0.0)?);
    let down = inverse(near(0.0, -0.5)?, near(0.0, 0.5)?);
    let between_rad = (down.azimuth_deg - along.azimuth_deg).to_radians();
    Ok(along.distance_m * down.distance_m * between_rad.sin().abs())
}

impl CoverageStatistics {
    /// The figures as JSON.
    pub fn json(&self) -> Result<String, CoverageError> {
        let mut text = serde_json::to_string_pretty(self).map_err(OutputError::Json)?;
        text.push('\n');
        Ok(text)
    }

    /// The classes as a table, what is unknown last.
    pub fn csv(&self) -> Result<Vec<u8>, CoverageError> {
        let mut table = csv::Writer::from_writer(Vec::new());
        for class in self.classes.iter().chain([&self.unknown]) {
            table.serialize(class).map_err(OutputError::Table)?;
        }
        let bytes = table
            .into_inner()
            .map_err(|e| OutputError::Xml(e.into_error()))?;
        Ok(bytes)
    }

    /// The figures for a terminal.
    pub fn text(&self) -> String {
        let unit = match self.label_unit {
            "" => String::new(),
            unit => format!(", {unit}"),
        };
        let mut lines = vec![format!("{}{unit}", self.title)];
        let mut table = vec![self.heads()];
        table.extend(self.classes.iter().map(|c| self.line(c)));
        table.push(self.line(&self.unknown));
        lines.extend(aligned(&table));
        if self.premises_without_people > 0 && self.people.is_some() {
            lines.push(format!(
                "{} without a count of people",
                format::count_of(self.premises_without_people, "premises is", "premises are")
            ));
        }
        lines.join("\n") + "\n"
    }

    fn heads(&self) -> Vec<String> {
        let mut heads = vec!["", "km²", "% of area"];
        if self.is_ordered() {
            heads.push("this or better");
        }
        if self.premises > 0 {
            heads.push("premises");
            if self.is_ordered() {
                heads.push("this or better");
            }
        }
        if self.people.is_some() {
            heads.push("people");
            if self.is_ordered() {
                heads.push("this or better");
            }
        }
        heads.into_iter().map(str::to_owned).collect()
    }

    fn line(&self, class: &ClassStatistics) -> Vec<String> {
        let is_unknown = std::ptr::eq(class, &self.unknown);
        let share = |share: f64| {
            if is_unknown {
                String::new()
            } else {
                format::number(100.0 * share, 1)
            }
        };
        let count = |n: Option<usize>| n.map_or(String::new(), format::count);
        let mut line = vec![
            class.label.clone(),
            format::number(class.area_km2, 1),
            share(class.area_frac),
        ];
        if self.is_ordered() {
            let or_better = class
                .area_or_better_km2
                .map(|a| a / self.area_km2.max(1e-9));
            line.push(or_better.map_or(String::new(), |a| share(a) + " %"));
        }
        if self.premises > 0 {
            line.push(format::count(class.premises));
            if self.is_ordered() {
                line.push(count(class.premises_or_better));
            }
        }
        if self.people.is_some() {
            line.push(format::number(class.people.unwrap_or(0.0), 0));
            if self.is_ordered() {
                let or_better = class.people_or_better.map(|p| format::number(p, 0));
                line.push(or_better.unwrap_or_default());
            }
        }
        line
    }

    fn is_ordered(&self) -> bool {
        self.classes.iter().any(|c| c.premises_or_better.is_some())
    }
}

/// Columns as wide as their widest cell, the first to the left.
fn aligned(table: &[Vec<String>]) -> Vec<String> {
    let columns = table.first().map_or(0, Vec::len);
    let width = |i: usize| {
        table
            .iter()
            .map(|r| r[i].chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |row: &Vec<String>| {
        let cells = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(i, (cell, width))| {
                if i == 0 {
                    format!("  {cell:<width$}")
                } else {
                    format!("  {cell:>width$}")
                }
            });
        cells.collect::<String>().trim_end().to_owned()
    };
    table.iter().map(line).collect()
}
