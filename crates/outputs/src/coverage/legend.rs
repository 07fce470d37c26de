//! The legend: what each colour means, with its unit, the best class on top.

use super::CoverageError;
use super::canvas::{Canvas, Rect, Type, shortened, text_width, wrapped};
use super::colours::{INK, PAPER, QUIET, Rgb, mix};
use super::quantity::Quantity;
use super::sheet::Caption;
use super::statistics::CoverageStatistics;
use crate::format;

/// What the legend draws its colours on, and what it says beside them.
#[derive(Clone, Copy)]
pub(super) struct Content<'a> {
    pub(super) quantity: &'a Quantity,
    pub(super) caption: &'a Caption<'a>,
    pub(super) statistics: Option<&'a CoverageStatistics>,
    /// How colours on the map come out over its ground.
    pub(super) tint: fn(Rgb) -> Rgb,
}

const TITLE: Type = Type {
    size: 21.0,
    is_bold: true,
    colour: INK,
};
const TEXT: Type = Type {
    size: 16.0,
    is_bold: false,
    colour: INK,
};
const SMALL: Type = Type {
    size: 13.5,
    is_bold: false,
    colour: QUIET,
};

/// Rows of classes that a legend shows; more are named as a count.
const MOST_ROWS: usize = 40;
const ROW: usize = 27;
const SWATCH: (usize, usize) = (34, 20);
const PAD: usize = 18;
/// Width of a legend.
pub(super) const WIDTH: usize = 340;

/// The legend as a picture of its own. With `statistics` each class says how
/// much of the known area it has.
pub fn legend_png(
    quantity: &Quantity,
    caption: &Caption<'_>,
    statistics: Option<&CoverageStatistics>,
) -> Result<Vec<u8>, CoverageError> {
    let content = Content {
        quantity,
        caption,
        statistics,
        tint: |colour| colour,
    };
    let mut canvas = Canvas::new(WIDTH, height(&content), PAPER);
    let whole = Rect {
        x: 0,
        y: 0,
        width: canvas.width,
        height: canvas.height,
    };
    draw(&mut canvas, (0, 0), &content);
    canvas.frame(whole, mix(QUIET, PAPER, 0.5));
    Ok(canvas.png()?)
}

/// Height that [`draw`] needs.
pub(super) fn height(content: &Content<'_>) -> usize {
    // Drawn where nobody sees it: one order of things, one height.
    draw(&mut Canvas::new(1, 1, PAPER), (0, 0), content)
}

/// Draws the legend below and right of a corner; gives its height.
pub(super) fn draw(canvas: &mut Canvas, (x, y): (usize, usize), content: &Content<'_>) -> usize {
    let left = x + PAD;
    let wide = (WIDTH - 2 * PAD) as f32;
    let mut below = y + PAD;
    let mut lines = |canvas: &mut Canvas, style: Type, text: &str, step: usize| {
        for line in wrapped(style, text, wide) {
            below += step;
            canvas.text((left as f32, below as f32 - 5.0), style, &line);
        }
        below
    };
    lines(canvas, TITLE, &content.quantity.title, 26);
    let mut below = lines(canvas, SMALL, content.caption.subtitle, 19);
    below += 12;
    below = heads(canvas, (left, below), content);
    below = classes(canvas, (left, below), content);
    below += 10;
    for note in content.caption.notes {
        below += 4;
        for line in wrapped(SMALL, note, wide) {
            below += 18;
            canvas.text((left as f32, below as f32 - 5.0), SMALL, &line);
        }
    }
    below + PAD - y
}

/// The unit above the labels, and what the numbers on the right are.
fn heads(canvas: &mut Canvas, (left, top): (usize, usize), content: &Content<'_>) -> usize {
    let unit = content.quantity.shown_unit();
    if unit.is_empty() && content.statistics.is_none() {
        return top;
    }
    let baseline = (top + 16) as f32;
    canvas.text(((left + SWATCH.0 + 12) as f32, baseline), SMALL, unit);
    if content.statistics.is_some() {
        right_aligned(canvas, (left, baseline), SMALL, "share of area");
    }
    top + 24
}

fn right_aligned(canvas: &mut Canvas, (left, baseline): (usize, f32), style: Type, text: &str) {
    let right = (left + WIDTH - 2 * PAD) as f32;
    canvas.text((right - text_width(style, text), baseline), style, text);
}

fn classes(canvas: &mut Canvas, (left, mut top): (usize, usize), content: &Content<'_>) -> usize {
    let order = content.quantity.best_first();
    for (place, class) in order.iter().take(MOST_ROWS).enumerate() {
        let described = &content.quantity.classes[*class];
        let swatch = swatch(left, top);
        canvas.fill(swatch, (content.tint)(described.colour));
        canvas.frame(swatch, QUIET);
        let share = content.statistics.and_then(|s| s.classes.get(place));
        let share = share.map(|c| format::percent(c.area_frac));
        label(canvas, (left, top), &described.label, share.as_deref());
        top += ROW;
    }
    if order.len() > MOST_ROWS {
        let more = format!("and {} more", order.len() - MOST_ROWS);
        label(canvas, (left, top), &more, None);
        top += ROW;
    }
    let swatch = swatch(left, top);
    canvas.hatch(swatch, QUIET);
    canvas.frame(swatch, QUIET);
    label(canvas, (left, top), "no data", None);
    top + ROW
}

fn swatch(left: usize, top: usize) -> Rect {
    Rect {
        x: left,
        y: top,
        width: SWATCH.0,
        height: SWATCH.1,
    }
}

fn label(canvas: &mut Canvas, (left, top): (usize, usize), text: &str, right: Option<&str>) {
    let baseline = top as f32 + 15.5;
    let start = left + SWATCH.0 + 12;
    let kept_free = right.map_or(0.0, |r| text_width(TEXT, r) + 12.0);
    let room = (left + WIDTH - 2 * PAD - start) as f32 - kept_free;
    canvas.text((start as f32, baseline), TEXT, &shortened(TEXT, text, room));
    if let Some(right) = right {
        right_aligned(canvas, (left, baseline), TEXT, right);
    }
}
