//! Shaded relief of the terrain, north-west light, as a small picture.
//!
//! Source: B. K. P. Horn, "Hill shading and the reflectance map", Proceedings
//! of the IEEE 69(1), 1981: slopes by weighted differences over eight
//! neighbours. Light from 315 degrees, 45 degrees high: map-making practice,
//! no source.

use engine::Surroundings;
use geodesy::{LocalXy, LonLat, WorkingPlane};

use crate::handout::OutputError;

/// The part of a working plane that a picture shows, its upper edge grid north.
#[derive(Debug, Clone)]
pub struct Frame {
    /// The plane.
    pub plane: WorkingPlane,
    /// Lower left corner.
    pub south_west: LocalXy,
    /// Upper right corner.
    pub north_east: LocalXy,
}

impl Frame {
    /// West to east.
    pub fn width_m(&self) -> f64 {
        self.north_east.x_m - self.south_west.x_m
    }

    /// South to north.
    pub fn height_m(&self) -> f64 {
        self.north_east.y_m - self.south_west.y_m
    }

    /// Pixels of a picture whose longer side has `longer` of them.
    fn pixels(&self, longer: usize) -> (usize, usize) {
        let metres_per_pixel = self.width_m().max(self.height_m()) / longer as f64;
        let count = |side_m: f64| ((side_m / metres_per_pixel).round() as usize).clamp(1, longer);
        (count(self.width_m()), count(self.height_m()))
    }
}

/// A picture of the relief.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// PNG with indexed colours; unknown ground is transparent.
    pub png: Vec<u8>,
    /// Lowest ground shown.
    pub low_amsl_m: f64,
    /// Highest ground shown.
    pub high_amsl_m: f64,
    /// How many times steeper than life the shading is.
    pub exaggeration: f64,
    /// Share of the picture whose ground is unknown.
    pub unknown_frac: f64,
}

/// Shades the ground of a frame, the longer side at most `longer` pixels;
/// `None` where no ground is known.
pub fn shade(
    frame: &Frame,
    surroundings: &dyn Surroundings,
    longer: usize,
) -> Result<Option<Relief>, OutputError> {
    let longer = longer.clamp(16, 1200);
    let (width, height) = frame.pixels(longer);
    let heights = Heights::sample(frame, surroundings, (width, height));
    let known: Vec<f32> = heights
        .cells
        .iter()
        .copied()
        .filter(|h| !h.is_nan())
        .collect();
    let range = known
        .iter()
        .fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), h| {
            (low.min(*h), high.max(*h))
        });
    if known.is_empty() {
        return Ok(None);
    }
    let step_m = frame.width_m() / width as f64;
    let slopes = heights.slopes(step_m);
    let exaggeration = exaggeration(&slopes);
    let pixels: Vec<u8> = heights
        .cells
        .iter()
        .zip(&slopes)
        .map(|(h, slope)| index(*h, range, *slope, exaggeration))
        .collect();
    Ok(Some(Relief {
        png: encode(&pixels, width, height)?,
        low_amsl_m: f64::from(range.0),
        high_amsl_m: f64::from(range.1),
        exaggeration,
        unknown_frac: 1.0 - known.len() as f64 / heights.cells.len() as f64,
    }))
}

/// Ground heights, first row in the north; NaN where unknown.
struct Heights {
    width: usize,
    height: usize,
    cells: Vec<f32>,
}

/// The projection is inverted at every so many pixels and interpolated between.
const LATTICE: usize = 16;

impl Heights {
    fn sample(frame: &Frame, ground: &dyn Surroundings, (width, height): (usize, usize)) -> Self {
        let lattice = Lattice::new(frame, width, height);
        let mut cells = Vec::with_capacity(width * height);
        for row in 0..height {
            for col in 0..width {
                let place = lattice.place(col, row);
                let height_m = place.and_then(|p| ground.ground_amsl_m(p));
                cells.push(height_m.map_or(f32::NAN, |h| h as f32));
            }
        }
        Self {
            width,
            height,
            cells,
        }
    }

