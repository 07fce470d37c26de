//! A small opaque picture with rectangles and letters.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};

use super::colours::{Rgb, mix};

/// Width of a text, and how it is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Type {
    pub(super) size: f32,
    pub(super) is_bold: bool,
    pub(super) colour: Rgb,
}

pub(super) struct Canvas {
    pub(super) width: usize,
    pub(super) height: usize,
    pixels: Vec<Rgb>,
}

/// A rectangle of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rect {
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Rect {
    pub(super) fn overlaps(self, other: Self) -> bool {
        self.x < other.x + other.width
            && other.x < self.x + self.width
            && self.y < other.y + other.height
            && other.y < self.y + self.height
    }
}

impl Canvas {
    pub(super) fn new(width: usize, height: usize, colour: Rgb) -> Self {
        Self {
            width,
            height,
            pixels: vec![colour; width * height],
        }
    }

    /// Lets a share of a colour through; outside nothing happens.
    pub(super) fn blend(&mut self, (x, y): (usize, usize), colour: Rgb, share: f64) {
        if x < self.width && y < self.height {
            let pixel = &mut self.pixels[y * self.width + x];
            *pixel = mix(*pixel, colour, share);
        }
    }

    pub(super) fn fill(&mut self, rect: Rect, colour: Rgb) {
        for y in rect.y..rect.y + rect.height {
            for x in rect.x..rect.x + rect.width {
                self.blend((x, y), colour, 1.0);
            }
        }
    }

    /// A frame of one pixel inside the rectangle.
    pub(super) fn frame(&mut self, rect: Rect, colour: Rgb) {
        let Rect {
            x,
            y,
            width,
            height,
        } = rect;
        for at in x..x + width {
            self.blend((at, y), colour, 1.0);
            self.blend((at, y + height - 1), colour, 1.0);
        }
        for at in y..y + height {
            self.blend((x, at), colour, 1.0);
            self.blend((x + width - 1, at), colour, 1.0);
        }
    }

    /// Thin diagonals: nothing is known here.
    pub(super) fn hatch(&mut self, rect: Rect, colour: Rgb) {
        for y in rect.y..rect.y + rect.height {
            for x in rect.x..rect.x + rect.width {
                if (x + y).is_multiple_of(6) {
                    self.blend((x, y), colour, 0.55);
                }
            }
        }
    }

    /// Writes a line whose baseline starts at `(x, y)`.
    pub(super) fn text(&mut self, (x, y): (f32, f32), style: Type, text: &str) {
        let font = font(style.is_bold);
        let scaled = font.as_scaled(PxScale::from(style.size));
        let mut pen = x;
        let mut before = None;
        for letter in text.chars() {
            let id = font.glyph_id(letter);
            if let Some(before) = before {
                pen += scaled.kern(before, id);
            }
            let glyph = id.with_scale_and_position(style.size, point(pen, y));
            pen += scaled.h_advance(id);
            before = Some(id);
            let Some(outline) = font.outline_glyph(glyph) else {
                continue;
            };
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, share| {
                let (x, y) = (corner.x + dx as f32, corner.y + dy as f32);
                if x >= 0.0 && y >= 0.0 {
                    self.blend(
                        (x as usize, y as usize),
                        style.colour,
                        f64::from(share.min(1.0)),
                    );
                }
            });
        }
    }

    /// Text in a paler outline, legible on any ground.
    pub(super) fn haloed_text(&mut self, (x, y): (f32, f32), style: Type, halo: Rgb, text: &str) {
        let pale = Type {
            colour: halo,
            ..style
        };
        for (dx, dy) in [
            (-1.5, 0.0),
            (1.5, 0.0),
            (0.0, -1.5),
            (0.0, 1.5),
            (-1.0, -1.0),
            (1.0, 1.0),
            (-1.0, 1.0),
            (1.0, -1.0),
        ] {
            self.text((x + dx, y + dy), pale, text);
        }
        self.text((x, y), style, text);
    }

    pub(super) fn png(&self) -> Result<Vec<u8>, png::EncodingError> {
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_compression(png::Compression::Balanced);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(self.pixels.as_flattened())?;
        writer.finish()?;
        Ok(bytes)
    }
}

/// How wide a line of text is.
pub(super) fn text_width(style: Type, text: &str) -> f32 {
    let font = font(style.is_bold);
    let scaled = font.as_scaled(PxScale::from(style.size));
    let mut width = 0.0;
    let mut before = None;
    for letter in text.chars() {
        let id = font.glyph_id(letter);
        width += before.map_or(0.0, |before| scaled.kern(before, id)) + scaled.h_advance(id);
        before = Some(id);
    }
    width
}

/// Cuts a text into lines no wider than `width`, between words where there are any.
pub(super) fn wrapped(style: Type, text: &str, width: f32) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let joined = match lines.last() {
            Some(line) => format!("{line} {word}"),
            None => word.to_owned(),
        };
        match lines.last_mut() {
            Some(line) if text_width(style, &joined) <= width => *line = joined,
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Cuts a line with an ellipsis where it is wider than `width`.
pub(super) fn shortened(style: Type, text: &str, width: f32) -> String {
    if text_width(style, text) <= width {
        return text.to_owned();
    }
    let mut kept: Vec<char> = text.chars().collect();
    while !kept.is_empty() {
        kept.pop();
        let short: String = kept.iter().collect::<String>() + "…";
        if text_width(style, &short) <= width {
            return short;
        }
    }
    String::new()
}

fn font(is_bold: bool) -> &'static FontRef<'static> {
    static REGULAR: OnceLock<FontRef<'static>> = OnceLock::new();
    static BOLD: OnceLock<FontRef<'static>> = OnceLock::new();
    let load = |bytes| FontRef::try_from_slice(bytes).expect("the font that is built in is whole");
    if is_bold {
        BOLD.get_or_init(|| load(dejavu::sans::bold()))
    } else {
        REGULAR.get_or_init(|| load(dejavu::sans::regular()))
    }
}
