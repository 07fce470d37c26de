//! Map and legend on one sheet, over shaded relief where the ground is known.

use geodesy::LonLat;
use raster::CellXy;

use super::CoverageError;
use super::backdrop::{Backdrop, map_pixels};
use super::canvas::{Canvas, Rect, Type, text_width};
use super::colours::{INK, PAPER, QUIET, Rgb, mix};
use super::legend::{self, Content};
use super::quantity::Quantity;
use super::rows::{CellRows, Downward, containing};
use super::statistics::CoverageStatistics;
use crate::format;
use crate::handout::CAUTION;
use crate::section::round_step;

/// What a legend says besides its classes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Caption<'a> {
    /// Under the title: which network, which sector.
    pub subtitle: &'a str,
    /// Below the classes: model, percentages, heights, date.
    pub notes: &'a [&'a str],
}

/// Something to find one's way by: a mast, a village.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Where.
    pub position: LonLat,
    /// Its name; may be empty.
    pub label: String,
}

/// What a sheet shows besides the grid.
#[derive(Clone, Copy, Default)]
pub struct Around<'a> {
    /// The relief below the colours.
    pub relief: Option<&'a Backdrop>,
    /// Marks, the most important first.
    pub marks: &'a [Mark],
    /// Figures for the legend.
    pub statistics: Option<&'a CoverageStatistics>,
}

const MARGIN: usize = 28;

/// Map and legend as one picture for paper and screen: north of the grid up,
/// with scale, marks, and the relief below where `around` has the ground.
pub fn sheet_png(
    grid: &dyn CellRows,
    quantity: &Quantity,
    caption: &Caption<'_>,
    around: &Around<'_>,
) -> Result<Vec<u8>, CoverageError> {
    let map = MapArea::new(grid);
    let relief = around.relief.filter(|relief| relief.fits(&map.rect));
    let notes = [caption.notes, &[CAUTION]].concat();
    let caption = &Caption {
        notes: &notes,
        ..*caption
    };
    let content = Content {
        quantity,
        caption,
        statistics: around.statistics,
        tint: match relief {
            // The colour of a class on level ground.
            Some(_) => |colour| over(colour, [LEVEL as u8; 3]),
            None => |colour| colour,
        },
    };
    let foot = MARGIN + 34;
    let height = (map.rect.height + MARGIN + foot).max(legend::height(&content) + 2 * MARGIN);
    let width = map.rect.width + legend::WIDTH + 3 * MARGIN - 10;
    let mut canvas = Canvas::new(width, height, PAPER);
    map.paint(&mut canvas, quantity, relief)?;
    map.marks(&mut canvas, around.marks);
    canvas.frame(map.rect, QUIET);
    map.scale_bar(&mut canvas);
    let legend_at = (map.rect.x + map.rect.width + MARGIN - 10, MARGIN - 14);
    legend::draw(&mut canvas, legend_at, &content);
    Ok(canvas.png()?)
}

/// Light of level ground by the sea, on average of its three colours.
const LEVEL: f64 = 215.0;

/// A class over the relief: its own colour under most of the ground's light,
/// so that it stays the one that the legend shows.
fn over(class: Rgb, ground: Rgb) -> Rgb {
    let light = ground.iter().map(|c| f64::from(*c)).sum::<f64>() / (3.0 * LEVEL);
    let light = 1.0 + 0.8 * (light - 1.0);
    let lit = class.map(|c| (f64::from(c) * light).clamp(0.0, 255.0) as u8);
    mix(lit, ground, 0.1)
}

/// The map on the sheet.
struct MapArea<'a> {
    grid: &'a dyn CellRows,
    rect: Rect,
}

impl<'a> MapArea<'a> {
    fn new(grid: &'a dyn CellRows) -> Self {
        let (width, height) = map_pixels((grid.width(), grid.height()));
        Self {
            grid,
            rect: Rect {
                x: MARGIN,
                y: MARGIN,
                width,
                height,
            },
        }
    }

    /// The position in the grid of the middle of a pixel of the map.
    fn cell(&self, x: usize, y: usize) -> CellXy {
        CellXy {
            col: (x as f64 + 0.5) * self.grid.width() as f64 / self.rect.width as f64,
            row: (y as f64 + 0.5) * self.grid.height() as f64 / self.rect.height as f64,
        }
    }

