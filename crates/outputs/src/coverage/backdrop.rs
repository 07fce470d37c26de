//! The relief below a map's colours, shaded once for all sheets of a raster.

use engine::Surroundings;
use geodesy::{Hemisphere, LocalXy, WorkingPlane};
use raster::{CellXy, Georeference};

use super::CoverageError;
use super::canvas::Rect;
use super::colours::Rgb;
use crate::relief::{Frame, shade};

/// Pixels of a map's longer side.
const MAP_SIDE: usize = 1200;

/// Pixels of the map of so many cells.
pub(super) fn map_pixels((width, height): (usize, usize)) -> (usize, usize) {
    let longer = width.max(height);
    let side = |cells: usize| (cells * MAP_SIDE).div_ceil(longer).clamp(1, MAP_SIDE);
    (side(width), side(height))
}

/// Shaded relief, pixel by pixel of a map.
#[derive(Debug, Clone, PartialEq)]
pub struct Backdrop {
    width: usize,
    height: usize,
    pixels: Vec<Rgb>,
}

impl Backdrop {
    /// The relief below a raster of so many columns and rows; `None` where the
    /// raster lies in no UTM zone or no ground is known.
    ///
    /// # Errors
    /// [`CoverageError`] where the relief cannot be drawn.
    pub fn new(
        georeference: &Georeference,
        cells: (usize, usize),
        ground: &dyn Surroundings,
    ) -> Result<Option<Self>, CoverageError> {
        let Some(frame) = frame(georeference, cells) else {
            return Ok(None);
        };
        let relief = shade(&frame, ground, MAP_SIDE)?;
        Ok(relief.and_then(|relief| Self::decoded(&relief.png, map_pixels(cells))))
    }

    /// Whether it was made for a map of this size.
    pub(super) fn fits(&self, map: &Rect) -> bool {
        (self.width, self.height) == (map.width, map.height)
    }

    /// Colour of a pixel of the map.
    pub(super) fn at(&self, x: usize, y: usize) -> Rgb {
        self.pixels[y * self.width + x]
    }

    fn decoded(png: &[u8], (width, height): (usize, usize)) -> Option<Self> {
        let mut decoder = png::Decoder::new(std::io::Cursor::new(png));
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().ok()?;
        let mut bytes = vec![0; reader.output_buffer_size()?];
        let info = reader.next_frame(&mut bytes).ok()?;
        let (columns, rows) = (info.width as usize, info.height as usize);
        let (shades, _) = bytes.as_chunks::<4>();
        let pixel = |x: usize, y: usize| {
            let x = (x * columns / width).min(columns - 1);
            let y = (y * rows / height).min(rows - 1);
            shades.get(y * columns + x).map(|[r, g, b, _]| [*r, *g, *b])
        };
        let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let pixels = places.map(|(x, y)| pixel(x, y)).collect::<Option<_>>()?;
        Some(Self {
            width,
            height,
            pixels,
        })
    }
}

/// A raster's extent in its UTM zone; `None` for any other system.
fn frame(georeference: &Georeference, (width, height): (usize, usize)) -> Option<Frame> {
    let (hemisphere, zone) = match georeference.crs().epsg()? {
        code @ 32_601..=32_660 => (Hemisphere::North, code - 32_600),
        code @ 32_701..=32_760 => (Hemisphere::South, code - 32_700),
        _ => return None,
    };
    let [_, x_row, y_col, y_row] = georeference.affine().steps();
    if x_row != 0.0 || y_col != 0.0 || y_row > 0.0 {
        return None;
    }
    let corner = |col: usize, row: usize| {
        let (col, row) = (col as f64, row as f64);
        let at = georeference.affine().to_map(CellXy { col, row });
        LocalXy {
            x_m: at.x,
            y_m: at.y,
        }
    };
    let (nw, se) = (corner(0, 0), corner(width, height));
    Some(Frame {
        plane: WorkingPlane::new(u8::try_from(zone).ok()?, hemisphere).ok()?,
        south_west: LocalXy {
            x_m: nw.x_m,
            y_m: se.y_m,
        },
        north_east: LocalXy {
            x_m: se.x_m,
            y_m: nw.y_m,
        },
    })
}
