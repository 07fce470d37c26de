//! A cross-section drawn with characters, for a terminal.

use engine::explain::PathReport;

use crate::format;
use crate::handout::TextStyle;
use crate::section::{self, Point};

/// Rows of the drawing.
const ROWS: usize = 16;
/// Columns of the height labels.
const GUTTER: usize = 8;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ink {
    None,
    Ground,
    Clutter,
    Zone,
    Ray,
    End,
    Obstacle,
}

impl Ink {
    /// ANSI colour.
    fn code(self) -> &'static str {
        match self {
            Ink::None => "",
            Ink::Ground => "33",
            Ink::Clutter => "32",
            Ink::Zone => "34",
            Ink::Ray => "36",
            Ink::End => "1",
            Ink::Obstacle => "1;31",
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Glyph {
    letter: char,
    ink: Ink,
}

/// The letters of a drawing.
struct Letters {
    full: char,
    /// Cells filled from below, an eighth more each.
    partial: &'static [char],
    clutter: char,
    zone: char,
    ray: char,
    end: char,
    obstacle: char,
    axis: char,
    floor: char,
    corner: char,
}

const UNICODE: Letters = Letters {
    full: '█',
    partial: &['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'],
    clutter: '▒',
    zone: '·',
    ray: '─',
    end: '◉',
    obstacle: '▲',
    axis: '│',
    floor: '─',
    corner: '└',
};

const ASCII: Letters = Letters {
    full: '#',
    partial: &['_', '#'],
    clutter: '%',
    zone: '.',
    ray: '-',
    end: 'o',
    obstacle: '^',
    axis: '|',
    floor: '-',
    corner: '+',
};

/// The cross-section of a path as lines of text, at most `style.width` wide
/// (never narrower than 40 columns).
pub fn cross_section_text(report: &PathReport, style: &TextStyle) -> String {
    let letters = if style.ascii { &ASCII } else { &UNICODE };
    let columns = style.width.clamp(40, 240) - GUTTER - 1;
    let points = section::points(&report.section, columns);
    let mut text = heading(report, style);
    if points.len() < 2 {
        return text;
    }
    let canvas = Canvas::draw(report, &points, columns, letters);
    for row in 0..ROWS {
        text.push_str(&canvas.label(row));
        text.push(letters.axis);
        push_row(&mut text, &canvas.cells[row], style.colour);
        text.push('\n');
    }
    text.push_str(&floor(canvas.length_m, columns, letters));
    text.push_str(&key(letters));
    if let Some(what) = section::set_aside(report) {
        text.push_str(&format!("not drawn: {what}\n"));
    }
    if style.ascii { ascii(&text) } else { text }
}

fn heading(report: &PathReport, style: &TextStyle) -> String {
    let title = section::title(report);
    let title = if style.colour {
        format!("\u{1b}[1m{title}\u{1b}[0m")
    } else {
        title
    };
    format!(
        "{title}\n{}\n{}\n{}\n\n",
        section::subtitle(report),
        section::antennas(report),
        section::obstacle(report)
    )
}

/// Replaces what is written with more than ASCII by its nearest letters;
/// names are the user's own and stay.
pub(crate) fn ascii(text: &str) -> String {
    text.replace('−', "-")
        .replace(" · ", ", ")
        .replace('°', " deg")
        .replace('×', "x")
        .replace('–', "-")
        .replace('\u{202f}', " ")
}

struct Canvas {
    cells: Vec<Vec<Glyph>>,
    low_m: f64,
    row_m: f64,
    length_m: f64,
    labelled: Vec<Option<f64>>,
}

impl Canvas {
    fn draw(report: &PathReport, points: &[Point], columns: usize, letters: &Letters) -> Self {
        let (low_m, high_m) = section::height_range_m(points);
        let pad_m = 0.08 * (high_m - low_m);
        let (low_m, high_m) = (low_m - pad_m, high_m + 0.5 * pad_m);
        let blank = Glyph {
            letter: ' ',
            ink: Ink::None,
        };
        let mut canvas = Self {
            cells: vec![vec![blank; columns]; ROWS],
            low_m,
            row_m: (high_m - low_m) / ROWS as f64,
            length_m: points[points.len() - 1].distance_m,
            labelled: vec![None; ROWS],
        };
        for column in 0..columns {
            let at_m = canvas.length_m * column as f64 / (columns - 1) as f64;
            canvas.column(column, &nearest(points, at_m), letters);
        }
        canvas.ends(points, letters);
        canvas.obstacle(report, letters);
        for height_m in section::ticks(low_m, high_m, 5) {
            if let Some(row) = canvas.row(height_m) {
                canvas.labelled[row] = Some(height_m);
            }
        }
        canvas
    }

    /// Row of a height, the highest first.
    fn row(&self, height_m: f64) -> Option<usize> {
        let from_below = ((height_m - self.low_m) / self.row_m).floor();
        (from_below >= 0.0 && from_below < ROWS as f64).then(|| ROWS - 1 - from_below as usize)
    }

    fn put(&mut self, height_m: f64, column: usize, letter: char, ink: Ink) {
        if let Some(row) = self.row(height_m) {
            self.cells[row][column] = Glyph { letter, ink };
        }
    }

    fn column(&mut self, column: usize, point: &Point, letters: &Letters) {
        for share in [-1.0, 1.0] {
            let edge_m = point.ray_m + share * point.fresnel_m;
            self.put(edge_m, column, letters.zone, Ink::Zone);
        }
        for row in 0..ROWS {
            let foot_m = self.low_m + self.row_m * (ROWS - 1 - row) as f64;
            let filled = (point.ground_m - foot_m) / self.row_m;
            let top_m = foot_m + 0.5 * self.row_m;
            let glyph = if filled >= 1.0 {
                (letters.full, Ink::Ground)
            } else if filled > 0.0 {
                let steps = letters.partial.len();
                let step = ((filled * steps as f64) as usize).min(steps - 1);
                (letters.partial[step], Ink::Ground)
            } else if point.clutter_m > 0.0 && point.top_m() > top_m {
                (letters.clutter, Ink::Clutter)
            } else {
                continue;
            };
            self.cells[row][column] = Glyph {
                letter: glyph.0,
                ink: glyph.1,
            };
        }
        self.put(point.ray_m, column, letters.ray, Ink::Ray);
    }

    fn ends(&mut self, points: &[Point], letters: &Letters) {
        let last = self.cells[0].len() - 1;
        self.put(points[0].ray_m, 0, letters.end, Ink::End);
        let far = points[points.len() - 1];
        self.put(far.ray_m, last, letters.end, Ink::End);
    }

    fn obstacle(&mut self, report: &PathReport, letters: &Letters) {
        let obstacle = &report.geometry.obstacle;
        let last = self.cells[0].len() - 1;
        let share = (obstacle.distance_m / self.length_m).clamp(0.0, 1.0);
        let column = (share * last as f64).round() as usize;
        let g = &report.geometry;
        let ray_m = g.from_amsl_m + (g.to_amsl_m - g.from_amsl_m) * share;
        let top_m = ray_m - obstacle.clearance_m;
        self.put(top_m, column, letters.obstacle, Ink::Obstacle);
    }

    fn label(&self, row: usize) -> String {
        match self.labelled[row] {
            Some(height_m) => format!("{:>6} m", format::number(height_m, 0)),
            None => " ".repeat(GUTTER),
        }
    }
}

/// The point of the section nearest to a distance.
fn nearest(points: &[Point], distance_m: f64) -> Point {
    let after = points.partition_point(|p| p.distance_m < distance_m);
    let right = points[after.min(points.len() - 1)];
    let left = points[after.saturating_sub(1)];
    if distance_m - left.distance_m < right.distance_m - distance_m {
        left
    } else {
        right
    }
}

fn push_row(text: &mut String, row: &[Glyph], colour: bool) {
    let mut ink = Ink::None;
    for glyph in row {
        if colour && glyph.ink != ink {
            if ink != Ink::None {
                text.push_str("\u{1b}[0m");
            }
            if glyph.ink != Ink::None {
                text.push_str(&format!("\u{1b}[{}m", glyph.ink.code()));
            }
            ink = glyph.ink;
        }
        text.push(glyph.letter);
    }
    if ink != Ink::None && colour {
        text.push_str("\u{1b}[0m");
    }
    while text.ends_with(' ') {
        text.pop();
    }
}

/// The axis below, with a few distances.
fn floor(length_m: f64, columns: usize, letters: &Letters) -> String {
    let unit_m = if length_m >= 2000.0 { 1000.0 } else { 1.0 };
    let ticks = section::ticks(0.0, length_m / unit_m, columns / 14);
    let mut labels = vec![' '; columns + GUTTER + 8];
    let decimals = usize::from(ticks.get(1).is_some_and(|t| *t < 0.999));
    for tick in &ticks {
        let share = tick * unit_m / length_m;
        let column = GUTTER + 1 + (share * (columns - 1) as f64).round() as usize;
        let label = format::number(*tick, decimals);
        let start = column.saturating_sub(label.chars().count() / 2);
        for (i, letter) in label.chars().enumerate() {
            if let Some(place) = labels.get_mut(start + i) {
                *place = letter;
            }
        }
    }
    let line: String = std::iter::repeat_n(letters.floor, columns).collect();
    let labels: String = labels.into_iter().collect();
    let unit = if unit_m > 1.0 { "km" } else { "m" };
    format!(
        "{}{}{line}\n{:<GUTTER$}{}\n",
        " ".repeat(GUTTER),
        letters.corner,
        unit,
        labels.trim_end().get(GUTTER..).unwrap_or_default()
    )
}

fn key(letters: &Letters) -> String {
    format!(
        "{} ground   {} clutter   {} ray   {} first Fresnel zone F1   {} least clearance\n",
        letters.full, letters.clutter, letters.ray, letters.zone, letters.obstacle
    )
}