    fn paint(
        &self,
        canvas: &mut Canvas,
        quantity: &Quantity,
        relief: Option<&Backdrop>,
    ) -> Result<(), CoverageError> {
        let mut down = Downward::new(self.grid);
        for y in 0..self.rect.height {
            let cells = match containing(self.grid, self.cell(0, y)) {
                Some(cell) => down.row(cell.row)?,
                None => &[],
            };
            for x in 0..self.rect.width {
                let value = cells.get(self.cell(x, y).col as usize);
                let value = *value.unwrap_or(&f32::NAN);
                let class = quantity.class_of(value).map(|c| quantity.classes[c].colour);
                let ground = relief.map(|relief| relief.at(x, y));
                let colour = match (class, ground) {
                    (Some(class), Some(ground)) => over(class, ground),
                    (Some(class), None) => class,
                    (None, Some(ground)) => mix(ground, PAPER, 0.35),
                    (None, None) => PAPER,
                };
                let at = (self.rect.x + x, self.rect.y + y);
                canvas.blend(at, colour, 1.0);
                if class.is_none() && (x + y).is_multiple_of(9) {
                    canvas.blend(at, QUIET, 0.16);
                }
            }
        }
        Ok(())
    }

    /// Marks with their names; a name that would lie on another is left out.
    fn marks(&self, canvas: &mut Canvas, marks: &[Mark]) {
        let style = Type {
            size: 15.0,
            is_bold: true,
            colour: INK,
        };
        let mut taken: Vec<Rect> = Vec::new();
        let points: Vec<(usize, usize, &str)> =
            marks.iter().filter_map(|m| self.point(m)).collect();
        for (x, y, _) in &points {
            dot(canvas, (*x, *y));
            taken.push(Rect {
                x: x.saturating_sub(6),
                y: y.saturating_sub(6),
                width: 13,
                height: 13,
            });
        }
        for (x, y, label) in points {
            let width = text_width(style, label).ceil() as usize;
            let right = self.rect.x + self.rect.width;
            let beside = [Some(x + 11), x.checked_sub(11 + width)];
            let free = beside.into_iter().flatten().find_map(|left| {
                let name = Rect {
                    x: left,
                    y: y.saturating_sub(9),
                    width,
                    height: 18,
                };
                let fits = left > self.rect.x && left + width < right;
                (fits && !taken.iter().any(|t| t.overlaps(name))).then_some(name)
            });
            if let Some(name) = free {
                canvas.haloed_text((name.x as f32, y as f32 + 5.0), style, PAPER, label);
                taken.push(name);
            }
        }
    }

    fn point<'m>(&self, mark: &'m Mark) -> Option<(usize, usize, &'m str)> {
        let at = self.grid.georeference().to_cell(mark.position).ok()?;
        containing(self.grid, at)?;
        let x = at.col * self.rect.width as f64 / self.grid.width() as f64;
        let y = at.row * self.rect.height as f64 / self.grid.height() as f64;
        Some((
            self.rect.x + x as usize,
            self.rect.y + y as usize,
            &mark.label,
        ))
    }

    /// Below the map: a bar of a round length, true in the middle of the map.
    fn scale_bar(&self, canvas: &mut Canvas) {
        let middle = self.rect.height / 2;
        let place = |x: usize| self.grid.georeference().to_lonlat(self.cell(x, middle));
        let (Ok(west), Ok(east)) = (place(0), place(self.rect.width - 1)) else {
            return;
        };
        let width_m = geodesy::inverse(west, east).distance_m;
        let pixels_per_m = self.rect.width as f64 / width_m.max(1e-9);
        let length_m = round_step(0.3 * width_m, 2);
        let half = (0.5 * length_m * pixels_per_m).round() as usize;
        let (x, y) = (self.rect.x, self.rect.y + self.rect.height + 16);
        let bar = |x, width| Rect {
            x,
            y,
            width,
            height: 7,
        };
        canvas.fill(bar(x, half), INK);
        canvas.frame(bar(x, 2 * half), INK);
        let style = Type {
            size: 14.0,
            is_bold: false,
            colour: INK,
        };
        let text = format!("{}   grid north is up", format::distance(length_m));
        canvas.text(((x + 2 * half + 10) as f32, y as f32 + 8.5), style, &text);
    }
}

/// A white dot with a dark rim.
fn dot(canvas: &mut Canvas, (x, y): (usize, usize)) {
    for dy in -7_isize..=7 {
        for dx in -7_isize..=7 {
            let radius = ((dx * dx + dy * dy) as f64).sqrt();
            let at = (x.checked_add_signed(dx), y.checked_add_signed(dy));
            let (Some(x), Some(y)) = at else { continue };
            // Half a pixel of soft edge.
            let inside = |limit: f64| (limit + 0.5 - radius).clamp(0.0, 1.0);
            canvas.blend((x, y), PAPER, inside(6.5));
            canvas.blend((x, y), INK, inside(5.0));
            canvas.blend((x, y), PAPER, inside(2.0));
        }
    }
}