    /// Height at an offset from a cell; the border and unknown ground repeat the cell itself.
    fn near(&self, (col, row): (usize, usize), (d_col, d_row): (isize, isize)) -> f64 {
        let own = self.cells[row * self.width + col];
        let at = |i: usize, d: isize, count: usize| {
            i.checked_add_signed(d).filter(|i| *i < count).unwrap_or(i)
        };
        let col = at(col, d_col, self.width);
        let row = at(row, d_row, self.height);
        let value = self.cells[row * self.width + col];
        f64::from(if value.is_nan() { own } else { value })
    }

    /// Slope east and north of every cell, rise over run.
    fn slopes(&self, step_m: f64) -> Vec<(f64, f64)> {
        let mut slopes = Vec::with_capacity(self.cells.len());
        for row in 0..self.height {
            for col in 0..self.width {
                let z = |d_col, d_row| self.near((col, row), (d_col, d_row));
                let east = z(1, -1) + 2.0 * z(1, 0) + z(1, 1);
                let west = z(-1, -1) + 2.0 * z(-1, 0) + z(-1, 1);
                let north = z(-1, -1) + 2.0 * z(0, -1) + z(1, -1);
                let south = z(-1, 1) + 2.0 * z(0, 1) + z(1, 1);
                let run_m = 8.0 * step_m;
                slopes.push(((east - west) / run_m, (north - south) / run_m));
            }
        }
        slopes
    }
}

/// Places of a picture's pixels.
struct Lattice {
    columns: usize,
    nodes: Vec<Option<(f64, f64)>>,
}

impl Lattice {
    fn new(frame: &Frame, width: usize, height: usize) -> Self {
        let columns = width / LATTICE + 2;
        let rows = height / LATTICE + 2;
        let mut nodes = Vec::with_capacity(columns * rows);
        let mut first_lon_deg = None;
        for row in 0..rows {
            for col in 0..columns {
                let across = (col * LATTICE) as f64 + 0.5;
                let down = (row * LATTICE) as f64 + 0.5;
                let at = LocalXy {
                    x_m: frame.south_west.x_m + frame.width_m() * across / width as f64,
                    y_m: frame.north_east.y_m - frame.height_m() * down / height as f64,
                };
                nodes.push(frame.plane.to_lonlat(at).ok().map(|place| {
                    let centre_deg = *first_lon_deg.get_or_insert(place.lon_deg());
                    let lon_deg = geodesy::wrap_lon_deg(place.lon_deg(), centre_deg);
                    (lon_deg, place.lat_deg())
                }));
            }
        }
        Self { columns, nodes }
    }

    fn place(&self, col: usize, row: usize) -> Option<LonLat> {
        let (left, top) = (col / LATTICE, row / LATTICE);
        let node = |c: usize, r: usize| self.nodes[r * self.columns + c];
        let (nw, ne) = (node(left, top)?, node(left + 1, top)?);
        let (sw, se) = (node(left, top + 1)?, node(left + 1, top + 1)?);
        let u = (col % LATTICE) as f64 / LATTICE as f64;
        let v = (row % LATTICE) as f64 / LATTICE as f64;
        let mix = |a: f64, b: f64, share: f64| a + (b - a) * share;
        let lon_deg = mix(mix(nw.0, ne.0, u), mix(sw.0, se.0, u), v);
        let lat_deg = mix(mix(nw.1, ne.1, u), mix(sw.1, se.1, u), v);
        LonLat::new(lon_deg, lat_deg).ok()
    }
}

/// Slope of the steeper parts that shades well.
const WELL_SHADED_SLOPE: f64 = 0.45;

/// How much flat land has to be exaggerated for its forms to show.
fn exaggeration(slopes: &[(f64, f64)]) -> f64 {
    let mut steepness: Vec<f64> = slopes
        .iter()
        .map(|(east, north)| east.hypot(*north))
        .filter(|s| s.is_finite())
        .collect();
    if steepness.is_empty() {
        return 1.0;
    }
    let at = (steepness.len() * 9 / 10).min(steepness.len() - 1);
    let (_, steep, _) = steepness.select_nth_unstable_by(at, f64::total_cmp);
    (WELL_SHADED_SLOPE / steep.max(1e-6)).clamp(1.0, 6.0)
}

/// Light that falls on a slope, 0 to 1; 0.71 on level ground.
fn light(slope: (f64, f64), exaggeration: f64) -> f64 {
    let (east, north) = (slope.0 * exaggeration, slope.1 * exaggeration);
    // From the north-west, 45 degrees high: (-1/2, 1/2, 1/√2).
    let toward = 0.5 * east - 0.5 * north + std::f64::consts::FRAC_1_SQRT_2;
    (toward / (1.0 + east * east + north * north).sqrt()).clamp(0.0, 1.0)
}

const TINTS: usize = 8;
const SHADES: usize = 31;
/// Index of unknown ground.
const UNKNOWN: u8 = (TINTS * SHADES) as u8;

fn index(height_m: f32, range: (f32, f32), slope: (f64, f64), exaggeration: f64) -> u8 {
    if height_m.is_nan() {
        return UNKNOWN;
    }
    let share = f64::from((height_m - range.0) / (range.1 - range.0).max(1.0));
    let tint = ((share * TINTS as f64) as usize).min(TINTS - 1);
    let shade = ((light(slope, exaggeration) * SHADES as f64) as usize).min(SHADES - 1);
    (tint * SHADES + shade) as u8
}

/// Ground colours from low to high: pale, so that marks stand out.
pub(crate) const TINT_COLOURS: [[u8; 3]; TINTS] = [
    [203, 219, 200],
    [214, 225, 203],
    [225, 230, 207],
    [235, 232, 210],
    [238, 228, 206],
    [234, 220, 199],
    [229, 213, 196],
    [240, 231, 222],
];

fn palette() -> Vec<u8> {
    let mut colours = Vec::with_capacity(3 * usize::from(UNKNOWN) + 3);
    for tint in TINT_COLOURS {
        for shade in 0..SHADES {
            let light = (shade as f64 + 0.5) / SHADES as f64;
            // Level ground (0.71) keeps the tint as it is.
            let factor = 0.44 + 0.79 * light;
            colours.extend(tint.map(|c| (f64::from(c) * factor).clamp(0.0, 255.0) as u8));
        }
    }
    colours.extend([255, 255, 255]);
    colours
}

fn encode(pixels: &[u8], width: usize, height: usize) -> Result<Vec<u8>, OutputError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    encoder.set_palette(palette());
    let mut opacity = vec![255; usize::from(UNKNOWN)];
    opacity.push(0);
    encoder.set_trns(opacity);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_level_ground_gets_the_sine_of_the_suns_height() {
        assert!((light((0.0, 0.0), 1.0) - 0.5f64.sqrt()).abs() < 1e-12);
    }

    /// A slope of 45 degrees that falls to the north-west faces the light fully.
    #[test]
    fn exact_slope_facing_the_light_is_brightest() {
        let s = 0.5f64.sqrt();
        assert!((light((s, -s), 1.0) - 1.0).abs() < 1e-12);
        assert!(light((-s, s), 1.0) < 1e-12);
    }

    #[test]
    fn exact_slopes_of_a_tilted_plane() {
        let (width, height) = (5, 4);
        let cells = (0..width * height)
            .map(|i| (3 * (i % width)) as f32 - (2 * (i / width)) as f32)
            .collect();
        let heights = Heights {
            width,
            height,
            cells,
        };
        let slopes = heights.slopes(10.0);
        let (east, north) = slopes[width + 2];
        assert!((east - 0.3).abs() < 1e-9 && (north - 0.2).abs() < 1e-9);
    }

    #[test]
    fn exact_palette_holds_every_index() {
        assert_eq!(palette().len(), 3 * (usize::from(UNKNOWN) + 1));
    }
}
